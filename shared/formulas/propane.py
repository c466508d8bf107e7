"""Propane in a cylinder: how much heat is in it, and how fast it can leave as vapour in the cold."""

import math
from typing import Final

import numpy as np

from shared import units
from shared.formulas._ranges import FloatArray, Value, shaped, temperature, within
from shared.formulas.air import STANDARD_ATMOSPHERE_PA

HEATING_VALUE_J_KG: Final = units.to_si(21548.0, "BTU/lb")  # LP-gas property table, gross less heat of vaporization
FILLING_DENSITY: Final = 0.42  # of water capacity, by weight: 49 CFR 173.304a (from memory)
_CRITICAL_K: Final = 369.89
_CRITICAL_PA: Final = 4.2512e6
_PSAT_TERMS: Final = ((-6.7722, 1.0), (1.6938, 1.5), (-1.3341, 2.2), (-3.1876, 4.8), (0.94937, 6.2))
# Latent heat, A (1 - Tr)^(B + C Tr + D Tr^2), the usual form; its numbers are fitted here. [J/kg]
_LATENT_J_KG: Final = 627_760.0
_LATENT_EXPONENT: Final = (0.622, -0.5771, 0.346)
# The equation is held to this span, where it was checked against an independent equation of state.
_SATURATION_LOW_K: Final = 200.0
_SATURATION_HIGH_K: Final = 360.0

# Most that one upright 100 lb cylinder gives without a stop, in thousand BTU/h: rows 10 to 100 lb left, columns
# 0, 20, 40, 60 and 70 degF. The industry's common chart.
_CHART_K: Final = units.to_si(np.array([0.0, 20.0, 40.0, 60.0, 70.0]), "degF")
_CHART_KG: Final = units.to_si(np.arange(10.0, 101.0, 10.0), "lb")
_CHART_W: Final = units.to_si(
    1000.0
    * np.array(
        [
            [28.0, 38.0, 49.0, 60.0, 66.0],
            [36.0, 51.0, 68.0, 83.0, 92.0],
            [45.0, 66.0, 85.0, 107.0, 118.0],
            [55.0, 79.0, 105.0, 131.0, 141.0],
            [64.0, 94.0, 125.0, 154.0, 167.0],
            [75.0, 109.0, 140.0, 176.0, 192.0],
            [83.0, 122.0, 160.0, 199.0, 214.0],
            [94.0, 137.0, 180.0, 214.0, 236.0],
            [104.0, 152.0, 200.0, 247.0, 277.0],
            [113.0, 167.0, 214.0, 277.0, 300.0],
        ]
    ),
    "BTU/h",
)
_CHART_NOMINAL_KG: Final = units.to_si(100.0, "lb")
_WARMEST_K: Final = float(_CHART_K[-1])

# The heat balance for sizes without a chart: liquid density, heat taken up through the wetted wall, usual bores.
_LIQUID_KG_M3: Final = units.to_si(4.24, "lb") / units.to_si(1.0, "gal")
_WALL_W_M2_K: Final = 1.8 * units.to_si(1.0, "BTU/h") / (units.to_si(1.0, "ft2") * units.to_si(1.0, "ddegF"))
_BORE_NOMINAL_KG: Final = units.to_si(np.array([20.0, 33.0, 100.0]), "lb")
_BORE_M: Final = units.to_si(np.array([12.0, 12.2, 14.5]), "in")
# Under this share of the nominal contents both bases go straight to nothing at empty.
LAST_SHARE: Final = 0.1


def saturation_pressure_pa(t_k: Value) -> Value:
    """Pressure of pure propane's vapour over its liquid.

    Commercial propane may read higher; pure propane is the safe side of "will it feed the heater", and the wrong
    side of "will it vent".

    Args:
        t_k: temperature of the liquid, scalar or shape (n,), 200 to 360. [K]

    Returns:
        Saturation pressure. [Pa absolute]

    Raises:
        ValueError: t_k is out of range.

    Source: Lemmon, McLinden and Wagner (2009), ancillary equation (from memory; agrees with that
        equation of state to 0.05 %).
    """
    within("t_k", t_k, _SATURATION_LOW_K, _SATURATION_HIGH_K, unit="K")
    result: Value = shaped(_CRITICAL_PA * np.exp(_log_reduced_pressure(t_k)), t_k)
    return result


