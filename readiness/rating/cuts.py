"""Cut sets: what stops a line when it alone is lost, and which two together do."""

import itertools
from collections.abc import Iterator

import numpy as np

from readiness.rating.convolve import ENOUGH, whole_number
from readiness.rating.parts import Chain, Demand, Function, Part


def single_points(chain: Chain) -> tuple[str, ...]:
    """Tags and nodes whose loss alone stops a function that would else be carried, everything else at its best.

    Of a row of several alike, one unit is lost. A node that is itself a part goes by that part's tag. What cannot work
    in any draw is taken as lost already, and a function that cannot be carried at best has no single points.
    """
    state = _Best(chain)
    return tuple(
        sorted({name for function in state.able for name in state.things_of(function) if state.stops(function, {name})})
    )


def pairs(chain: Chain) -> tuple[tuple[str, str], ...]:
    """Pairs that together stop a function that would else be carried, though neither does alone."""
    state = _Best(chain)
    answer = set()
    for function in state.able:
        spare = [name for name in state.things_of(function) if not state.stops(function, {name})]
        answer |= {pair for pair in itertools.combinations(spare, 2) if state.stops(function, set(pair))}
    alone = set(single_points(chain))
    return tuple(sorted(pair for pair in answer if alone.isdisjoint(pair)))


class _Best:
    """A chain with everything at the best level that it can have in some draw."""

    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.functions = {function.name: function for function in chain.functions}
        self.nodes = {node.name: node for node in chain.nodes}
        self.parts: dict[str, list[Part]] = {}
        self.level: dict[int, float] = {}
        for function in chain.functions:
            for demand in _demands(function):
                for part in demand.parts:
                    self.parts.setdefault(part.tag, []).append(part)
                    possible = np.flatnonzero(part.weights.max(axis=1) > 0)
                    self.level[id(part)] = max(part.levels[i] for i in possible)
        self.able = [function for function in chain.functions if not self.stops(function, set())]

    def things_of(self, function: Function) -> list[str]:
        """Tags and nodes that a function rests on, by itself or through what it relies on, in order."""
        names: set[str] = set()
        for each in self._closure(function):
            for demand in _demands(each):
                for part in demand.parts:
                    names |= set(self._rests_on(part))
        return sorted(names)

    def stops(self, function: Function, lost: set[str]) -> bool:
        """Whether a function is not carried with these lost."""
        return not self._carried(function, lost)

    def _closure(self, function: Function) -> list[Function]:
        answer, pending = [], [function.name]
        while pending:
            name = pending.pop()
            if self.functions[name] not in answer:
                answer.append(self.functions[name])
                pending += [on for way in self.functions[name].ways for on in way.relies_on]
        return answer

    def _rests_on(self, part: Part, seen: frozenset[str] = frozenset()) -> Iterator[str]:
        """The part's tag and all that it hangs on, a node that is a part by its tag."""
        yield part.tag
        for name in part.hangs_on:
            tag = self.nodes[name].tag
            if tag not in self.parts:
                yield name
            elif tag != part.tag and tag not in seen:
                for each in self.parts[tag]:
                    yield from self._rests_on(each, seen | {part.tag})

    def _carried(self, function: Function, lost: set[str]) -> bool:
        return any(
            all(self._carried(self.functions[name], lost) for name in way.relies_on)
            and all(self._met(demand, lost) for demand in way.demands)
            for way in function.ways
        )

    def _met(self, demand: Demand, lost: set[str]) -> bool:
        given = [self._gives(part, lost) for part in demand.parts]
        if demand.carries is not None:
            return demand.carries(tuple(given))
        return demand.need <= 0 or sum(whole_number(each, demand.need) for each in given) >= ENOUGH

    def _gives(self, part: Part, lost: set[str]) -> float:
        if not all(self._node_up(name, part.tag, lost) for name in part.hangs_on):
            return 0.0
        return self.level[id(part)] * (part.units - (part.tag in lost))

    def _node_up(self, name: str, asked_by: str, lost: set[str]) -> bool:
        node = self.nodes[name]
        if node.tag not in self.parts:
            return name not in lost and bool(np.any(node.up > 0))
        return node.tag == asked_by or any(self._gives(part, lost) > 0 for part in self.parts[node.tag])


def _demands(function: Function) -> Iterator[Demand]:
    return (demand for way in function.ways for demand in way.demands)
