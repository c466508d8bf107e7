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
        ({"p1_pa": math.nan}, "p1_pa"),
        ({"p1_pa": -1.1e5}, "p1_pa"),
        ({"p2_pa": -1.1e5}, "p2_pa"),
        ({"p2_pa": np.array([0.0, math.inf])}, "p2_pa"),
        ({"t1_k": 62.0}, "t1_k"),
        ({"t2_k": math.nan}, "t2_k"),
        ({"b1_pa": 0.0}, "b1_pa"),
        ({"b2_pa": -1.0}, "b2_pa"),
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


# --- a series of readings ----------------------------------------------------------------------------------------

HOURS = [3600.0 * hour for hour in (0, 1, 2, 4, 6, 9)]


def leaking(per_s, temperatures, baros):
    """Gauge readings of a beam that loses so much of its first air each second."""
    first = (psi(2.5) + SEA_LEVEL) / degf(70.0)
    return [first * (1 - per_s * at) * t - b for at, t, b in zip(HOURS, temperatures, baros, strict=True)]


@given(
    per_day=st.floats(0.0, 0.8),
    temperatures=st.lists(KELVIN, min_size=6, max_size=6),
    baros=st.lists(BARO, min_size=6, max_size=6),
)
def test_a_steady_leak_is_found_whatever_the_weather_does(per_day, temperatures, baros):
    per_s = per_day / 86400
    found = air.leak_fit(HOURS, leaking(per_s, temperatures, baros), temperatures, baros)
    assert found.leak_per_s == pytest.approx(per_s, abs=1e-12)
    assert found.scatter_per_s == pytest.approx(0, abs=1e-11)


def test_a_coarse_dial_without_scatter_still_has_its_uncertainty():
    found = air.leak_fit(HOURS, [psi(2.5)] * 6, [290.0] * 6, SEA_LEVEL, psi(0.1), to_si(1.0, "ddegF"))
    assert (found.leak_per_s, found.scatter_per_s) == (pytest.approx(0, abs=1e-18), pytest.approx(0, abs=1e-18))
    assert found.instrument_per_s > 0
    assert found.upper_per_s == pytest.approx(1.6449 * found.instrument_per_s, rel=1e-4)


@given(step=st.floats(0, 2000), finer=st.floats(0, 1), level=st.floats(0.5, 0.99))
def test_a_finer_gauge_or_a_lower_level_never_raises_the_upper_limit(step, finer, level):
    gauge = [17e3, 16.9e3, 16.95e3, 16.7e3, 16.6e3, 16.4e3]
    at = (HOURS, gauge, [290.0] * 6, SEA_LEVEL)
    coarse = air.leak_fit(*at, step, 0.5).upper_per_s
    assert air.leak_fit(*at, step * finer, 0.5).upper_per_s <= coarse * (1 + 1e-12)
    assert air.leak_fit(*at, step, 0.5, level).upper_per_s <= air.leak_fit(*at, step, 0.5, 0.99).upper_per_s


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"time_s": [0.0, 1.0], "gauge_pa": [1.0, 1.0], "t_k": [290.0, 290.0]}, "time_s must hold at least 3 readings"),
        ({"time_s": []}, "time_s must hold at least 3 readings"),
        ({"time_s": [5.0, 5.0, 5.0]}, "at least two different times"),
        ({"time_s": [0.0, 1.0, math.nan]}, "time_s must be a finite number"),
        ({"gauge_pa": [1.0, 1.0]}, "gauge_pa must hold one value for each of 3 times"),
        ({"gauge_pa": [1.0, 1.0, -2e5]}, "gauge_pa \\+ baro_pa must be above 0 Pa absolute"),
        ({"t_k": [290.0, 290.0, 480.0]}, "t_k must be at least 200 and at most 400 K"),
        ({"baro_pa": 0.0}, "baro_pa must be above 0 Pa"),
        ({"level": 1.0}, "level must be at least 0.5"),
        ({"resolution_pa": -1.0}, "resolution_pa must be at least 0 Pa"),
    ],
)
def test_a_series_without_sense_is_refused_by_name(wrong, named):
    good = {"time_s": [0.0, 3600.0, 7200.0], "gauge_pa": [2e4] * 3, "t_k": [290.0] * 3, "baro_pa": 1e5}
    with pytest.raises(ValueError, match=named):
        air.leak_fit(**{**good, **wrong})


# --- sun ---------------------------------------------------------------------------------------------------------


@given(fill=st.floats(1e3, 5e4), cold=st.floats(260, 300), baro=BARO, room=st.floats(0, 3e4))
def test_at_the_lifting_temperature_the_beam_is_at_the_relief_setting(fill, cold, baro, room):
    relief = fill + room
    lifts_at = air.sun_load(fill, cold, baro, cold, baro, relief).lifts_at_k
    assume(lifts_at < 400)
    assert air.pressure_at(fill, cold, baro, lifts_at, baro) == pytest.approx(relief, abs=1e-6)


def test_a_beam_filled_in_the_cold_lifts_its_relief_in_the_sun():
    # By hand: (2.5 + 14.7) * 559.67 / 504.67 - 14.7 = 4.374 psi at 100 degF, filled at 45.
    found = air.sun_load(psi(2.5), degf(45.0), SEA_LEVEL, degf(100.0), SEA_LEVEL, psi(4.0))
    assert from_si(found.gauge_pa, "psi") == pytest.approx(4.374, abs=0.001)
    assert from_si(found.over_relief_pa, "psi") == pytest.approx(0.374, abs=0.001)
    assert found.lifts
    assert not air.sun_load(psi(2.5), degf(45.0), SEA_LEVEL, degf(60.0), SEA_LEVEL, psi(4.0)).lifts


