"""A chain's probability: published cases, plain enumeration of every state, and each rule of sharing by hand."""

import numpy as np
import pytest

from readiness.rating.structure import Chain, Demand, Function, Node, Part, Way, solve
from shared.formulas.reliability import koon_common_cause
from tests.readiness.rating.builders_structure import (
    by_enumeration,
    chain_of,
    line_of_sixty,
    one_demand,
    part,
    random_chain,
    working,
)


def like(*chances: float, need: float = 1.0, key: str = "heater"):
    parts = [part(f"HTR-{i}", p, alike=key) for i, p in enumerate(chances, 1)]
    return one_demand(*parts, need=need)


# Four display units, three needed; "at least two survive" of four: a reliability handbook's worked example. Two of
# three: binomial.
@pytest.mark.parametrize(
    ("k", "n", "p", "published"), [(3, 4, 0.9, 0.9477), (2, 3, 0.95, 0.99275), (2, 4, 0.9, 0.9963)]
)
def test_k_of_n_has_the_published_value(k, n, p, published):
    answer = solve(chain_of(like(*[p] * n, need=k)))
    assert answer.line[0] == pytest.approx(published, rel=5e-4)
    assert answer.exact
    assert answer.error == 0.0


@pytest.mark.parametrize("units_in_a_row", [True, False])
def test_a_row_of_several_alike_is_the_same_as_several_rows_of_one(units_in_a_row):
    three_states = np.array([[0.1], [0.2], [0.7]])
    rows = (
        [Part("P", 4, (0.0, 0.8, 1.0), three_states)]
        if units_in_a_row
        else [Part(f"P{i}", 1, (0.0, 0.8, 1.0), three_states) for i in range(4)]
    )
    # Three full, or two full and two limited (2 + 1.6): 4 p3^3 (1 - p3) + p3^4 + 6 p3^2 p2^2, and 3 full + anything.
    by_hand = 4 * 0.7**3 * 0.3 + 0.7**4 + 6 * 0.7**2 * 0.2**2 + 4 * 0.7 * 0.2**3 + 0.2**4
    assert solve(chain_of(one_demand(*rows, need=3.0))).line[0] == pytest.approx(by_hand, abs=1e-12)


# Series of parallel groups, computed by full enumeration and as a product.
@pytest.mark.parametrize(
    ("groups", "expected"),
    [([[0.95], [0.9, 0.9], [0.99]], 0.931095), ([[0.98, 0.98], [0.9, 0.8, 0.7]], 0.993602)],
)
def test_series_of_parallel_groups_has_the_computed_value(groups, expected):
    functions = [
        Function(f"F{g}", (Way((Demand("one", 1.0, tuple(part(f"{g}-{i}", p) for i, p in enumerate(group))),)),))
        for g, group in enumerate(groups)
    ]
    answer = solve(chain_of(*functions))
    assert answer.line[0] == pytest.approx(expected, rel=1e-6)
    assert answer.line[0] == pytest.approx(np.prod([each[0] for each in answer.functions.values()]), rel=1e-12)


# Beta factor (NUREG/CR-5485): ((1 - b) q)^n + b q, the form for rare events. Ours keeps each item's own probability
# at q, which the rare-event form does not quite: it differs by less than b q times the independent part.
@pytest.mark.parametrize(("q", "beta", "n", "published"), [(0.05, 0.1, 2, 0.007025), (0.02, 0.05, 3, 0.0010069)])
def test_like_items_fail_together_as_the_beta_factor_says(q, beta, n, published):
    answer = solve(chain_of(like(*[1 - q] * n), beta=beta))
    exact = 1 - koon_common_cause(1, n, q, beta)
    assert 1 - answer.line[0] == pytest.approx(exact, abs=1e-14)
    assert 1 - answer.line[0] == pytest.approx(published, abs=2 * beta * q * ((1 - beta) * q) ** n + 5e-8)


