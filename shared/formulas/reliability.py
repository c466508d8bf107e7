"""Equipment that waits to be used: how likely it works when asked, alone, in groups, and with what can fail together.

Rates and times are in any one unit of time, the same for all arguments of a call: per year with years, per hour with
hours. Probabilities are shares.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from shared.formulas import capacity_sums
from shared.formulas._ranges import FloatArray, Value, shaped, whole, within

_SMALL = 0.5  # below it 1 - (1 - exp(-x)) / x loses digits and is summed as a series
_TERMS = 16  # 0.5**16 / 17! is under 1e-19
MOST_STATES = 100_000  # of partly known cut sets, before exactness is given up

Cuts = frozenset[frozenset[str]]


class CapacityChance(NamedTuple):
    """Probability that capacities reach a need, and how far lumping of near sums may have put it off. [-]"""

    probability: float
    off: float


def mode_absent(rate: Value, exposure: Value | float, demand_probability: Value | float = 0.0) -> Value:
    """Probability that a failure mode is absent when the item is asked for.

    Args:
        rate: at which it comes, unseen, scalar or shape (n,), >= 0. [1/time]
        exposure: since the last proof that could see it, >= 0. [time]
        demand_probability: that it fails in the act of being asked, 0 to 1. [-]

    Returns:
        (1 - q) exp(-rate t). [-]

    Raises:
        ValueError: an argument is out of range.

    Source: constant rate and failure on demand, NUREG-0492 chapter XI (from memory).
    """
    within("rate", rate, 0.0, unit="per unit of time")
    within("exposure", exposure, 0.0, unit="units of time")
    _probability("demand_probability", demand_probability)
    answer: Value = shaped((1.0 - demand_probability) * np.exp(-rate * exposure), rate, exposure, demand_probability)
    return answer


def mean_unavailability(rate: Value, interval: Value | float, demand_probability: Value | float = 0.0) -> Value:
    """Average probability, between two proofs, that an item waiting unseen has failed.

    Args:
        rate: at which it fails, scalar or shape (n,), >= 0. [1/time]
        interval: from proof to proof, each of which sees all, >= 0. [time]
        demand_probability: that it fails in the act of being asked, 0 to 1. [-]

    Returns:
        1 - (1 - q) (1 - exp(-x)) / x with x = rate * interval. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: mean of 1 - (1 - q) exp(-rate t) over the interval; NUREG-0492 chapter XI (from memory).
    """
    within("rate", rate, 0.0, unit="per unit of time")
    within("interval", interval, 0.0, unit="units of time")
    _probability("demand_probability", demand_probability)
    waiting = _mean_failed(np.asarray(rate * interval, dtype=np.float64))
    found = demand_probability + (1.0 - demand_probability) * waiting
    answer: Value = shaped(found, rate, interval, demand_probability)
    return answer


def mean_unavailability_approx(rate: Value, interval: Value | float) -> Value:
    """Average unavailability by the rule of half the interval, never above 1.

    Args:
        rate: at which the item fails, scalar or shape (n,), >= 0. [1/time]
        interval: from proof to proof, >= 0. [time]

    Returns:
        rate * interval / 2, 7 % high where rate * interval is 0.2, and 1 at most. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: first term of the exact mean, NUREG-0492 chapter XI (from memory).
    """
    within("rate", rate, 0.0, unit="per unit of time")
    within("interval", interval, 0.0, unit="units of time")
    answer: Value = shaped(np.minimum(rate * interval / 2.0, 1.0), rate, interval)
    return answer


def partial_unavailability(rate: float, coverage: float, interval: float, overhaul: float) -> float:
    """Average unavailability where a proof sees only part of what fails and an overhaul sees the rest.

    Args:
        rate: at which the item fails, >= 0. [1/time]
        coverage: share of the rate that the proof can see, 0 to 1. [-]
        interval: from proof to proof, > 0. [time]
        overhaul: from one proof that sees all to the next, >= interval. [time]

    Returns:
        Mean over the whole time between overhauls, the last interval shorter where it does not divide evenly. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: mean of exp(-c rate (t mod interval)) exp(-(1 - c) rate t) in closed form; derivation in DEVELOPERS.md,
        "Proofs that see a part".
    """
    _proofs_in_range(rate, coverage, interval, overhaul)
    unseen = (1.0 - coverage) * rate
    whole = int(np.floor(overhaul / interval * (1.0 + 1e-12)))
    starts = interval * np.arange(whole + 1)
    lengths = np.minimum(interval, np.maximum(overhaul - starts, 0.0))
    # Lost within each interval, as integrals of 1 - exp(-unseen start) exp(-rate s): no digits go where it is small.
    alive = np.exp(-unseen * starts)
    gone = -np.expm1(-unseen * starts)
    lost = gone + alive * _mean_failed(rate * lengths)
    return float(np.sum(lengths * lost) / overhaul)


def partial_unavailability_approx(rate: float, coverage: float, interval: float, overhaul: float) -> float:
    """Average unavailability with proofs that see a part, by the rule of half the interval, never above 1.

    Args:
        rate: at which the item fails, >= 0. [1/time]
        coverage: share of the rate that the proof can see, 0 to 1. [-]
        interval: from proof to proof, > 0. [time]
        overhaul: from one proof that sees all to the next, >= interval. [time]

    Returns:
        c rate interval / 2 + (1 - c) rate overhaul / 2. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: IEC 61508-6 B.3.2.5, effect of a non-perfect proof test, without repair times (from memory).
    """
    _proofs_in_range(rate, coverage, interval, overhaul)
    return min(rate * (coverage * interval + (1.0 - coverage) * overhaul) / 2.0, 1.0)


def availability_after_proofs(rate: float, proofs: Sequence[tuple[float, float]], at: float) -> float:
    """Probability that an item works at an instant, after proofs each of which saw a part of what can fail.

    What a proof of some coverage sees, one of a larger coverage sees too. What a proof finds is mended at once.

    Args:
        rate: at which the item fails, >= 0. [1/time]
        proofs: when each was made, counted from when all was known good, 0 to ``at``, in any order [time], and what
            share of the rate it could see, 0 to 1. [-]
        at: instant asked for, counted from when all was known good, >= 0. [time]

    Returns:
        exp(-rate * mean exposure), the mean over the shares of the rate, each since the last proof that saw it. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: constant rate split by the least coverage that sees each share; derivation in DEVELOPERS.md, "Proofs that
        see a part".
    """
    within("rate", rate, 0.0, unit="per unit of time")
    within("at", at, 0.0, unit="units of time")
    for when, coverage in proofs:
        within("proofs (time)", when, 0.0, at, unit="units of time")
        _probability("proofs (coverage)", coverage)
    exposed, seen = 0.0, 0.0
    for when, coverage in sorted(proofs, reverse=True):
        if coverage > seen:
            exposed += (coverage - seen) * (at - when)
            seen = coverage
    return float(np.exp(-rate * (exposed + (1.0 - seen) * at)))


def proof_interval(rate: float, unavailability: float) -> float:
    """Longest time from proof to proof that keeps the average unavailability at a target.

    Args:
        rate: at which the item fails, > 0. [1/time]
        unavailability: the target, above 0 and below 1. [-]

    Returns:
        Root of the exact average. [time]

    Raises:
        ValueError: an argument is out of range.

    Source: inverse of mean_unavailability, by bracketing.
    """
    from scipy.optimize import brentq

    _target(rate, unavailability)
    # The mean is at most x / 2 and at least 1 - 1 / x: the root lies between these two.
    low, high = 2.0 * unavailability, 1.0 / (1.0 - unavailability) + 2.0 * unavailability
    root = brentq(lambda x: float(_mean_failed(np.array(x))) - unavailability, low, high, xtol=1e-300, rtol=1e-14)
    return float(root) / rate


def proof_interval_approx(rate: float, unavailability: float) -> float:
    """Time from proof to proof for a target by the rule of half the interval: on the safe side, and short.

    Args:
        rate: at which the item fails, > 0. [1/time]
        unavailability: the target, above 0 and below 1. [-]

    Returns:
        2 q / rate. [time]

    Raises:
        ValueError: an argument is out of range.

    Source: inverse of mean_unavailability_approx.
    """
    _target(rate, unavailability)
    return 2.0 * unavailability / rate


def koon(k: int, n: int, p: Value) -> Value:
    """Probability that at least k of n alike, independent items work.

    Args:
        k: how many are needed, 0 to n. [-]
        n: how many there are, >= 1. [-]
        p: that one works, scalar or shape (m,), 0 to 1. [-]

    Returns:
        Upper tail of the binomial. [-]

    Raises:
        ValueError: an argument is out of range or k and n are no whole numbers.

    Source: binomial law, as the regularised incomplete beta function I_p(k, n - k + 1).
    """
    from scipy.special import betainc

    n = whole("n", n, 1)
    k = whole("k", k, 0, n)
    _probability("p", p)
    answer: Value = shaped(np.ones_like(p) if k == 0 else betainc(k, n - k + 1, p), p)
    return answer


def capacity_reached(
    levels: Sequence[Sequence[float]], weights: Sequence[Sequence[float]], need: float
) -> CapacityChance:
    """Probability that the capacities of unequal, independent items add up to a need.

    Args:
        levels: what each item can give in each of its states, >= 0; items may have different numbers of states, at
            least one item. [any one unit]
        weights: probability of each state, as levels; those of one item sum to 1. [-]
        need: what the sum must reach, to 1 part in 10**9. [same unit as levels]

    Returns:
        The probability, and how far it may be off: 0 unless more than 2048 distinct sums had to be lumped. [-]

    Raises:
        ValueError: an argument is out of range, or levels and weights differ in shape.

    Source: universal generating function (Levitin, 2005); two-state items of one capacity give k of n.
    """
    within("need", need, unit="of capacity")
    if not levels or [len(own) for own in levels] != [len(own) for own in weights] or not all(levels):
        raise ValueError("levels and weights must be at least 1 item, each with as many weights as levels, at least 1")
    for own, chances in zip(levels, weights, strict=True):
        within("levels", np.asarray(own, dtype=np.float64), 0.0, unit="of capacity")
        _probability("weights", np.asarray(chances, dtype=np.float64))
        within("sum of one item's weights", float(sum(chances)), 1.0 - 1e-9, 1.0 + 1e-9, unit="(a share)")
    if need <= 0:
        return CapacityChance(1.0, 0.0)
    whole = tuple(tuple(capacity_sums.whole_number(level, need) for level in own) for own in levels)
    columns = [np.asarray(chances, dtype=np.float64)[:, None] for chances in weights]
    found, off = capacity_sums.reach(whole, columns, (capacity_sums.ENOUGH,))
    return CapacityChance(float(np.clip(found[0, 0], 0.0, 1.0)), off)


def series_of_parallel(groups: Sequence[Sequence[float]]) -> float:
    """Probability that each group has at least one working item, all items independent.

    Args:
        groups: probability that each item works, by group, 0 to 1; at least one group, none empty. [-]

    Returns:
        Product over groups of 1 - product of (1 - p). [-]

    Raises:
        ValueError: a probability is out of range, or there is no group or an empty one.

    Source: elementary; NUREG-0492 (from memory). Leaves out common cause: see koon_common_cause.
    """
    if not len(groups) or not all(len(group) for group in groups):
        raise ValueError("groups must be at least 1 group of at least 1 item each")
    answer = 1.0
    for group in groups:
        works = np.asarray(group, dtype=np.float64)
        _probability("groups", works)
        answer *= 1.0 - float(np.prod(1.0 - works))
    return answer


def common_cause_probability(q: FloatArray, units: FloatArray, beta: float) -> FloatArray:
    """Probability that one cause takes all items of a like group at once.

    Args:
        q: probability that one unit of each item fails, shape (items, n), 0 to 1. [-]
        units: how many units each item stands for, shape (items,), > 0. [-]
        beta: share of a unit's failures that take the whole group, 0 to below 1. [-]

    Returns:
        beta times the units' mean q, and at most what the item that fails least does, shape (n,). [-]

    Raises:
        ValueError: an argument is out of range.

    Source: beta factor, NUREG/CR-5485; the mean over unlike q is ours, as in DEVELOPERS.md, "From items to the line".
    """
    _beta(beta)
    _probability("q", q)
    within("units", units, 0.0, unit="units", above=True)
    return np.asarray(np.minimum(beta / units.sum() * (units @ q), q.min(axis=0)))


def apart_probability(q: Value, together: Value | float) -> Value:
    """Probability that an item fails by itself, given that the common cause has not struck.

    Args:
        q: that it fails at all, scalar or shape (n,), 0 to 1. [-]
        together: that the common cause strikes, at most q and below 1. [-]

    Returns:
        (q - together) / (1 - together), so that the item's own probability stays q. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: law of total probability, q = together + (1 - together) * apart.
    """
    _probability("q", q)
    within("together", together, 0.0, unit="(a share)")
    within("q - together", q - together, 0.0, unit="(a share)")
    within("1 - together", 1.0 - together, 0.0, unit="(a share)", above=True)
    return (q - together) * (1.0 / (1.0 - together))


def koon_common_cause(k: int, n: int, q: float, beta: float) -> float:
    """Probability that at least k of n like items work, where a share of failures takes all of them; exact.

    Args:
        k: how many are needed, 1 to n. [-]
        n: how many there are, >= 1. [-]
        q: that one of them fails, from all causes, 0 to 1. [-]
        beta: share of its failures that take all, 0 to below 1; no effect on one alone. [-]

    Returns:
        (1 - beta q) times k of n with each failing apart. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: beta factor, NUREG/CR-5485, conditioned on the common cause as the rating does.
    """
    n = whole("n", n, 1)
    k = whole("k", k, 1, n)
    _probability("q", q)
    _beta(beta)
    if n == 1 or q == 0.0:
        return 1.0 - q
    together = float(common_cause_probability(np.array([[q]]), np.array([float(n)]), beta)[0])
    return (1.0 - together) * koon(k, n, 1.0 - apart_probability(q, together))


def parallel_failure_rare(q: Value, beta: float, n: int) -> Value:
    """Probability that all of n like items fail, by the usual form for rare failures.

    Args:
        q: that one of them fails, scalar or shape (m,), 0 to 1. [-]
        beta: share of its failures that take all, 0 to 1. [-]
        n: how many there are, >= 1. [-]

    Returns:
        ((1 - beta) q)**n + beta q; low by about (n - 1) beta q times its first term. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: beta factor, NUREG/CR-5485 (rare-event form).
    """
    n = whole("n", n, 1)
    _probability("q", q)
    _probability("beta", beta)
    return ((1.0 - beta) * q) ** n + beta * q


def pfd_1oo1(
    dangerous_rate: float, coverage: float, interval: float, restoration: float, repair: float | None = None
) -> float:
    """Average probability that one channel fails on demand.

    Args:
        dangerous_rate: of dangerous failures, >= 0. [1/time]
        coverage: share of them that the channel's own diagnosis detects, 0 to 1. [-]
        interval: from proof to proof, > 0. [time]
        restoration: mean time to restore what diagnosis detects, >= 0. [time]
        repair: mean time to repair what the proof finds, >= 0; None: as restoration. [time]

    Returns:
        Average over the interval; meant for values far below 1. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: IEC 61508-6 B.3.2.2.1 (from memory; table entries reproduced).
    """
    down = _channel_down(dangerous_rate, coverage, interval, restoration, repair, 2.0)
    return dangerous_rate * down


def pfd_1oo2(
    dangerous_rate: float,
    coverage: float,
    beta: float,
    beta_detected: float,
    interval: float,
    restoration: float,
    repair: float | None = None,
) -> float:
    """Average probability that two channels, of which one is enough, both fail on demand.

    Args:
        dangerous_rate: of dangerous failures of one channel, >= 0. [1/time]
        coverage: share of them that diagnosis detects, 0 to 1. [-]
        beta: share of undetected failures that take both, 0 to 1. [-]
        beta_detected: share of detected failures that take both, 0 to 1. [-]
        interval: from proof to proof, > 0. [time]
        restoration: mean time to restore what diagnosis detects, >= 0. [time]
        repair: mean time to repair what the proof finds, >= 0; None: as restoration. [time]

    Returns:
        Average over the interval; meant for values far below 1. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: IEC 61508-6 B.3.2.2.2 (from memory; table entries reproduced).
    """
    _probability("beta", beta)
    _probability("beta_detected", beta_detected)
    channel = _channel_down(dangerous_rate, coverage, interval, restoration, repair, 2.0)
    group = _channel_down(dangerous_rate, coverage, interval, restoration, repair, 3.0)
    undetected, detected = (1.0 - coverage) * dangerous_rate, coverage * dangerous_rate
    apart = (1.0 - beta_detected) * detected + (1.0 - beta) * undetected
    mended = restoration if repair is None else repair
    common = beta_detected * detected * restoration + beta * undetected * (interval / 2.0 + mended)
    return 2.0 * apart**2 * channel * group + common


def cut_sets_fail(cuts: Iterable[Iterable[str]], q: Mapping[str, float]) -> float:
    """Probability that all members of at least one cut set have failed, exactly.

    Args:
        cuts: names of what stops the line when lost together; each not empty, in any order, minimal or not. [-]
        q: probability that each has failed, independent of the others, 0 to 1. [-]

    Returns:
        Probability that the line is stopped; 1 less this is that it is carried. [-]

    Raises:
        ValueError: a probability is out of range or missing, a cut set is empty, or there are so many that it would
            need more than 100,000 partial states.

    Source: disjoint products by factoring on the item in most cut sets (Shannon's expansion); equal to
        inclusion-exclusion, NUREG-0492.
    """
    found = _minimal(_checked(cuts, q))
    kept: dict[Cuts, float] = {frozenset(): 0.0, frozenset([frozenset()]): 1.0}

    def stopped(left: Cuts) -> float:
        if left not in kept:
            if len(kept) > MOST_STATES:
                raise ValueError(f"cuts must need at most {MOST_STATES} partial states; take cut_sets_bound")
            pivot = _in_most(left)
            lost = stopped(_minimal(cut - {pivot} for cut in left))
            kept[left] = q[pivot] * lost + (1.0 - q[pivot]) * stopped(frozenset(c for c in left if pivot not in c))
        return kept[left]

    return stopped(found)


def cut_sets_bound(cuts: Iterable[Iterable[str]], q: Mapping[str, float]) -> float:
    """Upper bound of the probability that the line is stopped, from its minimal cut sets.

    Args:
        cuts: names of what stops the line when lost together; each not empty, in any order, minimal or not. [-]
        q: probability that each has failed, independent of the others, 0 to 1. [-]

    Returns:
        1 - product of (1 - product of q); exact where no two cut sets share a member. [-]

    Raises:
        ValueError: a probability is out of range or missing, or a cut set is empty.

    Source: min-cut upper bound, Esary and Proschan (1963); NUREG-0492 (from memory).
    """
    survives = 1.0
    for cut in sorted(_minimal(_checked(cuts, q)), key=sorted):
        survives *= 1.0 - float(np.prod([q[name] for name in sorted(cut)]))
    return 1.0 - survives


def _mean_failed(x: FloatArray) -> FloatArray:
    """1 - (1 - exp(-x)) / x, and x / 2 where x is small, to all digits."""
    small = np.minimum(x, _SMALL)
    series = np.zeros_like(small)
    for m in range(_TERMS, 0, -1):
        series = small / (m + 1) * (1.0 - series)
    large = np.maximum(x, _SMALL)
    return np.where(x < _SMALL, series, 1.0 + np.expm1(-large) / large)


def _channel_down(
    rate: float, coverage: float, interval: float, restoration: float, repair: float | None, part: float
) -> float:
    """Mean time that a failed channel (part 2) or a failed pair (part 3) is down."""
    mended = restoration if repair is None else repair
    within("dangerous_rate", rate, 0.0, unit="per unit of time")
    _probability("coverage", coverage)
    within("interval", interval, 0.0, unit="units of time", above=True)
    within("restoration", restoration, 0.0, unit="units of time")
    within("repair", mended, 0.0, unit="units of time")
    return (1.0 - coverage) * (interval / part + mended) + coverage * restoration


def _checked(cuts: Iterable[Iterable[str]], q: Mapping[str, float]) -> list[frozenset[str]]:
    found = [frozenset(cut) for cut in cuts]
    if not all(found):
        raise ValueError("cuts must be sets of at least 1 name each")
    for name in sorted(frozenset().union(*found)):
        if name not in q:
            raise ValueError(f"q must hold a probability of at least 0 and at most 1 for {name!r}, got none")
        _probability(f"q of {name!r}", q[name])
    return found


def _minimal(cuts: Iterable[frozenset[str]]) -> Cuts:
    """Without the cut sets that hold another one."""
    kept: list[frozenset[str]] = []
    for cut in sorted(set(cuts), key=len):
        if not any(small <= cut for small in kept):
            kept.append(cut)
    return frozenset(kept)


def _in_most(cuts: Cuts) -> str:
    counts: dict[str, int] = {}
    for cut in cuts:
        for name in cut:
            counts[name] = counts.get(name, 0) + 1
    return min(counts, key=lambda name: (-counts[name], name))


def _proofs_in_range(rate: float, coverage: float, interval: float, overhaul: float) -> None:
    within("rate", rate, 0.0, unit="per unit of time")
    _probability("coverage", coverage)
    within("interval", interval, 0.0, unit="units of time", above=True)
    within("overhaul", overhaul, interval, unit="units of time")


def _target(rate: float, unavailability: float) -> None:
    within("rate", rate, 0.0, unit="per unit of time", above=True)
    within("unavailability", unavailability, 0.0, 1.0 - 1e-12, unit="(a share)", above=True)


def _probability(name: str, value: float | FloatArray) -> None:
    within(name, value, 0.0, 1.0, unit="(a share)")


def _beta(beta: float) -> None:
    within("beta", beta, 0.0, np.nextafter(1.0, 0.0), unit="(a share)")
