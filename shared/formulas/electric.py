"""Batteries: charge from a rested voltage, what cold and current leave of it, and how long it lasts.

Generators, their fuel and their cords are in shared.formulas.generators.
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from types import MappingProxyType
from typing import Final, NamedTuple, TypeVar

import numpy as np

from shared import units
from shared.formulas._ranges import FloatArray, Value, shaped, temperature, within

_Row = TypeVar("_Row")


# Open-circuit voltage of a 12 V lead-acid battery rises with temperature by about 0.2 mV/K a cell. The trade's table of
# 0.024 V for 10 degF is nearly four times that: it carries a hydrometer's correction over. The smaller figure is used,
# so that a cold battery is not credited with charge it may not have.
_VOLTS_PER_K: Final = 6 * 0.0002


class RestCurve(NamedTuple):
    """Rested voltage of a battery against charge, straight lines between, at one temperature."""

    volts: tuple[float, ...]
    charge: tuple[float, ...]
    at_k: float
    source: str
    volts_per_k: float = _VOLTS_PER_K
    nominal_v: float = 12.0


class ChargeBand(NamedTuple):
    """Charge that a voltage shows, the least and the most that the meter allows, and whether voltage can tell it."""

    charge: float
    low: float
    high: float
    serves: bool
    why: str  # empty where it serves


FLOODED: Final = RestCurve(
    (11.89, 12.06, 12.24, 12.45, 12.65),
    (0.0, 0.25, 0.5, 0.75, 1.0),
    units.to_si(80.0, "degF"),
    "BCI table of 12 V flooded lead-acid, rested, at 80 degF (read on a page that credits BCI)",
)
# Makers differ by a tenth of a volt; the maker's own table wins.
AGM: Final = RestCurve(
    (11.80, 12.00, 12.30, 12.60, 12.80),
    (0.0, 0.25, 0.5, 0.75, 1.0),
    units.to_si(77.0, "degF"),
    "usual table of 12 V AGM and gel lead-acid, rested, at 77 degF (from memory)",
)
REST_CURVES: Final[Mapping[str, RestCurve]] = MappingProxyType({"flooded": FLOODED, "agm": AGM, "gel": AGM})

# Between 20 and 90 % one tenth of a volt is half of the charge, so the voltage cannot serve there. Nor is there one
# figure for its drift with temperature: it changes its sign with charge, and is left out.
LIFEPO4: Final = RestCurve(
    (10.0, 12.0, 12.5, 12.8, 12.9, 13.0, 13.1, 13.2, 13.3, 13.4, 13.6),
    (0.0, 0.09, 0.14, 0.17, 0.2, 0.3, 0.4, 0.7, 0.9, 0.99, 1.0),
    units.to_si(77.0, "degF"),
    "usual shape of four LiFePO4 cells at rest (from memory); makers differ",
    volts_per_k=0.0,
)
BAND_CURVES: Final[Mapping[str, RestCurve]] = MappingProxyType({**REST_CURVES, "lifepo4": LIFEPO4})
# A band wider than this tells no more than full, half or empty. [ratio]
WIDEST_BAND: Final = 0.2
# Volts over the top of the table by more than this share are surface charge, or a charger still on (from memory).
_SURFACE: Final = 0.03

# Share of the rated capacity that a temperature leaves.
_IEEE_K: Final = units.to_si(np.array([25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 77.0]), "degF")
_IEEE_FACTOR: Final = np.array([1.52, 1.43, 1.30, 1.19, 1.11, 1.04, 1.00])
_LITHIUM_K: Final = units.to_si(np.array([-4.0, 14.0, 32.0, 50.0, 77.0]), "degF")
_LITHIUM_FACTOR: Final = 1 / np.array([0.5, 0.7, 0.85, 0.95, 1.0])
# By chemistry: temperatures, and by how much a battery must be larger there than at its rating temperature.
COLD_FACTORS: Final[Mapping[str, tuple[FloatArray, FloatArray]]] = MappingProxyType(
    {
        "flooded": (_IEEE_K, _IEEE_FACTOR),
        "agm": (_IEEE_K, _IEEE_FACTOR),
        "gel": (_IEEE_K, _IEEE_FACTOR),
        "lifepo4": (_LITHIUM_K, _LITHIUM_FACTOR),
    }
)

_MONTH_S: Final = units.to_si(1.0, "month")
# Charge lost in storage at 20 degC, share of the rated capacity. The larger of what is printed. [1/s]
SELF_DISCHARGE: Final[Mapping[str, float]] = MappingProxyType(
    {
        "flooded": 0.05 / _MONTH_S,  # 5 percent a month at moderate temperature (read on a trade page)
        "agm": 0.03 / _MONTH_S,  # from memory
        "gel": 0.03 / _MONTH_S,  # from memory
        "lifepo4": 0.03 / _MONTH_S,  # 1 to 3 percent a month (from memory)
    }
)


def rest_voltage_at_reference(volts: Value, chemistry: str, t_k: Value | float, nominal_v: float = 12.0) -> Value:
    """Rested voltage as a lead-acid battery would show it at the temperature of its table.

    Args:
        volts: rested voltage, scalar or shape (n,), > 0 and at most twice nominal_v. [V]
        chemistry: flooded, AGM or gel, in any case. [-]
        t_k: temperature of the battery, 200 to 400. [K]
        nominal_v: 12, or what the battery is called, > 0. [V]

    Returns:
        Voltage at 80 degF (flooded) or 77 degF (AGM, gel). [V]

    Raises:
        ValueError: an argument is out of range, or no rest curve is known for the chemistry.

    Source: 0.2 mV/K a cell, the entropy of the lead-acid reaction (from memory).
    """
    curve = _known(REST_CURVES, chemistry)
    _rested(volts, t_k, nominal_v)
    return _at_reference(volts, curve, t_k, nominal_v)


def charge_from_rest_voltage(volts: Value, chemistry: str, t_k: Value | float, nominal_v: float = 12.0) -> Value:
    """State of charge of a lead-acid battery from its voltage after a rest of 8 h or more.

    A lithium iron phosphate battery is refused: its voltage hardly moves between 20 and 90 % and cannot tell charge.

    Args:
        volts: rested voltage, scalar or shape (n,), > 0 and at most twice nominal_v. [V]
        chemistry: flooded, AGM or gel, in any case. [-]
        t_k: temperature of the battery, 200 to 400. [K]
        nominal_v: 12, or what the battery is called, > 0. [V]

    Returns:
        Charge, 0 to 1; 0.05 V of meter error is about 0.06 of it. [ratio]

    Raises:
        ValueError: an argument is out of range, or no rest curve is known for the chemistry.

    Source: straight lines in the chemistry's table, REST_CURVES (flooded BCI, read; AGM and gel from memory).
    """
    return charge_on_curve(volts, _known(REST_CURVES, chemistry), t_k, nominal_v)


def charge_on_curve(volts: Value, curve: RestCurve, t_k: Value | float, nominal_v: float = 12.0) -> Value:
    """State of charge from a rested voltage by a given curve: the maker's own, or one of BAND_CURVES.

    Args:
        volts: rested voltage, scalar or shape (n,), > 0 and at most twice nominal_v. [V]
        curve: rested voltage against charge, volts rising. [V, ratio]
        t_k: temperature of the battery, 200 to 400. [K]
        nominal_v: what the battery is called, > 0; it is read as so many of the curve's own. [V]

    Returns:
        Charge, the first to the last of the curve. [ratio]

    Raises:
        ValueError: an argument is out of range, or the curve's volts do not rise.

    Source: straight lines in the curve, after the correction of rest_voltage_at_reference.
    """
    _rested(volts, t_k, nominal_v)
    within("curve charge", np.array(curve.charge), 0.0, 1.0, unit="ratio")
    return _read(_at_reference(volts, curve, t_k, nominal_v), curve, nominal_v)


def charge_band(
    volts: float, accuracy_v: float, curve: RestCurve, t_k: float, nominal_v: float = 12.0, widest: float = WIDEST_BAND
) -> ChargeBand:
    """Charge from a rested voltage with what the meter's accuracy leaves open, and whether voltage can tell it.

    On the plateau of LiFePO4 a twentieth of a volt is a third of the charge: such a band does not serve.

    Args:
        volts: rested voltage, > accuracy_v and at most twice nominal_v. [V]
        accuracy_v: of the meter, either way, >= 0. [V]
        curve: rested voltage against charge, volts rising. [V, ratio]
        t_k: temperature of the battery, 200 to 400. [K]
        nominal_v: what the battery is called, > 0. [V]
        widest: band from least to most that still serves, 0 to 1. [ratio]

    Returns:
        Charge, least, most, whether it serves, and why not. [ratio]

    Raises:
        ValueError: an argument is out of range, or the curve's volts do not rise.

    Source: the curve read at volts and at volts less and plus the accuracy.
    """
    within("nominal_v", nominal_v, 0.0, unit="V", above=True)
    within("accuracy_v", accuracy_v, 0.0, unit="V")
    within("volts", volts, accuracy_v, 2 * nominal_v, unit="V", above=True)
    within("widest", widest, 0.0, 1.0, unit="ratio")
    found = charge_on_curve(volts, curve, t_k, nominal_v)
    at = _at_reference(volts, curve, t_k, nominal_v)
    low, high = _read(at - accuracy_v, curve, nominal_v), _read(at + accuracy_v, curve, nominal_v)
    why = ""
    if at * curve.nominal_v / nominal_v > curve.volts[-1] * (1 + _SURFACE):
        why = "above its table: just charged or still on a charger; let it rest and measure again"
    elif high - low > widest:
        why = "voltage cannot tell its charge here: use its own gauge or a capacity test"
    return ChargeBand(found, low, high, not why, why)


def _rested(volts: float | FloatArray, t_k: float | FloatArray, nominal_v: float) -> None:
    within("nominal_v", nominal_v, 0.0, unit="V", above=True)
    within("volts", volts, 0.0, 2 * nominal_v, unit="V", above=True)
    temperature("t_k", t_k)


def _at_reference(volts: Value, curve: RestCurve, t_k: Value | float, nominal_v: float) -> Value:
    return volts - (t_k - curve.at_k) * (curve.volts_per_k * nominal_v / curve.nominal_v)


def _read(at_reference_v: Value, curve: RestCurve, nominal_v: float) -> Value:
    return interpolate(at_reference_v * (curve.nominal_v / nominal_v), curve.volts, curve.charge)


def temperature_factor(t_k: Value, at_k: Sequence[float], factors: Sequence[float]) -> Value:
    """By how much a battery must be larger at a temperature than at its rating temperature.

    The capacity it has there is its rating over the factor. Outside the table the nearest end holds: below it a battery
    gives less still, see cold_capacity_factor.

    Args:
        t_k: temperature of the battery, scalar or shape (n,), 200 to 400. [K]
        at_k: the table's temperatures, rising, at least two. [K]
        factors: the table's factors, > 0, 1 at the rating temperature. [ratio]

    Returns:
        Factor. [ratio]

    Raises:
        ValueError: an argument is out of range, or the table does not rise or match.

    Source: IEEE 485 table 1 and its use, required size times kt (from memory); straight lines between its rows.
    """
    temperature("t_k", t_k)
    within("factors", np.array(factors), 0.0, unit="ratio", above=True)
    return interpolate(t_k, at_k, factors)


def cold_capacity_factor(t_k: Value, chemistry: str) -> Value:
    """Share of its rated capacity that a battery gives at a temperature.

    Above the rating temperature it is 1, never more. Below the table's coldest node the share falls on with the slope
    of the last two nodes, to nothing; the division the standard makes would leave more.

    Args:
        t_k: temperature of the battery, scalar or shape (n,), 200 to 400. [K]
        chemistry: flooded, AGM, gel or LiFePO4, in any case. [-]

    Returns:
        Share, 0 to 1. [ratio]

    Raises:
        ValueError: t_k is out of range, or no table is known for the chemistry.

    Source: lead-acid: IEEE 485 table 1, 1/kt (from memory); LiFePO4: usual discharge curves (from memory).
    """
    temperature("t_k", t_k)
    at, factor = _known(COLD_FACTORS, chemistry)
    slope = (1 / factor[1] - 1 / factor[0]) / (at[1] - at[0])
    colder = np.minimum(np.asarray(t_k) - at[0], 0.0) * slope
    found = np.clip(1 / np.interp(t_k, at, factor) + colder, 0.0, 1.0)
    left: Value = shaped(found, t_k)
    return left


def capacity_shown(actual_s: float, rated_s: float, cold_share: float = 1.0) -> float:
    """Capacity of a battery from a discharge test at its rated current, over its rating.

    Args:
        actual_s: time to the end voltage, >= 0. [s]
        rated_s: time that the rating promises at this current, > 0. [s]
        cold_share: share of the rated time that a sound battery lasts at the temperature of the test, > 0 and at
            most 2: under 1 in the cold, see cold_capacity_factor. Not a sizing factor, which is its inverse. [ratio]

    Returns:
        Measured over rated capacity, at the rating temperature. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: IEEE 450 and 1188, time-adjusted method (from memory).
    """
    within("actual_s", actual_s, 0.0, unit="s")
    within("rated_s", rated_s, 0.0, unit="s", above=True)
    within("cold_share", cold_share, 0.0, 2.0, unit="ratio", above=True)
    return actual_s / (rated_s * cold_share)


def peukert_time_s(capacity_c: float, rated_s: float, exponent: float, current_a: Value) -> Value:
    """Time that a battery lasts at a current, from its rating: more current than rated takes more than its share.

    Args:
        capacity_c: rated capacity, > 0. [C]
        rated_s: time to which it is rated, > 0. [s]
        exponent: of Peukert, 1 to 2; about 1.03 LiFePO4, 1.1 to 1.2 AGM, 1.2 to 1.4 flooded (from memory). [-]
        current_a: drawn, scalar or shape (n,), > 0. [A]

    Returns:
        Time to empty. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: Peukert's law from a rating, t = H (C / (I H))^k (read); constant current and the rating temperature.
    """
    within("capacity_c", capacity_c, 0.0, unit="C", above=True)
    within("rated_s", rated_s, 0.0, unit="s", above=True)
    within("exponent", exponent, 1.0, 2.0, unit="")
    within("current_a", current_a, 0.0, unit="A", above=True)
    # An array to a power is typed as anything by NumPy.
    lasts: Value = rated_s * (capacity_c / (current_a * rated_s)) ** exponent
    return lasts


def peukert_time_at_one_ampere_s(capacity_c: float, exponent: float, current_a: Value) -> Value:
    """Time that a battery lasts at a current, from its capacity at one ampere.

    A 20-hour rating put here makes a battery of 100 Ah at its own 5 A last 14.5 h in place of 20.

    Args:
        capacity_c: capacity at 1 A, the Peukert capacity, > 0. [C]
        exponent: of Peukert, 1 to 2. [-]
        current_a: drawn, scalar or shape (n,), > 0. [A]

    Returns:
        Time to empty. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: Peukert's law, t = Cp / I^k (read): the rating is to the time that Cp lasts at 1 A.
    """
    within("capacity_c", capacity_c, 0.0, unit="C", above=True)
    return peukert_time_s(capacity_c, capacity_c / 1.0, exponent, current_a)


def peukert_exponent(one_a: float, one_s: float, other_a: float, other_s: float) -> float:
    """Peukert's exponent of a battery from two discharge tests.

    Args:
        one_a: current of one test, > 0. [A]
        one_s: time to empty at it, > 0. [s]
        other_a: current of the other test, > 0, another one. [A]
        other_s: time to empty at it, > 0. [s]

    Returns:
        Exponent; under 1, or over 1.5, one of the tests is doubtful. [-]

    Raises:
        ValueError: an argument is out of range, or the two currents are one.

    Source: k = ln(t2 / t1) / ln(I1 / I2), from I^k t being constant (formula read in a battery monitor's manual).
    """
    for name, value, unit in (("one_a", one_a, "A"), ("one_s", one_s, "s"), ("other_s", other_s, "s")):
        within(name, value, 0.0, unit=unit, above=True)
    within("other_a", other_a, 0.0, unit="A", above=True)
    if one_a == other_a:
        raise ValueError(f"other_a must be another current than one_a, got {other_a!r} A twice")
    return math.log(other_s / one_s) / math.log(one_a / other_a)


def self_discharge_rate(
    rate_per_s: float, t_k: Value, doubling_k: float = 10.0, reference_k: float = units.to_si(20.0, "degC")
) -> Value:
    """Charge that a stored battery loses at a temperature.

    Args:
        rate_per_s: share of the rated capacity lost at reference_k, see SELF_DISCHARGE, >= 0. [1/s]
        t_k: temperature of the store, scalar or shape (n,), 200 to 400. [K]
        doubling_k: rise that doubles the loss, > 0. [K]
        reference_k: temperature for which rate_per_s is told, 200 to 400. [K]

    Returns:
        Share of the rated capacity lost. [1/s]

    Raises:
        ValueError: an argument is out of range.

    Source: the loss doubles for each 10 K, Arrhenius's rule of thumb (from memory); good from about 0 to 45 degC.
    """
    within("rate_per_s", rate_per_s, 0.0, unit="1/s")
    temperature("t_k", t_k)
    within("doubling_k", doubling_k, 0.0, unit="K", above=True)
    temperature("reference_k", reference_k)
    rate: Value = rate_per_s * 2.0 ** ((t_k - reference_k) / doubling_k)
    return rate


def time_to_charge_s(charge: Value, least: float, rate_per_s: Value | float) -> Value:
    """Time until a stored battery has lost all above the least charge that is kept in it.

    Args:
        charge: now, scalar or shape (n,), 0 to 1. [ratio]
        least: charge at which it is charged again, 0 to 1. [ratio]
        rate_per_s: see self_discharge_rate, scalar or shape (n,), >= 0. [1/s]

    Returns:
        Time, 0 where it is at the least or under it, else math.inf where nothing is lost. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: a loss that is steady in shares of the rated capacity.
    """
    within("charge", charge, 0.0, 1.0, unit="ratio")
    within("least", least, 0.0, 1.0, unit="ratio")
    within("rate_per_s", rate_per_s, 0.0, unit="1/s")
    above, rate = np.broadcast_arrays(np.maximum(charge - least, 0.0), rate_per_s)
    forever = np.where(above > 0.0, math.inf, 0.0)
    left: Value = shaped(np.divide(above, rate, out=forever, where=rate > 0.0), charge, rate_per_s)
    return left


def charge_by(charged_on: date, charge: float, least: float, rate_per_s: float) -> date:
    """Last whole day on which a stored battery still holds the least charge that is kept in it.

    Args:
        charged_on: day on which it held charge. [date]
        charge: held on that day, 0 to 1. [ratio]
        least: charge at which it is charged again, 0 to 1. [ratio]
        rate_per_s: see self_discharge_rate, >= 0. [1/s]

    Returns:
        Day; charged_on itself where it is at the least already. [date]

    Raises:
        ValueError: an argument is out of range, or the day would be beyond the year 9999.

    Source: time_to_charge_s, in whole days.
    """
    days = units.from_si(time_to_charge_s(charge, least, rate_per_s), "day")
    if days > (date.max - charged_on).days:
        raise ValueError(f"rate_per_s must bring a charge before the year 9999, got {rate_per_s!r} 1/s")
    return charged_on + timedelta(days=math.floor(days))


def run_time_s(capacity_c: float, volts: float, load_w: Value, usable: float = 1.0, efficiency: float = 1.0) -> Value:
    """Time that a battery carries a load.

    Args:
        capacity_c: capacity at about this current and temperature, > 0. [C]
        volts: of the battery, > 0. [V]
        load_w: what is plugged in, scalar or shape (n,), > 0. [W]
        usable: share of the capacity that is drawn, 0 to 1; half of a lead-acid battery is usual practice. [ratio]
        efficiency: of what stands between battery and load, above 0 and at most 1. [ratio]

    Returns:
        Time. [s]

    Raises:
        ValueError: an argument is out of range.

    Source: energy balance.
    """
    within("capacity_c", capacity_c, 0.0, unit="C", above=True)
    within("volts", volts, 0.0, unit="V", above=True)
    within("load_w", load_w, 0.0, unit="W", above=True)
    within("usable", usable, 0.0, 1.0, unit="ratio")
    within("efficiency", efficiency, 0.0, 1.0, unit="ratio", above=True)
    return capacity_c * volts * usable * efficiency / load_w


def interpolate(value: Value, at: Sequence[float], gives: Sequence[float]) -> Value:
    """Read a table by straight lines, held at its ends.

    Args:
        value: where to read it, scalar or shape (n,), in the unit of at. [-]
        at: rising nodes, at least two. [-]
        gives: what the table gives at each node. [-]

    Returns:
        What it gives at value, in the unit of gives. [-]

    Raises:
        ValueError: value is not finite, or the nodes do not rise or do not match.

    Source: linear interpolation.
    """
    within("value", value, unit="")
    if len(at) < 2 or len(at) != len(gives) or any(b <= a for a, b in zip(at, at[1:], strict=False)):
        raise ValueError(f"at must hold at least two rising nodes and gives as many values, got {at!r} and {gives!r}")
    found: Value = shaped(np.interp(value, at, gives), value)
    return found


def _known(table: Mapping[str, _Row], chemistry: str) -> _Row:
    found = table.get(chemistry.strip().lower()) if isinstance(chemistry, str) else None
    if found is None:
        raise ValueError(f"chemistry must be one of {', '.join(table)}, got {chemistry!r}")
    return found
