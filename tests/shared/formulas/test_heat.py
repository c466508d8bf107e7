import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import heat
from shared.units import from_si, to_si
from tests.shared.formulas.limits import catalogue_limit

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


def test_supply_as_warm_as_wanted_leaves_the_plate_alone_to_bind():
    assert heat.flow_limit(1e4, 0.0, 3e-4) == (3e-4, "flow cap")


def test_heat_and_plate_equal_but_for_the_rounding_of_units_are_bound_by_heat():
    # 120,000 BTU/h at 80 % and a rise of 48 degF carry exactly 4 gpm.
    found = heat.flow_limit(0.8 * btu_h(120_000.0), to_si(48.0, "ddegF"), to_si(4.0, "gpm"))
    assert found.by == "heat"


@given(output=OUTPUT, rise_k=RISE, cap=FLOW)
def test_a_heater_passes_no_more_than_its_plate_and_its_heat_allow(output, rise_k, cap):
    found = heat.flow_limit(output, rise_k, cap)
    by_heat = heat.flow_deliverable_m3_s(output, rise_k)
    assert found.flow_m3_s == pytest.approx(min(cap, by_heat), rel=1e-9)
    assert found.by == ("flow cap" if cap < by_heat * (1 - 1e-9) else "heat")


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
        (lambda: heat.flow_limit(1e4, -1.0, 1e-4), "rise_k must be at least 0 K"),
        (lambda: heat.hot_share(320.0, 330.0, 325.0), "t_hot_k must be above 330"),
        (lambda: heat.hot_share(320.0, 280.0, 330.0), "t_wanted_k must be at least 280 and at most 320 K"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()


# --- water by its properties -------------------------------------------------------------------------------------

WATER = st.floats(273.15, 373.15)


def degf(value):
    return to_si(value, "degF")


@given(a=WATER, b=WATER, c=WATER)
def test_heating_in_two_steps_takes_the_heat_of_one(a, b, c):
    whole = heat.water_heat_j_kg(a, c)
    assert heat.water_heat_j_kg(a, b) + heat.water_heat_j_kg(b, c) == pytest.approx(whole, abs=1e-6)


@given(a=WATER)
def test_the_heat_of_a_small_step_is_the_heat_capacity(a):
    low, high = min(a, 373.0), min(a, 373.0) + 0.1
    mean = (heat.water_heat_capacity_j_kg_k(low) + heat.water_heat_capacity_j_kg_k(high)) / 2
    assert heat.water_heat_j_kg(low, high) / (high - low) == pytest.approx(mean, rel=1e-5)


@given(flow=FLOW, cold=st.floats(274.0, 300.0), hot=st.floats(300.0, 330.0))
def test_the_rule_of_500_is_within_half_a_percent_of_the_properties(flow, cold, hot):
    exact = heat.heat_output_exact_w(flow, cold, hot)
    assert heat.heat_output_w(flow, hot - cold) == pytest.approx(exact, rel=0.005, abs=1e-9)


def test_water_is_heaviest_near_4_degrees():
    found = heat.water_density_kg_m3(np.array([273.15, 277.13, 283.15]))
    assert found.argmax() == 1
    assert found[1] == pytest.approx(heat.water_density_kg_m3(277.13))


def test_a_batch_takes_its_weight_times_its_rise():
    assert heat.batch_heat_j(2.0, 1000.0, 4186.8, 10.0) == pytest.approx(83_736_000)


# --- hose --------------------------------------------------------------------------------------------------------


@given(t_in=st.floats(290, 320), air=st.floats(240, 320), flow=FLOW, length=st.floats(0, 60), g=st.floats(0, 5))
def test_water_in_a_hose_goes_towards_the_air_and_never_past_it(t_in, air, flow, length, g):
    end = heat.hose_outlet_k(t_in, air, flow, length, g)
    assert min(t_in, air) - 1e-9 <= end <= max(t_in, air) + 1e-9


@given(air=st.floats(240, 285), a=st.floats(0, 60), b=st.floats(0, 60), flow=st.floats(1e-5, 1e-3))
def test_a_longer_hose_is_never_warmer_and_two_hoses_are_one_long_one(air, a, b, flow):
    short, long = sorted((a, b))
    end = heat.hose_outlet_k(310.0, air, flow, long, 1.0)
    assert end <= heat.hose_outlet_k(310.0, air, flow, short, 1.0) + 1e-9
    middle = heat.hose_outlet_k(310.0, air, flow, short, 1.0)
    # The second hose takes flow and heat capacity at its own inlet, which differ a little.
    drop = 310.0 - heat.hose_outlet_k(middle, air, flow, long - short, 1.0) if middle >= 273.15 else 310.0 - end
    assert drop == pytest.approx(310.0 - end, rel=0.02, abs=1e-6)


def test_a_sleeve_and_a_thicker_wall_hold_heat():
    bare = heat.hose_conductance_w_m_k(0.016, [(0.003, 0.16)], 1500.0, 25.0)
    assert heat.hose_conductance_w_m_k(0.016, [(0.003, 0.16), (0.01, 0.04)], 1500.0, 25.0) < bare
    assert heat.hose_conductance_w_m_k(0.016, [(0.003, 0.16)], 1500.0, 10.0) < bare


# --- supply ------------------------------------------------------------------------------------------------------


@given(mean=st.floats(265, 300), swing=st.floats(0, 40), day=st.integers(1, 366))
def test_the_main_never_freezes_and_stays_within_its_swing(mean, swing, day):
    found = heat.supply_water_k(mean, swing, float(day))
    assert found >= 273.15
    assert found <= max(273.15, mean + 6 / 1.8 + swing) + 1e-9


def test_the_south_has_its_warm_water_when_the_north_has_its_cold():
    days = np.arange(1.0, 366.0)
    north = heat.supply_water_k(degf(55.0), to_si(40.0, "ddegF"), days)
    south = heat.supply_water_k(degf(55.0), to_si(40.0, "ddegF"), days, southern=True)
    assert north + south == pytest.approx(np.full(365, 2 * degf(61.0)))
    assert 200 < north.argmax() < 240
    assert north[14] == heat.supply_water_k(degf(55.0), to_si(40.0, "ddegF"), 15.0)


def test_a_month_is_the_mean_of_its_days():
    place = (degf(55.0), to_si(40.0, "ddegF"))
    days = heat.supply_water_k(*place, np.arange(32.0, 60.0))
    assert heat.supply_water_in_month_k(*place, 2) == pytest.approx(days.mean())
    assert heat.supply_water_in_month_k(*place, 8) > heat.supply_water_in_month_k(*place, 2)


# --- scald -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head_f", "word"),
    [
        (40.0, "cold"),
        (69.9, "cold"),
        (70.0, "cool"),
        (97.9, "cool"),
        (98.0, "target"),
        (104.0, "target"),
        (104.5, "warm"),
        (105.0, "warm"),
        (105.1, "too hot"),
        (110.0, "too hot"),
        (110.1, "block"),
        (140.0, "block"),
    ],
)
def test_each_temperature_at_the_head_has_its_word(head_f, word):
    gate = heat.head_gate(degf(head_f))
    assert gate.word == word
    assert gate.says
    assert gate.source


