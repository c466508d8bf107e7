"""What a chain's parts share: turns tags, nodes and like groups into independent shared things and what hangs on them.

A shared thing is a tag that several demands rest on, a node, or the common cause of a group of like parts. Given the
state of every shared thing, all demands are independent.
"""

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from readiness.rating.parts import Chain, Demand, Node, Part
from shared.formulas.reliability import common_cause_probability

Place = tuple[int, int]  # a demand's number, and a part's within it
_DOWN_UP = np.array([False, True])


@dataclass(frozen=True, eq=False)
class Thing:
    """A shared thing, independent of all other things.

    Attributes:
        weights: probability of each state, shape (states, n). [-]
        up: in which states what hangs on it can work, shape (states,).
        used_by: numbers of the demands that depend on it.
    """

    name: str
    weights: NDArray[np.float64]
    up: NDArray[np.bool_]
    used_by: set[int] = field(default_factory=set)


@dataclass(frozen=True, eq=False)
class Wired:
    """One part of a demand, with all it hangs on found.

    Attributes:
        levels: capacity in each state of one unit; for a part that is a shared thing, of all units in each state of
            the thing.
        weights: of each state of one unit, given that what it hangs on is up, shape (states, n). [-]
        hangs_on: numbers of the things that must be up.
        thing: number of the shared thing that it is, else None.
    """

    levels: tuple[float, ...]
    weights: NDArray[np.float64]
    units: int
    hangs_on: frozenset[int]
    thing: int | None = None


@dataclass(frozen=True, eq=False)
class Wiring:
    """A chain's demands as wired parts, by number, and the shared things by number."""

    demands: list[Demand]
    parts: list[list[Wired]]
    things: list[Thing]
    width: int


def demands_of(chain: Chain) -> Iterator[Demand]:
    """All demands, function by function, way by way."""
    return (demand for function in chain.functions for way in function.ways for demand in way.demands)


def wire(chain: Chain) -> Wiring:
    """Find what the parts of a chain share.

    Raises:
        ValueError: shapes do not agree, a part hangs on no known node, or nodes hang on each other in a circle.
    """
    return _Wirer(chain).wire()


