"""Probability that one demand is met, given the states of the shared things it depends on."""

import itertools
import math
from collections.abc import Callable, Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from readiness.rating.parts import Demand
from readiness.rating.tables import Table, check_states
from readiness.rating.wiring import Thing, Wired, Wiring, states_of_units
from shared.formulas.capacity_sums import ENOUGH, reach, whole_number

MOST_COMBINATIONS = 1 << 12  # of states, asked of a demand that decides by itself

# The state of each shared thing: arrays that broadcast against each other, by the thing's number.
States = Mapping[int, NDArray[np.intp]]
# Of joint states of shared things: which rows of the values below belong to them, and the values, shape (rows, n).
Rows = tuple[NDArray[np.intp], NDArray[np.float64]]


def things_of(parts: list[Wired]) -> tuple[int, ...]:
    """Numbers of the shared things that some parts depend on, ascending."""
    numbers = {number for part in parts for number in part.hangs_on}
    return tuple(sorted(numbers | {part.thing for part in parts if part.thing is not None}))


def exact_table(wiring: Wiring, number: int) -> tuple[Table, float]:
    """Probability that a demand is met in each joint state of the shared things it depends on.

    Returns:
        The table, and how far lumping may have put its mean off. [-]
    Raises:
        TooManyStates: there are more joint states than a table may have.
    """
    parts = wiring.parts[number]
    axes = things_of(parts)
    sizes = [len(wiring.things[axis].weights) for axis in axes]
    check_states(sizes)
    states = {
        axis: np.arange(size).reshape([-1 if i == k else 1 for i in range(len(axes))])
        for k, (axis, size) in enumerate(zip(axes, sizes, strict=True))
    }
    which, values, slack = _rows(wiring, number, states)
    if not axes:
        return Table((), values[int(which)]), slack
    return Table(axes, values[np.broadcast_to(which, sizes)]), slack


def sampled_table(wiring: Wiring, number: int, states: States, draw: NDArray[np.intp]) -> tuple[Table, float]:
    """Probability that a demand is met in each sample of the shared things, told with the draw it belongs to."""
    which, values, slack = _rows(wiring, number, states)
    values = np.broadcast_to(values, (len(values), wiring.width))
    return Table((), values[which, draw]), slack


def _rows(wiring: Wiring, number: int, states: States) -> tuple[NDArray[np.intp], NDArray[np.float64], float]:
    demand, parts = wiring.demands[number], wiring.parts[number]
    if demand.carries is not None:
        return (*_decided(demand.carries, parts, wiring.things, states), 0.0)
    return _added(demand, parts, wiring.things, states)


def _up(hangs_on: frozenset[int], things: list[Thing], states: States) -> NDArray[np.bool_]:
    """In which joint states all that a part hangs on is up."""
    answer = np.array(True)
    for number in hangs_on:
        answer = answer & things[number].up[states[number]]
    return answer


def _added(
    demand: Demand, parts: list[Wired], things: list[Thing], states: States
) -> tuple[NDArray[np.intp], NDArray[np.float64], float]:
    """A demand met by a sum: what the shared parts give lowers the threshold that the others must reach."""
    if demand.need <= 0:
        return np.array(0), np.ones((1, 1)), 0.0
    wanted = np.array(ENOUGH)
    bundles: dict[frozenset[int], list[Wired]] = {}
    for part in parts:
        if part.thing is None:
            bundles.setdefault(part.hangs_on, []).append(part)
        else:
            given = np.array([whole_number(level, demand.need) for level in part.levels])
            wanted = wanted - given[states[part.thing]] * _up(part.hangs_on, things, states)
    wanted = np.maximum(wanted, 0)
    working = np.array(0)  # which bundles work, a bit each
    for bit, hangs_on in enumerate(bundles):
        working = working + (_up(hangs_on, things, states).astype(np.int64) << bit)
    terms = [_terms(bundle, demand.need) for bundle in bundles.values()]
    if wanted.ndim or working.ndim:
        wanted, working = np.broadcast_arrays(wanted, working)
    which = np.zeros(working.shape, dtype=np.intp)
    blocks: list[NDArray[np.float64]] = []
    rows, slack = 0, 0.0
    for code in _distinct(working):
        at = working == code
        thresholds = _distinct(wanted[at])
        which[at] = rows + (np.searchsorted(thresholds, wanted[at]) if len(thresholds) > 1 else 0)
        able = [term for bit, bundle in enumerate(terms) if code >> bit & 1 for term in bundle]
        block, off = reach(tuple(t[0] for t in able), [t[1] for t in able], tuple(thresholds))
        blocks.append(block)
        rows, slack = rows + len(block), max(slack, off)
    width = max(block.shape[1] for block in blocks)
    full = [block if block.shape[1] == width else np.broadcast_to(block, (len(block), width)) for block in blocks]
    return which, np.concatenate(full), slack


