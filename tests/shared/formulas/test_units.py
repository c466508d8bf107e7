import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared import units
from shared.units import UNITS, UnitError, from_si, to_si
from tests.check_values.references.units import ORACLE, REGISTRY

NUMBERS = st.floats(-1e9, 1e9, allow_nan=False)


def test_each_unit_of_the_table_is_held_to_the_independent_one():
    assert set(ORACLE) == set(UNITS)


@pytest.mark.parametrize("unit", sorted(ORACLE))
@pytest.mark.parametrize("value", [0.0, 1.0, 98.6])
def test_a_unit_converts_as_an_independent_table_says(unit, value):
    theirs, si = ORACLE[unit]
    assert to_si(value, unit) == pytest.approx(REGISTRY.Quantity(value, theirs).to(si).magnitude, rel=1e-9)


@given(unit=st.sampled_from(sorted(UNITS)), value=NUMBERS)
def test_there_and_back_is_the_same_number(unit, value):
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(unit=st.sampled_from(sorted(UNITS)), values=st.lists(NUMBERS, min_size=1, max_size=6))
def test_an_array_converts_as_its_numbers_do(unit, values):
    assert to_si(np.array(values), unit).tolist() == [to_si(value, unit) for value in values]
    assert from_si(np.array(values), unit).tolist() == [from_si(value, unit) for value in values]


def test_a_thermometer_reading_and_a_difference_are_not_confused():
    assert to_si(32.0, "degF") == pytest.approx(273.15)
    assert to_si(18.0, "ddegF") == pytest.approx(10.0)
    assert from_si(0.0, "degF") == pytest.approx(-459.67)


@pytest.mark.parametrize("unit", ["barn", "PSI", "", None, ["ft"]])
def test_an_unknown_unit_is_named_together_with_the_known_ones(unit):
    for convert in (to_si, from_si):
        with pytest.raises(UnitError) as caught:
            convert(1.0, unit)
        assert repr(unit) in str(caught.value)
        assert "gpm" in str(caught.value)
        assert "BTU/h" in str(caught.value)
    assert issubclass(UnitError, ValueError)


def test_the_table_cannot_be_changed():
    with pytest.raises(TypeError):
        units.UNITS["psi"] = units.Unit(1.0, "Pa")


def test_the_units_the_catalogue_is_written_in_are_all_known():
    written = {
        "psi",
        "psig",
        "psia",
        "degF",
        "ddegF",
        "ft",
        "in",
        "gal",
        "gpm",
        "lb",
        "BTU",
        "BTU/h",
        "ft3",
        "h",
        "min",
    }
    written |= {"s", "W", "V", "A", "Ah", "percent", "ratio", "mL", "month"}
    assert written <= set(UNITS)
    assert all(math.isfinite(unit.factor) and unit.factor > 0 for unit in UNITS.values())
