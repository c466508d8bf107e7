import itertools
import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import generators
from shared.formulas.generators import Load
from shared.units import from_si, to_si
from tests.shared.formulas.limits import catalogue_limit

TABLE = [(0.25, 1e-7), (0.5, 1.6e-7), (1.0, 3e-7)]
AT_20 = to_si(20.0, "degC")
PUMP, LIGHTS = Load("pump", 1000.0, 3000.0), Load("lights", 200.0, 200.0)
LOADS = st.lists(
    st.builds(lambda run, extra: Load("", run, run + extra), st.floats(0, 3000), st.floats(0, 6000)),
    min_size=1,
    max_size=5,
)


def test_a_tank_lasts_its_fuel_over_its_burn():
    # 0.0036 m3 at 3e-7 m3/s is 12,000 s; a tenth kept back leaves 3 h.
    assert generators.fuel_hours(0.0036, 1.0, TABLE) == pytest.approx(10 / 3)
    assert generators.fuel_hours(0.0036, 1.0, TABLE, reserve=0.1) == pytest.approx(3.0)


def test_idling_is_never_credited_with_less_than_the_lightest_load_burns():
    assert generators.fuel_hours(0.01, 0.05, TABLE) == generators.fuel_hours(0.01, 0.25, TABLE)


def test_a_load_lighter_than_the_table_is_said_to_be_held_at_its_first_row():
    assert generators.fuel_burn(0.2, TABLE) == (1e-7, True)
    assert generators.fuel_burn(0.25, TABLE) == (1e-7, False)


@given(a=st.floats(0.01, 1.0), b=st.floats(0.01, 1.0))
def test_a_heavier_load_never_lasts_longer(a, b):
    light, heavy = sorted((a, b))
    assert generators.fuel_hours(0.01, heavy, TABLE) <= generators.fuel_hours(0.01, light, TABLE)


@given(load=st.floats(100, 5000), efficiency=st.floats(0.1, 0.4))
def test_what_is_burned_holds_the_energy_that_is_asked_for(load, efficiency):
    burned = generators.burn_from_efficiency_m3_s(load, efficiency, 3.3e10)
    assert burned * 3.3e10 * efficiency == pytest.approx(load)
    assert generators.burn_from_efficiency_m3_s(np.array([load]), efficiency, 3.3e10).tolist() == [burned]


def test_the_pump_starts_before_the_lights_go_on():
    found = generators.load_sum([LIGHTS, PUMP])
    assert found.order == ("pump", "lights")
    assert (found.running_w, found.peak_w, found.any_order_w, found.together_w) == (1200.0, 3000.0, 3200.0, 3200.0)


def test_energy_may_fit_where_the_start_does_not():
    found = generators.load_sum([LIGHTS, PUMP])
    assert generators.carries(found, 1500.0, 3100.0) == (True, True, False)
    assert generators.carries(found, 1500.0, 1500.0) == (True, False, False)
    assert generators.carries(found, 1000.0, 9000.0) == (False, False, False)


def peak(loads):
    """The highest moment of starting loads one after another."""
    before = np.cumsum([0.0, *(load.running_w for load in loads)])
    return max([*(float(on) + load.starting_w for on, load in zip(before, loads, strict=False)), float(before[-1])])


@given(loads=LOADS)
def test_no_order_of_starting_betters_the_one_given_and_none_is_worse_than_the_usual_rule(loads):
    found = generators.load_sum(loads)
    peaks = [peak(order) for order in itertools.permutations(loads)]
    assert found.peak_w == pytest.approx(min(peaks))
    assert found.any_order_w == pytest.approx(max(peaks))
    assert found.running_w <= found.peak_w <= found.any_order_w + 1e-6 <= found.together_w + 2e-6


@given(loads=LOADS, more=st.floats(0, 1000))
def test_one_more_thing_plugged_in_never_asks_for_less(loads, more):
    with_it = generators.load_sum([*loads, Load("more", more, more)])
    assert with_it.peak_w >= generators.load_sum(loads).peak_w - 1e-6


def test_a_motor_asks_for_three_times_its_running_watts_where_nothing_else_is_known():
    assert generators.starting_load_w(800.0) == 2400.0
    assert generators.starting_load_w(np.array([800.0, 10.0]), 1.0).tolist() == [800.0, 10.0]


BOUGHT = date(2025, 1, 31)


@pytest.mark.parametrize(
    ("fuel", "on", "state"),
    [
        ("gasoline", date(2025, 4, 30), "fit"),
        ("gasoline", date(2025, 5, 1), "caution"),
        ("Gasoline ", date(2025, 8, 1), "stop"),
        ("stabilised  gasoline", date(2025, 8, 1), "caution"),
        ("stabilised gasoline", date(2026, 2, 1), "stop"),
        ("diesel", date(2026, 1, 31), "fit"),
        ("diesel", date(2026, 2, 1), "caution"),
        ("diesel", date(2026, 8, 1), "stop"),
        ("propane", date(2050, 1, 1), "fit"),
    ],
)
def test_a_fuel_is_doubtful_on_the_day_after_its_last_month(fuel, on, state):
    assert generators.fuel_age(fuel, BOUGHT, on).state == state


def test_every_fuel_says_where_its_months_come_from():
    assert all(life.source for life in generators.FUEL_LIVES.values())


