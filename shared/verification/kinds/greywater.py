"""Check values of waste water: berms, bladders, sumps and their pumps."""

import math

from shared.formulas import greywater
from shared.units import from_si, to_si
from shared.verification.kinds.hydraulics import fittings, hoses
from shared.verification.registry import Case, kind, si

PSI_PER_GPM2 = to_si(1.0, "psi") / to_si(1.0, "gpm") ** 2


def _minutes(seconds: float) -> float | None:
    """Return minutes; null for a time without end."""
    return from_si(seconds, "min") if math.isfinite(seconds) else None


@kind(greywater.berm_capacity_m3, greywater.fill_time_s)
def berm(case: Case) -> Case:
    sides = si(case, "length_ft", "ft"), si(case, "width_ft", "ft"), si(case, "depth_in", "in")
    capacity = greywater.berm_capacity_m3(*sides, si(case, "displacement_gal", "gal"))
    time = greywater.fill_time_s(capacity, si(case, "inflow_gpm", "gpm"), si(case, "outflow_gpm", "gpm"))
    return {"capacity_gal": from_si(capacity, "gal"), "fill_min": _minutes(time)}


@kind(greywater.usable_depth_m)
def berm_depth(case: Case) -> Case:
    wall, dry, slope = si(case, "wall_in", "in"), si(case, "freeboard_in", "in"), si(case, "slope_pct", "percent")
    return {"depth_in": from_si(greywater.usable_depth_m(wall, dry, slope, si(case, "across_ft", "ft")), "in")}


@kind(greywater.bladder_room_m3, greywater.fill_time_s)
def bladder(case: Case) -> Case:
    limit = si(case, "fill_limit_pct", "percent")
    room = greywater.bladder_room_m3(si(case, "capacity_gal", "gal"), limit, si(case, "contents_gal", "gal"))
    return {
        "room_gal": from_si(room, "gal"),
        "minutes": _minutes(greywater.fill_time_s(room, si(case, "inflow_gpm", "gpm"))),
    }


@kind(greywater.waste_m3)
def waste(case: Case) -> Case:
    rain = si(case, "area_ft2", "ft2"), si(case, "rain_in", "in")
    total = greywater.waste_m3(si(case, "water_gal", "gal"), *rain, si(case, "detergent_gal", "gal"))
    return {"waste_gal": from_si(total, "gal")}


@kind(greywater.sump_cycle)
def sump(case: Case) -> Case:
    flows = si(case, "inflow_gpm", "gpm"), si(case, "pump_gpm", "gpm")
    cycle = greywater.sump_cycle(si(case, "working_volume_gal", "gal"), *flows)
    return {
        "on_min": _minutes(cycle.on_s),
        # A pump that never gains on its inflow has no spell off to tell of.
        "off_min": None if cycle.overflows else _minutes(cycle.off_s),
        "cycles_per_h": cycle.starts_per_s * to_si(1.0, "h"),
        "duty_pct": from_si(cycle.duty, "percent"),
        "overflow": cycle.overflows,
    }


@kind(greywater.sump_least_m3)
def sump_min_volume(case: Case) -> Case:
    starts = case["max_starts_per_h"] / to_si(1.0, "h")
    return {"volume_gal": from_si(greywater.sump_least_m3(si(case, "pump_gpm", "gpm"), starts), "gal")}


@kind(greywater.pump_operating_point)
def pump_operating(case: Case) -> Case:
    # The fire service's loss, C (Q/100)^2 (L/100), as so much for each square of a gpm.
    resistance = case["c"] * (case["l_ft"] / 100) / 100**2
    found = greywater.pump_operating_point(
        si(case, "shutoff_psi", "psi"),
        case["pump_a_psi_per_gpm2"] * PSI_PER_GPM2,
        si(case, "static_psi", "psi"),
        resistance * PSI_PER_GPM2,
    )
    return {"q_gpm": from_si(found.flow_m3_s, "gpm"), "p_psi": from_si(found.outlet_pa, "psi")}


def _curve(case: Case) -> tuple[list[float], list[float]]:
    points = sorted(case["curve"], key=lambda point: float(point["head_ft"]))
    return [si(point, "head_ft", "ft") for point in points], [si(point, "q_gpm", "gpm") for point in points]


@kind(greywater.pump_flow_m3_s)
def pump_curve(case: Case) -> Case:
    return {"q_gpm": from_si(greywater.pump_flow_m3_s(si(case, "head_ft", "ft"), *_curve(case)), "gpm")}


@kind(greywater.pump_on_hose)
def pump_on_hose(case: Case) -> Case:
    found = greywater.pump_on_hose(*_curve(case), hoses(case), si(case, "elevation_ft", "ft"), fittings(case))
    return {"q_gpm": from_si(found.flow_m3_s, "gpm"), "p_psi": from_si(found.outlet_pa, "psi")}


@kind(greywater.berm_run)
def berm_bladder(case: Case) -> Case:
    run = greywater.berm_run(
        inflow_m3_s=si(case, "inflow_gpm", "gpm"),
        pump_m3_s=si(case, "pump_gpm", "gpm"),
        berm_m3=si(case, "berm_gal", "gal"),
        start_m3=si(case, "start_gal", "gal"),
        stop_m3=si(case, "stop_gal", "gal"),
        room_m3=si(case, "room_gal", "gal"),
        duration_s=si(case, "duration_h", "h"),
    )
    return {
        "overflow_min": _minutes(run.overflow_s),
        "bladder_full_min": _minutes(run.bladder_full_s),
        "first": run.first,
        "starts": run.starts,
        "pump_min": _minutes(run.pump_s),
        "berm_gal": from_si(run.berm_m3, "gal"),
        "bladder_gal": from_si(run.bladder_m3, "gal"),
    }
