"""The catalogue over the API: another version of a procedure, and calibrations."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from inspections.models import Calibration, Procedure
from tests.flows.api import at, problem_of, signed
from tests.flows.bays import load, make_item

pytestmark = pytest.mark.django_db


@pytest.fixture
def cache(department):
    return load(department)


def amendment(cache, **changes):
    row = Procedure.objects.get(department=cache, check_key="hold")
    told = {"check_key": "hold", "base": row.version, "effective_on": timezone.localdate().isoformat()}
    return told | {"definition": row.definition | {"restores": "Send it to the maker."}} | changes


def test_an_officer_puts_another_version_in_force_and_it_is_read_from_then_on(cache, quinn):
    answer = signed(quinn).post(at("procedures"), amendment(cache), format="json")
    assert (answer.status_code, answer.json()["version"]) == (201, 2)
    listed = signed(quinn).get(at("procedures"), {"check_key": "hold"}).json()["results"]
    assert [(row["version"], row["definition"]["restores"]) for row in listed] == [(2, "Send it to the maker.")]


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({"definition": {"inputs": []}}, 409),
        ({"definition": {"inputs": "all"}}, 400),
        ({"definition": {"steps": [1, 2]}}, 400),
        ({"definition": {"steps": [{"text": "Do.", "inputs": "x"}]}}, 400),
        ({"definition": {"void_when": "rain"}}, 400),
        ({"definition": {"inputs": [{"label": ["a"], "type": "number", "pass_low": {"a": 1}}]}}, 400),
        ({"definition": {"inputs": [{"key": [], "label": "a"}]}}, 400),
        ({"definition": {"inputs": [{"label": "a", "modes": 5}]}}, 400),
        ({"definition": {"steps": [{"text": "Do.", "inputs": [[]]}]}}, 400),
        ({"base": 7}, 409),
        ({"check_key": "no"}, 409),
        ({"effective_on": "2001-01-01"}, 409),
    ],
)
def test_what_cannot_stand_is_refused_in_the_one_shape_and_changes_nothing(cache, quinn, changes, status):
    answer = signed(quinn).post(at("procedures"), amendment(cache, **changes), format="json")
    assert answer.status_code == status, answer.content
    assert problem_of(answer)
    assert Procedure.objects.filter(check_key="hold").count() == 1


def test_crew_may_not(cache, casey):
    assert signed(casey).post(at("procedures"), amendment(cache), format="json").status_code == 403


def test_a_calibration_is_recorded_once_and_listed(cache, quinn):
    gauge = make_item(cache, "meters", "GA-01")
    sent = {
        "client_id": str(uuid.uuid4()), "item": gauge.pk, "quantity": "pressure", "reference": "dead weight",
        "error": 0.02, "unit": "psi", "accepted": True,
        "due_on": (timezone.localdate() + timedelta(days=365)).isoformat(),
    }  # fmt: skip
    codes = [signed(quinn).post(at("calibrations"), sent, format="json").status_code for _ in range(2)]
    assert codes == [201, 200]
    other = signed(quinn).post(at("calibrations"), sent | {"accepted": False}, format="json")
    assert other.status_code == 409
    listed = signed(quinn).get(at("calibrations"), {"item": gauge.pk}).json()["results"]
    assert [(row["quantity"], row["error"], row["by_name"]) for row in listed] == [("pressure", 0.02, "Quinn")]
    assert Calibration.objects.count() == 1
