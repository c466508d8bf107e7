"""Waste water: what catches it, what pumps it away, and which is full first."""

import math
from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

import numpy as np

from shared.formulas._ranges import Value, shaped, within
from shared.formulas.hydraulics import Fitting, Hose, elevation_pa, run_loss_pa

# A simulation that would start its pump more often than this is asked of a sump, not of a berm.
MOST_STARTS: Final = 100_000


class SumpCycle(NamedTuple):
    """A sump at steady inflow: time on and off [s], starts [1/s], share of the time on [ratio], and whether it loses.

    Where it overflows the pump never stops: its spells have no end and no start is counted.
    """

    on_s: float
    off_s: float
    starts_per_s: float
    duty: float
    overflows: bool


class PumpPoint(NamedTuple):
    """Where a pump and what hangs on it meet: flow [m3/s] and pressure at the pump's outlet [Pa gauge]."""

    flow_m3_s: float
    outlet_pa: float


class BermRun(NamedTuple):
    """What became of a berm pumped into a bladder, until it overflowed or the time was over.

    When it overflowed and when the bladder was full [s, without end where neither happened], which of the two was full
    first, starts of the pump, its time on [s], and what stood in berm and bladder at the end [m3].
    """

    overflow_s: float
    bladder_full_s: float
    first: Literal["berm", "bladder"] | None
    starts: int
    pump_s: float
    berm_m3: float
    bladder_m3: float


def usable_depth_m(wall_m: Value, freeboard_m: Value | float, slope: Value | float, across_m: Value | float) -> Value:
    """Depth of a berm that may be counted on sloping ground.

    The whole fall of the ground is taken off, as if all of the floor lay as high as its highest edge: the wedge of
    water at the low side is left uncounted, on the safe side.

    Args:
        wall_m: height of the wall, scalar or shape (n,), > 0. [m]
        freeboard_m: height of wall to be kept dry, >= 0. [m]
        slope: of the ground, fall over length, 0 to 1. [ratio]
        across_m: length of the berm along the fall, >= 0. [m]

    Returns:
        Usable depth, 0 where nothing is left. [m]

    Raises:
        ValueError: an argument is out of range.

    Source: geometry, wall - freeboard - slope x length.
    """
    within("wall_m", wall_m, 0.0, unit="m", above=True)
    within("freeboard_m", freeboard_m, 0.0, unit="m")
    within("slope", slope, 0.0, 1.0, unit="(fall over length)")
    within("across_m", across_m, 0.0, unit="m")
    depth: Value = shaped(
        np.maximum(wall_m - freeboard_m - slope * across_m, 0.0), wall_m, freeboard_m, slope, across_m
    )
    return depth


def berm_capacity_m3(
    length_m: Value,
    width_m: Value | float,
    depth_m: Value | float,
    displaced_m3: Value | float = 0.0,
) -> Value:
    """Water that a berm holds on level ground.

    Args:
        length_m: inside length, scalar or shape (n,), > 0. [m]
        width_m: inside width, > 0. [m]
        depth_m: usable depth, less freeboard and slope, >= 0. [m]
        displaced_m3: volume that gear standing in it takes up below that depth, >= 0. [m3]

    Returns:
        Capacity, 0 where the gear takes all of it. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: geometry, length x width x depth - displaced.
    """
    within("length_m", length_m, 0.0, unit="m", above=True)
    within("width_m", width_m, 0.0, unit="m", above=True)
    within("depth_m", depth_m, 0.0, unit="m")
    within("displaced_m3", displaced_m3, 0.0, unit="m3")
    room = np.maximum(length_m * width_m * depth_m - displaced_m3, 0.0)
    capacity: Value = shaped(room, length_m, width_m, depth_m, displaced_m3)
    return capacity


def bladder_room_m3(capacity_m3: Value, fill_limit: Value | float, contents_m3: Value | float = 0.0) -> Value:
    """Room left in a bladder or tank.

    Args:
        capacity_m3: nominal capacity, scalar or shape (n,), > 0. [m3]
        fill_limit: share of it that may be filled, 0 to 1. [ratio]
        contents_m3: what is in it, >= 0. [m3]

    Returns:
        Room, 0 where it stands above its limit. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, capacity x limit - contents.
    """
    within("capacity_m3", capacity_m3, 0.0, unit="m3", above=True)
    within("fill_limit", fill_limit, 0.0, 1.0, unit="(a ratio)")
    within("contents_m3", contents_m3, 0.0, unit="m3")
    room: Value = shaped(np.maximum(capacity_m3 * fill_limit - contents_m3, 0.0), capacity_m3, fill_limit, contents_m3)
    return room


