"""Heating water on demand: what a heater gives, how much flow that carries, and how warm the head is."""

from typing import Final, Literal, NamedTuple

from shared import units
from shared.formulas._ranges import Value, temperature, within
from shared.formulas.propane import HEATING_VALUE_J_KG

# The trade's rule BTU/h = 500 x gpm x degF, 8.33 lb/gal x 60 min/h x 1 BTU/lb degF rounded. Against the enthalpy of
# water it is right to 0.4 % from 40 to 110 degF when the flow is measured cold. [J/(m3 K)]
HEAT_PER_VOLUME: Final = 500 * units.to_si(1.0, "BTU/h") / (units.to_si(1.0, "gpm") * units.to_si(1.0, "ddegF"))


class FlowLimit(NamedTuple):
    """The most a heater can pass at the wanted rise, and what holds it there. [m3/s]"""

    flow_m3_s: float
    by: Literal["heat", "flow cap"]


def heat_output_w(flow_m3_s: Value, rise_k: Value | float) -> Value:
    """Heat that a flow of water carries away at a rise in temperature.

    Args:
        flow_m3_s: flow, measured on the cold side, scalar or shape (n,), >= 0. [m3/s]
        rise_k: outlet less inlet, >= 0. [K]

    Returns:
        Heat delivered to the water. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: the trade's 500 rule (from memory); within 0.4 % of IAPWS-95 enthalpies from 40 to 110 degF.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s")
    within("rise_k", rise_k, 0.0, unit="K")
    return HEAT_PER_VOLUME * flow_m3_s * rise_k


def heater_efficiency(
    output_w: Value,
    fuel_kg: Value | float,
    duration_s: Value | float,
    heating_value_j_kg: float = HEATING_VALUE_J_KG,
) -> Value:
    """Heat to the water over heat in the fuel, as measured in a run with the cylinder on a scale.

    Args:
        output_w: mean heat to the water, scalar or shape (n,), >= 0. [W]
        fuel_kg: fuel burned, by weight before and after, > 0. [kg]
        duration_s: length of the run, > 0. [s]
        heating_value_j_kg: of the fuel, on the basis the efficiency is reported on, > 0. [J/kg]

    Returns:
        Efficiency on that basis; above 1 means that a reading is wrong, and is for the caller to judge. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: output over input, by definition.
    """
    within("output_w", output_w, 0.0, unit="W")
    within("fuel_kg", fuel_kg, 0.0, unit="kg", above=True)
    within("duration_s", duration_s, 0.0, unit="s", above=True)
    within("heating_value_j_kg", heating_value_j_kg, 0.0, unit="J/kg", above=True)
    return output_w * duration_s / (fuel_kg * heating_value_j_kg)


def flow_deliverable_m3_s(output_w: Value, rise_k: Value | float) -> Value:
    """Flow that a heat output can raise by a wanted rise.

    Args:
        output_w: heat to the water, scalar or shape (n,), >= 0. [W]
        rise_k: rise wanted, > 0. [K]

    Returns:
        Flow on the cold side. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: the trade's 500 rule (from memory), see heat_output_w.
    """
    within("output_w", output_w, 0.0, unit="W")
    within("rise_k", rise_k, 0.0, unit="K", above=True)
    return output_w / (HEAT_PER_VOLUME * rise_k)


def flow_limit(output_w: float, rise_k: float, flow_cap_m3_s: float) -> FlowLimit:
    """Flow that a heater can raise by a wanted rise and can pass, and which of the two binds.

    Args:
        output_w: heat to the water, >= 0. [W]
        rise_k: rise wanted, > 0. [K]
        flow_cap_m3_s: the most the heater passes at any temperature, > 0. [m3/s]

    Returns:
        The flow and what holds it there. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: the lesser of flow_deliverable_m3_s and the plate.
    """
    within("flow_cap_m3_s", flow_cap_m3_s, 0.0, unit="m3/s", above=True)
    by_heat = flow_deliverable_m3_s(output_w, rise_k)
    return FlowLimit(flow_cap_m3_s, "flow cap") if flow_cap_m3_s < by_heat else FlowLimit(by_heat, "heat")


def head_temperature_k(
    output_w: Value,
    flow_m3_s: Value | float,
    supply_k: Value | float,
    hose_loss_k: Value | float,
) -> Value:
    """Temperature at the shower head when a heat output meets a flow.

    It knows no set-point: a heater holds its set-point by burning less, so the caller takes the lesser of the two.

    Args:
        output_w: heat to the water, scalar or shape (n,), >= 0. [W]
        flow_m3_s: flow through the heater, > 0. [m3/s]
        supply_k: temperature of the supply, 200 to 400. [K]
        hose_loss_k: drop between heater and head, a difference, >= 0. [K]

    Returns:
        Temperature at the head. [K]

    Raises:
        ValueError: an argument is out of range.

    Source: the trade's 500 rule (from memory), see heat_output_w.
    """
    within("output_w", output_w, 0.0, unit="W")
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s", above=True)
    temperature("supply_k", supply_k)
    within("hose_loss_k", hose_loss_k, 0.0, unit="K")
    return output_w / (HEAT_PER_VOLUME * flow_m3_s) + supply_k - hose_loss_k


def hot_share(t_hot_k: float, t_cold_k: float, t_wanted_k: float) -> float:
    """Share of the flow that must come from the hot side of a mixing valve.

    Args:
        t_hot_k: hot side, above the cold side, 200 to 400. [K]
        t_cold_k: cold side, 200 to 400. [K]
        t_wanted_k: mixed temperature, between the two. [K]

    Returns:
        Hot over total flow, 0 to 1. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: enthalpy balance of two streams of one liquid, (Tw - Tc)/(Th - Tc).
    """
    temperature("t_cold_k", t_cold_k)
    temperature("t_hot_k", t_hot_k)
    within("t_hot_k", t_hot_k, t_cold_k, unit="K", above=True)
    within("t_wanted_k", t_wanted_k, t_cold_k, t_hot_k, unit="K")
    return (t_wanted_k - t_cold_k) / (t_hot_k - t_cold_k)
