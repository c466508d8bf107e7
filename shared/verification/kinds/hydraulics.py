"""Check values of hoses, nozzles, supply and pumps."""

import math

from shared.formulas import heat, hydraulics, layouts
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si

K_FACTOR = to_si(1.0, "gpm") / math.sqrt(to_si(1.0, "psi"))
LB_PER_FT3 = to_si(1.0, "lb") / to_si(1.0, "ft3")


@kind(hydraulics.hazen_williams_pa, hydraulics.velocity_m_s)
def hazen_williams(case: Case) -> Case:
    flow, bore = si(case, "q_gpm", "gpm"), si(case, "d_in", "in")
    loss = hydraulics.hazen_williams_pa(flow, bore, si(case, "l_ft", "ft"), case["c_hw"])
    return {"fl_psi": from_si(loss, "psi"), "velocity_ft_s": from_si(hydraulics.velocity_m_s(flow, bore), "ft")}


@kind(hydraulics.reynolds, hydraulics.friction_factor, hydraulics.darcy_weisbach_pa, hydraulics.viscosity_pa_s)
def darcy(case: Case) -> Case:
    flow, bore, roughness = si(case, "q_gpm", "gpm"), si(case, "d_in", "in"), si(case, "roughness_in", "in")
    water = si(case, "t_degF", "degF")
    density, viscosity = heat.water_density_kg_m3(water), hydraulics.viscosity_pa_s(water)
    number = hydraulics.reynolds(flow, bore, density, viscosity)
    loss = hydraulics.darcy_weisbach_pa(flow, bore, si(case, "l_ft", "ft"), roughness, density, viscosity)
    factor = hydraulics.friction_factor(number, roughness / bore)
    return {"re": number, "f_darcy": factor, "fl_psi": from_si(loss, "psi")}


@kind(hydraulics.viscosity_pa_s)
def water_viscosity(case: Case) -> Case:
    return {"upa_s": 1e6 * hydraulics.viscosity_pa_s(si(case, "t_degF", "degF"))}


@kind(hydraulics.fire_loss_pa)
def fire_fl(case: Case) -> Case:
    return {"fl_psi": from_si(_fire_loss(case, si(case, "q_gpm", "gpm")), "psi")}


def _fire_loss(hose: Case, flow_m3_s: float) -> float:
    return hydraulics.fire_loss_pa(flow_m3_s, si(hose, "l_ft", "ft"), hose["c"])


@kind(hydraulics.fitting_loss_pa)
def fitting(case: Case) -> Case:
    loss = hydraulics.fitting_loss_pa(si(case, "q_gpm", "gpm"), si(case, "loss_psi", "psi"), si(case, "at_gpm", "gpm"))
    return {"psi": from_si(loss, "psi")}


@kind(hydraulics.k_loss_pa)
def fitting_k(case: Case) -> Case:
    density = case["density_lb_per_ft3"] * LB_PER_FT3
    loss = hydraulics.k_loss_pa(si(case, "q_gpm", "gpm"), si(case, "d_in", "in"), case["k"], density)
    return {"psi": from_si(loss, "psi")}


@kind(hydraulics.elevation_pa)
def elevation(case: Case) -> Case:
    return {"psi": from_si(hydraulics.elevation_pa(si(case, "h_ft", "ft"), _density(case)), "psi")}


def _density(case: Case) -> float:
    """A pressure for each foot stands for a density: rho = gradient / g."""
    return si(case, "psi_per_ft", "psi") / to_si(1.0, "ft") / hydraulics.GRAVITY_M_S2


@kind(hydraulics.nozzle_flow_m3_s)
def nozzle(case: Case) -> Case:
    flow = hydraulics.nozzle_flow_m3_s(si(case, "d_in", "in"), si(case, "p_psi", "psi"), case["c"], case["k_const"])
    return {"q_gpm": from_si(flow, "gpm")}


@kind(hydraulics.spray_flow_m3_s)
def k_factor(case: Case) -> Case:
    flow = hydraulics.spray_flow_m3_s(case["k_gpm_psi05"] * K_FACTOR, si(case, "p_psi", "psi"))
    return {"q_gpm": from_si(flow, "gpm")}


@kind(hydraulics.spray_k_m3_s_pa05)
def k_of_head(case: Case) -> Case:
    return {"k_gpm_psi05": hydraulics.spray_k_m3_s_pa05(si(case, "q_gpm", "gpm"), si(case, "p_psi", "psi")) / K_FACTOR}


def hoses(case: Case) -> tuple[hydraulics.Hose, ...]:
    """Return the hoses of a case, in order."""
    return tuple(
        hydraulics.Hose(si(hose, "d_in", "in"), si(hose, "l_ft", "ft"), hose["c_hw"])
        for hose in case.get("segments", ())
    )


def fittings(case: Case) -> tuple[hydraulics.Fitting, ...]:
    """Return the fittings of a case, where it has any."""
    return tuple(
        hydraulics.Fitting(si(one, "loss_psi", "psi"), si(one, "at_gpm", "gpm")) for one in case.get("fittings", ())
    )


@kind(hydraulics.elevation_pa, hydraulics.run_loss_pa)
def series_hose(case: Case) -> Case:
    loss = hydraulics.run_loss_pa(hoses(case), si(case, "q_gpm", "gpm"), fittings(case))
    left = si(case, "supply_psi", "psi") - loss - hydraulics.elevation_pa(si(case, "elevation_ft", "ft"))
    return {"friction_psi": from_si(loss, "psi"), "outlet_psi": from_si(left, "psi")}


