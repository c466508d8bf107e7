"""The one table of unit factors: what people read and write on one side, SI on the other.

Convert once, at the edge; inside formulas and the rating everything is SI. Exact definitions: the international foot
and pound, the US gallon of 231 cubic inches, standard gravity, and the BTU of the International Steam Tables
(NIST Special Publication 811, appendix B).
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Value = TypeVar("Value", float, NDArray[np.float64])


class Unit(NamedTuple):
    """SI = (value + offset) * factor; ``si`` names the SI unit that comes out."""

    factor: float
    si: str
    offset: float = 0.0


class UnitError(ValueError):
    """A unit that the table does not know: names it, and the units that are known."""

    def __init__(self, unit: object) -> None:
        super().__init__(f"unknown unit {unit!r}; known units: {', '.join(sorted(UNITS, key=str.lower))}")
        self.unit = unit


_INCH: Final = 0.0254
_FOOT: Final = 12 * _INCH
_POUND: Final = 0.45359237
_GALLON: Final = 231 * _INCH**3
_PSI: Final = _POUND * 9.80665 / _INCH**2
_DEGREE: Final = 5 / 9
_BTU: Final = 1055.05585262
_HOUR: Final = 3600.0

UNITS: Final[Mapping[str, Unit]] = MappingProxyType(
    {
        # A gauge pressure stays a gauge pressure: no barometer is added here, a formula that needs one asks for it.
        "psi": Unit(_PSI, "Pa"),
        "psig": Unit(_PSI, "Pa"),
        "psia": Unit(_PSI, "Pa"),
        "Pa": Unit(1.0, "Pa"),
        # A thermometer reading and a difference of two readings convert differently, so they have two names.
        "degF": Unit(_DEGREE, "K", offset=459.67),
        "ddegF": Unit(_DEGREE, "K"),
        "degC": Unit(1.0, "K", offset=273.15),
        "K": Unit(1.0, "K"),
        "ft": Unit(_FOOT, "m"),
        "in": Unit(_INCH, "m"),
        "m": Unit(1.0, "m"),
        "ft2": Unit(_FOOT**2, "m2"),
        "ft3": Unit(_FOOT**3, "m3"),
        "gal": Unit(_GALLON, "m3"),
        "mL": Unit(1e-6, "m3"),
        "gpm": Unit(_GALLON / 60, "m3/s"),
        "gal/h": Unit(_GALLON / _HOUR, "m3/s"),
        "lb": Unit(_POUND, "kg"),
        "kg": Unit(1.0, "kg"),
        "lb/h": Unit(_POUND / _HOUR, "kg/s"),
        "BTU": Unit(_BTU, "J"),
        "BTU/h": Unit(_BTU / _HOUR, "W"),
        "BTU/lb": Unit(_BTU / _POUND, "J/kg"),
        "BTU/gal": Unit(_BTU / _GALLON, "J/m3"),
        "hp": Unit(550 * _FOOT * _POUND * 9.80665, "W"),
        "W": Unit(1.0, "W"),
        "kW": Unit(1000.0, "W"),
        "V": Unit(1.0, "V"),
        "A": Unit(1.0, "A"),
        "Ah": Unit(_HOUR, "C"),
        "Hz": Unit(1.0, "Hz"),
        "ohm": Unit(1.0, "ohm"),
        "mph": Unit(5280 * _FOOT / _HOUR, "m/s"),
        "s": Unit(1.0, "s"),
        "min": Unit(60.0, "s"),
        "h": Unit(_HOUR, "s"),
        "day": Unit(24 * _HOUR, "s"),
        # The mean month of the Julian year, for ages; dates on a calendar go through shared.formulas.dates.
        "month": Unit(365.25 / 12 * 24 * _HOUR, "s"),
        "percent": Unit(0.01, "ratio"),
        "ppm": Unit(1e-6, "ratio"),
        "ratio": Unit(1.0, "ratio"),
        "count": Unit(1.0, "count"),
    }
)


def to_si(value: Value, unit: str) -> Value:
    """Carry a number or an array of them from ``unit`` into SI.

    Args:
        value: any number, or an array of shape (n, ...). [unit]
        unit: a name of UNITS. [-]

    Returns:
        The same quantity, same shape. [UNITS[unit].si]

    Raises:
        UnitError: the table does not know the unit.

    Source: NIST Special Publication 811 (2008), appendix B (from memory; the tests hold it to an independent table).
    """
    known = _unit(unit)
    return (value + known.offset) * known.factor


def from_si(value: Value, unit: str) -> Value:
    """Carry a number or an array of them from SI into ``unit``.

    Args:
        value: any number, or an array of shape (n, ...). [UNITS[unit].si]
        unit: a name of UNITS. [-]

    Returns:
        The same quantity, same shape. [unit]

    Raises:
        UnitError: the table does not know the unit.

    Source: NIST Special Publication 811 (2008), appendix B (from memory; the tests hold it to an independent table).
    """
    known = _unit(unit)
    return value / known.factor - known.offset


def _unit(name: str) -> Unit:
    # A list or None is as unknown as a misspelt name, and must not end in a TypeError somewhere else.
    known = UNITS.get(name) if isinstance(name, str) else None
    if known is None:
        raise UnitError(name)
    return known
