"""Meters: their smallest steps, what they were off by when last held against a reference, and what rests on them.

A meter counts for as long as its newest calibration of a quantity is accepted and not past its day. One that is past
it, or was rejected, is recorded and proves nothing. One that was never calibrated is named so and counts: nothing is
known against it.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, Literal
from zoneinfo import ZoneInfo

from django.db.models import Q

from inspections.models import Calibration, Inspection, Reading
from inspections.queries.ledgers import corrected_inspections
from inventory.models import Item
from shared.models import Department

# The units that a meter of each quantity reads in, as procedures name them.
QUANTITIES: Final[Mapping[str, frozenset[str]]] = {
    "pressure": frozenset({"psi"}),
    "temperature": frozenset({"degF"}),
    "mass": frozenset({"lb"}),
    "voltage": frozenset({"V"}),
    "current": frozenset({"A"}),
    "resistance": frozenset({"ohm"}),
    "frequency": frozenset({"Hz"}),
    "power": frozenset({"W"}),
    "carbon monoxide": frozenset({"ppm"}),
    "volume": frozenset({"gal", "mL", "mL/min", "gpm"}),
    "time": frozenset({"s", "min"}),
    "length": frozenset({"in", "ft"}),
}
STEPS: Final[Mapping[str, str]] = {
    "gauge_psi": "pressure",
    "scale_lb": "mass",
    "therm_degF": "temperature",
    "volt_v": "voltage",
    "co_ppm": "carbon monoxide",
}
METER_KIND: Final = "meters"
SOON_DAYS: Final = 30  # a calibration due within so many days is said to be due soon

Word = Literal["trusted", "due soon", "overdue", "rejected", "never calibrated"]


@dataclass(frozen=True, slots=True)
class Meter:
    """One meter as it stood at an instant.

    Attributes:
        item: the thing itself.
        steps: its smallest steps by the plate's keys (gauge_psi, scale_lb, therm_degF, volt_v, co_ppm).
        newest: its newest calibration of each quantity by then.
    """

    item: Item
    steps: Mapping[str, float] = field(default_factory=dict)
    newest: Mapping[str, Calibration] = field(default_factory=dict)

    @property
    def quantities(self) -> list[str]:
        """Return what it reads, as far as its plate or its calibrations say."""
        return list(dict.fromkeys([*(STEPS[key] for key in self.steps), *self.newest]))

    def step_of(self, quantity: str) -> tuple[float, str] | None:
        """Return the smallest step it reads a quantity to, with its unit; a step of temperature is a difference."""
        units = {"gauge_psi": "psi", "scale_lb": "lb", "therm_degF": "ddegF", "volt_v": "V", "co_ppm": "ppm"}
        return next(((step, units[key]) for key, step in self.steps.items() if STEPS[key] == quantity), None)

    def word(self, quantity: str, on: date) -> Word:
        """Return how a quantity stands on a day."""
        row = self.newest.get(quantity)
        if row is None:
            return "never calibrated"
        if not row.accepted:
            return "rejected"
        if row.due_on < on:
            return "overdue"
        return "due soon" if (row.due_on - on).days <= SOON_DAYS else "trusted"

    def doubt(self, units: Collection[str], on: date) -> str:
        """Return why what it read in these units proves nothing; empty where nothing is known against it."""
        for quantity, row in self.newest.items():
            if QUANTITIES.get(quantity, frozenset()).isdisjoint(units):
                continue
            if not row.accepted:
                return f"{self.item.tag} was rejected for {quantity}{_error(row)}."
            if row.due_on < on:
                return f"{self.item.tag} was due for calibration ({quantity}) on {row.due_on:%d %B %Y}."
        return ""

    def notes(self, units: Collection[str]) -> list[str]:
        """Return what else the record says of it. An error found is stated and not taken off the reading."""
        if not self.newest:
            return [f"{self.item.tag} was never calibrated, as far as the record goes."]
        known = [row for q, row in self.newest.items() if row.accepted and not QUANTITIES[q].isdisjoint(units)]
        return [
            f"{self.item.tag}{_error(row)} when last calibrated; the reading stands as it was read."
            for row in known
            if row.error
        ]


def _error(row: Calibration) -> str:
    if not row.error:
        return ""
    return f" read {abs(row.error):g} {row.unit} {'high' if row.error > 0 else 'low'}".replace("  ", " ")


def tags_in(text: str) -> list[str]:
    """Return the tags that somebody named as meters: one, or several with commas between."""
    return [tag for part in re.split(r"[,;+]|\band\b", text) if (tag := part.strip())]


def instrument_of(department: Department, tag: str, at: datetime) -> Meter | None:
    """Return one meter by its tag as it stood at an instant, None where the cache holds no such tag."""
    item = Item.objects.filter(department=department, tag__iexact=tag).select_related("kind").first()
    return None if item is None else _meters([item], at)[0]


def instruments(department: Department, at: datetime) -> list[Meter]:
    """Return every meter of a department: of the kind, with a step on its plate, or ever calibrated."""
    return _meters(meters_of(department), at)


def meters_of(department: Department) -> list[Item]:
    """Return the things of a department that measure, by tag."""
    calibrated = Calibration.objects.filter(department=department).values("item_id")
    plate = Q()
    for key in STEPS:
        plate |= Q(spec__has_key=key)
    rows = Item.objects.filter(Q(kind__key=METER_KIND) | Q(pk__in=calibrated) | plate, department=department)
    return list(rows.select_related("kind").order_by("tag"))


def is_meter(item: Item) -> bool:
    """Return whether a thing measures: by its kind, or by a smallest step on its plate."""
    return item.kind.key == METER_KIND or any(item.spec.get(key) for key in STEPS)


def _meters(items: Sequence[Item], at: datetime) -> list[Meter]:
    newest: dict[int, dict[str, Calibration]] = defaultdict(dict)
    rows = Calibration.objects.filter(item__in=[item.pk for item in items], happened_at__lte=at, corrections=None)
    for row in rows.order_by("happened_at", "pk"):
        newest[row.item_id][row.quantity] = row
    return [Meter(item, _steps(item), newest[item.pk]) for item in items]


def _steps(item: Item) -> dict[str, float]:
    return {key: float(item.spec[key]) for key in STEPS if item.spec.get(key)}


@dataclass(frozen=True, slots=True)
class Questioned:
    """One record that rests on a meter which was later rejected."""

    inspection: Inspection
    entered: str  # what was read in the quantity, as it was written


def in_question(calibration: Calibration) -> list[Questioned]:
    """Return the records that a rejected calibration puts in question: since the last good one of that quantity.

    Void records and corrected ones rest on nothing; an accepted calibration questions nothing.
    """
    if calibration.accepted:
        return []
    good = Calibration.objects.filter(
        item=calibration.item_id,
        quantity=calibration.quantity,
        accepted=True,
        happened_at__lt=calibration.happened_at,
        corrections=None,
    ).order_by("-happened_at", "-pk")
    since = good.values_list("happened_at", flat=True).first()
    named = Reading.objects.filter(
        inspection__department=calibration.department_id,
        inspection__happened_at__lte=calibration.happened_at,
        key="instrument",
        text__icontains=calibration.item.tag,
    )
    if since is not None:
        named = named.filter(inspection__happened_at__gte=since)
    tag = calibration.item.tag.casefold()
    ids = [pk for pk, text in named.values_list("inspection_id", "text") if tag in map(str.casefold, tags_in(text))]
    return _questioned(calibration, ids)


def _questioned(calibration: Calibration, ids: Collection[int]) -> list[Questioned]:
    units = QUANTITIES.get(calibration.quantity, frozenset())
    corrected = corrected_inspections(calibration.department, datetime.max.replace(tzinfo=ZoneInfo("UTC")))
    rows = Inspection.objects.filter(pk__in=ids).exclude(verdict=Inspection.Verdict.VOID)
    found = []
    for row in (
        rows.select_related("item", "lot", "line", "procedure").prefetch_related("readings").order_by("happened_at")
    ):
        said = [f"{r.as_entered} {r.unit}" for r in row.readings.all() if r.unit in units]
        if said and row.pk not in corrected:
            found.append(Questioned(row, ", ".join(said)))
    return found
