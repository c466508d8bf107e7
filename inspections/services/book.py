"""What is known beforehand of everything one department checks, read as it is asked for and kept.

One live reading asks for a handful of rows; a register of thousands asks for the same rows over and over. Both go
through this book, so that they are judged by the same code.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Max, Sum

from inspections import episodes
from inspections.entry import inputs_by_name
from inspections.models import Deficiency, Inspection, Procedure, Proof, Reading, Repair, Restoration
from inspections.queries.instruments import Meter, instrument_of, tags_in
from inspections.queries.stores import propane_stores
from inspections.services.noticed import watched_items
from inspections.services.procedures import load_procedures
from inspections.verdicts.core import Limit, Subject
from inventory.models import FailureMode, Item, ItemKind, Line, Lot, Posting
from inventory.models import Limit as LimitRow
from inventory.queries import limits_for, modes_for, spec_of, standing
from shared.models import Department, User
from shared.people import name_key, names_borne

TOOK_PART = frozenset({"in service", "wet", "drying"})
EXPECTED = (Posting.Reason.REGISTERED, Posting.Reason.RECEIVED, Posting.Reason.DISPOSED)


@dataclass(slots=True, eq=False)
class Fault:
    """A deficiency with what was done about it, and so who may not restore it alone."""

    row: Deficiency
    restored: list[episodes.Restored] = field(default_factory=list)
    repairs: list[tuple[datetime, str]] = field(default_factory=list)  # when and by whose name

    @property
    def at(self) -> datetime:
        return self.row.happened_at

    @property
    def grade(self) -> str:
        return self.row.grade

    @property
    def awaiting(self) -> bool:
        return bool(self.restored) and all(alone for _, alone in self.restored)

    @property
    def is_open(self) -> bool:
        """Whether it is not yet put right, a second name that is still to come among it."""
        return all(alone for _, alone in self.restored)

    def is_own(self, names: Collection[str], at: datetime) -> bool:
        """Return whether one of these names found the fault, or worked on it by an instant."""
        worked = {name for when, name in self.repairs if when <= at}
        return not {name_key(self.row.by_name), *worked}.isdisjoint(names)


@dataclass(slots=True)
class Past:
    """One earlier inspection of an item, as far as baselines need it."""

    check_key: str
    at: datetime
    acceptance: bool
    measured: Mapping[str, Any]


class Book:
    """Lookups of one department; what a check adds is written into it, so that the next check sees it."""

    def __init__(self, department: Department) -> None:
        self.department = department
        self.zone = ZoneInfo(department.time_zone)
        self._procedures: dict[str, list[Procedure]] | None = None
        self._names: dict[int, dict[str, Mapping[str, Any]]] = {}
        self._limits: dict[tuple[int | None, int], dict[str, Limit]] = {}
        self._modes: dict[int, dict[str, FailureMode]] = {}
        self._epochs: list[date] | None = None
        self._pasts: dict[int, list[Past]] = {}
        self._faults: dict[int, list[Fault]] = {}
        self._newest: dict[int, datetime | None] = {}
        self._expected: dict[int, int] = {}
        self._meters: dict[tuple[str, date], Meter | None] = {}
        self._names_borne: dict[tuple[int | None, str], frozenset[str]] = {}
        self._leave_out: set[int] = set()  # inspections that the check in hand corrects
        self._watched: frozenset[int] | None = None

    @property
    def watched(self) -> frozenset[int]:
        """Return the items whose next check means more than its verdict."""
        if self._watched is None:
            self._watched = watched_items(self.department)
        return self._watched

    def day(self, at: datetime) -> date:
        """Return the department's own day of an instant."""
        return at.astimezone(self.zone).date()

    def names_of(self, by: User | None, by_name: str, source: str) -> frozenset[str]:
        """Return the names of whoever signed. What a register says was signed on paper, not by whoever takes it in."""
        key = (by.pk if by is not None and source != "register" else None, by_name)
        if key not in self._names_borne:
            self._names_borne[key] = names_borne(by if key[0] else None, by_name)
        return self._names_borne[key]

    # Catalogue.

    def procedure(self, check_key: str, on: date) -> Procedure | None:
        """Return the version in force on a day, else the first there ever was; None for an unknown check."""
        if self._procedures is None:
            if not Procedure.objects.filter(department=self.department).exists():
                load_procedures(department=self.department, on=on)
            self._procedures = defaultdict(list)
            for row in Procedure.objects.filter(department=self.department).order_by("effective_on", "version"):
                self._procedures[row.check_key].append(row)
        versions = self._procedures.get(check_key)
        if not versions:
            return None
        return next((row for row in reversed(versions) if row.effective_on <= on), versions[0])

    def input_names(self, procedure: Procedure) -> dict[str, Mapping[str, Any]]:
        if procedure.pk not in self._names:
            self._names[procedure.pk] = inputs_by_name(procedure.definition)
        return self._names[procedure.pk]

    def _epoch(self, on: date) -> int:
        """Return which stretch of the catalogue's history a day lies in: within one, nothing changes."""
        if self._epochs is None:
            days = set(LimitRow.objects.filter(department=self.department).values_list("effective_on", flat=True))
            days |= set(FailureMode.objects.filter(department=self.department).values_list("effective_on", flat=True))
            self._epochs = sorted(days)
        return bisect_right(self._epochs, on)

    def limits(self, kind: ItemKind | None, on: date) -> dict[str, Limit]:
        """Return the limits in force, as judges take them."""
        key = (kind.pk if kind else None, self._epoch(on))
        if key not in self._limits:
            rows = limits_for(self.department, kind, on)
            self._limits[key] = {name: _limit(row) for name, row in rows.items()}
        return self._limits[key]

    def modes(self, on: date) -> dict[str, FailureMode]:
        epoch = self._epoch(on)
        if epoch not in self._modes:
            self._modes[epoch] = modes_for(self.department, on)
        return self._modes[epoch]

    # Items.

    def preload(self, items: Iterable[Item]) -> None:
        """Read at once what single checks would read item by item."""
        ids = [item.pk for item in items]
        for pk in ids:
            self._pasts[pk], self._faults[pk], self._expected[pk] = [], [], 0
        self._read_newest(ids)
        self._read_pasts(ids)
        self._read_faults(ids)
        self._read_expected(ids)

    def pasts(self, item: Item) -> list[Past]:
        if item.pk not in self._pasts:
            self._pasts[item.pk] = []
            self._read_pasts([item.pk])
        return self._pasts[item.pk]

    def faults(self, item: Item) -> list[Fault]:
        """Return the item's open deficiencies, those awaiting a second name among them."""
        return [fault for fault in self.episodes(item) if fault.is_open]

    def episodes(self, item: Item) -> list[Fault]:
        """Return every fault the item ever had, oldest first; one found again while it stood is there once."""
        if item.pk not in self._faults:
            self._faults[item.pk] = []
            self._read_faults([item.pk])
        return self._faults[item.pk]

    def saw(self, item: Item, at: datetime) -> bool:
        """Note that something is known of an item at an instant; return whether something later was known already."""
        if item.pk not in self._newest:
            self._read_newest([item.pk])
        newest = self._newest[item.pk]
        self._newest[item.pk] = at if newest is None else max(newest, at)
        return newest is not None and at < newest

    def _read_newest(self, ids: list[int]) -> None:
        of = {"department": self.department, "item__in": ids}
        self._newest |= dict.fromkeys(ids)
        for model in (Proof, Repair, Deficiency):
            for item_id, at in model.objects.filter(**of).values_list("item_id").annotate(Max("happened_at")):
                self._newest[item_id] = max(at, self._newest[item_id] or at)

    def expected(self, item: Item) -> int:
        """Return how many units of an item there should be: registered and received, less disposed of."""
        if item.pk not in self._expected:
            self._expected[item.pk] = 0
            self._read_expected([item.pk])
        return self._expected[item.pk]

    def _read_pasts(self, ids: list[int]) -> None:
        rows = (
            Inspection.objects.filter(department=self.department, item__in=ids, corrections=None)
            .exclude(verdict=Inspection.Verdict.VOID)
            .exclude(measured={})
            .exclude(pk__in=self._leave_out)
            .order_by("happened_at", "recorded_at", "pk")
        )
        accepted = set(
            Reading.objects.filter(inspection__in=rows, key="acceptance", text="yes").values_list(
                "inspection_id", flat=True
            )
        )
        for row in rows.values_list("pk", "item_id", "check_key", "happened_at", "measured"):
            self._pasts[row[1]].append(Past(row[2], row[3], row[0] in accepted, row[4]))

    def _read_faults(self, ids: list[int]) -> None:
        restored: dict[int, list[episodes.Restored]] = defaultdict(list)
        in_force = Restoration.objects.filter(department=self.department, corrections=None)
        live = in_force.filter(inspection__corrections=None, deficiency__item__in=ids)
        live = live.exclude(inspection__in=self._leave_out).order_by("happened_at", "pk")
        for deficiency, at, alone in live.values_list("deficiency_id", "happened_at", "awaiting_second_name"):
            restored[deficiency].append((at, alone))
        repairs: dict[int, list[Repair]] = defaultdict(list)
        for repair in Repair.objects.filter(department=self.department, item__in=ids, corrections=None):
            repairs[repair.item_id].append(repair)
        rows = Deficiency.objects.filter(department=self.department, item__in=ids, corrections=None)
        rows = rows.exclude(inspection__corrections__isnull=False).exclude(inspection__in=self._leave_out)
        found = [Fault(row, restored[row.pk]) for row in rows.order_by("happened_at", "pk")]
        for fault in found:
            fault.repairs = [
                (r.happened_at, name_key(r.by_name)) for r in repairs[fault.row.item_id] if repaired(r, fault)
            ]
        for (item_id, _), of in episodes.heads_of_each(((f.row.item_id, f.row.mode_code), f) for f in found).items():
            self._faults[item_id] += of
        for item_id in ids:
            self._faults[item_id].sort(key=lambda fault: (fault.at, fault.row.pk))

    def _read_expected(self, ids: list[int]) -> None:
        rows = Posting.objects.filter(department=self.department, item__in=ids, reason__in=EXPECTED, corrections=None)
        for item_id, change in rows.values("item_id").annotate(n=Sum("change")).values_list("item_id", "n"):
            self._expected[item_id] = max(0, change)

    def forget(self, corrected: Inspection) -> None:
        """Drop what is kept of an inspection's subject, and leave that inspection out of what is read next."""
        self._leave_out.add(corrected.pk)
        for kept in (self._pasts, self._faults):
            kept.pop(corrected.item_id, None) if corrected.item_id else kept.clear()

    def forget_faults(self, item: Item) -> None:
        """Read an item's faults afresh when they are asked for next."""
        self._faults.pop(item.pk, None)

    # What a judge is told.

    def subject(
        self,
        check_key: str,
        item: Item,
        at: datetime,
        steps: Mapping[str, float] | None = None,
    ) -> Subject:
        """Return what is known beforehand of one item."""
        on = self.day(at)
        baseline, assumed = self._baseline(item, check_key, at)
        return Subject(
            kind=item.kind.key,
            on=on,
            at=at,
            spec=spec_of(item),
            baseline=baseline,
            baseline_assumed=assumed,
            expected_units=self.expected(item),
            visible_modes=tuple(item.kind.checks.get(check_key, ())),
            steps=steps or {},
            **self._circumstances(on),
        )

    def subject_of_lot(self, lot: Lot, at: datetime) -> Subject:
        on = self.day(at)
        return Subject(kind=lot.kind.key, on=on, at=at, expected_units=0, due=lot.expires_on, **self._circumstances(on))

    def subject_of_line(self, check_key: str, line: Line, items: Iterable[Item], at: datetime) -> Subject:
        """Return what is known of a line: it sees what the check sees on any of its items, and what belongs to none."""
        on = self.day(at)
        modes = dict.fromkeys(code for item in items for code in item.kind.checks.get(check_key, ()))
        if check_key == "setup":
            modes["PE1"] = None
        return Subject(
            kind="line",
            on=on,
            at=at,
            baseline=self._line_baseline(check_key, line, at),
            spec={"lanes": self._lanes(items)},
            visible_modes=tuple(modes),
            **self._circumstances(on),
        )

    def items_of(self, line: Line, check_key: str, at: datetime, known_at: datetime) -> list[Item]:
        """Return what a check of a whole line sees: what is in service, and what this very check has to restore.

        What is boxed, lent or out of service took no part, so the check shows nothing of it; what is wet did.
        """
        return [
            held.item
            for held in standing(line, at, known_at).items
            if check_key in held.item.kind.checks
            and (held.state in TOOK_PART or any(f.row.check_key == check_key for f in self.faults(held.item)))
        ]

    def _circumstances(self, on: date) -> dict[str, Any]:
        first, last = self.department.cold_season_from, self.department.cold_season_to
        cold = first <= on.month <= last if first <= last else on.month >= first or on.month <= last
        return {
            "station_pressure_psi": self.department.station_pressure_psi,
            "cold_season": cold,
            "grades": {code: mode.grade for code, mode in self.modes(on).items()},
        }

    def _baseline(self, item: Item, check_key: str, at: datetime) -> tuple[dict[str, float], bool]:
        """Return this unit's own figures: its acceptance test's, else the first reading that showed capability."""
        first: dict[str, float] = {}
        marked: dict[str, float] = {}
        for past in self.pasts(item):
            if past.check_key != check_key or past.at >= at:
                continue
            shown = {name: m["value"] for name, m in past.measured.items() if not m.get("at_least")}
            first = shown | first
            marked |= shown if past.acceptance else {}
        return first | marked, not marked

    def _line_baseline(self, check_key: str, line: Line, at: datetime) -> dict[str, float]:
        rows = Inspection.objects.filter(
            department=self.department, line=line, check_key=check_key, happened_at__lt=at, corrections=None
        ).exclude(verdict=Inspection.Verdict.VOID)
        first: dict[str, float] = {}
        for measured in rows.order_by("happened_at", "pk").values_list("measured", flat=True):
            first = {name: m["value"] for name, m in measured.items() if not m.get("at_least")} | first
        return first

    @staticmethod
    def _lanes(items: Iterable[Item]) -> float:
        lanes = [float(item.spec.get("lanes") or 1) for item in items if item.kind.key == "shelter"]
        return max(1.0, sum(lanes))

    def meters_used(self, text: str, at: datetime, units: Collection[str]) -> dict[str, Any]:
        """Return the smallest steps of the meters named, and what is known against what they read in these units."""
        on = self.day(at)
        steps: dict[str, float] = {}
        doubts: list[str] = []
        notes: list[str] = []
        for tag in tags_in(text):
            key = (tag.casefold(), on)
            if key not in self._meters:
                self._meters[key] = instrument_of(self.department, tag, at)
            meter = self._meters[key]
            if meter is None:
                notes.append(f"No meter is on record under {tag}.")
                continue
            steps |= meter.steps
            doubt = meter.doubt(units, on)
            doubts += [doubt] if doubt else []
            notes += [] if doubt else meter.notes(units)
        return {"instrument": steps, "meter_doubt": " ".join(doubts), "meter_notes": tuple(notes)}

    def propane_beside(self, item: Item, at: datetime) -> float | None:
        """Return the nominal propane in the place where a cylinder stands, empties as full [lb]; None for no place."""
        place = next(
            (p.place_id for p in item.postings.filter(happened_at__lte=at).order_by("-happened_at", "-pk")), None
        )
        return next((s.nominal_lb for s in propane_stores(self.department, at) if s.place.pk == place), None)


def repaired(repair: Repair, fault: Fault) -> bool:
    """Return whether a repair was work on a fault: named so, or done on the item while it stood and naming none."""
    if repair.deficiency_id is not None:
        return repair.deficiency_id == fault.row.pk
    return episodes.stood_open(fault, repair.happened_at)


def _limit(row: LimitRow) -> Limit:
    return Limit(
        key=row.key,
        quantity=row.quantity,
        unit=row.unit,
        pass_low=row.pass_low,
        pass_high=row.pass_high,
        limits_low=row.limits_low,
        limits_high=row.limits_high,
        basis=row.basis,
        origin=row.origin,
        source=row.source,
        effective_on=row.effective_on,
    )
