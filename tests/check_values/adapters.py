"""One small adapter for each kind of check value: the case's own units in, its own units out.

Inputs and answers are US customary, by the suffix of their key; what is called is the public formula, in SI.
"""

import math
from collections.abc import Callable
from datetime import date
from typing import Any

from shared.formulas import air, dates, electric, heat, hydraulics, people, propane
from shared.units import from_si, to_si

Case = dict[str, Any]
K_FACTOR = to_si(1.0, "gpm") / math.sqrt(to_si(1.0, "psi"))


def _given(case: Case, key: str, unit: str) -> float:
    return to_si(float(case[key]), unit)


def gauge_temp_correct(case: Case) -> Case:
    found = air.pressure_at(
        _given(case, "p1_psig", "psig"),
        _given(case, "t1_degF", "degF"),
        _given(case, "baro1_psia", "psia"),
        _given(case, "t2_degF", "degF"),
        _given(case, "baro2_psia", "psia"),
    )
    return {"p2_psig": from_si(found, "psig")}


def decay_two_point(case: Case) -> Case:
    first = [
        _given(case, key, unit) for key, unit in (("p1_psig", "psig"), ("t1_degF", "degF"), ("baro1_psia", "psia"))
    ]
    second = [
        _given(case, key, unit) for key, unit in (("p2_psig", "psig"), ("t2_degF", "degF"), ("baro2_psia", "psia"))
    ]
    lost = air.air_lost(*first, *second)
    # The published form carries the second reading back to the first one's conditions: the loss run the other way.
    loss = -air.corrected_loss_pa(*second, *first)
    leak = air.leak_standard_m3_s(
        _given(case, "volume_ft3", "ft3"),
        lost,
        *first,
        _given(case, "elapsed_h", "h"),
        _given(case, "std_t_degF", "degF"),
        _given(case, "std_p_psia", "psia"),
    )
    return {
        "p2_corrected_psig": from_si(first[0] - loss, "psi"),
        "loss_corrected_psi": from_si(loss, "psi"),
        "mass_loss_pct": 100 * lost,
        "leak_rate_psi_per_h": from_si(loss, "psi") / case["elapsed_h"],
        "leak_scfh": from_si(leak, "ft3") * 3600,
    }


def time_to_limit(case: Case) -> Case:
    found = air.time_to_pressure_s(
        _given(case, "p0_psig", "psig"),
        _given(case, "p1_psig", "psig"),
        _given(case, "elapsed_h", "h"),
        _given(case, "p_limit_psig", "psig"),
    )
    return {"hours_linear": from_si(found.linear_s, "h"), "hours_exponential": from_si(found.exponential_s, "h")}


def resolution_unc(case: Case) -> Case:
    step = _given(case, "resolution_psi", "psi")
    at = [_given(case, key, unit) for key, unit in (("p_psig", "psig"), ("t_degF", "degF"), ("baro_psia", "psia"))]
    both = from_si(air.loss_uncertainty_pa(step, _given(case, "t_resolution_degF", "ddegF"), *at), "psi")
    gauge_alone = from_si(air.loss_uncertainty_pa(step, 0.0, *at), "psi")
    return {
        "u_reading_psi": gauge_alone / (2 * math.sqrt(2)),
        "u_decay_psi": both / 2,
        "U95_decay_psi": both,
        "min_detectable_psi_per_h": both / case["elapsed_h"],
    }


def inflate_time(case: Case) -> Case:
    volume = _given(case, "volume_ft3", "ft3")
    free = air.free_air_m3(volume, _given(case, "p_psig", "psig"), _given(case, "baro_psia", "psia"))
    return {"minutes": from_si(free, "ft3") / case["free_air_cfm"]}


def heat_rate_500(case: Case) -> Case:
    found = heat.heat_output_w(_given(case, "flow_gpm", "gpm"), _given(case, "rise_degF", "ddegF"))
    return {"btu_per_h": from_si(found, "BTU/h")}


def heater_efficiency(case: Case) -> Case:
    rise = to_si(float(case["t_out_degF"] - case["t_in_degF"]), "ddegF")
    found = heat.heater_efficiency(
        heat.heat_output_w(_given(case, "flow_gpm", "gpm"), rise),
        _given(case, "fuel_lb", "lb"),
        _given(case, "minutes", "min"),
        _given(case, "fuel_btu_per_lb", "BTU/lb"),
    )
    return {"efficiency_pct": 100 * found}