def test_the_common_cause_leaves_each_items_own_probability_as_it_was():
    chances = (0.9, 0.6, 0.99)
    for i, p in enumerate(chances):
        levels = [100.0 if i == k else 1.0 for k in range(3)]
        parts = [
            part(f"H{k}", c, gives=g, alike="heater") for k, (c, g) in enumerate(zip(chances, levels, strict=True))
        ]
        assert solve(chain_of(one_demand(*parts, need=50.0), beta=0.3)).line[0] == pytest.approx(p, abs=1e-12)


def test_the_mean_of_unlike_members_sets_the_common_cause_and_the_best_member_bounds_it():
    answer = solve(chain_of(like(0.9, 0.7), beta=0.1))
    together = 0.1 * (0.1 + 0.3) / 2
    assert 1 - answer.line[0] == pytest.approx(together + (0.1 - together) * (0.3 - together) / (1 - together))
    bounded = solve(chain_of(like(0.999, 0.1), beta=0.1))
    assert 1 - bounded.line[0] == pytest.approx(0.001)


def test_one_that_is_known_to_be_lost_lends_no_common_cause_to_the_others():
    assert solve(chain_of(like(0.9, 0.0), beta=0.1)).line[0] == pytest.approx(0.9)
    with_it, without = (solve(chain_of(like(*c), beta=0.1)).line[0] for c in ((0.9, 0.8, 0.0), (0.9, 0.8)))
    assert with_it == pytest.approx(without, abs=1e-14)


def test_items_of_different_kinds_share_no_common_cause():
    function = one_demand(part("A", 0.9, alike="heater"), part("B", 0.8, alike="kettle"), part("C", 0.7))
    assert 1 - solve(chain_of(function, beta=0.1)).line[0] == pytest.approx(0.1 * 0.2 * 0.3)


@pytest.mark.parametrize("seed", range(60))
def test_small_random_chains_agree_with_enumeration_of_every_state(seed):
    chain = random_chain(seed)
    line, functions = by_enumeration(chain)
    answer = solve(chain)
    # A few of these tangle more than 4096 joint states: those are sampled, and say so.
    within = 1e-12 if answer.exact else 5 * answer.error
    assert answer.line.mean() == pytest.approx(line.mean(), abs=within)
    for name, expected in functions.items():
        assert answer.functions[name] == pytest.approx(expected, abs=1e-12 if answer.exact else 0.01)


def test_most_of_the_random_chains_are_exact():
    assert sum(solve(random_chain(seed)).exact for seed in range(60)) > 50


@pytest.mark.parametrize("seed", range(25))
def test_random_chains_with_common_causes_agree_with_enumeration(seed):
    rng = np.random.default_rng(seed)
    functions: list[Function] = []
    for f in range(3):
        parts = []
        for k in range(rng.integers(2, 4)):
            levels = (0.0, *map(float, rng.uniform(0.3, 1.2, rng.integers(1, 3))))
            weights = rng.dirichlet(np.ones(len(levels)), size=3).T.copy()
            hangs_on = ("bay",) if rng.random() < 0.4 else ()
            parts.append(Part(f"{f}-{k}", 1, levels, weights, hangs_on, "like" if rng.random() < 0.8 else ""))
        if f == 2:  # the first item of the first function serves here too
            parts.append(functions[0].ways[0].demands[0].parts[0])
            parts[-1] = Part(*[getattr(parts[-1], n) for n in ("tag", "units", "levels", "weights", "hangs_on")])
        functions.append(Function(f"F{f}", (Way((Demand("d", float(rng.uniform(0.5, 2)), tuple(parts)),)),)))
    chain = chain_of(*functions, nodes=[Node("bay", rng.uniform(0.2, 1, 3))], beta=0.15)
    line, each = by_enumeration(chain)
    answer = solve(chain)
    assert answer.exact
    assert answer.line == pytest.approx(line, abs=1e-12)
    for name, expected in each.items():
        assert answer.functions[name] == pytest.approx(expected, abs=1e-12)