def saturation_temperature_k(abs_pa: Value) -> Value:
    """Temperature at which pure propane's vapour has a pressure.

    Args:
        abs_pa: pressure, scalar or shape (n,), saturation pressure of 200 K to that of 360 K. [Pa absolute]

    Returns:
        Temperature of the liquid. [K]

    Raises:
        ValueError: abs_pa is out of range.

    Source: saturation_pressure_pa solved by Newton's method in ln p, to 1e-9 K.
    """
    within("abs_pa", abs_pa, _SATURATION_LOW_PA, _SATURATION_HIGH_PA, unit="Pa absolute")
    target = np.log(abs_pa / _CRITICAL_PA)
    # ln p is so nearly a straight line in 1/T that the chord of the whole span is a start from which Newton's method
    # cannot leave the span.
    share = (target - _LOG_LOW) / (_LOG_HIGH - _LOG_LOW)
    t = 1.0 / (1.0 / _SATURATION_LOW_K + share * (1.0 / _SATURATION_HIGH_K - 1.0 / _SATURATION_LOW_K))
    for _ in range(20):
        log = _log_reduced_pressure(t)
        step = (log - target) / _log_pressure_slope(t, log)
        t = t - step
        if np.max(np.abs(step), initial=0.0) < 1e-9:
            break
    result: Value = shaped(t, abs_pa)
    return result


def latent_heat_j_kg(t_k: Value) -> Value:
    """Heat that boiling off propane takes up.

    Args:
        t_k: temperature of the liquid, scalar or shape (n,), 200 to 360. [K]

    Returns:
        Latent heat; within 0.2 % of the equation of state over the whole range. [J/kg]

    Raises:
        ValueError: t_k is out of range.

    Source: Watson's correlation with an exponent by temperature, as handbooks print it, its four numbers fitted here
        to the equation of state of Lemmon, McLinden and Wagner (2009) as a reference library computes it.
    """
    within("t_k", t_k, _SATURATION_LOW_K, _SATURATION_HIGH_K, unit="K")
    reduced = t_k / _CRITICAL_K
    b, c, d = _LATENT_EXPONENT
    latent: Value = _LATENT_J_KG * (1.0 - reduced) ** (b + c * reduced + d * reduced**2)
    return latent


def vapour_rate_w(contents_kg: Value, t_k: Value | float, nominal_kg: float) -> Value:
    """Heat, as fuel, that one upright cylinder can give off as vapour for as long as its contents stay.

    A 100 lb cylinder follows the industry's chart, straight lines between its nodes. Another size follows a heat
    balance, U A (T - Tboil) HV / h, over the wall its liquid wets: bores of 12.0, 12.2 and 14.5 in for 20, 33 and
    100 lb and straight lines between; outside 20 to 100 lb, where no bore is known, the least wall that any upright
    cylinder can wet. Both assume that the liquid may cool until its gauge reads zero: see regulator_factor.

    Off the chart the answer is never higher than the chart's edge. Above 70 degF it is that of 70 degF; more than the
    nominal contents count as the nominal; below a tenth of the nominal it goes straight to nothing at empty; below
    0 degF the 0 degF column falls with (T - Tboil), to nothing at the boiling point, which is the heat balance again.

    Args:
        contents_kg: propane left, scalar or shape (n,), >= 0. [kg]
        t_k: temperature of the air, scalar or shape (n,), 200 to 400. [K]
        nominal_kg: what the cylinder holds when full, > 0. [kg]

    Returns:
        Sustained rate, as fuel power; frost, wind, sun and crowding move it by a factor of two either way. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: LP-gas industry chart of one upright 100 lb cylinder (read in a reprint whose 0 degF heading was lost);
        heat balance with U = 1.8 BTU/(h ft2 degF), 10 % under the 1.9 that fits the chart, and bores assumed.
    """
    within("contents_kg", contents_kg, 0.0, unit="kg")
    temperature("t_k", t_k)
    within("nominal_kg", nominal_kg, 0.0, unit="kg", above=True)
    contents = np.minimum(np.asarray(contents_kg, dtype=np.float64), nominal_kg)
    air = np.minimum(np.asarray(t_k, dtype=np.float64), _WARMEST_K)
    held = np.maximum(contents, LAST_SHARE * nominal_kg)
    basis = _by_chart if math.isclose(nominal_kg, _CHART_NOMINAL_KG, rel_tol=0.02) else _by_heat_balance
    rate = basis(held, air, nominal_kg) * (contents / held)
    result: Value = shaped(rate, contents_kg, t_k)
    return result


