"""Readings as people write them, understood or refused with how to mend each."""

from datetime import date

import pytest

from inspections.entry import read_entry
from inspections.verdicts.core import ReadingError
from tests.inspections.judging import procedure


def read(check, **values):
    return read_entry(procedure(check), values)


@pytest.mark.parametrize("key", ["temp_degF", "temp_degf", "TEMP_F", "temp_F", "Temp-degF", "temp F"])
def test_a_temperature_is_found_under_each_spelling_of_its_key(key):
    assert read("cylinder", psi="4400", **{key: "45"}).values == {"psi": 4400.0, "temp_degF": 45.0}


@pytest.mark.parametrize("written", ["2600", "2,600", "2600 W", "2600w", " 2600.0 ", 2600, 2600.0])
def test_a_number_is_read_with_its_commas_and_its_unit(written):
    assert read("generator", start_tries=1, load_W=written).values["load_w"] == 2600.0


def test_the_last_digit_as_written_is_kept():
    steps = read("hold", P1_psi="3.00", T1_F="54.0", P2_psi="2.8", T2_F="49", hold_min="60").steps
    assert (steps["p1_psi"], steps["p2_psi"], steps["t2_degF"]) == (0.01, 0.1, 1.0)


@pytest.mark.parametrize(
    ("written", "psi", "step"),
    [("200 bar", 2900.7548, 14.5038), ("20 MPa", 2900.7548, 145.0377), ("2900 psi", 2900, 1)],
)
def test_a_number_with_a_unit_of_its_own_is_kept_in_the_procedures(written, psi, step):
    entry = read("cylinder", psi=written, temp_degF="20 °C")
    assert entry.values == pytest.approx({"psi": psi, "temp_degF": 68.0}, rel=1e-6)
    assert entry.steps["psi"] == pytest.approx(step, rel=1e-4)
    assert (entry.reads[0].as_entered, entry.reads[0].unit) == (written, "psi")


def test_a_reader_of_metric_units_is_refused_in_them():
    with pytest.raises(ReadingError) as refused:
        read_entry(procedure("hold"), {"p1_psi": "9 bar", "t1_degF": "warm"}, si=True)
    outside, warm = refused.value.every
    assert "outside 0.3447 to 206.8 kPa" in outside.problem
    assert "in degC" in warm.mend


@pytest.mark.parametrize(("written", "meant"), [("yes", True), ("Y", True), (True, True), ("no", False), ("N", False)])
def test_yes_and_no_are_read_however_written(written, meant):
    assert read("gfci", test_trips=written).values["test_trips"] is meant


@pytest.mark.parametrize(
    ("written", "meant"), [("none", "none"), ("No", "none"), ("yes", "seen"), ("at the valve", "at the valve")]
)
def test_an_observation_says_none_or_what_was_seen(written, meant):
    assert read("propane", gross_lb=160, soap=written).values["soap"] == meant


@pytest.mark.parametrize(
    ("written", "meant"),
    [("09/18/2024", "2024-09-18"), ("2024-09-18", "2024-09-18"), ("Mar 2024", "2024-03-01"), ("3/14/24", "2024-03-14")],
)
def test_dates_are_read_in_the_ways_registers_write_them(written, meant):
    assert read("generator", start_tries=1, fuel_date=written).values["fuel_date"] == meant


@pytest.mark.parametrize(
    ("check", "values", "key", "problem"),
    [
        ("cylinder", {"psi": "lots"}, "psi", "not a number"),
        ("cylinder", {"psi": "4400 ft"}, "psi", "is a length, and a pressure is asked for"),
        ("cylinder", {"psi": "-3"}, "psi", "outside"),
        ("cylinder", {"psi": "nan"}, "psi", "not a number"),
        ("cylinder", {"psi": float("inf")}, "psi", "finite"),
        ("cylinder", {"psi": True}, "psi", "not a number"),
        ("cylinder", {"pounds": "3"}, "pounds", "no such reading"),
        ("count", {"counted": "2.5"}, "counted", "whole"),
        ("gfci", {"test_trips": "maybe"}, "test_trips", "neither"),
        ("battery", {"ocv_v": "12.8", "chemistry": "lead"}, "chemistry", "answers"),
        ("generator", {"start_tries": "1", "fuel_date": "31/31/2020"}, "fuel_date", "not a date"),
        ("propane", {"note": "weighed later"}, "gross_lb", "nothing was read"),
        ("hold", {"P1_psi": "3", "p1_psi": "3"}, "p1_psi", "twice"),
    ],
)
def test_what_cannot_be_understood_is_refused_with_a_mend(check, values, key, problem):
    with pytest.raises(ReadingError) as refused:
        read_entry(procedure(check), values)
    assert refused.value.key == key
    assert problem in refused.value.problem
    assert refused.value.mend


def test_every_bad_reading_is_listed_at_once():
    with pytest.raises(ReadingError) as refused:
        read("hold", P1_psi="x", T1_F="hot", bogus="1")
    assert [one.key for one in refused.value.every] == ["P1_psi", "T1_F", "bogus"]


def test_every_missing_reading_is_listed_at_once():
    with pytest.raises(ReadingError) as refused:
        read("hold", P1_psi="3.0")
    assert [one.key for one in refused.value.every] == ["t1_degF", "p2_psi", "t2_degF", "hold_min"]


def test_blank_readings_are_not_given_and_a_bare_result_needs_no_number():
    assert read("hold", result="pass", P1_psi="  ", T1_F=None).values == {"result": "pass"}


def test_fuel_is_not_dated_after_its_run():
    with pytest.raises(ReadingError, match="after the check"):
        read_entry(procedure("generator"), {"fuel_date": "2026-02-01", "start_tries": 1}, today=date(2026, 1, 1))
