"""The kinds of check value: each names the public formulas it exercises and carries a case to them and back.

A case is in the units of its keys' suffixes; what is called is the public formula, in SI.
"""

import math
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from shared.units import to_si

ROUNDING: Final = 1e-12

Case = dict[str, Any]
Adapter = Callable[[Case], Case]


class Kind(NamedTuple):
    """One kind of calculation: how a case is carried to the formulas and back, and which formulas those are."""

    name: str
    adapter: Adapter
    formulas: tuple[Callable[..., Any], ...]


KINDS: Final[dict[str, Kind]] = {}


def kind(*formulas: Callable[..., Any]) -> Callable[[Adapter], Adapter]:
    """Register an adapter under its own name, with the public formulas that it exercises."""

    def register(adapter: Adapter) -> Adapter:
        if adapter.__name__ in KINDS:
            raise ValueError(f"the kind {adapter.__name__!r} is there already")
        KINDS[adapter.__name__] = Kind(adapter.__name__, adapter, formulas)
        return adapter

    return register


def si(case: Case, key: str, unit: str) -> float:
    """Give one input of a case in SI."""
    value = case[key]
    try:
        if isinstance(value, bool):
            raise TypeError
        return to_si(float(value), unit)
    except (TypeError, ValueError):
        raise ValueError(f"{key} must be a number of {unit}, got {value!r}") from None


def reaches(found: float, asked: float) -> bool:
    """Say whether a result is at what is asked or above: two that differ by the rounding of a unit are the same."""
    return found >= asked or math.isclose(found, asked, rel_tol=ROUNDING)
