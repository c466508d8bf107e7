"""From items to functions to the line: the probability that a chain is carried, over all draws at once.

Shared things are conditioned on and combined exactly; where a table would have more than 4096 joint states they are
sampled instead, and the answer says how far its mean may be off.
"""

import itertools
import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from readiness.rating.cuts import pairs, single_points
from readiness.rating.demands import exact_table, sampled_table
from readiness.rating.parts import Chain, ChainAnswer, Demand, Function, Node, Part, Way
from readiness.rating.tables import Table, TooManyStates, check_states, total
from readiness.rating.wiring import Wiring, wire

__all__ = [
    "Chain",
    "ChainAnswer",
    "Demand",
    "Function",
    "Node",
    "Part",
    "Way",
    "pairs",
    "single_points",
    "solve",
]

SAMPLES = 1 << 18  # samples over all draws together, where the chain is too tangled to enumerate
_SEED = 20_231

DemandTable = Callable[[int], tuple[Table, float]]


def solve(chain: Chain) -> ChainAnswer:
    """Probability that the line and each of its functions is carried, given the rates of each draw.

    Raises:
        ValueError: shapes do not agree; a part hangs on no known node; a function relies on none of the chain or, in
            a circle, on itself; a demand that decides by itself has too many combinations.
    Source: NUREG-0492 (conditioning on common causes), NUREG/CR-5485 (beta factor), Levitin, "The Universal
        Generating Function" (sums of capacities); derivation in DEVELOPERS.md, "From items to the line".
    """
    _check_reliance(chain)
    wiring = wire(chain)
    shared = tuple(sorted({thing.name for thing in wiring.things if len(thing.used_by) > 1}))
    try:
        line, functions, slack = _Solver(chain, wiring, lambda number: exact_table(wiring, number)).answer()
        return ChainAnswer(line, functions, slack == 0.0, slack, shared)
    except TooManyStates:
        return _sampled(chain, wiring, shared)


