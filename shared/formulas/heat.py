"""Heating water on demand: what a heater gives, how much flow that carries, how warm the head is and may be."""

import math
from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

import numpy as np

from shared import units
from shared.formulas._ranges import FloatArray, Value, shaped, temperature, whole, within
from shared.formulas.propane import HEATING_VALUE_J_KG

# The trade's rule BTU/h = 500 x gpm x degF, 8.33 lb/gal x 60 min/h x 1 BTU/lb degF rounded. Against the enthalpy of
# water it is right to 0.4 % from 40 to 110 degF when the flow is measured cold. [J/(m3 K)]
HEAT_PER_VOLUME: Final = 500 * units.to_si(1.0, "BTU/h") / (units.to_si(1.0, "gpm") * units.to_si(1.0, "ddegF"))

FREEZING_K: Final = 273.15
_WATER_HOTTEST_K: Final = 373.15
# Kell (1975): density of water at one atmosphere by degC, a quintic over a line. [kg/m3]
_KELL_ABOVE: Final = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_BELOW: Final = 16.879850e-3
# Osborne, Stimson and Ginnings (1939): heat capacity of water at one atmosphere by degC, a constant, a power of
# (t + 100) and a tenfold decay, all by the 15 degC calorie. [J/(kg K)]
_OSG_UNIT: Final = 4185.5
_OSG_CONSTANT: Final = 0.996185
_OSG_POWER: Final = (0.0002874, 5.26)
_OSG_DECAY: Final = (0.011160, 0.036 * math.log(10.0))

_MONTH_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


class Gate(NamedTuple):
    """One band of temperature at the head: from where it holds, its word, and what it asks of the crew."""

    from_k: float
    above: bool  # the band begins above from_k and not at it
    word: Literal["cold", "cool", "target", "warm", "too hot", "block"]
    says: str
    source: str


# What a crew at the head does, hottest first: the first band that a temperature reaches is its own. It is no verdict: a
# check of the head passes or fails by the catalogue's limits (head_temp, pass 90 to 100 degF, with limits 80 to 105),
# which like these end at 105. 100 to 104 is wanted here for comfort and passes there with limits only; 90 to 98 passes
# there though the crew may still warm it; 70 to 80 fails there and is no more than cool here.
HEAD_GATES: Final = (
    Gate(
        units.to_si(110.0, "degF"),
        True,
        "block",
        "Block the lane: it scalds.",
        "ASSE 1070 as adopted in plumbing codes: tempered water at most 110 degF",
    ),
    Gate(
        units.to_si(105.0, "degF"),
        True,
        "too hot",
        "Too hot for the lane: mix it down before anyone goes in.",
        "common practice, 105 degF",
    ),
    Gate(
        units.to_si(104.0, "degF"),
        True,
        "warm",
        "At the upper edge: watch the thermometer.",
        "common practice, target 98 to 104 degF",
    ),
    Gate(
        units.to_si(98.0, "degF"),
        False,
        "target",
        "As wanted.",
        "common practice, target 98 to 104 degF; pediatric decontamination guidance, about 100 degF",
    ),
    Gate(
        units.to_si(70.0, "degF"),
        False,
        "cool",
        "Cooler than wanted: one lane fewer is warmer.",
        "common practice, target 98 to 104 degF",
    ),
    Gate(
        -math.inf,
        False,
        "cold",
        "Cold: hypothermia warning, warm shelter and blankets at the far end.",
        "common practice, 70 degF",
    ),
)
# Hottest water that may come straight from a heater to a head.
DIRECT_MOST_K: Final = units.to_si(105.0, "degF")

# Exposure that gives most adults a third-degree burn: consumer safety commission's tap-water sheet. Other printed sets
# give 5 to 10 min at 120 degF; the shortest is kept.
BURN_TIMES: Final = (
    (units.to_si(120.0, "degF"), 300.0),
    (units.to_si(130.0, "degF"), 30.0),
    (units.to_si(140.0, "degF"), 6.0),
    (units.to_si(150.0, "degF"), 2.0),
)
# Two ways of reaching one temperature may differ by rounding; so much is still the same reading. [K]
_SAME_K: Final = 1e-6
_SAME_FLOW: Final = 1e-12  # as a share of it

# Elevation up to which a burner keeps its plate, and what it loses for each metre counted from there.
DERATE_FREE_M: Final = units.to_si(2000.0, "ft")
DERATE_PER_M: Final = 0.04 / units.to_si(1000.0, "ft")


class HeadConnection(NamedTuple):
    """Whether a head may hang on a heater's outlet without mixing, and why."""

    direct: bool
    why: str


