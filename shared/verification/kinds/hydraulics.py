"""Check values of hoses, nozzles and supply."""

import math

from shared.formulas import hydraulics
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si

K_FACTOR = to_si(1.0, "gpm") / math.sqrt(to_si(1.0, "psi"))


@kind(hydraulics.hazen_williams_pa, hydraulics.velocity_m_s)
def hazen_williams(case: Case) -> Case:
    flow, bore = si(case, "q_gpm", "gpm"), si(case, "d_in", "in")
    loss = hydraulics.hazen_williams_pa(flow, bore, si(case, "l_ft", "ft"), case["c_hw"])
    return {"fl_psi": from_si(loss, "psi"), "velocity_ft_s": from_si(hydraulics.velocity_m_s(flow, bore), "ft")}


@kind(hydraulics.elevation_pa)
def elevation(case: Case) -> Case:
    # A pressure for each foot stands for a density: rho = gradient / g.
    density = to_si(case["psi_per_ft"], "psi") / to_si(1.0, "ft") / hydraulics.GRAVITY_M_S2
    return {"psi": from_si(hydraulics.elevation_pa(si(case, "h_ft", "ft"), density), "psi")}


@kind(hydraulics.spray_flow_m3_s)
def k_factor(case: Case) -> Case:
    flow = hydraulics.spray_flow_m3_s(case["k_gpm_psi05"] * K_FACTOR, si(case, "p_psi", "psi"))
    return {"q_gpm": from_si(flow, "gpm")}


def _hoses(case: Case) -> list[hydraulics.Hose]:
    return [hydraulics.Hose(si(hose, "d_in", "in"), si(hose, "l_ft", "ft"), hose["c_hw"]) for hose in case["segments"]]


@kind(hydraulics.elevation_pa, hydraulics.run_loss_pa)
def series_hose(case: Case) -> Case:
    loss = hydraulics.run_loss_pa(_hoses(case), si(case, "q_gpm", "gpm"))
    left = si(case, "supply_psi", "psi") - loss - hydraulics.elevation_pa(si(case, "elevation_ft", "ft"))
    return {"friction_psi": from_si(loss, "psi"), "outlet_psi": from_si(left, "psi")}


@kind(hydraulics.operating_point)
def hose_to_nozzle(case: Case) -> Case:
    found = hydraulics.operating_point(
        si(case, "supply_psi", "psi"),
        _hoses(case),
        case["k_gpm_psi05"] * K_FACTOR,
        si(case, "elevation_ft", "ft"),
    )
    return {"q_gpm": from_si(found.flow_m3_s, "gpm"), "nozzle_psi": from_si(found.head_pa, "psi")}


@kind(hydraulics.supply_flow_m3_s)
def supply_projection(case: Case) -> Case:
    pressures = [si(case, key, "psi") for key in ("static_psi", "residual_psi", "target_psi")]
    return {"q_gpm": from_si(hydraulics.supply_flow_m3_s(si(case, "q_test_gpm", "gpm"), *pressures), "gpm")}


@kind(hydraulics.hose_content_m3)
def hose_volume(case: Case) -> Case:
    return {"gal": from_si(hydraulics.hose_content_m3(si(case, "d_in", "in"), si(case, "l_ft", "ft")), "gal")}
