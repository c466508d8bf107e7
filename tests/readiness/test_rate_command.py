"""``manage.py rate``: the answer on a terminal."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.conftest import NOON

KEYS = [
    "line",
    "at",
    "known_at",
    "mission",
    "word",
    "reason",
    "probability",
    "probability_low",
    "probability_high",
    "can_do",
    "people_per_hour",
    "hours",
    "limits",
    "functions",
    "not_recorded",
    "blind_spots",
    "single_points",
    "shared_nodes",
    "next_moves",
    "next_change_at",
    "at_most",
]


def _rate(**options: object) -> str:
    out = StringIO()
    call_command("rate", stdout=out, **options)
    return out.getvalue()


def test_json_holds_the_agreed_keys(line_b):
    told = json.loads(_rate(line="Line B", json=True))
    assert [key for key in told if key in KEYS] == list(told)[: len(KEYS)]
    assert set(KEYS) <= set(told)
    assert told["next_moves"] is None


def test_a_mission_file_is_what_is_asked(line_b, tmp_path):
    asked = tmp_path / "mission.json"
    asked.write_text(json.dumps({"people_per_hour": 30, "hours": 1, "air_degF": 25}))
    told = json.loads(_rate(line="line b", mission=str(asked), json=True))
    assert (told["mission"]["people_per_hour"], told["mission"]["air_degF"]) == (30, 25)


def test_words_for_people_lead_with_what_the_line_can_do(line_b):
    assert _rate(line="Line B").startswith("Line B: 60 people an hour")


def test_a_past_instant_is_rated_as_of_then(line_b):
    told = json.loads(_rate(line="Line B", at="2026-06-01T12:00Z", json=True))
    assert told["at"] == "2026-06-01T12:00:00Z"


def test_a_bare_day_means_the_end_of_it_where_the_department_is(line_b):
    told = json.loads(_rate(line="Line B", at="2026-11-20", json=True))
    assert told["at"].startswith("2026-11-21T04:59:59")


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"line": "Line Z"}, "Lines: Line A, Line B, Line C"),
        ({"line": "Line B", "department": "Nowhere"}, "Departments: Tarn Hollow"),
        ({"line": "Line B", "at": "yesterday"}, "--at 'yesterday' is no instant"),
        ({"line": "Line B", "at": "2026-13-45"}, "is no instant"),
        ({"line": "Line B", "mission": "/nowhere/m.json"}, "/nowhere/m.json"),
    ],
)
def test_a_wrong_option_says_how_to_mend_it(line_b, options, says):
    with pytest.raises(CommandError, match=says):
        _rate(**options)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "is not JSON"),
        ("[1]", "one JSON object"),
        ('{"peeple": 1}', "peeple"),
        ('{"hours": -1}', "hours"),
        ('{"wet_min": "NaN"}', "wet_min"),
    ],
)
def test_a_mission_file_that_cannot_be_read_says_where(line_b, tmp_path, text, says):
    asked = tmp_path / "mission.json"
    asked.write_text(text)
    with pytest.raises(CommandError, match=says):
        _rate(line="Line B", mission=str(asked))


def test_two_departments_with_one_name_of_line_are_told_apart(line_b, other_department):
    other_department.lines.create(name="Line B")
    with pytest.raises(CommandError, match="--department"):
        _rate(line="Line B")
    assert _rate(line="Line B", department=line_b.department.name, at=NOON.isoformat())
