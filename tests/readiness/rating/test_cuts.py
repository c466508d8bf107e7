"""Single points and pairs: what stops a line when it, or the two of them, are lost."""

import itertools

import numpy as np
import pytest

from readiness.rating.structure import Chain, Demand, Function, Node, Part, Way, pairs, single_points, solve
from tests.readiness.rating.builders_structure import chain_of, line_of_sixty, one_demand, part


def test_the_one_of_its_kind_is_a_single_point_and_a_spared_one_is_not():
    pumps = Function("water", (Way((Demand("flow", 1.0, (part("PMP-1", 0.9), part("PMP-2", 0.9))),)),))
    shelter = Function("shelter", (Way((Demand("one", 1.0, (part("SHL-1", 0.9),)),)),))
    chain = chain_of(pumps, shelter)
    assert single_points(chain) == ("SHL-1",)
    assert pairs(chain) == (("PMP-1", "PMP-2"),)


def test_a_node_that_all_hang_on_is_a_single_point_and_a_generator_goes_by_its_tag():
    generator = Function("power", (Way((Demand("W", 1.0, (part("GEN-1", 0.9, hangs_on=["fuel"]),)),)),))
    lamps = [part(f"LMP-{i}", 0.9, hangs_on=["generator", "cord"]) for i in (1, 2)]
    light = Function("light", (Way((Demand("lm", 1.0, tuple(lamps)),)),))
    nodes = [Node("generator", np.ones(1), "GEN-1"), Node("fuel", np.ones(1)), Node("cord", np.array([0.9]))]
    assert single_points(chain_of(generator, light, nodes=nodes)) == ("GEN-1", "cord", "fuel")
    # The light alone still falls with the generator and with the fuel behind it.
    spare = Function("power", (Way((Demand("W", 1.0, (*generator.ways[0].demands[0].parts, part("GEN-2", 0.9))),)),))
    assert single_points(chain_of(spare, light, nodes=nodes)) == ("GEN-1", "cord", "fuel")


def test_of_a_row_of_several_one_is_lost():
    assert single_points(chain_of(one_demand(part("HOS", 0.9, units=6), need=5.0))) == ()
    assert single_points(chain_of(one_demand(part("HOS", 0.9, units=6), need=6.0))) == ("HOS",)


def test_what_is_out_of_service_is_no_spare():
    spare_out = one_demand(part("PMP-1", 0.9), part("PMP-2", 0.0))
    assert single_points(chain_of(spare_out)) == ("PMP-1",)
    cord_out = one_demand(part("PMP-1", 0.9), part("PMP-2", 0.9, hangs_on=["cord"]))
    assert single_points(chain_of(cord_out, nodes=[Node("cord", np.zeros(1))])) == ("PMP-1",)


def test_a_function_that_cannot_be_carried_does_not_hide_the_others():
    lacking = Function("waste", (Way((Demand("m3", 9.0, (part("BLD-1", 0.9),)),)),))
    assert single_points(chain_of(lacking, one_demand(part("PMP-1", 0.9)))) == ("PMP-1",)


def test_another_way_spares_what_the_first_way_needs():
    power = Function("power", (Way((Demand("W", 1.0, (part("GEN-1", 0.9), part("GEN-2", 0.9))),)),))
    flood = Way((Demand("lm", 1.0, (part("LMP-1", 0.9),)),), ("power",))
    battery = Way((Demand("lm", 1.0, (part("BAT-1", 0.9),)),))
    chain = chain_of(power, Function("light", (flood, battery)))
    assert single_points(chain) == ()
    assert pairs(chain) == (("BAT-1", "LMP-1"), ("GEN-1", "GEN-2"))


def test_a_demand_that_decides_by_itself_is_asked():
    function = one_demand(part("C-1", 0.9), part("C-2", 0.9), carries=lambda given: given[0] >= 1)
    assert single_points(chain_of(function)) == ("C-1",)


def _without(p: Part, lost: tuple[str, ...]) -> Part:
    weights = np.zeros_like(p.weights)
    weights[p.levels.index(0.0) if p.tag in lost else p.levels.index(max(p.levels))] = 1.0
    return Part(p.tag, p.units, p.levels, weights, p.hangs_on)


@pytest.mark.parametrize("size", [1, 2])
def test_cut_sets_of_a_whole_line_are_those_that_solving_it_without_them_finds(size):
    chain = line_of_sixty(draws=1)
    names = sorted({p.tag for f in chain.functions for w in f.ways for d in w.demands for p in d.parts})
    names = [n for n in names if n.split("-")[0] in {"GEN", "heater", "pump", "battery light", "floodlight", "blower"}]
    names += ["cord", "manifold"]

    def carried(lost: tuple[str, ...]) -> bool:
        functions = tuple(
            Function(
                f.name,
                tuple(
                    Way(
                        tuple(Demand(d.name, d.need, tuple(_without(p, lost) for p in d.parts)) for d in w.demands),
                        w.relies_on,
                    )
                    for w in f.ways
                ),
            )
            for f in chain.functions
        )
        nodes = tuple(Node(n.name, np.array([0.0 if n.name in lost else 1.0]), n.tag) for n in chain.nodes)
        return bool(solve(Chain(functions, nodes, 0.0)).line[0] > 0.5)

    stopping = {lost for lost in itertools.combinations(sorted(names), size) if not carried(lost)}
    alone = set(single_points(chain))
    if size == 1:
        assert {name for (name,) in stopping} == alone & set(names)
    else:
        assert {p for p in stopping if alone.isdisjoint(p)} == {p for p in pairs(chain) if set(p) <= set(names)}