# --- cylinders and the barometer ---------------------------------------------------------------------------------


@given(p=st.floats(1.0, 2000.0), t=KELVIN)
def test_thin_air_is_ideal(p, t):
    assert air.air_compressibility(p, t) == pytest.approx(1.0, abs=1e-4)


@given(pressures=st.lists(st.floats(1e3, 5e7), min_size=1, max_size=5), t=KELVIN)
def test_a_table_of_compressibility_is_its_numbers(pressures, t):
    together = air.air_compressibility(np.array(pressures), t)
    assert together == pytest.approx([air.air_compressibility(p, t) for p in pressures], rel=1e-10)
    assert isinstance(air.air_compressibility(1e6, t), float)


def test_pressures_and_temperatures_broadcast_to_a_table():
    found = air.air_compressibility(np.array([[1e6], [3e7]]), np.array([270.0, 300.0, 320.0]))
    assert found.shape == (2, 3)
    assert found[1, 1] == pytest.approx(air.air_compressibility(3e7, 300.0))


@given(a=st.floats(0, 4e7), b=st.floats(0, 4e7), t=KELVIN, baro=BARO)
def test_more_pressure_in_the_cylinder_is_more_air_and_two_draws_add_up(a, b, t, baro):
    less, more = sorted((a, b))
    whole = air.cylinder_air_m3(0.01, more, 0.0, t, baro)
    parts = air.cylinder_air_m3(0.01, more, less, t, baro) + air.cylinder_air_m3(0.01, less, 0.0, t, baro)
    assert whole == pytest.approx(parts, abs=1e-9)
    assert air.cylinder_air_m3(0.01, more, less, t, baro) >= 0


def test_the_ideal_law_promises_12_percent_too_much_at_4500_psi():
    at = (0.01, psi(4500.0), 0.0, degf(70.0), SEA_LEVEL)
    assert air.cylinder_air_m3(*at, ideal=True) / air.cylinder_air_m3(*at) == pytest.approx(1.116, abs=0.002)


def test_a_cylinder_under_its_regulator_s_inlet_fills_nothing():
    assert air.cylinder_fills(0.01, psi(100.0), psi(150.0), 290.0, SEA_LEVEL, 1.3, psi(2.5)) == 0.0
    both = air.cylinder_fills(0.01, psi(np.array([100.0, 3000.0])), psi(150.0), 290.0, SEA_LEVEL, 1.3, psi(2.5))
    assert both[0] == 0.0
    assert both[1] == air.cylinder_fills(0.01, psi(3000.0), psi(150.0), 290.0, SEA_LEVEL, 1.3, psi(2.5))


@given(a=st.floats(-500, 5000), b=st.floats(-500, 5000))
def test_a_higher_place_has_a_lower_barometer(a, b):
    low, high = sorted((a, b))
    assert air.station_pressure_pa(high) <= air.station_pressure_pa(low)


def test_at_sea_level_the_airport_and_the_station_agree():
    assert air.station_pressure_pa(0.0, 100_000.0) == 100_000.0


def test_an_inflator_of_twice_the_flow_takes_half_the_time():
    slow = air.inflation_time_s(1.7, psi(2.5), SEA_LEVEL, 0.007)
    assert air.inflation_time_s(1.7, psi(2.5), SEA_LEVEL, 0.014) == pytest.approx(slow / 2)
    assert air.loss_rate_pa_s(-7200.0, 3600.0) == -2.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: air.air_compressibility(0.0, 290.0), "abs_pa must be above 0 and at most 5e\\+07 Pa absolute"),
        (lambda: air.air_compressibility(-1e5, 290.0), "abs_pa"),
        (lambda: air.air_compressibility(1e5, degf(400.0)), "t_k must be at least 200 and at most 400 K"),
        (lambda: air.air_compressibility(np.array([]), 290.0), "abs_pa"),
        (lambda: air.cylinder_air_m3(0.01, 1e6, 2e6, 290.0, 1e5), "start_gauge_pa - end_gauge_pa must be at least 0"),
        (lambda: air.cylinder_air_m3(0.01, 1e8, 0.0, 290.0, 1e5), "abs_pa"),
        (lambda: air.cylinder_air_m3(0.01, 1e6, -1.0, 290.0, 1e5, ideal=True), "end_gauge_pa"),
        (lambda: air.cylinder_air_m3(0.01, 1e6, 0.0, degf(400.0), 1e5, ideal=True), "t_k"),
        (lambda: air.cylinder_air_m3(math.nan, 1e6, 0.0, 290.0, 1e5), "water_m3 must be above 0 m3"),
        (lambda: air.cylinder_fills(0.01, -1.0, 0.0, 290.0, 1e5, 1.0, 1e4), "start_gauge_pa must be at least 0 Pa"),
        (lambda: air.cylinder_fills(0.01, 1e6, 0.0, 290.0, 1e5, 0.0, 1e4), "shelter_m3 must be above 0 m3"),
        (lambda: air.inflation_time_s(1.0, 1e4, 1e5, 0.0), "free_air_m3_s must be above 0 m3/s"),
        (lambda: air.loss_rate_pa_s(1.0, 0.0), "elapsed_s must be above 0 s"),
        (lambda: air.sun_load(1e4, 290.0, 1e5, degf(400.0), 1e5, 2e4), "t_to_k"),
        (lambda: air.sun_load(1e4, 290.0, 1e5, 300.0, 1e5, 0.0), "relief_gauge_pa must be above 0 Pa"),
        (lambda: air.station_pressure_pa(9000.0), "elevation_m must be at least -500 and at most 5000 m"),
        (lambda: air.station_pressure_pa(100.0, 29.92), "sea_level_pa must be at least 85000"),
    ],
)
def test_air_without_sense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
