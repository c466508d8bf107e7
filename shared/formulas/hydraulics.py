"""Water through hoses: what pressure a flow costs, and what flow a supply gives."""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from shared import units
from shared.formulas._ranges import Value, within

WATER_KG_M3: Final = 999.0  # 8.337 lb/gal, at 60 degF
GRAVITY_M_S2: Final = 9.80665

_PSI: Final = units.to_si(1.0, "psi")
_GPM: Final = units.to_si(1.0, "gpm")
_INCH: Final = units.to_si(1.0, "in")
_FOOT: Final = units.to_si(1.0, "ft")


class Hose(NamedTuple):
    """One length of hose: inside diameter [m], length [m] and Hazen-Williams coefficient [-]."""

    bore_m: float
    length_m: float
    c: float = 140.0


class OperatingPoint(NamedTuple):
    """Where supply, hose and spray head meet: flow [m3/s] and pressure at the head [Pa gauge]."""

    flow_m3_s: float
    head_pa: float


def hazen_williams_pa(flow_m3_s: Value, bore_m: float, length_m: float, c: float = 140.0) -> Value:
    """Pressure that friction takes from cold water in a hose.

    Right for turbulent flow near 60 degF, from about 1 gpm in garden-hose bores. The bore is the inside diameter, not
    the thread: a hose with 3/4 in threads may be 1/2, 5/8 or 3/4 in inside.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        bore_m: inside diameter, > 0 and at most 1. [m]
        length_m: length, >= 0. [m]
        c: roughness coefficient, 50 to 160: 140 new lined hose, 130 used, 150 plastic. [-]

    Returns:
        Pressure loss. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: Hazen-Williams as NFPA 13 prints it, 4.52 Q^1.85 / (C^1.85 d^4.87) psi per ft with gpm and in.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("bore_m", bore_m, 0.0, 1.0, unit="m", above=True)
    within("length_m", length_m, 0.0, unit="m")
    within("c", c, 50.0, 160.0, unit="(Hazen-Williams C)")
    per_length = 4.52 * _PSI / _FOOT / (c**1.85 * (bore_m / _INCH) ** 4.87)
    loss: Value = per_length * length_m * (flow_m3_s / _GPM) ** 1.85
    return loss


def velocity_m_s(flow_m3_s: Value, bore_m: float) -> Value:
    """Mean speed of water in a hose.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        bore_m: inside diameter, > 0 and at most 1. [m]

    Returns:
        Speed. [m/s]

    Raises:
        ValueError: an argument is out of range.

    Source: continuity, Q / (pi d^2 / 4).
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("bore_m", bore_m, 0.0, 1.0, unit="m", above=True)
    return flow_m3_s / (math.pi * bore_m**2 / 4)


def hose_content_m3(bore_m: float, length_m: float) -> float:
    """Water that stands in a hose: what must be drained against frost, and what runs cold before the hot comes.

    Args:
        bore_m: inside diameter, > 0 and at most 1. [m]
        length_m: length, >= 0. [m]

    Returns:
        Volume. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: geometry, pi d^2 L / 4.
    """
    within("bore_m", bore_m, 0.0, 1.0, unit="m", above=True)
    within("length_m", length_m, 0.0, unit="m")
    return math.pi * bore_m**2 / 4 * length_m


def elevation_pa(height_m: Value, density_kg_m3: float = WATER_KG_M3) -> Value:
    """Pressure that a rise takes from water; a fall, a negative height, gives it back.

    Args:
        height_m: outlet above inlet, scalar or shape (n,). [m]
        density_kg_m3: of the water, > 0. [kg/m3]

    Returns:
        Pressure, 0.433 psi for each foot of cold water. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: hydrostatics, rho g h.
    """
    within("height_m", height_m, unit="m")
    within("density_kg_m3", density_kg_m3, 0.0, unit="kg/m3", above=True)
    return height_m * (density_kg_m3 * GRAVITY_M_S2)


