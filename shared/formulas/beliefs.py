"""What is believed of a rate or a probability, from a prior and what was seen, and how wide the doubt is.

Rates and times are in any one unit of time, the same for all arguments of a call. The joint posterior of a failure
mode stands on a fixed tensor grid, even in ln(rate) and in logit(demand probability), laid where the density is not
negligible. Both densities are analytic there and fall off at either end, so that the plain sum converges faster than
any power of the step; DEVELOPERS.md has the derivation.
"""

import decimal
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shared.formulas._ranges import within

POINTS = 256  # of each axis, more where the density has a long tail
_WIDEST_STEP = 0.35  # of ln(rate) and of logit(q): the sum is then good to 1e-9
_MOST_POINTS = 8192
_Z95 = 1.6448536269514722  # standard normal quantile of 0.95
_NEGLIGIBLE = 36.0  # exp(-36) is 2e-16 of the peak
_COARSE = 2001  # points of the search for where the density is not negligible
_MOST_FAILURES = 12  # of the closed form, whose terms double with each
_DIGITS = 80  # of the closed form, whose terms all but cancel


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed of one failure mode before any of the department's own history.

    Attributes:
        rate_median: log-normal median of the dormant rate, None where the mode has none. [1/item-year]
        rate_error_factor: 95th percentile over median, > 1. [-]
        rate_gamma: (shape, inverse scale [item-years]) of a gamma prior used instead of the log-normal, or None.
        demand_mean: mean of the beta prior of failing when asked, None where the mode has none. [-]
        demand_trials: its weight, a + b. [-]
    """

    rate_median: float | None = None
    rate_error_factor: float | None = None
    rate_gamma: tuple[float, float] | None = None
    demand_mean: float | None = None
    demand_trials: float | None = None


@dataclass(frozen=True, slots=True)
class ModeHistory:
    """What like items of the department have shown of one mode: enough for the exact likelihood.

    Attributes:
        passes: proofs that found the mode absent. [-]
        pass_years: their exposures since the proof (or acceptance) before, summed. [item-years]
        failures: exposure of each proof that found it present. [item-years]
    """

    passes: int = 0
    pass_years: float = 0.0
    failures: tuple[float, ...] = ()


class Credible(NamedTuple):
    """Mean, median and equal-tailed range of a posterior, in the unit of what it is of."""

    mean: float
    low: float
    median: float
    high: float


class LogNormal(NamedTuple):
    """A log-normal prior in other words: standard deviation of the logarithm, mean, 5th and 95th percentile."""

    log_sd: float
    mean: float
    low: float
    high: float


class MeanTime(NamedTuple):
    """What is believed of a mean time between failures: its median, and what it exceeds with the confidence asked."""

    median: float
    lower: float


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
        """Probability that the mode is absent after an exposure, over rate and demand probability together.

        Args:
            exposure_years: since the last proof that could see it, >= 0. [years]
        """
        within("exposure_years", exposure_years, 0.0, unit="years")
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
        log_density = _log_demand_prior(self.prior, self.logit_demand)[None, :] + log_likelihood(
            self.history, log_rate[:, None], self.logit_demand[None, :]
        )
        density = np.exp(log_density - log_density.max(axis=1, keepdims=True))
        logit = _inverse(self.logit_demand, density, v)
        return np.exp(log_rate), 1.0 / (1.0 + np.exp(-logit))


def rate_range(shape0: float, time0: float, failures: float, time: float, credibility: float) -> Credible:
    """Failure rate, from a gamma prior and failures counted over a time.

    Args:
        shape0: of the gamma prior, >= 0; 0.5 with time0 of 0 is Jeffreys' prior. [-]
        time0: its inverse scale, never its scale, >= 0. [time]
        failures: counted, >= 0; shape0 + failures > 0. [-]
        time: summed over the items watched, >= 0; time0 + time > 0. [time]
        credibility: that the range holds the rate, above 0 and below 1. [-]

    Returns:
        Mean, and the range with equal tails. [1/time]

    Raises:
        ValueError: an argument is out of range.

    Source: gamma prior and Poisson count, NASA/SP-2009-569 section 4.2.2.
    """
    from scipy.special import gammaincinv

    shape, scale = _gamma(shape0, time0, failures, time)
    low, median, high = (float(gammaincinv(shape, p)) / scale for p in _tails(credibility))
    return Credible(shape / scale, low, median, high)


def probability_range(a0: float, b0: float, failures: float, trials: float, credibility: float) -> Credible:
    """Probability of failing when asked, from a beta prior and failures among trials.

    Args:
        a0: of the beta prior, failures' side, >= 0; 0.5 with b0 of 0.5 is Jeffreys' prior. [-]
        b0: successes' side, >= 0. [-]
        failures: counted, 0 to trials; a0 + failures > 0. [-]
        trials: counted, >= 0; b0 + trials - failures > 0. [-]
        credibility: that the range holds the probability, above 0 and below 1. [-]

    Returns:
        Mean, and the range with equal tails. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: beta prior and binomial count, NASA/SP-2009-569 section 4.2.1.
    """
    from scipy.special import betaincinv

    within("a0", a0, 0.0, unit="failures")
    within("b0", b0, 0.0, unit="successes")
    within("trials", trials, 0.0, unit="trials")
    within("failures", failures, 0.0, trials, unit="failures")
    a, b = a0 + failures, b0 + trials - failures
    within("a0 + failures", a, 0.0, unit="failures", above=True)
    within("b0 + trials - failures", b, 0.0, unit="successes", above=True)
    low, median, high = (float(betaincinv(a, b, p)) for p in _tails(credibility))
    return Credible(a / (a + b), low, median, high)


def exact_probability_bounds(failures: int, trials: int, confidence: float) -> tuple[float, float]:
    """Bounds of a probability of failing without any prior, each tail at most half of what is left.

    Args:
        failures: counted, 0 to trials. [-]
        trials: counted, >= 1. [-]
        confidence: of the two bounds together, above 0 and below 1. [-]

    Returns:
        Lower and upper bound. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: Clopper and Pearson (1934), by the incomplete beta function.
    """
    from scipy.special import betaincinv

    within("trials", trials, 1.0, unit="trials")
    within("failures", failures, 0.0, trials, unit="failures")
    _share("confidence", confidence)
    below, _, above = _tails(confidence)
    low = float(betaincinv(failures, trials - failures + 1, below)) if failures else 0.0
    high = float(betaincinv(failures + 1, trials - failures, above)) if failures < trials else 1.0
    return low, high


def upper_bound_without_failure(trials: int, confidence: float) -> float:
    """Probability of failing that trials without a failure leave possible.

    Args:
        trials: all passed, >= 1. [-]
        confidence: of the bound, above 0 and below 1. [-]

    Returns:
        1 - (1 - confidence)**(1 / trials); near 3 / trials at 0.95. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: Clopper and Pearson (1934), one-sided, no failure.
    """
    within("trials", trials, 1.0, unit="trials")
    _share("confidence", confidence)
    return -math.expm1(math.log1p(-confidence) / trials)


def mean_time_range(shape0: float, time0: float, failures: float, time: float, confidence: float) -> MeanTime:
    """Mean time between failures, from a gamma prior of the rate and failures counted over a time.

    Args:
        shape0: of the gamma prior, >= 0. [-]
        time0: its inverse scale, >= 0. [time]
        failures: counted, >= 0; shape0 + failures > 0. [-]
        time: under test, >= 0; time0 + time > 0. [time]
        confidence: that the mean time exceeds its lower bound, above 0 and below 1. [-]

    Returns:
        Median, and the lower bound. [time]

    Raises:
        ValueError: an argument is out of range.

    Source: NIST/SEMATECH e-Handbook 8.4.6.
    """
    from scipy.special import gammaincinv

    shape, scale = _gamma(shape0, time0, failures, time)
    _share("confidence", confidence)
    return MeanTime(scale / float(gammaincinv(shape, 0.5)), scale / float(gammaincinv(shape, confidence)))


def mean_time_exceeds(shape0: float, time0: float, failures: float, time: float, mean_time: float) -> float:
    """Probability that the mean time between failures exceeds a given one.

    Args:
        shape0: of the gamma prior, >= 0. [-]
        time0: its inverse scale, >= 0. [time]
        failures: counted, >= 0; shape0 + failures > 0. [-]
        time: under test, >= 0; time0 + time > 0. [time]
        mean_time: to be exceeded, > 0. [time]

    Returns:
        Posterior probability. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: NIST/SEMATECH e-Handbook 8.4.6.
    """
    from scipy.special import gammainc

    shape, scale = _gamma(shape0, time0, failures, time)
    within("mean_time", mean_time, 0.0, unit="units of time", above=True)
    return float(gammainc(shape, scale / mean_time))


def proving_time(mean_time: float, confidence: float, shape0: float, time0: float, failures: float) -> float:
    """Time of test that proves a mean time between failures, so many failures allowed.

    Args:
        mean_time: to be proven, > 0. [time]
        confidence: of the proof, above 0 and below 1. [-]
        shape0: of the gamma prior, >= 0. [-]
        time0: its inverse scale, >= 0. [time]
        failures: allowed in the test, >= 0; shape0 + failures > 0. [-]

    Returns:
        Time, 0 where the prior alone proves it. [time]

    Raises:
        ValueError: an argument is out of range.

    Source: NIST/SEMATECH e-Handbook 8.3.1.5.
    """
    from scipy.special import gammaincinv

    within("mean_time", mean_time, 0.0, unit="units of time", above=True)
    _share("confidence", confidence)
    within("shape0", shape0, 0.0, unit="failures")
    within("time0", time0, 0.0, unit="units of time")
    within("failures", failures, 0.0, unit="failures")
    within("shape0 + failures", shape0 + failures, 0.0, unit="failures", above=True)
    return max(0.0, mean_time * float(gammaincinv(shape0 + failures, confidence)) - time0)


def alpha_factors(counts: Sequence[float], prior: Sequence[float]) -> tuple[float, ...]:
    """Mean share of events of a like group in which one, two, three, ... of its items failed together.

    Args:
        counts: events in which 1, 2, 3, ... items failed, each >= 0; at least 2 numbers. [-]
        prior: weights of the Dirichlet prior, as many, each >= 0; each with its count > 0. [-]

    Returns:
        Mean of each share, summing to 1; all but the first together are the beta factor. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: alpha-factor model, NASA/SP-2009-569 example 7; NUREG/CR-5485.
    """
    if len(counts) != len(prior) or len(counts) < 2:
        raise ValueError(f"counts and prior must be equally many, at least 2, got {len(counts)} and {len(prior)}")
    within("counts", np.asarray(counts, dtype=np.float64), 0.0, unit="events")
    within("prior", np.asarray(prior, dtype=np.float64), 0.0, unit="events")
    both = [n + p for n, p in zip(counts, prior, strict=True)]
    within("counts + prior", np.array(both), 0.0, unit="events", above=True)
    return tuple(one / math.fsum(both) for one in both)


def log_normal(median: float, error_factor: float) -> LogNormal:
    """A log-normal prior told by median and error factor, in other words.

    Args:
        median: of the rate, > 0. [1/time]
        error_factor: 95th percentile over median, > 1. [-]

    Returns:
        Standard deviation of the logarithm [-], mean, 5th and 95th percentile. [1/time]

    Raises:
        ValueError: an argument is out of range.

    Source: log-normal law; sigma = ln(error factor) / 1.645, NUREG/CR-6823 (from memory).
    """
    within("median", median, 0.0, unit="per unit of time", above=True)
    within("error_factor", error_factor, 1.0, unit="(a ratio)", above=True)
    log_sd = math.log(error_factor) / _Z95
    return LogNormal(log_sd, median * math.exp(log_sd**2 / 2.0), median / error_factor, median * error_factor)


def absent_under_gamma(shape0: float, time0: float, passed: float, failures: Sequence[float], exposure: float) -> float:
    """Probability that a mode is absent after an exposure, under a gamma prior of its rate, in closed form.

    Args:
        shape0: of the gamma prior, > 0. [-]
        time0: its inverse scale, >= 0. [time]
        passed: exposures of proofs that found it absent, summed, >= 0; time0 + passed > 0. [time]
        failures: exposure of each proof that found it present, > 0, at most 12 of them. [time]
        exposure: since the last proof that could see it, >= 0. [time]

    Returns:
        ((b + T) / (b + T + t))**a without failures; with them, a ratio of alternating sums of such terms. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: integral of exp(-rate t) over the posterior, each failure's 1 - exp(-rate t) multiplied out; derivation
        in DEVELOPERS.md, "Rates".
    """
    within("shape0", shape0, 0.0, unit="failures", above=True)
    within("time0", time0, 0.0, unit="units of time")
    within("passed", passed, 0.0, unit="units of time")
    within("time0 + passed", time0 + passed, 0.0, unit="units of time", above=True)
    within("exposure", exposure, 0.0, unit="units of time")
    within("number of failures", float(len(failures)), 0.0, _MOST_FAILURES, unit="failures")
    for one in failures:
        within("failures", one, 0.0, unit="units of time", above=True)
    with decimal.localcontext() as context:
        context.prec = _DIGITS
        # NumPy's own whole numbers are no numbers to Decimal.
        known = Decimal(float(time0)) + Decimal(float(passed))
        exposures = [Decimal(float(one)) for one in failures]
        above = _alternating(float(shape0), known + Decimal(float(exposure)), exposures)
        return float(above / _alternating(float(shape0), known, exposures))


def log_likelihood(
    history: ModeHistory, log_rate: NDArray[np.float64], logit_demand: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Log likelihood of what like items have shown of one mode; arguments broadcast.

    Args:
        history: passes and failures with their exposures. [item-years]
        log_rate: ln of the rate, any shape; -inf for no rate. [ln(1/item-year)]
        logit_demand: ln(q / (1 - q)), any shape that broadcasts; -inf for q of 0. [-]

    Returns:
        Sum of ln((1 - q) exp(-rate t)) over passes and ln(1 - (1 - q) exp(-rate t)) over failures. [-]

    Raises:
        ValueError: a logarithm is no number or has no upper end.

    Source: a failure found after t happened at some time before, or when it was asked for: interval-censored, exact;
        derivation in DEVELOPERS.md, "Rates".
    """
    for name, given in (("log_rate", log_rate), ("logit_demand", logit_demand)):
        if not np.size(given) or not np.all(given < np.inf):
            raise ValueError(f"{name} must be a finite number or -inf, got {given!r}")
    rate = np.exp(log_rate)
    log_answers = -np.logaddexp(0.0, logit_demand)  # ln(1 - q)
    answer = history.passes * log_answers - rate * history.pass_years
    # -expm1 keeps its digits where rate * t is small; there 1 - (1 - q) exp(-x) would have none.
    for exposure in sorted(set(history.failures)):
        gone = -np.expm1(log_answers - rate * exposure)
        with np.errstate(divide="ignore"):
            answer = answer + history.failures.count(exposure) * np.log(gone)
    return np.asarray(answer, dtype=np.float64)