def _sampled(chain: Chain, wiring: Wiring, shared: tuple[str, ...]) -> ChainAnswer:
    """The answer by sampling the shared things; all else stays exact, given them."""
    width = wiring.width
    samples = max(SAMPLES // width, 64)
    draw = np.tile(np.arange(width), samples)
    random = np.random.default_rng(_SEED)
    states = {}
    for number, thing in enumerate(wiring.things):
        u = random.random(samples * width)
        below = np.cumsum(thing.weights, axis=0)[:-1]
        states[number] = sum((u >= row[draw] for row in below), np.zeros(samples * width, dtype=np.intp))
    solver = _Solver(chain, wiring, lambda number: sampled_table(wiring, number, states, draw), conditioned=False)
    line, functions, slack = solver.answer()
    by_sample = np.broadcast_to(line, samples * width).reshape(samples, width)
    error = math.sqrt(float(by_sample.var(axis=0, ddof=1).sum()) / samples) / width
    means = {
        name: np.broadcast_to(each, samples * width).reshape(samples, width).mean(axis=0)
        for name, each in functions.items()
    }
    return ChainAnswer(by_sample.mean(axis=0), means, False, error + slack, shared)


def _check_reliance(chain: Chain) -> None:
    relied = {function.name: {name for way in function.ways for name in way.relies_on} for function in chain.functions}
    if len(relied) < len(chain.functions):
        raise ValueError("two functions of the chain have one name")
    settled: set[str] = set()
    while len(settled) < len(relied):
        ready = {name for name, on in relied.items() if name not in settled and on <= settled}
        if not ready:
            unknown = {on for each in relied.values() for on in each} - set(relied)
            raise ValueError(
                f"functions rely on {sorted(unknown)}, not in the chain" if unknown else "circle of reliance"
            )
        settled |= ready


class _Solver:
    """Puts demand tables together into functions and the line.

    Args:
        conditioned: the tables have axes for the shared things; else each column is one sample of them.
    """

    def __init__(self, chain: Chain, wiring: Wiring, table: DemandTable, *, conditioned: bool = True) -> None:
        self.chain = chain
        self.wiring = wiring
        self.table = table
        self.slack = 0.0
        things = wiring.things
        self.weights: dict[int, NDArray[np.float64] | None] = {i: thing.weights for i, thing in enumerate(things)}
        if not conditioned:
            self.weights = {}
        self.ways: dict[str, list[tuple[frozenset[str], Table]]] = {}
        self.own: dict[str, set[int]] = {}  # things that no other function depends on
        self.axis = {function.name: len(things) + i for i, function in enumerate(chain.functions)}
        self.weights.update(dict.fromkeys(self.axis.values()))
        self.carried_given: dict[tuple[str, frozenset[str]], Table] = {}

    def answer(self) -> tuple[NDArray[np.float64], dict[str, NDArray[np.float64]], float]:
        number = 0
        for function in self.chain.functions:
            count = sum(len(way.demands) for way in function.ways)
            mine = set(range(number, number + count))
            self.own[function.name] = {i for i, thing in enumerate(self.wiring.things) if thing.used_by <= mine}
            self.ways[function.name] = []
            for way in function.ways:
                table = self._way(range(number, number + len(way.demands)))
                self.ways[function.name].append((frozenset(way.relies_on), table))
                number += len(way.demands)
        functions = {name: np.clip(self._marginal(name), 0.0, 1.0) for name in self.ways}
        # The line needs every function, so whatever a function relies on is carried too.
        line = total([self._given(name, None) for name in self.ways] or [self._sure()], self.weights)
        width = max([line.size, *(each.size for each in functions.values()), self.wiring.width])
        spread = {name: np.broadcast_to(each, width) for name, each in functions.items()}
        return np.broadcast_to(np.clip(line, 0.0, 1.0), width), spread, self.slack

    def _sure(self) -> Table:
        return Table((), np.ones(1))

    def _way(self, numbers: range) -> Table:
        """All demands of a way, with the things that only one demand depends on already summed out."""
        answer = self._sure()
        for number in numbers:
            table, slack = self.table(number)
            self.slack += slack
            answer = answer * self._without(table, {a for a in table.axes if self.wiring.things[a].used_by == {number}})
        return answer

    def _without(self, table: Table, axes: set[int]) -> Table:
        for axis in axes.intersection(table.axes):
            table = table.sum_out(axis, self.weights[axis])
        return table

    def _given(self, name: str, carried: frozenset[str] | None) -> Table:
        """That a function is carried, given which functions it relies on are; None: all of them."""
        relied = self._relied(name)
        on = relied if carried is None else carried & relied
        if (name, on) not in self.carried_given:
            tables = [table for relies, table in self.ways[name] if relies <= on]
            if not tables:
                answer = Table((), np.zeros(1))
            elif len(tables) == 1:
                answer = tables[0]
            else:
                none = tables[0].complement()
                for table in tables[1:]:
                    none = none * table.complement()
                answer = none.complement()
            self.carried_given[name, on] = self._without(answer, self.own[name])
        return self.carried_given[name, on]

    def _relied(self, name: str) -> frozenset[str]:
        return frozenset().union(*(relies for relies, _ in self.ways[name]))

    def _closure(self, name: str) -> list[str]:
        """A function and all it relies on, near or far, each once."""
        answer, pending = [], [name]
        while pending:
            each = pending.pop()
            if each not in answer:
                answer.append(each)
                pending += sorted(self._relied(each))
        return answer

    def _marginal(self, name: str) -> NDArray[np.float64]:
        """Probability that a function is carried, with what it relies on."""
        closure = self._closure(name)
        if all(len({relies for relies, _ in self.ways[each]}) <= 1 for each in closure):
            # No way does without: the function is carried when all of these are.
            return total([self._given(each, None) for each in closure], self.weights)
        tables = [self._over_relied(each) for each in closure]
        tables[0] = self._pick(tables[0], self.axis[name])
        return total(tables, self.weights)

    def _over_relied(self, name: str) -> Table:
        """That a function is not, or is, carried, along an axis of its own, over axes for what it relies on."""
        relied = sorted(self._relied(name), key=self.axis.__getitem__)
        outcomes = list(itertools.product((0, 1), repeat=len(relied)))
        given = [
            self._given(name, frozenset(each for each, on in zip(relied, outcome, strict=True) if on))
            for outcome in outcomes
        ]
        axes = tuple(sorted({axis for table in given for axis in table.axes}))
        both = [np.stack([1.0 - table.over(axes), table.over(axes)]) for table in given]
        shape = np.broadcast_shapes(*(each.shape for each in both))
        check_states((*shape[:-1], len(outcomes)))
        stacked = np.stack([np.broadcast_to(each, shape) for each in both], axis=-2)
        # From (own, things..., outcomes, n) to axes in ascending order: things come before functions.
        values = np.moveaxis(stacked, 0, -2).reshape(*shape[1:-1], *(2,) * len(relied), 2, shape[-1])
        numbers = [*axes, *(self.axis[each] for each in relied), self.axis[name]]
        order = sorted(range(len(numbers)), key=numbers.__getitem__)
        return Table(tuple(numbers[i] for i in order), values.transpose(*order, len(numbers)))

    def _pick(self, table: Table, axis: int) -> Table:
        """The part of a table in which a function is carried."""
        at = table.axes.index(axis)
        return Table(table.axes[:at] + table.axes[at + 1 :], np.take(table.values, 1, axis=at))
