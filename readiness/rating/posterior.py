"""What is believed of one failure mode's rate and demand probability, given its prior and the department's history.

The posterior stands on a fixed tensor grid, even in ln(rate) and in logit(demand probability), laid where the density
is not negligible. Both densities are analytic there and fall off at either end, so that the plain sum converges faster
than any power of the step; DEVELOPERS.md has the derivation.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from readiness.rating.facts import Mode, ModeHistory, Prior

POINTS = 256  # of each axis, more where the density has a long tail
_WIDEST_STEP = 0.35  # of ln(rate) and of logit(q): the sum is then good to 1e-9
_MOST_POINTS = 8192
_Z95 = 1.6448536269514722  # standard normal quantile of 0.95
_NEGLIGIBLE = 36.0  # exp(-36) is 2e-16 of the peak
_SHORTEST = 1.0 / 365.25  # records know the day: a failure found on the day of a proof happened within that day [years]
_COARSE = 2001  # points of the search for where the density is not negligible


@dataclass(frozen=True, eq=False)
class Posterior:
    """The joint posterior of (rate, demand probability) of one mode.

    An axis that the mode does not have holds the single point 0 with ``log_rate`` or ``logit_demand`` of -inf.

    Attributes:
        log_rate: grid of ln(rate), shape (r,). [ln(1/item-year)]
        logit_demand: grid of ln(q / (1 - q)), shape (d,). [-]
        weights: probability of each grid point, shape (r, d), summing to 1. [-]
    """

    prior: Prior
    history: ModeHistory
    log_rate: NDArray[np.float64]
    logit_demand: NDArray[np.float64]
    weights: NDArray[np.float64]

    def mean_absent(self, exposure_years: float) -> float:
        """Probability that the mode is absent after an exposure, over rate and demand probability together."""
        survives = np.exp(-np.exp(self.log_rate) * exposure_years)
        answers = 1.0 / (1.0 + np.exp(self.logit_demand))
        return float(survives @ self.weights @ answers)

    def quantiles(self, u: NDArray[np.float64], v: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Rate and demand probability at given places of the joint distribution.

        Args:
            u: place in the marginal of the rate, shape (n,), 0 < u < 1. [-]
            v: place in the demand probability given that rate, shape (n,), 0 < v < 1. [-]
        Returns:
            Rates [1/item-year] and demand probabilities [-], each shape (n,).
        """
        if self.log_rate.size == 1:
            log_rate = np.full(u.shape, self.log_rate[0])
        else:
            marginal = self.weights.sum(axis=1)
            log_rate = _inverse(self.log_rate, np.broadcast_to(marginal, (u.size, marginal.size)), u)
        if self.logit_demand.size == 1:
            return np.exp(log_rate), np.zeros(u.shape)
        # Not the grid row beside the rate but the density at the rate itself: so the draw has no steps in it.
        log_density = _log_demand_prior(self.prior, self.logit_demand)[None, :] + _log_likelihood(
            self.history, log_rate[:, None], self.logit_demand[None, :]
        )
        density = np.exp(log_density - log_density.max(axis=1, keepdims=True))
        logit = _inverse(self.logit_demand, density, v)
        return np.exp(log_rate), 1.0 / (1.0 + np.exp(-logit))


def posterior_mean_absent(mode: Mode, exposure_years: float) -> float:
    """Probability that a mode is absent after an exposure, exact to the grid.

    Args:
        mode: with prior and history; a mode with neither rate nor demand probability is always absent.
        exposure_years: since the last proof that could see it, scalar, >= 0. [years]
    Returns:
        Posterior mean of (1 - q) exp(-rate * exposure), scalar. [-]
    Raises:
        ValueError: the exposure is negative, or the prior is out of range.
    """
    if exposure_years < 0:
        raise ValueError(f"need exposure_years >= 0, got {exposure_years}")
    return posterior(mode.prior, mode.history).mean_absent(exposure_years)