def test_two_functions_on_one_item_are_not_multiplied():
    pump = part("PMP-1", 0.8)
    functions = [Function(name, (Way((Demand("flow", 1.0, (pump,)),)),)) for name in ("water", "waste")]
    answer = solve(chain_of(*functions))
    assert answer.line[0] == pytest.approx(0.8)
    assert answer.shared == ("PMP-1",)


def test_one_item_told_differently_by_two_demands_is_worse_in_both_at_once():
    heat = Part("HTR-1", 1, (0.0, 60.0, 100.0), np.array([[0.1], [0.2], [0.7]]))
    draw = Part("HTR-1", 1, (5.0, 0.0), np.array([[0.9], [0.1]]))
    functions = [
        Function("heat", (Way((Demand("W", 50.0, (heat,)),)),)),
        Function("air", (Way((Demand("m3/s", 5.0, (draw,)),)),)),
    ]
    assert solve(chain_of(*functions)).line[0] == pytest.approx(0.9)


def test_like_items_that_two_demands_tell_differently_still_fail_together():
    # Each heater gives heat in three states and air in two; nothing in the one is nothing in the other.
    heat = np.array([[0.1], [0.2], [0.7]])
    demands = [
        Demand("W", 60.0, tuple(Part(t, 1, (0.0, 60.0, 100.0), heat, (), "heater") for t in ("HTR-1", "HTR-2"))),
        Demand("m3/s", 5.0, tuple(Part(t, 1, (0.0, 5.0), working(0.9), (), "heater") for t in ("HTR-1", "HTR-2"))),
    ]
    answer = solve(chain_of(Function("heat", (Way(tuple(demands)),)), beta=0.2))
    together = 0.2 * 0.1
    assert 1 - answer.line[0] == pytest.approx(together + (1 - together) * ((0.1 - together) / (1 - together)) ** 2)


def test_a_function_relied_on_is_counted_once():
    power = Function("power", (Way((Demand("W", 1.0, (part("GEN-1", 0.9),)),)),))
    pump = Function("water", (Way((Demand("flow", 1.0, (part("PMP-1", 0.8),)),), ("power",)),))
    lamp = Function("light", (Way((Demand("lm", 1.0, (part("LMP-1", 0.7),)),), ("power",)),))
    answer = solve(chain_of(power, pump, lamp))
    assert answer.line[0] == pytest.approx(0.9 * 0.8 * 0.7)
    assert answer.functions["water"][0] == pytest.approx(0.9 * 0.8)


def test_a_way_that_needs_no_power_stands_when_power_fails():
    power = Function("power", (Way((Demand("W", 1.0, (part("GEN-1", 0.9),)),)),))
    flood, battery = Demand("lm", 1.0, (part("LMP-1", 0.7),)), Demand("lm", 1.0, (part("BAT-1", 0.6),))
    light = Function("light", (Way((flood,), ("power",)), Way((battery,))))
    answer = solve(chain_of(power, light))
    assert answer.functions["light"][0] == pytest.approx(0.6 + 0.4 * 0.9 * 0.7)
    assert answer.line[0] == pytest.approx(0.9 * (0.6 + 0.4 * 0.7))


def test_ways_that_share_an_item_are_combined_exactly():
    hose = part("HOS-1", 0.5)
    ways = [Way((Demand("hose", 1.0, (hose,)), Demand("pump", 1.0, (part(tag, 0.9),)))) for tag in ("A", "B")]
    assert solve(chain_of(Function("water", tuple(ways)))).line[0] == pytest.approx(0.5 * (1 - 0.1**2))


def test_what_hangs_on_a_node_gives_nothing_while_it_is_down():
    node = Node("cord", np.array([0.9]))
    pumps = [part(f"PMP-{i}", 0.8, hangs_on=["cord"]) for i in (1, 2)]
    spare = part("PMP-3", 0.5)
    answer = solve(chain_of(one_demand(*pumps, spare), nodes=[node]))
    assert answer.line[0] == pytest.approx(0.9 * (1 - 0.2 * 0.2 * 0.5) + 0.1 * 0.5)