class FlowLimit(NamedTuple):
    """The most a heater can pass at the wanted rise, and what holds it there. [m3/s]"""

    flow_m3_s: float
    by: Literal["heat", "flow cap"]


def heat_output_w(flow_m3_s: Value, rise_k: Value | float) -> Value:
    """Heat that a flow of water carries away at a rise in temperature.

    Args:
        flow_m3_s: flow, measured on the cold side, scalar or shape (n,), > 0. [m3/s]
        rise_k: outlet less inlet, >= 0. [K]

    Returns:
        Heat delivered to the water. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: the trade's 500 rule (from memory); within 0.4 % of IAPWS-95 enthalpies from 40 to 110 degF.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s", above=True)
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
        rise_k: rise wanted, >= 0; none where the supply is as warm as wanted, and the plate alone binds. [K]
        flow_cap_m3_s: the most the heater passes at any temperature, > 0. [m3/s]

    Returns:
        The flow and what holds it there. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: the lesser of flow_deliverable_m3_s and the plate.
    """
    within("flow_cap_m3_s", flow_cap_m3_s, 0.0, unit="m3/s", above=True)
    within("output_w", output_w, 0.0, unit="W")
    within("rise_k", rise_k, 0.0, unit="K")
    by_heat = flow_deliverable_m3_s(output_w, rise_k) if rise_k > 0.0 else math.inf
    if flow_cap_m3_s < by_heat and not math.isclose(flow_cap_m3_s, by_heat, rel_tol=_SAME_FLOW):
        return FlowLimit(flow_cap_m3_s, "flow cap")
    return FlowLimit(by_heat, "heat")


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


def water_density_kg_m3(t_k: Value) -> Value:
    """Density of water at one atmosphere.

    Args:
        t_k: temperature, scalar or shape (n,), 273.15 to 373.15. [K]

    Returns:
        Density; within 0.002 % of IAPWS-95. [kg/m3]

    Raises:
        ValueError: t_k is out of range.

    Source: Kell, J. Chem. Eng. Data 20 (1975) 97 (coefficients from memory; the tests hold them to IAPWS-95).
    """
    t = _celsius("t_k", t_k)
    result: Value = shaped(np.polynomial.polynomial.polyval(t, _KELL_ABOVE) / (1.0 + _KELL_BELOW * t), t_k)
    return result


def water_heat_capacity_j_kg_k(t_k: Value) -> Value:
    """Heat capacity of water at one atmosphere and constant pressure.

    Args:
        t_k: temperature, scalar or shape (n,), 273.15 to 373.15. [K]

    Returns:
        Heat capacity; within 0.1 % of IAPWS-95. [J/(kg K)]

    Raises:
        ValueError: t_k is out of range.

    Source: Osborne, Stimson and Ginnings, J. Res. NBS 23 (1939) 197 (from memory; the tests hold it to IAPWS-95).
    """
    t = _celsius("t_k", t_k)
    (a, power), (b, decay) = _OSG_POWER, _OSG_DECAY
    found = _OSG_UNIT * (_OSG_CONSTANT + a * (t / 100.0 + 1.0) ** power + b * np.exp(-decay * t))
    result: Value = shaped(found, t_k)
    return result


def water_heat_j_kg(t_cold_k: Value | float, t_hot_k: Value | float) -> Value:
    """Heat that a mass of water takes up between two temperatures.

    Args:
        t_cold_k: at the start, scalar or shape (n,), 273.15 to 373.15. [K]
        t_hot_k: at the end, scalar or shape (n,), 273.15 to 373.15. [K]

    Returns:
        Difference of enthalpy; negative where the water cools. [J/kg]

    Raises:
        ValueError: an argument is out of range.

    Source: water_heat_capacity_j_kg_k integrated in closed form.
    """
    cold, hot = _celsius("t_cold_k", t_cold_k), _celsius("t_hot_k", t_hot_k)
    result: Value = shaped(_enthalpy(hot) - _enthalpy(cold), t_cold_k, t_hot_k)
    return result


