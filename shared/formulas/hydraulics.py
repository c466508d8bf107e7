"""Water through hoses: what pressure a flow costs, and what flow a supply gives."""

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from shared import units
from shared.formulas._ranges import Value, shaped, within

WATER_KG_M3: Final = 999.0  # 8.337 lb/gal, at 60 degF
GRAVITY_M_S2: Final = 9.80665

_PSI: Final = units.to_si(1.0, "psi")
_GPM: Final = units.to_si(1.0, "gpm")
_INCH: Final = units.to_si(1.0, "in")
_FOOT: Final = units.to_si(1.0, "ft")
_FIRE_FLOW: Final = 100 * _GPM
_FIRE_LENGTH: Final = 100 * _FOOT

# A supply's flow goes with this power of the pressure it gives up. NFPA 291 prints it; it is 1 / 1.85 rounded.
_SUPPLY_POWER: Final = 0.54

# Viscosity of liquid water, in micropascal seconds by powers of T / 300 K.
_VISCOSITY_TERMS: Final = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))


class Hose(NamedTuple):
    """One length of hose: inside diameter [m], length [m] and Hazen-Williams coefficient [-]."""

    bore_m: float
    length_m: float
    c: float = 140.0


class Fitting(NamedTuple):
    """What a coupling, valve, heater or injector takes: loss [Pa] at a stated flow [m3/s], with the square of it."""

    loss_pa: float
    at_m3_s: float


class Split(NamedTuple):
    """How a flow parts between branches: flow of each, in order [m3/s], and the loss they share [Pa]."""

    flows_m3_s: tuple[float, ...]
    loss_pa: float


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


def viscosity_pa_s(t_k: Value) -> Value:
    """Dynamic viscosity of liquid water near one atmosphere.

    Args:
        t_k: temperature of the water, scalar or shape (n,), 273 to 374. [K]

    Returns:
        Viscosity. [Pa s]

    Raises:
        ValueError: an argument is out of range.

    Source: IAPWS SR6-08(2011), properties of liquid water at 0.1 MPa, 253 to 383 K (coefficients from memory; within
        0.01 % of CoolProp 8.0.0 over the range taken here).
    """
    within("t_k", t_k, 273.0, 374.0, unit="K")
    micro: Value = sum(a * (t_k / 300.0) ** b for a, b in _VISCOSITY_TERMS)  # type: ignore[assignment]
    return 1e-6 * micro


def reynolds(flow_m3_s: Value, bore_m: float, density_kg_m3: float, viscosity_pa_s: float) -> Value:
    """Reynolds number of water in a hose: below 2040 it flows in layers.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        bore_m: inside diameter, > 0 and at most 1. [m]
        density_kg_m3: of the water, > 0. [kg/m3]
        viscosity_pa_s: of the water, > 0. [Pa s]

    Returns:
        Reynolds number. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, rho v d / mu.
    """
    within("density_kg_m3", density_kg_m3, 0.0, unit="kg/m3", above=True)
    within("viscosity_pa_s", viscosity_pa_s, 0.0, unit="Pa s", above=True)
    return velocity_m_s(flow_m3_s, bore_m) * (density_kg_m3 * bore_m / viscosity_pa_s)


def friction_factor(reynolds: Value, relative_roughness: float = 0.0) -> Value:
    """Darcy friction factor of a round pipe.

    Args:
        reynolds: Reynolds number, scalar or shape (n,), > 0 and at most 1e8. [-]
        relative_roughness: roughness over bore, 0 to 0.05. [-]

    Returns:
        Friction factor, four times Fanning's. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: 64/Re below 2040, Colebrook's equation above, both as the library ``fluids`` solves them.
    """
    within("reynolds", reynolds, 0.0, 1e8, unit="(Reynolds number)", above=True)
    within("relative_roughness", relative_roughness, 0.0, 0.05, unit="(roughness over bore)")
    from fluids.friction import friction_factor as solved  # here, since most of Holdair never needs it

    each = np.vectorize(lambda number: solved(Re=number, eD=relative_roughness), otypes=[np.float64])
    factor: Value = shaped(each(reynolds), reynolds)
    return factor


