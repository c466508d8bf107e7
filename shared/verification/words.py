"""Expected and got, as a table shows them."""

import math
from collections.abc import Mapping, Sequence
from typing import Any


def written(values: Any, like: Any = None) -> str:
    """Return values as ``name value``, numbers to six figures.

    Args:
        values: of a case, or what came back for it.
        like: what was expected: only what stands there too is written, so that the two can be read side by side.
    """
    if values is None:
        return "nothing"
    if isinstance(values, Mapping):
        names = [name for name in like if name in values] if isinstance(like, Mapping) else list(values)
        return ", ".join(f"{name} {_one(values[name])}" for name in names) or "nothing of it"
    return _one(values)


def share(relative: Any) -> str:
    """Return a relative error in percent; ``same`` where nothing was a number."""
    if relative is None:
        return "same"
    if not math.isfinite(float(relative)):
        return "no share of 0"
    # Figure and sign stay on one line.
    return f"{100 * float(relative):.2g}\u00a0%"


def _one(value: Any) -> str:
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    if isinstance(value, (int, float)):
        return f"{value:.6g}"
    if isinstance(value, Mapping):
        return f"({written(value)})"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(_one(one) for one in value)}]"
    return str(value)