def max_flow(case: Case) -> Case:
    output = _given(case, "input_btu_per_h", "BTU/h") * _given(case, "efficiency_pct", "percent")
    rise = to_si(float(case["t_out_degF"] - case["t_in_degF"]), "ddegF")
    found = heat.flow_limit(output, rise, _given(case, "flow_cap_gpm", "gpm"))
    return {"flow_gpm": from_si(found.flow_m3_s, "gpm"), "limited_by": found.by.replace(" ", "_")}


def mix(case: Case) -> Case:
    share = heat.hot_share(*(_given(case, key, "degF") for key in ("t_hot_degF", "t_cold_degF", "t_set_degF")))
    total = case["total_gpm"]
    return {"hot_fraction": share, "hot_gpm": share * total, "cold_gpm": (1 - share) * total}


def cylinder_burn(case: Case) -> Case:
    fuel = _given(case, "gross_lb", "lb") - _given(case, "tare_lb", "lb")
    value = _given(case, "btu_per_lb", "BTU/lb")
    time = propane.burn_time_s(fuel, _given(case, "load_btu_per_h", "BTU/h"), value)
    return {
        "fuel_lb": from_si(fuel, "lb"),
        "energy_btu": from_si(fuel * value, "BTU"),
        "hours": from_si(time, "h"),
    }


def propane_psat(case: Case) -> Case:
    found = from_si(propane.saturation_pressure_pa(_given(case, "t_degF", "degF")), "psia")
    return {"psia": found, "psig": found - case["baro_psia"]}


def propane_tsat(case: Case) -> Case:
    found = propane.saturation_temperature_k(_given(case, "p_psig", "psig") + _given(case, "baro_psia", "psia"))
    return {"t_degF": from_si(found, "degF")}


def propane_latent(case: Case) -> Case:
    return {"btu_per_lb": from_si(propane.latent_heat_j_kg(_given(case, "t_degF", "degF")), "BTU/lb")}


def vapor_table_100lb(case: Case) -> Case:
    rate = propane.vapour_rate_w(_given(case, "fuel_lb", "lb"), _given(case, "t_degF", "degF"), to_si(100.0, "lb"))
    found = from_si(rate, "BTU/h")
    return {"max_btu_per_h": found, "sustains": found >= case["load_btu_per_h"]}


def vapor_heat_balance(case: Case) -> Case:
    per_area = to_si(1.0, "BTU/h") / (to_si(1.0, "ft2") * to_si(1.0, "ddegF"))
    found = propane.heat_balance_w(
        case["u_btu_per_h_ft2_degF"] * per_area,
        _given(case, "wetted_area_ft2", "ft2"),
        _given(case, "t_ambient_degF", "degF"),
        _given(case, "t_liquid_degF", "degF"),
        _given(case, "latent_btu_per_lb", "BTU/lb"),
        _given(case, "btu_per_lb", "BTU/lb"),
    )
    return {"max_btu_per_h": from_si(found, "BTU/h")}


def hazen_williams(case: Case) -> Case:
    flow, bore = _given(case, "q_gpm", "gpm"), _given(case, "d_in", "in")
    loss = hydraulics.hazen_williams_pa(flow, bore, _given(case, "l_ft", "ft"), case["c_hw"])
    return {"fl_psi": from_si(loss, "psi"), "velocity_ft_s": from_si(hydraulics.velocity_m_s(flow, bore), "ft")}


def elevation(case: Case) -> Case:
    # A pressure for each foot stands for a density: rho = gradient / g.
    density = to_si(case["psi_per_ft"], "psi") / to_si(1.0, "ft") / hydraulics.GRAVITY_M_S2
    return {"psi": from_si(hydraulics.elevation_pa(_given(case, "h_ft", "ft"), density), "psi")}


def k_factor(case: Case) -> Case:
    flow = hydraulics.spray_flow_m3_s(case["k_gpm_psi05"] * K_FACTOR, _given(case, "p_psi", "psi"))
    return {"q_gpm": from_si(flow, "gpm")}