def fill_time_s(room_m3: Value, inflow_m3_s: Value | float, outflow_m3_s: Value | float = 0.0) -> Value:
    """Time until a room is full.

    Args:
        room_m3: room left, scalar or shape (n,), >= 0. [m3]
        inflow_m3_s: flow in, >= 0. [m3/s]
        outflow_m3_s: flow out, >= 0. [m3/s]

    Returns:
        Time; without end (inf) where as much leaves as comes. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: continuity, room / (in - out).
    """
    within("room_m3", room_m3, 0.0, unit="m3")
    within("inflow_m3_s", inflow_m3_s, 0.0, unit="m3/s")
    within("outflow_m3_s", outflow_m3_s, 0.0, unit="m3/s")
    gain = np.subtract(inflow_m3_s, outflow_m3_s)
    filling = gain > 0
    with np.errstate(over="ignore"):  # a gain of next to nothing fills it in no time that can be told from never
        time = np.where(filling, room_m3 / np.where(filling, gain, 1.0), math.inf)
    result: Value = shaped(time, room_m3, inflow_m3_s, outflow_m3_s)
    return result


def waste_m3(
    water_m3: Value,
    berm_area_m2: Value | float,
    rain_m: Value | float,
    detergent_m3: Value | float = 0.0,
) -> Value:
    """Waste water that must be caught: what was used, what rained in, and the soap.

    Args:
        water_m3: water used, scalar or shape (n,), >= 0. [m3]
        berm_area_m2: area open to the rain that drains into the berm, >= 0. [m2]
        rain_m: depth of rain, >= 0. [m]
        detergent_m3: volume of soap and concentrate, >= 0. [m3]

    Returns:
        Waste; 0.623 gal for each square foot and inch of rain. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: continuity, nothing soaks away or dries up.
    """
    within("water_m3", water_m3, 0.0, unit="m3")
    within("berm_area_m2", berm_area_m2, 0.0, unit="m2")
    within("rain_m", rain_m, 0.0, unit="m")
    within("detergent_m3", detergent_m3, 0.0, unit="m3")
    return water_m3 + berm_area_m2 * rain_m + detergent_m3


def sump_cycle(working_m3: float, inflow_m3_s: float, pump_m3_s: float) -> SumpCycle:
    """How a sump's pump cycles at a steady inflow.

    Args:
        working_m3: volume between the levels at which the pump starts and stops, > 0. [m3]
        inflow_m3_s: flow in, >= 0. [m3/s]
        pump_m3_s: flow of the pump at its real lift, > 0. [m3/s]

    Returns:
        Times on and off, starts and duty; an overflow where the pump does not gain on the inflow. [s, 1/s, ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: continuity, on = V / (Qp - Qi), off = V / Qi: the relation of lift-station textbooks.
    """
    within("working_m3", working_m3, 0.0, unit="m3", above=True)
    within("inflow_m3_s", inflow_m3_s, 0.0, unit="m3/s")
    within("pump_m3_s", pump_m3_s, 0.0, unit="m3/s", above=True)
    if inflow_m3_s >= pump_m3_s:
        return SumpCycle(math.inf, 0.0, 0.0, 1.0, overflows=True)
    on = working_m3 / (pump_m3_s - inflow_m3_s)
    off = fill_time_s(working_m3, inflow_m3_s)
    return SumpCycle(on, off, 1 / (on + off), inflow_m3_s / pump_m3_s, overflows=False)


def sump_least_m3(pump_m3_s: Value, starts_per_s: Value | float) -> Value:
    """Least working volume at which a pump never starts more often than it may.

    Args:
        pump_m3_s: flow of the pump at its real lift, scalar or shape (n,), > 0. [m3/s]
        starts_per_s: starts that its maker allows, > 0. [1/s]

    Returns:
        Volume between start and stop levels. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: V = T Q / 4, from the worst inflow, half the pump's flow; US Army Corps of Engineers EI 11C201 (1997), 7.
    """
    within("pump_m3_s", pump_m3_s, 0.0, unit="m3/s", above=True)
    within("starts_per_s", starts_per_s, 0.0, unit="1/s", above=True)
    return pump_m3_s / (4 * starts_per_s)


