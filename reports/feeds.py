"""Calendar feeds (RFC 5545): secret addresses, and what a calendar program reads there.

An overdue check stays on its own day and says since when it is overdue; once done it moves to its next day, or leaves.
The UID is the thing's, not the day's, so a calendar moves the event and makes no second one; SEQUENCE counts the moves.
DTSTAMP and LAST-MODIFIED say when an event last changed, so that the same state is the same bytes. A line's feed names
checks and dates, and neither faults nor people: it hangs on a wall or lies with another organisation's calendar server.
"""

import hashlib
import secrets
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from icalendar import Alarm, Calendar, Event

from inspections.queries import AgendaRow, Wanted, agenda
from inspections.queries.agenda import CALIBRATION, CHECK, CYLINDER, EXPIRY, SEASON, may_see
from inventory.models import Line
from reports.models import CalendarEvent, CalendarFeed
from shared.models import Department, Membership, User
from shared.notices import host
from shared.templatetags.holdair import day
from shared.tokens import digest_of
from shared.walls import may

AHEAD: Final = timedelta(days=400)  # a yearly check shows, whenever it was done
ALARM_AT: Final = timedelta(hours=9)  # of the day the alarm falls on
REFRESH: Final = timedelta(hours=6)
OF_LINES: Final = frozenset({CHECK, SEASON, EXPIRY, CYLINDER, CALIBRATION})


def make_feed(
    *, department: Department, user: User, line: Line | None, lead_days: int, at: datetime
) -> tuple[CalendarFeed, str]:
    """Return a new feed with its key, which is shown this once."""
    key = secrets.token_urlsafe(32)
    feed = CalendarFeed.objects.create(
        department=department, user=user, line=line, digest=digest_of(key), lead_days=lead_days, made_at=at
    )
    return feed, key


def revoke_feed(*, feed: CalendarFeed, at: datetime) -> bool:
    """End a feed; what was fetched under it stays where it was fetched to. Return whether it was still alive."""
    return bool(CalendarFeed.objects.filter(pk=feed.pk, revoked_at=None).update(revoked_at=at))


def feed_of(key: str, at: datetime) -> tuple[CalendarFeed, Membership] | None:
    """Return a living feed with the membership it speaks for; None where either has ended."""
    rows = CalendarFeed.objects.select_related("department", "user", "line")
    feed = rows.filter(digest=digest_of(key), revoked_at=None, user__is_active=True).first()
    if feed is None:
        return None
    on = at.astimezone(ZoneInfo(feed.department.time_zone)).date()
    held = feed.user.memberships.current(on).filter(department=feed.department).select_related("user", "department")
    membership = held.first()
    return (feed, membership) if membership is not None and may(membership, "token") else None


def read_feed(*, feed: CalendarFeed, membership: Membership, at: datetime) -> bytes:
    """Return the calendar as it stands, and note what it says, so that later changes are told as such."""
    on = at.astimezone(ZoneInfo(feed.department.time_zone)).date()
    rows = _rows(feed, membership, on)
    shown = {uid_of(feed, row): _said(feed, row, on) for row in rows}
    days = {uid_of(feed, row): row.due_on for row in rows}
    states = _follow(feed, shown, days, at)
    return _calendar(feed, rows, shown, states)


def _rows(feed: CalendarFeed, membership: Membership, on: date) -> list[AgendaRow]:
    rows = agenda(feed.department, on, on + AHEAD, wanted=Wanted(line=feed.line), with_passes=may(membership, "people"))
    dated = [row for row in rows if row.due_on is not None and may_see(row, membership)]
    return [row for row in dated if row.sort in OF_LINES] if feed.line else dated


def uid_of(feed: CalendarFeed, row: AgendaRow) -> str:
    """Return the lasting name of one thing in the feeds of a line or of persons."""
    what = f"{feed.department_id}/{'line' if feed.line_id else 'person'}/{row.key}"
    return f"{hashlib.sha256(what.encode()).hexdigest()[:32]}@{host()}"