def regulator_factor(
    t_k: Value,
    least_inlet_gauge_pa: Value | float,
    baro_pa: float = STANDARD_ATMOSPHERE_PA,
) -> Value:
    """Share of the chart's rate that is left when the regulator needs more than zero gauge at its inlet.

    The chart lets the liquid cool to its boiling point at one atmosphere. A regulator that needs more pressure stops
    that cooling earlier, and the heat drawn from the air falls in the proportion of the two temperature differences.

    Args:
        t_k: temperature of the air, scalar or shape (n,), 200 to 400. [K]
        least_inlet_gauge_pa: least inlet pressure of the regulator, >= 0. [Pa gauge]
        baro_pa: station pressure, 50,000 to 110,000. [Pa absolute]

    Returns:
        (T - Tsat(inlet)) / (T - Tboil), 0 to 1; 0 at and below the temperature that just gives the inlet. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: steady heat balance, Q = U A (T - Tliquid) HV / h, at the two liquid temperatures, h taken as equal.
    """
    temperature("t_k", t_k)
    within("least_inlet_gauge_pa", least_inlet_gauge_pa, 0.0, unit="Pa")
    within("baro_pa", baro_pa, 50_000.0, 110_000.0, unit="Pa")
    inlet: Value = shaped(least_inlet_gauge_pa + baro_pa, least_inlet_gauge_pa)
    stops_at = saturation_temperature_k(inlet)
    # Air at the boiling point or under it gives the chart itself nothing, so there is nothing to take a share of; the
    # floor under the difference keeps that share at nothing without a division by zero.
    share = (t_k - stops_at) / np.maximum(t_k - _CHART_BOILING_K, 1e-6)
    warm = np.asarray(t_k) > _CHART_BOILING_K
    result: Value = shaped(np.clip(share, 0.0, 1.0) * warm, t_k, least_inlet_gauge_pa)
    return result


def burn_kg(power_w: Value, duration_s: Value | float, heating_value_j_kg: float = HEATING_VALUE_J_KG) -> Value:
    """Propane that a burner uses.

    Args:
        power_w: burner input (never the heat delivered), average over the time, scalar or shape (n,), >= 0. [W]
        duration_s: how long it burns, >= 0. [s]
        heating_value_j_kg: of the fuel, > 0. [J/kg]

    Returns:
        Mass burned. [kg]

    Raises:
        ValueError: an argument is out of range.

    Source: energy balance with 21,548 BTU/lb of the LP-gas property table.
    """
    within("power_w", power_w, 0.0, unit="W")
    within("duration_s", duration_s, 0.0, unit="s")
    within("heating_value_j_kg", heating_value_j_kg, 0.0, unit="J/kg", above=True)
    return power_w * duration_s / heating_value_j_kg


