import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import electric
from shared.units import to_si

AT_80 = to_si(80.0, "degF")
AT_77 = to_si(77.0, "degF")
VOLTS = st.floats(10.5, 14.0)
KELVIN = st.floats(230.0, 330.0)
LEAD = st.sampled_from(["flooded", "AGM", "gel"])


@pytest.mark.parametrize(
    ("volts", "charge"), [(12.65, 1.0), (12.45, 0.75), (12.24, 0.5), (12.06, 0.25), (11.89, 0.0), (12.345, 0.625)]
)
def test_a_rested_flooded_battery_at_80_degf_reads_off_the_table(volts, charge):
    assert electric.charge_from_rest_voltage(volts, "flooded", AT_80) == pytest.approx(charge)


def test_the_charge_stays_between_empty_and_full():
    assert electric.charge_from_rest_voltage(13.4, "flooded", AT_80) == 1.0
    assert electric.charge_from_rest_voltage(10.9, "AGM", AT_77) == 0.0


def test_at_one_voltage_an_agm_battery_holds_less_than_a_flooded_one():
    assert electric.charge_from_rest_voltage(12.5, "AGM", AT_77) < electric.charge_from_rest_voltage(
        12.5, "flooded", AT_80
    )


def test_a_cold_battery_reads_low_and_is_corrected_by_little():
    # 60 degF under its table: 33.3 K * 1.2 mV/K = 0.04 V.
    assert electric.rest_voltage_at_reference(12.41, "flooded", to_si(20.0, "degF")) == pytest.approx(12.45, abs=1e-3)


def test_a_24_volt_battery_is_read_as_two_of_12():
    one = electric.charge_from_rest_voltage(12.4, "AGM", 270.0)
    assert electric.charge_from_rest_voltage(24.8, "AGM", 270.0, nominal_v=24.0) == pytest.approx(one)


@given(a=VOLTS, b=VOLTS, chemistry=LEAD, t=KELVIN)
def test_more_volts_never_mean_less_charge(a, b, chemistry, t):
    low, high = sorted((a, b))
    assert electric.charge_from_rest_voltage(low, chemistry, t) <= electric.charge_from_rest_voltage(high, chemistry, t)


@given(volts=st.lists(VOLTS, min_size=1, max_size=4), chemistry=LEAD, t=KELVIN)
def test_an_array_of_voltages_reads_as_each_does(volts, chemistry, t):
    together = electric.charge_from_rest_voltage(np.array(volts), chemistry, t)
    assert together.tolist() == [electric.charge_from_rest_voltage(v, chemistry, t) for v in volts]


@pytest.mark.parametrize(("air_degf", "factor"), [(77, 1.0), (60, 1.11), (40, 1.30), (25, 1.52)])
def test_the_cold_takes_what_the_standard_s_factors_say(air_degf, factor):
    assert electric.cold_capacity_factor(to_si(float(air_degf), "degF"), "AGM") == pytest.approx(1 / factor)


def test_below_the_table_the_cold_takes_on_at_the_same_pace():
    # 25 to 30 degF is 1/1.43 - 1/1.52 = 0.0414; five more degrees down take as much again.
    assert electric.cold_capacity_factor(to_si(20.0, "degF"), "flooded") == pytest.approx(1 / 1.52 - 0.0414, abs=1e-4)
    assert electric.cold_capacity_factor(to_si(-90.0, "degF"), "flooded") == 0.0


@given(a=KELVIN, b=KELVIN, chemistry=st.sampled_from(["flooded", "agm", "gel", "LiFePO4"]))
def test_warmth_never_takes_capacity_and_never_adds_to_the_rating(a, b, chemistry):
    cold, warm = sorted((a, b))
    colder, warmer = (electric.cold_capacity_factor(t, chemistry) for t in (cold, warm))
    assert 0.0 <= colder <= warmer <= 1.0
    assert electric.cold_capacity_factor(np.array([cold, warm]), chemistry).tolist() == [colder, warmer]


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel"])
@given(volts=VOLTS, accuracy=st.floats(0, 0.3), t=KELVIN)
def test_a_band_holds_its_charge_and_widens_with_the_meter_s_error(chemistry, volts, accuracy, t):
    curve = electric.BAND_CURVES[chemistry]
    band = electric.charge_band(volts, accuracy, curve, t)
    finer = electric.charge_band(volts, accuracy / 2, curve, t)
    assert band.low <= finer.low <= band.charge <= finer.high <= band.high
    assert band.charge == electric.charge_from_rest_voltage(volts, chemistry, t)