def pump_operating_point(shutoff_pa: float, droop: float, static_pa: float, resistance: float) -> PumpPoint:
    """Flow at which a pump of a square-law curve meets a hose of a square-law loss.

    Args:
        shutoff_pa: pressure of the pump at no flow, > 0. [Pa]
        droop: pressure it gives up with the square of the flow, >= 0. [Pa/(m3/s)^2]
        static_pa: lift that it works against. [Pa]
        resistance: loss of the hose with the square of the flow, >= 0; not 0 together with droop. [Pa/(m3/s)^2]

    Returns:
        Flow and outlet pressure; no flow, at the shut-off pressure, where the lift is too much. [m3/s, Pa gauge]

    Raises:
        ValueError: an argument is out of range.

    Source: P0 - a Q^2 = Ps + r Q^2, in closed form.
    """
    within("shutoff_pa", shutoff_pa, 0.0, unit="Pa", above=True)
    within("droop", droop, 0.0, unit="Pa/(m3/s)^2")
    within("static_pa", static_pa, unit="Pa")
    within("resistance", resistance, 0.0, unit="Pa/(m3/s)^2")
    within("droop + resistance", droop + resistance, 0.0, unit="Pa/(m3/s)^2", above=True)
    square = max(shutoff_pa - static_pa, 0.0) / (droop + resistance)
    return PumpPoint(math.sqrt(square), shutoff_pa - droop * square)


def pump_flow_m3_s(head_m: Value, curve_head_m: Sequence[float], curve_flow_m3_s: Sequence[float]) -> Value:
    """Flow of a pump at a lift, from its maker's curve.

    Args:
        head_m: lift with friction, scalar or shape (n,), >= 0. [m]
        curve_head_m: heads of the curve, two or more, rising, >= 0. [m]
        curve_flow_m3_s: flow at each, not rising, >= 0. [m3/s]

    Returns:
        Flow, linear between points: 0 above the last head, never more than at the first. [m3/s]

    Raises:
        ValueError: an argument is out of range, or the curve is not one.

    Source: linear interpolation in the maker's table.
    """
    within("head_m", head_m, 0.0, unit="m")
    heads, flows = np.asarray(curve_head_m, float), np.asarray(curve_flow_m3_s, float)
    within("curve_head_m", heads, 0.0, unit="m")
    within("curve_flow_m3_s", flows, 0.0, unit="m3/s")
    if heads.ndim != 1 or heads.shape != flows.shape or heads.size < 2:
        raise ValueError("curve_head_m and curve_flow_m3_s must be alike in length and hold at least 2 points")
    if np.any(np.diff(heads) <= 0) or np.any(np.diff(flows) > 0):
        raise ValueError("curve_head_m must rise and curve_flow_m3_s must not, from point to point")
    flow: Value = shaped(np.interp(head_m, heads, flows, right=0.0), head_m)
    return flow


def pump_on_hose(
    curve_head_m: Sequence[float],
    curve_flow_m3_s: Sequence[float],
    hoses: Sequence[Hose],
    height_m: float,
    fittings: Sequence[Fitting] = (),
) -> PumpPoint:
    """Flow that a pump gives through its discharge hose at the lift there is.

    Args:
        curve_head_m: heads of the maker's curve, two or more, rising, >= 0. [m]
        curve_flow_m3_s: flow at each, not rising, >= 0. [m3/s]
        hoses: of the discharge, in series, each with bore and length. [m]
        height_m: end of the hose, or the water it ends under, above the water pumped. [m]
        fittings: of the discharge, each with its loss at a stated flow. [Pa at m3/s]

    Returns:
        Flow and outlet pressure; no flow where the lift is too much. [m3/s, Pa gauge]

    Raises:
        ValueError: an argument is out of range, or the curve is not one.

    Source: the pump's flow at a head falls with the flow, so the two meet once.
    """
    within("height_m", height_m, unit="m")
    per_metre = elevation_pa(1.0)

    def needed_m(flow: float) -> float:
        return max(height_m + run_loss_pa(hoses, flow, fittings) / per_metre, 0.0)

    def spare(flow: float) -> float:
        return pump_flow_m3_s(needed_m(flow), curve_head_m, curve_flow_m3_s) - flow

    from scipy.optimize import brentq  # here, since it takes a second to load and most of Holdair never needs it

    most = pump_flow_m3_s(max(height_m, 0.0), curve_head_m, curve_flow_m3_s)
    flow = float(brentq(spare, 0.0, most, xtol=1e-12)) if most > 0 else 0.0
    return PumpPoint(flow, needed_m(flow) * per_metre if flow > 0 else max(curve_head_m) * per_metre)


