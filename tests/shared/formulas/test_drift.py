"""Trends: certified digits, honest answers to too few readings, ranges that hold what they say."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from reports.check_values import own_cases
from shared.formulas import drift
from shared.formulas.drift import forecast

MONTHS = [0, 6, 12, 18, 24, 30, 36]
CAPACITY = [100, 98.5, 97.8, 96.1, 95.2, 93.4, 92.6]
READINGS = st.lists(st.tuples(st.integers(0, 400), st.integers(-500, 500)), min_size=4, max_size=15).filter(
    lambda rows: len({x for x, _ in rows}) > 2
)


def norris():
    case = next(one for one in own_cases() if one.id == "h-01")
    return case.inputs["x"], case.inputs["y"]


def test_the_certified_digits_of_the_norris_set_are_held():
    line = drift.least_squares(*norris())
    # NIST StRD, Norris: certified values.
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.scatter == pytest.approx(0.884796396144373, rel=1e-9)


def test_digits_are_kept_where_times_are_counted_from_long_ago():
    x, y = norris()
    # So far out the times themselves are rounded at the seventh decimal; squared as they stand they would lose all.
    moved = drift.least_squares(np.array(x) + 1e9, y)
    assert moved.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert moved.scatter == pytest.approx(0.884796396144373, rel=1e-7)


@pytest.mark.parametrize(("n", "level"), [(4, 0.8), (6, 0.9), (20, 0.95)])
def test_prediction_ranges_hold_the_next_reading_as_often_as_they_say(n, level):
    rng = np.random.default_rng(n)
    x = np.sort(rng.uniform(0, 365, n))
    trials, held = 4000, 0
    for _ in range(trials):
        line = drift.least_squares(x, 95 - 0.02 * x + rng.normal(0, 0.7, n))
        low, high = drift.prediction_range(line, 600.0, level)
        held += bool(low <= 95 - 0.02 * 600 + rng.normal(0, 0.7) <= high)
    assert held / trials == pytest.approx(level, abs=4 * math.sqrt(level * (1 - level) / trials))


def test_ranges_of_the_slope_hold_it_as_often_as_they_say():
    rng = np.random.default_rng(9)
    x = np.arange(10.0) * 30
    trials, held, robust = 2000, 0, 0
    for _ in range(trials):
        y = 2.5 - 0.001 * x + rng.normal(0, 0.05, 10)
        low, high = drift.slope_range(drift.least_squares(x, y), 0.9)
        found = drift.median_line(x, y, 0.9)
        held += low <= -0.001 <= high
        robust += found.slope_low <= -0.001 <= found.slope_high
    assert held / trials == pytest.approx(0.9, abs=4 * math.sqrt(0.09 / trials))
    # Its normal form is coarse at ten readings, and errs to the wide side.
    assert robust / trials == pytest.approx(0.92, abs=0.03)


def test_a_reading_crosses_before_the_earliest_day_as_seldom_as_the_level_says():
    rng = np.random.default_rng(21)
    x = np.arange(8.0) * 30
    trials, early = 3000, 0
    for _ in range(trials):
        y = 100 - 0.05 * x + rng.normal(0, 0.3, 8)
        found = drift.crossing(x, y, 80.0, "falls_below", 0.9)
        # A reading taken on that very day falls past the limit with the chance outside one side of the range.
        early += 100 - 0.05 * found.earliest + rng.normal(0, 0.3) < 80.0
    assert early / trials == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / trials))


@given(
    rows=READINGS, shift=st.integers(-1000, 1000), lift=st.integers(-100, 100), scale=st.sampled_from([0.25, 2.0, 60.0])
)
def test_moving_or_stretching_the_scales_moves_and_stretches_the_answer(rows, shift, lift, scale):
    x, y = np.array(rows, dtype=float).T
    line, moved = drift.least_squares(x, y), drift.least_squares(x * scale + shift, y + lift)
    assert moved.slope * scale == pytest.approx(line.slope, rel=1e-9, abs=1e-9)
    assert moved.scatter == pytest.approx(line.scatter, rel=1e-7, abs=1e-9)
    first, second = drift.median_line(x, y, 0.9), drift.median_line(x * scale + shift, y + lift, 0.9)
    assert second.slope * scale == pytest.approx(first.slope, rel=1e-9, abs=1e-9)


@given(rows=READINGS)
def test_readings_mirrored_at_the_limit_cross_it_on_the_same_day_from_the_other_side(rows):
    x, y = np.array(rows, dtype=float).T
    fall = forecast(x.tolist(), y.tolist(), 3.0, "falls_below")
    rise = forecast(x.tolist(), (6.0 - y).tolist(), 3.0, "rises_above")
    assert fall.outcome == rise.outcome
    for one, other in ((fall.crossing, rise.crossing), (fall.earliest, rise.earliest)):
        assert one == (None if other is None else pytest.approx(other, rel=1e-6, abs=1e-6))


@settings(max_examples=200)
@given(rows=READINGS, limit=st.integers(-600, 600), level=st.sampled_from([0.5, 0.8, 0.95]))
def test_no_date_lies_past_the_horizon_and_the_earliest_is_never_after_the_crossing(rows, limit, level):
    x, y = np.array(rows, dtype=float).T
    found = forecast(x.tolist(), y.tolist(), float(limit), "rises_above", level)
    for day in (found.crossing, found.earliest, found.robust_crossing):
        assert day is None or found.times[0] <= day <= found.horizon
    if found.crossing is not None and found.earliest is not None and found.crossing >= found.times[-1]:
        assert found.times[-1] <= found.earliest <= found.crossing + 1e-6
    assert found.reason.endswith(".")


@given(rows=READINGS, level=st.floats(0.01, 0.99))
def test_the_median_line_is_what_the_reference_library_says(rows, level):
    x, y = np.array(rows, dtype=float).T
    assume(np.ptp(x) > 0)  # readings of one day have no slope
    found = drift.median_line(x, y, level)
    theirs = stats.theilslopes(y, x, max(level, 1 - level), method="separate")
    assert (found.slope, found.intercept) == (pytest.approx(theirs.slope), pytest.approx(theirs.intercept))
    if level > 0.5:  # the library takes 0.2 for 0.8
        assert found.slope_low == pytest.approx(theirs.low_slope)
        assert found.slope_high == pytest.approx(theirs.high_slope)


def test_a_higher_level_brings_the_earliest_day_nearer():
    days = [forecast(MONTHS, CAPACITY, 80, "falls_below", level).earliest for level in (0.5, 0.8, 0.9, 0.99)]
    assert days == sorted(days, reverse=True)
    assert len(set(days)) == 4


@pytest.mark.parametrize(
    ("x", "y", "outcome", "says"),
    [
        ([], [], "no reading", "No reading"),
        ([5], [2.5], "one reading", "not a trend"),
        ([5, 95], [2.5, 2.3], "too few", "Two readings always lie on a line"),
        ([5, 50, 95], [2.5, 2.4, 2.3], "too few", "3 readings are too few"),
        ([5, 5, 5, 5], [2.5, 2.4, 2.3, 2.4], "too few", "fewer than three different days"),
        ([5, 5, 95, 95], [2.5, 2.4, 2.3, 2.4], "too few", "fewer than three different days"),
    ],
)
def test_too_few_readings_give_no_line_no_date_and_the_reason(x, y, outcome, says):
    found = forecast(x, y, 2.0, "falls_below")
    assert (found.outcome, found.enough) == (outcome, False)
    assert says in found.reason
    assert (found.crossing, found.earliest, found.robust, found.horizon) == (None, None, None, None)
    assert found.line_at([0, 1]).size == found.band_at([0, 1]).low.size == 0
    assert found.times == tuple(x)


def test_four_readings_are_enough():
    assert forecast([0, 30, 60, 90], [2.5, 2.45, 2.4, 2.35], 2.0, "falls_below").enough


def test_a_trend_that_moves_towards_its_limit_tells_both_days():
    found = forecast(MONTHS, CAPACITY, 80, "falls_below")
    assert found.outcome == "will cross"
    assert (found.crossing, found.earliest) == (pytest.approx(95.897, abs=1e-3), pytest.approx(89.565, abs=1e-3))
    assert found.slope_low < found.line.slope < found.slope_high < 0


def test_a_trend_that_moves_away_or_holds_has_no_day():
    away = forecast([0, 1, 2, 3, 4], [90, 91, 90.5, 92, 91.8], 80, "falls_below")
    assert (away.outcome, away.crossing, away.earliest) == ("moving away", None, None)
    level = forecast([0, 1, 2, 3], [5, 5, 5, 5], 4, "falls_below")
    assert (level.outcome, level.crossing) == ("holding", None)


def test_scatter_as_wide_as_the_margin_says_that_it_may_be_past_already_whichever_way_it_goes():
    towards = forecast([0, 30, 60, 90], [2.5, 2.3, 2.4, 2.1], 2.0, "falls_below", 0.95)
    assert (towards.outcome, towards.earliest) == ("already possible", 90)
    away = forecast([0, 30, 60, 90], [2.1, 2.4, 2.3, 2.5], 2.0, "falls_below", 0.99)
    assert (away.outcome, away.earliest, away.crossing) == ("already possible", 90, None)


def test_a_trend_past_its_limit_says_so_and_when_it_crossed():
    found = forecast([0, 10, 20, 30, 40], [5, 4, 3.1, 2, 0.9], 2.5, "falls_below")
    assert found.outcome == "past the limit"
    assert 20 < found.crossing < 30
    assert found.earliest == 40


def test_a_limit_far_ahead_has_no_day():
    found = forecast(MONTHS, CAPACITY, 60, "falls_below")
    assert (found.outcome, found.crossing, found.earliest, found.horizon) == ("beyond the horizon", None, None, 108)
    edge = forecast(MONTHS, CAPACITY, 77, "falls_below")
    assert (edge.outcome, edge.crossing) == ("will cross", None)
    assert edge.earliest < 108
    assert "the trend itself later" in edge.reason


def test_what_was_read_before_a_repair_counts_for_nothing():
    before = forecast([-60, -30, *MONTHS], [80, 79, *CAPACITY], 80, "falls_below", since=0)
    assert before.crossing == forecast(MONTHS, CAPACITY, 80, "falls_below").crossing
    assert before.times[0] == 0
    assert forecast(MONTHS, CAPACITY, 80, "falls_below", since=30).outcome == "too few"


def test_one_wild_reading_is_told_of_and_an_exact_line_is_no_outlier():
    days = list(range(0, 60, 4))
    wild = [100 - 0.2 * day + (0.1 if day % 8 else -0.1) for day in days[:-1]] + [60.0]
    found = forecast(days, wild, 50, "falls_below", 0.8)
    assert found.outlier_suspected
    assert "look at the readings" in found.reason
    assert found.robust.slope == pytest.approx(-0.2, abs=0.01)
    exact = forecast(days, [100 - 0.1 * day for day in days], 92, "falls_below", 0.8)
    assert not exact.outlier_suspected
    assert exact.crossing == pytest.approx(80)
    assert exact.earliest == pytest.approx(80)


def test_the_line_and_its_band_can_be_drawn_at_any_points():
    found = forecast(MONTHS, CAPACITY, 80, "falls_below")
    at = np.linspace(0, found.horizon, 25)
    low, high = found.band_at(at)
    assert low.shape == high.shape == found.line_at(at).shape == (25,)
    assert np.all((low < found.line_at(at)) & (found.line_at(at) < high))
    assert found.band_at([found.earliest]).low[0] == pytest.approx(80)
    assert found.line_at([found.crossing])[0] == pytest.approx(80)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: drift.least_squares([1], [2]), "number of readings must be at least 2"),
        (lambda: drift.least_squares([1, 1], [2, 3]), "spread of times must be above 0"),
        (lambda: drift.least_squares([1, 2], [2, 3, 4]), "lists of one length"),
        (lambda: drift.least_squares([1, math.nan], [2, 3]), "times must be a finite number"),
        (lambda: drift.least_squares([1, 2], [2, math.inf]), "values must be a finite number"),
        (
            lambda: drift.prediction_range(drift.least_squares([1, 2], [2, 3]), 3, 0.9),
            "readings of the line must be at least 3",
        ),
        (lambda: drift.prediction_range(drift.least_squares([1, 2, 3], [2, 3, 5]), 3, 1.0), "level must be above 0"),
        (lambda: drift.prediction_range(drift.least_squares([1, 2, 3], [2, 3, 5]), math.nan, 0.9), "times must be"),
        (lambda: drift.slope_range(drift.least_squares([1, 2, 3], [2, 3, 5]), 0.0), "level must be above 0"),
        (lambda: drift.crossing([1, 2, 3], [2, 3, 5], 9, "sideways", 0.9), "rises_above or falls_below"),
        (lambda: drift.crossing([1, 2, 3], [2, 3, 5], math.nan, "rises_above", 0.9), "limit must be"),
        (lambda: drift.median_line([1, 1], [2, 3], 0.9), "spread of times"),
        (lambda: drift.median_line(range(2001), range(2001), 0.9), "at most 2000"),
        (lambda: drift.median_line([1, 2], [2, 3], 1.5), "level must be"),
        (lambda: forecast([1, 2], [3], 9, "rises_above"), "equally many"),
        (lambda: forecast([1, math.nan], [3, 4], 9, "rises_above"), "times must be"),
        (lambda: forecast([1], [3], 9, "rises_above", 2.0), "level must be"),
        (lambda: forecast([1], [3], 9, "rises_above", since=math.inf), "since must be"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