def heat_output_exact_w(flow_m3_s: Value, t_in_k: Value | float, t_out_k: Value | float) -> Value:
    """Heat that a flow of water carries away, by the properties of water at its temperatures.

    Args:
        flow_m3_s: flow, measured on the cold side, scalar or shape (n,), > 0. [m3/s]
        t_in_k: temperature of the inlet, 273.15 to 373.15. [K]
        t_out_k: temperature of the outlet, t_in_k to 373.15. [K]

    Returns:
        Heat delivered to the water; within 0.1 % of IAPWS-95. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: energy balance, Q rho(Tin) (h(Tout) - h(Tin)), see water_density_kg_m3 and water_heat_j_kg.
    """
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s", above=True)
    within("t_out_k - t_in_k", np.asarray(t_out_k) - np.asarray(t_in_k), 0.0, unit="K")
    rise = _enthalpy(_celsius("t_out_k", t_out_k)) - _enthalpy(_celsius("t_in_k", t_in_k))
    density = water_density_kg_m3(np.asarray(t_in_k, dtype=np.float64))
    result: Value = shaped(flow_m3_s * density * rise, flow_m3_s, t_in_k, t_out_k)
    return result


def batch_heat_j(volume_m3: Value, density_kg_m3: float, heat_capacity_j_kg_k: float, rise_k: Value | float) -> Value:
    """Heat that a batch of water takes, by stated constants.

    Args:
        volume_m3: of water, scalar or shape (n,), >= 0. [m3]
        density_kg_m3: of water, > 0. [kg/m3]
        heat_capacity_j_kg_k: of water, > 0. [J/(kg K)]
        rise_k: rise wanted, >= 0. [K]

    Returns:
        Heat. [J]

    Raises:
        ValueError: an argument is out of range.

    Source: m cp dT.
    """
    within("volume_m3", volume_m3, 0.0, unit="m3")
    within("density_kg_m3", density_kg_m3, 0.0, unit="kg/m3", above=True)
    within("heat_capacity_j_kg_k", heat_capacity_j_kg_k, 0.0, unit="J/(kg K)", above=True)
    within("rise_k", rise_k, 0.0, unit="K")
    return volume_m3 * density_kg_m3 * heat_capacity_j_kg_k * rise_k


def hose_conductance_w_m_k(
    bore_m: float,
    layers: Sequence[tuple[float, float]],
    inside_w_m2_k: float,
    outside_w_m2_k: float,
) -> float:
    """Heat that a metre of hose passes for each kelvin between water and air.

    Args:
        bore_m: inside diameter, > 0. [m]
        layers: thickness > 0 and conductivity > 0 of each layer from the inside, wall and sleeve. [m, W/(m K)]
        inside_w_m2_k: film of the water on the bore, > 0; hundreds to thousands in a running hose. [W/(m2 K)]
        outside_w_m2_k: film of the air on the outside, > 0; about 10 in still air, 25 and more in wind. [W/(m2 K)]

    Returns:
        Conductance of a metre. [W/(m K)]

    Raises:
        ValueError: an argument is out of range.

    Source: cylinders in series, 1/(1/(pi d h) + sum ln(d2/d1)/(2 pi k) + 1/(pi D H)); usual films from memory.
    """
    within("bore_m", bore_m, 0.0, unit="m", above=True)
    within("inside_w_m2_k", inside_w_m2_k, 0.0, unit="W/(m2 K)", above=True)
    within("outside_w_m2_k", outside_w_m2_k, 0.0, unit="W/(m2 K)", above=True)
    width = bore_m
    resistance = 1.0 / (math.pi * width * inside_w_m2_k)
    for thickness_m, conductivity_w_m_k in layers:
        within("thickness of a layer", thickness_m, 0.0, unit="m", above=True)
        within("conductivity of a layer", conductivity_w_m_k, 0.0, unit="W/(m K)", above=True)
        wider = width + 2.0 * thickness_m
        resistance += math.log(wider / width) / (2.0 * math.pi * conductivity_w_m_k)
        width = wider
    return 1.0 / (resistance + 1.0 / (math.pi * width * outside_w_m2_k))


def hose_outlet_k(
    t_in_k: float,
    t_air_k: Value | float,
    flow_m3_s: Value | float,
    length_m: Value | float,
    conductance_w_m_k: float,
) -> Value:
    """Temperature of the water at the end of a hose in air.

    Args:
        t_in_k: temperature of the water going in, 273.15 to 373.15. [K]
        t_air_k: temperature of the air, scalar or shape (n,), 200 to 400. [K]
        flow_m3_s: flow at t_in_k, scalar or shape (n,), > 0. [m3/s]
        length_m: of the hose, scalar or shape (n,), >= 0. [m]
        conductance_w_m_k: of a metre of it, >= 0, see hose_conductance_w_m_k. [W/(m K)]

    Returns:
        Temperature at the head; sun on the hose and the heat of the hose itself, at the start, are left out. [K]

    Raises:
        ValueError: an argument is out of range.

    Source: steady heat balance, m cp dT/dx = -G (T - Tair), T = Tair + (Tin - Tair) exp(-G L/(m cp)); m and cp at Tin.
    """
    temperature("t_air_k", t_air_k)
    within("flow_m3_s", flow_m3_s, 0.0, unit="m3/s", above=True)
    within("length_m", length_m, 0.0, unit="m")
    within("conductance_w_m_k", conductance_w_m_k, 0.0, unit="W/(m K)")
    carried = flow_m3_s * water_density_kg_m3(t_in_k) * water_heat_capacity_j_kg_k(t_in_k)
    left = np.exp(-conductance_w_m_k * np.asarray(length_m) / carried)
    result: Value = shaped(t_air_k + (t_in_k - np.asarray(t_air_k)) * left, t_air_k, flow_m3_s, length_m)
    return result


