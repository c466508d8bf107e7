"""Runs as they stand: which lines are out, one run's sheet, what was aboard when it left, what did not come back."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from inspections.models import HandReceipt, Inspection, Run, RunEvent
from inspections.runs import ORDERED, PERSON, STAMPS, UNDONE, Takt, Tap, drill_values, takts
from inventory.models import Item, Line, Lot, Place
from inventory.queries import load_list, seals, standing
from shared.models import Department

GONE = frozenset({"disposed", "absent"})
Json = dict[str, Any]


def runs_of(department: Department) -> QuerySet[Run]:
    """Return every run that no later row corrects, newest first, with whether it is back and how many came through."""
    back = HandReceipt.objects.filter(run=OuterRef("pk"), way=HandReceipt.Way.RECEIVED, corrections=None)
    people = Count("events", filter=Q(events__event=PERSON, events__corrections=None))
    rows = Run.objects.filter(department=department, corrections=None).select_related("line")
    return rows.annotate(is_back=Exists(back), people=people).order_by("-happened_at", "-pk")


def runs_out(department: Department, at: datetime, known_at: datetime) -> dict[int, Run]:
    """Return by line id the run that a line is out on; a line that came back is on none."""
    back = HandReceipt.objects.as_of(at, known_at).filter(run=OuterRef("pk"), way=HandReceipt.Way.RECEIVED)
    rows = Run.objects.as_of(at, known_at).filter(department=department).exclude(Exists(back))
    return {run.line_id: run for run in rows.order_by("happened_at", "pk")}


@dataclass(frozen=True)
class RunSheet:
    """One run with all that was put on its sheet and was not undone."""

    run: Run
    events: list[RunEvent]
    receipts: list[HandReceipt]

    @property
    def ordered(self) -> datetime:
        """Return when the clock started: as corrected, else when the run was opened."""
        return next((e.happened_at for e in reversed(self.events) if e.event == ORDERED), self.run.happened_at)

    @cached_property
    def stamps(self) -> dict[str, RunEvent]:
        """Return the first standing row of each stamp, in the order of the clock."""
        found = {e.event: e for e in reversed(self.events) if e.event in STAMPS}
        return {key: found[key] for key in STAMPS if key in found}

    @cached_property
    def stamped(self) -> dict[str, datetime]:
        return {key: event.happened_at for key, event in self.stamps.items()}

    @cached_property
    def people(self) -> list[RunEvent]:
        return [e for e in self.events if e.event == PERSON]

    @cached_property
    def taps(self) -> list[Tap]:
        return [Tap(e.happened_at, e.lane or 1, e.walking is not False) for e in self.people]

    @cached_property
    def takts(self) -> dict[tuple[int, bool], Takt]:
        return takts(self.taps)

    @property
    def values(self) -> dict[str, str]:
        """Return what the clock measured, as the set-up drill takes it."""
        return drill_values(self.ordered, self.stamped, self.taps)

    def of(self, event: str) -> list[RunEvent]:
        return [e for e in self.events if e.event == event]

    @property
    def operators(self) -> list[str]:
        return list(dict.fromkeys(e.text for e in self.of("operator")))

    def receipt(self, way: str) -> HandReceipt | None:
        return next((r for r in reversed(self.receipts) if r.way == way), None)

    @property
    def sent(self) -> HandReceipt | None:
        return self.receipt(HandReceipt.Way.SENT)

    @property
    def received(self) -> HandReceipt | None:
        return self.receipt(HandReceipt.Way.RECEIVED)

    @property
    def is_back(self) -> bool:
        return self.received is not None


def run_sheet(run: Run, at: datetime, known_at: datetime) -> RunSheet:
    """Return a run's sheet as of an instant, as known at another: corrected and undone rows are left out."""
    events = RunEvent.objects.as_of(at, known_at).filter(run=run).exclude(event=UNDONE)
    receipts = HandReceipt.objects.as_of(at, known_at).filter(run=run)
    order = ("happened_at", "recorded_at", "pk")
    return RunSheet(
        run,
        list(events.select_related("item", "lot").order_by(*order)),
        list(receipts.order_by(*order)),
    )


def drill_id(run: Run) -> uuid.UUID:
    """Return the id under which a run's times are first recorded as a set-up drill."""
    return uuid.uuid5(run.client_id, "drill")


def drill_of(run: Run) -> Inspection | None:
    """Return the set-up drill that a run's times were recorded as, in its newest correction."""
    row = Inspection.objects.filter(department_id=run.department_id, client_id=drill_id(run)).first()
    while row is not None and (newer := row.corrections.first()) is not None:
        row = newer
    return row


# What is aboard ------------------------------------------------------------------------------------------------------