def mean_absent(prior: Prior, history: ModeHistory, exposure_years: float) -> float:
    """Probability that a mode is absent after an exposure, exact to the grid.

    Args:
        prior: of rate and demand probability; a mode with neither is always absent. [1/item-year, -]
        history: what like items have shown of the mode. [item-years]
        exposure_years: since the last proof that could see it, >= 0. [years]

    Returns:
        Posterior mean of (1 - q) exp(-rate * exposure). [-]

    Raises:
        ValueError: the exposure is negative, or prior or history is out of range.

    Source: Bayes' theorem on the grid of ``posterior``; derivation in DEVELOPERS.md, "Rates".
    """
    return posterior(prior, history).mean_absent(exposure_years)


def posterior(prior: Prior, history: ModeHistory) -> Posterior:
    """Joint posterior of a mode's rate and demand probability.

    Passes multiply the likelihood by (1 - q) exp(-rate t), a failure found after t by 1 - (1 - q) exp(-rate t): the
    failure happened at some time before it was found, or when it was asked for.

    Args:
        prior: log-normal or gamma of the rate, beta of the demand probability. [1/item-year, -]
        history: passes and failures with their exposures; one found after 0 needs a demand prior. [item-years]

    Returns:
        Grid points of both with their probability. [ln(1/item-year), -]

    Raises:
        ValueError: the prior or the history is out of range, or the two together are improper.

    Source: Bayes' theorem with interval-censored failures; derivation in DEVELOPERS.md, "Rates".
    """
    _check(prior, history)
    nowhere = np.array([-np.inf])
    has_rate = _has_rate(prior)
    log_rate = _span_of_rate(prior, history) if has_rate else nowhere
    logit = _span_of_demand(prior, history) if prior.demand_mean is not None else nowhere
    log_density = log_likelihood(history, log_rate[:, None], logit[None, :])
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
    within("passes", history.passes, 0.0, unit="proofs")
    within("pass_years", history.pass_years, 0.0, unit="item-years")
    # Without a chance of failing when asked, a failure needs time to have happened in.
    for exposure in history.failures:
        within("failures", exposure, 0.0, unit="item-years", above=prior.demand_mean is None and _has_rate(prior))
    if prior.rate_gamma is not None:
        shape, scale = prior.rate_gamma
        within("shape of rate_gamma", shape, 0.0, unit="failures", above=True)
        within("item-years of rate_gamma", scale, 0.0, unit="item-years")
        within("item-years of rate_gamma and passes", scale + history.pass_years, 0.0, unit="item-years", above=True)
    elif prior.rate_median is not None:
        within("rate_median", prior.rate_median, 0.0, unit="per item-year", above=True)
        within("rate_error_factor", _told(prior.rate_error_factor), 1.0, unit="(a ratio)", above=True)
    if prior.demand_mean is not None:
        _share("demand_mean", prior.demand_mean)
        within("demand_trials", _told(prior.demand_trials), 0.0, unit="trials", above=True)


