"""Check values of water heating."""

from shared.formulas import heat
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si


@kind(heat.heat_output_w)
def heat_rate_500(case: Case) -> Case:
    found = heat.heat_output_w(si(case, "flow_gpm", "gpm"), si(case, "rise_degF", "ddegF"))
    return {"btu_per_h": from_si(found, "BTU/h")}


@kind(heat.heat_output_w, heat.heater_efficiency)
def heater_efficiency(case: Case) -> Case:
    rise = to_si(float(case["t_out_degF"] - case["t_in_degF"]), "ddegF")
    found = heat.heater_efficiency(
        heat.heat_output_w(si(case, "flow_gpm", "gpm"), rise),
        si(case, "fuel_lb", "lb"),
        si(case, "minutes", "min"),
        si(case, "fuel_btu_per_lb", "BTU/lb"),
    )
    return {"efficiency_pct": 100 * found}


@kind(heat.flow_limit)
def max_flow(case: Case) -> Case:
    output = si(case, "input_btu_per_h", "BTU/h") * si(case, "efficiency_pct", "percent")
    rise = to_si(float(case["t_out_degF"] - case["t_in_degF"]), "ddegF")
    found = heat.flow_limit(output, rise, si(case, "flow_cap_gpm", "gpm"))
    return {"flow_gpm": from_si(found.flow_m3_s, "gpm"), "limited_by": found.by.replace(" ", "_")}


@kind(heat.hot_share)
def mix(case: Case) -> Case:
    share = heat.hot_share(*(si(case, key, "degF") for key in ("t_hot_degF", "t_cold_degF", "t_set_degF")))
    total = case["total_gpm"]
    return {"hot_fraction": share, "hot_gpm": share * total, "cold_gpm": (1 - share) * total}
