"""Check values of propane."""

from shared.formulas import air, manifold, propane
from shared.units import from_si, to_si
from shared.verification.kinds.air import hours
from shared.verification.registry import Case, kind, reaches, si

PER_AREA = to_si(1.0, "BTU/h") / (to_si(1.0, "ft2") * to_si(1.0, "ddegF"))


@kind(propane.held_kg, propane.fuel_energy_j, propane.burn_time_s)
def cylinder_burn(case: Case) -> Case:
    fuel = propane.held_kg(si(case, "gross_lb", "lb"), si(case, "tare_lb", "lb"))
    value = si(case, "btu_per_lb", "BTU/lb")
    time = propane.burn_time_s(fuel, si(case, "load_btu_per_h", "BTU/h"), value)
    return {
        "fuel_lb": from_si(fuel, "lb"),
        "energy_btu": from_si(propane.fuel_energy_j(fuel, value), "BTU"),
        "hours": from_si(time, "h"),
    }


@kind(propane.saturation_pressure_pa)
def propane_psat(case: Case) -> Case:
    found = from_si(propane.saturation_pressure_pa(si(case, "t_degF", "degF")), "psia")
    return {"psia": found, "psig": found - case["baro_psia"]}


@kind(propane.saturation_temperature_k)
def propane_tsat(case: Case) -> Case:
    found = propane.saturation_temperature_k(si(case, "p_psig", "psig") + si(case, "baro_psia", "psia"))
    return {"t_degF": from_si(found, "degF")}


@kind(propane.latent_heat_j_kg)
def propane_latent(case: Case) -> Case:
    return {"btu_per_lb": from_si(propane.latent_heat_j_kg(si(case, "t_degF", "degF")), "BTU/lb")}


@kind(propane.vapour_rate_w)
def vapor_table_100lb(case: Case) -> Case:
    rate = propane.vapour_rate_w(si(case, "fuel_lb", "lb"), si(case, "t_degF", "degF"), to_si(100.0, "lb"))
    found = from_si(rate, "BTU/h")
    return {"max_btu_per_h": found, "sustains": reaches(found, case["load_btu_per_h"])}


@kind(propane.heat_balance_w)
def vapor_heat_balance(case: Case) -> Case:
    found = propane.heat_balance_w(
        case["u_btu_per_h_ft2_degF"] * PER_AREA,
        si(case, "wetted_area_ft2", "ft2"),
        si(case, "t_ambient_degF", "degF"),
        si(case, "t_liquid_degF", "degF"),
        si(case, "latent_btu_per_lb", "BTU/lb"),
        si(case, "btu_per_lb", "BTU/lb"),
    )
    return {"max_btu_per_h": from_si(found, "BTU/h")}


@kind(propane.burn_kg)
def fuel_burned(case: Case) -> Case:
    found = propane.burn_kg(
        si(case, "load_btu_per_h", "BTU/h"), si(case, "hours", "h"), si(case, "btu_per_lb", "BTU/lb")
    )
    return {"fuel_lb": from_si(found, "lb")}


@kind(propane.fuel_energy_j)
def fuel_energy(case: Case) -> Case:
    found = from_si(propane.fuel_energy_j(si(case, "gallons", "gal"), si(case, "btu_per_gal", "BTU/gal")), "BTU")
    each = float(case["btu_per_kwh"])
    if not each > 0:
        raise ValueError(f"btu_per_kwh must be above 0 BTU, got {each!r}")
    return {"btu": found, "kwh": found / each}


@kind(propane.vapour_volume_m3, propane.fuel_energy_j)
def fuel_vapor(case: Case) -> Case:
    per_weight = si(case, "ft3_per_lb", "ft3") / to_si(1.0, "lb")
    volume = propane.vapour_volume_m3(si(case, "fuel_lb", "lb"), per_weight)
    value = si(case, "btu_per_ft3", "BTU") / to_si(1.0, "ft3")
    return {"vapor_ft3": from_si(volume, "ft3"), "btu": from_si(propane.fuel_energy_j(volume, value), "BTU")}