@lru_cache(maxsize=4096)
def posterior(prior: Prior, history: ModeHistory) -> Posterior:
    """Joint posterior of a mode's rate and demand probability.

    Passes multiply the likelihood by (1 - q) exp(-rate t), a failure found after t by 1 - (1 - q) exp(-rate t): the
    failure happened at some time before it was found, or when it was asked for.

    Raises:
        ValueError: the prior or the history is out of range, or the two together are improper.
    Source: Bayes' theorem with interval-censored failures; derivation in DEVELOPERS.md, "Rates".
    """
    _check(prior, history)
    nowhere = np.array([-np.inf])
    has_rate = prior.rate_median is not None or prior.rate_gamma is not None
    log_rate = _span_of_rate(prior, history) if has_rate else nowhere
    logit = _span_of_demand(prior, history) if prior.demand_mean is not None else nowhere
    log_density = _log_likelihood(history, log_rate[:, None], logit[None, :])
    if has_rate:
        log_density = log_density + _log_rate_prior(prior, log_rate)[:, None]
    if prior.demand_mean is not None:
        log_density = log_density + _log_demand_prior(prior, logit)[None, :]
    if log_rate.size == 1 and logit.size == 1:
        log_density = np.zeros((1, 1))  # a mode that neither decays nor fails when asked: nothing to learn
    weights = np.exp(log_density - log_density.max())
    weights /= weights.sum()
    for array in (log_rate, logit, weights):
        array.setflags(write=False)
    return Posterior(prior, history, log_rate, logit, weights)


def _check(prior: Prior, history: ModeHistory) -> None:
    if prior.rate_gamma is not None:
        shape, scale = prior.rate_gamma
        if shape <= 0 or scale < 0 or scale + history.pass_years <= 0:
            raise ValueError(f"need a gamma prior with shape > 0 and item-years > 0, got {prior.rate_gamma}")
    elif prior.rate_median is not None:
        factor = prior.rate_error_factor
        if prior.rate_median <= 0 or factor is None or factor <= 1:
            raise ValueError(f"need rate_median > 0 and rate_error_factor > 1, got {prior.rate_median}, {factor}")
    if prior.demand_mean is not None:
        trials = prior.demand_trials
        if not 0 < prior.demand_mean < 1 or trials is None or trials <= 0:
            raise ValueError(f"need 0 < demand_mean < 1 and demand_trials > 0, got {prior.demand_mean}, {trials}")
    if history.passes < 0 or history.pass_years < 0 or any(t < 0 for t in history.failures):
        raise ValueError(f"need passes and exposures >= 0, got {history}")


