import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import hydraulics
from shared.formulas.hydraulics import Hose
from shared.units import from_si, to_si

FLOW = st.floats(0, 2e-3)
BORE = st.floats(0.008, 0.08)
BORE_34 = to_si(0.75, "in")
K_1_GPM = to_si(1.0, "gpm") / math.sqrt(to_si(1.0, "psi"))


def test_eight_gallons_a_minute_through_fifty_feet_of_three_quarter_inch():
    # By hand: 4.52 * 8^1.85 / (140^1.85 * 0.75^4.87) * 50 = 4.60 psi.
    found = hydraulics.hazen_williams_pa(to_si(8.0, "gpm"), BORE_34, to_si(50.0, "ft"))
    assert from_si(found, "psi") == pytest.approx(4.60, abs=0.01)


def test_a_foot_of_cold_water_is_0433_psi():
    assert from_si(hydraulics.elevation_pa(to_si(1.0, "ft")), "psi") == pytest.approx(0.433, abs=0.0005)
    assert hydraulics.elevation_pa(-2.0) == -hydraulics.elevation_pa(2.0)


@given(a=FLOW, b=FLOW, bore=BORE, length=st.floats(0, 100))
def test_more_flow_never_costs_less(a, b, bore, length):
    low, high = sorted((a, b))
    assert hydraulics.hazen_williams_pa(low, bore, length) <= hydraulics.hazen_williams_pa(high, bore, length)


@given(flow=FLOW, a=BORE, b=BORE)
def test_a_wider_hose_never_costs_more(flow, a, b):
    narrow, wide = sorted((a, b))
    assert hydraulics.hazen_williams_pa(flow, wide, 10.0) <= hydraulics.hazen_williams_pa(flow, narrow, 10.0)


@given(flow=FLOW, lengths=st.lists(st.floats(0, 50), min_size=1, max_size=4))
def test_hoses_end_to_end_cost_what_one_of_their_length_costs(flow, lengths):
    run = [Hose(BORE_34, length) for length in lengths]
    whole = hydraulics.hazen_williams_pa(flow, BORE_34, sum(lengths))
    assert hydraulics.run_loss_pa(run, flow) == pytest.approx(whole, rel=1e-9, abs=1e-9)


def test_no_flow_costs_nothing():
    assert hydraulics.hazen_williams_pa(0.0, BORE_34, 15.0) == 0.0


def test_an_array_of_flows_costs_what_each_costs():
    flows = np.array([0.0, 1e-4, 5e-4])
    assert hydraulics.hazen_williams_pa(flows, BORE_34, 15.0) == pytest.approx(
        [hydraulics.hazen_williams_pa(float(flow), BORE_34, 15.0) for flow in flows]
    )


@given(supply=st.floats(5e4, 1e6), length=st.floats(0, 100), k=st.floats(0.2, 5), height=st.floats(-10, 4))
def test_at_the_operating_point_all_the_pressure_is_spent(supply, length, k, height):
    run = [Hose(BORE_34, length)]
    found = hydraulics.operating_point(supply, run, k * K_1_GPM, height)
    spent = hydraulics.elevation_pa(height) + hydraulics.run_loss_pa(run, found.flow_m3_s) + found.head_pa
    assert spent == pytest.approx(supply, rel=1e-5)
    assert hydraulics.spray_flow_m3_s(k * K_1_GPM, found.head_pa) == pytest.approx(found.flow_m3_s)


def test_a_supply_that_cannot_lift_the_water_gives_none():
    assert hydraulics.operating_point(5e4, [Hose(BORE_34, 10.0)], K_1_GPM, height_m=6.0) == (0.0, 0.0)


def test_without_a_hose_the_head_takes_the_whole_supply():
    assert hydraulics.operating_point(2e5, [], K_1_GPM).head_pa == pytest.approx(2e5)


def test_a_supply_gives_its_tested_flow_at_its_tested_pressure():
    assert hydraulics.supply_flow_m3_s(0.01, 5e5, 3e5, 3e5) == pytest.approx(0.01)
    assert hydraulics.supply_flow_m3_s(0.01, 5e5, 3e5, 5e5) == 0.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: hydraulics.hazen_williams_pa(-1e-4, 0.02, 10.0), "flow_m3_s must be at least 0 m3/s"),
        (lambda: hydraulics.hazen_williams_pa(math.nan, 0.02, 10.0), "flow_m3_s"),
        (lambda: hydraulics.hazen_williams_pa(1e-4, 0.0, 10.0), "bore_m must be above 0 and at most 1 m"),
        (lambda: hydraulics.hazen_williams_pa(1e-4, 0.02, -1.0), "length_m"),
        (lambda: hydraulics.hazen_williams_pa(1e-4, 0.02, 1.0, 0.0), "c must be at least 50 and at most 160"),
        (lambda: hydraulics.elevation_pa(math.inf), "height_m must be a finite number m"),
        (lambda: hydraulics.operating_point(0.0, [], K_1_GPM), "supply_pa must be above 0 Pa"),
        (lambda: hydraulics.operating_point(1e5, [], 0.0), "k_m3_s_pa05"),
        (lambda: hydraulics.supply_flow_m3_s(0.01, 3e5, 5e5, 1e5), "static_pa must be above 500000 Pa"),
        (lambda: hydraulics.supply_flow_m3_s(0.01, 5e5, 3e5, 6e5), "wanted_pa"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