def supply_water_k(
    annual_mean_k: float,
    monthly_range_k: float,
    day_of_year: Value,
    *,
    southern: bool = False,
) -> Value:
    """Temperature of the water main on a day of the year, from the climate of the place.

    About 5 degF either way for one city. Hydrants on deep mains lag more, tanks and surface lines follow the air, and a
    measured inlet replaces it.

    Args:
        annual_mean_k: mean of the air over a year, 240 to 320. [K]
        monthly_range_k: mean of the warmest month less that of the coldest, a difference, 0 to 60. [K]
        day_of_year: 1 for 1 January, scalar or shape (n,), 1 to 366. [days]
        southern: of the equator: seasons stand half a year apart. [-]

    Returns:
        Temperature of the supply, never below freezing. [K]

    Raises:
        ValueError: an argument is out of range.

    Source: Burch and Christensen, ASES 2007 (abstract read), with the coefficients of two public building-model codes:
        T = Ta + 6 + (0.4 + 0.01 (Ta - 44)) (range/2) sin(0.986 (day - 15 - lag) - 90 deg), lag = 35 - (Ta - 44), degF.
    """
    within("annual_mean_k", annual_mean_k, 240.0, 320.0, unit="K")
    within("monthly_range_k", monthly_range_k, 0.0, 60.0, unit="K")
    within("day_of_year", day_of_year, 1.0, 366.0, unit="days")
    mean_f, range_f = units.from_si(annual_mean_k, "degF"), units.from_si(monthly_range_k, "ddegF")
    ratio, lag = 0.4 + 0.01 * (mean_f - 44.0), 35.0 - (mean_f - 44.0)
    phase = np.radians(0.986 * (np.asarray(day_of_year) - 15.0 - lag) + (90.0 if southern else -90.0))
    found = units.to_si(np.asarray(mean_f + 6.0 + ratio * range_f / 2.0 * np.sin(phase)), "degF")
    result: Value = shaped(np.maximum(found, FREEZING_K), day_of_year)
    return result


def supply_water_in_month_k(
    annual_mean_k: float,
    monthly_range_k: float,
    month: int,
    *,
    southern: bool = False,
) -> float:
    """Temperature of the water main in a month, the mean over its days.

    Args:
        annual_mean_k: mean of the air over a year, 240 to 320. [K]
        monthly_range_k: mean of the warmest month less that of the coldest, a difference, 0 to 60. [K]
        month: 1 for January, 1 to 12. [-]
        southern: of the equator. [-]

    Returns:
        Temperature of the supply, never below freezing. [K]

    Raises:
        ValueError: an argument is out of range.

    Source: supply_water_k, averaged over the days of a common year.
    """
    month = whole("month", month, 1, 12)
    first = 1 + sum(_MONTH_DAYS[: month - 1])
    days = np.arange(first, first + _MONTH_DAYS[month - 1], dtype=np.float64)
    return float(np.mean(supply_water_k(annual_mean_k, monthly_range_k, days, southern=southern)))


def head_gate(t_head_k: float) -> Gate:
    """The band that a temperature at the head falls in, and what it asks of the crew.

    Args:
        t_head_k: temperature at the head, after two minutes of flow, 273.15 to 373.15. [K]

    Returns:
        A row of HEAD_GATES. [K]

    Raises:
        ValueError: t_head_k is out of range.

    Source: HEAD_GATES, each row with its own; what passes a check is for the catalogue's limits, not for this.
    """
    _celsius("t_head_k", t_head_k)
    for gate in HEAD_GATES[:-1]:
        if t_head_k > gate.from_k + _SAME_K if gate.above else t_head_k >= gate.from_k - _SAME_K:
            return gate
    return HEAD_GATES[-1]


