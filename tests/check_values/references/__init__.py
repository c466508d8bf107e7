"""Formulas held beside reference libraries that are installed for tests only.

Each subject has a module here with a list ``REFERENCES``; ``python -m tests.references`` prints one table of them all.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Reference(NamedTuple):
    """One public formula over a stated range, beside what a reference library says of the same points."""

    formula: str  # as people name it: "air.pressure_at"
    library: str  # the name its package is installed under: "CoolProp", "fluids", "wntr", "statsmodels", ...
    over: str  # the range compared, in words with units
    compute: Callable[[], tuple[NDArray[np.float64], NDArray[np.float64]]]  # () -> (ours, theirs), same shape
    bound: float = 1e-3  # largest relative error that is held, as a share