def test_a_node_that_is_the_generator_is_up_exactly_when_the_generator_gives_something():
    power = Function("power", (Way((Demand("W", 1.0, (part("GEN-1", 0.9, hangs_on=["fuel"]),)),)),))
    water = Function("water", (Way((Demand("flow", 1.0, (part("PMP-1", 0.8, hangs_on=["generator"]),)),)),))
    nodes = [Node("generator", np.array([0.1]), tag="GEN-1"), Node("fuel", np.array([0.5]))]
    answer = solve(chain_of(power, water, nodes=nodes))
    assert answer.line[0] == pytest.approx(0.5 * 0.9 * 0.8)
    assert answer.functions["water"][0] == pytest.approx(0.5 * 0.9 * 0.8)


def test_nodes_that_hang_on_each_other_in_a_circle_are_refused():
    parts = [part("A", 0.9, hangs_on=["of B"]), part("B", 0.9, hangs_on=["of A"])]
    nodes = [Node("of A", np.ones(1), "A"), Node("of B", np.ones(1), "B")]
    with pytest.raises(ValueError, match="circle"):
        solve(chain_of(one_demand(*parts), nodes=nodes))


def test_a_demand_may_decide_by_itself_what_does_not_add():
    # Two cylinders in parallel carry the draw only while both are at least half full: the colder one freezes.
    def both_half(given: tuple[float, ...]) -> bool:
        return min(given) >= 0.5

    weights = np.array([[0.1, 0.0], [0.2, 0.5], [0.7, 0.5]])
    cylinders = [Part(tag, 1, (0.0, 0.4, 1.0), weights) for tag in ("CYL-1", "CYL-2")]
    answer = solve(chain_of(one_demand(*cylinders, carries=both_half)))
    assert answer.line == pytest.approx([0.49, 0.25])


def test_a_demand_that_decides_by_itself_knows_shared_items_and_nodes():
    cylinder = part("CYL-1", 0.8, hangs_on=["regulator"])
    vapour = one_demand(cylinder, part("CYL-2", 0.6), carries=lambda given: sum(given) >= 1)
    mass = Function("mass", (Way((Demand("kg", 1.0, (cylinder,)),)),))
    answer = solve(chain_of(vapour, mass, nodes=[Node("regulator", np.array([0.9]))]))
    assert answer.line[0] == pytest.approx(0.9 * 0.8)
    assert answer.functions["only"][0] == pytest.approx(1 - (1 - 0.72) * 0.4)


def test_a_demand_that_decides_by_itself_may_not_have_too_many_states():
    parts = [part(f"CYL-{i}", 0.9) for i in range(13)]
    with pytest.raises(ValueError, match="combinations"):
        solve(chain_of(one_demand(*parts, carries=lambda given: True)))


def test_twelve_shared_nodes_are_still_exact():
    rng = np.random.default_rng(3)
    nodes = [Node(f"bay {i}", rng.uniform(0.5, 1, 2)) for i in range(12)]
    functions = [
        Function(
            f"F{f}",
            (Way((Demand("d", 2.0, tuple(part(f"{f}-{i}", 0.9, 0.8, hangs_on=[f"bay {i}"]) for i in range(12))),)),),
        )
        for f in range(2)
    ]
    answer = solve(chain_of(*functions, nodes=nodes))
    assert answer.exact
    line = _two_functions_over_bays(nodes)
    assert answer.line == pytest.approx(line, abs=1e-12)


