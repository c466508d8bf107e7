"""Seals: a number found unbroken stands for a recount of what is inside, and for nothing else."""

import uuid
from datetime import timedelta

import pytest

from inventory.models import Place, Posting, Seal
from inventory.queries import seals, standing_of_department
from inventory.services import record_count, record_posting, record_seal
from shared.api import AlreadySent, Conflict
from tests.conftest import ID_1, NOON
from tests.flows.bays import load, make_line, make_lot, make_place

pytestmark = pytest.mark.django_db
MONTH_AGO, WEEK_AGO, DAY_AGO = (NOON - timedelta(days=days) for days in (31, 7, 1))
Event = Seal.Event


@pytest.fixture
def trunk(department):
    load(department)
    return make_place(department, "Trunk 3", sort=Place.Sort.CONTAINER, within=make_place(department))


@pytest.fixture
def towels(department, trunk):
    lot = make_lot(department)
    _post(lot, trunk, Posting.Reason.MOVED, MONTH_AGO - timedelta(days=1), change=0)
    return lot


def _post(lot, place, reason, at, change):
    line = make_line(lot.department)
    signed = {"department": lot.department, "by_name": "Quinn", "happened_at": at}
    return record_posting(lot=lot, change=change, reason=reason, place=place, line=line, **signed)


def _count(lot, at, counted=96):
    signed = {"department": lot.department, "by_name": "Quinn", "happened_at": at}
    return record_count(lot=lot, line=make_line(lot.department), counted=counted, **signed)


def _seal(place, event, at, number="TH 4471", **more):
    signed = {"department": place.department, "by_name": "Quinn", "happened_at": at, "client_id": uuid.uuid4()}
    return record_seal(place=place, event=event, number=number, **signed | more)


def _towels(lot, at=NOON):
    """Return how many there are, and the day somebody vouched for that."""
    known = NOON.replace(year=2099)
    found = next(s for s in standing_of_department(lot.department, at, known).lots if s.lot == lot)
    return found.on_hand, found.counted_on


def test_a_seal_found_unbroken_makes_the_last_count_as_fresh_as_that(towels, trunk):
    _count(towels, MONTH_AGO)
    _seal(trunk, Event.APPLIED, MONTH_AGO + timedelta(minutes=5))
    assert _towels(towels) == (96, MONTH_AGO.date())
    _seal(trunk, Event.INTACT, DAY_AGO, "th-4471")
    assert _towels(towels) == (96, DAY_AGO.date())
    assert _towels(towels, at=WEEK_AGO) == (96, MONTH_AGO.date())


def test_a_seal_vouches_for_no_register_figure(towels, trunk):
    _seal(trunk, Event.APPLIED, MONTH_AGO)
    _seal(trunk, Event.INTACT, DAY_AGO)
    assert _towels(towels)[1] is None


def test_another_number_stands_for_nothing_and_ends_the_old_seal(towels, trunk, department):
    _count(towels, MONTH_AGO)
    _seal(trunk, Event.APPLIED, MONTH_AGO)
    _seal(trunk, Event.INTACT, WEEK_AGO, "TH 9999")
    _seal(trunk, Event.INTACT, DAY_AGO)
    assert _towels(towels)[1] == MONTH_AGO.date()
    held = seals(department, NOON, NOON.replace(year=2099))[trunk.pk]
    assert not held.number
    assert "TH 9999" in held.doubt


@pytest.mark.parametrize("number", ["TH 4471", "another"])
def test_a_broken_seal_ends_it_until_a_new_count_and_a_new_seal(towels, trunk, number):
    _count(towels, MONTH_AGO)
    _seal(trunk, Event.APPLIED, MONTH_AGO)
    _seal(trunk, Event.BROKEN, WEEK_AGO, number)
    _seal(trunk, Event.INTACT, DAY_AGO)
    assert _towels(towels)[1] == MONTH_AGO.date()
    _count(towels, DAY_AGO, 60)
    _seal(trunk, Event.APPLIED, DAY_AGO, "TH 4472")
    _seal(trunk, Event.INTACT, NOON, "TH 4472")
    assert _towels(towels) == (60, NOON.date())


def test_what_was_posted_after_sealing_is_not_vouched_for(towels, trunk):
    _count(towels, MONTH_AGO)
    _seal(trunk, Event.APPLIED, MONTH_AGO)
    _post(towels, None, Posting.Reason.USED, WEEK_AGO, change=-10)
    _seal(trunk, Event.INTACT, DAY_AGO)
    assert _towels(towels) == (86, MONTH_AGO.date())


def test_what_was_counted_after_sealing_is_not_vouched_for(towels, trunk):
    _seal(trunk, Event.APPLIED, MONTH_AGO)
    _count(towels, WEEK_AGO)
    _seal(trunk, Event.INTACT, DAY_AGO)
    assert _towels(towels) == (96, WEEK_AGO.date())


def test_a_seal_around_the_container_vouches_too(towels, trunk, department):
    outer = make_place(department, "Cage", sort=Place.Sort.CONTAINER)
    Place.objects.filter(pk=trunk.pk).update(within=outer)
    _count(towels, MONTH_AGO)
    _seal(outer, Event.APPLIED, MONTH_AGO)
    _seal(outer, Event.INTACT, DAY_AGO)
    assert _towels(towels)[1] == DAY_AGO.date()


def test_a_seal_sent_twice_is_recorded_once_and_other_content_is_said(trunk):
    for _ in range(2):
        _seal(trunk, Event.APPLIED, NOON, client_id=ID_1)
    assert Seal.objects.count() == 1
    with pytest.raises(AlreadySent):
        _seal(trunk, Event.BROKEN, NOON, client_id=ID_1)


def test_only_a_container_of_ones_own_is_sealed_under_a_number(trunk, department, other_department):
    with pytest.raises(Conflict, match="no container"):
        _seal(make_place(department), Event.APPLIED, NOON)
    with pytest.raises(Conflict, match="number"):
        _seal(trunk, Event.APPLIED, NOON, "  ")
    with pytest.raises(Conflict, match="no event"):
        _seal(trunk, "melted", NOON)
    with pytest.raises(Conflict, match="another department"):
        _seal(trunk, Event.APPLIED, NOON, department=other_department)
