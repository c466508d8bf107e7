"""Probability that capacities which add up reach a need, over all draws at once (universal generating function).

What is possible depends on the capacities alone: which sums there are, which are alike, which are already enough and
which can no longer be. That plan is made once in whole numbers and kept; running it over the draws is then a handful
of array operations for each part.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

SCALE = 1 << 40  # a need in whole numbers: equal sums compare equal, and sixty roundings stay under 1 in 10**10
ENOUGH = SCALE - SCALE // 10**9  # a sum this large meets the need: 1 part in 10**9 short is not short
MOST_SUMS = 2048  # distinct sums kept before near ones are lumped


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
    """Steps, one for each part, and for each threshold where the sums that surely, or perhaps, reach it begin.

    ``surely`` and ``perhaps`` differ only where near sums were lumped.
    """

    steps: tuple[Step, ...]
    surely: tuple[NDArray[np.intp], ...]
    perhaps: tuple[NDArray[np.intp], ...]
    exact: bool


def whole_number(capacity: float, need: float) -> int:
    """A capacity as a whole number of which the need is ``SCALE``; more than the need counts as the need.

    Args:
        capacity: what one unit gives, in any unit, >= 0. [-]
        need: in the same unit, > 0. [-]
    Returns:
        0 to SCALE. [-]
    """
    return round(min(capacity / need, 1.0) * SCALE)


def reach(
    levels: tuple[tuple[int, ...], ...], weights: list[NDArray[np.float64]], thresholds: tuple[int, ...]
) -> tuple[NDArray[np.float64], float]:
    """Probability that a sum of independent capacities reaches each of some thresholds.

    Args:
        levels: capacities of each part's states, whole numbers, parts in any order.
        weights: of each part, shape (states, n); columns sum to 1. [-]
        thresholds: whole numbers.
    Returns:
        Probabilities, shape (len(thresholds), n), and how far their mean over the draws may be off: 0 unless more
        than ``MOST_SUMS`` distinct sums had to be lumped. [-]
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
    plan = plan_for(tuple(levels[i] for i in order), wanted)
    sums = _run(plan, [weights[i] for i in order], width)
    slack = 0.0
    for i, surely, perhaps in zip(open_at, plan.surely, plan.perhaps, strict=True):
        answer[i] = sums[surely].sum(axis=0)
        if perhaps.size:
            # Lumped sums that straddle the threshold: half of them, and say so.
            half = 0.5 * sums[perhaps].sum(axis=0)
            answer[i] += half
            slack = max(slack, float(half.mean()))
    return answer, slack


def _run(plan: Plan, weights: list[NDArray[np.float64]], width: int) -> NDArray[np.float64]:
    """Probability of each last sum of a plan, shape (m, width)."""
    sums: NDArray[np.float64] | None = None
    for step, weight in zip(plan.steps, weights, strict=True):
        pairs = weight if sums is None else (sums[:, None, :] * weight[None, :, :]).reshape(-1, width)
        if not step.whole:
            pairs = pairs[step.take]
        sums = pairs if step.starts is None else np.add.reduceat(pairs, step.starts, axis=0)
    assert sums is not None
    return sums


@lru_cache(maxsize=512)
def plan_for(levels: tuple[tuple[int, ...], ...], thresholds: tuple[int, ...]) -> Plan:
    """How to convolve parts of these levels so far as some thresholds ask; kept, since capacities change rarely."""
    cap, floor = max(thresholds), min(thresholds)
    rest = [sum(max(part) for part in levels[i + 1 :]) for i in range(len(levels))]
    # Each kept sum is a lump of true sums between low and high; they are one and the same until lumping is forced.
    low = high = np.zeros(1, dtype=np.int64)
    steps: list[Step] = []
    exact = True
    for part, still in zip(levels, rest, strict=True):
        each = np.array(part, dtype=np.int64)
        low = np.minimum(low[:, None] + each, cap).ravel()
        high = np.minimum(high[:, None] + each, cap).ravel()
        if len(steps) == len(levels) - 1:
            # After the last part it only matters which thresholds a sum reaches.
            marks = np.array([0, *sorted(thresholds)])
            low = marks[np.searchsorted(marks, low, side="right") - 1]
            high = marks[np.searchsorted(marks, high, side="right") - 1]
        alive = np.flatnonzero(high + still >= floor)
        take = alive[np.lexsort((high[alive], low[alive]))]
        whole = len(take) == len(low) and bool((take == np.arange(len(take))).all())
        low, high, starts, lumped = _group(low[take], high[take], cap)
        exact = exact and not lumped
        steps.append(Step(take, None if len(starts) == len(take) else starts, whole))
    surely = tuple(np.flatnonzero(low >= threshold) for threshold in thresholds)
    perhaps = tuple(np.flatnonzero((low < threshold) & (high >= threshold)) for threshold in thresholds)
    return Plan(tuple(steps), surely, perhaps, exact)


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
