"""What a line is meant to carry, and who is on its roster."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from inventory.crew_currency import currency
from inventory.models import CrewMember, Line, LoadListRow
from shared.models import Department


@dataclass(frozen=True, slots=True)
class CrewStanding:
    """One member of the roster on a day: ``until`` is the last day the qualification counts."""

    member: CrewMember
    qualified: bool
    until: date | None

    @property
    def name(self) -> str:
        return self.member.name


def load_list(line: Line, on: date) -> list[LoadListRow]:
    """Return what must be aboard a line on a day, in the order of the list."""
    return list(_rows_on(on).filter(line=line))


def load_lists(department: Department, on: date) -> dict[int, list[LoadListRow]]:
    """Return by line id what must be aboard every line of a department on a day, in one query."""
    lists: dict[int, list[LoadListRow]] = {}
    for row in _rows_on(on).filter(department=department):
        lists.setdefault(row.line_id, []).append(row)
    return lists


def _rows_on(on: date) -> QuerySet[LoadListRow]:
    in_force = Q(ends_on=None) | Q(ends_on__gt=on)
    return LoadListRow.objects.filter(in_force, effective_on__lte=on).prefetch_related("kind").order_by("order", "pk")


def crew_of(line: Line, on: date) -> list[CrewStanding] | None:
    """Return who may crew a line on a day: its own people and those of every line.

    None where the department has no roster at all, which is not the same as nobody being qualified.
    """
    return crews_of([line], on)[line.pk]


def crews_of(lines: Sequence[Line], on: date) -> dict[int, list[CrewStanding] | None]:
    """Return by line id who may crew lines of one department, as ``crew_of`` does for one, in one query."""
    if not lines:
        return {}
    people = list(CrewMember.objects.filter(department_id=lines[0].department_id).select_related("line"))
    here = [_crew_standing(one, on) for one in people if one.left_on is None or one.left_on > on]
    return {line.pk: [c for c in here if c.member.line_id in (None, line.pk)] if people else None for line in lines}


def _crew_standing(member: CrewMember, on: date) -> CrewStanding:
    counts = currency(on, qualified_on=member.qualified_on, qualified_until=member.qualified_until)
    return CrewStanding(member, counts.qualified, counts.until)