def _hoses(case: Case) -> list[hydraulics.Hose]:
    return [
        hydraulics.Hose(_given(hose, "d_in", "in"), _given(hose, "l_ft", "ft"), hose["c_hw"])
        for hose in case["segments"]
    ]


def series_hose(case: Case) -> Case:
    loss = hydraulics.run_loss_pa(_hoses(case), _given(case, "q_gpm", "gpm"))
    left = _given(case, "supply_psi", "psi") - loss - hydraulics.elevation_pa(_given(case, "elevation_ft", "ft"))
    return {"friction_psi": from_si(loss, "psi"), "outlet_psi": from_si(left, "psi")}


def hose_to_nozzle(case: Case) -> Case:
    found = hydraulics.operating_point(
        _given(case, "supply_psi", "psi"),
        _hoses(case),
        case["k_gpm_psi05"] * K_FACTOR,
        _given(case, "elevation_ft", "ft"),
    )
    return {"q_gpm": from_si(found.flow_m3_s, "gpm"), "nozzle_psi": from_si(found.head_pa, "psi")}


def supply_projection(case: Case) -> Case:
    pressures = [_given(case, key, "psi") for key in ("static_psi", "residual_psi", "target_psi")]
    return {"q_gpm": from_si(hydraulics.supply_flow_m3_s(_given(case, "q_test_gpm", "gpm"), *pressures), "gpm")}


def hose_volume(case: Case) -> Case:
    return {"gal": from_si(hydraulics.hose_content_m3(_given(case, "d_in", "in"), _given(case, "l_ft", "ft")), "gal")}


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


def temp_capacity(case: Case) -> Case:
    return {"available_ah": case["rated_ah"] * electric.cold_capacity_factor(_given(case, "t_degF", "degF"), "flooded")}


def capacity_test(case: Case) -> Case:
    times = (_given(case, "actual_min", "min"), _given(case, "rated_min", "min"))
    found = 100 * electric.capacity_shown(*times, 1 / case["kt"])
    return {"capacity_pct": found, "replace": found < case["replace_below_pct"]}


def generator_table(case: Case) -> Case:
    burns = [to_si(gph, "gal/h") for gph in case["table_gph"]]
    table = list(zip(case["table_load_fraction"], burns, strict=True))
    fuel, load = _given(case, "fuel_gal", "gal"), case["load_fraction"]
    all_of_it = electric.fuel_hours(fuel, load, table)
    return {
        "gph": case["fuel_gal"] / all_of_it,
        "hours": electric.fuel_hours(fuel, load, table, case["reserve_pct"] / 100),
    }


def generator_energy(case: Case) -> Case:
    burn = electric.burn_from_efficiency_m3_s(
        _given(case, "load_kw", "kW"),
        _given(case, "efficiency_pct", "percent"),
        _given(case, "fuel_btu_per_gal", "BTU/gal"),
    )
    hours = electric.fuel_hours(_given(case, "fuel_gal", "gal"), 1.0, [(1.0, burn)])
    return {"gph": from_si(burn, "gal/h"), "hours": hours}


def lanes(case: Case) -> Case:
    cycle = people.cycle_min(case["wash_min"], case["changeover_min"])
    places = case["lanes"] * case["persons_per_lane"]
    return {"persons_per_h": people.throughput_per_hour(places, cycle)}


def due_month(case: Case) -> Case:
    made = date.fromisoformat(f"{case['start_month']}-01")
    mark = {12: "DOT-4BA240", 5: "DOT-3AA2015"}[case["interval_years"]]
    due = dates.requalify_by(mark, made, None)
    return {"due_month": due and f"{due:%Y-%m}"}


ADAPTERS: dict[str, Callable[[Case], Case]] = {
    adapter.__name__: adapter
    for adapter in (
        gauge_temp_correct,
        decay_two_point,
        time_to_limit,
        resolution_unc,
        inflate_time,
        heat_rate_500,
        heater_efficiency,
        max_flow,
        mix,
        cylinder_burn,
        propane_psat,
        propane_tsat,
        propane_latent,
        vapor_table_100lb,
        vapor_heat_balance,
        hazen_williams,
        elevation,
        k_factor,
        series_hose,
        hose_to_nozzle,
        supply_projection,
        hose_volume,
        ocv_soc,
        temp_capacity,
        capacity_test,
        generator_table,
        generator_energy,
        lanes,
        due_month,
    )
}
