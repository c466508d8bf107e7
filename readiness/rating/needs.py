"""What each function of the chain must carry for a mission in so many lanes, and what the line has for it."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Final

from readiness.rating import capacity
from readiness.rating.facts import Requirement
from readiness.rating.needs_heat import heat_wants
from readiness.rating.needs_power import power_wants
from readiness.rating.plan import Ask, FunctionPlan, Means, Plan, Want, WayPlan, adding, counting
from readiness.rating.words import FUNCTIONS
from shared.formulas import hydraulics, people
from shared.units import to_si

HEAD_PSI: Final = 8.0  # least at a shower head; common practice
HOSE_BORE_IN: Final = 0.625
HOSE_FT: Final = {"hose_cold": 50.0, "hose_hot": 25.0, "hose_whip": 15.0}
SOAP_RATIO: Final = 0.003  # by volume, middle of 0.1 to 0.5 percent (limits.csv, injector draw-down)
SOAP_GAL_EACH: Final = 1.0
CREW_A_LANE_MORE: Final = 2
COLD_BELOW_DEGF: Final = 40.0

# Worked out from the mission, not from the load list's numbers.
ENGINEERED: Final = frozenset(
    ("shelter", "litter", "heater", "propane", "regulator", "mixing_valve", "pump", "bladder", "berm", "generator")
    + ("fuel_can", "soap", "cloth", "towel", "kit_adult", "kit_child", "kit_xl", "blanket")
)
# Where no load list says anything of a function: the least that carries one lane, by lanes where it grows.
LEAST: Final = {
    "inflation": (("inflator", 1, "line", "a"), ("inflation_kit", 1, "line", "b"), ("air_cylinder", 2, "line", "b")),
    "anchoring": (("tie_down", 10, "line", "a"), ("ballast", 8, "line", "b")),
    "water": (
        ("hose_cold", 2, "lane", "a"),
        ("hose_whip", 1, "lane", "a"),
        ("fittings", 1, "line", "a"),
        ("backflow", 1, "line", "a"),
    ),
    "heat": (("hose_hot", 1, "lane", "a"),),
    "wash": (("injector", 1, "line", "a"), ("sprayer", 2, "line", "b")),
    "waste": (("hose_waste", 1, "lane", "a"), ("tarp", 1, "line", "a")),
    "light": (("light_strip", 1, "line", "a"), ("light_supply", 1, "line", "a")),
    "power": (("gfci", 1, "lane", "a"), ("cord", 2, "lane", "a")),
    "footing": (("grid", 10, "lane", "a"), ("mat", 1, "lane", "a")),
    "PPE": (("suit", 4, "lane", "a"), ("papr", 3, "lane", "a")),
    "signs": (("radio", 2, "line", "a"), ("signs", 1, "line", "a")),
    "crew": (("trailer", 1, "line", "a"),),
}

Row = tuple[str, float, str, str]  # kind, units needed, scales, way


def plan(means: Means, ask: Ask) -> Plan:
    """Return what every function needs and has, in the order of the chain."""
    return {name: _MAKERS[name](means, ask) for name in FUNCTIONS}


# --- the load list ----------------------------------------------------------------------------------------------


def _rows(means: Means, function: str) -> tuple[Row, ...]:
    """Return what the load list asks of a function for one use, units for ``rated_lanes`` as they stand."""
    listed = means.rows.get(function)
    if listed is None:
        listed = means.rows[function] = tuple(r for r in means.facts.requirements if r.function == function)
    if listed:
        return tuple((r.kind, r.needed, r.scales, r.way) for r in listed if _is_required(r))
    lanes = means.facts.rated_lanes
    return tuple(
        (k, n * lanes if scales == "lane" else n, scales, way) for k, n, scales, way in LEAST.get(function, ())
    )


def _is_required(row: Requirement) -> bool:
    return row.needed > 0 and not (row.scales == "person" and row.kind in ENGINEERED)


def _units(means: Means, ask: Ask, needed: float, scales: str) -> float:
    if scales == "lane":
        return math.ceil(needed * ask.lanes / max(1, means.facts.rated_lanes) - 1e-9)
    return needed * ask.people if scales == "person" else needed


def _listed(means: Means, ask: Ask, function: str, way: str = "a", main: str = "") -> tuple[list[Want], list[str]]:
    """Return (needs that the load list states for a way, kinds of it with nothing recorded)."""
    wants, missing = [], []
    for kind, needed, scales, of_way in _rows(means, function):
        if of_way != way or kind in ENGINEERED:
            continue
        if not means.is_recorded(kind):
            missing.append(kind)
            continue
        need = _units(means, ask, needed, scales)
        resource = "" if kind == main else kind.replace("_", " ")
        if kind == "battery":
            batteries = means.supplies(kind, partial(capacity.battery, air_k=means.mission.air_k))
            wants.append(adding(resource, need, "count", batteries, kind=kind))
        else:
            wants.append(counting(means, kind, need, resource))
    return wants, missing


def _function(name: str, *ways: WayPlan) -> FunctionPlan:
    """Return a function with the ways that can be judged.

    A way of which all is recorded stands on its own, and another that lacks a record is then no way at all. Where
    every way lacks something, those that lack least are judged without it, and what lacks is named.
    """
    if not ways:
        return FunctionPlan(name, (WayPlan(()),))
    best = min(ways, key=lambda way: (len(way.missing), -len(way.wants)))
    alike = tuple(way for way in ways if set(way.missing) == set(best.missing))
    recorded = not best.missing or any(not want.of_mission for want in best.wants)
    return FunctionPlan(name, alike, best.missing, recorded)


def _need_records(means: Means, *kinds: str) -> list[str]:
    return [kind for kind in kinds if not means.is_recorded(kind)]


# --- the functions ----------------------------------------------------------------------------------------------


def _shelter(means: Means, ask: Ask) -> FunctionPlan:
    missing = _need_records(means, "shelter")
    wants = []
    if not missing:
        lanes_else = means.facts.rated_lanes if len(means.evidenced.by_kind["shelter"]) == 1 else 1
        rows = means.supplies("shelter", lambda s: capacity.shelter(s, ask.seconds, lanes_else), ask.seconds)
        have = sum(row.total for row in rows)

        def lasting() -> float:
            return _stands_s(means, lanes_else, ask.lanes)

        basis = "; ".join(dict.fromkeys(row.basis for row in rows))
        wants.append(Want("", ask.lanes, have, "lanes", rows, lasting=lasting, kind="shelter", basis=basis))
    if ask.mission.non_walking_share > 0:
        missing += _need_records(means, "litter")
        if means.is_recorded("litter"):
            wants.append(counting(means, "litter", 1, "litter"))
    more, without = _listed(means, ask, "shelter")
    return _function("shelter", WayPlan((*wants, *more), missing=(*missing, *without)))


def _stands_s(means: Means, lanes_else: int, lanes: int) -> float:
    """Return for how long shelters with so many lanes stand; 0 where there are none even at first. [s]"""
    rows = means.supplies("shelter", lambda s: capacity.shelter(s, 0.0, lanes_else), 0.0)
    given, lasts = 0.0, math.inf
    for row in sorted(rows, key=lambda row: -capacity.stand_s(row)):
        if given >= lanes * capacity.CLOSE:
            break
        given += row.total
        lasts = min(lasts, capacity.stand_s(row))
    return lasts if given >= lanes * capacity.CLOSE else 0.0


def _inflation(means: Means, ask: Ask) -> FunctionPlan:
    electric, missing_a = _listed(means, ask, "inflation", "a", main="inflator")
    bottled, missing_b = _listed(means, ask, "inflation", "b", main="inflation_kit")
    ways = [WayPlan(tuple(electric), ("power",), tuple(missing_a))] if electric or missing_a else []
    if bottled or missing_b:
        ways.append(WayPlan(tuple(bottled), missing=tuple(missing_b)))
    return _function("inflation", *ways)


def _either(name: str, main_a: str, main_b: str) -> Callable[[Means, Ask], FunctionPlan]:
    """Return the maker of a function that the load list alone decides, in one way or another."""

    def make(means: Means, ask: Ask) -> FunctionPlan:
        ways = []
        for way, main in (("a", main_a), ("b", main_b)):
            wants, missing = _listed(means, ask, name, way, main)
            if wants or missing:
                ways.append(WayPlan(tuple(wants), missing=tuple(missing)))
        return _function(name, *ways)

    return make


def _water(means: Means, ask: Ask) -> FunctionPlan:
    wants, missing = _listed(means, ask, "water", main="hose_cold")
    mission = ask.mission
    flow = Want("supply flow", ask.peak_m3_s, mission.supply_m3_s, "gpm", of_mission=True, basis="of the mission")
    left, basis = _head_pa(means, ask)
    pressure = Want("head pressure", to_si(HEAD_PSI, "psi"), left, "psi", of_mission=True, basis=basis)
    return _function("water", WayPlan((*wants, flow, pressure), missing=tuple(missing)))


def _head_pa(means: Means, ask: Ask) -> tuple[float, str]:
    """Return (pressure left at a head, what it rests on): supply less rise, hose friction and injector. [Pa]"""
    mission, lanes = ask.mission, max(1, means.facts.rated_lanes)
    supply = mission.supply_pa
    regulated = _plates(means, "backflow", "set_psi")
    if regulated:
        supply = min(supply, to_si(max(regulated), "psi"))
    loss, assumed = 0.0, False
    for kind, feet in HOSE_FT.items():
        needed = next((n for f in ("water", "heat") for k, n, _, _ in _rows(means, f) if k == kind), 0.0)
        bores, lengths = _plates(means, kind, "bore_in"), _plates(means, kind, "length_ft")
        assumed = assumed or not bores
        run_m = to_si(max(lengths, default=feet), "ft") * math.ceil(needed / lanes)
        bore_m = to_si(min(bores, default=HOSE_BORE_IN), "in")
        if run_m > 0:
            loss += float(hydraulics.hazen_williams_pa(mission.lane_flow_m3_s, bore_m, run_m))
    loss += max((to_si(psi, "psi") for psi in _plates(means, "injector", "psi_drop")), default=0.0)
    left = supply - float(hydraulics.elevation_pa(mission.elevation_m)) - loss
    return left, "hose bore not recorded, 5/8 in assumed" if assumed else "friction of one lane's hose run"


def _plates(means: Means, kind: str, key: str) -> list[float]:
    found = (capacity.number(s.item, key) for s in means.evidenced.by_kind.get(kind, ()) if s.counts)
    return [value for value in found if value is not None]


def _heat(means: Means, ask: Ask) -> FunctionPlan:
    engineered = heat_wants(means, ask)
    warm = ask.head_k - ask.mission.supply_k + means.facts.hose_loss_k <= 0
    if warm:
        return FunctionPlan("heat", (WayPlan(()),))
    missing = _need_records(means, "heater", "propane", "regulator", "mixing_valve")
    wants, without = _listed(means, ask, "heat")
    return _function("heat", WayPlan((*engineered, *wants), missing=(*missing, *without)))


def _wash(means: Means, ask: Ask) -> FunctionPlan:
    common, missing = [], []
    if means.is_recorded("soap"):
        common.append(_soap(means, ask))
    else:
        missing.append("soap")
    if means.is_recorded("cloth"):
        common.append(_people(means, ask, "cloth", 1.0, "wash cloths"))
    else:
        missing.append("cloth")
    ways = []
    for way, main in (("a", "injector"), ("b", "sprayer")):
        wants, without = _listed(means, ask, "wash", way, main)
        if wants or without:
            ways.append(WayPlan((*wants, *common), missing=(*without, *missing)))
    return _function("wash", *ways)


def _soap(means: Means, ask: Ask) -> Want:
    """Soap by the injector's ratio: measured, else its plate, else 0.3 percent."""
    ratio, basis = SOAP_RATIO, "0.3 percent assumed"
    for one in means.of("injector"):
        measured, plate = one.item.measured.get("injector_ratio"), capacity.number(one.item, "ratio_pct")
        if measured is not None:
            ratio, basis = measured.value, f"ratio measured {measured.on:%Y-%m-%d}"
        elif plate is not None:
            ratio, basis = plate / 100.0, "ratio of the plate"
        else:
            continue
        break
    lots = means.lots("soap")
    have = sum(lot.on_hand * to_si(_each_gal(lot.spec.get("gal_each")), "gal") for lot in lots)
    use_m3_s = ask.average_m3_s * ratio
    return Want(
        "soap",
        use_m3_s * ask.seconds,
        have,
        "gal",
        fixed=have,
        lasting=lambda: have / use_m3_s if use_m3_s > 0 else math.inf,
        lots=lots,
        item=_names(means, "soap"),
        basis=basis,
        kind="soap",
    )


