"""From a plan to a chain of uncertain parts, and from the chain to a probability with its range."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from readiness.rating.capacity import Supply
from readiness.rating.cuts import single_points
from readiness.rating.draws import DRAWS, RateDraws, draw_rates, p_absent
from readiness.rating.evidence import Doubt, Standing
from readiness.rating.facts import Facts
from readiness.rating.judge import Judge
from readiness.rating.parts import Chain, Demand, Function, Node, Part, Way
from readiness.rating.plan import Ask, Plan, Want, WayPlan
from readiness.rating.structure import solve

Array = NDArray[np.float64]
RANGE = (0.1, 0.9)


@dataclass(frozen=True, eq=False)
class Odds:
    """Probabilities of failure modes over the draws, some years from now, each worked out once.

    Attributes:
        later_years: added to every exposure; with several, each draw is laid out once for each. [years]
    """

    draws: RateDraws
    later_years: tuple[float, ...] = (0.0,)
    absents: dict[tuple[str, float], Array] = field(default_factory=dict)
    # Kept by identity, with the object itself so that its identity stays its own.
    parts: dict[tuple[int, str], tuple[Supply, Part]] = field(default_factory=dict)
    kept_alive: dict[int, tuple[Standing, Array]] = field(default_factory=dict)

    @cached_property
    def sure(self) -> Array:
        """What cannot fail, shape of all others."""
        return np.ones(DRAWS * len(self.later_years))

    @classmethod
    def of(cls, facts: Facts) -> "Odds":
        """Return the odds of a line as it stands."""
        return cls(draw_rates(facts.modes))

    def later(self, *years: float) -> "Odds":
        """Return the odds so many years on, if nothing is done meanwhile."""
        return Odds(self.draws, years)

    def absent(self, doubt: Doubt) -> Array:
        """Return the probability that a mode is absent, shape (n,) or (instants * n,)."""
        key = (doubt.mode, doubt.exposure_years)
        found = self.absents.get(key)
        if found is None:
            if self.later_years == (0.0,):
                found = p_absent(self.draws, doubt.mode, doubt.exposure_years)
            else:
                years = doubt.exposure_years + np.array(self.later_years)[:, None]
                found = p_absent(self.draws, doubt.mode, years).ravel()
            self.absents[key] = found
        return found

    def alive(self, standing: Standing) -> Array:
        """Return the probability that no grade-I mode is there: that the item works at all."""
        kept = self.kept_alive.get(id(standing))
        if kept is not None:
            return kept[1]
        found = self.sure
        for doubt in standing.doubts:
            if doubt.grade == "I":
                found = self.absent(doubt) if found is self.sure else found * self.absent(doubt)
        self.kept_alive[id(standing)] = standing, found
        return found

    def part(self, supply: Supply, tag: str, hangs_on: tuple[str, ...]) -> Part:
        """Return the part of one supply: dead, limited one way or another, or whole."""
        kept = self.parts.get((id(supply), tag))
        if kept is not None:
            return kept[1]
        alive = self.alive(supply.standing)
        limiting = supply.limiting()
        by_level = self._limited(supply, limiting, alive) if limiting else {supply.each: alive}
        if any(d.grade == "I" for d in supply.standing.doubts):
            by_level[0.0] = by_level[0.0] + (1.0 - alive) if 0.0 in by_level else 1.0 - alive
        weights = np.empty((len(by_level), self.sure.size))
        for row, weight in enumerate(by_level.values()):
            weights[row] = weight
        units = 1 if "#" in tag else supply.units
        part = Part(tag, units, tuple(by_level), weights, hangs_on, supply.standing.item.kind)
        self.parts[id(supply), tag] = supply, part
        return part

    def _limited(self, supply: Supply, limiting: tuple[Doubt, ...], alive: Array) -> dict[float, Array]:
        """Return capacity -> probability, of an item that works, by which of its open limits are there."""
        clear: dict[tuple[str, float], Array] = {}
        for doubt in limiting:
            group = (doubt.limits, doubt.fraction)
            clear[group] = clear[group] * self.absent(doubt) if group in clear else self.absent(doubt)
        found = {}
        for level, combinations in sorted(supply.states().items(), reverse=True):
            total = np.zeros_like(alive)
            for present in combinations:
                one = alive
                for group, there in present.items():
                    one = one * ((1.0 - clear[group]) if there else clear[group])
                total += one
            found[level] = total
        return found


@dataclass(frozen=True, slots=True)
class Chance:
    """A probability over what is not known of the rates, in 100, with its 80 % range.

    Attributes:
        functions: each function's own mean, with all it relies on. [in 100]
    """

    mean: float
    low: float
    high: float
    functions: Mapping[str, float]
    exact: bool = True
    error: float = 0.0


NO_CHANCE = Chance(0.0, 0.0, 0.0, {})


def chance(judge: Judge, odds: Odds, ask: Ask, without: frozenset[str] = frozenset()) -> Chance:
    """Return the probability that the line carries an ask, leaving out the functions it would do without."""
    answer = solve(chain_of(judge, odds, ask, without))
    low, high = np.quantile(answer.line, RANGE)
    return Chance(
        100.0 * float(answer.line.mean()),
        100.0 * float(low),
        100.0 * float(high),
        {name: 100.0 * float(p.mean()) for name, p in answer.functions.items()},
        answer.exact,
        100.0 * answer.error,
    )


def line_over_time(judge: Judge, odds: Odds, ask: Ask, without: frozenset[str], years: tuple[float, ...]) -> Array:
    """Return the mean probability that the line carries an ask at each of several instants, shape (instants,). [-]"""
    line = solve(chain_of(judge, odds.later(*years), ask, without)).line
    if line.size == 1:
        return np.full(len(years), float(line[0]))
    return np.asarray(line.reshape(len(years), -1).mean(axis=1))


def singles(judge: Judge, odds: Odds, ask: Ask, without: frozenset[str]) -> tuple[str, ...]:
    """Return the items and nodes whose loss alone stops the line at an ask."""
    found = single_points(chain_of(judge, odds, ask, without, certain=True))
    # Gas cylinders and the like are told apart within a row; the row is what people know.
    return tuple(dict.fromkeys(name.split("#", 1)[0] for name in found if name))


def chain_of(judge: Judge, odds: Odds, ask: Ask, without: frozenset[str], *, certain: bool = False) -> Chain:
    """Return the chain of an ask: the ways that capacities allow, their parts, and what these hang on.

    ``without`` names functions left out, with every way that relies on them. ``certain`` keeps parts that nothing
    unseen can stop, as single points must.
    """
    made = judge.plan(ask)
    nodes = _nodes_of(judge.means.facts)
    functions = []
    for name, one in made.items():
        if not one.recorded or name in without:
            continue
        ways = tuple(
            Way(_demands(way, odds, nodes, certain), _relies_on(made, way))
            for way in one.ways
            if judge.way_met(ask, way) and not without.intersection(way.relies_on)
        )
        functions.append(Function(name, ways))
    return Chain(tuple(functions), _nodes(judge, odds, functions), judge.means.facts.beta)


def _relies_on(made: Plan, way: WayPlan) -> tuple[str, ...]:
    return tuple(name for name in way.relies_on if made[name].recorded)


def _demands(way: WayPlan, odds: Odds, nodes: Mapping[str, tuple[str, ...]], certain: bool) -> tuple[Demand, ...]:
    demands = []
    for want in way.wants:
        if not want.links or not want.supplies or want.need - want.fixed <= 0:
            continue
        if certain or not all(_is_certain(s, nodes) for s in want.supplies):
            name = want.resource or want.kind
            demands.append(Demand(name, want.need - want.fixed, _parts(want, odds, nodes), want.carries))
    return tuple(demands)


def _is_certain(supply: Supply, nodes: Mapping[str, tuple[str, ...]]) -> bool:
    return supply.certain and not nodes.get(supply.standing.item.tag)


def _parts(want: Want, odds: Odds, nodes: Mapping[str, tuple[str, ...]]) -> tuple[Part, ...]:
    parts, seen = [], dict[str, int]()
    for supply in want.supplies:
        if want.carries is None and supply.each <= 0:
            continue
        tag = supply.standing.item.tag
        hangs_on = nodes.get(tag, ())
        if want.carries is not None and supply.standing.item.quantity > 1:
            seen[tag] = seen.get(tag, 0) + 1
            tag = f"{tag}#{seen[tag]}"
        parts.append(odds.part(supply, tag, hangs_on))
    return tuple(parts)


def _nodes_of(facts: Facts) -> dict[str, tuple[str, ...]]:
    """Return tag -> the nodes it hangs on, by membership or by the item's own record; never on itself."""
    found: dict[str, list[str]] = {}
    for node in facts.nodes:
        for tag in node.members:
            found.setdefault(tag, []).append(node.name)
    known = {node.name: node.item for node in facts.nodes}
    for item in facts.items:
        found.setdefault(item.tag, []).extend(name for name in item.hangs_on if name in known)
    return {
        tag: tuple(dict.fromkeys(name for name in names if known[name] != tag)) for tag, names in found.items() if names
    }


def _nodes(judge: Judge, odds: Odds, functions: list[Function]) -> tuple[Node, ...]:
    parts = [p for f in functions for way in f.ways for d in way.demands for p in d.parts]
    used = {name for part in parts for name in part.hangs_on}
    tags = {part.tag for part in parts}
    by_tag = judge.means.evidenced.by_tag
    nodes = []
    for node in judge.means.facts.nodes:
        if node.name not in used:
            continue
        if node.item is not None and node.item in tags:
            nodes.append(Node(node.name, odds.sure, node.item))
        elif node.probability is not None:
            nodes.append(Node(node.name, odds.sure * node.probability))
        else:
            on = by_tag.get(node.item or "")
            nodes.append(Node(node.name, odds.sure if on is None else odds.alive(on)))
    return tuple(nodes)