class _Wirer:
    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.demands = list(demands_of(chain))
        self.places: dict[str, list[Place]] = defaultdict(list)
        for d, demand in enumerate(self.demands):
            for p, part in enumerate(demand.parts):
                self.places[part.tag].append((d, p))
        self.width = _width(chain, self.demands)
        self.nodes = {node.name: node for node in chain.nodes}
        self.hung: dict[str, list[Place]] = defaultdict(list)
        for tag, places in self.places.items():
            for place in places:
                for name in self._part(place).hangs_on:
                    if name not in self.nodes:
                        raise ValueError(f"{tag}: hangs on {name!r}, which is no node of the chain")
                    self.hung[name].append(place)
        self.tagged = {self.nodes[name].tag for name in self.hung}
        self.folded = {name for name in self.hung if self._folds(name)}
        self.weights: dict[Place, NDArray[np.float64]] = {}
        self.things: list[Thing] = []
        self.node_thing: dict[str, int] = {}
        self.tag_thing: dict[str, int] = {}
        self.tag_levels: dict[Place, tuple[float, ...]] = {}
        self.group_of: dict[str, list[int]] = defaultdict(list)

    def wire(self) -> Wiring:
        for d, demand in enumerate(self.demands):
            for p, part in enumerate(demand.parts):
                self.weights[d, p] = part.weights
        if self.chain.beta > 0:
            self._find_like_groups()
        for name in self.hung:
            node = self.nodes[name]
            if node.tag not in self.places and name not in self.folded:
                self.node_thing[name] = self._thing(name, np.array([1.0 - node.up, node.up]), _DOWN_UP)
        for tag, places in self.places.items():
            if len(places) > 1 or tag in self.tagged:
                self._share(tag, places)
        parts = [[self._wired(d, p) for p in range(len(demand.parts))] for d, demand in enumerate(self.demands)]
        return Wiring(self.demands, parts, self.things, self.width)

    def _thing(self, name: str, weights: NDArray[np.float64], up: NDArray[np.bool_]) -> int:
        self.things.append(Thing(name, weights, up))
        return len(self.things) - 1

    def _folds(self, name: str) -> bool:
        """Whether a node touches one unit in one demand only: it is then a matter of that part's own weights."""
        part = self._part(self.hung[name][0])
        alone = len(self.hung[name]) == 1 and len(self.places[part.tag]) == 1 and part.units == 1
        return alone and part.tag not in self.tagged and self.nodes[name].tag not in self.places

    def _find_like_groups(self) -> None:
        """Give each group of like parts of one demand its common cause; groups that share a tag are one group."""
        groups: dict[str, list[set[str]]] = defaultdict(list)
        for demand in self.demands:
            alike: dict[str, list[Part]] = defaultdict(list)
            for part in demand.parts:
                if part.alike and 0.0 in part.levels and max(part.levels) > 0:
                    alike[part.alike].append(part)
            for key, members in alike.items():
                if sum(part.units for part in members) < 2:
                    continue
                tags = {part.tag for part in members}
                apart = [group for group in groups[key] if group.isdisjoint(tags)]
                groups[key] = [*apart, tags.union(*(g for g in groups[key] if not g.isdisjoint(tags)))]
        for key, found in groups.items():
            for group in found:
                self._join(key, sorted(group))

    def _join(self, key: str, tags: list[str]) -> None:
        """Take a group's common cause out of its members' weights, so that each one's own probability stays.

        With q the members' mean probability of giving nothing, all give nothing together with probability beta q.
        """
        zero = {tag: rows for tag in tags if all((rows := self._states_at_zero(tag)).values())}
        if not zero:
            return
        own = np.array([self._never(rows) for rows in zero.values()])
        units = np.array([self._part(self.places[tag][0]).units for tag in zero])
        # One that cannot work, or cannot fail, says nothing of the others.
        counted = (own.min(axis=1) < 1.0) & (own.max(axis=1) > 0.0)
        units, own = units[counted], own[counted]
        if units.sum() < 2:
            return
        # Weights that sum to 1 may do so with a rounding error on top.
        together = common_cause_probability(np.minimum(own, 1.0), units, self.chain.beta)
        apart = 1.0 / (1.0 - together)
        number = self._thing(f"like {key}", np.array([together, 1.0 - together]), _DOWN_UP)
        for tag in itertools.compress(zero, counted):
            self.group_of[tag].append(number)
            for place, states in zero[tag].items():
                self.weights[place] = _without(self.weights[place], states, together, apart)

    def _states_at_zero(self, tag: str) -> dict[Place, list[int]]:
        """States in which the tag gives nothing, at each place; nothing anywhere, where its states are the same."""
        places = self.places[tag]
        parts = [self._part(place) for place in places]
        rows = [[i for i, level in enumerate(part.levels) if level == 0] for part in parts]
        if len(parts) > 1 and all(_same(part, parts[0]) for part in parts):
            rows = [sorted(set(rows[0]).intersection(*rows[1:]))] * len(parts)
        return dict(zip(places, rows, strict=True))

    def _never(self, zero: dict[Place, list[int]]) -> NDArray[np.float64]:
        """Probability that one unit gives nothing at all."""
        each = [_sum_of(self.weights[place], rows) for place, rows in zero.items()]
        return each[0] if len(each) == 1 else np.asarray(np.min(each, axis=0))

    def _part(self, place: Place) -> Part:
        return self.demands[place[0]].parts[place[1]]

    def _share(self, tag: str, places: list[Place]) -> None:
        """Make a tag a shared thing: its joint states, and what it gives to each demand in each of them."""
        parts = [self._part(place) for place in places]
        weights = [self.weights[place] for place in places]
        first = weights[0]
        if all(_same(part, parts[0]) for part in parts):
            counts, joint = states_of_units(first, parts[0].units)
            levels = [tuple(float(c @ np.array(part.levels)) for c in counts) for part in parts]
        else:
            levels, joint = _side_by_side(parts, weights)
        seen = [i for i, row in enumerate(joint) if row.any()]
        levels = [tuple(each[i] for i in seen) for each in levels]
        up = np.array([any(each[i] > 0 for each in levels) for i in range(len(seen))])
        self.tag_thing[tag] = self._thing(tag, joint[seen], up)
        self.tag_levels.update(zip(places, levels, strict=True))

    def _hangs_on(self, part: Part, path: tuple[str, ...] = ()) -> set[int]:
        """Numbers of the things a part needs up, through nodes that are themselves parts."""
        answer = set(self.group_of.get(part.tag, ()))
        for name in part.hangs_on:
            node: Node = self.nodes[name]
            if name in self.node_thing:
                answer.add(self.node_thing[name])
            elif node.tag in self.places and node.tag != part.tag:
                if node.tag in path:
                    raise ValueError(f"nodes hang on each other in a circle: {' > '.join((*path, part.tag, node.tag))}")
                answer.add(self.tag_thing[node.tag])
                for place in self.places[node.tag]:
                    answer |= self._hangs_on(self._part(place), (*path, part.tag))
        return answer

    def _wired(self, d: int, p: int) -> Wired:
        part, weights = self._part((d, p)), self.weights[d, p]
        hangs_on = frozenset(self._hangs_on(part)) if part.hangs_on or part.tag in self.group_of else frozenset()
        for number in hangs_on:
            self.things[number].used_by.add(d)
        if part.tag in self.tag_thing:
            number = self.tag_thing[part.tag]
            self.things[number].used_by.add(d)
            return Wired(self.tag_levels[d, p], self.things[number].weights, 1, hangs_on - {number}, number)
        levels = part.levels
        for name in part.hangs_on:
            if name in self.folded:
                up = self.nodes[name].up
                levels, weights = (*levels, 0.0), np.vstack([weights * up, 1.0 - up])
        return Wired(levels, weights, part.units, hangs_on)


