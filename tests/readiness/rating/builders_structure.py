"""Chains for the tests of the structure, and what they come to by plain enumeration of every state of everything."""

import itertools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from readiness.rating.structure import Chain, Demand, Function, Node, Part, Way


def working(*chances: float) -> NDArray[np.float64]:
    """Weights of a part of two states (nothing, full) that works with these chances, one for each draw."""
    p = np.array(chances)
    return np.stack([1.0 - p, p])


def part(tag: str, *chances: float, gives: float = 1.0, units: int = 1, hangs_on=(), alike: str = "") -> Part:
    return Part(tag, units, (0.0, gives), working(*chances), tuple(hangs_on), alike)


def one_demand(*parts: Part, need: float = 1.0, carries=None) -> Function:
    return Function("only", (Way((Demand("what is needed", need, parts, carries),)),))


def chain_of(*functions: Function, nodes=(), beta: float = 0.0) -> Chain:
    return Chain(functions, tuple(nodes), beta)


@dataclass
class Event:
    """One unit of a tag, one node, or one common cause: what the enumeration runs over."""

    kind: str
    name: str
    weights: NDArray[np.float64]
    members: set[str] = field(default_factory=set)


def by_enumeration(chain: Chain) -> tuple[NDArray[np.float64], dict[str, NDArray[np.float64]]]:
    """Probability of the line and of each function over every combination of states; the parts of a tag share states.

    Written from the rules alone and as plainly as can be; it shares no code with what it checks.
    """
    parts = [p for f in chain.functions for w in f.ways for d in w.demands for p in d.parts]
    tags = {p.tag: p for p in parts}
    events = _common_causes(chain, tags)
    for tag, first in tags.items():
        weights = first.weights
        causes = [e for e in events if e.kind == "cause" and tag in e.members]
        for cause in causes:
            weights = _without_cause(first, weights, cause.weights[1])
        events += [Event("unit", tag, weights) for _ in range(first.units)]
    events += [
        Event("node", node.name, np.stack([1.0 - node.up, node.up])) for node in chain.nodes if node.tag not in tags
    ]
    width = parts[0].weights.shape[1]
    line, functions = np.zeros(width), {f.name: np.zeros(width) for f in chain.functions}
    for states in itertools.product(*(range(len(e.weights)) for e in events)):
        chance = np.prod([e.weights[s] for e, s in zip(events, states, strict=True)], axis=0)
        carried = _World(chain, tags, events, states).carried()
        line += chance * all(carried.values())
        for name, yes in carried.items():
            functions[name] += chance * yes
    return line, functions


def _common_causes(chain: Chain, tags: dict[str, Part]) -> list[Event]:
    events = []
    if chain.beta == 0:
        return events
    seen = set()
    for function in chain.functions:
        for way in function.ways:
            for demand in way.demands:
                for key in {p.alike for p in demand.parts if p.alike}:
                    members = [p for p in demand.parts if p.alike == key]
                    name = (key, frozenset(p.tag for p in members))
                    if sum(p.units for p in members) >= 2 and name not in seen:
                        seen.add(name)
                        units = [p.weights[0] for p in members for _ in range(p.units)]
                        together = np.minimum(chain.beta * np.mean(units, axis=0), np.min(units, axis=0))
                        weights = np.stack([1.0 - together, together])
                        events.append(Event("cause", key, weights, {p.tag for p in members}))
    return events


def _without_cause(first: Part, weights: NDArray[np.float64], together: NDArray[np.float64]) -> NDArray[np.float64]:
    """State 0 is the one that gives nothing."""
    rest = weights / (1.0 - together)
    rest[0] = (weights[0] - together) / (1.0 - together)
    return rest


class _World:
    def __init__(self, chain: Chain, tags: dict[str, Part], events: list[Event], states: tuple[int, ...]) -> None:
        self.chain, self.tags = chain, tags
        self.nodes = {node.name: node for node in chain.nodes}
        self.units: dict[str, list[int]] = {tag: [] for tag in tags}
        self.node_up: dict[str, bool] = {}
        self.struck: set[str] = set()
        for event, state in zip(events, states, strict=True):
            if event.kind == "unit":
                self.units[event.name].append(state)
            elif event.kind == "node":
                self.node_up[event.name] = state == 1
            elif state == 1:
                self.struck |= event.members

    def carried(self) -> dict[str, bool]:
        answer: dict[str, bool] = {}
        for function in self.chain.functions:  # told in an order in which what is relied on comes first
            answer[function.name] = any(
                all(answer[on] for on in way.relies_on) and all(self.met(d) for d in way.demands)
                for way in function.ways
            )
        return answer

    def met(self, demand: Demand) -> bool:
        given = [self.gives(p) for p in demand.parts]
        return demand.carries(tuple(given)) if demand.carries else sum(given) >= demand.need * (1 - 1e-9)

    def gives(self, p: Part) -> float:
        if p.tag in self.struck or not all(self.up(name, p.tag) for name in p.hangs_on):
            return 0.0
        return sum(p.levels[state] for state in self.units[p.tag])

    def up(self, name: str, asked_by: str) -> bool:
        node = self.nodes[name]
        if node.tag not in self.tags:
            return self.node_up[name]
        if node.tag == asked_by:
            return True
        every = [p for f in self.chain.functions for w in f.ways for d in w.demands for p in d.parts]
        return any(self.gives(p) > 0 for p in every if p.tag == node.tag)