def _told(value: float | None) -> float:
    """A number that was left out is no number."""
    return math.nan if value is None else value


def _has_rate(prior: Prior) -> bool:
    return prior.rate_median is not None or prior.rate_gamma is not None


def _log_rate_prior(prior: Prior, log_rate: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log density of ln(rate), up to a constant."""
    if prior.rate_gamma is not None:
        shape, scale = prior.rate_gamma
        return shape * log_rate - scale * np.exp(log_rate)
    assert prior.rate_median is not None
    assert prior.rate_error_factor is not None
    sigma = log_normal(prior.rate_median, prior.rate_error_factor).log_sd
    return -0.5 * ((log_rate - math.log(prior.rate_median)) / sigma) ** 2


def _log_demand_prior(prior: Prior, logit: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log density of logit(q), up to a constant."""
    assert prior.demand_mean is not None
    assert prior.demand_trials is not None
    a, b = prior.demand_mean * prior.demand_trials, (1.0 - prior.demand_mean) * prior.demand_trials
    return -a * np.logaddexp(0.0, -logit) - b * np.logaddexp(0.0, logit)


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
            return _log_rate_prior(prior, x) + log_likelihood(history, x, np.array(-np.inf))
        logit = np.linspace(-60.0, 12.0, 49)
        joint = log_likelihood(history, x[:, None], logit[None, :]) + _log_demand_prior(prior, logit)[None, :]
        return np.asarray(_log_rate_prior(prior, x) + joint.max(axis=1))

    return _grid(log_marginal(np.linspace(low, high, _COARSE)), low, high)


def _span_of_demand(prior: Prior, history: ModeHistory) -> NDArray[np.float64]:
    """Grid of logit(q) over all that is not negligible, whatever the rate."""
    assert prior.demand_mean is not None
    assert prior.demand_trials is not None
    a, b = prior.demand_mean * prior.demand_trials, (1.0 - prior.demand_mean) * prior.demand_trials
    low, high = -(_NEGLIGIBLE + 10.0) / a - 20.0, (_NEGLIGIBLE + 10.0) / b + 20.0
    logit = np.linspace(low, high, _COARSE)
    if not _has_rate(prior):
        log_marginal = _log_demand_prior(prior, logit) + log_likelihood(history, np.array(-np.inf), logit)
    else:
        log_rate = np.append(_span_of_rate(prior, history)[::8], -np.inf)
        known = np.append(_log_rate_prior(prior, log_rate[:-1]), np.nan)
        known[-1] = np.nanmax(known)
        joint = log_likelihood(history, log_rate[None, :], logit[:, None]) + known[None, :]
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


def _alternating(shape: float, known: Decimal, failures: list[Decimal]) -> Decimal:
    """Integral of rate**(shape - 1) exp(-rate known) times each failure's 1 - exp(-rate t), up to a constant."""
    total = Decimal(0)
    for size in range(len(failures) + 1):
        terms = ((known + sum(chosen)) ** -Decimal(shape) for chosen in itertools.combinations(failures, size))
        total += sum(terms) * (-1) ** size
    return total


def _gamma(shape0: float, time0: float, failures: float, time: float) -> tuple[float, float]:
    """Shape and inverse scale of the posterior."""
    within("shape0", shape0, 0.0, unit="failures")
    within("time0", time0, 0.0, unit="units of time")
    within("failures", failures, 0.0, unit="failures")
    within("time", time, 0.0, unit="units of time")
    within("shape0 + failures", shape0 + failures, 0.0, unit="failures", above=True)
    within("time0 + time", time0 + time, 0.0, unit="units of time", above=True)
    return shape0 + failures, time0 + time


def _tails(credibility: float) -> tuple[float, float, float]:
    """Places of the lower end, the median and the upper end."""
    _share("credibility", credibility)
    return (1.0 - credibility) / 2.0, 0.5, (1.0 + credibility) / 2.0


def _share(name: str, value: float) -> None:
    within(name, value, 0.0, math.nextafter(1.0, 0.0), unit="(a share)", above=True)