def test_three_gauges_halve_the_copper_and_ten_take_a_tenth():
    at_12 = generators.wire_ohm_m(12, AT_20)
    assert generators.wire_ohm_m(15, AT_20) / at_12 == pytest.approx(2.0, rel=0.01)
    assert generators.wire_ohm_m(22, AT_20) / at_12 == pytest.approx(10.0, rel=0.02)


@given(gauge=st.integers(-3, 39), t=st.floats(250, 350), warmer=st.floats(0, 40))
def test_a_thinner_or_a_warmer_wire_resists_more(gauge, t, warmer):
    assert generators.wire_ohm_m(gauge + 1, t) > generators.wire_ohm_m(gauge, t)
    cool, warm = generators.wire_ohm_m(gauge, np.array([t, t + warmer]))
    assert warm >= cool == generators.wire_ohm_m(gauge, t)


@given(current=st.floats(0, 100), length=st.floats(0, 200))
def test_the_drop_is_there_and_back(current, length):
    one_way = current * length * generators.wire_ohm_m(12, AT_20)
    assert generators.cord_drop_v(current, 12, length, AT_20) == pytest.approx(2 * one_way)


def test_a_pump_s_start_at_the_end_of_a_thin_cord_loses_a_sixth_of_the_volts():
    # 9 A running, three times that to start, 100 ft of 16 AWG: 2 * 0.1 kft * 4.016 * 1.02 * 27 A = 22.1 V.
    drop = generators.cord_drop_v(27.0, 16, to_si(100.0, "ft"), AT_20)
    assert drop == pytest.approx(22.1, abs=0.1)
    assert from_si(generators.wire_diameter_m(16), "in") == pytest.approx(0.05082, abs=1e-5)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: generators.fuel_hours(-1.0, 0.5, TABLE), "fuel_m3 must be at least 0 m3"),
        (lambda: generators.fuel_hours(1.0, 0.0, TABLE), "load_ratio must be above 0 and at most 1 ratio"),
        (lambda: generators.fuel_hours(1.0, 1.1, TABLE), "load_ratio"),
        (lambda: generators.fuel_hours(1.0, 0.5, TABLE, 1.5), "reserve must be at least 0 and at most 1 ratio"),
        (lambda: generators.fuel_hours(1.0, 0.5, []), "burn_table must have at least one row"),
        (lambda: generators.fuel_hours(1.0, 0.5, [(1.0, 1e-7), (0.5, 1e-7)]), "rising loads"),
        (lambda: generators.fuel_hours(1.0, 0.5, [(1.0, 0.0)]), "burn_table fuel must be above 0 m3/s"),
        (
            lambda: generators.burn_from_efficiency_m3_s(1e3, 0.0, 3e10),
            "efficiency must be above 0 and at most 1 ratio",
        ),
        (lambda: generators.load_sum([]), "loads must hold at least one load"),
        (lambda: generators.load_sum([Load("fan", 100.0, 90.0)]), "starting_w of fan must be at least 100 W"),
        (lambda: generators.load_sum([Load("fan", math.nan, 90.0)]), "running_w of fan must be at least 0 W"),
        (lambda: generators.carries(generators.load_sum([PUMP]), 2000.0, 1000.0), "surge_w must be at least 2000 W"),
        (lambda: generators.starting_load_w(100.0, 0.5), "factor must be at least 1 and at most 8 ratio"),
        (lambda: generators.fuel_age("coal", BOUGHT, BOUGHT), "fuel must be one of gasoline, stabilised gasoline"),
        (lambda: generators.fuel_age("diesel", BOUGHT, date(2025, 1, 30)), "on must not be before bought_on"),
        (lambda: generators.wire_diameter_m(-4), "gauge must be at least -3 and at most 40 AWG"),
        (lambda: generators.wire_diameter_m(12.5), "gauge must be a whole number from -3 to 40 AWG"),
        (lambda: generators.wire_ohm_m(12, 20.0), "t_k must be at least 200"),
        (lambda: generators.wire_ohm_m(12, 290.0, 0.9), "lay must be at least 1 and at most 1.1 ratio"),
        (lambda: generators.cord_drop_v(-1.0, 12, 30.0, 290.0), "current_a must be at least 0 A"),
        (lambda: generators.cord_drop_v(np.array([]), 12, 30.0, 290.0), "current_a must be at least 0 A"),
        (lambda: generators.cord_drop_v(1.0, 12, math.inf, 290.0), "length_m must be at least 0 m"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()


@pytest.mark.parametrize(("fuel", "key"), [("stabilised gasoline", "fuel_age_gasoline"), ("diesel", "fuel_age_diesel")])
def test_treated_fuel_turns_where_the_catalogue_s_limits_do(fuel, key):
    life, limits = generators.FUEL_LIVES[fuel], catalogue_limit(key)
    assert (life.caution_months, life.stop_months) == (limits["pass_high"], limits["limits_high"])


def test_untreated_gasoline_is_never_trusted_longer_than_the_catalogue_s_limits_trust_it():
    life, limits = generators.FUEL_LIVES["gasoline"], catalogue_limit("fuel_age_gasoline")
    assert life.caution_months < limits["pass_high"]
    assert life.stop_months < limits["limits_high"]
