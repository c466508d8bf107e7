"""Check values of water heating."""

from shared.formulas import heat
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si

LB_PER_GAL = to_si(1.0, "lb") / to_si(1.0, "gal")
BTU_PER_LB_F = to_si(1.0, "BTU/lb") / to_si(1.0, "ddegF")
PER_FOOT = to_si(1.0, "BTU/h") / (to_si(1.0, "ft") * to_si(1.0, "ddegF"))


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


@kind(heat.flow_limit, heat.flow_deliverable_m3_s)
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


@kind(heat.heat_output_exact_w, heat.water_heat_j_kg)
def heat_rate_props(case: Case) -> Case:
    cold, hot = si(case, "t_in_degF", "degF"), si(case, "t_out_degF", "degF")
    return {
        "btu_per_h": from_si(heat.heat_output_exact_w(si(case, "flow_gpm", "gpm"), cold, hot), "BTU/h"),
        "btu_per_lb": from_si(heat.water_heat_j_kg(cold, hot), "BTU/lb"),
    }


@kind(heat.water_density_kg_m3, heat.water_heat_capacity_j_kg_k)
def water_props(case: Case) -> Case:
    t = si(case, "t_degF", "degF")
    return {
        "density_lb_per_gal": heat.water_density_kg_m3(t) / LB_PER_GAL,
        "cp_btu_per_lb_degF": heat.water_heat_capacity_j_kg_k(t) / BTU_PER_LB_F,
    }


@kind(heat.batch_heat_j)
def batch_heat(case: Case) -> Case:
    found = heat.batch_heat_j(
        si(case, "volume_gal", "gal"),
        case["density_lb_per_gal"] * LB_PER_GAL,
        case["cp_btu_per_lb_degF"] * BTU_PER_LB_F,
        si(case, "rise_degF", "ddegF"),
    )
    return {"btu": from_si(found, "BTU")}


@kind(heat.head_temperature_k)
def head_temp(case: Case) -> Case:
    found = heat.head_temperature_k(
        si(case, "output_btu_per_h", "BTU/h"),
        si(case, "flow_gpm", "gpm"),
        si(case, "t_in_degF", "degF"),
        si(case, "hose_loss_degF", "ddegF"),
    )
    return {"t_head_degF": from_si(found, "degF")}


def is_southern(case: Case) -> bool:
    """Say which half of the globe a case is in; north where it says nothing."""
    found = str(case.get("hemisphere", "north")).strip().casefold()
    if found not in ("north", "south"):
        raise ValueError(f"hemisphere must be north or south, got {found!r}")
    return found == "south"


@kind(heat.supply_water_k)
def mains_temp(case: Case) -> Case:
    found = heat.supply_water_k(
        si(case, "t_annual_avg_degF", "degF"),
        si(case, "dt_monthly_range_degF", "ddegF"),
        float(case["day_of_year"]),
        southern=is_southern(case),
    )
    return {"t_mains_degF": from_si(found, "degF")}


@kind(heat.supply_water_in_month_k)
def mains_temp_month(case: Case) -> Case:
    found = heat.supply_water_in_month_k(
        si(case, "t_annual_avg_degF", "degF"),
        si(case, "dt_monthly_range_degF", "ddegF"),
        case["month"],
        southern=is_southern(case),
    )
    return {"t_mains_degF": from_si(found, "degF")}


@kind(heat.hose_conductance_w_m_k)
def hose_conductance(case: Case) -> Case:
    """In SI, as the books print it."""
    layers = zip(case["layers_m"], case["layers_w_m_k"], strict=True)
    found = heat.hose_conductance_w_m_k(case["bore_m"], list(layers), case["inside_w_m2_k"], case["outside_w_m2_k"])
    return {"w_per_m": found * (case["t_inside_degC"] - case["t_outside_degC"])}


@kind(heat.hose_outlet_k)
def hose_heat_loss(case: Case) -> Case:
    t_in = si(case, "t_in_degF", "degF")
    found = heat.hose_outlet_k(
        t_in,
        si(case, "t_air_degF", "degF"),
        si(case, "flow_gpm", "gpm"),
        si(case, "length_ft", "ft"),
        case["conductance_btu_per_h_ft_degF"] * PER_FOOT,
    )
    return {"t_head_degF": from_si(found, "degF"), "drop_degF": from_si(t_in - found, "ddegF")}


@kind(heat.burn_time_s)
def scald_time(case: Case) -> Case:
    return {"seconds": heat.burn_time_s(si(case, "t_degF", "degF"))}


@kind(heat.head_gate)
def scald_gate(case: Case) -> Case:
    return {"word": heat.head_gate(si(case, "t_head_degF", "degF")).word}


@kind(heat.head_connection)
def head_connection(case: Case) -> Case:
    found = heat.head_connection(si(case, "set_degF", "degF"))
    return {"direct": found.direct, "must_mix": not found.direct, "why": found.why}


@kind(heat.burner_share)
def burner_derate(case: Case) -> Case:
    """Counted from 2,000 ft where the case does not say from where."""
    found = heat.burner_share(
        si(case, "elevation_ft", "ft"),
        counted_from_m=to_si(float(case.get("counted_from_ft", 2000.0)), "ft"),
    )
    return {"input_btu_per_h": found * case["plate_btu_per_h"]}