def test_a_heater_set_to_120_at_its_outlet_must_be_mixed_before_a_head_and_says_why():
    found = heat.head_connection(degf(120.0))
    assert not found.direct
    assert found.why == (
        "The heater is set to 120 °F (49 °C) at its outlet, and a head may run at up to 105 °F (41 °C): mix it down "
        "before a head. At that temperature most adults have a third-degree burn within 5 min."
    )
    assert heat.head_connection(degf(140.0)).why.endswith("within 6 s.")
    assert "burn" not in heat.head_connection(degf(112.0)).why


def test_a_heater_set_to_100_may_feed_a_head():
    assert heat.head_connection(degf(100.0)).direct
    assert heat.head_connection(degf(105.0)).direct
    assert not heat.head_connection(degf(105.5)).direct


@given(a=st.floats(322.04, 338.7), b=st.floats(322.04, 338.7))
def test_hotter_water_burns_no_slower(a, b):
    cool, hot = sorted((a, b))
    assert heat.burn_time_s(hot) <= heat.burn_time_s(cool)
    assert heat.burn_time_s(np.array([cool, hot])).tolist() == [heat.burn_time_s(cool), heat.burn_time_s(hot)]


# --- altitude ----------------------------------------------------------------------------------------------------


@given(a=st.floats(-500, 5000), b=st.floats(-500, 5000), counted=st.sampled_from([0.0, heat.DERATE_FREE_M]))
def test_a_higher_place_never_gives_a_burner_more(a, b, counted):
    low, high = sorted((a, b))
    shares = heat.burner_share(np.array([low, high]), counted_from_m=counted)
    assert 0 <= shares[1] <= shares[0] <= 1
    assert shares[0] == heat.burner_share(low, counted_from_m=counted)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: heat.water_density_kg_m3(272.0), "t_k must be at least 273.15 and at most 373.15 K"),
        (lambda: heat.water_heat_j_kg(280.0, 400.0), "t_hot_k"),
        (lambda: heat.heat_output_exact_w(0.0, 280.0, 310.0), "flow_m3_s must be above 0 m3/s"),
        (lambda: heat.heat_output_exact_w(1e-4, 310.0, 280.0), "t_out_k - t_in_k must be at least 0 K"),
        (lambda: heat.heat_output_exact_w(np.array([]), 280.0, 310.0), "flow_m3_s"),
        (lambda: heat.batch_heat_j(1.0, 0.0, 4186.8, 1.0), "density_kg_m3 must be above 0 kg/m3"),
        (lambda: heat.hose_conductance_w_m_k(0.0, [], 1.0, 1.0), "bore_m must be above 0 m"),
        (lambda: heat.hose_conductance_w_m_k(0.01, [(0.0, 0.2)], 1.0, 1.0), "thickness of a layer"),
        (lambda: heat.hose_conductance_w_m_k(0.01, [(0.01, math.nan)], 1.0, 1.0), "conductivity of a layer"),
        (lambda: heat.hose_outlet_k(310.0, 280.0, 0.0, 1.0, 1.0), "flow_m3_s must be above 0 m3/s"),
        (
            lambda: heat.hose_outlet_k(310.0, degf(400.0), 1e-4, 1.0, 1.0),
            "t_air_k must be at least 200",
        ),
        (lambda: heat.supply_water_k(51.3, 25.0, 15.0), "annual_mean_k must be at least 240 and at most 320 K"),
        (lambda: heat.supply_water_k(284.0, 25.0, 0.0), "day_of_year must be at least 1 and at most 366 days"),
        (
            lambda: heat.supply_water_in_month_k(284.0, 25.0, 13),
            "month must be a whole number of at least 1 and at most 12",
        ),
        (lambda: heat.burn_time_s(degf(119.0)), "t_k must be at least 322.039 and at most 338.706 K"),
        (lambda: heat.head_gate(math.nan), "t_head_k"),
        (lambda: heat.head_connection(120.0), "set_k must be at least 273.15"),
        (lambda: heat.burner_share(1000.0, counted_from_m=3000.0), "counted_from_m must be at most 609.6 m"),
    ],
)
def test_water_without_sense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()


def test_the_words_at_the_head_and_the_catalogue_s_limits_stop_at_the_same_heat():
    limits = catalogue_limit("head_temp")
    for tenth in range(600, 1200):
        word, head_f = heat.head_gate(degf(tenth / 10)).word, tenth / 10
        assert (word in ("too hot", "block")) == (head_f > limits["limits_high"])
        if word == "cold":
            assert head_f < limits["limits_low"]
        if word == "target":  # from 100 to 104 it is wanted, and passes a check with limits only
            assert limits["pass_low"] <= head_f <= limits["limits_high"]
        if limits["pass_low"] <= head_f <= limits["pass_high"]:
            assert word in ("cool", "target")
    assert heat.head_connection(degf(limits["limits_high"])).direct
    assert not heat.head_connection(degf(limits["limits_high"] + 0.1)).direct