def _each_gal(value: object) -> float:
    try:
        return float(str(value)) if value not in (None, "") else SOAP_GAL_EACH
    except ValueError:
        return SOAP_GAL_EACH


def _names(means: Means, kind: str) -> str:
    return ", ".join(dict.fromkeys(lot.name for lot in means.evidenced.stocks.get(kind, ())))


def _people(means: Means, ask: Ask, kind: str, share: float, resource: str) -> Want:
    """Return a stock as the people it serves: what is on hand, over each person's use and the share who need it."""
    lots = means.lots(kind)
    have = sum(lot.on_hand / (lot.per_person or 1.0) for lot in lots) / share
    rate = ask.people_per_hour / 3600.0
    return Want(
        resource,
        ask.people,
        have,
        "people",
        fixed=have,
        lasting=lambda: have / rate if rate > 0 else math.inf,
        lots=lots,
        item=_names(means, kind),
        kind=kind,
    )


def _waste(means: Means, ask: Ask) -> FunctionPlan:
    missing = _need_records(means, "bladder", "berm", "pump")
    wants = []
    if means.is_recorded("bladder"):
        wants.append(_room(means, ask))
    if means.is_recorded("berm"):
        wants.append(counting(means, "berm", ask.lanes, "berm", "lanes"))
    if means.is_recorded("pump"):
        peak = ask.mission.lane_flow_m3_s
        pumps = means.supplies("pump", lambda s: capacity.pump(s, peak))
        wants.append(adding("pump", ask.lanes, "lanes", pumps, kind="pump"))
    listed, without = _listed(means, ask, "waste")
    return _function("waste", WayPlan((*wants, *listed), ("power",), (*missing, *without)))


