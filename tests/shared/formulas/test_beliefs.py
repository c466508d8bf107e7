"""What is believed of rates and probabilities: closed forms, limits, coverage by simulation, and nonsense refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from shared.formulas import beliefs as b
from shared.formulas.beliefs import ModeHistory, Prior

UNTRIED = ModeHistory()


@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_ranges_of_a_rate_hold_it_as_often_as_they_say(level):
    # Rates drawn from the prior, counts drawn from the rates: a Bayesian range covers exactly its level.
    rng = np.random.default_rng(3)
    rates = rng.gamma(1.5, 1 / 30, 3000)
    counts = rng.poisson(rates * 40)
    held = [
        (lambda f: f.low <= rate <= f.high)(b.rate_range(1.5, 30, int(x), 40, level))
        for rate, x in zip(rates, counts, strict=True)
    ]
    assert np.mean(held) == pytest.approx(level, abs=4 * math.sqrt(level * (1 - level) / 3000))


@pytest.mark.parametrize("level", [0.5, 0.9])
def test_ranges_of_a_probability_hold_it_as_often_as_they_say(level):
    rng = np.random.default_rng(4)
    chances = rng.beta(2, 18, 3000)
    counts = rng.binomial(25, chances)
    held = [
        (lambda f: f.low <= p <= f.high)(b.probability_range(2, 18, int(x), 25, level))
        for p, x in zip(chances, counts, strict=True)
    ]
    assert np.mean(held) == pytest.approx(level, abs=4 * math.sqrt(level * (1 - level) / 3000))


@pytest.mark.parametrize("p", [0.02, 0.2])
def test_exact_bounds_hold_the_probability_at_least_as_often_as_they_say(p):
    n = 30
    held = sum(
        stats.binom(n, p).pmf(x)
        for x in range(n + 1)
        if (lambda f: f[0] <= p <= f[1])(b.exact_probability_bounds(x, n, 0.9))
    )
    assert held >= 0.9


@given(x=st.integers(0, 50), t=st.floats(0.1, 1e4), cred=st.floats(0.01, 0.99))
def test_a_range_holds_its_median_and_more_failures_raise_it(x, t, cred):
    found, more = b.rate_range(0.5, 0.0, x, t, cred), b.rate_range(0.5, 0.0, x + 1, t, cred)
    assert found.low <= found.median <= found.high
    assert all(a < c for a, c in zip(found, more, strict=True))


@given(n=st.integers(1, 500), conf=st.floats(0.01, 0.99))
def test_the_bound_without_a_failure_is_the_one_sided_exact_bound(n, conf):
    bound = b.upper_bound_without_failure(n, conf)
    assert (1 - bound) ** n == pytest.approx(1 - conf, rel=1e-9)
    assert b.exact_probability_bounds(0, n, 2 * conf - 1 if conf > 0.5 else 0.5)[0] == 0.0


@given(m=st.floats(10, 1e4), conf=st.floats(0.05, 0.95), a=st.floats(0.5, 5), r=st.integers(0, 5))
def test_the_proving_time_proves_the_mean_time(m, conf, a, r):
    time = b.proving_time(m, conf, a, 0.0, r)
    assert b.mean_time_exceeds(a, 0.0, r, time, m) == pytest.approx(conf, rel=1e-8)
    assert b.mean_time_range(a, 0.0, r, time, conf).lower == pytest.approx(m, rel=1e-8)


def test_alpha_factors_sum_to_one_whatever_the_group():
    assert sum(b.alpha_factors([9, 3, 0, 1], [1, 1, 0.5, 0.5])) == pytest.approx(1.0)


def test_a_log_normal_has_its_percentiles_where_it_was_told():
    found = b.log_normal(0.05, 5)
    law = stats.lognorm(found.log_sd, scale=0.05)
    assert law.cdf([found.low, found.high]).tolist() == [pytest.approx(0.05), pytest.approx(0.95)]
    assert found.mean == pytest.approx(law.mean(), rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(
    a=st.floats(0.3, 5),
    years=st.floats(1, 40),
    failures=st.lists(st.floats(0.1, 4), max_size=5),
    exposure=st.floats(0, 5),
)
def test_the_grid_agrees_with_the_closed_form_of_a_gamma_prior(a, years, failures, exposure):
    grid = b.mean_absent(Prior(rate_gamma=(a, 2.0)), ModeHistory(7, years, tuple(failures)), exposure)
    assert grid == pytest.approx(b.absent_under_gamma(a, 2.0, years, failures, exposure), rel=1e-8)


def test_the_closed_form_keeps_its_digits_where_its_terms_all_but_cancel():
    # Twelve failures found within hours of a proof, among 400 item-years: terms of 1 to 33 digits' difference.
    found = b.absent_under_gamma(1.0, 5.0, 400.0, [0.01] * 12, 1.0)
    # exp(-rate t) over a density near rate**12 exp(-405.06 rate): a gamma of shape 13.
    assert found == pytest.approx((405.06 / 406.06) ** 13, rel=1e-6)


def test_like_items_of_unknown_rate_are_not_as_one_of_the_mean_rate():
    prior = Prior(rate_median=0.1, rate_error_factor=10.0)
    mean = b.log_normal(0.1, 10.0).mean
    assert b.mean_absent(prior, UNTRIED, 5.0) > math.exp(-5.0 * mean) + 0.1


def test_absences_in_a_simulation_are_as_often_as_believed_after_what_was_seen():
    # Rates from the prior; keep those whose items passed, passed and failed as recorded; see how the next one fares.
    rng = np.random.default_rng(5)
    rates = 0.1 * np.exp(b.log_normal(0.1, 5).log_sd * rng.standard_normal(400_000))
    seen = (rng.exponential(1 / rates) > 2) & (rng.exponential(1 / rates) > 1) & (rng.exponential(1 / rates) <= 1.5)
    absent = rng.exponential(1 / rates[seen]) > 2
    believed = b.mean_absent(Prior(rate_median=0.1, rate_error_factor=5.0), ModeHistory(2, 3.0, (1.5,)), 2.0)
    assert absent.mean() == pytest.approx(believed, abs=4 * math.sqrt(0.25 / seen.sum()))


def test_the_likelihood_is_told_for_any_rate_and_demand_probability():
    history = ModeHistory(2, 3.0, (1.5,))
    found = b.log_likelihood(history, np.log([[0.1], [0.2]]), np.array([-np.inf, 0.0]))
    assert found[0, 0] == pytest.approx(-0.3 + math.log(1 - math.exp(-0.15)))
    assert found[1, 1] == pytest.approx(2 * math.log(0.5) - 0.6 + math.log(1 - 0.5 * math.exp(-0.3)))


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: b.rate_range(0.0, 1.0, 0, 1.0, 0.9), r"shape0 \+ failures must be above 0"),
        (lambda: b.rate_range(0.5, 0.0, 0, 0.0, 0.9), r"time0 \+ time must be above 0"),
        (lambda: b.rate_range(0.5, 0.0, 0, 1.0, 1.0), "credibility must be above 0 and at most 1"),
        (lambda: b.rate_range(0.5, -1.0, 0, 9.0, 0.9), "time0 must be at least 0"),
        (lambda: b.rate_range(0.5, 0.0, math.nan, 9.0, 0.9), "failures must be"),
        (lambda: b.probability_range(0.5, 0.5, 3, 2, 0.9), "failures must be at least 0 and at most 2"),
        (lambda: b.probability_range(0.0, 0.5, 0, 2, 0.9), r"a0 \+ failures must be above 0"),
        (lambda: b.probability_range(0.5, 0.0, 2, 2, 0.9), r"b0 \+ trials - failures must be above 0"),
        (lambda: b.exact_probability_bounds(0, 0, 0.9), "trials must be at least 1"),
        (lambda: b.exact_probability_bounds(-1, 5, 0.9), "failures must be at least 0"),
        (lambda: b.upper_bound_without_failure(5, 0.0), "confidence must be above 0"),
        (lambda: b.mean_time_range(2, 1400, 2, -1, 0.8), "time must be at least 0"),
        (lambda: b.mean_time_exceeds(2, 1400, 2, 1909, 0.0), "mean_time must be above 0"),
        (lambda: b.proving_time(-600, 0.8, 2, 1400, 2), "mean_time must be above 0"),
        (lambda: b.proving_time(600, 0.8, 0, 1400, 0), r"shape0 \+ failures must be above 0"),
        (lambda: b.alpha_factors([1], [1]), "at least 2"),
        (lambda: b.alpha_factors([1, 2], [1, 1, 1]), "equally many"),
        (lambda: b.alpha_factors([1, -2], [1, 1]), "counts must be at least 0"),
        (lambda: b.log_normal(0.0, 5), "median must be above 0"),
        (lambda: b.log_normal(0.1, 1.0), "error_factor must be above 1"),
        (lambda: b.absent_under_gamma(1, 0, 0, [], 1), r"time0 \+ passed must be above 0"),
        (lambda: b.absent_under_gamma(1, 1, 0, [0.0], 1), "failures must be above 0"),
        (lambda: b.absent_under_gamma(1, 1, 0, [1.0] * 13, 1), "number of failures must be at least 0 and at most 12"),
        (lambda: b.mean_absent(Prior(rate_median=math.nan, rate_error_factor=5), UNTRIED, 1.0), "rate_median must be"),
        (lambda: b.mean_absent(Prior(rate_median=0.1, rate_error_factor=5), UNTRIED, math.nan), "exposure_years must"),
        (
            lambda: b.posterior(Prior(rate_median=0.1, rate_error_factor=5), ModeHistory(-1)),
            "passes must be at least 0",
        ),
        (
            lambda: b.posterior(Prior(rate_median=0.1, rate_error_factor=5), ModeHistory(failures=(0.0,))),
            "failures must be above 0",
        ),
        (lambda: b.posterior(Prior(demand_mean=0.1), UNTRIED), "demand_trials must be"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