def _distinct(numbers: NDArray[np.int64]) -> list[int]:
    """Each number once, ascending."""
    return np.unique(numbers).tolist() if numbers.size > 64 else sorted(set(numbers.ravel().tolist()))


def _terms(parts: list[Wired], need: float) -> list[tuple[tuple[int, ...], NDArray[np.float64]]]:
    """Whole-number levels and weights of what is convolved; several alike of two states make one binomial."""
    answer = []
    for part in parts:
        levels, weights = tuple(whole_number(level, need) for level in part.levels), part.weights
        seen = np.flatnonzero(weights.max(axis=1) > 0)
        if len(seen) < len(levels):
            levels, weights = tuple(levels[i] for i in seen), weights[seen]
        if max(levels) == 0:
            continue
        if part.units > 1 and len(levels) == 2:
            counts, weights = states_of_units(weights, part.units)
            answer.append((tuple(int(c) for c in counts @ np.array(levels)), weights))
        else:
            answer += [(levels, weights)] * part.units
    return answer


def _decided(
    carries: Callable[[tuple[float, ...]], bool], parts: list[Wired], things: list[Thing], states: States
) -> Rows:
    """A demand that decides by itself: its answers over all states, weighed by the states of the unshared parts."""
    if any(part.units != 1 for part in parts):
        raise ValueError("a demand that decides by itself needs parts of one unit each")
    levels: list[list[float]] = []
    weights: list[NDArray[np.float64]] = []
    code = np.array(0)
    radix = 1
    digits: list[int] = []
    for part in parts:
        own, each = _distinct_levels(part)
        levels.append(own)
        weights.append(each)
        up = _up(part.hangs_on, things, states)
        if part.thing is None:
            # 0: weighed by its own states; 1: down.
            digit, base = np.where(up, 0, 1), 2
        else:
            row = np.array([own.index(level) for level in part.levels])
            digit, base = np.where(up, row[states[part.thing]], own.index(0.0) if 0.0 in own else 0), len(own)
        code = code + digit * radix
        digits.append(base)
        radix *= base
    truth = _answers(carries, tuple(map(tuple, levels)))
    codes = _distinct(code)
    rows = [_weigh(truth, parts, levels, weights, _digits(each, digits)) for each in codes]
    width = max(row.shape[-1] for row in rows)
    which = np.searchsorted(np.array(codes), code)
    return np.asarray(which, dtype=np.intp), np.stack([np.broadcast_to(row, width) for row in rows])


@lru_cache(maxsize=64)
def _answers(
    carries: Callable[[tuple[float, ...]], bool], levels: tuple[tuple[float, ...], ...]
) -> NDArray[np.float64]:
    """What a demand decides for every combination of its parts' levels, 1 or 0; kept, since asking is what costs."""
    shape = [len(own) for own in levels]
    combinations = math.prod(shape)
    if combinations > MOST_COMBINATIONS:
        raise ValueError(f"a demand that decides by itself has {combinations} combinations, most {MOST_COMBINATIONS}")
    answers = np.array([float(carries(each)) for each in itertools.product(*levels)])
    return answers.reshape(shape)


def _digits(code: int, bases: list[int]) -> list[int]:
    answer = []
    for base in bases:
        code, digit = divmod(code, base)
        answer.append(digit)
    return answer


def _distinct_levels(part: Wired) -> tuple[list[float], NDArray[np.float64]]:
    """A part's possible levels, each once, with their probabilities; with 0 where it hangs on something."""
    seen = np.flatnonzero(part.weights.max(axis=1) > 0)
    own = sorted({part.levels[i] for i in seen} | ({0.0} if part.hangs_on else set()))
    weights = np.zeros((len(own), part.weights.shape[1]))
    for i in seen:
        weights[own.index(part.levels[i])] += part.weights[i]
    return own, weights


def _weigh(
    truth: NDArray[np.float64],
    parts: list[Wired],
    levels: list[list[float]],
    weights: list[NDArray[np.float64]],
    digits: list[int],
) -> NDArray[np.float64]:
    """Probability over the unshared parts' states that the demand is met, shape (n,) or (1,)."""
    fixed: list[int | slice] = []
    open_weights = []
    for part, own, each, digit in zip(parts, levels, weights, digits, strict=True):
        if part.thing is not None:
            fixed.append(digit)
        elif digit == 1:
            fixed.append(own.index(0.0))
        else:
            fixed.append(slice(None))
            open_weights.append(each)
    answer = truth[tuple(fixed)]
    if not open_weights:
        return np.asarray(answer).reshape(1)
    # The last part first: one matrix product takes the largest bite.
    answer = answer.reshape(-1, len(open_weights[-1])) @ open_weights[-1]
    for each in reversed(open_weights[:-1]):
        answer = np.einsum("rsn,sn->rn", answer.reshape(-1, len(each), answer.shape[-1]), each)
    return np.asarray(answer[0])
