"""The catalogue as it was in force on a day.

Rows are dated; the newest row that is effective on a day stands. A day before the first row is judged by the first:
a department that starts its records today loads two years of paper, and those readings need a limit too.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import date
from functools import cache
from typing import Any

from django.db.models import Q

from inventory.models import FailureMode, Interval, ItemKind, Limit
from shared.models import Department

# Where an interval comes from, strongest first; ``own`` is what the department decided itself (see intervals_for).
ORIGINS = ("law", "maker", "own", "modes", "standard", "policy")
BINDING = frozenset({"law", "maker", "own"})  # these override a mode's own letters; standard and policy only fill in


def in_force(rows: Iterable[Any], on: date, key: Callable[[Any], Hashable]) -> dict[Hashable, Any]:
    """Return for each key the newest row effective on a day, else the first there ever was."""
    standing: dict[Hashable, Any] = {}
    for row in sorted(rows, key=lambda r: (r.effective_on, r.pk)):
        if key(row) not in standing or row.effective_on <= on:
            standing[key(row)] = row
    return standing


def kinds_for(department: Department) -> dict[str, ItemKind]:
    """Return the department's kinds by key."""
    return {kind.key: kind for kind in ItemKind.objects.filter(department=department)}


def modes_for(department: Department, on: date) -> dict[str, FailureMode]:
    """Return by code the failure mode rows in force on a day."""
    return in_force(FailureMode.objects.filter(department=department), on, lambda row: row.code)


def limits_for(department: Department, kind: ItemKind | None, on: date) -> dict[str, Limit]:
    """Return by key the limits in force on a day for a kind; one set for the kind wins over the general one."""
    of_kind = Q(kind=None) if kind is None else Q(kind=None) | Q(kind=kind)
    rows = list(Limit.objects.filter(of_kind, department=department).select_related("kind"))
    return _in_force_of(rows, kind and kind.pk, on)


def limits_of_kinds(department: Department, on: date) -> Callable[[int | None], dict[str, Limit]]:
    """Return a function that gives ``limits_for`` by a kind's id, read once for all kinds."""
    rows = list(Limit.objects.filter(department=department).select_related("kind"))
    return cache(lambda pk: _in_force_of([r for r in rows if r.kind_id in (None, pk)], pk, on))


def _in_force_of(rows: Sequence[Limit], kind_id: int | None, on: date) -> dict[str, Limit]:
    general = in_force((r for r in rows if r.kind_id is None), on, lambda r: r.key)
    # a figure for the kind holds from its own day on: before that day the general one did
    special = in_force((r for r in rows if r.kind_id and r.effective_on <= on), on, lambda r: r.key)
    return general | special


def intervals_for(department: Department, on: date) -> dict[tuple[str, str], Interval]:
    """Return by (kind key or "", mode code) the interval that overrides the mode's own letters on a day.

    Of the law, the maker and the department's own decision the shortest wins, since it keeps the others too; then
    come the letters of the mode (no row), then the standard and policy that ship with the catalogue.
    """
    rows = Interval.objects.filter(department=department).select_related("kind")
    # what ships holds since ever; what a maker or the department says, from its own day on
    rows = [row for row in rows if row.effective_on <= on or row.origin not in ("maker", "own")]
    newest = in_force(rows, on, lambda r: (r.kind.key if r.kind else "", r.mode_code, r.origin))
    chosen: dict[tuple[str, str], Interval] = {}
    for (kind_key, code, _), row in newest.items():
        held = chosen.get((kind_key, code))
        if held is None or _wins(row, held):
            chosen[kind_key, code] = row
    return chosen


def _wins(row: Interval, held: Interval) -> bool:
    if {row.origin, held.origin} <= BINDING:
        return (row.months, ORIGINS.index(row.origin)) < (held.months, ORIGINS.index(held.origin))
    return ORIGINS.index(row.origin) < ORIGINS.index(held.origin)


def stronger(of_kind: Interval | None, general: Interval | None) -> Interval | None:
    """Return which interval governs a mode on a kind: the kind's own, unless it loosens what binds every kind."""
    if of_kind is None or general is None:
        return of_kind or general
    if general.origin not in BINDING:
        return of_kind
    if of_kind.origin not in BINDING:
        return general
    return general if general.origin != "own" and _wins(general, of_kind) else of_kind