def _room(means: Means, ask: Ask) -> Want:
    """Room for waste water: until a tanker comes the bladders alone, from then on what it takes as well."""
    rows = means.supplies("bladder", capacity.bladder)
    have = sum(row.total for row in rows)
    flow, mission = ask.average_m3_s, ask.mission
    need, basis, tanker_m3 = flow * ask.seconds, "", 0.0
    tanker_s = math.inf if mission.tanker_at_min is None else mission.tanker_at_min * 60.0
    if tanker_s < math.inf:
        tanker_m3 = math.inf if mission.tanker_gal is None else to_si(mission.tanker_gal, "gal")
        need = max(flow * min(tanker_s, ask.seconds), need - tanker_m3)
        takes = "all from then, assumed" if mission.tanker_gal is None else f"{mission.tanker_gal:g} gal"
        basis = f"tanker by {mission.tanker_at_min:g} min takes {takes}"

    def lasting() -> float:
        if flow <= 0:
            return math.inf
        alone = have / flow
        return alone if alone < min(tanker_s, ask.seconds) * capacity.CLOSE else (have + tanker_m3) / flow

    return Want("", need, have, "gal", rows, lasting=lasting, kind="bladder", basis=basis)


def _light(means: Means, ask: Ask) -> FunctionPlan:
    if not ask.mission.night:
        return FunctionPlan("light", (WayPlan(()),))
    wants, missing = _listed(means, ask, "light", main="light_strip")
    return _function("light", WayPlan(tuple(wants), ("power",), tuple(missing)))