def _log_rate_prior(prior: Prior, log_rate: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log density of ln(rate), up to a constant."""
    if prior.rate_gamma is not None:
        shape, scale = prior.rate_gamma
        return shape * log_rate - scale * np.exp(log_rate)
    assert prior.rate_median is not None
    assert prior.rate_error_factor is not None
    sigma = math.log(prior.rate_error_factor) / _Z95
    return -0.5 * ((log_rate - math.log(prior.rate_median)) / sigma) ** 2


def _log_demand_prior(prior: Prior, logit: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log density of logit(q), up to a constant."""
    assert prior.demand_mean is not None
    assert prior.demand_trials is not None
    a, b = prior.demand_mean * prior.demand_trials, (1.0 - prior.demand_mean) * prior.demand_trials
    return -a * np.logaddexp(0.0, -logit) - b * np.logaddexp(0.0, logit)


def _log_likelihood(
    history: ModeHistory, log_rate: NDArray[np.float64], logit: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Log likelihood of what like items have shown; arguments broadcast."""
    rate = np.exp(log_rate)
    log_answers = -np.logaddexp(0.0, logit)  # ln(1 - q)
    answer = history.passes * log_answers - rate * history.pass_years
    # -expm1 keeps its digits where rate * t is small; there 1 - (1 - q) exp(-x) would have none.
    for exposure in sorted(set(history.failures)):
        gone = -np.expm1(log_answers - rate * max(exposure, _SHORTEST))
        with np.errstate(divide="ignore"):
            answer = answer + history.failures.count(exposure) * np.log(gone)
    return np.asarray(answer, dtype=np.float64)


def _span_of_rate(prior: Prior, history: ModeHistory) -> NDArray[np.float64]:
    """Grid of ln(rate) over all that is not negligible, whatever the demand probability."""
    if prior.rate_gamma is not None:
        shape, scale = prior.rate_gamma
        years = scale + history.pass_years
        low, high = -(_NEGLIGIBLE + 10.0) / shape - math.log(years), math.log((shape + 60.0) * 40.0 / years)
        high += math.log1p(len(history.failures))
    else:
        assert prior.rate_median is not None
        assert prior.rate_error_factor is not None
        half = 12.0 * math.log(prior.rate_error_factor) / _Z95
        low, high = math.log(prior.rate_median) - half, math.log(prior.rate_median) + half

    def log_marginal(x: NDArray[np.float64]) -> NDArray[np.float64]:
        # Highest over a few demand probabilities: an envelope is all that the span needs.
        if prior.demand_mean is None:
            return _log_rate_prior(prior, x) + _log_likelihood(history, x, np.array(-np.inf))
        logit = np.linspace(-60.0, 12.0, 49)
        joint = _log_likelihood(history, x[:, None], logit[None, :]) + _log_demand_prior(prior, logit)[None, :]
        return np.asarray(_log_rate_prior(prior, x) + joint.max(axis=1))

    return _grid(log_marginal(np.linspace(low, high, _COARSE)), low, high)


def _span_of_demand(prior: Prior, history: ModeHistory) -> NDArray[np.float64]:
    """Grid of logit(q) over all that is not negligible, whatever the rate."""
    assert prior.demand_mean is not None
    assert prior.demand_trials is not None
    a, b = prior.demand_mean * prior.demand_trials, (1.0 - prior.demand_mean) * prior.demand_trials
    low, high = -(_NEGLIGIBLE + 10.0) / a - 20.0, (_NEGLIGIBLE + 10.0) / b + 20.0
    logit = np.linspace(low, high, _COARSE)
    if prior.rate_median is None and prior.rate_gamma is None:
        log_marginal = _log_demand_prior(prior, logit) + _log_likelihood(history, np.array(-np.inf), logit)
    else:
        log_rate = np.append(_span_of_rate(prior, history)[::8], -np.inf)
        known = np.append(_log_rate_prior(prior, log_rate[:-1]), np.nan)
        known[-1] = np.nanmax(known)
        joint = _log_likelihood(history, log_rate[None, :], logit[:, None]) + known[None, :]
        log_marginal = _log_demand_prior(prior, logit) + joint.max(axis=1)
    return _grid(log_marginal, low, high)


def _grid(log_density: NDArray[np.float64], low: float, high: float) -> NDArray[np.float64]:
    """Even grid over the part of [low, high] in which a density, told at even steps, is not negligible."""
    step = (high - low) / (_COARSE - 1)
    seen = np.flatnonzero(log_density > log_density.max() - _NEGLIGIBLE)
    first, last = low + step * max(seen[0] - 1, 0), low + step * min(seen[-1] + 1, _COARSE - 1)
    return np.linspace(first, last, min(max(POINTS, math.ceil((last - first) / _WIDEST_STEP)), _MOST_POINTS))


def _inverse(grid: NDArray[np.float64], density: NDArray[np.float64], u: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inverse of the distribution of each row's density, linear between grid points, at one place u of each row."""
    steps = 0.5 * (density[:, 1:] + density[:, :-1])
    below = np.concatenate([np.zeros((len(u), 1)), np.cumsum(steps, axis=1)], axis=1)
    wanted = u * below[:, -1]
    right = np.clip((below < wanted[:, None]).sum(axis=1), 1, grid.size - 1)
    rows = np.arange(len(u))
    start, mass = below[rows, right - 1], steps[rows, right - 1]
    # Within a cell the density is a straight line: solve the quadratic, so that the draw is smooth in u.
    d0, d1 = density[rows, right - 1], density[rows, right]
    part = np.where(mass > 0, (wanted - start) / np.where(mass > 0, mass, 1.0), 0.0)
    root = np.sqrt(np.maximum(d0**2 + (d1 - d0) * (d0 + d1) * part, 0.0))
    fraction = np.where(d0 + root > 0, (d0 + d1) * part / np.where(d0 + root > 0, d0 + root, 1.0), part)
    return np.asarray(grid[right - 1] + fraction * (grid[1] - grid[0]), dtype=np.float64)
