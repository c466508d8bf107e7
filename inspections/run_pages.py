"""What the pages of runs show, each in a fixed number of queries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any

from django.utils.safestring import SafeString

from inspections import queries
from inspections.models import Run, RunEvent
from inspections.page_queries import CheckRow, check_name, procedures
from inspections.queries.after_use import Clock, wet_clock
from inspections.queries.runs import DrillRow, LossList, RunSheet, drill_of, losses_of, runs_out
from inspections.run_forms import EntryForm
from inspections.runs import ENTRIES, ORDERED, PERSON, STAMPS, Takt, minutes_from, out_of_order
from inventory.forms import OnceForm
from inventory.models import Item, ItemKind, Line, Place
from inventory.queries import modes_for, standing_of_department
from shared import charts
from shared.models import Department

UNITS = {"fuel": ("gal", "lb", "L"), "hours": ("h",), "used": ()}


@dataclass(frozen=True)
class StampRow:
    """One stamp of the clock: when it was, and how long after the order."""

    key: str
    name: str
    event: RunEvent | None
    minutes: float | None
    form: OnceForm


@dataclass(frozen=True)
class LaneRow:
    """One lane: who came through, and how fast."""

    number: int
    walking: int
    other: int
    takt: Takt | None
    other_takt: Takt | None
    last_at: datetime | None
    walking_form: OnceForm
    other_form: OnceForm


@dataclass(frozen=True)
class EntryRow:
    """One sort of entry: what is on the sheet, and the form for more."""

    key: str
    name: str
    rows: list[RunEvent]
    form: EntryForm
    must: frozenset[str]
    units: tuple[str, ...]


@dataclass(frozen=True)
class SheetView:
    """One run as its page draws it."""

    sheet: RunSheet
    at: datetime
    lanes_of_line: int
    refused: EntryForm | None = None
    drill: Any = None
    modes: Sequence[tuple[str, str]] = ()

    @property
    def run(self) -> Run:
        return self.sheet.run

    @cached_property
    def stamps(self) -> list[StampRow]:
        found = self.sheet.stamps
        return [
            StampRow(
                key,
                name,
                found.get(key),
                minutes_from(self.sheet.ordered, found[key].happened_at if key in found else None),
                OnceForm(),
            )  # fmt: skip
            for key, name in STAMPS.items()
        ]

    @property
    def next_stamp(self) -> StampRow | None:
        """Return the first stamp after the last one that was set: what is waited for."""
        last = max((i for i, row in enumerate(self.stamps) if row.event), default=-1)
        return next((row for row in self.stamps[last + 1 :] if not row.event), None)

    @property
    def other_stamps(self) -> list[StampRow]:
        return [row for row in self.stamps if not row.event and row is not self.next_stamp]

    @property
    def set_stamps(self) -> list[StampRow]:
        return [row for row in self.stamps if row.event]

    @property
    def wrong(self) -> list[str]:
        return out_of_order(self.sheet.ordered, self.sheet.stamped)

    @cached_property
    def lanes(self) -> list[LaneRow]:
        used = max((tap.lane for tap in self.sheet.taps), default=0)
        return [self._lane(number) for number in range(1, max(self.lanes_of_line, used) + 1)]

    def _lane(self, number: int) -> LaneRow:
        mine = [tap for tap in self.sheet.taps if tap.lane == number]
        return LaneRow(
            number=number,
            walking=sum(tap.walking for tap in mine),
            other=sum(not tap.walking for tap in mine),
            takt=self.sheet.takts.get((number, True)),
            other_takt=self.sheet.takts.get((number, False)),
            last_at=max((tap.at for tap in mine), default=None),
            walking_form=OnceForm(),
            other_form=OnceForm(),
        )

    @property
    def last_tap(self) -> tuple[RunEvent, OnceForm] | None:
        """Return the newest person, the one that a slip of the thumb is."""
        return (self.sheet.people[-1], OnceForm()) if self.sheet.people else None

    @cached_property
    def entries(self) -> list[EntryRow]:
        load = load_of(self.sheet)
        return [
            EntryRow(key, name, self.sheet.of(key), self._form(key, load), must, UNITS.get(key, ()))
            for key, (name, must) in ENTRIES.items()
        ]

    def _form(self, key: str, load: Sequence[Mapping[str, Any]]) -> EntryForm:
        if self.refused is not None and self.refused["event"].value() == key:
            return self.refused
        modes = self.modes if key == "fault" else ()
        return EntryForm(run=self.run, rows=load, modes=modes, initial={"event": key}, auto_id=f"{key}_%s")

    @property
    def order_row(self) -> RunEvent | None:
        """Return the row that says when the order was given, where one does."""
        return next(iter(self.sheet.of(ORDERED)[::-1]), None)

    @cached_property
    def order_form(self) -> EntryForm:
        return self._form(ORDERED, load_of(self.sheet))

    @property
    def refused_alone(self) -> EntryForm | None:
        """Return a refused row that has no form of its own on the page: a stamp or a person."""
        own = (*ENTRIES, ORDERED)
        return self.refused if self.refused and self.refused["event"].value() not in own else None

    @cached_property
    def losses(self) -> LossList:
        return losses_of(self.sheet)


def sheet_view(sheet: RunSheet, at: datetime, refused: EntryForm | None = None) -> SheetView:
    """Return one run as its page draws it."""
    drill = drill_of(sheet.run) if sheet.is_back else None
    return SheetView(sheet, at, lanes_of(sheet), refused, drill, modes_aboard(sheet))


def modes_aboard(sheet: RunSheet) -> list[tuple[str, str]]:
    """Return the failure modes of what left with a line, as a choice."""
    ids = [row["item"] for row in load_of(sheet) if row.get("item")]
    codes = ItemKind.objects.filter(items__in=ids, department=sheet.run.department).values_list("mode_codes", flat=True)
    held = {code for kind in codes.distinct() for code in kind}
    named = modes_for(sheet.run.department, sheet.run.happened_at.date())
    return [(code, f"{code} {named[code].name}") for code in sorted(held) if code in named]


def lanes_of(sheet: RunSheet) -> int:
    """Return the lanes of the shelters that left with a line, one where none says."""
    ids = [row["item"] for row in load_of(sheet) if row.get("item")]
    specs = Item.objects.filter(department=sheet.run.department, pk__in=ids, kind__key="shelter")
    lanes = sum(int(spec.get("lanes") or 1) for spec in specs.values_list("spec", flat=True))
    return max(1, lanes)


def load_of(sheet: RunSheet) -> Sequence[Mapping[str, Any]]:
    """Return the load that a line left with."""
    return sheet.sent.load if sheet.sent else ()


def event_name(row: RunEvent) -> str:
    """Return what a row of a sheet is called."""
    if row.event == PERSON:
        return f"Person, lane {row.lane}, {'walking' if row.walking is not False else 'not walking'}"
    return STAMPS.get(row.event) or ENTRIES.get(row.event, ("Ordered" if row.event == ORDERED else row.event,))[0]


# After use -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class AfterUse:
    """Everything on the wet clock, and the checks that a use asks for."""

    clocks: list[Clock]
    checks: list[tuple[Item, list[CheckRow]]]
    containers: list[Place]
    out: Mapping[int, Run] = field(default_factory=dict)

    @property
    def wet(self) -> list[Clock]:
        return [c for c in self.clocks if c.wet_at and not c.drying_at]

    @property
    def drying(self) -> list[Clock]:
        return [c for c in self.clocks if c.wet_at and c.drying_at]

    @property
    def quarantined(self) -> list[Clock]:
        return [c for c in self.clocks if c.quarantined_at]

    @property
    def alarms(self) -> list[Clock]:
        return [c for c in self.clocks if c.is_alarm]


def after_use(department: Department, at: datetime, on: date, line: Line | None) -> AfterUse:
    """Return where everything is after a use, of one line or of all."""
    held = [
        s for s in standing_of_department(department, at, at).items
        if s.line and (line is None or s.line.pk == line.pk) and s.state not in ("disposed", "absent")
    ]  # fmt: skip
    due = [check for check in queries.due([s.item for s in held], on) if check.why == "after use"]
    names = procedures(department, on)
    checks: dict[int, tuple[Item, list[CheckRow]]] = {}
    for check in due:
        row = CheckRow(
            check.check_key,
            check_name(names.get(check.check_key), check.check_key),
            check,
            check.due_on,
            check.why,
            on=on,
        )
        checks.setdefault(check.item.pk, (check.item, []))[1].append(row)
    containers = list(Place.objects.filter(department=department, sort=Place.Sort.CONTAINER))
    return AfterUse(
        wet_clock(department, at, at, line), list(checks.values()), containers, runs_out(department, at, at)
    )


def waiting(department: Department, at: datetime) -> dict[str, int]:
    """Return how much is wet, drying and in quarantine, and how much of it lies packed wet too long."""
    clocks = wet_clock(department, at, at)
    return {
        "wet": sum(c.state == "wet" for c in clocks),
        "drying": sum(c.state == "drying" for c in clocks),
        "quarantine": sum(c.state == "quarantine" for c in clocks),
        "alarms": sum(c.is_alarm for c in clocks),
    }


# Drills --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Curve:
    """One measured time over the drills, drawn."""

    name: str
    drawing: SafeString
    first_min: float
    last_min: float


def curves(rows: Sequence[DrillRow]) -> list[Curve]:
    """Return the set-up curve: minutes to the first person, to standing, to warm water, where drills took them."""
    wanted = (
        ("Order to first person", [(r.inspection.happened_at, r.first_s) for r in rows]),
        ("Order to shelter standing", [(r.inspection.happened_at, r.erect_s) for r in rows]),
        ("Order to water at temperature", [(r.inspection.happened_at, r.water_s) for r in rows]),
    )
    found = []
    for name, points in wanted:
        taken = [(at, seconds / 60.0) for at, seconds in points if seconds is not None]
        if len(taken) > 1:
            found.append(Curve(name, charts.curve([v for _, v in taken]), taken[0][1], taken[-1][1]))
    return found