def burn_time_s(fuel_kg: Value, power_w: Value | float, heating_value_j_kg: float = HEATING_VALUE_J_KG) -> Value:
    """How long a mass of propane feeds a burner, as far as energy goes: vapour_rate_w may stop it sooner.

    Args:
        fuel_kg: gross less tare, scalar or shape (n,), >= 0. [kg]
        power_w: burner input, > 0. [W]
        heating_value_j_kg: of the fuel, > 0. [J/kg]

    Returns:
        Time to empty. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: energy balance, see burn_kg.
    """
    within("fuel_kg", fuel_kg, 0.0, unit="kg")
    within("power_w", power_w, 0.0, unit="W", above=True)
    within("heating_value_j_kg", heating_value_j_kg, 0.0, unit="J/kg", above=True)
    return fuel_kg * heating_value_j_kg / power_w


def heat_balance_w(
    wall_w_m2_k: float,
    wetted_m2: Value,
    t_air_k: Value | float,
    t_liquid_k: Value | float,
    latent_j_kg: float,
    heating_value_j_kg: float = HEATING_VALUE_J_KG,
) -> Value:
    """Fuel power that the heat coming through a cylinder's wetted wall can keep boiling off.

    Args:
        wall_w_m2_k: heat taken up through the wall, > 0. [W/(m2 K)]
        wetted_m2: wall wetted by liquid, scalar or shape (n,), >= 0. [m2]
        t_air_k: temperature of the air, 200 to 400. [K]
        t_liquid_k: coldest the liquid may get, 200 to 400. [K]
        latent_j_kg: latent heat at t_liquid, > 0. [J/kg]
        heating_value_j_kg: of the fuel, > 0. [J/kg]

    Returns:
        U A (Tair - Tliquid) HV / h, and nothing where the air is no warmer than the liquid. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: steady heat balance; sensible heat of liquid and steel, which helps for the first half hour, left out.
    """
    within("wall_w_m2_k", wall_w_m2_k, 0.0, unit="W/(m2 K)", above=True)
    within("wetted_m2", wetted_m2, 0.0, unit="m2")
    temperature("t_air_k", t_air_k)
    temperature("t_liquid_k", t_liquid_k)
    within("latent_j_kg", latent_j_kg, 0.0, unit="J/kg", above=True)
    within("heating_value_j_kg", heating_value_j_kg, 0.0, unit="J/kg", above=True)
    drive = np.maximum(np.asarray(t_air_k) - np.asarray(t_liquid_k), 0.0)
    rate = wall_w_m2_k * np.asarray(wetted_m2) * drive * (heating_value_j_kg / latent_j_kg)
    result: Value = shaped(rate, wetted_m2, t_air_k, t_liquid_k)
    return result


def held_kg(gross_kg: Value, tare_kg: Value | float) -> Value:
    """Propane in a cylinder, by the scale.

    Args:
        gross_kg: on the scale, scalar or shape (n,), at least the tare. [kg]
        tare_kg: as stamped (TW), > 0. [kg]

    Returns:
        Propane held. [kg]

    Raises:
        ValueError: an argument is out of range.

    Source: gross less tare.
    """
    within("tare_kg", tare_kg, 0.0, unit="kg", above=True)
    within("gross_kg - tare_kg", gross_kg - tare_kg, 0.0, unit="kg")
    return gross_kg - tare_kg


def fuel_energy_j(amount: Value, heating_value: float) -> Value:
    """Heat in an amount of fuel, by weight or by liquid volume.

    Args:
        amount: of fuel, scalar or shape (n,), >= 0. [kg or m3]
        heating_value: for each kg where the amount is one, else for each m3, > 0. [J/kg or J/m3]

    Returns:
        Heat on the basis of the heating value, gross or net. [J]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition.
    """
    within("amount", amount, 0.0, unit="kg or m3")
    within("heating_value", heating_value, 0.0, unit="J/kg or J/m3", above=True)
    return amount * heating_value


