import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import heat
from shared.units import from_si, to_si

FLOW = st.floats(1e-6, 1e-2)
RISE = st.floats(0.1, 60)
OUTPUT = st.floats(1e-3, 1e6)


def btu_h(value):
    return to_si(value, "BTU/h")


def gpm(value):
    return to_si(value, "gpm")


def rise(value):
    return to_si(value, "ddegF")


def test_five_hundred_a_gallon_a_degree():
    # 8 gpm by 61 degF, by hand: 500 * 8 * 61 = 244,000 BTU/h; half of it for one lane.
    assert from_si(heat.heat_output_w(gpm(8.0), rise(61.0)), "BTU/h") == pytest.approx(244_000)
    assert from_si(heat.heat_output_w(gpm(4.0), rise(61.0)), "BTU/h") == pytest.approx(122_000)


def test_one_heater_of_190000_at_82_percent_carries_one_lane():
    output = btu_h(190_000.0) * 0.82
    assert from_si(output, "BTU/h") == pytest.approx(155_800)
    assert from_si(heat.flow_deliverable_m3_s(output, rise(61.0)), "gpm") == pytest.approx(5.11, abs=0.005)


def test_both_lanes_on_one_heater_are_lukewarm():
    head = heat.head_temperature_k(btu_h(155_800.0), gpm(8.0), to_si(40.0, "degF"), rise(3.0))
    assert from_si(head, "degF") == pytest.approx(76, abs=0.5)


def test_one_lane_on_a_cold_regulator_is_at_87():
    head = heat.head_temperature_k(btu_h(121_800.0) * 0.82, gpm(4.0), to_si(40.0, "degF"), rise(3.0))
    assert from_si(head, "degF") == pytest.approx(87, abs=0.5)


def test_the_rule_is_within_half_a_percent_of_the_enthalpy_of_water():
    cool_prop = pytest.importorskip("CoolProp.CoolProp")
    for t_in, t_out in ((40.0, 98.0), (50.0, 105.0), (60.0, 110.0)):
        cold, hot = to_si(t_in, "degF"), to_si(t_out, "degF")
        at = ("P", 101325.0, "Water")
        enthalpy = cool_prop.PropsSI("H", "T", hot, *at) - cool_prop.PropsSI("H", "T", cold, *at)
        exact = gpm(4.0) * cool_prop.PropsSI("D", "T", cold, *at) * enthalpy
        assert heat.heat_output_w(gpm(4.0), hot - cold) == pytest.approx(exact, rel=0.005)


@given(output=OUTPUT, rise_k=RISE)
def test_the_flow_deliverable_takes_up_exactly_the_output(output, rise_k):
    assert heat.heat_output_w(heat.flow_deliverable_m3_s(output, rise_k), rise_k) == pytest.approx(output)


@given(flow=FLOW, rise_k=RISE, loss=st.floats(0, 10))
def test_the_heat_for_a_rise_gives_that_rise_at_the_head(flow, rise_k, loss):
    head = heat.head_temperature_k(heat.heat_output_w(flow, rise_k), flow, 280.0, loss)
    assert head == pytest.approx(280.0 + rise_k - loss)


@given(output=OUTPUT, a=FLOW, b=FLOW)
def test_more_flow_is_never_warmer(output, a, b):
    slow, fast = sorted((a, b))
    assert heat.head_temperature_k(output, fast, 280.0, 1.0) <= heat.head_temperature_k(output, slow, 280.0, 1.0)


@given(output=OUTPUT, rise_k=RISE, cap=FLOW)
def test_a_heater_passes_no_more_than_its_plate_and_its_heat_allow(output, rise_k, cap):
    found = heat.flow_limit(output, rise_k, cap)
    assert found.flow_m3_s == min(cap, heat.flow_deliverable_m3_s(output, rise_k))
    assert found.by == ("flow cap" if found.flow_m3_s == cap != heat.flow_deliverable_m3_s(output, rise_k) else "heat")


def test_arrays_give_what_their_numbers_give():
    flows, outputs = np.array([1e-4, 2e-4]), np.array([2e4, 4e4])
    assert heat.heat_output_w(flows, 30.0).tolist() == [heat.heat_output_w(f, 30.0) for f in (1e-4, 2e-4)]
    assert heat.head_temperature_k(outputs, flows, 280.0, 1.0).tolist() == [
        heat.head_temperature_k(o, f, 280.0, 1.0) for o, f in ((2e4, 1e-4), (4e4, 2e-4))
    ]


def test_efficiency_is_output_over_input():
    # 100,000 BTU/h for half an hour from 2.9 lb: 50,000 / (2.9 * 21,548) = 0.800.
    found = heat.heater_efficiency(btu_h(100_000.0), to_si(2.9, "lb"), 1800.0)
    assert found == pytest.approx(0.800, abs=0.001)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: heat.heat_output_w(-1e-6, 1.0), "flow_m3_s must be above 0 m3/s"),
        (lambda: heat.heat_output_w(0.0, 30.0), "flow_m3_s must be above 0 m3/s"),
        (lambda: heat.heat_output_w(np.array([]), 30.0), "flow_m3_s must be above 0 m3/s"),
        (lambda: heat.heat_output_w(1e-4, -1.0), "rise_k must be at least 0 K"),
        (lambda: heat.heat_output_w(np.array([1e-4, math.nan]), 1.0), "flow_m3_s"),
        (lambda: heat.flow_deliverable_m3_s(1e4, 0.0), "rise_k must be above 0 K"),
        (lambda: heat.flow_deliverable_m3_s(math.inf, 1.0), "output_w"),
        (lambda: heat.head_temperature_k(1e4, 0.0, 280.0, 0.0), "flow_m3_s must be above 0 m3/s"),
        (lambda: heat.head_temperature_k(1e4, 1e-4, 40.0, 0.0), "supply_k must be at least 200 and at most 400 K"),
        (lambda: heat.head_temperature_k(1e4, 1e-4, 280.0, -1.0), "hose_loss_k"),
        (lambda: heat.heater_efficiency(1e4, 0.0, 600.0), "fuel_kg must be above 0 kg"),
        (lambda: heat.heater_efficiency(1e4, 1.0, 0.0), "duration_s must be above 0 s"),
        (lambda: heat.flow_limit(1e4, 1.0, 0.0), "flow_cap_m3_s"),
        (lambda: heat.hot_share(320.0, 330.0, 325.0), "t_hot_k must be above 330"),
        (lambda: heat.hot_share(320.0, 280.0, 330.0), "t_wanted_k must be at least 280 and at most 320 K"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
