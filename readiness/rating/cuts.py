"""Cut sets: what stops a function when it alone is lost, and which two together do."""

import itertools
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from readiness.rating.parts import Chain, Demand, Function, Part
from shared.formulas.capacity_sums import ENOUGH, whole_number

Lost = frozenset[str]  # tags and nodes


def single_points(chain: Chain) -> tuple[str, ...]:
    """Tags and nodes whose loss alone stops the line, everything else at its best.

    Of a row of several alike, one unit is lost. A node that is itself a part goes by that part's tag. What cannot work
    in any draw is taken as lost already; a function that cannot be carried even at best has no single points, so that
    one gap does not hide the others.
    """
    return tuple(sorted(_singles(_Best(chain))))


def pairs(chain: Chain) -> tuple[tuple[str, str], ...]:
    """Pairs of tags and nodes that together stop the line, though neither does alone; else as ``single_points``."""
    best = _Best(chain)
    alone = _singles(best)
    found = set()
    for name in best.able:
        spare = [each for each in best.rests_on(name) if each not in alone]
        found |= {pair for pair in itertools.combinations(spare, 2) if not best.carried(name, frozenset(pair))}
    return tuple(sorted(found))


def _singles(best: "_Best") -> set[str]:
    return {each for name in best.able for each in best.rests_on(name) if not best.carried(name, frozenset([each]))}


@dataclass(frozen=True, slots=True)
class _Source:
    """What one part gives at best with all its units, and with one of them lost, and what stops it besides."""

    tag: str
    full: float
    one_lost: float
    stopped_by: Lost

    def gives(self, lost: Lost) -> float:
        if not lost.isdisjoint(self.stopped_by):
            return 0.0
        return self.one_lost if self.tag in lost else self.full


@dataclass(frozen=True, slots=True)
class _Need:
    sources: tuple[_Source, ...]
    least: int
    carries: Callable[[tuple[float, ...]], bool] | None

    def met(self, lost: Lost) -> bool:
        given = [source.gives(lost) for source in self.sources]
        return self.carries(tuple(given)) if self.carries is not None else sum(given) >= self.least


class _Best:
    """A chain with everything at the best level that it can have in some draw."""

    def __init__(self, chain: Chain) -> None:
        self.nodes = {node.name: node for node in chain.nodes}
        self.parts: dict[str, list[Part]] = {}
        for part in (part for function in chain.functions for demand in _demands(function) for part in demand.parts):
            self.parts.setdefault(part.tag, []).append(part)
        self.ways = {
            function.name: [(way.relies_on, [self._need(demand) for demand in way.demands]) for way in function.ways]
            for function in chain.functions
        }
        self.able = [name for name in self.ways if self.carried(name, frozenset())]

    def carried(self, name: str, lost: Lost) -> bool:
        """Whether a function is carried with these lost."""
        return any(
            all(need.met(lost) for need in needs) and all(self.carried(on, lost) for on in relies)
            for relies, needs in self.ways[name]
        )

    def rests_on(self, name: str) -> list[str]:
        """Tags and nodes that a function rests on, by itself or through what it relies on, in order."""
        names: set[str] = set()
        for relies, needs in self.ways[name]:
            names.update(each for source in _sources(needs) for each in (source.tag, *source.stopped_by))
            names.update(each for on in relies for each in self.rests_on(on))
        return sorted(names)

    def _need(self, demand: Demand) -> _Need:
        sources = []
        for part in demand.parts:
            working, stopped_by = self._hangs_on(part)
            level = _best_level(part) if working else 0.0
            full, one_lost = level * part.units, level * (part.units - 1)
            if demand.carries is None and demand.need > 0:
                full, one_lost = whole_number(full, demand.need), whole_number(one_lost, demand.need)
            sources.append(_Source(part.tag, full, one_lost, stopped_by))
        return _Need(tuple(sources), ENOUGH if demand.need > 0 else 0, demand.carries)

    def _hangs_on(self, part: Part) -> tuple[bool, Lost]:
        """Whether all that a part hangs on can be up, and whose loss takes it down."""
        working, stopped_by = True, set()
        for name in part.hangs_on:
            node = self.nodes[name]
            if node.tag not in self.parts:
                working = working and bool(np.any(node.up > 0))
                stopped_by.add(name)
            elif node.tag != part.tag:
                these = self.parts[node.tag]
                working = working and any(_best_level(each) > 0 for each in these)
                if all(each.units == 1 for each in these):
                    stopped_by.add(node.tag)
                for each in these:
                    further, beyond = self._hangs_on(each)
                    working, stopped_by = working and further, stopped_by | beyond
        return working, frozenset(stopped_by)


def _best_level(part: Part) -> float:
    return max(part.levels[i] for i in np.flatnonzero(part.weights.max(axis=1) > 0))


def _demands(function: Function) -> Iterator[Demand]:
    return (demand for way in function.ways for demand in way.demands)


def _sources(needs: Iterable[_Need]) -> Iterator[_Source]:
    return (source for need in needs for source in need.sources)
