"""Pumps on their hose beside EPANET; a berm and a bladder beside small steps in time; volumes beside pint."""

import math

import numpy as np
from numpy.typing import NDArray

from shared.formulas import greywater, hydraulics
from shared.units import to_si
from tests.check_values.references import Reference
from tests.check_values.references.hydraulics import solve

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]

# A small utility pump: feet of head and gallons a minute, from its free flow to its shut-off.
CURVE_FT = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0)
CURVE_GPM = (30.0, 26.0, 21.0, 15.0, 8.0, 0.0)


def epanet_pump(hoses: list[tuple[float, float]], height_ft: float) -> float:
    """Return the flow of the small pump through hoses (bore in inches, feet) up a height, by EPANET. [m3/s]"""
    import wntr

    model = wntr.network.WaterNetworkModel()
    model.options.hydraulic.headloss = "H-W"
    model.options.hydraulic.accuracy = 1e-7
    model.options.time.duration = 0
    points = sorted((to_si(gpm, "gpm"), to_si(feet, "ft")) for feet, gpm in zip(CURVE_FT, CURVE_GPM, strict=True))
    model.add_curve("curve", "HEAD", points)
    model.add_reservoir("berm", base_head=0.0)
    model.add_reservoir("bladder", base_head=to_si(height_ft, "ft"))
    model.add_junction("outlet", elevation=0.0)
    model.add_pump("pump", "berm", "outlet", "HEAD", "curve")
    node = "outlet"
    for index, (bore_in, feet) in enumerate(hoses):
        end = "bladder" if index == len(hoses) - 1 else f"n{index}"
        if end != "bladder":
            model.add_junction(end, elevation=0.0)
        model.add_pipe(f"p{index}", node, end, length=to_si(feet, "ft"), diameter=to_si(bore_in, "in"), roughness=140)
        node = end
    return solve(model)[1]["pump"]


def _pump_on_hose() -> Pair:
    lays = [([(1.5, 25.0)], 3.0), ([(0.75, 50.0)], 6.0), ([(1.0, 25.0), (0.625, 15.0)], 2.0), ([(1.5, 100.0)], 18.0)]
    ours, theirs = [], []
    for hoses, height_ft in lays:
        run = [hydraulics.Hose(to_si(bore_in, "in"), to_si(feet, "ft")) for bore_in, feet in hoses]
        curve = [to_si(feet, "ft") for feet in CURVE_FT], [to_si(gpm, "gpm") for gpm in CURVE_GPM]
        ours.append(greywater.pump_on_hose(*curve, run, to_si(height_ft, "ft")).flow_m3_s)
        theirs.append(epanet_pump(hoses, height_ft))
    return np.array(ours), np.array(theirs)


def stepped(
    inflow: float, pump: float, berm: float, start: float, stop: float, room: float, over: float
) -> list[float]:
    """Follow a berm and its bladder in steps of a hundredth of a second: overflow, full bladder, pump's time. [s]"""
    step, water, pumping = 0.01, 0.0, False
    overflow = full = math.inf
    pumped = 0.0
    for count in range(1, round(over / step) + 1):
        pumping = room > 0 and (water >= start or (pumping and water > stop))
        moved = min(pump * step, room) if pumping else 0.0
        pumped += step if pumping else 0.0
        room -= moved
        water += inflow * step - moved
        if room <= 0 and math.isinf(full):
            full = count * step
        if water >= berm:
            overflow = count * step
            break
    return [overflow, full, pumped]


# Inflow and pump, gpm; berm, start, stop and bladder, gal; hours. The first is the trade's own: a floor berm that can
# hold 100 gal but must be kept near empty, and a bladder of 150 gal filled to 95 in 100.
BERMS = [
    (8.0, 20.0, 100.0, 20.0, 5.0, 142.5, 1.0),
    (8.0, 6.0, 100.0, 20.0, 5.0, 142.5, 1.0),
    (12.0, 12.0, 100.0, 10.0, 2.0, 142.5, 0.5),
    (3.0, 15.0, 40.0, 8.0, 1.0, 60.0, 0.8),
]


def _berm_run() -> Pair:
    ours, theirs = [], []
    for inflow, pump, berm, start, stop, room, hours in BERMS:
        flows = to_si(inflow, "gpm"), to_si(pump, "gpm")
        volumes = [to_si(gallons, "gal") for gallons in (berm, start, stop, room)]
        found = greywater.berm_run(*flows, *volumes, to_si(hours, "h"))
        ours += [found.overflow_s, found.bladder_full_s, found.pump_s]
        theirs += stepped(*flows, *volumes, to_si(hours, "h"))
    return np.array(ours), np.array(theirs)


def _waste() -> Pair:
    import pint

    unit = pint.UnitRegistry()
    areas, rain = np.array([48.0, 100.0, 400.0]), np.array([0.5, 1.0, 4.0])
    theirs = (300 * unit.gallon + areas * unit.foot**2 * rain * unit.inch + 2 * unit.gallon).to("m**3").magnitude
    ours = greywater.waste_m3(to_si(300.0, "gal"), to_si(areas, "ft2"), to_si(rain, "in"), to_si(2.0, "gal"))
    return ours, theirs


def _berm_capacity() -> Pair:
    import pint

    unit = pint.UnitRegistry()
    depth = np.array([2.0, 6.0, 12.0])
    theirs = (12 * unit.foot * 8 * unit.foot * depth * unit.inch - 60 * unit.gallon).to("m**3").magnitude
    ours = greywater.berm_capacity_m3(to_si(12.0, "ft"), to_si(8.0, "ft"), to_si(depth, "in"), to_si(60.0, "gal"))
    return ours, theirs


REFERENCES = [
    Reference(
        "greywater.pump_on_hose",
        "wntr",
        "a curve of six points, hoses of 5/8 to 1-1/2 in, 2 to 18 ft",
        _pump_on_hose,
        6e-3,
    ),
    Reference("greywater.berm_run", "numpy", "four berms and bladders in steps of 0.01 s", _berm_run, 1e-3),
    Reference("greywater.waste_m3", "pint", "48 to 400 ft2, 0.5 to 4 in of rain", _waste, 1e-9),
    Reference("greywater.berm_capacity_m3", "pint", "8 x 12 ft, 2 to 12 in deep", _berm_capacity, 1e-9),
]
