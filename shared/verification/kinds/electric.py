"""Check values of batteries and generators."""

from shared.formulas import electric
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si


@kind(electric.charge_from_rest_voltage, electric.interpolate)
def ocv_soc(case: Case) -> Case:
    def charge_pct(volts: float) -> float:
        if tuple(case["table_v"]) == electric.FLOODED.volts:
            return 100 * electric.charge_from_rest_voltage(volts, "flooded", to_si(80.0, "degF"))
        return electric.interpolate(volts, case["table_v"], case["table_soc_pct"])

    volts, accuracy = case["ocv_v"], case["meter_accuracy_v"]
    return {
        "soc_pct": charge_pct(volts),
        "soc_low_pct": charge_pct(volts - accuracy),
        "soc_high_pct": charge_pct(volts + accuracy),
    }


@kind(electric.cold_capacity_factor)
def temp_capacity(case: Case) -> Case:
    return {"available_ah": case["rated_ah"] * electric.cold_capacity_factor(si(case, "t_degF", "degF"), "flooded")}


@kind(electric.capacity_shown)
def capacity_test(case: Case) -> Case:
    times = (si(case, "actual_min", "min"), si(case, "rated_min", "min"))
    found = 100 * electric.capacity_shown(*times, 1 / case["kt"])
    return {"capacity_pct": found, "replace": found < case["replace_below_pct"]}


@kind(electric.fuel_hours)
def generator_table(case: Case) -> Case:
    burns = [to_si(gph, "gal/h") for gph in case["table_gph"]]
    table = list(zip(case["table_load_fraction"], burns, strict=True))
    fuel, load = si(case, "fuel_gal", "gal"), case["load_fraction"]
    all_of_it = electric.fuel_hours(fuel, load, table)
    return {
        "gph": case["fuel_gal"] / all_of_it,
        "hours": electric.fuel_hours(fuel, load, table, case["reserve_pct"] / 100),
    }


@kind(electric.burn_from_efficiency_m3_s, electric.fuel_hours)
def generator_energy(case: Case) -> Case:
    burn = electric.burn_from_efficiency_m3_s(
        si(case, "load_kw", "kW"),
        si(case, "efficiency_pct", "percent"),
        si(case, "fuel_btu_per_gal", "BTU/gal"),
    )
    hours = electric.fuel_hours(si(case, "fuel_gal", "gal"), 1.0, [(1.0, burn)])
    return {"gph": from_si(burn, "gal/h"), "hours": hours}