def spray_flow_m3_s(k_m3_s_pa05: float, head_pa: Value) -> Value:
    """Flow of a spray head or nozzle at a pressure.

    Args:
        k_m3_s_pa05: flow factor of the head, > 0. [m3/(s Pa^0.5)]
        head_pa: pressure at the head, scalar or shape (n,), >= 0. [Pa gauge]

    Returns:
        Flow. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: Q = K sqrt(p), Bernoulli with a fixed discharge coefficient.
    """
    within("k_m3_s_pa05", k_m3_s_pa05, 0.0, unit="m3/(s Pa^0.5)", above=True)
    within("head_pa", head_pa, 0.0, unit="Pa")
    flow: Value = k_m3_s_pa05 * head_pa**0.5
    return flow


def run_loss_pa(hoses: Sequence[Hose], flow_m3_s: float) -> float:
    """Friction of hoses joined end to end.

    Args:
        hoses: lengths in series, each with bore and length. [m]
        flow_m3_s: flow through all of them, >= 0. [m3/s]

    Returns:
        Sum of the losses, couplings not counted. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: losses in series add; each by hazen_williams_pa.
    """
    return sum(hazen_williams_pa(flow_m3_s, hose.bore_m, hose.length_m, hose.c) for hose in hoses)


def operating_point(
    supply_pa: float,
    hoses: Sequence[Hose],
    k_m3_s_pa05: float,
    height_m: float = 0.0,
) -> OperatingPoint:
    """Flow and head pressure that settle when a supply feeds a spray head through hoses.

    Args:
        supply_pa: pressure at the supply while it flows (a static pressure is too much), > 0. [Pa gauge]
        hoses: lengths in series between supply and head, each with bore and length. [m]
        k_m3_s_pa05: flow factor of the head, > 0. [m3/(s Pa^0.5)]
        height_m: head above supply. [m]

    Returns:
        Flow and pressure at the head; both 0 where the supply does not lift the water. [m3/s, Pa gauge]

    Raises:
        ValueError: an argument is out of range.

    Source: supply - rho g z - friction(Q) - (Q/K)^2 = 0, which falls with Q and so has one root.
    """
    within("supply_pa", supply_pa, 0.0, unit="Pa", above=True)
    within("k_m3_s_pa05", k_m3_s_pa05, 0.0, unit="m3/(s Pa^0.5)", above=True)
    lifted = supply_pa - elevation_pa(height_m)
    if lifted <= 0:
        return OperatingPoint(0.0, 0.0)

    def spare(flow: float) -> float:
        return lifted - run_loss_pa(hoses, flow) - (flow / k_m3_s_pa05) ** 2

    from scipy.optimize import brentq  # here, since it takes a second to load and most of Holdair never needs it

    # Without any hose the head would pass this much; with hoses it passes less.
    free = spray_flow_m3_s(k_m3_s_pa05, lifted)
    flow = float(brentq(spare, 0.0, free * (1 + 1e-9), xtol=1e-12)) if hoses else free
    return OperatingPoint(flow, (flow / k_m3_s_pa05) ** 2)


def supply_flow_m3_s(tested_m3_s: float, static_pa: float, residual_pa: float, wanted_pa: float) -> float:
    """Flow of a hydrant or tap at a pressure other than the tested one.

    Args:
        tested_m3_s: flow of the test, > 0. [m3/s]
        static_pa: pressure with nothing flowing, above residual_pa. [Pa gauge]
        residual_pa: pressure at the tested flow, > 0. [Pa gauge]
        wanted_pa: pressure that must be left, 0 to static_pa. [Pa gauge]

    Returns:
        Flow at that pressure. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: NFPA 291 projection, Q ((Ps - P)/(Ps - Pr))^0.54.
    """
    within("tested_m3_s", tested_m3_s, 0.0, unit="m3/s", above=True)
    within("residual_pa", residual_pa, 0.0, unit="Pa", above=True)
    within("static_pa", static_pa, residual_pa, unit="Pa", above=True)
    within("wanted_pa", wanted_pa, 0.0, static_pa, unit="Pa")
    return float(tested_m3_s * ((static_pa - wanted_pa) / (static_pa - residual_pa)) ** 0.54)