def random_chain(seed: int, *, beta: float = 0.0, draws: int = 2) -> Chain:
    """A small chain with shared tags, three-state parts, nodes (one of them a part), alternatives and reliance."""
    rng = np.random.default_rng(seed)
    tags = [f"T{i}" for i in range(rng.integers(4, 7))]
    units = {tag: int(rng.choice([1, 1, 1, 2])) for tag in tags}
    weights = {tag: rng.dirichlet(np.ones(rng.integers(2, 4)), size=draws).T.copy() for tag in tags}
    hung = {tag: tuple(node for node in ("water", "power lead") if rng.random() < 0.3) for tag in tags}
    nodes = [Node("water", rng.uniform(0.3, 1, draws)), Node("power lead", rng.uniform(0, 1, draws), tag=tags[0])]
    functions: list[Function] = []
    for i in range(rng.integers(2, 5)):
        ways = []
        for w in range(rng.integers(1, 3)):
            names = [f.name for f in functions]
            relies = tuple(rng.choice(names, size=rng.integers(0, min(2, i) + 1), replace=False)) if i else ()
            demands = tuple(
                _random_demand(rng, f"{i}{w}{d}", tags, units, weights, hung) for d in range(rng.integers(1, 3))
            )
            ways.append(Way(demands, tuple(str(name) for name in relies)))
        functions.append(Function(f"F{i}", tuple(ways)))
    return Chain(tuple(functions), tuple(nodes), beta)


def _random_demand(rng, name, tags, units, weights, hung) -> Demand:
    chosen = rng.choice(tags, size=rng.integers(1, 4), replace=False)
    parts = []
    for tag in chosen:
        levels = (0.0, *(float(rng.choice([0.5, 1.0, rng.uniform(0.2, 2)])) for _ in weights[tag][1:]))
        parts.append(Part(str(tag), units[str(tag)], levels, weights[str(tag)], hung[str(tag)], "like"))
    carries = (lambda given: max(given) >= 0.9) if all(p.units == 1 for p in parts) and rng.random() < 0.2 else None
    return Demand(name, float(rng.choice([0.5, 1.0, rng.uniform(0.3, 3)])), tuple(parts), carries)


def line_of_sixty(draws: int = 256, beta: float = 0.05) -> Chain:
    """A three-lane line of 60 items on 14 functions, with a generator, a cord, a fuel batch and a manifold shared."""
    rng = np.random.default_rng(2026)
    count = iter(range(1000))

    def weights(states: int) -> NDArray[np.float64]:
        zero, limited = rng.uniform(0.005, 0.15, draws), rng.uniform(0.01, 0.2, draws)
        if states == 2:
            return np.stack([zero, 1 - zero])
        return np.stack([zero, (1 - zero) * limited, (1 - zero) * (1 - limited)])

    def several(kind: str, k: int, gives: float, states: int = 3, on=(), spread: float = 0.0) -> tuple[Part, ...]:
        answer = []
        for _ in range(k):
            full = gives * (1 + spread * float(rng.uniform(-1, 1)))
            levels = (0.0, full) if states == 2 else (0.0, 0.8 * full, full)
            answer.append(Part(f"{kind}-{next(count)}", 1, levels, weights(states), tuple(on), kind))
        return tuple(answer)

    power = (Part("GEN-1", 1, (0.0, 3000.0, 5000.0), weights(3), ("fuel batch",)),)
    cord, manifold = ("generator", "cord"), ("manifold",)

    def function(name: str, *demands: Demand, relies=()) -> Function:
        return Function(name, (Way(demands, tuple(relies)),))

    functions = (
        function("power", Demand("W", 2800.0, power)),
        function(
            "shelter",
            Demand("shelters", 1.0, several("shelter", 2, 1.0)),
            Demand("floors", 2, several("floor", 3, 1, 2)),
        ),
        function("inflation", Demand("blowers", 1.0, several("blower", 2, 1.0, 2, cord)), relies=["power"]),
        function("anchoring", Demand("stakes", 4.0, several("stake kit", 5, 1.0, 2))),
        function(
            "water",
            Demand("flow", 3.0, several("pump", 3, 1.5, 3, cord)),
            Demand("hose", 3, several("hose", 5, 1, 2)),
            relies=["power"],
        ),
        function(
            "heat",
            Demand("W", 100.0, several("heater", 4, 40.0, 3, (*cord, *manifold), 0.15)),
            Demand("vapour", 100.0, several("cylinder", 8, 20.0, 3, (), 0.2)),
            relies=["power", "water"],
        ),
        function("wash", Demand("lanes", 3.0, several("shower", 4, 1.0, 3, manifold))),
        function(
            "waste",
            Demand("m3", 3.0, several("bladder", 3, 1.8)),
            Demand("flow", 1, several("sump", 2, 1, 2, cord)),
            relies=["power"],
        ),
        Function(
            "light",
            (
                Way((Demand("lm", 2.0, several("floodlight", 3, 1.0, 2, cord)),), ("power",)),
                Way((Demand("lm", 2.0, several("battery light", 3, 1.0)),)),
            ),
        ),
        function("footing", Demand("mats", 3.0, several("mat", 4, 1.0, 2))),
        function("redress", Demand("kits", 1.0, several("kit box", 2, 1.0, 2))),
        function("PPE", Demand("suits", 2.0, several("suit set", 3, 1.0, 2))),
        function("signs", Demand("sets", 1.0, several("sign set", 2, 1.0, 2))),
        function("crew", Demand("people", 1.0, several("roster", 1, 1.0, 2))),
    )
    nodes = (
        Node("generator", np.ones(draws), "GEN-1"),
        Node("cord", rng.uniform(0.95, 1, draws)),
        Node("fuel batch", rng.uniform(0.9, 1, draws)),
        Node("manifold", rng.uniform(0.95, 1, draws)),
    )
    return Chain(functions, nodes, beta)
