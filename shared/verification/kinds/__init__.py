"""Every kind of check value, by subject; importing this fills the registry."""

from shared.verification.kinds import (
    air,
    dates,
    drift,
    electric,
    generators,
    greywater,
    heat,
    hydraulics,
    money,
    people,
    propane,
    reliability,
    units,
)

__all__ = [
    "air",
    "dates",
    "drift",
    "electric",
    "generators",
    "greywater",
    "heat",
    "hydraulics",
    "money",
    "people",
    "propane",
    "reliability",
    "units",
]