def vapour_volume_m3(fuel_kg: Value, m3_per_kg: float) -> Value:
    """Volume that a weight of propane takes up as gas.

    Args:
        fuel_kg: of propane, scalar or shape (n,), >= 0. [kg]
        m3_per_kg: of the gas at the condition meant, > 0; 8.66 ft3/lb at 60 degF and one atmosphere. [m3/kg]

    Returns:
        Volume of gas. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition; 8.66 ft3/lb is of the LP-gas property table.
    """
    within("fuel_kg", fuel_kg, 0.0, unit="kg")
    within("m3_per_kg", m3_per_kg, 0.0, unit="m3/kg", above=True)
    return fuel_kg * m3_per_kg


def fill_limit_kg(water_kg: Value, filling_density: float = FILLING_DENSITY) -> Value:
    """Most propane that a cylinder may hold, by weight.

    Args:
        water_kg: water capacity as stamped (WC), scalar or shape (n,), > 0. [kg]
        filling_density: weight of fuel over weight of water, above 0 to 1. [ratio]

    Returns:
        Most propane. [kg]

    Raises:
        ValueError: an argument is out of range.

    Source: 49 CFR 173.304a, 42 % for propane (from memory).
    """
    within("water_kg", water_kg, 0.0, unit="kg", above=True)
    within("filling_density", filling_density, 0.0, 1.0, unit="ratio", above=True)
    return water_kg * filling_density


def fill_limit_m3(
    water_m3: Value,
    filling_density: float,
    specific_gravity: float,
    temperature_factor: float,
) -> Value:
    """Most liquid propane that a container may hold, by volume at the liquid's temperature.

    Args:
        water_m3: water capacity, scalar or shape (n,), > 0. [m3]
        filling_density: weight of fuel over weight of water, above 0 to 1. [ratio]
        specific_gravity: of the liquid at 60 degF, above 0 to 1. [ratio]
        temperature_factor: volume at 60 degF over that at the liquid's temperature, 0.5 to 1.5. [ratio]

    Returns:
        Most liquid. [m3]

    Raises:
        ValueError: an argument is out of range.

    Source: 29 CFR 1910.110(b)(19), V = D W / (G F), with its worked example.
    """
    within("water_m3", water_m3, 0.0, unit="m3", above=True)
    within("filling_density", filling_density, 0.0, 1.0, unit="ratio", above=True)
    within("specific_gravity", specific_gravity, 0.0, 1.0, unit="ratio", above=True)
    within("temperature_factor", temperature_factor, 0.5, 1.5, unit="ratio")
    return water_m3 * filling_density / (specific_gravity * temperature_factor)


def cylinder_gauge_pa(t_k: Value, baro_pa: Value | float = STANDARD_ATMOSPHERE_PA) -> Value:
    """Gauge pressure over pure propane at a temperature and a barometer: contents do not show in it.

    Args:
        t_k: temperature of the liquid, scalar or shape (n,), 200 to 360. [K]
        baro_pa: station pressure, scalar or shape (n,), 50,000 to 110,000, see air.station_pressure_pa. [Pa absolute]

    Returns:
        Gauge pressure, under zero below the boiling point there; on a hill higher by what the barometer is lower. [Pa]

    Raises:
        ValueError: an argument is out of range.

    Source: saturation_pressure_pa less the barometer.
    """
    within("baro_pa", baro_pa, 50_000.0, 110_000.0, unit="Pa")
    result: Value = saturation_pressure_pa(t_k) - baro_pa
    return result


def wetted_m2(contents_kg: Value, bore_m: float) -> Value:
    """Wall that the liquid wets in an upright cylinder, flat bottom and side.

    Args:
        contents_kg: propane in it, scalar or shape (n,), > 0. [kg]
        bore_m: inside diameter, > 0. [m]

    Returns:
        Wetted wall. [m2]

    Raises:
        ValueError: an argument is out of range.

    Source: 4V/D + pi D^2/4 at 4.24 lb/gal.
    """
    within("contents_kg", contents_kg, 0.0, unit="kg", above=True)
    within("bore_m", bore_m, 0.0, unit="m", above=True)
    wetted: Value = _wetted_m2(contents_kg / _LIQUID_KG_M3, bore_m)
    return wetted


