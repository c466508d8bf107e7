"""Equipment that waits, groups of it and cut sets: by hand, by enumeration, by simulation, and nonsense refused."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.formulas import reliability as r

SHARE = st.floats(0, 1)
BETA = st.floats(0, 0.9)
RATE = st.floats(1e-9, 10)
TIME = st.floats(1e-3, 1e3)


def test_a_mode_seldom_seen_is_absent_less_often():
    assert r.mode_absent(0.1, 0.0, 0.02) == pytest.approx(0.98)
    assert r.mode_absent(0.1, 1.5, 0.02) == pytest.approx(0.98 * math.exp(-0.15), rel=1e-15)
    assert r.mode_absent(np.array([0.0, 0.1]), 10.0).tolist() == [1.0, pytest.approx(math.exp(-1))]


@given(x=st.floats(1e-12, 700))
def test_the_exact_average_lies_between_its_bounds_and_keeps_its_digits(x):
    found = r.mean_unavailability(1.0, x)
    assert x / 2 - x * x / 6 <= found * (1 + 1e-15) <= min(x / 2, 1) * (1 + 2e-15)
    if x < 1e-5:
        assert found == pytest.approx(x / 2 - x * x / 6, rel=1e-10)


@given(rate=RATE, interval=TIME, scale=st.floats(1e-3, 1e4))
def test_another_unit_of_time_changes_nothing(rate, interval, scale):
    assert r.mean_unavailability(rate / scale, interval * scale) == pytest.approx(
        r.mean_unavailability(rate, interval), rel=1e-9
    )


def test_an_array_of_rates_gives_what_each_rate_does():
    rates = np.array([0.0, 1e-9, 0.3, 0.7, 40.0])
    for formula in (r.mean_unavailability, r.mean_unavailability_approx):
        assert formula(rates, 1.3).tolist() == [formula(float(one), 1.3) for one in rates]


@given(rate=RATE, interval=TIME, q=SHARE)
def test_failing_when_asked_comes_on_top(rate, interval, q):
    waiting = r.mean_unavailability(rate, interval)
    assert 1 - r.mean_unavailability(rate, interval, q) == pytest.approx((1 - q) * (1 - waiting), abs=1e-12)


@given(rate=st.floats(1e-6, 1), interval=st.floats(0.1, 10), intervals=st.floats(1, 30))
def test_a_proof_that_sees_all_needs_no_overhaul_and_one_that_sees_nothing_is_none(rate, interval, intervals):
    overhaul = interval * math.floor(intervals)
    whole = r.partial_unavailability(rate, 1.0, interval, overhaul)
    assert whole == pytest.approx(r.mean_unavailability(rate, interval), rel=1e-9)
    blind = r.partial_unavailability(rate, 0.0, interval, interval * intervals)
    assert blind == pytest.approx(r.mean_unavailability(rate, interval * intervals), rel=1e-9)


@given(coverage=SHARE, more=SHARE, intervals=st.floats(1, 20))
def test_a_proof_that_sees_more_never_makes_it_worse(coverage, more, intervals):
    low, high = sorted((coverage, more))
    assert (
        r.partial_unavailability(0.2, high, 1.0, intervals)
        <= r.partial_unavailability(0.2, low, 1.0, intervals) + 1e-12
    )


def test_the_mean_availability_is_the_mean_of_what_holds_at_each_instant():
    # Proofs at 1, 2, 3 of coverage 0.7, overhaul at 3.6.
    instants = (np.arange(36_000) + 0.5) / 10_000
    proofs = [(1.0, 0.7), (2.0, 0.7), (3.0, 0.7)]
    each = [r.availability_after_proofs(0.3, [p for p in proofs if p[0] <= t], float(t)) for t in instants]
    assert r.partial_unavailability(0.3, 0.7, 1.0, 3.6) == pytest.approx(1 - np.mean(each), rel=1e-7)


def test_items_whose_proofs_see_a_part_fail_as_often_in_a_simulation():
    rng = np.random.default_rng(7)
    n, rate, proofs, at = 200_000, 0.4, [(1.0, 0.5), (2.0, 0.8), (3.0, 0.3)], 3.5
    works = np.ones(n, dtype=bool)
    for seen_from, share in ((0.3, 0.3), (0.5, 0.2), (0.8, 0.3), (1.1, 0.2)):  # least coverage that sees the share
        last = max((t for t, c in proofs if c >= seen_from - 1e-9), default=0.0)
        works &= rng.exponential(1 / (rate * share), n) > at - last
    expected = r.availability_after_proofs(rate, proofs, at)
    assert works.mean() == pytest.approx(expected, abs=4 * math.sqrt(0.25 / n))


@given(rate=RATE, target=st.floats(1e-9, 0.999))
def test_the_interval_found_gives_the_target_and_the_rule_is_never_longer(rate, target):
    interval = r.proof_interval(rate, target)
    assert r.mean_unavailability(rate, interval) == pytest.approx(target, rel=1e-9)
    assert r.proof_interval_approx(rate, target) <= interval * (1 + 1e-12)


@given(n=st.integers(1, 12), p=SHARE, data=st.data())
def test_k_of_n_is_the_sum_of_its_states(n, p, data):
    k = data.draw(st.integers(0, n))
    by_hand = sum(math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))
    assert r.koon(k, n, p) == pytest.approx(by_hand, abs=1e-12)
    assert r.koon(k, n, np.array([p, 1.0])).tolist() == [r.koon(k, n, p), 1.0]


@given(p=st.lists(SHARE, min_size=1, max_size=7), data=st.data())
def test_unequal_items_that_work_or_not_reach_a_need_as_enumeration_says(p, data):
    capacities = data.draw(st.lists(st.sampled_from([0.0, 1.0, 2.5, 3.0]), min_size=len(p), max_size=len(p)))
    need = data.draw(st.sampled_from([0.5, 1.0, 3.0, 5.5, 9.0]))
    by_hand = sum(
        math.prod(one if works else 1 - one for one, works in zip(p, state, strict=True))
        for state in itertools.product((False, True), repeat=len(p))
        if sum(c for c, works in zip(capacities, state, strict=True) if works) >= need
    )
    found = r.capacity_reached([[0.0, c] for c in capacities], [[1 - one, one] for one in p], need)
    assert found.probability == pytest.approx(by_hand, abs=1e-12)
    assert found.off == 0.0


@given(n=st.integers(1, 10), p=SHARE, data=st.data())
def test_equal_capacities_are_k_of_n(n, p, data):
    k = data.draw(st.integers(1, n))
    found = r.capacity_reached([[0.0, 40.0]] * n, [[1 - p, p]] * n, 40.0 * k)
    assert found.probability == pytest.approx(r.koon(k, n, p), abs=1e-12)


def test_nothing_needed_is_always_there_and_more_than_all_never():
    assert r.capacity_reached([[0.0, 1.0]], [[0.5, 0.5]], 0.0) == (1.0, 0.0)
    assert r.capacity_reached([[0.0, 1.0]], [[0.5, 0.5]], 1.1).probability == 0.0


@given(n=st.integers(1, 8), q=SHARE, beta=BETA)
def test_the_common_cause_keeps_each_items_own_probability(n, q, beta):
    assert r.koon_common_cause(1, 1, q, beta) == 1 - q
    together = beta * q
    if together < 1:
        assert together + (1 - together) * r.apart_probability(q, together) == pytest.approx(q, abs=1e-12)
    assert r.koon_common_cause(1, n, q, 0.0) == pytest.approx(1 - q**n, abs=1e-12)


@given(n=st.integers(2, 8), q=st.floats(0.001, 0.1), beta=BETA)
def test_the_form_for_rare_failures_is_a_little_below_the_exact_one(n, q, beta):
    exact = 1 - r.koon_common_cause(1, n, q, beta)
    apart = ((1 - beta) * q) ** n
    assert -1e-15 <= exact - r.parallel_failure_rare(q, beta, n) <= 3 * (n - 1) * beta * q * apart + 1e-15


def test_a_group_in_a_simulation_fails_together_as_often_as_the_beta_factor_says():
    rng = np.random.default_rng(11)
    n, q, beta = 400_000, 0.2, 0.25
    struck = rng.random(n) < beta * q
    apart = rng.random((4, n)) < r.apart_probability(q, beta * q)
    works = ~(apart | struck)
    assert works[0].mean() == pytest.approx(1 - q, abs=4 * math.sqrt(0.16 / n))
    assert (works.sum(axis=0) >= 3).mean() == pytest.approx(
        r.koon_common_cause(3, 4, q, beta), abs=4 * math.sqrt(0.25 / n)
    )


CUTS = st.lists(st.frozensets(st.sampled_from("ABCDEFG"), min_size=1, max_size=4), max_size=7)


@settings(max_examples=60)
@given(cuts=CUTS, q=st.lists(SHARE, min_size=7, max_size=7))
def test_cut_sets_stop_the_line_as_often_as_enumeration_says_and_never_more_than_their_bound(cuts, q):
    of = dict(zip("ABCDEFG", q, strict=True))
    by_hand = 0.0
    for state in itertools.product((False, True), repeat=7):
        lost = {name for name, gone in zip("ABCDEFG", state, strict=True) if gone}
        if any(cut <= lost for cut in cuts):
            by_hand += math.prod(of[name] if name in lost else 1 - of[name] for name in of)
    exact = r.cut_sets_fail(cuts, of)
    assert exact == pytest.approx(by_hand, abs=1e-12)
    assert exact <= r.cut_sets_bound(cuts, of) + 1e-12


def test_thirty_cut_sets_of_thirty_items_are_still_exact():
    # A ring: neighbours together stop it. 1 less the share of rings without two neighbours lost (Lucas number).
    cuts = [(f"{i}", f"{(i + 1) % 30}") for i in range(30)]
    assert r.cut_sets_fail(cuts, {f"{i}": 0.5 for i in range(30)}) == pytest.approx(1 - 1_860_498 / 2**30, rel=1e-12)


def test_too_tangled_cut_sets_are_refused_with_the_way_out(monkeypatch):
    monkeypatch.setattr(r, "MOST_STATES", 3)
    with pytest.raises(ValueError, match="cut_sets_bound"):
        r.cut_sets_fail([("a", "b"), ("b", "c"), ("c", "d")], dict.fromkeys("abcd", 0.1))


def test_a_second_channel_helps_until_the_common_cause_rules():
    one = r.pfd_1oo1(2e-6, 0.0, 8760, 8)
    assert r.pfd_1oo2(2e-6, 0.0, 0.0, 0.0, 8760, 8) < one / 50
    assert one / 11 < r.pfd_1oo2(2e-6, 0.0, 0.1, 0.05, 8760, 8) < one / 9
    assert r.pfd_1oo2(2e-6, 0.3, 1.0, 1.0, 8760, 8) == pytest.approx(r.pfd_1oo1(2e-6, 0.3, 8760, 8))


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: r.mode_absent(-1.0, 1.0), "rate must be at least 0"),
        (lambda: r.mode_absent(0.1, math.nan), "exposure must be"),
        (lambda: r.mode_absent(0.1, 1.0, 1.5), "demand_probability must be at least 0 and at most 1"),
        (lambda: r.mean_unavailability(math.inf, 1.0), "rate must be"),
        (lambda: r.mean_unavailability(np.array([]), 1.0), "rate must be"),
        (lambda: r.mean_unavailability_approx(0.1, -1.0), "interval must be"),
        (lambda: r.partial_unavailability(0.1, 1.2, 1.0, 2.0), "coverage must be"),
        (lambda: r.partial_unavailability(0.1, 0.2, 2.0, 1.0), "overhaul must be at least 2"),
        (lambda: r.partial_unavailability_approx(0.1, 0.2, 0.0, 1.0), "interval must be above 0"),
        (
            lambda: r.availability_after_proofs(0.1, [(2.0, 0.5)], 1.0),
            r"proofs \(time\) must be at least 0 and at most 1",
        ),
        (lambda: r.availability_after_proofs(0.1, [(0.5, -0.5)], 1.0), r"proofs \(coverage\) must be"),
        (lambda: r.proof_interval(0.0, 0.1), "rate must be above 0"),
        (lambda: r.proof_interval(0.1, 1.0), "unavailability must be above 0 and at most 1"),
        (lambda: r.proof_interval_approx(0.1, 0.0), "unavailability must be above 0"),
        (lambda: r.koon(3, 2, 0.5), "k must be a whole number of at least 0 and at most 2"),
        (lambda: r.koon(1, 0, 0.5), "n must be a whole number of at least 1"),
        (lambda: r.koon(1, 2, -0.5), "p must be"),
        (lambda: r.koon(1, 2.5, 0.5), "n must be a whole number"),
        (lambda: r.capacity_reached([], [], 1.0), "at least 1 item"),
        (lambda: r.capacity_reached([[0.0, 1.0]], [[1.0]], 1.0), "as many weights as levels"),
        (lambda: r.capacity_reached([[0.0, -1.0]], [[0.5, 0.5]], 1.0), "levels must be at least 0"),
        (lambda: r.capacity_reached([[0.0, 1.0]], [[0.5, 0.6]], 1.0), "sum of one item's weights must be"),
        (lambda: r.capacity_reached([[0.0, 1.0]], [[0.5, 0.5]], math.nan), "need must be"),
        (lambda: r.series_of_parallel([]), "at least 1 group"),
        (lambda: r.series_of_parallel([[0.5], []]), "at least 1 item each"),
        (lambda: r.series_of_parallel([[1.5]]), "groups must be"),
        (lambda: r.koon_common_cause(1, 2, 0.5, 1.0), "beta must be"),
        (lambda: r.koon_common_cause(0, 2, 0.5, 0.1), "k must be a whole number of at least 1"),
        (lambda: r.common_cause_probability(np.array([[1.5]]), np.array([1.0]), 0.1), "q must be"),
        (lambda: r.apart_probability(0.1, 0.2), "q - together must be at least 0"),
        (lambda: r.apart_probability(1.0, 1.0), "1 - together must be above 0"),
        (lambda: r.parallel_failure_rare(2.0, 0.1, 2), "q must be"),
        (lambda: r.pfd_1oo1(-1e-9, 0.0, 8760, 8), "dangerous_rate must be at least 0"),
        (lambda: r.pfd_1oo1(1e-6, 2.0, 8760, 8), "coverage must be"),
        (lambda: r.pfd_1oo2(1e-6, 0.0, 0.1, -0.1, 8760, 8), "beta_detected must be"),
        (lambda: r.cut_sets_fail([["a"], []], {"a": 0.1}), "at least 1 name"),
        (lambda: r.cut_sets_fail([["a", "b"]], {"a": 0.1}), "for 'b', got none"),
        (lambda: r.cut_sets_bound([["a"]], {"a": 1.1}), "q of 'a' must be"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
