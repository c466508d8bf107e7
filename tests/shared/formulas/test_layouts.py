import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.formulas import hydraulics, layouts
from shared.formulas.hydraulics import Fitting, Hose
from shared.formulas.layouts import Run, Supply
from shared.units import from_si, to_si
from shared.verification.kinds.hydraulics import shower_layout
from tests.check_values.references.hydraulics import LAYOUTS, epanet

K = to_si(0.8, "gpm") / math.sqrt(to_si(1.0, "psi"))
BORE = to_si(0.625, "in")
TAP = Supply(to_si(55.0, "psi"), to_si(42.0, "psi"), to_si(12.0, "gpm"))


def lane(length_m: float = 5.0, height_m: float = 2.0) -> Run:
    return Run((Hose(BORE, length_m),), height_m=height_m, k_m3_s_pa05=K)


@pytest.mark.parametrize("case", LAYOUTS)
def test_a_branching_layout_settles_where_epanet_lets_it_settle(case):
    ours, theirs = shower_layout(case), epanet(case)
    assert ours["q_gpm"] == pytest.approx(theirs["q_gpm"], rel=5e-3)
    assert ours["heads_gpm"] == pytest.approx(theirs["heads_gpm"], rel=5e-3)
    assert ours["heads_psi"] == pytest.approx(theirs["heads_psi"], rel=1e-2)


def test_a_run_of_one_head_is_the_operating_point():
    found = layouts.settle(Supply(3e5, 3e5, 1e-3), lane())
    alone = hydraulics.operating_point(3e5, lane().hoses, K, 2.0)
    assert (found.flow_m3_s, found.end_pa) == pytest.approx((alone.flow_m3_s, alone.head_pa))


@settings(max_examples=25)
@given(lengths=st.lists(st.floats(1, 40), min_size=1, max_size=4), static=st.floats(2e5, 6e5))
def test_what_comes_out_of_the_heads_is_what_the_supply_gives_at_the_pressure_it_has_left(lengths, static):
    supply = Supply(static, 0.7 * static, 8e-4)
    trunk = (Hose(to_si(0.75, "in"), 15.0),)
    found = layouts.settle(supply, Run(trunk, onward=tuple(lane(length) for length in lengths)))
    assert math.fsum(one.flow_m3_s for one in found.onward) == pytest.approx(found.flow_m3_s, rel=1e-6)
    left = hydraulics.supply_pressure_pa(found.flow_m3_s, 8e-4, static, 0.7 * static)
    assert left - hydraulics.run_loss_pa(trunk, found.flow_m3_s) == pytest.approx(found.end_pa, rel=1e-4)


def test_a_second_lane_takes_from_the_first():
    trunk = (Hose(BORE, 15.0),)
    one = layouts.settle(TAP, Run(trunk, onward=(lane(),)))
    two = layouts.settle(TAP, Run(trunk, onward=(lane(), lane())))
    assert one.flow_m3_s < two.flow_m3_s < 2 * one.flow_m3_s
    assert two.onward[0].flow_m3_s == pytest.approx(two.onward[1].flow_m3_s)
    assert two.onward[0].flow_m3_s < one.onward[0].flow_m3_s


def test_a_heater_and_an_injector_cost_pressure_at_the_head():
    plain = layouts.settle(TAP, Run(onward=(lane(), lane())))
    fitted = Run(fittings=(Fitting(to_si(6.0, "psi"), to_si(8.0, "gpm")),), onward=(lane(), lane()))
    assert layouts.settle(TAP, fitted).onward[0].end_pa < plain.onward[0].end_pa


def test_a_supply_that_droops_gives_less_than_its_static_pressure_promises():
    run = Run((Hose(BORE, 15.0),), onward=(lane(), lane()))
    stiff = layouts.settle(Supply(TAP.static_pa, TAP.static_pa, TAP.tested_m3_s), run)
    assert layouts.settle(TAP, run).flow_m3_s < stiff.flow_m3_s


def test_a_head_too_high_for_the_pressure_stays_dry_while_the_others_run():
    found = layouts.settle(Supply(5e4, 5e4, 1e-3), Run(onward=(lane(height_m=2.0), lane(height_m=6.0))))
    low, high = found.onward
    assert low.flow_m3_s > 0
    assert high.flow_m3_s == 0.0


def test_no_water_comes_where_no_head_can_be_reached():
    found = layouts.settle(Supply(1e4, 1e4, 1e-3), Run(onward=(lane(height_m=6.0),)))
    assert found.flow_m3_s == 0.0
    assert layouts.run_flow_m3_s(lane(height_m=6.0), 1e4) == 0.0


def test_heads_below_the_tap_run_though_nothing_pushes():
    assert layouts.run_flow_m3_s(lane(height_m=-3.0), 0.0) > 0


@settings(max_examples=25)
@given(a=st.floats(0, 6e5), b=st.floats(0, 6e5))
def test_more_pressure_never_gives_less_flow(a, b):
    low, high = sorted((a, b))
    run = Run((Hose(BORE, 15.0),), onward=(lane(), lane(20.0)))
    assert layouts.run_flow_m3_s(run, low) <= layouts.run_flow_m3_s(run, high) * (1 + 1e-6) + 1e-10


def test_from_the_trades_own_set_of_hoses_two_lanes_get_over_two_gallons_each():
    # 55 psi at the hose fittings; 50, 35 and 15 ft of 3/4 in (common practice).
    trunk = tuple(Hose(to_si(0.75, "in"), to_si(feet, "ft")) for feet in (50.0, 35.0, 15.0))
    found = layouts.settle(TAP, Run(trunk, onward=(lane(), lane())))
    assert 4.0 < from_si(found.onward[0].flow_m3_s, "gpm") < 5.5


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: layouts.settle(TAP, Run((Hose(BORE, 5.0),))), "k_m3_s_pa05 must be above 0"),
        (lambda: layouts.settle(TAP, Run(onward=(Run(),))), "k_m3_s_pa05 must be above 0"),
        (lambda: layouts.settle(Supply(3e5, 4e5, 1e-3), lane()), "static_pa must be at least 400000 Pa"),
        (lambda: layouts.settle(Supply(3e5, 2e5, 0.0), lane()), "tested_m3_s must be above 0 m3/s"),
        (lambda: layouts.run_flow_m3_s(lane(), math.nan), "inlet_pa must be a finite number Pa"),
        (lambda: layouts.run_flow_m3_s(Run((Hose(0.0, 5.0),), k_m3_s_pa05=K), 3e5), "bore_m must be above 0"),
        (lambda: layouts.run_flow_m3_s(Run(k_m3_s_pa05=-1.0), 3e5), "k_m3_s_pa05"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
