"""Sinking funds beside SciPy's root of the year-by-year sum."""

import itertools

import numpy as np
from numpy.typing import NDArray

from shared.formulas import money
from tests.check_values.references import Reference

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]
CASES = list(itertools.product((1000, 25000), (-0.02, 0.0, 0.03), (1, 5, 12, 30), (-0.01, 0.0, 0.002, 0.05)))


def _found(cost: float, inflation: float, years: int, interest: float) -> float:
    from scipy.optimize import brentq

    future = cost
    for _ in range(years):
        future *= 1 + inflation

    def short(deposit: float) -> float:
        kept = 0.0
        for _ in range(years):
            kept = kept * (1 + interest) + deposit
        return kept - future

    return float(brentq(short, 0.0, 2 * future, xtol=1e-10))


def _deposits() -> Pair:
    ours = [float(money.replacement(*case).annual_deposit) for case in CASES]
    return np.array(ours), np.array([_found(*case) for case in CASES])


REFERENCES = [
    # Ours is told to the cent.
    Reference("money.replacement", "scipy", "1 to 30 years, -1 to 5 % interest, -2 to 3 % inflation", _deposits, 5e-4),
]
