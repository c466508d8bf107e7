"""The draws: balanced, the same bytes every time, and no mode disturbed by another."""

import numpy as np
import pytest
from scipy import stats

from readiness.rating.draws import DRAWS, draw_rates, net, p_absent
from readiness.rating.facts import Mode, ModeHistory, Prior
from readiness.rating.posterior import posterior

BOTH = Prior(rate_median=0.05, rate_error_factor=5.0, demand_mean=0.02, demand_trials=20.0)


UNTRIED = ModeHistory()


def mode(code: str = "SP2", prior: Prior = BOTH, history: ModeHistory = UNTRIED) -> Mode:
    return Mode(code, code, "I", "both", prior, history)


def test_the_mean_over_the_draws_is_the_posterior_mean():
    history = ModeHistory(12, 9.0, (1.0, 0.5))
    for key in ("pump:SP2", "heater:WH1", "light:LT2"):
        drawn = p_absent(draw_rates({key: mode(history=history)}), key, 1.5)
        assert drawn.shape == (DRAWS,)
        assert drawn.mean() == pytest.approx(posterior(mode().prior, history).mean_absent(1.5), abs=1e-3)


def test_draws_of_a_gamma_and_of_a_beta_follow_their_distributions():
    draws = draw_rates(
        {
            "a": mode(prior=Prior(rate_gamma=(2.0, 10.0)), history=ModeHistory(5, 20.0)),
            "b": mode(prior=Prior(demand_mean=0.1, demand_trials=10.0), history=ModeHistory(10, 0.0, (1.0,))),
        }
    )
    # A balanced set is far closer to the distribution than 256 draws at random, for which 0.08 would be usual.
    assert stats.kstest(draws.rate["a"], stats.gamma(2.0, scale=1 / 30.0).cdf).statistic < 2.5 / DRAWS
    assert stats.kstest(draws.demand["b"], stats.beta(2.0, 19.0).cdf).statistic < 2.5 / DRAWS


def test_rate_and_demand_probability_are_told_apart_by_the_passes_that_they_share():
    # Failures that either could explain make the two compete: the more of the one, the less of the other.
    history = ModeHistory(10, 20.0, (2.0, 2.0, 2.0))
    prior = Prior(rate_median=0.05, rate_error_factor=10.0, demand_mean=0.05, demand_trials=4.0)
    draws = draw_rates({"k": mode(prior=prior, history=history)})
    assert stats.spearmanr(draws.rate["k"], draws.demand["k"]).statistic < -0.2


def test_each_mode_has_a_balanced_net_of_its_own():
    points = net("pump:SP2", 256)
    assert sorted((points[0] * 256).astype(int)) == list(range(256))
    assert sorted((points[1] * 256).astype(int)) == list(range(256))
    boxes = {(int(x * 16), int(y * 16)) for x, y in points.T}
    assert len(boxes) == 256  # one in every box of 16 by 16


def test_a_number_of_draws_that_is_no_power_of_two_is_served_too():
    points = net("pump:SP2", 100)
    assert points.shape == (2, 100)
    assert 0 < points.min() < points.max() < 1


def test_modes_do_not_move_together():
    points = np.array([net(f"kind:{i}", 256)[0] for i in range(60)])
    apart = np.corrcoef(points)[np.triu_indices(60, 1)]
    assert apart.std() == pytest.approx(1 / np.sqrt(256), rel=0.1)  # as independent draws would have it
    assert abs(apart).max() < 0.3


def test_other_modes_do_not_disturb_a_modes_draws():
    alone = draw_rates({"pump:SP2": mode()})
    among = draw_rates({"a:1": mode("1"), "pump:SP2": mode(), "z:9": mode("9")})
    assert alone.rate["pump:SP2"].tobytes() == among.rate["pump:SP2"].tobytes()
    assert alone.demand["pump:SP2"].tobytes() == among.demand["pump:SP2"].tobytes()


def test_the_net_is_fixed_for_good():
    # The first points of one key, pinned: stored answers are compared byte by byte.
    points = net("pump:SP2", 256)
    assert points[:, :2].round(9).tolist() == [[0.032081904, 0.206878211], [0.748644711, 0.876112063]]


def test_draws_cannot_be_changed_by_who_asks():
    draws = draw_rates({"pump:SP2": mode()})
    with pytest.raises(ValueError, match="read-only"):
        draws.rate["pump:SP2"][0] = 1.0


def test_exposures_of_several_days_come_side_by_side():
    draws = draw_rates({"k": mode()})
    days = p_absent(draws, "k", np.array([[0.0], [0.5], [1.0]]))
    assert days.shape == (3, DRAWS)
    assert (days[1] == p_absent(draws, "k", 0.5)).all()
    assert (np.diff(days, axis=0) < 0).all()


def test_a_negative_exposure_is_refused():
    with pytest.raises(ValueError, match="exposure"):
        p_absent(draw_rates({"k": mode()}), "k", -1.0)


def test_multiplying_posterior_means_is_wrong_by_what_like_items_share():
    # Four like items share one unknown rate: that all work is the mean of p**4, not the fourth power of the mean.
    # Multiplying puts the line 7 points in 100 too low where all four are needed, and the chance that all four fail
    # more than fifty times too low where one is enough.
    draws = draw_rates({"k": mode(prior=Prior(rate_median=0.06, rate_error_factor=8.0))})
    p = p_absent(draws, "k", 1.0)
    sigma = np.log(8.0) / stats.norm.ppf(0.95)

    def mean_of(power: float) -> float:
        return stats.norm.expect(lambda z: np.exp(-power * 0.06 * np.exp(sigma * z)), lb=-9, ub=9)

    assert (p**4).mean() == pytest.approx(mean_of(4), abs=2e-3)
    assert mean_of(4) - mean_of(1) ** 4 == pytest.approx(0.066, abs=0.002)
    all_fail = 1 - 4 * mean_of(1) + 6 * mean_of(2) - 4 * mean_of(3) + mean_of(4)
    assert ((1 - p) ** 4).mean() == pytest.approx(all_fail, abs=1e-3)
    assert all_fail > 50 * (1 - mean_of(1)) ** 4
