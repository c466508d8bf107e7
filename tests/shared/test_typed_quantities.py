"""Quantities as people type them: in the unit asked for, with another of the same kind, or refused in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.units import (
    OWN_WORDS,
    SI_FOR,
    SIGNS,
    UNITS,
    QuantityError,
    from_si,
    parse,
    to_reader,
    to_si,
    typed,
    unit_in,
)
from tests.check_values.references.units import ORACLE, REGISTRY

NUMBERS = st.floats(-9e5, 9e5, allow_nan=False)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("55", "psi", 55),
        (" 55 psi ", "psi", 55),
        ("55 PSI", "psi", 55),
        ("3.8 bar", "psi", 55.114),
        ("17 kPa", "psi", 2.4656),
        ("17 KPA", "psi", 2.4656),
        ("379 kPa", "psig", 54.969),
        ("55 psi", "kPa", 379.21),
        ("30 inHg", "psi", 14.7346),
        ("120 F", "degF", 120),
        ("120 °F", "degC", 48.889),
        ("49 °C", "degF", 120.2),
        ("49C", "degF", 120.2),
        ("−10 C", "degF", 14),
        ("322 K", "degF", 119.93),
        ("10 F", "ddegF", 10),
        ("10 °C", "ddegF", 18),
        ("4 gpm", "gpm", 4),
        ("15 l/min", "gpm", 3.96258),
        ("15 lpm", "gpm", 3.96258),
        ("4 gpm", "L/min", 15.1416),
        ("1/2 in", "in", 0.5),
        ("1 1/2 in", "in", 1.5),
        ('1½"', "in", 1.5),
        ("25.4 mm", "in", 1),
        ("5 ft 6 in", "ft", 5.5),
        ("5' 6\"", "m", 1.6764),
        ("1 h 30 min", "min", 90),
        ("90 min", "h", 1.5),
        ("5 lb 4 oz", "lb", 5.25),
        ("40 lbs", "kg", 18.1437),
        ("1,200 W", "kW", 1.2),
        ("12,84", "V", 12.84),
        ("85,000 BTU/h", "kW", 24.911),
        ("1.5 hp", "W", 1118.55),
        ("100 L", "gal", 26.4172),
        ("50 %", "ratio", 0.5),
        ("20 mph", "km/h", 32.1869),
        ("12", "AWG", 12),
        ("60", "1/h", 60),
        ("2600", "", 2600),
    ],
)
def test_a_quantity_is_understood_as_it_is_typed(text, unit, value):
    assert parse(text, unit) == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("120 F", "psi", "'120 F' is a temperature, and a pressure is asked for. Give it in psi or kPa"),
        ("55 psi", "degF", "'55 psi' is a pressure, and a temperature is asked for. Give it in °F or °C"),
        ("5 kg", "psi", "'5 kg' is a weight, and a pressure is asked for"),
        ("3 farad", "V", "'3 farad' is not a voltage"),
        ("10 F 5 C", "ddegF", "is not a temperature"),
        ("2 ft 3 kg", "ft", "'3 kg' is a weight, and a length is asked for"),
        ("5 rankine", "degF", "'rankine' is no unit known here"),
        ("5 bananas", "gal", "'bananas' is no unit known here. Give it in gal or L"),
        ("14.7 psia", "psig", "counts from vacuum"),
        ("12 mm", "AWG", "'mm' is not asked for. Give a plain number"),
        ("lots", "psi", "this is not a number"),
        ("", "psi", "this is not a number"),
        ("nan", "psi", "this is not a number"),
        ("inf", "psi", "this is not a number"),
        ("1,2,3", "psi", "this is not a number"),
        ("1..2", "psi", "this is not a number"),
        ("1e400", "psi", "this is not a finite number"),
        ("120/240", "V", "no unit known"),
        ("5/2 in", "in", "no unit known"),
    ],
)
def test_what_is_no_such_quantity_is_refused_with_what_was_expected(text, unit, said):
    with pytest.raises(QuantityError) as refused:
        parse(text, unit)
    assert said in str(refused.value)
    assert refused.value.problem
    assert refused.value.mend


@pytest.mark.parametrize("text", ["10**10**10", "3 m**9", "__import__('os')", "9" * 5000, "1 " + "m" * 5000, "2 ft(3)"])
def test_a_sum_is_never_worked_out(text):
    with pytest.raises(QuantityError):
        parse(text, "ft")


@given(unit=st.sampled_from(sorted(UNITS)), value=NUMBERS)
def test_a_number_alone_is_in_the_unit_asked_for(unit, value):
    assert parse(repr(value), unit) == value


@given(us=st.sampled_from(sorted(SI_FOR)), value=NUMBERS)
def test_what_a_metric_reader_types_is_what_the_library_says_it_is(us, value):
    si = SI_FOR[us]
    theirs = REGISTRY.Quantity(value, ORACLE[si][0]).to(ORACLE[us][0]).magnitude
    assert parse(f"{value!r} {SIGNS.get(si, si)}", us) == pytest.approx(theirs, rel=1e-8, abs=1e-6)


@given(unit=st.sampled_from(sorted(SI_FOR)), value=NUMBERS)
def test_a_quantity_shown_in_metric_units_and_typed_back_is_the_same(unit, value):
    shown, si = to_reader(value, unit, True)
    assert parse(f"{shown!r} {SIGNS.get(si, si)}", unit) == pytest.approx(value, rel=1e-8, abs=1e-6)
    assert to_reader(value, unit, False) == (value, unit)


def test_each_metric_unit_measures_the_same_and_is_in_the_table():
    for us, si in SI_FOR.items():
        assert UNITS[us].si == UNITS[si].si
        assert to_si(1.0, us) == pytest.approx(to_si(from_si(to_si(1.0, us), si), si))


@pytest.mark.parametrize(
    ("text", "unit", "step"),
    [
        ("55", "psi", 1),
        ("55.0 psi", "psi", 0.1),
        ("3.8 bar", "psi", 1.45038),
        ("1/4 in", "in", 0.25),
        ("5 ft 6 in", "ft", 1 / 12),
    ],
)
def test_the_last_digit_is_worth_what_it_is_worth_in_the_unit_asked_for(text, unit, step):
    assert typed(text, unit).step == pytest.approx(step, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "unit"), [("55", ""), ("55 psi", "psi"), ("1/2 in", "in"), ("49 °C", "°C"), ("x", "x")]
)
def test_the_unit_that_something_typed_names_is_found(text, unit):
    assert unit_in(text) == unit


@pytest.mark.parametrize(("unit", "word"), [(u, w) for u, words in OWN_WORDS.items() for w in sorted(words)])
def test_every_way_a_register_writes_a_unit_is_that_unit(unit, word):
    assert parse(f"7 {word}", unit) == 7
