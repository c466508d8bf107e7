"""The one table of unit factors: what people read and write on one side, SI on the other.

Convert once, at the edge; inside formulas and the rating everything is SI. Exact definitions: the international foot
and pound, the US gallon of 231 cubic inches, standard gravity, and the BTU of the International Steam Tables
(NIST Special Publication 811, appendix B).
"""

import math
import re
from collections.abc import Mapping
from contextlib import suppress
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from pint import Quantity, UnitRegistry

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
        "kPa": Unit(1e3, "Pa"),
        "bar": Unit(1e5, "Pa"),
        # A thermometer reading and a difference of two readings convert differently, so they have two names.
        "degF": Unit(_DEGREE, "K", offset=459.67),
        "ddegF": Unit(_DEGREE, "K"),
        "degC": Unit(1.0, "K", offset=273.15),
        "ddegC": Unit(1.0, "K"),
        "K": Unit(1.0, "K"),
        "ft": Unit(_FOOT, "m"),
        "in": Unit(_INCH, "m"),
        "m": Unit(1.0, "m"),
        "mm": Unit(1e-3, "m"),
        "ft2": Unit(_FOOT**2, "m2"),
        "m2": Unit(1.0, "m2"),
        "ft3": Unit(_FOOT**3, "m3"),
        "m3": Unit(1.0, "m3"),
        "gal": Unit(_GALLON, "m3"),
        "L": Unit(1e-3, "m3"),
        "mL": Unit(1e-6, "m3"),
        "gpm": Unit(_GALLON / 60, "m3/s"),
        "gal/h": Unit(_GALLON / _HOUR, "m3/s"),
        "L/min": Unit(1e-3 / 60, "m3/s"),
        "L/h": Unit(1e-3 / _HOUR, "m3/s"),
        "mL/min": Unit(1e-6 / 60, "m3/s"),
        "lb": Unit(_POUND, "kg"),
        "kg": Unit(1.0, "kg"),
        "lb/h": Unit(_POUND / _HOUR, "kg/s"),
        "kg/h": Unit(1 / _HOUR, "kg/s"),
        "BTU": Unit(_BTU, "J"),
        "MJ": Unit(1e6, "J"),
        "BTU/h": Unit(_BTU / _HOUR, "W"),
        "BTU/lb": Unit(_BTU / _POUND, "J/kg"),
        "BTU/gal": Unit(_BTU / _GALLON, "J/m3"),
        "hp": Unit(550 * _FOOT * _POUND * 9.80665, "W"),
        "W": Unit(1.0, "W"),
        "kW": Unit(1000.0, "W"),
        "V": Unit(1.0, "V"),
        "A": Unit(1.0, "A"),
        "mA": Unit(1e-3, "A"),
        "Ah": Unit(_HOUR, "C"),
        "Hz": Unit(1.0, "Hz"),
        "ohm": Unit(1.0, "ohm"),
        "mph": Unit(5280 * _FOOT / _HOUR, "m/s"),
        "km/h": Unit(1000 / _HOUR, "m/s"),
        "s": Unit(1.0, "s"),
        "ms": Unit(1e-3, "s"),
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
# How a unit is written in sentences, where that is not its name.
SIGNS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "degF": "°F",
        "ddegF": "°F",
        "degC": "°C",
        "ddegC": "°C",
        "gpm": "gal/min",
        "percent": "%",
        "count": "",
        "ft2": "ft²",
        "ft3": "ft³",
        "m2": "m²",
        "m3": "m³",
    }
)
# What a reader of metric units reads instead; a unit that is not here is read by everybody.
SI_FOR: Final[Mapping[str, str]] = MappingProxyType(
    {
        "degF": "degC",
        "ddegF": "ddegC",
        "gal": "L",
        "gpm": "L/min",
        "gal/h": "L/h",
        "lb": "kg",
        "lb/h": "kg/h",
        "psi": "kPa",
        "psig": "kPa",
        "psia": "kPa",
        "ft": "m",
        "in": "mm",
        "ft2": "m2",
        "ft3": "m3",
        "BTU/h": "kW",
        "BTU": "MJ",
        "hp": "kW",
        "mph": "km/h",
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


def to_reader(value: float, unit: str, uses_si: bool) -> tuple[float, str]:
    """Carry a quantity into the unit that its reader prefers.

    Args:
        value: any number. [unit]
        unit: a name of UNITS, or any other word, which is kept as it is. [-]
        uses_si: whether the reader chose metric units. [-]

    Returns:
        The same quantity, and the name of its unit. [that unit]

    Source: the table of this module.
    """
    if not uses_si or unit not in SI_FOR:
        return value, unit
    return float(from_si(to_si(value, unit), SI_FOR[unit])), SI_FOR[unit]


# Quantities as people type them ----------------------------------------------------------------------------------


class Typed(NamedTuple):
    """A number that was typed, in the unit it was asked for, and what one of its last digit is worth there."""

    value: float
    step: float


class QuantityError(ValueError):
    """Something typed that is no such quantity: what is wrong with it, and how to mend it."""

    def __init__(self, problem: str, mend: str) -> None:
        super().__init__(f"{problem}. {mend}")
        self.problem, self.mend = problem, mend


# How people write a unit behind a number where it is the one they were asked for.
OWN_WORDS: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "degF": frozenset({"f", "°f", "degf", "deg f", "degrees", "degrees f"}),
        "psi": frozenset({"psi", "psig", "psia", "lbs", "#"}),
        "lb": frozenset({"lb", "lbs", "pounds", "#"}),
        "min": frozenset({"min", "mins", "minutes", "m"}),
        "s": frozenset({"s", "sec", "secs", "seconds"}),
        "h": frozenset({"h", "hr", "hrs", "hours"}),
        "gal": frozenset({"gal", "gallons", "gals"}),
        "gpm": frozenset({"gpm", "gal/min"}),
        "in": frozenset({"in", "inch", "inches", '"'}),
        "ft": frozenset({"ft", "feet", "'", "foot"}),
        "V": frozenset({"v", "volts", "vac", "vdc"}),
        "A": frozenset({"a", "amp", "amps"}),
        "W": frozenset({"w", "watts"}),
        "Hz": frozenset({"hz", "hertz"}),
        "mL": frozenset({"ml", "cc"}),
        "percent": frozenset({"%", "percent", "pct"}),
        "ohm": frozenset({"ohm", "ohms", "Ω", "ω"}),
        "ppm": frozenset({"ppm"}),
        "mph": frozenset({"mph"}),
        "Ah": frozenset({"ah"}),
        "": frozenset({"ea", "each", "pcs", "units"}),
    }
)
# What people write, as the unit library calls it; one that is not here it is asked for as it stands.
_WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "psig": "psi", "psia": "psi", "pounds per square inch": "psi", "kpa": "kPa", "hpa": "hPa", "mpa": "MPa",
        "pa": "Pa", "mbar": "mbar", "bars": "bar", "inhg": "inHg", "in hg": "inHg", '"hg': "inHg", "mmhg": "mmHg",
        "gpm": "gallon/minute", "gal/min": "gallon/minute", "gph": "gallon/hour", "lpm": "liter/minute",
        "cfm": "foot**3/minute", "scfm": "foot**3/minute", "gal": "gallon", "gals": "gallon", "l": "liter",
        "ltr": "liter", "ml": "milliliter", "cc": "milliliter", "ft2": "foot**2", "ft²": "foot**2", "sq ft": "foot**2",
        "m2": "meter**2", "m²": "meter**2", "ft3": "foot**3", "ft³": "foot**3", "cu ft": "foot**3", "m3": "meter**3",
        "m³": "meter**3", '"': "inch", "″": "inch", "”": "inch", "in": "inch", "ins": "inch", "'": "foot",
        "′": "foot", "’": "foot", "lbs": "pound", "oz": "ounce", "btu": "Btu_it", "btu/h": "Btu_it/hour",
        "btu/hr": "Btu_it/hour", "btuh": "Btu_it/hour", "mbh": "kiloBtu_it/hour", "kw": "kW", "mj": "MJ", "kwh": "kWh",
        "btu/lb": "Btu_it/pound", "btu/gal": "Btu_it/gallon",
        "kg": "kg", "hr": "hour", "hrs": "hour", "h": "hour", "mins": "minute", "sec": "second", "secs": "second",
        "mph": "mile/hour", "kph": "km/hour", "kmh": "km/hour", "v": "volt", "vac": "volt", "vdc": "volt",
        "a": "ampere", "amps": "ampere", "ma": "mA", "ah": "ampere*hour", "mah": "mA*hour", "w": "watt", "hz": "hertz",
        "%": "percent", "pct": "percent", "ω": "ohm", "ohms": "ohm", "kohm": "kiloohm", "kω": "kiloohm",
    }
)  # fmt: skip
_TEMPERATURES: Final[Mapping[str, str]] = MappingProxyType(
    dict.fromkeys(("f", "°f", "ºf", "degf", "deg f", "degrees f", "fahrenheit"), "degF")
    | dict.fromkeys(("c", "°c", "ºc", "degc", "deg c", "degrees c", "celsius"), "degC")
    | {"k": "K", "kelvin": "K"}
)
_DIFFERENCES: Final[Mapping[str, str]] = MappingProxyType({"degF": "ddegF", "degC": "ddegC", "K": "ddegC"})
# What is measured in each SI unit, and a unit of it for either reader; and what the unit library calls that unit.
_KINDS: Final[Mapping[str, tuple[str, str, str]]] = MappingProxyType(
    {
        "Pa": ("a pressure", "psi or kPa", "Pa"),
        "K": ("a temperature", "°F or °C", "K"),
        "m": ("a length", "ft or m", "m"),
        "m2": ("an area", "ft2 or m2", "m**2"),
        "m3": ("a volume", "gal or L", "m**3"),
        "m3/s": ("a flow", "gpm or L/min", "m**3/s"),
        "kg": ("a weight", "lb or kg", "kg"),
        "kg/s": ("a weight for each hour", "lb/h or kg/h", "kg/s"),
        "J": ("an energy", "BTU or MJ", "J"),
        "W": ("a power", "BTU/h, W or kW", "W"),
        "J/kg": ("an energy by weight", "BTU/lb", "J/kg"),
        "J/m3": ("an energy by volume", "BTU/gal", "J/m**3"),
        "V": ("a voltage", "V", "V"),
        "A": ("a current", "A", "A"),
        "C": ("a charge", "Ah", "coulomb"),
        "Hz": ("a frequency", "Hz", "Hz"),
        "ohm": ("a resistance", "ohm", "ohm"),
        "m/s": ("a speed", "mph or km/h", "m/s"),
        "s": ("a time", "s, min or h", "s"),
        "ratio": ("a share", "percent", "dimensionless"),
        "count": ("a count", "no unit", "dimensionless"),
    }
)
# 1,200 has thousands marks, 12,84 a decimal comma; anything else with a comma is no number.
_NUMBER: Final = (
    r"[+-]?(?:\d{1,3}(?:,\d{3})+(?![\d,])|\d+(?!,?\d))(?:\.\d*)?(?:[eE][+-]?\d+)?"
    r"|[+-]?\d+,\d{1,2}(?![\d,])|[+-]?\.\d+"
)
_ONE: Final = re.compile(rf"({_NUMBER})(?![\d,.])\s*(.*)")
# Halves to thirty-seconds only: 120/240 on a plate is two voltages.
_FRACTION: Final = re.compile(r"(?:(\d+)[ -]+)?(\d{1,2})\s*/\s*(2|3|4|8|16|32)(?!\d)\s*(.*)")
_PAIR: Final = re.compile(r"([\d.]+)\s*([a-z'′’]+)[\s,]*([\d.]+)\s*([a-z\"″”']+)", re.IGNORECASE)
_LETTERS: Final = re.compile(r"[A-Za-zµ]{1,24}(?:\s*/\s*[A-Za-z]{1,12})?")


