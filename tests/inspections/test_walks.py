"""Walks: taken up by somebody else half done, signed by whoever walked last, and how well they were walked."""

import uuid
from datetime import timedelta

import pytest

from inspections import services
from inspections.models import Walk, WalkTakeUp
from inspections.queries import open_walks, quality, quality_of, walker
from shared.api import AlreadySent, Conflict
from tests.conftest import ID_1
from tests.flows.bays import HOLD, ago, load, make_item, make_line, make_place, record

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelter(department):
    load(department)
    make_line(department)
    return make_item(department, "shelter", "SH-01")


@pytest.fixture
def walk(shelter, casey):
    return services.open_walk(
        department=casey.department, place=make_place(casey.department), by=casey, started_at=ago(hours=2),
        client_id=uuid.uuid4(),
    )  # fmt: skip


def take_up(walk, by, at=None, client_id=None):
    return services.take_up_walk(
        department=by.department, walk=walk, by=by, by_name=by.signed_name, happened_at=at or ago(hours=1),
        client_id=client_id or uuid.uuid4(),
    )  # fmt: skip


def sign(walk, by, at=None):
    return services.sign_walk(walk=walk, by=by, signed_name=by.signed_name, signed_at=at or ago(minutes=1))


# Taken up ----------------------------------------------------------------------------------------------------------


def test_whoever_took_a_walk_up_last_signs_it(walk, shelter, casey, avery):
    record(shelter, "look", {"damage": "none"}, walk=walk)
    take_up(walk, avery)
    assert walker(walk)[0] == avery
    with pytest.raises(Conflict, match="Avery"):
        sign(walk, casey)
    assert sign(walk, avery).signed_name == "Avery"


def test_a_walk_is_taken_back(walk, casey, avery):
    take_up(walk, avery, ago(minutes=30))
    take_up(walk, casey, ago(minutes=20))
    assert walker(walk)[0] == casey


def test_what_the_first_walker_still_sends_stays_on_the_walk(walk, shelter, avery):
    take_up(walk, avery)
    assert record(shelter, "look", {"damage": "none"}, walk=walk).walk == walk


def test_a_signed_walk_is_not_taken_up(walk, shelter, casey, avery):
    record(shelter, "look", {"damage": "none"}, walk=walk)
    sign(walk, casey)
    with pytest.raises(Conflict, match="Casey has signed"):
        take_up(walk, avery)


def test_taking_up_sent_twice_is_recorded_once_and_never_for_somebody_else(walk, casey, avery):
    for _ in range(2):
        take_up(walk, avery, client_id=ID_1)
    assert WalkTakeUp.objects.count() == 1
    with pytest.raises(AlreadySent):
        take_up(walk, casey, client_id=ID_1)


def test_another_departments_walk_is_not_taken_up(walk, sam):
    with pytest.raises(Conflict, match="another department"):
        take_up(walk, sam)


def test_open_walks_say_whose_they_are(walk, avery, department):
    take_up(walk, avery)
    found = open_walks(department).get()
    assert (found.taken_by, found.taken_name, found.by.signed_name) == (avery.pk, "Avery", "Casey")
    Walk.objects.filter(pk=walk.pk).update(signed_at=ago(minutes=1))
    assert not open_walks(department).exists()


# Quality -----------------------------------------------------------------------------------------------------------


def sorts(flags):
    return [flag.sort for flag in flags]


def test_a_walk_as_it_should_be_has_no_flag(walk, shelter):
    record(shelter, "hold", HOLD, happened_at=ago(days=30))
    record(shelter, "hold", HOLD | {"p2_psi": "2.51"}, walk=walk, started_at=ago(hours=1, minutes=70))
    assert quality(walk) == []


def test_readings_alike_to_the_last_digit_are_flagged_though_what_is_set_is_always_alike(walk, shelter):
    record(shelter, "hold", HOLD, happened_at=ago(days=30))
    row = record(shelter, "hold", HOLD, walk=walk)
    (flag,) = quality(walk)
    assert (flag.sort, flag.inspection) == ("alike", row)
    assert "to the last digit" in flag.text
    assert sorts(quality_of(row)) == ["alike"]


def test_the_same_answers_without_a_number_are_no_copy(walk, shelter):
    record(shelter, "look", {"damage": "none"}, happened_at=ago(days=30))
    record(shelter, "look", {"damage": "none"}, walk=walk)
    assert quality(walk) == []


def test_a_measured_check_of_seconds_is_flagged_and_a_look_of_seconds_is_not(walk, shelter):
    at = ago(minutes=50)
    record(shelter, "look", {"damage": "none"}, walk=walk, happened_at=at, started_at=at - timedelta(seconds=9))
    assert quality(walk) == []
    record(shelter, "hold", HOLD, walk=walk, happened_at=at, started_at=at - timedelta(seconds=40))
    assert sorts(quality(walk)) == ["quick"]
    assert "within a minute" in quality(walk)[0].text


def test_a_walk_of_seconds_is_flagged(shelter, casey):
    begun = ago(minutes=5)
    walk = services.open_walk(
        department=casey.department, place=make_place(casey.department), by=casey, started_at=begun, client_id=ID_1
    )
    record(shelter, "look", {"damage": "none"}, walk=walk, happened_at=begun + timedelta(seconds=20))
    sign(walk, casey, begun + timedelta(seconds=45))
    walk.refresh_from_db()
    assert [flag.text for flag in quality(walk)] == ["The whole walk took 45 seconds for 1 check."]


@pytest.mark.parametrize(("back", "said"), [(180, "before this walk began"), (10, "after this walk was signed")])
def test_a_time_outside_the_visit_is_flagged(walk, shelter, casey, back, said):
    record(shelter, "look", {"damage": "none"}, walk=walk, happened_at=ago(minutes=back))
    sign(walk, casey, ago(minutes=60))
    walk.refresh_from_db()
    (flag,) = quality(walk)
    assert flag.sort == "outside"
    assert said in flag.text


def test_the_flags_of_a_walk_cost_the_same_queries_however_long_it_is(
    walk, shelter, department, django_assert_max_num_queries
):
    for number in range(8):
        item = make_item(department, "shelter", f"SH-1{number}")
        record(item, "hold", HOLD, happened_at=ago(days=30))
        record(item, "hold", HOLD, walk=walk)
    with django_assert_max_num_queries(4):
        assert len(quality(walk)) == 8