def test_on_the_plateau_voltage_cannot_serve_and_says_so():
    plateau = electric.charge_band(13.15, 0.05, electric.LIFEPO4, AT_77)
    assert (plateau.low, plateau.high) == (pytest.approx(0.4), pytest.approx(0.7))
    assert not plateau.serves
    assert "cannot tell" in plateau.why
    empty = electric.charge_band(12.2, 0.05, electric.LIFEPO4, AT_77)
    assert empty.serves
    assert empty.why == ""


def test_a_battery_just_off_its_charger_is_told_to_rest():
    band = electric.charge_band(13.6, 0.02, electric.FLOODED, AT_80)
    assert band.charge == 1.0
    assert not band.serves
    assert "let it rest" in band.why


def test_a_meter_too_coarse_for_lead_does_not_serve_either():
    assert not electric.charge_band(12.3, 0.12, electric.FLOODED, AT_80).serves
    assert electric.charge_band(12.3, 0.12, electric.FLOODED, AT_80, widest=0.5).serves


def test_a_maker_s_own_table_is_read_as_it_stands():
    own = electric.RestCurve((46.0, 50.0, 52.0), (0.1, 0.5, 1.0), AT_77, "plate", volts_per_k=0.0, nominal_v=48.0)
    assert electric.charge_on_curve(51.0, own, 280.0, 48.0) == pytest.approx(0.75)


KT_K = [to_si(float(t), "degF") for t in (40, 60, 77, 100)]
KT = [1.30, 1.11, 1.0, 0.91]


def test_a_table_s_factor_is_read_between_its_rows_and_held_at_its_ends():
    assert electric.temperature_factor(to_si(50.0, "degF"), KT_K, KT) == pytest.approx(1.205)
    assert electric.temperature_factor(to_si(-10.0, "degF"), KT_K, KT) == 1.30
    assert electric.temperature_factor(np.array(KT_K), KT_K, KT).tolist() == KT


CURRENT = st.floats(0.1, 500)
EXPONENT = st.floats(1.0, 1.6)
RATED_C, RATED_S = to_si(100.0, "Ah"), to_si(20.0, "h")


@given(k=EXPONENT)
def test_at_its_rated_current_a_battery_lasts_its_rated_time(k):
    assert electric.peukert_time_s(RATED_C, RATED_S, k, 5.0) == pytest.approx(RATED_S)


@given(current=CURRENT)
def test_an_exponent_of_one_is_a_battery_that_gives_all_it_holds(current):
    assert electric.peukert_time_s(RATED_C, RATED_S, 1.0, current) * current == pytest.approx(RATED_C)


def test_the_two_forms_must_not_be_mixed():
    assert electric.peukert_time_at_one_ampere_s(RATED_C, 1.2, 5.0) == pytest.approx(to_si(14.5, "h"), rel=1e-3)
    assert electric.peukert_time_at_one_ampere_s(RATED_C, 1.2, 1.0) == pytest.approx(RATED_C)


@given(k=EXPONENT, one=st.floats(0.5, 20), more=st.floats(1.2, 10))
def test_the_exponent_comes_back_from_two_tests(k, one, more):
    times = electric.peukert_time_s(RATED_C, RATED_S, k, np.array([one, one * more]))
    assert electric.peukert_exponent(one, times[0], one * more, times[1]) == pytest.approx(k)


@given(t=KELVIN, doubling=st.floats(5, 20))
def test_storage_loss_doubles_with_each_step_of_warmth(t, doubling):
    rate = electric.self_discharge_rate(electric.SELF_DISCHARGE["agm"], np.array([t, t + doubling]), doubling)
    assert rate[1] / rate[0] == pytest.approx(2.0)


@given(charge=st.floats(0, 1), least=st.floats(0, 1), rate=st.floats(1e-9, 1e-5))
def test_what_is_lost_by_the_charge_is_what_stood_above_the_least(charge, least, rate):
    time = electric.time_to_charge_s(charge, least, rate)
    assert time >= 0
    assert charge - time * rate == pytest.approx(min(charge, least), abs=1e-9)
    assert electric.time_to_charge_s(np.array([charge]), least, rate).tolist() == [time]


def test_a_battery_that_loses_nothing_never_comes_to_its_least():
    assert electric.time_to_charge_s(1.0, 0.8, 0.0) == math.inf
    assert electric.time_to_charge_s(0.8, 0.8, 0.0) == 0.0
    rates = np.array([0.0, 1e-8])
    assert electric.time_to_charge_s(0.9, 0.8, rates).tolist() == [math.inf, electric.time_to_charge_s(0.9, 0.8, 1e-8)]


