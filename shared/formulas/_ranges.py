"""Range checks that every formula makes before it computes."""

import math
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# One formula serves one number or an array of them, and gives back what it was given.
Value = TypeVar("Value", float, FloatArray)

# A temperature outside this span is another unit (or a slip of the pen), not weather, water or a cylinder. [K]
COLDEST_K = 200.0
HOTTEST_K = 400.0


def within(
    name: str,
    value: float | FloatArray,
    low: float = -math.inf,
    high: float = math.inf,
    *,
    unit: str,
    above: bool = False,
) -> None:
    """Refuse a value, or an array holding a value, that is not finite or lies outside low to high; an empty one too.

    Args:
        name: of the argument, for the message.
        value: what was given, scalar or array.
        low: the least that is taken, or the bound that must be exceeded where ``above`` is set.
        high: the most that is taken.
        unit: of value, low and high, for the message.
        above: low itself is refused too.
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        good = math.isfinite(value) and (value > low if above else value >= low) and value <= high
    elif isinstance(value, (np.ndarray, np.number)):
        lowest_met = value > low if above else value >= low
        good = np.size(value) > 0 and bool(np.all(np.isfinite(value) & lowest_met & (value <= high)))
    else:  # a yes or no, a word, nothing, a bare list: no number, nor an array of them
        raise TypeError(f"{name} must be {_words(low, high, unit, above)}, got {value!r}")
    if not good:
        raise ValueError(f"{name} must be {_words(low, high, unit, above)}, got {value!r}")


def temperature(name: str, value: float | FloatArray) -> None:
    """Refuse a temperature that is no temperature of air, water, fuel or a battery in kelvin."""
    within(name, value, COLDEST_K, HOTTEST_K, unit="K")


def whole(name: str, value: float, low: int, high: float = math.inf) -> int:
    """Give a whole number of low to high as an int, however it is held; refuse any other."""
    most = f" and at most {high:g}" if math.isfinite(high) else ""
    said = f"{name} must be a whole number of at least {low}{most}, got {value!r}"
    if not isinstance(value, (int, float, np.number)) or isinstance(value, bool):
        raise TypeError(said)
    if not (math.isfinite(value) and low <= value <= high and value == int(value)):
        raise ValueError(said)
    return int(value)


def shaped(result: float | FloatArray, *given: float | FloatArray) -> Any:
    """Give a plain number back where only numbers were given, else the array."""
    return result if any(isinstance(value, np.ndarray) for value in given) else float(result)


def _words(low: float, high: float, unit: str, above: bool) -> str:
    parts = []
    if math.isfinite(low):
        parts.append(f"above {low:g}" if above else f"at least {low:g}")
    if math.isfinite(high):
        parts.append(f"at most {high:g}")
    return f"{' and '.join(parts) or 'a finite number'} {unit}"