def _two_functions_over_bays(nodes: list[Node]) -> np.ndarray:
    """By the number of bays up: given it, the functions are independent binomials."""
    p = np.array([0.9, 0.8])
    up = [np.ones(2)] + [np.zeros(2)] * 12
    for node in nodes:
        up = [up[0] * (1 - node.up)] + [up[k] * (1 - node.up) + up[k - 1] * node.up for k in range(1, 13)]
    two = [1 - (1 - p) ** k - k * p * (1 - p) ** max(k - 1, 0) for k in range(13)]
    return sum(u * t**2 for u, t in zip(up, two, strict=True))


def test_beyond_that_the_shared_things_are_sampled_and_the_error_is_told():
    rng = np.random.default_rng(4)
    items = [part(f"I-{i}", *rng.uniform(0.6, 0.95, 16)) for i in range(14)]
    functions = [Function(f"F{f}", (Way((Demand("d", n, tuple(items)),)),)) for f, n in enumerate((10.0, 11.0))]
    answer = solve(chain_of(*functions))
    assert not answer.exact
    # The second function asks for more of the same items, so it is the line.
    truth = solve(chain_of(one_demand(*items, need=11.0))).line
    assert 0 < answer.error < 2e-3
    assert abs(answer.line.mean() - truth.mean()) < 4 * answer.error
    assert solve(chain_of(*functions)).line.tobytes() == answer.line.tobytes()


def test_a_need_of_nothing_is_always_met_and_a_function_without_a_way_never():
    assert solve(chain_of(one_demand(part("A", 0.5), need=0.0))).line[0] == 1.0
    assert solve(chain_of(Function("none", ()))).line[0] == 0.0
    assert solve(chain_of()).line[0] == 1.0


def test_a_demand_without_parts_is_not_met():
    assert solve(chain_of(one_demand())).line[0] == 0.0


@pytest.mark.parametrize(
    ("chain", "message"),
    [
        (chain_of(one_demand(part("A", 0.5, hangs_on=["cord"]))), "no node"),
        (chain_of(Function("a", (Way((), ("b",)),))), "not in the chain"),
        (chain_of(Function("a", (Way((), ("b",)),)), Function("b", (Way((), ("a",)),))), "circle"),
        (chain_of(Function("a", ()), Function("a", ())), "one name"),
        (chain_of(one_demand(part("A", 0.5), part("B", 0.5, 0.6))), "same draws"),
        (chain_of(one_demand(Part("A", 1, (1.0,), working(0.5)))), "shape"),
        (chain_of(one_demand(Part("A", 1, (-1.0, 1.0), working(0.5)))), "levels"),
        (Chain((), (), 1.0), "beta"),
    ],
)
def test_a_chain_that_makes_no_sense_is_refused(chain, message):
    with pytest.raises(ValueError, match=message):
        solve(chain)


def test_a_line_of_sixty_items_is_exact_and_its_functions_are_not_simply_multiplied():
    answer = solve(line_of_sixty())
    assert answer.exact
    assert answer.shared == ("GEN-1", "cord", "fuel batch", "manifold")
    product = np.prod(list(answer.functions.values()), axis=0)
    assert (answer.line > product).all()  # what is shared fails once, not once for each function
    assert (answer.line <= np.min(list(answer.functions.values()), axis=0)).all()


def test_draws_solved_side_by_side_are_the_same_as_one_by_one():
    both = solve(line_of_sixty(draws=8)).line
    chain = line_of_sixty(draws=8)

    def only(p: Part, i: int) -> Part:
        return Part(p.tag, p.units, p.levels, p.weights[:, i : i + 1], p.hangs_on, p.alike)

    for i in (0, 5):
        functions = tuple(
            Function(
                f.name,
                tuple(
                    Way(
                        tuple(Demand(d.name, d.need, tuple(only(p, i) for p in d.parts)) for d in w.demands),
                        w.relies_on,
                    )
                    for w in f.ways
                ),
            )
            for f in chain.functions
        )
        nodes = tuple(Node(n.name, n.up[i : i + 1], n.tag) for n in chain.nodes)
        assert solve(Chain(functions, nodes, chain.beta)).line[0] == pytest.approx(both[i], abs=1e-13)