def darcy_weisbach_pa(
    flow_m3_s: Value,
    bore_m: float,
    length_m: float,
    roughness_m: float,
    density_kg_m3: float,
    viscosity_pa_s: float,
) -> Value:
    """Pressure that friction takes from water of any temperature in a hose, in layers or turbulent.

    The one to use for hot or near-freezing water and small bores; Hazen-Williams stands for 60 degF.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        bore_m: inside diameter, > 0 and at most 1. [m]
        length_m: length, >= 0. [m]
        roughness_m: height of the wall's roughness, 0 to 1/20 of the bore: 1.5e-6 smooth rubber or PVC. [m]
        density_kg_m3: of the water, > 0. [kg/m3]
        viscosity_pa_s: of the water, > 0. [Pa s]

    Returns:
        Pressure loss. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: Darcy-Weisbach, f (L/d) rho v^2 / 2.
    """
    within("length_m", length_m, 0.0, unit="m")
    number = reynolds(flow_m3_s, bore_m, density_kg_m3, viscosity_pa_s)
    within("roughness_m", roughness_m, 0.0, bore_m / 20, unit="m")
    # At rest the factor is without bound and the loss is none; the floor lies far below any flow that can be read.
    factor = friction_factor(np.maximum(number, 1e-9), roughness_m / bore_m)
    dynamic = density_kg_m3 * velocity_m_s(flow_m3_s, bore_m) ** 2 / 2
    loss: Value = shaped(factor * (length_m / bore_m) * dynamic, flow_m3_s)
    return loss


def fire_loss_pa(flow_m3_s: Value, length_m: float, coefficient: float) -> Value:
    """Friction loss by the fire service's coefficient: for fire flows, not for garden hose.

    With the coefficient in use for 3/4 in booster hose (1100) it reads 15 to 45 % low at 2 to 10 gpm: under 1 in use
    hazen_williams_pa or darcy_weisbach_pa.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        length_m: length, >= 0. [m]
        coefficient: of the hose, > 0: 24 for 1-1/2 in, 15.5 for 1-3/4 in, 2 for 2-1/2 in. [psi per 100 ft at 100 gpm]

    Returns:
        Pressure loss. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: FL = C (Q/100)^2 (L/100), in gpm, ft and psi, as fire-service training prints it.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("length_m", length_m, 0.0, unit="m")
    within("coefficient", coefficient, 0.0, unit="psi per 100 ft at 100 gpm", above=True)
    loss: Value = coefficient * _PSI * (flow_m3_s / _FIRE_FLOW) ** 2 * (length_m / _FIRE_LENGTH)
    return loss


def fitting_loss_pa(flow_m3_s: Value, loss_pa: float, at_m3_s: float) -> Value:
    """Pressure that a coupling, valve, strainer, heater or injector takes, from the loss its maker states at one flow.

    A backflow preventer takes its opening pressure even at little flow: state its loss near the flow in use.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        loss_pa: loss stated, >= 0. [Pa]
        at_m3_s: flow at which it is stated, > 0. [m3/s]

    Returns:
        Pressure loss. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: turbulent losses go with the square of the flow.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("loss_pa", loss_pa, 0.0, unit="Pa")
    within("at_m3_s", at_m3_s, 0.0, unit="m3/s", above=True)
    loss: Value = loss_pa * (flow_m3_s / at_m3_s) ** 2
    return loss


def k_loss_pa(flow_m3_s: Value, bore_m: float, k: float, density_kg_m3: float = WATER_KG_M3) -> Value:
    """Pressure that fittings take, from the sum of their resistance coefficients.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        bore_m: inside diameter the coefficients refer to, > 0 and at most 1. [m]
        k: sum of the resistance coefficients, >= 0. [-]
        density_kg_m3: of the water, > 0. [kg/m3]

    Returns:
        Pressure loss. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: K rho v^2 / 2, as Crane TP-410 defines K.
    """
    within("k", k, 0.0, unit="(resistance coefficient)")
    within("density_kg_m3", density_kg_m3, 0.0, unit="kg/m3", above=True)
    loss: Value = k * density_kg_m3 / 2 * velocity_m_s(flow_m3_s, bore_m) ** 2
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