def load_aboard(line: Line, at: datetime, known_at: datetime) -> list[Json]:
    """Return what is aboard a line and what of its load list is not: the rows of a hand receipt."""
    whole = standing(line, at, known_at)
    items = [s for s in whole.items if s.state not in GONE]
    lots = [s for s in whole.lots if s.on_hand]
    rows: list[Json] = [
        {
            "item": s.item.pk, "tag": s.item.tag, "name": s.item.name, "kind": s.item.kind.name,
            "serial": s.item.serial, "quantity": s.quantity, "state": s.state,
        }
        for s in items
    ]  # fmt: skip
    rows += [
        {"lot": s.lot.pk, "tag": s.lot.number, "name": s.lot.name, "kind": s.lot.kind.name, "quantity": s.on_hand}
        for s in lots
    ]
    held: dict[int, int] = {}
    for s in items:
        held[s.item.kind_id] = held.get(s.item.kind_id, 0) + s.quantity
    for one in lots:
        held[one.lot.kind_id] = held.get(one.lot.kind_id, 0) + one.on_hand
    wanted: dict[int, int] = {}
    names: dict[int, str] = {}
    for row in load_list(line, at.date()):
        wanted[row.kind_id] = wanted.get(row.kind_id, 0) + row.quantity
        names[row.kind_id] = row.kind.name
    rows += [
        {"name": names[kind], "missing": quantity - held.get(kind, 0), "quantity": held.get(kind, 0)}
        for kind, quantity in wanted.items()
        if quantity > held.get(kind, 0)
    ]
    return rows


def seals_aboard(line: Line, at: datetime, known_at: datetime) -> list[Json]:
    """Return the seals on the containers that a line's things stand in."""
    whole = standing(line, at, known_at)
    around = {place.pk for s in (*whole.items, *whole.lots) if s.place for place in _outward(s.place)}
    names = dict(Place.objects.filter(department=line.department).values_list("pk", "name"))
    found = seals(line.department, at, known_at)
    return [
        {"place": names[pk], "number": held.number, "doubt": held.doubt} for pk, held in found.items() if pk in around
    ]


def _outward(place: Place | None) -> Iterable[Place]:
    seen: set[int] = set()
    while place is not None and place.pk not in seen:
        seen.add(place.pk)
        yield place
        place = place.within


# What did not come back ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Loss:
    """So many of an item or lot that left with a run and did not come back with it."""

    tag: str
    name: str
    quantity: int
    unit_cost: Decimal | None
    item: Item | None = None
    lot: Lot | None = None

    @property
    def cost(self) -> Decimal | None:
        return None if self.unit_cost is None else self.unit_cost * self.quantity


@dataclass(frozen=True)
class LossList:
    """What a run lost, with what it costs to replace; what has no price on record is said to have none."""

    rows: list[Loss] = field(default_factory=list)

    @property
    def cost(self) -> Decimal:
        return sum((row.cost for row in self.rows if row.cost is not None), Decimal(0))

    @property
    def unpriced(self) -> list[Loss]:
        return [row for row in self.rows if row.cost is None]


def losses_of(sheet: RunSheet) -> LossList:
    """Return what the run lost, as its sheet says."""
    rows = [
        Loss(
            tag=thing.tag if event.item else thing.number,
            name=thing.name,
            quantity=int(event.number or 0),
            unit_cost=thing.unit_cost,
            item=event.item,
            lot=event.lot,
        )
        for event in sheet.of("lost")
        if (thing := event.item or event.lot)
    ]
    return LossList(rows)


def expected_back(sheet: RunSheet) -> tuple[list[Json], list[Json]]:
    """Return the rows of the receipt it left with that should come back: items, and lots less what was used."""
    sent = sheet.sent
    load: Sequence[Mapping[str, Any]] = sent.load if sent else ()
    used: dict[int, float] = {}
    for event in sheet.of("used"):
        if event.lot_id:
            used[event.lot_id] = used.get(event.lot_id, 0) + (event.number or 0)
    items = [dict(row) for row in load if row.get("item")]
    lots = [
        {
            **row,
            "used": int(used.get(row["lot"], 0)),
            "expected": max(0, int(row["quantity"] - used.get(row["lot"], 0))),
        }
        for row in load
        if row.get("lot")
    ]
    return items, lots


# Drills over time ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DrillRow:
    """What one set-up drill of a line measured. Seconds; None where it was not taken."""

    inspection: Inspection
    erect_s: float | None
    water_s: float | None
    first_s: float | None
    takt_s: float | None
    nonwalking_s: float | None
    handover_s: float | None


_MEASURED = ("setup_erect_s", "water_warm_s", "first_person_s", "takt_s", "nonwalking_takt_s", "handover_s")


def drills(line: Line, at: datetime, known_at: datetime) -> list[DrillRow]:
    """Return every set-up drill of a line that measured something, oldest first; void ones measure nothing."""
    rows = Inspection.objects.as_of(at, known_at).filter(department=line.department, line=line, check_key="setup")
    rows = rows.exclude(verdict=Inspection.Verdict.VOID).exclude(measured={})
    return [
        DrillRow(row, *(row.measured[name]["value"] if name in row.measured else None for name in _MEASURED))
        for row in rows.order_by("happened_at", "pk")
    ]


def handovers(lines: Sequence[Line], at: datetime, known_at: datetime) -> dict[int, float]:
    """Return by line id the hand-over that its newest drill measured. [min]"""
    if not lines:
        return {}
    rows = Inspection.objects.as_of(at, known_at).filter(
        department_id=lines[0].department_id, line__in=[line.pk for line in lines], check_key="setup"
    )
    rows = rows.exclude(verdict=Inspection.Verdict.VOID).exclude(measured={}).order_by("happened_at", "pk")
    return {
        line: measured["handover_s"]["value"] / 60.0
        for line, measured in rows.values_list("line_id", "measured")
        if "handover_s" in measured
    }
