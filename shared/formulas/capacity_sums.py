"""Probability that capacities which add up reach a need, over all draws at once (universal generating function).

What is possible depends on the capacities alone: which sums there are, which are alike, which are already enough and
which can no longer be. That plan is made once in whole numbers and kept; running it over the draws is then a handful
of array operations for each part.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shared.formulas._ranges import within

SCALE = 1 << 40  # a need in whole numbers: equal sums compare equal, and sixty roundings stay under 1 in 10**10
ENOUGH = SCALE - SCALE // 10**9  # a sum this large meets the need: 1 part in 10**9 short is not short
MOST_SUMS = 2048  # distinct sums kept before near ones are lumped
MOST_PAIRS = 48  # of sums and states in one step; beyond that two chains of half the parts that meet are quicker


@dataclass(frozen=True, eq=False)
class Step:
    """How one more part turns the sums so far into the sums with it.

    Attributes:
        take: which pairs (sum, state) live on, as sum * states + state, grouped by new sum, shape (k,).
        starts: where each new sum's pairs begin in ``take``, shape (m,); None where every sum has one pair.
        whole: every pair lives on and in its old order.
    """

    take: NDArray[np.intp]
    starts: NDArray[np.intp] | None
    whole: bool


@dataclass(frozen=True, eq=False)
class Plan:
    """How to convolve some parts: all in one chain, or in two that meet.

    Attributes:
        left: steps, one for each part, or for each of the first few.
        right: steps for the others; () where one chain does it.
        surely: for each threshold, with one chain the sums that reach it, with two the first right sum that reaches
            it with each left sum.
        perhaps: the same where lumped sums count at their highest; None where nothing was lumped.
    """

    left: tuple[Step, ...]
    right: tuple[Step, ...]
    surely: tuple[NDArray[np.intp], ...]
    perhaps: tuple[NDArray[np.intp], ...] | None


def whole_number(capacity: float, need: float) -> int:
    """A capacity as a whole number of which the need is the whole scale; more than the need counts as the need.

    Args:
        capacity: what one unit gives, >= 0. [any one unit]
        need: of which it may be all or a part, > 0. [same unit]

    Returns:
        0 to SCALE. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition; rounding is under 1 part in 10**12 of the need.
    """
    if not capacity >= 0:  # one without end is the need
        raise ValueError(f"capacity must be at least 0 units of capacity, got {capacity!r}")
    within("need", need, 0.0, unit="units of capacity", above=True)
    return round(min(capacity / need, 1.0) * SCALE)


def reach(
    levels: tuple[tuple[int, ...], ...], weights: list[NDArray[np.float64]], thresholds: tuple[int, ...]
) -> tuple[NDArray[np.float64], float]:
    """Probability that a sum of independent capacities reaches each of some thresholds.

    Args:
        levels: capacities of each part's states, whole numbers, parts in any order. [-]
        weights: of each part, shape (states, n); columns sum to 1. [-]
        thresholds: whole numbers. [-]

    Returns:
        Probabilities, shape (len(thresholds), n), and how far their mean over the draws may be off: 0 unless more
        than ``MOST_SUMS`` distinct sums had to be lumped. [-]

    Source: universal generating function (Levitin, 2005); derivation in DEVELOPERS.md, "From items to the line".
    """
    width = weights[0].shape[1] if weights else 1
    answer = np.zeros((len(thresholds), width))
    most = sum(map(max, levels))
    least = sum(map(min, levels))
    open_at = [i for i, threshold in enumerate(thresholds) if least < threshold <= most]
    for i, threshold in enumerate(thresholds):
        if threshold <= least:
            answer[i] = 1.0
    if not open_at:
        return answer, 0.0
    if len(levels) == 1:
        for i in open_at:
            rows = [row for row, level in zip(weights[0], levels[0], strict=True) if level >= thresholds[i]]
            answer[i] = sum(rows[1:], rows[0])
        return answer, 0.0
    # Largest capacities first: sums are then soonest seen to be enough, or out of reach.
    order = sorted(range(len(levels)), key=lambda i: max(levels[i]), reverse=True)
    wanted = tuple(thresholds[i] for i in open_at)
    plan = _plan_for(tuple(levels[i] for i in order), wanted)
    left = _run(plan.left, [weights[i] for i in order], width)
    right = (
        _from_the_top(_run(plan.right, [weights[i] for i in order[len(plan.left) :]], width)) if plan.right else None
    )
    answer[open_at] = [_reached(left, right, at) for at in plan.surely]
    if plan.perhaps is None:
        return answer, 0.0
    # Lumped sums that straddle the threshold: half of them, and say so.
    half = 0.5 * (np.array([_reached(left, right, at) for at in plan.perhaps]) - answer[open_at])
    answer[open_at] += half
    return answer, float(half.mean(axis=1).max())


def _run(steps: tuple[Step, ...], weights: list[NDArray[np.float64]], width: int) -> NDArray[np.float64]:
    """Probability of each last sum of a chain of steps, shape (m, width)."""
    sums: NDArray[np.float64] | None = None
    for step, weight in zip(steps, weights, strict=False):
        pairs = weight if sums is None else (sums[:, None, :] * weight[None, :, :]).reshape(-1, width)
        if not step.whole:
            pairs = pairs[step.take]
        sums = pairs if step.starts is None else np.add.reduceat(pairs, step.starts, axis=0)
    assert sums is not None
    return sums


def _from_the_top(sums: NDArray[np.float64]) -> NDArray[np.float64]:
    """Row i is the probability of sum i or a larger one; a last row of 0 for none of them, shape (m + 1, n)."""
    return np.vstack([np.cumsum(sums[::-1], axis=0)[::-1], np.zeros((1, sums.shape[1]))])


def _reached(left: NDArray[np.float64], right: NDArray[np.float64] | None, at: NDArray[np.intp]) -> NDArray[np.float64]:
    if right is not None:
        return np.asarray(np.einsum("an,an->n", left, right[at]))
    return left[at[0]] if len(at) == 1 else np.asarray(left[at].sum(axis=0))


@lru_cache(maxsize=512)
def _plan_for(levels: tuple[tuple[int, ...], ...], thresholds: tuple[int, ...]) -> Plan:
    """How to convolve parts of these levels so far as some thresholds ask; kept, since capacities change rarely."""
    one = _Chain(levels, thresholds, 0, last=True)
    if one.most_pairs <= MOST_PAIRS:
        surely = tuple(np.flatnonzero(one.low >= threshold) for threshold in thresholds)
        return Plan(one.steps, (), surely, None)
    half = (len(levels) + 1) // 2
    a = _Chain(levels[:half], thresholds, sum(map(max, levels[half:])))
    b = _Chain(levels[half:], thresholds, sum(map(max, levels[:half])))
    # Lumps of the right are in order of their lowest sum; their highest, too, must rise for the search.
    highest = np.maximum.accumulate(b.high)
    surely = tuple(np.searchsorted(b.low, threshold - a.low) for threshold in thresholds)
    perhaps = tuple(np.searchsorted(highest, threshold - a.high) for threshold in thresholds)
    return Plan(a.steps, b.steps, surely, perhaps if a.lumped or b.lumped else None)


class _Chain:
    """Steps that convolve parts one after the other, as far as some thresholds ask.

    Each kept sum is a lump of true sums between ``low`` and ``high``, which are one and the same until lumping is
    forced.

    Args:
        others: the most that parts outside the chain may add.
        last: nothing is added after it: only what thresholds a sum reaches then matters. The chain is given up, its
            sums unlumped, once a step has more than MOST_PAIRS pairs.
    """

    def __init__(
        self, levels: tuple[tuple[int, ...], ...], thresholds: tuple[int, ...], others: int, *, last: bool = False
    ) -> None:
        cap, floor = max(thresholds), min(thresholds)
        marks = np.array([0, *sorted(thresholds)])
        self.low = self.high = np.zeros(1, dtype=np.int64)
        self.steps: tuple[Step, ...] = ()
        self.lumped = False
        self.most_pairs = 0
        for i, part in enumerate(levels):
            still = others + sum(max(each) for each in levels[i + 1 :])
            low = np.minimum(self.low[:, None] + np.array(part), cap).ravel()
            high = np.minimum(self.high[:, None] + np.array(part), cap).ravel()
            self.most_pairs = max(self.most_pairs, len(low))
            if last and self.most_pairs > MOST_PAIRS:
                return
            if last and i == len(levels) - 1:
                low = high = marks[np.searchsorted(marks, low, side="right") - 1]
            alive = np.flatnonzero(high + still >= floor)
            take = alive[np.lexsort((high[alive], low[alive]))]
            whole = len(take) == len(low) and bool((take == np.arange(len(take))).all())
            self.low, self.high, starts, lumped = _group(low[take], high[take], cap)
            self.lumped = self.lumped or lumped
            self.steps += (Step(take, None if len(starts) == len(take) else starts, whole),)


def _group(
    low: NDArray[np.int64], high: NDArray[np.int64], cap: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.intp], bool]:
    """Group sorted sums: equal ones together, and, where there are too many, near ones.

    Returns:
        Lowest and highest true sum of each group, where each group starts, and whether near ones were lumped.
    """
    if not len(low):
        return low, high, np.zeros(0, dtype=np.intp), False
    starts = np.flatnonzero(np.concatenate([[True], (np.diff(low) != 0) | (np.diff(high) != 0)]))
    lumped = len(starts) > MOST_SUMS
    if lumped:
        # Bins of one width over the span; a bin keeps its true ends, so tight clusters stay tight. What is already
        # enough keeps a bin of its own.
        bins = (low - low[0]) * MOST_SUMS // (low[-1] - low[0] + 1) + (low == cap)
        starts = np.flatnonzero(np.concatenate([[True], np.diff(bins) > 0]))
    return np.minimum.reduceat(low, starts), np.maximum.reduceat(high, starts), starts, lumped