@kind(propane.fill_limit_m3)
def lp_fill_limit(case: Case) -> Case:
    holds = si(case, "water_capacity_gal", "gal")
    density = si(case, "filling_density_pct", "percent")
    most = propane.fill_limit_m3(holds, density, case["sg_60F"], case["temp_factor"])
    return {"max_gal": from_si(most, "gal"), "max_pct": 100 * most / holds}


@kind(propane.fill_limit_kg)
def lp_fill_weight(case: Case) -> Case:
    most = propane.fill_limit_kg(si(case, "water_capacity_lb", "lb"), si(case, "filling_density_pct", "percent"))
    return {"max_fuel_lb": from_si(most, "lb")}


@kind(propane.cylinder_gauge_pa)
def cylinder_gauge(case: Case) -> Case:
    found = propane.cylinder_gauge_pa(si(case, "t_degF", "degF"), si(case, "baro_psia", "psia"))
    return {"psig": from_si(found, "psig")}


@kind(propane.wetted_m2)
def wetted_wall(case: Case) -> Case:
    return {"ft2": from_si(propane.wetted_m2(si(case, "fuel_lb", "lb"), si(case, "bore_in", "in")), "ft2")}


def regulator_share(case: Case) -> float:
    """Give what the regulator leaves of the chart; all of it where the case names no least inlet."""
    if "least_inlet_psig" not in case:
        return 1.0
    baro = si(case, "baro_psia", "psia") if "baro_psia" in case else air.STANDARD_ATMOSPHERE_PA
    return propane.regulator_factor(si(case, "t_degF", "degF"), si(case, "least_inlet_psig", "psig"), baro)


@kind(propane.regulator_factor)
def regulator_inlet(case: Case) -> Case:
    return {"share": regulator_share(case)}


@kind(manifold.manifold_rate_w, manifold.manifold_end, propane.vapour_rate_w)
def propane_run(case: Case) -> Case:
    """Cylinders on one manifold; water runs, and the burner draws, for a share of the time (all of it if not named)."""
    contents = [to_si(float(lb), "lb") for lb in case["contents_lb"]]
    nominal = [to_si(float(lb), "lb") for lb in case["nominal_lb"]]
    draw, factor = si(case, "load_btu_per_h", "BTU/h"), regulator_share(case)
    burn = propane.burn_kg(draw * float(case.get("wet_share", 1.0)), 1.0, si(case, "btu_per_lb", "BTU/lb"))
    at = (contents, nominal, si(case, "t_degF", "degF"))
    found = manifold.manifold_end(*at, draw, burn, factor)
    burned = min(sum(contents), burn * si(case, "hours", "h"))
    return {
        "start_btu_per_h": from_si(manifold.manifold_rate_w(*at, factor), "BTU/h"),
        "end_btu_per_h": from_si(manifold.manifold_rate_w(*at, factor, burned), "BTU/h"),
        "vapor_hours": hours(found.vapour_s),
        "fuel_hours": hours(found.fuel_s),
        "stranded_lb": from_si(found.stranded_kg, "lb"),
        "binds": found.binds,
    }


@kind(manifold.cylinders_needed)
def cylinders_needed(case: Case) -> Case:
    draw = si(case, "load_btu_per_h", "BTU/h")
    found = manifold.cylinders_needed(
        si(case, "nominal_lb", "lb"),
        si(case, "fill_lb", "lb"),
        si(case, "t_degF", "degF"),
        draw,
        propane.burn_kg(draw * float(case.get("wet_share", 1.0)), 1.0, si(case, "btu_per_lb", "BTU/lb")),
        si(case, "hours", "h"),
        regulator_share(case),
    )
    return {
        "cylinders": found.needed,
        "for_fuel": found.for_fuel,
        "at_start": found.at_start,
        "binds": found.binds,
    }