def berm_run(
    inflow_m3_s: float,
    pump_m3_s: float,
    berm_m3: float,
    start_m3: float,
    stop_m3: float,
    room_m3: float,
    duration_s: float,
) -> BermRun:
    """Follow a berm that is kept near empty by a pump into a bladder, until it overflows or the time is over.

    The pump starts at one level and stops at the other, and stays off once the bladder is full. The berm is dry at
    first.

    Args:
        inflow_m3_s: waste that runs in, >= 0. [m3/s]
        pump_m3_s: flow of the pump at its real lift, >= 0. [m3/s]
        berm_m3: what the berm holds, > 0. [m3]
        start_m3: contents at which the pump starts, above stop_m3 and below berm_m3. [m3]
        stop_m3: contents at which it stops, >= 0. [m3]
        room_m3: room in the bladder, >= 0. [m3]
        duration_s: how long to follow, > 0. [s]

    Returns:
        Time to overflow and to a full bladder, the first of them, and what the pump did. [s, m3]

    Raises:
        ValueError: an argument is out of range, or the pump would start more than 100,000 times.

    Source: continuity, from event to event; exact for steady flows.
    """
    within("inflow_m3_s", inflow_m3_s, 0.0, unit="m3/s")
    within("pump_m3_s", pump_m3_s, 0.0, unit="m3/s")
    within("stop_m3", stop_m3, 0.0, unit="m3")
    within("start_m3", start_m3, stop_m3, unit="m3", above=True)
    within("berm_m3", berm_m3, start_m3, unit="m3", above=True)
    within("room_m3", room_m3, 0.0, unit="m3")
    within("duration_s", duration_s, 0.0, unit="s", above=True)
    cycles = min(inflow_m3_s, pump_m3_s) * duration_s / (start_m3 - stop_m3)
    within("starts of the pump", cycles, 0.0, MOST_STARTS, unit="in the time followed; widen start_m3 - stop_m3")

    now, berm, room, starts, pumped_s, pumping = 0.0, 0.0, room_m3, 0, 0.0, False
    bladder_full = 0.0 if room_m3 == 0 else math.inf
    while now < duration_s:
        can_pump = room > 0 and pump_m3_s > 0
        if can_pump and not pumping and berm >= start_m3:
            pumping, starts = True, starts + 1
        out = pump_m3_s if pumping else 0.0
        risen_m3 = start_m3 if can_pump and not pumping else berm_m3
        to_rise = fill_time_s(risen_m3 - berm, inflow_m3_s, out)
        to_fall = fill_time_s(max(berm - stop_m3, 0.0), out, inflow_m3_s)
        to_full = fill_time_s(room, out)
        step = min(to_rise, to_fall, to_full, duration_s - now)
        now, pumped_s, room = now + step, pumped_s + (step if pumping else 0.0), room - out * step
        berm += (inflow_m3_s - out) * step
        if step == to_full:
            room, pumping, bladder_full = 0.0, False, now
        # A level that was reached is set, so that rounding never leaves the water a hair short of it.
        if step == to_fall:
            berm, pumping = stop_m3, False
        elif step == to_rise:
            berm = risen_m3
            if berm == berm_m3:
                return BermRun(now, bladder_full, _first(now, bladder_full), starts, pumped_s, berm, room_m3 - room)
    return BermRun(math.inf, bladder_full, _first(math.inf, bladder_full), starts, pumped_s, berm, room_m3 - room)


def _first(overflow_s: float, bladder_full_s: float) -> Literal["berm", "bladder"] | None:
    if math.isinf(overflow_s) and math.isinf(bladder_full_s):
        return None
    return "berm" if overflow_s < bladder_full_s else "bladder"
