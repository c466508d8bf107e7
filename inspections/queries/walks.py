"""Walks: whose a walk is to sign, and how well it was walked."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.db.models import OuterRef, Q, QuerySet, Subquery

from inspections.entry import telling_numbers
from inspections.models import Inspection, Reading, Walk, WalkTakeUp
from shared.models import Department, User

A_MINUTE: Final = timedelta(minutes=1)
SLACK: Final = timedelta(minutes=5)  # clocks of phones differ by minutes
AT_A_GLANCE: Final = frozenset({"look", "count"})  # seen and counted in seconds, and honestly


def walker(walk: Walk) -> tuple[User, datetime]:
    """Return whose walk it is and since when: whoever took it up last, else whoever began it."""
    last = walk.take_ups.filter(corrections=None).select_related("by").order_by("-happened_at", "-recorded_at", "-pk")
    for row in last[:1]:
        return row.by, row.happened_at
    return walk.by, walk.started_at


def open_walks(department: Department) -> QuerySet[Walk]:
    """Return every walk that is not signed, newest first, with ``walker_id`` and ``walker_name``: whose it is."""
    last = WalkTakeUp.objects.filter(walk=OuterRef("pk"), corrections=None).order_by(
        "-happened_at", "-recorded_at", "-pk"
    )
    return (
        Walk.objects.filter(department=department, signed_at=None)
        .select_related("place", "by")
        .annotate(taken_by=Subquery(last.values("by")[:1]), taken_name=Subquery(last.values("by_name")[:1]))
        .order_by("-started_at", "-pk")
    )


@dataclass(frozen=True, slots=True)
class QualityFlag:
    """Something about how a record came to be that its reader should know. It blames nobody and changes no verdict.

    Attributes:
        sort: alike, quick or outside.
        inspection: the record it is about, None where it is the walk as a whole.
    """

    sort: str
    text: str
    inspection: Inspection | None = None


def quality(walk: Walk) -> list[QualityFlag]:
    """Return what the readers of a walk should know of how it was walked, in the order it was.

    Readings alike to the last digit, checks of a minute and less, and times outside the visit.
    """
    rows = list(walk.inspections.filter(corrections=None).select_related("item", "lot", "line", "procedure"))
    rows.sort(key=lambda row: (row.happened_at, row.pk))
    flags = list(_of_walk(walk, rows))
    alike = _alike(rows)
    for row in rows:
        flags += [flag for flag in (alike.get(row.pk), _quick(row), _outside(walk, row)) if flag]
    return flags


def quality_of(row: Inspection) -> list[QualityFlag]:
    """Return the flags of one record; one that stands on no walk has no visit to be outside of."""
    return quality_of_each([row])[row.pk]


def quality_of_each(rows: Sequence[Inspection]) -> dict[int, list[QualityFlag]]:
    """Return by inspection id the flags of records of one department, in a fixed number of queries."""
    alike = _alike(rows) if rows else {}
    found = {row.pk: (alike.get(row.pk), _quick(row), _outside(row.walk, row) if row.walk else None) for row in rows}
    return {pk: [flag for flag in flags if flag] for pk, flags in found.items()}


def _of_walk(walk: Walk, rows: Sequence[Inspection]) -> Iterable[QualityFlag]:
    if walk.signed_at is None or not rows:
        return
    took = walk.signed_at - walk.started_at
    if took < A_MINUTE:
        many = f"{len(rows)} check{'' if len(rows) == 1 else 's'}"
        yield QualityFlag("quick", f"The whole walk took {max(0, int(took.total_seconds()))} seconds for {many}.")


def _quick(row: Inspection) -> QualityFlag | None:
    """Flag a measured check that took less than a minute from opening it to its end."""
    if row.check_key in AT_A_GLANCE or row.started_at is None:
        return None
    took = row.happened_at - row.started_at
    if not timedelta(0) <= took < A_MINUTE:
        return None
    text = "Begun and ended within a minute: read off paper, or entered afterwards."
    return QualityFlag("quick", text, row)


def _outside(walk: Walk, row: Inspection) -> QualityFlag | None:
    """Flag a check that happened before the walk began or after it was signed."""
    if row.happened_at < walk.started_at - SLACK:
        return QualityFlag("outside", "Done before this walk began.", row)
    if walk.signed_at is not None and row.happened_at > walk.signed_at + SLACK:
        return QualityFlag("outside", "Done after this walk was signed.", row)
    return None


def _alike(rows: Sequence[Inspection]) -> dict[int, QualityFlag]:
    """Return by inspection id a flag for each whose measured numbers are those of the check before, to the digit."""
    numbers = _numbers(rows)
    before = _before([row for row in rows if numbers.get(row.pk)])
    earlier = _numbers(list(before.values()))
    return {
        row.pk: QualityFlag(
            "alike", f"The same readings, to the last digit, as on {before[row.pk].happened_at:%Y-%m-%d}.", row
        )
        for row in rows
        if row.pk in before and numbers[row.pk] == earlier.get(before[row.pk].pk)
    }


def _numbers(rows: Sequence[Inspection]) -> dict[int, tuple[tuple[str, float], ...]]:
    """Return by inspection id what it measured, where that says enough to be compared."""
    read: dict[int, dict[str, float]] = defaultdict(dict)
    found = Reading.objects.filter(inspection__in=[row.pk for row in rows], number__isnull=False)
    for pk, key, number in found.values_list("inspection_id", "key", "number"):
        read[pk][key] = number
    return {row.pk: telling_numbers(row.check_key, read[row.pk]) for row in rows}


def _before(rows: Sequence[Inspection]) -> dict[int, Inspection]:
    """Return by inspection id the newest earlier record of the same check of the same thing."""
    if not rows:
        return {}
    of = {f"{name}__in": {getattr(row, f"{name}_id") for row in rows} - {None} for name in ("item", "lot", "line")}
    same = Q(*of.items(), _connector=Q.OR)
    past = Inspection.objects.filter(same, department_id=rows[0].department_id, corrections=None)
    by_thing: dict[tuple[str, int | None, int | None, int | None], list[Inspection]] = defaultdict(list)
    for one in past.order_by("-happened_at", "-recorded_at", "-pk"):
        by_thing[_thing(one)].append(one)
    newest = {
        row.pk: next((one for one in by_thing[_thing(row)] if one.happened_at < row.happened_at), None) for row in rows
    }
    return {pk: one for pk, one in newest.items() if one is not None}


def _thing(row: Inspection) -> tuple[str, int | None, int | None, int | None]:
    return row.check_key, row.item_id, row.lot_id, row.line_id
