"""Where a hidden test fault must never be: on gas, relief valves, GFCIs, cylinders or regulators. Plain rules."""

from collections.abc import Mapping, Sequence
from typing import Final

# A heater burns gas, an inflation kit is a regulator on a cylinder, and a cord's ground is what a GFCI leans on.
NEVER_KINDS: Final[Mapping[str, str]] = {
    "heater": "it burns gas",
    "propane": "it holds gas",
    "regulator": "it is a regulator",
    "fuel_can": "it holds fuel",
    "air_cylinder": "it is a cylinder",
    "inflation_kit": "it is a regulator on a cylinder",
    "relief_spare": "it is a relief valve",
    "gfci": "it is a GFCI",
    "cord": "its ground is what a GFCI leans on",
    "papr": "somebody breathes through it",
    "mixing_valve": "it keeps the water from scalding",
}
NEVER_MODES: Final[Mapping[str, str]] = {
    "RV": "that is of a relief valve",
    "LP": "that is of gas",
    "WH": "that is of a gas burner",
    "AC": "that is of a cylinder",
    "CI": "that is of a regulator",
    "PW": "that is of a GFCI or a ground",
    "IN4": "that is what trips a GFCI",
    "GN3": "that is exhaust beside a shelter",
    "IJ3": "that taints the water supply",
    "BP3": "that is a residue on skin",
    "SH9": "that is contamination",
    "PE1": "that is the crew",
}
LONG_SECRET_H: Final = 24.0  # after so long it is shown to the head, found or not


def why_not(kind_key: str, mode_code: str) -> str:
    """Return why no test fault may be planted there, blank where one may."""
    if kind_key in NEVER_KINDS:
        return NEVER_KINDS[kind_key]
    return next((why for start, why in NEVER_MODES.items() if mode_code.startswith(start)), "")


def may_be_planted(kind_key: str, checks: Mapping[str, Sequence[str]]) -> list[tuple[str, str]]:
    """Return every (check, mode) of a kind that a test fault may be planted for: seen by that check, and allowed."""
    return [(check, code) for check, codes in checks.items() for code in codes if not why_not(kind_key, code)]