def _sum_of(weights: NDArray[np.float64], rows: list[int]) -> NDArray[np.float64]:
    return weights[rows[0]] if len(rows) == 1 else np.asarray(weights[rows].sum(axis=0))


def _without(
    weights: NDArray[np.float64], rows: list[int], together: NDArray[np.float64], apart: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Weights of a part given that the common cause, which would put it in ``rows``, has not struck."""
    answer = weights * apart
    own = _sum_of(weights, rows)
    rest = (own - together) * apart
    if len(rows) == 1:
        answer[rows[0]] = rest
    else:
        answer[rows] = weights[rows] * np.divide(rest, own, out=np.zeros_like(own), where=own > 0)
    return answer


def _same(part: Part, other: Part) -> bool:
    """Whether two parts of one tag have the same states."""
    alike = part.weights is other.weights or np.array_equal(part.weights, other.weights)
    return alike and part.units == other.units


def states_of_units(weights: NDArray[np.float64], units: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Joint states of ``units`` alike as counts of units in each state, with their multinomial probabilities.

    Args:
        weights: of one unit's states, shape (states, n). [-]
        units: >= 1. [-]
    Returns:
        Counts, shape (k, states), and probabilities, shape (k, n).
    """
    states = len(weights)
    if units == 1:
        return np.eye(states, dtype=np.int64), weights
    chosen = itertools.combinations_with_replacement(range(states), units)
    counts = np.array([np.bincount(each, minlength=states) for each in chosen], dtype=np.int64)
    powers = weights[None, :, :] ** np.arange(units + 1)[:, None, None]
    joint = np.empty((len(counts), weights.shape[1]))
    for i, count in enumerate(counts):
        ways = math.factorial(units)
        for c in count:
            ways //= math.factorial(c)
        joint[i] = ways * powers[count, np.arange(states)].prod(axis=0)
    return counts, joint


def _side_by_side(
    parts: list[Part], weights: list[NDArray[np.float64]]
) -> tuple[list[tuple[float, ...]], NDArray[np.float64]]:
    """Joint states of one item whose parts state it differently: the worse of the one with the worse of the other."""
    levels, lower, upper = [], [], []
    for part, each in zip(parts, weights, strict=True):
        counts, joint = states_of_units(each, part.units)
        given = counts @ np.array(part.levels)
        order = np.argsort(given, kind="stable")
        below = np.vstack([np.zeros((1, joint.shape[1])), np.cumsum(joint[order], axis=0)])
        below[-1] = 1.0
        levels.append(given[order])
        lower.append(below[:-1])
        upper.append(below[1:])
    rows, states = [], []
    for state in itertools.product(*(range(len(each)) for each in levels)):
        start = np.max([low[i] for low, i in zip(lower, state, strict=True)], axis=0)
        end = np.min([high[i] for high, i in zip(upper, state, strict=True)], axis=0)
        row = np.maximum(end - start, 0.0)
        if row.any():
            rows.append(row)
            states.append(state)
    return [tuple(float(each[s[k]]) for s in states) for k, each in enumerate(levels)], np.stack(rows)


def _width(chain: Chain, demands: list[Demand]) -> int:
    """Number of draws, the same for every part and node."""
    if not 0 <= chain.beta < 1:
        raise ValueError(f"need 0 <= beta < 1, got {chain.beta}")
    widths = {node.up.shape[0] for node in chain.nodes if node.up.ndim == 1}
    for demand in demands:
        for part in demand.parts:
            if part.weights.ndim != 2 or part.weights.shape[0] != len(part.levels) or part.units < 1:
                raise ValueError(f"{part.tag}: need units >= 1 and weights of shape (levels, n)")
            if min(part.levels) < 0:
                raise ValueError(f"{part.tag}: need levels >= 0, got {part.levels}")
            widths.add(part.weights.shape[1])
    if len(widths) > 1:
        raise ValueError(f"need the same draws everywhere, got {sorted(widths)}")
    return widths.pop() if widths else 1
