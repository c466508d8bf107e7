"""When a case passes: one rule for the suite, the command and the page."""

import math
from typing import Any


def misses(got: Any, expected: Any, relative: float, absolute: float, path: str = "") -> list[str]:
    """Say where ``got`` is not what was expected; an empty list is a pass.

    A number passes within the larger of its two tolerances, NaN and no end never; text, booleans and null must match
    exactly; a list passes element by element; what a formula gives beyond what is expected is not judged.
    """
    if isinstance(expected, dict):
        of = got if isinstance(got, dict) else {}
        return [
            miss
            for key, one in expected.items()
            for miss in (
                misses(of[key], one, relative, absolute, f"{path}.{key}")
                if key in of
                else [f"{path}.{key}: nothing came back, expected {one!r}"]
            )
        ]
    if isinstance(expected, list):
        if not isinstance(got, (list, tuple)) or len(got) != len(expected):
            return [f"{path}: got {got!r}, expected {expected!r}"]
        return [m for i, e in enumerate(expected) for m in misses(got[i], e, relative, absolute, f"{path}[{i}]")]
    is_number = isinstance(expected, (int, float)) and not isinstance(expected, bool)
    if is_number and isinstance(got, (int, float)) and not isinstance(got, bool):
        # A number without end would be within a share of itself, whatever came back.
        good = math.isfinite(expected) and abs(got - expected) <= max(relative * abs(expected), absolute)
    else:
        good = type(got) is type(expected) and got == expected
    return [] if good else [f"{path}: got {got!r}, expected {expected!r}"]
