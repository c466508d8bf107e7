"""Trends beside statsmodels' least squares and scipy's line of medians."""

from collections.abc import Callable, Iterator

import numpy as np
import statsmodels.api as sm
from numpy.typing import NDArray
from scipy import stats

from shared.formulas import drift
from tests.check_values.references import Reference

Array = NDArray[np.float64]
LEVELS = (0.5, 0.8, 0.95)


def _series() -> Iterator[tuple[Array, Array]]:
    """Readings of 4 to 60 days, with scatter, ties and a wild one among them."""
    random = np.random.default_rng(8)
    for n in (4, 7, 15, 60):
        x = np.sort(random.uniform(0, 1500, n)).round()
        y = (100 - 0.01 * x + random.normal(0, 0.8, n)).round(1)
        yield x, y
        yield x, np.where(np.arange(n) == n // 2, 60.0, y)


def _fitted(of: Callable[[drift.Line], float], theirs: Callable[[object], float]) -> Callable[[], tuple[Array, Array]]:
    def compute() -> tuple[Array, Array]:
        pairs = [(of(drift.least_squares(x, y)), theirs(sm.OLS(y, sm.add_constant(x)).fit())) for x, y in _series()]
        ours, reference = np.array(pairs).T
        return ours, reference

    return compute


def _prediction() -> tuple[Array, Array]:
    ours, theirs = [], []
    for x, y in _series():
        line, fit = drift.least_squares(x, y), sm.OLS(y, sm.add_constant(x)).fit()
        at = np.linspace(0, 3 * x.max(), 9)
        for level in LEVELS:
            frame = fit.get_prediction(sm.add_constant(at)).summary_frame(alpha=1 - level)
            ours += drift.prediction_range(line, at, level)
            theirs += [frame["obs_ci_lower"].to_numpy(), frame["obs_ci_upper"].to_numpy()]
    return np.array(ours), np.array(theirs)


def _slopes() -> tuple[Array, Array]:
    pairs = [
        (ours, theirs)
        for x, y in _series()
        for level in LEVELS
        for ours, theirs in zip(
            drift.slope_range(drift.least_squares(x, y), level),
            sm.OLS(y, sm.add_constant(x)).fit().conf_int(1 - level)[1],
            strict=True,
        )
    ]
    ours, theirs = np.array(pairs).T
    return ours, theirs


def _medians() -> tuple[Array, Array]:
    ours, theirs = [], []
    for x, y in _series():
        for level in (0.6, 0.8, 0.95):
            found = stats.theilslopes(y, x, level, method="separate")
            ours.append(drift.median_line(x, y, level))
            theirs.append((found.slope, found.intercept, found.low_slope, found.high_slope))
    return np.array(ours), np.array(theirs)


REFERENCES: list[Reference] = [
    Reference(
        "drift.least_squares",
        "statsmodels",
        "slope, 4 to 60 readings",
        _fitted(lambda line: line.slope, lambda fit: fit.params[1]),
        1e-9,
    ),
    Reference(
        "drift.least_squares",
        "statsmodels",
        "scatter, 4 to 60 readings",
        _fitted(lambda line: line.scatter or 0.0, lambda fit: fit.scale**0.5),
        1e-9,
    ),
    Reference("drift.prediction_range", "statsmodels", "to 3 times the span, levels 0.5, 0.8, 0.95", _prediction, 1e-8),
    Reference("drift.slope_range", "statsmodels", "levels 0.5, 0.8, 0.95", _slopes, 1e-8),
    Reference("drift.median_line", "scipy", "slope, intercept and range, levels 0.6, 0.8, 0.95", _medians, 1e-9),
]
