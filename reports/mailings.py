"""Reminders and the weekly digest: what newly falls due, and how the week stands, each once.

Both go by the department's own clock, from ``HOLDAIR_REMIND_HOUR`` on: one that was missed because nothing ran at that
hour goes out later that day (the digest, until Tuesday night). A thing is named in a reminder once when it comes within
the lead time and once when it is overdue; one whose day a proof has moved is a new thing.
"""

import logging
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from inspections.queries import AgendaRow, agenda, open_deficiencies
from inspections.queries.agenda import ORDER, may_see
from inventory.models import FailureMode
from readiness.alerts import alerts_of
from readiness.queries import lines_of
from reports.models import Reminded
from shared import notices
from shared.models import Department, Membership, Notice
from shared.templatetags.holdair import day, points

log = logging.getLogger(__name__)
LEAD: Final = timedelta(days=7)
LISTED: Final = 40  # lines of one mail; the rest is on the page
DIGEST_DAYS: Final = (0, 1)  # Monday, and Tuesday for one that was missed


def remind(*, at: datetime) -> int:
    """Tell every department's people what is new among what falls due, and on Monday how the week stands.

    Returns:
        How many were told something. Running it again the same day tells nobody anything again.
    """
    told = 0
    for department in Department.objects.order_by("pk"):
        local = at.astimezone(ZoneInfo(department.time_zone))
        if local.hour < settings.HOLDAIR_REMIND_HOUR:
            continue
        try:
            told += remind_department(department=department, on=local.date(), at=at)
            if local.weekday() in DIGEST_DAYS:
                told += digest_department(department=department, on=local.date(), at=at)
        except Exception:
            # One department's trouble keeps no other from its mail.
            log.exception("department %s was not reminded", department.pk)
    return told


def remind_department(*, department: Department, on: date, at: datetime) -> int:
    """Tell each who walks what has newly come within the lead time or gone overdue; return how many were told."""
    key = f"reminder {on}"
    readers = _not_told(department, notices.REMINDER, key, on)
    if not readers:
        return 0
    rows = [row for row in agenda(department, on, on + LEAD) if row.due_on is not None]
    return sum(_remind(reader, [row for row in rows if may_see(row, reader)], key, on, at) for reader in readers)


def _not_told(department: Department, sort: str, key: str, on: date) -> list[Membership]:
    told = set(Notice.objects.filter(department=department, key=key).values_list("user_id", flat=True))
    return [reader for reader in notices.readers(department, sort, on) if reader.user_id not in told]


@transaction.atomic
def _remind(reader: Membership, rows: Sequence[AgendaRow], key: str, on: date, at: datetime) -> bool:
    known = set(Reminded.objects.filter(department=reader.department, user=reader.user).values_list("thing", flat=True))
    new = [row for row in rows if _thing(row, on) not in known]
    if not new:
        return False
    overdue = sum(row.is_overdue(on) for row in new)
    notice = notices.tell(
        department=reader.department,
        user=reader.user,
        key=key,
        sort=notices.REMINDER,
        subject=f"{len(new) - overdue} due by {day(on + LEAD)}, {overdue} newly overdue",
        body="\n".join(_reminder(new, on)),
    )
    if notice is None:
        return False
    Reminded.objects.bulk_create(
        [Reminded(department=reader.department, user=reader.user, thing=_thing(row, on), at=at) for row in new],
        ignore_conflicts=True,
    )
    return True


def _thing(row: AgendaRow, on: date) -> str:
    return f"{row.key} {row.due_on} {'overdue' if row.is_overdue(on) else 'soon'}"[:160]


def _reminder(rows: Sequence[AgendaRow], on: date) -> Iterator[str]:
    yield "New since your last reminder; what you were told before is not said again."
    yield ""
    soon, overdue = ([r for r in rows if r.is_overdue(on) is late] for late in (False, True))
    for title, found in (("Falls due", soon), ("Overdue", overdue)):
        if not found:
            continue
        yield f"{title}:"
        for row in found[:LISTED]:
            aboard = f" ({row.line})" if row.line and row.subject != str(row.line) else ""
            yield f"- {day(row.due_on)}: {row.what}, {row.subject}{aboard}; {row.why}"
        if len(found) > LISTED:
            yield f"- and {len(found) - LISTED} more"
        yield ""
    yield f"All of it: {notices.address_of('due:list')}"


def digest_department(*, department: Department, on: date, at: datetime) -> int:
    """Tell the head and the officers how the week begins; return how many were told."""
    monday = on - timedelta(days=on.weekday())
    key = f"digest {monday}"
    readers = _not_told(department, notices.DIGEST, key, on)
    if not readers:
        return 0
    body = "\n".join(_digest(department, on, at))
    told = [
        notices.tell(
            department=department,
            user=reader.user,
            key=key,
            sort=notices.DIGEST,
            subject=f"{department}: the week of {day(monday)}",
            body=body,
        )
        for reader in readers
    ]
    return sum(notice is not None for notice in told)


def _digest(department: Department, on: date, at: datetime) -> Iterator[str]:
    yield "Lines, each against its own rated mission:"
    for line in lines_of(department):
        state = getattr(line, "state", None)
        row = state.newest if state else None
        if row is None:
            yield f"- {line}: not rated yet"
        else:
            reason = f" ({row.reason})" if row.reason else ""
            yield f"- {line}: {row.word}{reason}, score {points(row.probability)} in 100"
    rows = [row for row in agenda(department, on, on + LEAD) if row.due_on is not None]
    overdue = [row for row in rows if row.is_overdue(on)]
    orders = sum(row.sort == ORDER for row in overdue)
    yield ""
    yield f"Due by {day(on + LEAD)}: {len(rows) - len(overdue)}. Overdue: {len(overdue)}, of them orders: {orders}."
    grades = Counter(one.deficiency.grade for one in open_deficiencies(department, at, at))
    said = [f"{FailureMode.Grade(grade).label.lower()}: {grades[grade]}" for grade in "ICN" if grades[grade]]
    yield f"Open deficiencies: {', '.join(said) or 'none'}."
    alerts = alerts_of(department).filter(at__gt=at - timedelta(days=7))
    yield ""
    yield "Alerts of the last seven days:" if alerts else "No alert in the last seven days."
    for alert in alerts[:LISTED]:
        yield f"- {alert.line}: {alert.text}"
    yield ""
    yield f"Tonight: {notices.address_of('readiness:tonight')}"
    yield f"Due: {notices.address_of('due:list')}"
