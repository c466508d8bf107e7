"""Sums of unlike capacities against plain enumeration, and what happens when there are too many sums."""

import itertools

import numpy as np
import pytest
from scipy import stats

from shared.formulas.capacity_sums import ENOUGH, SCALE, reach, whole_number


def whole(levels, need):
    return tuple(tuple(whole_number(level, need) for level in part) for part in levels)


def enumerated(levels, weights, threshold):
    answer = np.zeros(weights[0].shape[1])
    for states in itertools.product(*(range(len(part)) for part in levels)):
        if sum(part[s] for part, s in zip(levels, states, strict=True)) >= threshold:
            answer += np.prod([w[s] for w, s in zip(weights, states, strict=True)], axis=0)
    return answer


@pytest.mark.parametrize("seed", range(40))
def test_any_few_parts_reach_any_thresholds_as_enumeration_says(seed):
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 4, size=rng.integers(1, 8))
    levels = whole([rng.choice([0, 0.5, 1, rng.uniform(0, 2)], size=k) for k in sizes], rng.uniform(1, 4))
    weights = [rng.dirichlet(np.ones(k), size=3).T.copy() for k in sizes]
    thresholds = (ENOUGH // 3, ENOUGH // 2, ENOUGH, 0, 20 * SCALE)
    found, off = reach(levels, weights, thresholds)
    assert off == 0.0
    for row, threshold in zip(found, thresholds, strict=True):
        assert row == pytest.approx(enumerated(levels, weights, threshold), abs=1e-12)


def test_equal_capacities_are_the_binomial():
    p = np.array([0.2, 0.9, 0.97])
    found, off = reach(((0, SCALE // 7),) * 12, [np.stack([1 - p, p])] * 12, (ENOUGH - 12,))
    assert found[0] == pytest.approx(stats.binom.sf(6, 12, p), abs=1e-12)
    assert off == 0.0


def test_ten_tenths_are_enough_and_a_little_less_is_not():
    p = np.array([0.5])
    levels = whole([(0.0, 0.1)] * 10, 1.0)
    assert reach(levels, [np.stack([1 - p, p])] * 10, (ENOUGH,))[0][0] == pytest.approx(0.5**10)
    short = whole([(0.0, 0.1 * (1 - 1e-8))] * 10, 1.0)
    assert reach(short, [np.stack([1 - p, p])] * 10, (ENOUGH,))[0][0] == 0.0


def test_no_parts_reach_only_nothing():
    assert reach((), [], (0, 1))[0].tolist() == [[1.0], [0.0]]


def test_thirteen_unlike_parts_of_two_states_are_still_exact():
    rng = np.random.default_rng(5)
    levels = whole([(0.0, 20 + rng.uniform(-8, 8)) for _ in range(13)], 170.0)
    weights = [rng.dirichlet([1, 6], size=2).T.copy() for _ in levels]
    found, off = reach(levels, weights, (ENOUGH,))
    assert off == 0.0
    assert found[0] == pytest.approx(enumerated(levels, weights, ENOUGH), abs=1e-12)


def test_where_sums_had_to_be_lumped_the_truth_is_within_what_is_told():
    # Sixteen unlike parts of three states have 43 million sums; the characteristic function gives their distribution
    # on a grid so fine that its own rounding is less than what is allowed for.
    rng = np.random.default_rng(11)
    full = rng.integers(900, 2100, size=16) * 10
    parts = [(0, int(0.8 * f), int(f)) for f in full]
    weights = [rng.dirichlet([1, 1, 8], size=2).T.copy() for _ in parts]
    need = int(0.75 * full.sum())
    found, off = reach(whole(parts, need), weights, (ENOUGH,))
    size = 1 << int(full.sum()).bit_length()
    for draw in range(2):
        transform = np.ones(size // 2 + 1, dtype=complex)
        for part, weight in zip(parts, weights, strict=True):
            one = np.zeros(size)
            np.add.at(one, list(part), weight[:, draw])
            transform *= np.fft.rfft(one)
        truth = np.fft.irfft(transform, size)[need:].sum()
        assert found[0, draw] == pytest.approx(truth, abs=4 * off)
    assert 0.0 < off < 1e-3
