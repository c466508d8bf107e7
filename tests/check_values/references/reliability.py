"""Reliability and beliefs beside scipy's distributions and quadrature, and statsmodels' proportions."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import integrate, optimize, stats
from statsmodels.stats.proportion import proportion_confint

from shared.formulas import beliefs, reliability
from shared.formulas.beliefs import ModeHistory, Prior
from tests.check_values.references import Reference

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]


def _pair(rows: list[tuple[float, float]]) -> Pair:
    ours, theirs = np.array(rows, dtype=np.float64).T
    return ours, theirs


def _mean(rate: float, interval: float) -> float:
    return integrate.quad(lambda t: -np.expm1(-rate * t), 0, interval, epsabs=0, epsrel=1e-12)[0] / interval


def _mean_unavailability() -> Pair:
    over = [(rate, 4380.0) for rate in np.geomspace(1e-9, 1e-2, 40)]
    return _pair([(reliability.mean_unavailability(*each), _mean(*each)) for each in over])


def _partial() -> Pair:
    def by_parts(rate: float, coverage: float, overhaul: int) -> float:
        return (
            sum(
                integrate.quad(
                    lambda t, start=start: -np.expm1(-rate * (coverage * (t - start) + (1 - coverage) * t)),
                    start,
                    start + 1,
                    epsabs=0,
                    epsrel=1e-12,
                )[0]
                for start in range(overhaul)
            )
            / overhaul
        )

    over = [(rate, c, n) for rate in (1e-4, 0.02, 0.5) for c in (0.0, 0.4, 0.9, 1.0) for n in (1, 5, 12)]
    return _pair([(reliability.partial_unavailability(r, c, 1.0, n), by_parts(r, c, n)) for r, c, n in over])


def _proof_interval() -> Pair:
    over = np.linspace(0.001, 0.95, 40)
    return _pair(
        [
            (reliability.proof_interval(1.0, q), optimize.brentq(lambda x, q=q: _mean(1.0, x) - q, q, 2 / (1 - q) ** 2))
            for q in over
        ]
    )


def _koon() -> Pair:
    over = [(k, n, p) for n in (1, 4, 20, 200) for k in {1, (n + 1) // 2, n} for p in (0.05, 0.5, 0.9, 0.999)]
    return _pair([(reliability.koon(*each), stats.binom(each[1], each[2]).sf(each[0] - 1)) for each in over])


def _capacity() -> Pair:
    random = np.random.default_rng(1)
    rows = []
    for n in (1, 3, 8, 20):
        p = random.uniform(0.5, 1, n)
        units = [[0.0, 25.0]] * n
        for k in {1, (n + 1) // 2, n}:
            ours = reliability.capacity_reached(units, [[1 - one, one] for one in p], 25.0 * k).probability
            rows.append((ours, stats.poisson_binom(p).sf(k - 1)))
    return _pair(rows)


def _gamma(which: str, p: float | None) -> Callable[[], Pair]:
    def compute() -> Pair:
        over = [(a, b, x, t) for a in (0.5, 2.0) for b in (0.0, 1400.0) for x in (0, 1, 9) for t in (10.0, 1e5)]
        rows = []
        for a, b, x, t in over:
            law = stats.gamma(a + x, scale=1 / (b + t))
            rows.append((getattr(beliefs.rate_range(a, b, x, t, 0.9), which), law.mean() if p is None else law.ppf(p)))
        return _pair(rows)

    return compute


def _beta() -> Pair:
    over = [(x, n, c) for n in (1, 12, 400) for x in {0, n // 3, n} for c in (0.5, 0.9, 0.99)]
    rows = []
    for x, n, c in over:
        found, law = beliefs.probability_range(0.5, 0.5, x, n, c), stats.beta(0.5 + x, 0.5 + n - x)
        rows += [(found.low, law.ppf((1 - c) / 2)), (found.high, law.ppf((1 + c) / 2))]
    return _pair(rows)


def _clopper_pearson() -> Pair:
    over = [(x, n, c) for n in (5, 40, 300) for x in {1, n // 2, n - 1} for c in (0.8, 0.95)]
    rows = []
    for x, n, c in over:
        rows += zip(
            beliefs.exact_probability_bounds(x, n, c), proportion_confint(x, n, 1 - c, method="beta"), strict=True
        )
    return _pair(rows)


def _believed() -> Pair:
    rows = []
    for error_factor in (3.0, 10.0):
        sd = np.log(error_factor) / stats.norm.ppf(0.95)
        for failures in ((), (0.5,), (0.25, 0.25, 3.0)):
            for exposure in (0.1, 2.0):

                def density(z: float, wanted: float, sd: float = sd, failures: tuple[float, ...] = failures) -> float:
                    rate = 0.08 * np.exp(sd * z)
                    gone = np.prod([-np.expm1(-rate * one) for one in failures])
                    return stats.norm.pdf(z) * np.exp(-rate * (8.5 + wanted)) * gone

                above, below = (
                    integrate.quad(density, -9, 9, (wanted,), epsabs=0, epsrel=1e-11, limit=400)[0]
                    for wanted in (exposure, 0.0)
                )
                prior = Prior(rate_median=0.08, rate_error_factor=error_factor)
                rows.append((beliefs.mean_absent(prior, ModeHistory(11, 8.5, failures), exposure), above / below))
    return _pair(rows)


REFERENCES: list[Reference] = [
    Reference("reliability.mean_unavailability", "scipy", "rate x interval 4e-6 to 44", _mean_unavailability, 1e-9),
    Reference("reliability.partial_unavailability", "scipy", "coverage 0 to 1, 1 to 12 intervals", _partial, 1e-9),
    Reference("reliability.proof_interval", "scipy", "unavailability 0.001 to 0.95", _proof_interval, 1e-8),
    Reference("reliability.koon", "scipy", "1 to 200 items", _koon, 1e-9),
    Reference("reliability.capacity_reached", "scipy", "1 to 20 unequal items", _capacity, 1e-9),
    Reference("beliefs.rate_range", "scipy", "mean, 0 to 9 failures", _gamma("mean", None), 1e-9),
    Reference("beliefs.rate_range", "scipy", "lower end, 0 to 9 failures", _gamma("low", 0.05), 1e-9),
    Reference("beliefs.rate_range", "scipy", "upper end, 0 to 9 failures", _gamma("high", 0.95), 1e-9),
    Reference("beliefs.probability_range", "scipy", "0 to 400 trials, levels 0.5 to 0.99", _beta, 1e-8),
    Reference("beliefs.exact_probability_bounds", "statsmodels", "5 to 300 trials", _clopper_pearson, 1e-9),
    Reference(
        "beliefs.mean_absent", "scipy", "error factor 3 and 10, 0 to 3 failures, 0.1 to 2 years", _believed, 1e-8
    ),
]