def parse(text: str, unit: str) -> float:
    """Read a quantity as people type it: ``55``, ``3.8 bar``, ``49 °C``, ``1/2 in``, ``5 ft 6 in``.

    Args:
        text: a number, alone in the unit asked for, or with a unit of its own. [-]
        unit: the unit asked for; one that UNITS does not know takes plain numbers alone. [-]

    Returns:
        What was typed. [unit]

    Raises:
        QuantityError: it is no number, its unit is not known, or it measures something else.

    Source: the table of this module; units that it does not know by the unit library pint.
    """
    return typed(text, unit).value


def typed(text: str, unit: str) -> Typed:
    """Read a quantity as people type it, with what one of its last digit is worth.

    Args:
        text: a number, alone in the unit asked for, or with a unit of its own. [-]
        unit: the unit asked for; one that UNITS does not know takes plain numbers alone. [-]

    Returns:
        What was typed, and its step. [unit]

    Raises:
        QuantityError: it is no number, its unit is not known, or it measures something else.

    Source: see parse.
    """
    written = " ".join(text.replace("−", "-").replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4").split())
    if pair := _PAIR.fullmatch(written):
        return _sum(pair, written, unit)
    number, step, word = _split(written, unit)
    if not word or word.casefold() in OWN_WORDS.get(unit, ()) or word.casefold() == unit.casefold():
        return Typed(number, step)
    factor, offset = _conversion(word, unit, written)
    # Ten figures are more than any gauge has, and take the noise of two conversions away.
    return Typed(float(f"{number * factor + offset:.10g}"), step * factor)


def unit_in(text: str) -> str:
    """Give the unit that something typed names for itself; empty where it is a number alone.

    Args:
        text: as it was typed. [-]

    Returns:
        What stands behind the number; all of it where it is no number. [-]

    Source: see parse.
    """
    try:
        return _split(" ".join(text.split()), "")[2]
    except QuantityError:
        return text


def _split(written: str, unit: str) -> tuple[float, float, str]:
    """Return number, step and the word behind them."""
    if (found := _FRACTION.fullmatch(written)) and int(found[2]) < int(found[3]):
        return int(found[1] or 0) + int(found[2]) / int(found[3]), 1 / int(found[3]), found[4].strip()
    plain = _ONE.fullmatch(written)
    if plain is None:
        raise QuantityError("this is not a number", f"Give a number{f' in {unit}' if unit else ''}")
    digits = re.sub(r",(?=\d{3})", "", plain[1]).replace(",", ".")
    if not math.isfinite(float(digits)):
        raise QuantityError("this is not a finite number", f"Give a number{f' in {unit}' if unit else ''}")
    decimals = len(digits.partition(".")[2]) if "e" not in digits.casefold() else 0
    return float(digits), 10.0**-decimals, plain[2].strip().rstrip(".")


def _sum(pair: re.Match[str], written: str, unit: str) -> Typed:
    """Return feet and inches, hours and minutes, pounds and ounces as one."""
    if unit in UNITS and UNITS[unit].offset or unit in SI_FOR and UNITS[unit].si == "K":
        raise _no_such(written, unit)
    parts = [typed(f"{number} {word}", unit) for number, word in ((pair[1], pair[2]), (pair[3], pair[4]))]
    return Typed(float(f"{sum(part.value for part in parts):.10g}"), parts[1].step)


def _conversion(word: str, unit: str, written: str) -> tuple[float, float]:
    """Return what carries a number of the typed unit into the unit asked for: factor and offset."""
    if unit not in UNITS:
        raise QuantityError(f"{word!r} is not asked for", "Give a plain number")
    asked = UNITS[unit]
    if unit == "psig" and word.casefold() == "psia":
        raise QuantityError(
            "psia counts from vacuum, a gauge from the air around it", "Give what the gauge shows, in psi"
        )
    if heat := _TEMPERATURES.get(word.casefold()):
        if asked.si != "K":
            raise _no_such(written, unit, "a temperature")
        # A rise of 10 °F is no thermometer's 10 °F.
        given = UNITS[heat] if asked.offset or unit == "K" else UNITS[_DIFFERENCES[heat]]
        return given.factor / asked.factor, given.offset * given.factor / asked.factor - asked.offset
    return _library_factor(word, written, unit) / asked.factor, 0.0


def _library_factor(word: str, written: str, unit: str) -> float:
    """Return what one of a unit that only the library knows is in the SI unit of the one asked for."""
    base = _KINDS[UNITS[unit].si][2]
    given = _from_library(word)
    # Temperatures are told apart from differences by the table alone.
    if given is None or (base == "K" and given.is_compatible_with(base)):
        raise QuantityError(f"{word!r} is no unit known here", _mend(unit))
    if not given.is_compatible_with(base):
        measured = next((said for said, _, other in _KINDS.values() if given.is_compatible_with(other)), "")
        raise _no_such(written, unit, measured)
    return float(given.to(base).magnitude)


def _from_library(word: str) -> "Quantity[float] | None":
    """Return one of a unit as the library knows it."""
    import pint

    name = _WORDS.get(word.casefold(), word)
    # The library would work out whatever it is given; what people type is a unit and no sum.
    if name == word and not _LETTERS.fullmatch(word):
        return None
    for spelling in (name, name.lower()):
        with suppress(pint.PintError, AttributeError, ValueError, TypeError):
            return _registry().Quantity(1.0, spelling)
    return None


def _no_such(written: str, unit: str, kind: str = "") -> QuantityError:
    wanted = _KINDS[UNITS[unit].si][0]
    said = f"is {kind}, and {wanted} is asked for" if kind else f"is not {wanted}"
    return QuantityError(f"{written!r} {said}", _mend(unit))


def _mend(unit: str) -> str:
    return f"Give it in {_KINDS[UNITS[unit].si][1]}"


@lru_cache(maxsize=1)
def _registry() -> "UnitRegistry[float]":
    # Reading its definitions takes a while; whoever types the unit that was asked for never waits for it.
    import pint

    return pint.UnitRegistry()


def _unit(name: str) -> Unit:
    # A list or None is as unknown as a misspelt name, and must not end in a TypeError somewhere else.
    known = UNITS.get(name) if isinstance(name, str) else None
    if known is None:
        raise UnitError(name)
    return known
