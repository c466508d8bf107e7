import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shared.formulas import air
from shared.units import from_si, to_si

KELVIN = st.floats(240, 330)
BARO = st.floats(70_000, 106_000)
GAUGE = st.floats(0, 70_000)
SEA_LEVEL = to_si(14.70, "psia")


def psi(value):
    return to_si(value, "psi")


def degf(value):
    return to_si(value, "degF")


def test_a_cooling_bay_makes_a_tight_beam_look_leaky():
    # By hand: (3.00 + 14.70) * (49 + 459.67) / (62 + 459.67) - 14.70 = 2.559 psi; 2.50 read, so 0.059 psi went.
    first, second = (psi(3.00), degf(62.0), SEA_LEVEL), (degf(49.0), SEA_LEVEL)
    assert from_si(air.pressure_at(*first, *second), "psi") == pytest.approx(2.559, abs=0.001)
    assert from_si(air.corrected_loss_pa(*first, psi(2.50), *second), "psi") == pytest.approx(0.059, abs=0.001)


def test_a_warming_bay_hides_a_leak():
    loss = air.corrected_loss_pa(psi(2.0), degf(60.0), psi(14.5), psi(2.3), degf(80.0), psi(14.5))
    assert from_si(loss, "psi") == pytest.approx(0.335, abs=0.001)


def test_a_falling_barometer_raises_the_gauge_by_as_much():
    assert air.pressure_at(psi(2.5), 290.0, SEA_LEVEL, 290.0, SEA_LEVEL - 1000) == pytest.approx(psi(2.5) + 1000)


@given(p=GAUGE, t1=KELVIN, b1=BARO, t2=KELVIN, b2=BARO)
def test_going_to_other_weather_and_back_changes_nothing(p, t1, b1, t2, b2):
    there = air.pressure_at(p, t1, b1, t2, b2)
    assume(there + b2 > 0)
    assert air.pressure_at(there, t2, b2, t1, b1) == pytest.approx(p, abs=1e-6)


@given(p=GAUGE, t1=KELVIN, b1=BARO, t2=KELVIN, b2=BARO)
def test_tight_air_has_lost_nothing_whatever_the_weather(p, t1, b1, t2, b2):
    second = air.pressure_at(p, t1, b1, t2, b2)
    assert air.corrected_loss_pa(p, t1, b1, second, t2, b2) == pytest.approx(0, abs=1e-6)
    assert air.air_lost(p, t1, b1, second, t2, b2) == pytest.approx(0, abs=1e-9)


@given(p=GAUGE, t=KELVIN, b=BARO, dp=st.floats(0, 5000))
def test_with_weather_unchanged_the_loss_is_the_difference_of_the_readings(p, t, b, dp):
    assert air.corrected_loss_pa(p + dp, t, b, p, t, b) == pytest.approx(dp, abs=1e-6)


def test_an_array_of_readings_is_corrected_as_each_reading_is():
    gauges, warm = np.array([psi(2.0), psi(2.5), psi(3.0)]), np.array([280.0, 285.0, 290.0])
    together = air.corrected_loss_pa(gauges, 290.0, SEA_LEVEL, gauges - 500, warm, SEA_LEVEL)
    alone = [
        air.corrected_loss_pa(float(p), 290.0, SEA_LEVEL, float(p) - 500, float(t), SEA_LEVEL)
        for p, t in zip(gauges, warm, strict=True)
    ]
    assert together.tolist() == pytest.approx(alone)


def test_a_coarse_dial_cannot_see_a_small_loss():
    # By hand: 0.1/sqrt(12) = 0.02887; 17.2/529.67*1/sqrt(12) = 0.00937; 2*sqrt(2*(0.02887^2 + 0.00937^2)) = 0.0858.
    found = air.loss_uncertainty_pa(psi(0.1), to_si(1.0, "ddegF"), psi(2.5), degf(70.0), SEA_LEVEL)
    assert from_si(found, "psi") == pytest.approx(0.0858, abs=0.0001)


