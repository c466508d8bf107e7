"""What is believed of a failure mode: against closed forms, and against independent integration."""

import math

import pytest
from scipy import integrate, special, stats

from readiness.rating.facts import Mode, ModeHistory, Prior
from readiness.rating.posterior import posterior

Z95 = stats.norm.ppf(0.95)


UNTRIED = ModeHistory()


def mean_absent(mode: Mode, exposure_years: float) -> float:
    return posterior(mode.prior, mode.history).mean_absent(exposure_years)


def mode(prior: Prior, history: ModeHistory = UNTRIED) -> Mode:
    return Mode("SP2", "Impeller stuck", "I", "both", prior, history)


@pytest.mark.parametrize(
    ("a", "b", "years", "exposure"),
    [(0.5, 0.0, 5.0, 1.0), (0.5, 5.0, 0.0, 3.0), (2.0, 10.0, 30.0, 0.5), (20.0, 100.0, 300.0, 2.0), (0.05, 1, 3, 1)],
)
def test_passes_only_under_a_gamma_prior_give_the_closed_form(a, b, years, exposure):
    believed = mode(Prior(rate_gamma=(a, b)), ModeHistory(passes=9, pass_years=years))
    closed = ((b + years) / (b + years + exposure)) ** a
    assert mean_absent(believed, exposure) == pytest.approx(closed, abs=1e-12)


def test_demands_only_give_the_conjugate_beta():
    # Zero and two failures when asked, of 40: Jeffreys' mean is (x + 0.5) / (n + 1).
    believed = mode(Prior(demand_mean=0.5, demand_trials=1.0), ModeHistory(passes=38, failures=(1.0, 2.0)))
    assert 1 - mean_absent(believed, 7.0) == pytest.approx(2.5 / 41, rel=1e-9)


def test_gamma_with_known_rate_of_zero_failures_has_the_published_mean_and_bounds():
    # NASA/SP-2009-569, example 3: circulating pump, gamma(1.6, 365,000 h), no failure in 4,800 h; text gives
    # mean 4.3e-6, 90 % interval 5.6e-7 to 1.1e-5 per hour.
    found = posterior(Prior(rate_gamma=(1.6, 365_000)), ModeHistory(passes=1, pass_years=4_800))
    marginal = found.weights.sum(axis=1)
    assert marginal @ [math.exp(x) for x in found.log_rate] == pytest.approx(4.3e-6, rel=0.03)
    low, high = (special.gammaincinv(1.6, p) / 369_800 for p in (0.05, 0.95))
    inside = sum(w for x, w in zip(found.log_rate, marginal, strict=True) if low <= math.exp(x) <= high)
    assert inside == pytest.approx(0.9, abs=0.03)
    assert (low, high) == (pytest.approx(5.6e-7, rel=0.03), pytest.approx(1.1e-5, rel=0.03))


def test_log_normal_prior_alone_has_its_median_and_its_error_factor():
    found = posterior(Prior(rate_median=0.05, rate_error_factor=5.0), ModeHistory())
    marginal = found.weights.sum(axis=1)
    mean = marginal @ [math.exp(x) for x in found.log_rate]
    assert mean == pytest.approx(0.05 * math.exp(0.5 * (math.log(5) / Z95) ** 2), rel=1e-9)


def by_quadrature(prior: Prior, history: ModeHistory, exposure: float) -> float:
    """The same posterior mean by adaptive quadrature over the rate."""
    sigma = math.log(prior.rate_error_factor) / Z95

    def density(z: float, wanted: bool) -> float:
        rate = prior.rate_median * math.exp(sigma * z)
        likelihood = math.exp(-rate * history.pass_years)
        for t in history.failures:
            likelihood *= 1 - math.exp(-rate * t)
        return stats.norm.pdf(z) * likelihood * (math.exp(-rate * exposure) if wanted else 1.0)

    above, below = (integrate.quad(density, -9, 9, (w,), epsabs=0, epsrel=1e-11, limit=400)[0] for w in (True, False))
    return above / below


@pytest.mark.parametrize("failures", [(), (0.5,), (0.25, 0.25, 3.0), (2.0,) * 12])
def test_failures_found_late_count_as_having_happened_at_any_time_before(failures):
    prior, history = Prior(rate_median=0.08, rate_error_factor=5.0), ModeHistory(11, 8.5, failures)
    expected = by_quadrature(prior, history, 1.5)
    assert mean_absent(mode(prior, history), 1.5) == pytest.approx(expected, rel=1e-9)


def test_rate_and_demand_probability_together_agree_with_double_quadrature():
    prior = Prior(rate_median=0.05, rate_error_factor=5.0, demand_mean=0.05, demand_trials=40.0)
    history = ModeHistory(12, 9.0, (1.0, 0.5))
    sigma = math.log(5) / Z95

    def density(q: float, z: float, wanted: bool) -> float:
        rate = 0.05 * math.exp(sigma * z)
        likelihood = (1 - q) ** 12 * math.exp(-9 * rate)
        for t in history.failures:
            likelihood *= 1 - (1 - q) * math.exp(-rate * t)
        absent = (1 - q) * math.exp(-1.5 * rate) if wanted else 1.0
        return math.exp(-0.5 * z * z) * q ** (2 - 1) * (1 - q) ** (38 - 1) * likelihood * absent

    above, below = (integrate.dblquad(density, -8, 8, 0, 1, (w,), epsabs=0, epsrel=1e-8)[0] for w in (True, False))
    assert mean_absent(mode(prior, history), 1.5) == pytest.approx(above / below, rel=1e-8)


def test_a_failure_lowers_belief_and_a_pass_raises_it():
    prior = Prior(rate_median=0.05, rate_error_factor=5.0, demand_mean=0.01, demand_trials=20.0)
    before = mean_absent(mode(prior), 1.0)
    assert mean_absent(mode(prior, ModeHistory(failures=(1.0,))), 1.0) < before
    assert mean_absent(mode(prior, ModeHistory(passes=1, pass_years=1.0)), 1.0) > before


def test_a_failure_found_on_the_day_of_a_proof_is_possible():
    prior = Prior(rate_median=0.05, rate_error_factor=5.0)
    same_day = mean_absent(mode(prior, ModeHistory(failures=(0.0,))), 1.0)
    assert 0 < same_day < mean_absent(mode(prior, ModeHistory(failures=(1.0,))), 1.0)


def test_a_mode_without_rate_or_demand_probability_is_always_absent():
    assert mean_absent(mode(Prior(), ModeHistory(3, 2.0, (1.0,))), 10.0) == 1.0


@pytest.mark.parametrize(
    "prior",
    [
        Prior(rate_median=0.0, rate_error_factor=5.0),
        Prior(rate_median=0.1, rate_error_factor=1.0),
        Prior(rate_median=0.1),
        Prior(rate_gamma=(0.5, 0.0)),
        Prior(demand_mean=1.0, demand_trials=3.0),
        Prior(demand_mean=0.1),
    ],
)
def test_a_prior_out_of_range_is_refused(prior):
    with pytest.raises(ValueError, match="must be"):
        mean_absent(mode(prior), 1.0)


def test_negative_exposure_is_refused():
    with pytest.raises(ValueError, match="exposure_years"):
        mean_absent(mode(Prior()), -0.1)
