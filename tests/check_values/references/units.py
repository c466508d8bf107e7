"""Every unit of the table beside pint."""

import numpy as np
import pint
from numpy.typing import NDArray

from shared.units import UNITS, to_si
from tests.check_values.references import Reference

# What an independent table calls each unit, and the SI unit to ask it for.
ORACLE = {
    "psi": ("psi", "Pa"),
    "psig": ("psi", "Pa"),
    "psia": ("psi", "Pa"),
    "Pa": ("Pa", "Pa"),
    "kPa": ("kPa", "Pa"),
    "bar": ("bar", "Pa"),
    "degF": ("degF", "K"),
    "ddegF": ("delta_degF", "K"),
    "degC": ("degC", "K"),
    "ddegC": ("delta_degC", "K"),
    "K": ("K", "K"),
    "ft": ("foot", "m"),
    "in": ("inch", "m"),
    "m": ("m", "m"),
    "mm": ("mm", "m"),
    "m2": ("m**2", "m**2"),
    "m3": ("m**3", "m**3"),
    "L": ("liter", "m**3"),
    "L/min": ("liter/minute", "m**3/s"),
    "L/h": ("liter/hour", "m**3/s"),
    "mL/min": ("milliliter/minute", "m**3/s"),
    "kg/h": ("kg/hour", "kg/s"),
    "MJ": ("MJ", "J"),
    "mA": ("mA", "A"),
    "ms": ("ms", "s"),
    "km/h": ("km/hour", "m/s"),
    "ft2": ("foot**2", "m**2"),
    "ft3": ("foot**3", "m**3"),
    "gal": ("gallon", "m**3"),
    "mL": ("milliliter", "m**3"),
    "gpm": ("gallon/minute", "m**3/s"),
    "gal/h": ("gallon/hour", "m**3/s"),
    "lb": ("pound", "kg"),
    "kg": ("kg", "kg"),
    "lb/h": ("pound/hour", "kg/s"),
    "BTU": ("Btu_it", "J"),
    "BTU/h": ("Btu_it/hour", "W"),
    "BTU/lb": ("Btu_it/pound", "J/kg"),
    "BTU/gal": ("Btu_it/gallon", "J/m**3"),
    "hp": ("horsepower", "W"),
    "W": ("W", "W"),
    "kW": ("kW", "W"),
    "V": ("V", "V"),
    "A": ("A", "A"),
    "Ah": ("A*hour", "C"),
    "Hz": ("Hz", "Hz"),
    "ohm": ("ohm", "ohm"),
    "mph": ("mile/hour", "m/s"),
    "s": ("s", "s"),
    "min": ("minute", "s"),
    "h": ("hour", "s"),
    "day": ("day", "s"),
    "month": ("month", "s"),
    "percent": ("percent", "dimensionless"),
    "ppm": ("ppm", "dimensionless"),
    "ratio": ("dimensionless", "dimensionless"),
    "count": ("count", "dimensionless"),
}
REGISTRY = pint.UnitRegistry()
POINTS = np.array([0.5, 1.0, 98.6, 1e4])


def _both() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    ours = np.array([to_si(POINTS, unit) for unit in sorted(UNITS)])
    theirs = np.array([REGISTRY.Quantity(POINTS, name).to(si).magnitude for _, (name, si) in sorted(ORACLE.items())])
    return ours, theirs


REFERENCES = [Reference("units.to_si", "pint", f"0.5 to 10,000 of each of {len(UNITS)} units", _both, bound=1e-9)]