@given(step=st.floats(0, 2000), finer=st.floats(0, 1), t_step=st.floats(0, 2))
def test_a_finer_gauge_is_never_less_sure(step, finer, t_step):
    at = (15_000.0, 290.0, 101_325.0)
    assert air.loss_uncertainty_pa(step * finer, t_step, *at) <= air.loss_uncertainty_pa(step, t_step, *at)


def test_a_beam_that_loses_nothing_stands_for_ever():
    assert air.time_to_pressure_s(15e3, 15e3, 3600, 10e3) == (math.inf, math.inf)
    assert air.time_to_pressure_s(15e3, 15.1e3, 3600, 10e3).shorter_s == math.inf


def test_a_beam_already_at_its_least_pressure_stands_no_longer():
    assert air.time_to_pressure_s(10e3, 9e3, 3600, 10e3) == (0.0, 0.0)
    assert air.time_to_pressure_s(8e3, 7e3, 3600, 10e3) == (0.0, 0.0)


def test_a_beam_gone_flat_has_a_line_and_no_decay():
    found = air.time_to_pressure_s(20e3, 0.0, 3600, 10e3)
    assert found.linear_s == pytest.approx(1800)
    assert found.exponential_s == 0.0


@given(p0=st.floats(2e3, 5e4), lost=st.floats(0.001, 0.99), elapsed=st.floats(60, 1e5))
def test_the_second_reading_itself_is_reached_when_it_was_read(p0, lost, elapsed):
    p1 = p0 * (1 - lost)
    found = air.time_to_pressure_s(p0, p1, elapsed, p1)
    assert found.linear_s == pytest.approx(elapsed, rel=1e-6)
    assert found.exponential_s == pytest.approx(elapsed, rel=1e-6)


@given(p0=st.floats(2e3, 5e4), a=st.floats(0.001, 0.99), b=st.floats(0.001, 0.99))
def test_a_faster_leak_stands_no_longer(p0, a, b):
    slow, fast = sorted((a, b))
    least = 0.5 * p0
    slower = air.time_to_pressure_s(p0, p0 * (1 - slow), 3600, least)
    faster = air.time_to_pressure_s(p0, p0 * (1 - fast), 3600, least)
    assert faster.linear_s <= slower.linear_s
    assert faster.exponential_s <= slower.exponential_s


GOOD = {"p1_pa": 2e4, "t1_k": 290.0, "b1_pa": 1e5, "p2_pa": 2e4, "t2_k": 290.0, "b2_pa": 1e5}


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"p1_pa": math.nan}, "gauge_pa"),
        ({"p1_pa": -1.1e5}, "gauge_pa"),
        ({"p2_pa": -1.1e5}, "p2_pa"),
        ({"p2_pa": np.array([0.0, math.inf])}, "p2_pa"),
        ({"t1_k": 62.0}, "t_from_k"),
        ({"t2_k": math.nan}, "t_to_k"),
        ({"b1_pa": 0.0}, "baro_from_pa"),
        ({"b2_pa": -1.0}, "baro_to_pa"),
    ],
)
def test_readings_that_cannot_be_are_refused_by_name(wrong, named):
    with pytest.raises(ValueError, match=named):
        air.corrected_loss_pa(**{**GOOD, **wrong})


@pytest.mark.parametrize(
    ("given_", "named"),
    [
        ((0.0, 1.0, 1.0, 1.0), "p0_pa must be above 0 Pa"),
        ((2.0, -1.0, 1.0, 1.0), "p1_pa must be at least 0 Pa"),
        ((2.0, 1.0, 0.0, 1.0), "elapsed_s must be above 0 s"),
        ((2.0, 1.0, 1.0, math.nan), "least_pa must be above 0 Pa"),
    ],
)
def test_a_standing_time_without_sense_is_refused_with_its_range(given_, named):
    with pytest.raises(ValueError, match=named):
        air.time_to_pressure_s(*given_)
