"""A mission: its keys, defaults and refusals."""

import math

import pytest

from readiness.rating.mission import DEFAULTS, Mission, MissionError, standard_mission

EXAMPLE = {
    "people_per_hour": 60,
    "hours": 3,
    "air_degF": 20,
    "supply_degF": 40,
    "shower_degF": 98,
    "least_shower_degF": 80,
    "wet_min": 1.5,
    "handover_min": 0.5,
    "lane_flow_gpm": 4,
    "night": True,
    "non_walking_share": 0,
    "child_share": 0.15,
    "xl_share": 0.1,
    "supply_psi": 55,
    "supply_gpm": 30,
    "elevation_ft": 0,
    "tanker_at_min": None,
    "tanker_gal": None,
    "space_heat": False,
}


def problems(body):
    with pytest.raises(MissionError) as caught:
        Mission.from_json(body)
    return dict(caught.value.problems)


def test_a_mission_file_comes_back_as_it_was_written():
    assert Mission.from_json(EXAMPLE).as_json() == EXAMPLE
    assert list(Mission.from_json(EXAMPLE).as_json()) == list(EXAMPLE)


def test_the_same_mission_gives_the_same_bytes_however_it_was_typed():
    assert repr(Mission.from_json({"people_per_hour": 60.0}).as_json()) == repr(Mission().as_json())


def test_every_key_has_a_default_with_unit_source_and_note():
    assert set(DEFAULTS) == set(EXAMPLE)
    assert all(unit and source and note for _, unit, source, note in DEFAULTS.values())
    assert Mission.from_json({}).as_json() == {key: row[0] for key, row in DEFAULTS.items()}


def test_an_unknown_key_is_refused_with_the_key_that_may_be_meant():
    assert "air_degF" in problems({"air_temp": 20})["air_temp"]


def test_everything_wrong_is_said_at_once_with_how_to_mend_it():
    found = problems({"people_per_hour": "60", "hours": math.nan, "night": 1, "wet_min": -1, "colour": "red"})
    assert set(found) == {"people_per_hour", "hours", "night", "wet_min", "colour"}
    assert "without quotes" in found["people_per_hour"]
    assert "0.25 to 72 h" in found["hours"]
    assert "neither true nor false" in found["night"]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, True, None, [], "3"])
def test_hours_must_be_a_finite_number(value):
    assert set(problems({"hours": value})) == {"hours"}


def test_settings_that_contradict_each_other_are_refused():
    assert "least_shower_degF" in problems({"least_shower_degF": 99})
    assert "child_share" in problems({"child_share": 0.7, "xl_share": 0.4})
    assert "tanker_gal" in problems({"tanker_gal": 500})


def test_two_lanes_at_90_seconds_make_60_an_hour_and_6_gallons_a_person():
    mission = Mission()
    assert mission.lanes == 2
    assert mission.cycle_min == 2.0
    assert mission.person_m3 / 3.785411784e-3 == pytest.approx(6.0)


def test_at_5_minutes_wet_two_lanes_make_21_point_8_an_hour_and_20_gallons_a_person():
    mission = Mission(wet_min=5)
    assert 2 * 60 / mission.cycle_min == pytest.approx(21.8, abs=0.05)
    assert mission.lanes == math.ceil(60 * 5.5 / 60) == 6
    assert mission.person_m3 / 3.785411784e-3 == pytest.approx(20.0)


def test_a_two_lane_line_is_rated_with_a_tanker_by_60_minutes_and_one_lane_without():
    assert standard_mission(2) == Mission(people_per_hour=60, hours=3, air_degF=40, tanker_at_min=60)
    assert standard_mission(1) == Mission(people_per_hour=30, hours=3, air_degF=40)
