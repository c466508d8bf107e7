import math

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


TABLE = [(0.25, 1e-7), (0.5, 1.6e-7), (1.0, 3e-7)]


def test_a_tank_lasts_its_fuel_over_its_burn():
    # 0.0036 m3 at 3e-7 m3/s is 12,000 s; a tenth kept back leaves 3 h.
    assert electric.fuel_hours(0.0036, 1.0, TABLE) == pytest.approx(10 / 3)
    assert electric.fuel_hours(0.0036, 1.0, TABLE, reserve=0.1) == pytest.approx(3.0)


def test_idling_is_never_credited_with_less_than_the_lightest_load_burns():
    assert electric.fuel_hours(0.01, 0.05, TABLE) == electric.fuel_hours(0.01, 0.25, TABLE)


@given(a=st.floats(0.01, 1.0), b=st.floats(0.01, 1.0))
def test_a_heavier_load_never_lasts_longer(a, b):
    light, heavy = sorted((a, b))
    assert electric.fuel_hours(0.01, heavy, TABLE) <= electric.fuel_hours(0.01, light, TABLE)


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
        (lambda: electric.fuel_hours(-1.0, 0.5, TABLE), "fuel_m3 must be at least 0 m3"),
        (lambda: electric.fuel_hours(1.0, 0.0, TABLE), "load_ratio must be above 0 and at most 1 ratio"),
        (lambda: electric.fuel_hours(1.0, 1.1, TABLE), "load_ratio"),
        (lambda: electric.fuel_hours(1.0, 0.5, []), "burn_table must have at least one row"),
        (lambda: electric.fuel_hours(1.0, 0.5, [(1.0, 1e-7), (0.5, 1e-7)]), "rising loads"),
        (lambda: electric.fuel_hours(1.0, 0.5, [(1.0, 0.0)]), "burn_table fuel must be above 0 m3/s"),
        (lambda: electric.burn_from_efficiency_m3_s(1e3, 0.0, 3e10), "efficiency must be above 0 and at most 1 ratio"),
        (lambda: electric.interpolate(1.0, [0.0, 0.0], [1.0, 2.0]), "at must hold at least two rising nodes"),
        (lambda: electric.capacity_shown(1.0, 0.0), "rated_s must be above 0 s"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