def _power(means: Means, ask: Ask) -> FunctionPlan:
    strips = 0.0
    if ask.mission.night:
        strips = sum(n for kind, n, _, way in _rows(means, "light") if kind == "light_strip" and way == "a")
    wants = power_wants(means, ask, strips)
    missing = _need_records(means, "generator")
    if not any(want.resource == "fuel" for want in wants):
        missing.append("fuel_can")
    listed, without = _listed(means, ask, "power")
    return _function("power", WayPlan((*wants, *listed), missing=(*missing, *without)))


def _redress(means: Means, ask: Ask) -> FunctionPlan:
    mission = ask.mission
    shares = [
        ("towel", 1.0, ""),
        ("kit_adult", 1.0 - mission.child_share - mission.xl_share, "adult kits"),
        ("kit_child", mission.child_share, "child kits"),
        ("kit_xl", mission.xl_share, "XL kits"),
        ("blanket", 1.0 if mission.air_degF < COLD_BELOW_DEGF else 0.0, "blankets"),
    ]
    wants, missing = [], []
    for kind, share, resource in shares:
        if share <= 1e-9:
            continue
        if means.is_recorded(kind):
            wants.append(_people(means, ask, kind, share, resource))
        else:
            missing.append(kind)
    listed, without = _listed(means, ask, "redress")
    return _function("redress", WayPlan((*wants, *listed), missing=(*missing, *without)))


def _crew(means: Means, ask: Ask) -> FunctionPlan:
    facts = means.facts
    wants, missing = [], []
    if facts.crew is None:
        missing.append("people")
    else:
        on = facts.at.date()
        qualified = sum(1 for c in facts.crew if c.qualified and (c.until is None or c.until >= on))
        need = crew_needed(means, ask.lanes)
        wants.append(Want("", need, qualified, "people", fixed=qualified, basis="qualified on that day"))
    line = means.evidenced.line
    if line is not None:
        rows = (capacity.counted(line),) if line.counts and means.admits(line) else ()
        training = adding("training", 1, "count", rows, kind="line")
        # With no drill on record there is nothing that says the function exists.
        wants.append(training if facts.line_modes else replace(training, of_mission=True))
    listed, without = _listed(means, ask, "crew")
    return _function("crew", WayPlan((*wants, *listed), missing=(*missing, *without)))


def crew_needed(means: Means, lanes: int) -> int:
    """Return qualified people that so many lanes take; beyond the table two more for each lane."""
    table = means.facts.crew_needed
    return people.crew_for(lanes, table, CREW_A_LANE_MORE) if table else 0


_MAKERS: Final[dict[str, Callable[[Means, Ask], FunctionPlan]]] = {
    "shelter": _shelter,
    "inflation": _inflation,
    "anchoring": _either("anchoring", "tie_down", "ballast"),
    "water": _water,
    "heat": _heat,
    "wash": _wash,
    "waste": _waste,
    "light": _light,
    "power": _power,
    "footing": _either("footing", "grid", ""),
    "redress": _redress,
    "PPE": _either("PPE", "suit", ""),
    "signs": _either("signs", "signs", ""),
    "crew": _crew,
}
