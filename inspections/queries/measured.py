"""The quantities that capacities rest on: the newest reading that shows each, and whether it is still trusted."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from inspections import schedule
from inspections.models import Inspection, Upkeep
from inspections.queries.ledgers import Rules, corrected_inspections
from inventory.models import Item
from shared.units import to_si

# The mode whose interval says how long a quantity is trusted.
MODE_OF = {
    "heater_output_w": "WH3",
    "heater_efficiency": "WH3",
    "hose_loss_k": "WH3",
    "pump_flow_m3_s": "SP3",
    "propane_kg": "LP1",
    "stand_s": "SH1",
    "air_pressure_pa": "AC1",
    "battery_soc": "BA1",
    "generator_w": "GN2",
    "injector_ratio": "IJ2",
}
CONTENTS = frozenset({"propane_kg", "air_pressure_pa"})  # what use and filling change


@dataclass(frozen=True, slots=True)
class MeasuredOf:
    """One measured quantity, SI, named as in ``readiness.rating.facts.Item``.

    Attributes:
        at_least: the test showed a lower bound only.
        stale: past its interval, or its contents were used or filled since and not measured again.
    """

    value: float
    on: date
    inspection: str
    at_least: bool = False
    stale: bool = False


@dataclass(frozen=True, slots=True)
class _Held:
    at: datetime
    of: MeasuredOf


def measured(items: Sequence[Item], at: datetime, known_at: datetime) -> dict[int, dict[str, MeasuredOf]]:
    """Return by item id and name what was measured by an instant, as known at another; void checks measure nothing.

    A lower bound does not lower what an earlier run measured: it stands only where nothing was measured, or where it
    lies above what was. A filled cylinder holds what it was filled to, unproven until weighed.
    """
    if not items:
        return {}
    department = items[0].department
    zone = ZoneInfo(department.time_zone)
    rules = Rules(department, at.astimezone(zone).date())
    kinds = {item.pk: item.kind.key for item in items}
    held: dict[int, dict[str, _Held]] = defaultdict(dict)
    for pk, when, readings, ref in _inspections(items, at, known_at):
        for name, one in readings.items():
            of = MeasuredOf(
                one["value"], when.astimezone(zone).date(), str(ref), bool(one.get("at_least")), stale=False
            )
            before = held[pk].get(name)
            if before is None or not _bound_below(of, before.of):
                held[pk][name] = _Held(when, of)
    _contents(held, items, at, known_at, zone)
    return {
        pk: {name: _judged(name, one, kinds[pk], rules, at) for name, one in names.items()}
        for pk, names in held.items()
    }


def _inspections(items: Sequence[Item], at: datetime, known_at: datetime) -> Iterable[tuple]:
    corrected = corrected_inspections(items[0].department, known_at)
    rows = (
        Inspection.objects.filter(
            department=items[0].department,
            item__in=[item.pk for item in items],
            happened_at__lte=at,
            recorded_at__lte=known_at,
        )
        .exclude(verdict=Inspection.Verdict.VOID)
        .exclude(measured={})
        .order_by("happened_at", "pk")
    )
    for pk, item, when, readings, ref in rows.values_list("pk", "item_id", "happened_at", "measured", "client_id"):
        if pk not in corrected:
            yield item, when, readings, ref


def _bound_below(new: MeasuredOf, standing: MeasuredOf) -> bool:
    """Return whether a new lower bound says nothing beyond what stands."""
    return new.at_least and not standing.at_least and new.value <= standing.value


def _contents(
    held: dict[int, dict[str, _Held]], items: Sequence[Item], at: datetime, known_at: datetime, zone: ZoneInfo
) -> None:
    """Lay uses and refills since the last weighing over it."""
    rows = Upkeep.objects.as_of(at, known_at).filter(
        department=items[0].department, item__in=[item.pk for item in items]
    )
    fields = ("item_id", "happened_at", "sort", "to_lb", "client_id")
    for item, when, sort, to_lb, ref in rows.order_by("happened_at", "pk").values_list(*fields):
        names = held[item]
        for name in CONTENTS & names.keys():
            if names[name].at < when:
                names[name] = replace(names[name], of=replace(names[name].of, stale=True))
        if sort == Upkeep.Sort.REFILLED and to_lb is not None:
            before = names.get("propane_kg")
            if before is None or before.at < when:
                filled = MeasuredOf(float(to_si(to_lb, "lb")), when.astimezone(zone).date(), str(ref), stale=True)
                names["propane_kg"] = _Held(when, filled)


def _judged(name: str, held: _Held, kind_key: str, rules: Rules, at: datetime) -> MeasuredOf:
    code = MODE_OF.get(name)
    if code is None or held.of.stale:
        return held.of
    rule = rules.rule(kind_key, code)
    until = schedule.stale_at(held.at, rule.months, rule.grace_days)
    return replace(held.of, stale=until is not None and at > until)