def spray_k_m3_s_pa05(flow_m3_s: Value, head_pa: Value | float) -> Value:
    """Flow factor of a spray head or nozzle, from one bucket and one gauge.

    Args:
        flow_m3_s: flow read, scalar or shape (n,), > 0. [m3/s]
        head_pa: pressure at the head while it flows, > 0. [Pa gauge]

    Returns:
        Flow factor. [m3/(s Pa^0.5)]

    Raises:
        ValueError: an argument is out of range.

    Source: spray_flow_m3_s turned round.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s", above=True)
    within("head_pa", head_pa, 0.0, unit="Pa", above=True)
    k: Value = flow_m3_s / head_pa**0.5
    return k


def nozzle_flow_m3_s(bore_m: float, head_pa: Value, discharge: float = 1.0, constant: float = 29.84) -> Value:
    """Flow of a smooth-bore tip or a hydrant outlet by its pitot pressure.

    Args:
        bore_m: diameter of the outlet, > 0 and at most 1. [m]
        head_pa: pitot or nozzle pressure, scalar or shape (n,), >= 0. [Pa gauge]
        discharge: discharge coefficient, > 0 and at most 1. [-]
        constant: of water in these units, > 0: 29.84, also printed 29.83 and 29.7. [gpm/(in2 psi^0.5)]

    Returns:
        Flow. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: 29.84 c d^2 sqrt(P), NFPA 291; Torricelli's law in gpm, in and psi.
    """
    within("bore_m", bore_m, 0.0, 1.0, unit="m", above=True)
    within("head_pa", head_pa, 0.0, unit="Pa")
    within("discharge", discharge, 0.0, 1.0, unit="(discharge coefficient)", above=True)
    within("constant", constant, 0.0, unit="gpm/(in2 psi^0.5)", above=True)
    flow: Value = constant * _GPM * discharge * (bore_m / _INCH) ** 2 * (head_pa / _PSI) ** 0.5
    return flow


def run_loss_pa(hoses: Sequence[Hose], flow_m3_s: float, fittings: Sequence[Fitting] = ()) -> float:
    """Friction of hoses joined end to end, with what their fittings take.

    Args:
        hoses: lengths in series, each with bore and length. [m]
        flow_m3_s: flow through all of them, >= 0. [m3/s]
        fittings: in the same run, each with its loss at a stated flow. [Pa at m3/s]

    Returns:
        Sum of the losses; a coupling not named as a fitting is not counted. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: losses in series add; each by hazen_williams_pa or fitting_loss_pa.
    """
    friction = sum(hazen_williams_pa(flow_m3_s, hose.bore_m, hose.length_m, hose.c) for hose in hoses)
    return friction + sum(fitting_loss_pa(flow_m3_s, fitting.loss_pa, fitting.at_m3_s) for fitting in fittings)


def parallel_split(flow_m3_s: float, resistances: Sequence[float], exponent: float = 2.0) -> Split:
    """How a flow parts between branches that leave one point and meet at another of the same height.

    Args:
        flow_m3_s: flow in all, >= 0. [m3/s]
        resistances: of each branch, its loss at 1 m3/s (fire_loss_pa or hazen_williams_pa of 1.0), > 0. [Pa]
        exponent: power of the flow that the losses go with, 1 to 2: 2 fire service, 1.85 Hazen-Williams. [-]

    Returns:
        Flow of each branch and the loss that is the same in all. [m3/s, Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: equal losses r Q^n, so that Q goes with r^(-1/n).
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("exponent", exponent, 1.0, 2.0, unit="(power of the flow)")
    if not resistances:
        raise ValueError("resistances must hold at least one branch, got none")
    for resistance in resistances:
        within("resistances", resistance, 0.0, unit="Pa at 1 m3/s", above=True)
    ease = [resistance ** (-1 / exponent) for resistance in resistances]
    loss = (flow_m3_s / sum(ease)) ** exponent
    return Split(tuple(flow_m3_s * share / sum(ease) for share in ease), loss)


def pump_discharge_pa(
    nozzle_pa: float,
    losses_pa: Sequence[float],
    appliance_pa: float = 0.0,
    height_m: float = 0.0,
    density_kg_m3: float = WATER_KG_M3,
) -> float:
    """Pressure that a pump must give at its outlet to feed a nozzle.

    Args:
        nozzle_pa: pressure wanted at the nozzle, >= 0. [Pa gauge]
        losses_pa: of the hoses, in series, each >= 0. [Pa]
        appliance_pa: taken by wyes, valves and other appliances, >= 0. [Pa]
        height_m: nozzle above pump. [m]
        density_kg_m3: of the water, > 0; a field rule of so many psi a foot stands for one. [kg/m3]

    Returns:
        Pump discharge pressure. [Pa gauge]

    Raises:
        ValueError: an argument is out of range.

    Source: PDP = NP + FL + AL +/- EP, as fire-service training prints it.
    """
    within("nozzle_pa", nozzle_pa, 0.0, unit="Pa")
    within("appliance_pa", appliance_pa, 0.0, unit="Pa")
    for loss_pa in losses_pa:
        within("losses_pa", loss_pa, 0.0, unit="Pa")
    return nozzle_pa + sum(losses_pa) + appliance_pa + elevation_pa(height_m, density_kg_m3)


def pump_power_w(
    flow_m3_s: Value,
    head_m: Value | float,
    efficiency: float,
    density_kg_m3: float = WATER_KG_M3,
) -> Value:
    """Power that a pump takes at its shaft, or from the wire where the motor's efficiency is in the figure.

    Args:
        flow_m3_s: flow, scalar or shape (n,), >= 0. [m3/s]
        head_m: head it adds, >= 0. [m]
        efficiency: of the pump, or of pump, motor and drive together, > 0 and at most 1. [ratio]
        density_kg_m3: of the water, > 0. [kg/m3]

    Returns:
        Power. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: rho g Q H / efficiency.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("head_m", head_m, 0.0, unit="m")
    within("efficiency", efficiency, 0.0, 1.0, unit="(a ratio)", above=True)
    within("density_kg_m3", density_kg_m3, 0.0, unit="kg/m3", above=True)
    return flow_m3_s * head_m * (density_kg_m3 * GRAVITY_M_S2 / efficiency)


def operating_point(
    supply_pa: float,
    hoses: Sequence[Hose],
    k_m3_s_pa05: float,
    height_m: float = 0.0,
    fittings: Sequence[Fitting] = (),
) -> OperatingPoint:
    """Flow and head pressure that settle when a supply feeds a spray head through hoses.

    Args:
        supply_pa: pressure at the supply while it flows (a static pressure is too much), > 0. [Pa gauge]
        hoses: lengths in series between supply and head, each with bore and length. [m]
        k_m3_s_pa05: flow factor of the head, > 0. [m3/(s Pa^0.5)]
        height_m: head above supply. [m]
        fittings: in the run, each with its loss at a stated flow. [Pa at m3/s]

    Returns:
        Flow and pressure at the head; both 0 where the supply does not lift the water. [m3/s, Pa gauge]

    Raises:
        ValueError: an argument is out of range.

    Source: supply - rho g z - losses(Q) - (Q/K)^2 = 0, which falls with Q and so has one root.
    """
    within("supply_pa", supply_pa, 0.0, unit="Pa", above=True)
    within("k_m3_s_pa05", k_m3_s_pa05, 0.0, unit="m3/(s Pa^0.5)", above=True)
    lifted = supply_pa - elevation_pa(height_m)
    if lifted <= 0:
        return OperatingPoint(0.0, 0.0)

    def spare(flow: float) -> float:
        return lifted - run_loss_pa(hoses, flow, fittings) - (flow / k_m3_s_pa05) ** 2

    from scipy.optimize import brentq  # here, since it takes a second to load and most of Holdair never needs it

    # Without any hose the head would pass this much; with hoses it passes less.
    free = spray_flow_m3_s(k_m3_s_pa05, lifted)
    flow = float(brentq(spare, 0.0, free * (1 + 1e-9), xtol=1e-12)) if hoses or fittings else free
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
    return float(tested_m3_s * ((static_pa - wanted_pa) / (static_pa - residual_pa)) ** _SUPPLY_POWER)


def supply_pressure_pa(flow_m3_s: Value, tested_m3_s: float, static_pa: float, residual_pa: float) -> Value:
    """Pressure that a hydrant or tap has left while it flows.

    Args:
        flow_m3_s: flow drawn, scalar or shape (n,), >= 0. [m3/s]
        tested_m3_s: flow of the test, > 0. [m3/s]
        static_pa: pressure with nothing flowing, at least residual_pa (equal: it does not droop). [Pa gauge]
        residual_pa: pressure at the tested flow, > 0. [Pa gauge]

    Returns:
        Pressure left; below 0 where the supply cannot give that flow. [Pa gauge]

    Raises:
        ValueError: an argument is out of range.

    Source: NFPA 291 projection turned round, Ps - (Ps - Pr) (Q/Qt)^(1/0.54).
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("tested_m3_s", tested_m3_s, 0.0, unit="m3/s", above=True)
    within("residual_pa", residual_pa, 0.0, unit="Pa", above=True)
    within("static_pa", static_pa, residual_pa, unit="Pa")
    left: Value = static_pa - (static_pa - residual_pa) * (flow_m3_s / tested_m3_s) ** (1 / _SUPPLY_POWER)
    return left


def injector_dose_m3_s(flow_m3_s: Value, ratio: Value | float) -> Value:
    """Concentrate that an injector draws.

    Args:
        flow_m3_s: flow of water through it, scalar or shape (n,), >= 0. [m3/s]
        ratio: parts of water to one of concentrate, at least 1: 128 is 1 oz to the gallon. [-]

    Returns:
        Draw of concentrate. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, flow / ratio.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("ratio", ratio, 1.0, unit="(parts of water to one)")
    return flow_m3_s / ratio


def stock_time_s(stock_m3: float, draw_m3_s: float) -> float:
    """How long a stock of liquid lasts at a steady draw.

    Args:
        stock_m3: stock, >= 0. [m3]
        draw_m3_s: draw, >= 0. [m3/s]

    Returns:
        Time; without end where nothing is drawn. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, stock / draw.
    """
    within("stock_m3", stock_m3, 0.0, unit="m3")
    within("draw_m3_s", draw_m3_s, 0.0, unit="m3/s")
    return stock_m3 / draw_m3_s if draw_m3_s > 0 else math.inf
