"""Water through a layout that branches: one supply that droops, hoses that part, and a head at each end."""

import math
from typing import NamedTuple

from shared.formulas._ranges import within
from shared.formulas.hydraulics import (
    Fitting,
    Hose,
    elevation_pa,
    operating_point,
    run_loss_pa,
    spray_flow_m3_s,
    supply_pressure_pa,
)


class Supply(NamedTuple):
    """A supply as a flow test found it: static [Pa gauge], residual [Pa gauge] at the tested flow [m3/s]."""

    static_pa: float
    residual_pa: float
    tested_m3_s: float


class Run(NamedTuple):
    """A stretch of one flow, and what is at its end: heads (their flow factors summed), further runs, or both.

    hoses and fittings (a heater and an injector are fittings) in series, the end above the start by height_m [m], heads
    of k_m3_s_pa05 in all [m3/(s Pa^0.5)], and the runs that go on from the end.
    """

    hoses: tuple[Hose, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    height_m: float = 0.0
    k_m3_s_pa05: float = 0.0
    onward: tuple["Run", ...] = ()


class Settled(NamedTuple):
    """A run when all has settled: its flow [m3/s], pressure at its end [Pa gauge], and the runs beyond, in order."""

    flow_m3_s: float
    end_pa: float
    onward: tuple["Settled", ...] = ()


def run_flow_m3_s(run: Run, inlet_pa: float) -> float:
    """Flow that a branching run takes at a pressure at its start.

    Args:
        run: hoses, fittings, heads and runs beyond. [m, Pa, m3/s]
        inlet_pa: pressure where it starts. [Pa gauge]

    Returns:
        Flow, 0 where the pressure does not lift water to any head. [m3/s]

    Raises:
        ValueError: an argument is out of range, or a run ends in neither head nor further run.

    Source: at each end, flow in = K sqrt(p) + the flows onward, with p = inlet - rho g z - losses(flow in); the
        difference falls with p and so has one root.
    """
    within("inlet_pa", inlet_pa, unit="Pa")
    starts_at = _starts_at(run)
    return _taken(run, _end_pa(run, inlet_pa)) if inlet_pa > starts_at else 0.0


def settle(supply: Supply, run: Run) -> Settled:
    """Flows and pressures that settle when a supply that droops feeds a branching layout.

    Args:
        supply: static and residual pressure, the second > 0 and not above the first, and the tested flow, > 0.
            [Pa gauge, m3/s]
        run: what hangs on it. [m, Pa, m3/s]

    Returns:
        The settled run and all runs beyond; an end below 0 is a siphon, which soft hose does not keep. [m3/s, Pa gauge]

    Raises:
        ValueError: an argument is out of range, or a run ends in neither head nor further run.

    Source: supply_pressure_pa(Q) meets run_flow_m3_s: the one falls with Q, the other rises with pressure, so once.
    """
    at_rest = supply_pressure_pa(0.0, supply.tested_m3_s, supply.static_pa, supply.residual_pa)
    most = run_flow_m3_s(run, at_rest)

    def left(flow: float) -> float:
        return supply_pressure_pa(flow, supply.tested_m3_s, supply.static_pa, supply.residual_pa)

    def spare(flow: float) -> float:
        return run_flow_m3_s(run, left(flow)) - flow

    from scipy.optimize import brentq  # here, since it takes a second to load and most of Holdair never needs it

    flow = float(brentq(spare, 0.0, most, xtol=1e-12)) if most > 0 else 0.0
    return _settled(run, left(flow))


def _settled(run: Run, inlet_pa: float) -> Settled:
    flow = run_flow_m3_s(run, inlet_pa)
    end = _end_pa(run, inlet_pa) if flow > 0 else inlet_pa - elevation_pa(run.height_m)
    return Settled(flow, end, tuple(_settled(further, end) for further in run.onward))


def _starts_at(run: Run) -> float:
    """Return the pressure at the start above which the first head runs. [Pa gauge]"""
    ends = [_starts_at(further) for further in run.onward]
    if run.k_m3_s_pa05 > 0:
        ends.append(0.0)
    if not ends:
        raise ValueError("k_m3_s_pa05 must be above 0 m3/(s Pa^0.5) where no run goes onward, got 0")
    return elevation_pa(run.height_m) + min(ends)


def _taken(run: Run, end_pa: float) -> float:
    """Return what the heads and the runs beyond take at a pressure at the end. [m3/s]"""
    heads = spray_flow_m3_s(run.k_m3_s_pa05, max(end_pa, 0.0)) if run.k_m3_s_pa05 else 0.0
    return heads + math.fsum(run_flow_m3_s(further, end_pa) for further in run.onward)


def _end_pa(run: Run, inlet_pa: float) -> float:
    """Return the pressure at the end of a run in which water moves. [Pa gauge]"""
    if not run.onward:
        lifted = inlet_pa - elevation_pa(run.height_m)
        return operating_point(lifted, run.hoses, run.k_m3_s_pa05, fittings=run.fittings).head_pa
    rise = elevation_pa(run.height_m)

    def spare(end_pa: float) -> float:
        return inlet_pa - rise - run_loss_pa(run.hoses, _taken(run, end_pa), run.fittings) - end_pa

    from scipy.optimize import brentq  # here, since it takes a second to load and most of Holdair never needs it

    return float(brentq(spare, _starts_at(run) - rise, inlet_pa - rise, xtol=1e-6))
