"""Check values of propane."""

from shared.formulas import propane
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si


@kind(propane.burn_time_s)
def cylinder_burn(case: Case) -> Case:
    fuel = si(case, "gross_lb", "lb") - si(case, "tare_lb", "lb")
    value = si(case, "btu_per_lb", "BTU/lb")
    time = propane.burn_time_s(fuel, si(case, "load_btu_per_h", "BTU/h"), value)
    return {
        "fuel_lb": from_si(fuel, "lb"),
        "energy_btu": from_si(fuel * value, "BTU"),
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
    return {"max_btu_per_h": found, "sustains": found >= case["load_btu_per_h"]}


@kind(propane.heat_balance_w)
def vapor_heat_balance(case: Case) -> Case:
    per_area = to_si(1.0, "BTU/h") / (to_si(1.0, "ft2") * to_si(1.0, "ddegF"))
    found = propane.heat_balance_w(
        case["u_btu_per_h_ft2_degF"] * per_area,
        si(case, "wetted_area_ft2", "ft2"),
        si(case, "t_ambient_degF", "degF"),
        si(case, "t_liquid_degF", "degF"),
        si(case, "latent_btu_per_lb", "BTU/lb"),
        si(case, "btu_per_lb", "BTU/lb"),
    )
    return {"max_btu_per_h": from_si(found, "BTU/h")}
