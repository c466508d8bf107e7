"""The dated readings of one item's measured quantities, each with its limit in force and the line through it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from inspections.models import Inspection, Reading, Repair, Upkeep
from inspections.quantities import BESIDE, QUANTITIES, Given, Quantity
from inspections.trending import Bound, Break, Point, Series, Trend, Void, trend_of
from inventory.models import Item, Limit
from inventory.queries import limits_for
from shared.units import to_si

MOST_RECORDS = 1000  # of one item, newest first; the line of medians takes twice as many
ROWS = ("pk", "happened_at", "check_key", "verdict", "measured", "findings", "client_id")
CORRECTED_CHECKS = frozenset(check for quantity in QUANTITIES if quantity.correct for check in quantity.checks)


@dataclass(frozen=True, slots=True)
class _Record:
    at: datetime
    check_key: str
    verdict: str
    measured: Mapping[str, Any]
    findings: Sequence[Mapping[str, Any]]
    ref: str
    beside: Mapping[str, float | str]

    def weighed(self, limit_key: str, reading: str = "", unit: str = "") -> tuple[float, str] | None:
        """Return a number that was weighed against a limit, and its unit."""
        for one in self.findings:
            value = one.get("value")
            if (
                one.get("limit_key") == limit_key
                and isinstance(value, int | float)
                and not isinstance(value, bool)
                and reading in ("", one.get("key"))
                and unit in ("", one.get("unit"))
            ):
                return float(value), str(one.get("unit") or "")
        return None


def trends(item: Item, at: datetime, known_at: datetime, only: str = "") -> list[Trend]:
    """Return every quantity that was read on an item by an instant, as known at another; corrected records left out.

    ``only`` names the one quantity that is asked for.
    """
    asked = [quantity for quantity in QUANTITIES if not only or quantity.key == only]
    records = _records(item, at, known_at)
    if not asked or not records:
        return []
    limits = limits_for(item.department, item.kind, at.astimezone(ZoneInfo(item.department.time_zone)).date())
    breaks = _breaks(item, at, known_at)
    series = (_series(quantity, item, records, limits, breaks) for quantity in asked)
    return [trend_of(one) for one in series if one is not None]


def _records(item: Item, at: datetime, known_at: datetime) -> list[_Record]:
    rows = Inspection.objects.as_of(at, known_at).filter(department=item.department, item=item)
    newest = list(rows.order_by("-happened_at", "-pk").values_list(*ROWS)[:MOST_RECORDS])
    beside = _beside([row[0] for row in newest if row[2] in CORRECTED_CHECKS])
    return [
        _Record(when, check, verdict, measured, findings, str(ref), beside.get(pk, {}))
        for pk, when, check, verdict, measured, findings, ref in reversed(newest)
    ]


def _beside(inspections: Sequence[int]) -> dict[int, dict[str, float | str]]:
    found: dict[int, dict[str, float | str]] = defaultdict(dict)
    if inspections:
        rows = Reading.objects.filter(inspection__in=inspections, key__in=BESIDE)
        for pk, key, number, text in rows.values_list("inspection_id", "key", "number", "text"):
            found[pk][key] = text if number is None else number
    return found


def _breaks(item: Item, at: datetime, known_at: datetime) -> list[Break]:
    repairs = Repair.objects.as_of(at, known_at).filter(item=item).values_list("happened_at", flat=True)
    upkeep = Upkeep.objects.as_of(at, known_at).filter(item=item).values_list("happened_at", "sort")
    words = {Upkeep.Sort.USED: "use", Upkeep.Sort.REFILLED: "refill"}
    found = [Break(when, "repair") for when in repairs] + [Break(when, words[sort]) for when, sort in upkeep]
    return sorted(found, key=lambda one: one.at)


def _series(
    quantity: Quantity,
    item: Item,
    records: Iterable[_Record],
    limits: Mapping[str, Limit],
    breaks: Iterable[Break],
) -> Series | None:
    ours = [record for record in records if record.check_key in quantity.checks]
    points = [point for record in ours if (point := _point(quantity, record, item, limits)) is not None]
    if not points:
        return None
    limit = limits.get(quantity.limit)
    reference = _reference(quantity, ours, points)
    return Series(
        quantity,
        tuple(points),
        tuple(Void(record.at, record.ref) for record in ours if record.verdict == Inspection.Verdict.VOID),
        tuple(one for one in breaks if one.what == "repair" or quantity.use_breaks),
        _bounds(quantity, limit, reference),
        reference,
        limit.origin if limit else "",
        limit.source if limit else "",
    )


def _point(quantity: Quantity, record: _Record, item: Item, limits: Mapping[str, Limit]) -> Point | None:
    if record.verdict == Inspection.Verdict.VOID:
        return None
    value, at_least = _value(quantity, record)
    if value is not None and quantity.correct is not None:
        value = quantity.correct(value, Given(record.beside, item.spec, limits))
    return None if value is None else Point(record.at, value, record.verdict, record.ref, at_least)


def _value(quantity: Quantity, record: _Record) -> tuple[float | None, bool]:
    if quantity.measured:
        one = record.measured.get(quantity.measured)
        return (None, False) if one is None else (float(one["value"]), bool(one.get("at_least")))
    found = record.weighed(quantity.limit, quantity.finding)
    return (None if found is None else float(to_si(found[0], found[1] or quantity.unit))), False


def _reference(quantity: Quantity, records: Sequence[_Record], points: Sequence[Point]) -> float | None:
    """Return what the limit is a share of: the newest value over the share that its own verdict found."""
    if not quantity.is_share:
        return None
    values = {point.ref: point for point in points}
    for record in reversed(records):
        point = values.get(record.ref)
        share = record.weighed(quantity.limit, unit="ratio")
        if point is not None and not point.at_least and share and share[0]:
            return point.value / share[0]
    return None


def _bounds(quantity: Quantity, limit: Limit | None, reference: float | None) -> tuple[Bound, ...]:
    if limit is None or (quantity.is_share and reference is None):
        return ()
    ends = ((side, limit.pass_low if side == "low" else limit.pass_high) for side in quantity.sides)
    scale = reference if reference is not None else 1.0
    return tuple(Bound(side, scale * float(to_si(end, limit.unit))) for side, end in ends if end is not None)
