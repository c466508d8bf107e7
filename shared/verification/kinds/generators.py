"""Check values of generators, their fuel and their cords."""

from typing import Any

from shared.formulas import generators
from shared.units import from_si, to_si
from shared.verification.kinds.dates import needed
from shared.verification.kinds.electric import temperature
from shared.verification.registry import Case, kind, si


@kind(generators.fuel_hours, generators.fuel_burn)
def generator_table(case: Case) -> Case:
    burns = [to_si(float(gph), "gal/h") for gph in case["table_gph"]]
    table = sorted(zip(case["table_load_fraction"], burns, strict=True))
    load = case["load_fraction"]
    burn = generators.fuel_burn(load, table)
    hours = generators.fuel_hours(si(case, "fuel_gal", "gal"), load, table, case.get("reserve_pct", 0) / 100)
    return {"gph": from_si(burn.m3_s, "gal/h"), "hours": hours, "held": burn.held}


@kind(generators.burn_from_efficiency_m3_s, generators.fuel_hours)
def generator_energy(case: Case) -> Case:
    burn = generators.burn_from_efficiency_m3_s(
        si(case, "load_kw", "kW"),
        si(case, "efficiency_pct", "percent"),
        si(case, "fuel_btu_per_gal", "BTU/gal"),
    )
    hours = generators.fuel_hours(si(case, "fuel_gal", "gal"), 1.0, [(1.0, burn)], case.get("reserve_pct", 0) / 100)
    return {"gph": from_si(burn, "gal/h"), "hours": hours}


def _load(load: Case) -> generators.Load:
    running = load["running_w"]
    starting = load["starting_w"] if "starting_w" in load else generators.starting_load_w(running, load["factor"])
    return generators.Load(load.get("name", ""), running, starting)


@kind(generators.load_sum, generators.carries, generators.starting_load_w)
def generator_load(case: Case) -> Case:
    found = generators.load_sum([_load(load) for load in case["loads"]])
    given: Case = {**found._asdict(), "order": list(found.order)}
    if "rated_w" in case:
        rated_w = float(case["rated_w"])
        fits = generators.carries(found, rated_w, float(case.get("surge_w", rated_w)))
        given |= dict(zip(("steady", "starts_in_order", "starts_in_any_order"), fits, strict=True))
    return given


@kind(generators.fuel_age)
def fuel_age(case: Case) -> Case:
    found = generators.fuel_age(case["fuel"], needed(case, "bought_date"), needed(case, "as_of_date"))
    return {"months": found.months, "state": found.state}


def _gauge(told: Any) -> int:
    """Give a gauge as a number: 12 as it is, "2/0" as -1."""
    number, _, zeros = str(told).partition("/")
    return 1 - int(number) if zeros == "0" else int(number)


@kind(generators.wire_ohm_m, generators.wire_diameter_m)
def wire_resistance(case: Case) -> Case:
    gauge, lay = _gauge(case["awg"]), case.get("lay", 1.0)
    return {
        "ohm_per_kft": generators.wire_ohm_m(gauge, temperature(case, "t"), lay) * to_si(1000.0, "ft"),
        "diameter_in": from_si(generators.wire_diameter_m(gauge), "in"),
    }


@kind(generators.cord_drop_v)
def cord_drop(case: Case) -> Case:
    gauge, length = _gauge(case["awg"]), si(case, "length_ft", "ft")
    lay = case.get("lay", generators.STRANDED)
    drop = generators.cord_drop_v(case["current_a"], gauge, length, temperature(case, "t"), lay)
    given = {"drop_v": drop}
    if "volts" in case:
        given |= {"drop_pct": 100 * drop / case["volts"], "end_v": case["volts"] - drop}
    return given