def burn_time_s(t_k: Value) -> Value:
    """Exposure to hot water that gives most adults a third-degree burn.

    Children and elders burn sooner, and second-degree burns come earlier still.

    Args:
        t_k: temperature of the water, scalar or shape (n,), 120 to 150 degF, 322.039 to 338.706. [K]

    Returns:
        Time between the published points by a straight line in the logarithm of time. [s]

    Raises:
        ValueError: t_k is out of range; for cooler water no time is published, which is no leave to use it.

    Source: consumer product safety commission's tap-water scald sheet (read as reprinted): 120 degF 5 min, 130 degF
        30 s, 140 degF 6 s, 150 degF 2 s.
    """
    at, seconds = np.array(BURN_TIMES).T
    within("t_k", t_k, at[0] - _SAME_K, at[-1] + _SAME_K, unit="K")
    result: Value = shaped(np.exp(np.interp(np.asarray(t_k), at, np.log(seconds))), t_k)
    return result


def head_connection(set_k: float) -> HeadConnection:
    """Whether a head may hang on a heater set to a temperature without a mixing valve between, and why.

    A set-point is what the outlet comes to, so a head that hangs straight on it gets that, or more when flow falls.

    Args:
        set_k: set temperature of the heater's outlet, 273.15 to 373.15. [K]

    Returns:
        The answer, and the reason in one sentence. [-]

    Raises:
        ValueError: set_k is out of range.

    Source: HEAD_GATES (105 degF at most without mixing) and burn_time_s.
    """
    _celsius("set_k", set_k)
    said = f"The heater is set to {_degrees(set_k)} at its outlet"
    if set_k <= DIRECT_MOST_K + _SAME_K:
        return HeadConnection(True, f"{said}: a head may run at up to {_degrees(DIRECT_MOST_K)}.")
    why = f"{said}, and a head may run at up to {_degrees(DIRECT_MOST_K)}: mix it down before a head."
    if set_k >= BURN_TIMES[0][0] - _SAME_K:
        burns = burn_time_s(min(max(set_k, BURN_TIMES[0][0]), BURN_TIMES[-1][0]))
        told = f"{burns / 60:.0f} min" if burns >= 60 else f"{burns:.0f} s"
        why += f" At that temperature most adults have a third-degree burn within {told}."
    return HeadConnection(False, why)


def burner_share(
    elevation_m: Value,
    per_m: float = DERATE_PER_M,
    free_to_m: float = DERATE_FREE_M,
    counted_from_m: float = DERATE_FREE_M,
) -> Value:
    """Share of its plate input that a burner keeps at an elevation.

    The rule is printed in two readings: 4 % for each 1,000 ft above 2,000 ft, or, above 2,000 ft, 4 % for each 1,000 ft
    from sea level (``counted_from_m=0``), which is 8 % harder. The maker's manual comes before either.

    Args:
        elevation_m: above sea level, scalar or shape (n,), -500 to 5,000. [m]
        per_m: share lost for each metre, 0 to 0.001. [1/m]
        free_to_m: elevation up to which nothing is lost. [m]
        counted_from_m: elevation from which the loss is counted, at most free_to_m. [m]

    Returns:
        Share left, 0 to 1. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: common practice (makers' manuals, read); both readings in use.
    """
    within("elevation_m", elevation_m, -500.0, 5000.0, unit="m")
    within("per_m", per_m, 0.0, 0.001, unit="1/m")
    within("free_to_m", free_to_m, unit="m")
    within("counted_from_m", counted_from_m, high=free_to_m, unit="m")
    lost = np.where(np.asarray(elevation_m) > free_to_m, per_m * (np.asarray(elevation_m) - counted_from_m), 0.0)
    result: Value = shaped(np.clip(1.0 - lost, 0.0, 1.0), elevation_m)
    return result


def _celsius(name: str, t_k: float | FloatArray) -> FloatArray:
    """Refuse what is no liquid water at one atmosphere; give degC."""
    within(name, t_k, FREEZING_K, _WATER_HOTTEST_K, unit="K")
    return np.asarray(t_k, dtype=np.float64) - FREEZING_K


def _enthalpy(t: FloatArray) -> FloatArray:
    """Integral of the heat capacity by degC, from anywhere. [J/kg]"""
    (a, power), (b, decay) = _OSG_POWER, _OSG_DECAY
    risen = a * 100.0 / (power + 1.0) * (t / 100.0 + 1.0) ** (power + 1.0) - b / decay * np.exp(-decay * t)
    return np.asarray(_OSG_UNIT * (_OSG_CONSTANT * t + risen))


def _degrees(t_k: float) -> str:
    return f"{round(units.from_si(t_k, 'degF'), 1):g} °F ({units.from_si(t_k, 'degC'):.0f} °C)"
