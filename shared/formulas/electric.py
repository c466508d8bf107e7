"""Batteries and generators: charge from a rested voltage, what the cold leaves of it, and hours from a tank."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final, NamedTuple, TypeVar

import numpy as np

from shared import units
from shared.formulas._ranges import FloatArray, Value, shaped, temperature, within

_Row = TypeVar("_Row")


class RestCurve(NamedTuple):
    """Rested voltage of a 12 V battery against charge, straight lines between, at one temperature."""

    volts: tuple[float, ...]
    charge: tuple[float, ...]
    at_k: float
    source: str


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

# Open-circuit voltage of a 12 V lead-acid battery rises with temperature by about 0.2 mV/K a cell. The trade's table of
# 0.024 V for 10 degF is nearly four times that: it carries a hydrometer's correction over. The smaller figure is used,
# so that a cold battery is not credited with charge it may not have.
_VOLTS_PER_K: Final = 6 * 0.0002

# Share of the rated capacity that a temperature leaves.
_IEEE_K: Final = units.to_si(np.array([25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 77.0]), "degF")
_IEEE_SHARE: Final = 1 / np.array([1.52, 1.43, 1.30, 1.19, 1.11, 1.04, 1.00])
_LITHIUM_K: Final = units.to_si(np.array([-4.0, 14.0, 32.0, 50.0, 77.0]), "degF")
_LITHIUM_SHARE: Final = np.array([0.5, 0.7, 0.85, 0.95, 1.0])
COLD_SHARES: Final[Mapping[str, tuple[FloatArray, FloatArray]]] = MappingProxyType(
    {
        "flooded": (_IEEE_K, _IEEE_SHARE),
        "agm": (_IEEE_K, _IEEE_SHARE),
        "gel": (_IEEE_K, _IEEE_SHARE),
        "lifepo4": (_LITHIUM_K, _LITHIUM_SHARE),
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
    within("nominal_v", nominal_v, 0.0, unit="V", above=True)
    within("volts", volts, 0.0, 2 * nominal_v, unit="V", above=True)
    temperature("t_k", t_k)
    curve = _known(REST_CURVES, chemistry)
    return volts - (t_k - curve.at_k) * (_VOLTS_PER_K * nominal_v / 12.0)


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
    curve = _known(REST_CURVES, chemistry)
    corrected = rest_voltage_at_reference(volts, chemistry, t_k, nominal_v) * (12.0 / nominal_v)
    return interpolate(corrected, curve.volts, curve.charge)


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
    at, share = _known(COLD_SHARES, chemistry)
    slope = (share[1] - share[0]) / (at[1] - at[0])
    colder = np.minimum(np.asarray(t_k) - at[0], 0.0) * slope
    found = np.clip(np.interp(t_k, at, share) + colder, 0.0, 1.0)
    left: Value = shaped(found, t_k)
    return left


def fuel_hours(
    fuel_m3: float,
    load_ratio: float,
    burn_table: Sequence[tuple[float, float]],
    reserve: float = 0.0,
) -> float:
    """Hours that a tank runs a generator at a steady load.

    Under the lightest load of its table a set is taken to burn what it burns there: idling is never credited.

    Args:
        fuel_m3: fuel aboard, >= 0. [m3]
        load_ratio: load over rated output, > 0 and at most the table's heaviest load. [ratio]
        burn_table: (load over rated output [ratio], fuel burned [m3/s]) with loads rising, at least one row. [-]
        reserve: share of the fuel not to be counted on, 0 to 1. [ratio]

    Returns:
        Running time. [h]

    Raises:
        ValueError: an argument is out of range, or the table's loads do not rise.

    Source: straight lines in the nameplate's fuel table.
    """
    within("fuel_m3", fuel_m3, 0.0, unit="m3")
    within("reserve", reserve, 0.0, 1.0, unit="ratio")
    loads, burns = [row[0] for row in burn_table], [row[1] for row in burn_table]
    if not loads or any(later <= earlier for earlier, later in zip(loads, loads[1:], strict=False)):
        raise ValueError(f"burn_table must have at least one row and rising loads, got {burn_table!r}")
    for burn in burns:
        within("burn_table fuel", burn, 0.0, unit="m3/s", above=True)
    within("load_ratio", load_ratio, 0.0, loads[-1], unit="ratio", above=True)
    burned = float(np.interp(load_ratio, loads, burns))
    return fuel_m3 * (1.0 - reserve) / burned / 3600.0


def burn_from_efficiency_m3_s(load_w: Value, efficiency: float, heating_value_j_m3: float) -> Value:
    """Fuel that a generator burns at a load, where only its efficiency is known.

    Args:
        load_w: electric load, scalar or shape (n,), >= 0. [W]
        efficiency: electricity over heat in the fuel, 0 to 1; small gasoline sets 0.15 to 0.22. [ratio]
        heating_value_j_m3: of the fuel, on the basis of the efficiency, > 0. [J/m3]

    Returns:
        Fuel flow. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: energy balance.
    """
    within("load_w", load_w, 0.0, unit="W")
    within("efficiency", efficiency, 0.0, 1.0, unit="ratio", above=True)
    within("heating_value_j_m3", heating_value_j_m3, 0.0, unit="J/m3", above=True)
    return load_w / (efficiency * heating_value_j_m3)


def capacity_shown(actual_s: float, rated_s: float, cold_share: float = 1.0) -> float:
    """Capacity of a battery from a discharge test at its rated current, over its rating.

    Args:
        actual_s: time to the end voltage, >= 0. [s]
        rated_s: time that the rating promises at this current, > 0. [s]
        cold_share: see cold_capacity_factor, for the temperature of the test, > 0 and at most 1. [ratio]

    Returns:
        Measured over rated capacity, at the rating temperature. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: IEEE 450 and 1188, time-adjusted method (from memory).
    """
    within("actual_s", actual_s, 0.0, unit="s")
    within("rated_s", rated_s, 0.0, unit="s", above=True)
    within("cold_share", cold_share, 0.0, 1.0, unit="ratio", above=True)
    return actual_s / (rated_s * cold_share)


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