def _wetted_m2(volume: Value, bore: Value | float) -> Value:
    return 4 * volume / bore + math.pi * bore**2 / 4


def _by_chart(contents: FloatArray, air: FloatArray, nominal_kg: float) -> FloatArray:
    """The 100 lb chart by straight lines both ways; contents lie on it, air may be colder than it."""
    contents, air = np.broadcast_arrays(np.minimum(contents * (_CHART_NOMINAL_KG / nominal_kg), _CHART_KG[-1]), air)
    on_chart = np.maximum(air, _CHART_K[0])
    row = np.clip(np.searchsorted(_CHART_KG, contents, side="right") - 1, 0, _CHART_KG.size - 2)
    column = np.clip(np.searchsorted(_CHART_K, on_chart, side="right") - 1, 0, _CHART_K.size - 2)
    down = (contents - _CHART_KG[row]) / (_CHART_KG[row + 1] - _CHART_KG[row])
    across = (on_chart - _CHART_K[column]) / (_CHART_K[column + 1] - _CHART_K[column])
    less = _CHART_W[row, column] * (1 - across) + _CHART_W[row, column + 1] * across
    more = _CHART_W[row + 1, column] * (1 - across) + _CHART_W[row + 1, column + 1] * across
    below_chart = np.clip((air - _CHART_BOILING_K) / (_CHART_K[0] - _CHART_BOILING_K), 0.0, 1.0)
    return np.asarray((less * (1 - down) + more * down) * below_chart)


def _by_heat_balance(contents: FloatArray, air: FloatArray, nominal_kg: float) -> FloatArray:
    """The heat balance down to zero gauge, over the wall that the contents wet."""
    volume = contents / _LIQUID_KG_M3
    if _BORE_NOMINAL_KG[0] <= nominal_kg <= _BORE_NOMINAL_KG[-1]:
        bore = np.full_like(volume, np.interp(nominal_kg, _BORE_NOMINAL_KG, _BORE_M))
    else:
        # 4V/D + pi D^2/4 is least at D^3 = 8V/pi: no upright cylinder wets less wall with this liquid.
        bore = np.cbrt(8 * volume / math.pi)
    wetted = _wetted_m2(volume, bore)
    latent = latent_heat_j_kg(_CHART_BOILING_K)
    drive = np.maximum(air - _CHART_BOILING_K, 0.0)
    return np.asarray(_WALL_W_M2_K * wetted * drive * (HEATING_VALUE_J_KG / latent))


def _log_reduced_pressure(t: Value) -> Value:
    """ln(p / critical pressure) of the ancillary equation."""
    to_go = 1.0 - t / _CRITICAL_K
    total = 0.0 * to_go
    for n, power in _PSAT_TERMS:
        total = total + n * to_go**power
    return _CRITICAL_K / t * total


def _log_pressure_slope(t: Value, log: Value) -> Value:
    """Derivative of _log_reduced_pressure by temperature, given its value there. [1/K]"""
    to_go = 1.0 - t / _CRITICAL_K
    total = 0.0 * to_go
    for n, power in _PSAT_TERMS:
        total = total + n * power * to_go ** (power - 1.0)
    return -(log + total) / t


_LOG_LOW: Final = _log_reduced_pressure(_SATURATION_LOW_K)
_LOG_HIGH: Final = _log_reduced_pressure(_SATURATION_HIGH_K)
_SATURATION_LOW_PA: Final = saturation_pressure_pa(_SATURATION_LOW_K)
_SATURATION_HIGH_PA: Final = saturation_pressure_pa(_SATURATION_HIGH_K)
_CHART_BOILING_K: Final = saturation_temperature_k(STANDARD_ATMOSPHERE_PA)