@kind(hydraulics.parallel_split, hydraulics.fire_loss_pa)
def parallel_split(case: Case) -> Case:
    branches = [_fire_loss(branch, 1.0) for branch in case["branches"]]
    split = hydraulics.parallel_split(si(case, "q_total_gpm", "gpm"), branches)
    return {"q_gpm": [from_si(flow, "gpm") for flow in split.flows_m3_s], "fl_psi": from_si(split.loss_pa, "psi")}


@kind(hydraulics.parallel_split, hydraulics.hazen_williams_pa)
def parallel_hoses(case: Case) -> Case:
    branches = [hydraulics.hazen_williams_pa(1.0, hose.bore_m, hose.length_m, hose.c) for hose in hoses(case)]
    split = hydraulics.parallel_split(si(case, "q_total_gpm", "gpm"), branches, exponent=1.85)
    return {"q_gpm": [from_si(flow, "gpm") for flow in split.flows_m3_s], "fl_psi": from_si(split.loss_pa, "psi")}


@kind(hydraulics.pump_discharge_pa, hydraulics.fire_loss_pa)
def pump_discharge(case: Case) -> Case:
    losses = [_fire_loss(hose, si(hose, "q_gpm", "gpm")) for hose in case["segments"]]
    nozzle_pa, appliance_pa = si(case, "nozzle_psi", "psi"), si(case, "appliance_psi", "psi")
    pump = hydraulics.pump_discharge_pa(nozzle_pa, losses, appliance_pa, si(case, "elevation_ft", "ft"), _density(case))
    return {"friction_psi": from_si(math.fsum(losses), "psi"), "pump_psi": from_si(pump, "psi")}


@kind(hydraulics.pump_power_w)
def pump_power(case: Case) -> Case:
    density, efficiency = case["density_lb_per_ft3"] * LB_PER_FT3, si(case, "efficiency_pct", "percent")
    power = hydraulics.pump_power_w(si(case, "q_gpm", "gpm"), si(case, "head_ft", "ft"), efficiency, density)
    return {"hp": from_si(power, "hp")}


@kind(hydraulics.operating_point)
def hose_to_nozzle(case: Case) -> Case:
    found = hydraulics.operating_point(
        si(case, "supply_psi", "psi"),
        hoses(case),
        case["k_gpm_psi05"] * K_FACTOR,
        si(case, "elevation_ft", "ft"),
        fittings(case),
    )
    return {"q_gpm": from_si(found.flow_m3_s, "gpm"), "nozzle_psi": from_si(found.head_pa, "psi")}


@kind(layouts.settle, layouts.run_flow_m3_s)
def shower_layout(case: Case) -> Case:
    """Flow and pressure at each head of a layout, in the order in which the layout names them."""
    supply = layouts.Supply(
        si(case, "static_psi", "psi"), si(case, "residual_psi", "psi"), si(case, "q_test_gpm", "gpm")
    )
    run = _run(case["run"])
    settled = layouts.settle(supply, run)
    heads = [(from_si(flow, "gpm"), from_si(pressure, "psi")) for flow, pressure in _heads(run, settled)]
    return {
        "q_gpm": from_si(settled.flow_m3_s, "gpm"),
        "heads_gpm": [flow for flow, _ in heads],
        "heads_psi": [pressure for _, pressure in heads],
    }


def _run(case: Case) -> layouts.Run:
    return layouts.Run(
        hoses(case),
        fittings(case),
        to_si(case.get("elevation_ft", 0.0), "ft"),
        case.get("k_gpm_psi05", 0.0) * K_FACTOR,
        tuple(_run(further) for further in case.get("onward", ())),
    )


def _heads(run: layouts.Run, settled: layouts.Settled) -> list[tuple[float, float]]:
    own = []
    if run.k_m3_s_pa05:
        own.append((hydraulics.spray_flow_m3_s(run.k_m3_s_pa05, max(settled.end_pa, 0.0)), settled.end_pa))
    beyond = zip(run.onward, settled.onward, strict=True)
    return own + [head for further, there in beyond for head in _heads(further, there)]


@kind(hydraulics.supply_flow_m3_s)
def supply_projection(case: Case) -> Case:
    pressures = [si(case, key, "psi") for key in ("static_psi", "residual_psi", "target_psi")]
    return {"q_gpm": from_si(hydraulics.supply_flow_m3_s(si(case, "q_test_gpm", "gpm"), *pressures), "gpm")}


@kind(hydraulics.supply_pressure_pa)
def supply_left(case: Case) -> Case:
    flows = si(case, "q_gpm", "gpm"), si(case, "q_test_gpm", "gpm")
    left = hydraulics.supply_pressure_pa(*flows, si(case, "static_psi", "psi"), si(case, "residual_psi", "psi"))
    return {"p_psi": from_si(left, "psi")}


@kind(hydraulics.hose_content_m3)
def hose_volume(case: Case) -> Case:
    return {"gal": from_si(hydraulics.hose_content_m3(si(case, "d_in", "in"), si(case, "l_ft", "ft")), "gal")}


@kind(hydraulics.injector_dose_m3_s, hydraulics.stock_time_s)
def injector(case: Case) -> Case:
    dose = hydraulics.injector_dose_m3_s(si(case, "flow_gpm", "gpm"), case["ratio_water_to_concentrate"])
    lasts = hydraulics.stock_time_s(si(case, "stock_gal", "gal"), dose)
    return {
        "concentrate_gph": from_si(dose, "gal/h"),
        "hours": from_si(lasts, "h") if math.isfinite(lasts) else None,
    }
