"""Deficiencies that stand open."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from inspections import episodes
from inspections.models import AcceptedRisk, Deficiency, Repair
from inspections.queries.ledgers import faults_known, restorations
from shared.models import Department

GRAVEST_FIRST = {"I": 0, "C": 1, "N": 2}
OLDEST = ("happened_at", "pk")


@dataclass(frozen=True, slots=True)
class OpenDeficiency:
    """A fault that is not put right, or is put right by one name alone."""

    deficiency: Deficiency
    awaiting_second_name: bool
    repairs: tuple[Repair, ...] = ()

    @property
    def own_names(self) -> tuple[str, ...]:
        """Names that cannot restore it: whoever found it, and whoever repaired it."""
        return tuple(dict.fromkeys([self.deficiency.by_name, *(repair.by_name for repair in self.repairs)]))


@dataclass(frozen=True, slots=True)
class Episode:
    """One fault from the day it was found: when it was restored and whether alone, and the work done on it.

    ``again`` are the deficiencies that found the same fault once more while it stood.
    """

    deficiency: Deficiency
    restored: Sequence[episodes.Restored]
    repairs: tuple[Repair, ...] = ()
    again: tuple[Deficiency, ...] = ()

    @property
    def at(self) -> datetime:
        return self.deficiency.happened_at

    @property
    def grade(self) -> str:
        return self.deficiency.grade

    def is_closed(self, at: datetime) -> bool:
        """Return whether it is put right by an instant, second name and all."""
        return episodes.is_closed(self, at)

    def is_awaiting(self, at: datetime) -> bool:
        """Return whether it is put right by an instant, but only under one name alone."""
        return episodes.is_awaiting(self, at)

    @property
    def own_names(self) -> tuple[str, ...]:
        """Names that cannot restore it: whoever found it, and whoever repaired it."""
        return tuple(dict.fromkeys([self.deficiency.by_name, *(repair.by_name for repair in self.repairs)]))


def fault_episodes(
    department: Department, at: datetime, known_at: datetime, items: Collection[int] | None = None
) -> list[Episode]:
    """Return every fault found by an instant, put right or not, as known at another; oldest first.

    A fault that was found again while it stood is there once, by who found it first.
    """
    of = {} if items is None else {"item__in": items}
    restored = restorations(department, known_at, happened_at__lte=at)
    rows = faults_known(department, known_at).filter(happened_at__lte=at, **of)
    found = [
        Episode(row, restored[row.pk]) for row in rows.select_related("item__kind", "inspection").order_by(*OLDEST)
    ]
    repairs: dict[int, list[Repair]] = defaultdict(list)
    for repair in Repair.objects.as_of(at, known_at).filter(department=department, **of).order_by(*OLDEST):
        repairs[repair.item_id].append(repair)
    each: dict[tuple[int, str], list[Episode]] = defaultdict(list)
    for fault in found:
        each[fault.deficiency.item_id, fault.deficiency.mode_code].append(fault)
    return sorted(
        (_told(head, faults, repairs[item]) for (item, _), faults in each.items() for head in episodes.heads(faults)),
        key=lambda episode: (episode.at, episode.deficiency.pk),
    )


def _told(head: Episode, faults: Sequence[Episode], repairs: Iterable[Repair]) -> Episode:
    again = (f.deficiency for f in faults if f is not head and f.at >= head.at and episodes.stands(head, f.at))
    return replace(head, repairs=tuple(r for r in repairs if _is_of(r, head)), again=tuple(again))


def _is_of(repair: Repair, fault: Episode) -> bool:
    if repair.deficiency_id is not None:
        return repair.deficiency_id == fault.deficiency.pk
    return episodes.stood_open(fault, repair.happened_at)


def open_deficiencies(department: Department, at: datetime, known_at: datetime) -> list[OpenDeficiency]:
    """Return what stands open at an instant, as known at another: impairments first, then oldest first."""
    found = [
        OpenDeficiency(fault.deficiency, episodes.is_awaiting(fault, at), fault.repairs)
        for fault in fault_episodes(department, at, known_at)
        if not episodes.is_closed(fault, at)
    ]
    return sorted(found, key=lambda f: GRAVEST_FIRST.get(f.deficiency.grade, 3))


@dataclass(frozen=True, slots=True)
class RiskAccepted:
    """A decision to run with a fault that still stands, in force or past its day. It changes no number."""

    row: AcceptedRisk
    deficiency: Deficiency
    is_expired: bool

    @property
    def by_name(self) -> str:
        return self.row.by_name

    @property
    def until(self) -> date:
        return self.row.until

    @property
    def reason(self) -> str:
        return self.row.reason


def accepted_risks(department: Department, at: datetime, known_at: datetime | None = None) -> list[RiskAccepted]:
    """Return the accepted risks of faults that stand at an instant, expired ones named as such; soonest end first.

    One query where nothing was ever accepted.
    """
    known_at = known_at or at
    newest: dict[int, AcceptedRisk] = {}
    rows = AcceptedRisk.objects.as_of(at, known_at).filter(department=department).order_by(*OLDEST)
    for row in rows.select_related("deficiency__item"):
        newest[row.deficiency_id] = row
    standing = {pk: row for pk, row in newest.items() if not row.withdrawn}
    if not standing:
        return []
    items = {row.deficiency.item_id for row in standing.values()}
    today = at.astimezone(ZoneInfo(department.time_zone)).date()
    found = [
        RiskAccepted(standing[fault.deficiency.pk], fault.deficiency, standing[fault.deficiency.pk].until < today)
        for fault in fault_episodes(department, at, known_at, items)
        if fault.deficiency.pk in standing and not fault.is_closed(at)
    ]
    return sorted(found, key=lambda risk: (risk.until, risk.row.pk))