def _said(feed: CalendarFeed, row: AgendaRow, on: date) -> tuple[str, str]:
    """Return summary and description of one event."""
    summary = f"{row.what}: {row.subject}"
    if row.is_overdue(on):
        summary = f"Overdue since {day(row.due_on)}: {summary}"
    about = []
    if not feed.line_id:
        about.append(f"Due: {row.why}.")
    if row.rule and row.rule.months:
        about.append(f"Every {row.rule.months} months, {row.grace_days} days of grace.")
    if row.origin:
        about.append(f"Origin: {row.origin}{f' ({row.source})' if row.source else ''}.")
    about += [f"{item.tag}: {name}" for item, _, name in row.open_checks]
    return summary, "\n".join(about)


@transaction.atomic
def _follow(
    feed: CalendarFeed, shown: Mapping[str, tuple[str, str]], days: Mapping[str, date], at: datetime
) -> dict[str, CalendarEvent]:
    """Return by UID what each event's sequence and last change are, after comparing it with what was said before."""
    # Two programs may read one feed at once: the second waits, and then finds nothing changed.
    CalendarFeed.objects.select_for_update().get(pk=feed.pk)
    held = {event.uid: event for event in feed.events.all()}
    new, moved = [], []
    for uid, said in shown.items():
        digest = digest_of("\n".join((*said, str(days[uid]))))
        event = held.get(uid)
        if event is None:
            held[uid] = CalendarEvent(feed=feed, uid=uid, due_on=days[uid], digest=digest, changed_at=at)
            new.append(held[uid])
        elif event.digest != digest:
            event.sequence += event.due_on != days[uid]
            event.due_on, event.digest, event.changed_at = days[uid], digest, at
            moved.append(event)
    CalendarEvent.objects.bulk_create(new)
    CalendarEvent.objects.bulk_update(moved, ["sequence", "due_on", "digest", "changed_at"])
    CalendarFeed.objects.filter(pk=feed.pk).update(last_read_at=at)
    return held


def _calendar(
    feed: CalendarFeed,
    rows: Sequence[AgendaRow],
    shown: Mapping[str, tuple[str, str]],
    states: Mapping[str, CalendarEvent],
) -> bytes:
    name = f"{feed.line or feed.user.signed_name}, due: {feed.department}"
    calendar = Calendar()
    calendar.add("PRODID", "-//Holdair//Due//EN")
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("NAME", name)
    calendar.add("X-WR-CALNAME", name)
    calendar.add("X-WR-TIMEZONE", feed.department.time_zone)
    calendar.add("REFRESH-INTERVAL", REFRESH, parameters={"VALUE": "DURATION"})
    for row in rows:
        uid = uid_of(feed, row)
        calendar.add_component(_event(feed, row, shown[uid], states[uid]))
    return calendar.to_ical()


def _event(feed: CalendarFeed, row: AgendaRow, said: tuple[str, str], state: CalendarEvent) -> Event:
    summary, description = said
    changed = state.changed_at.replace(microsecond=0)
    event = Event()
    event.add("UID", state.uid)
    event.add("DTSTAMP", changed)
    event.add("LAST-MODIFIED", changed)
    event.add("SEQUENCE", state.sequence)
    event.add("DTSTART", row.due_on)
    event.add("DTEND", row.due_on + timedelta(days=1))  # the day after: the end is not part of it
    event.add("SUMMARY", summary)
    event.add("DESCRIPTION", description)
    event.add("CATEGORIES", [row.sort])
    event.add("TRANSP", "TRANSPARENT")
    if row.place is not None:
        event.add("LOCATION", row.place.name)
    if row.link:
        event.add("URL", settings.HOLDAIR_ADDRESS.rstrip("/") + row.link)
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", summary)
    alarm.add("TRIGGER", ALARM_AT - timedelta(days=feed.lead_days))
    event.add_component(alarm)
    return event