def test_the_next_charge_falls_on_a_whole_day_never_late():
    monthly = electric.SELF_DISCHARGE["flooded"]
    by = electric.charge_by(date(2026, 1, 1), 1.0, 0.7, monthly)
    # Six months of 30.4375 days are 182.6 days.
    assert by == date(2026, 1, 1) + timedelta(days=182)
    assert electric.charge_by(date(2026, 1, 1), 0.6, 0.7, monthly) == date(2026, 1, 1)


@given(load=st.floats(1, 5000), usable=st.floats(0, 1), efficiency=st.floats(0.1, 1))
def test_energy_drawn_is_energy_given(load, usable, efficiency):
    time = electric.run_time_s(RATED_C, 12.0, load, usable, efficiency)
    assert time * load == pytest.approx(RATED_C * 12.0 * usable * efficiency)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: electric.charge_from_rest_voltage(math.nan, "AGM", 290.0), "volts"),
        (lambda: electric.charge_from_rest_voltage(0.0, "AGM", 290.0), "volts must be above 0 and at most 24 V"),
        (lambda: electric.charge_from_rest_voltage(12.5, "AGM", 77.0), "t_k must be at least 200"),
        (
            lambda: electric.charge_from_rest_voltage(13.2, "LiFePO4", 290.0),
            "chemistry must be one of flooded, agm, gel",
        ),
        (lambda: electric.charge_from_rest_voltage(12.5, "", 290.0), "chemistry"),
        (lambda: electric.cold_capacity_factor(290.0, "zinc"), "chemistry must be one of flooded, agm, gel, lifepo4"),
        (lambda: electric.cold_capacity_factor(math.nan, "AGM"), "t_k"),
        (lambda: electric.interpolate(1.0, [0.0, 0.0], [1.0, 2.0]), "at must hold at least two rising nodes"),
        (lambda: electric.capacity_shown(1.0, 0.0), "rated_s must be above 0 s"),
        (lambda: electric.capacity_shown(1.0, 1.0, 2.5), "cold_share must be above 0 and at most 2 ratio"),
        (lambda: electric.charge_band(12.5, -0.1, electric.AGM, 290.0), "accuracy_v must be at least 0 V"),
        (lambda: electric.charge_band(0.05, 0.1, electric.AGM, 290.0), "volts must be above 0.1 and at most 24 V"),
        (
            lambda: electric.charge_on_curve(12.5, electric.AGM._replace(charge=(0.0, 25.0, 50.0, 75.0, 100.0)), 290.0),
            "curve charge must be at least 0 and at most 1 ratio",
        ),
        (lambda: electric.temperature_factor(290.0, [280.0, 270.0], [1.0, 1.1]), "at must hold at least two rising"),
        (lambda: electric.temperature_factor(290.0, [280.0, 290.0], [1.0, 0.0]), "factors must be above 0 ratio"),
        (lambda: electric.temperature_factor(math.inf, KT_K, KT), "t_k must be at least 200 and at most 400 K"),
        (lambda: electric.peukert_time_s(0.0, 1.0, 1.2, 1.0), "capacity_c must be above 0 C"),
        (lambda: electric.peukert_time_s(1.0, 1.0, 0.9, 1.0), "exponent must be at least 1 and at most 2"),
        (lambda: electric.peukert_time_s(1.0, 1.0, 1.2, np.array([])), "current_a must be above 0 A"),
        (lambda: electric.peukert_time_at_one_ampere_s(-1.0, 1.2, 1.0), "capacity_c must be above 0 C"),
        (lambda: electric.peukert_exponent(5.0, 1.0, 5.0, 2.0), "other_a must be another current than one_a"),
        (lambda: electric.peukert_exponent(5.0, 0.0, 6.0, 2.0), "one_s must be above 0 s"),
        (lambda: electric.self_discharge_rate(-1e-9, 290.0), "rate_per_s must be at least 0 1/s"),
        (lambda: electric.self_discharge_rate(1e-8, 20.0), "t_k must be at least 200"),
        (lambda: electric.time_to_charge_s(1.1, 0.5, 1e-8), "charge must be at least 0 and at most 1 ratio"),
        (lambda: electric.charge_by(date(2026, 1, 1), 1.0, 0.0, 1e-15), "rate_per_s must bring a charge before"),
        (lambda: electric.charge_by(date(2026, 1, 1), 1.0, 0.0, 0.0), "rate_per_s must bring a charge before"),
        (lambda: electric.run_time_s(1.0, 12.0, 0.0), "load_w must be above 0 W"),
        (lambda: electric.run_time_s(1.0, 12.0, 1.0, 1.5), "usable must be at least 0 and at most 1 ratio"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
