"""Snaps: the draw and its weights, what may be called, and what an answer proves."""

import uuid
from collections import Counter
from datetime import timedelta

import pytest
from django.utils import timezone

from inspections.models import Inspection, Snap
from inspections.queries.snaps import candidates, drawn, open_snaps, redraw, snap_states
from inspections.services import record_inspection, take_out_by_hand
from inspections.services.runs import send_line
from inspections.services.snaps import answer_snap, draw_snap
from inventory.queries import standing_of_items
from shared.api import Conflict
from tests.flows.bays import ago, load, make_item, make_line, record

pytestmark = pytest.mark.django_db
TRIPS = {"test_trips": "yes", "resets": "yes", "ground_ohm": "0.2"}


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


def signed(user):
    return {"department": user.department, "by": user, "by_name": user.display_name}


def draw(user, seed="7", **more):
    said = {"happened_at": ago(minutes=2), "client_id": uuid.uuid4()} | more
    return draw_snap(seed=seed, **signed(user), **said)


def answer(snap, user, **more):
    said = {"happened_at": timezone.now(), "client_id": uuid.uuid4()} | more
    return answer_snap(snap=snap, **signed(user), **said)


def found_now(cache):
    now = timezone.now()
    return candidates(cache, now, now)


def state_of(snap, at=None):
    now = timezone.now()
    return snap_states([snap], at or now, now)[0]


def test_the_least_proven_weigh_most(cache):
    known, unknown = make_item(cache, "gfci", "GF-01"), make_item(cache, "gfci", "GF-02")
    record(known, "gfci", TRIPS)
    shares = {one.item.tag: one.share for one in found_now(cache)}
    assert shares["GF-02"] > 3 * shares["GF-01"]
    assert sum(shares.values()) == pytest.approx(1)
    assert {one.word for one in found_now(cache) if one.item == unknown} == {"never proven"}


def test_a_draw_follows_from_its_seed_and_in_the_long_run_from_the_weights(cache):
    record(make_item(cache, "gfci", "GF-01"), "gfci", TRIPS)
    make_item(cache, "gfci", "GF-02")
    found = found_now(cache)
    assert all(drawn(found, "a").item == drawn(found, "a").item for _ in range(5))
    tally = Counter(drawn(found, str(n)).item.tag for n in range(2000))
    expected = {one.item.tag: 2000 * one.share for one in found}
    assert all(abs(tally[tag] - number) < 100 for tag, number in expected.items())


def test_a_draw_can_be_repeated_from_its_record_whatever_came_after(cache, quinn):
    for n in range(8):
        make_item(cache, "light_strip", f"LT-{n:02}")
    snap = draw(quinn, seed="september")
    record(snap.item, snap.check_key, {"lit": "20", "total": "20"}, happened_at=timezone.now())
    make_item(cache, "light_strip", "LT-99")
    then, again = redraw(snap)
    assert (again.item, again.check_key, len(then)) == (snap.item, snap.check_key, snap.pool)
    assert again.share == pytest.approx(snap.weight)


def test_what_burns_holds_pressure_or_turns_an_engine_is_only_fetched_and_looked_at(cache):
    for kind, tag in (("heater", "WH-01"), ("generator", "GN-01"), ("shelter", "SH-01"), ("pump", "PU-01")):
        make_item(cache, kind, tag)
    for kind, tag in (("propane", "LP-01"), ("air_cylinder", "AC-01"), ("inflation_kit", "IK-01")):
        make_item(cache, kind, tag)
    assert {one.item.tag: one.check_key for one in found_now(cache)} == {
        "GN-01": "look", "PU-01": "look", "SH-01": "look", "WH-01": "look",
    }  # fmt: skip


def test_what_is_out_of_service_out_on_a_run_or_called_already_is_not_drawn(cache, quinn):
    broken, away = make_item(cache, "gfci", "GF-01"), make_item(cache, "gfci", "GF-02", line="Line B")
    here = make_item(cache, "gfci", "GF-03")
    take_out_by_hand(item=broken, reason="cracked", happened_at=ago(hours=1), client_id=uuid.uuid4(), **signed(quinn))
    send_line(
        line=make_line(cache, "Line B"), sort="drill", title="Drill", accepted_by="Dana", happened_at=ago(hours=1),
        client_id=uuid.uuid4(), **signed(quinn),
    )  # fmt: skip
    assert [one.item for one in found_now(cache)] == [here]
    draw(quinn)
    assert away not in [one.item for one in found_now(cache)]
    with pytest.raises(Conflict, match="Nothing can be drawn"):
        draw(quinn)


def test_the_same_draw_sent_twice_draws_once(cache, quinn):
    make_item(cache, "gfci", "GF-01")
    key = uuid.uuid4()
    assert draw(quinn, client_id=key) == draw(quinn, client_id=key)
    assert Snap.objects.count() == 1


def test_in_hand_is_a_sighting_and_the_check_made_for_it_answers_it(cache, quinn, casey):
    item = make_item(cache, "gfci", "GF-01")
    snap = draw(quinn)
    answer(snap, casey, in_hand_at=ago(minutes=1))
    assert Inspection.objects.get(check_key="look").by == casey
    assert state_of(snap).word(timezone.now()) == "in hand"
    row = record(item, "gfci", TRIPS, by_name="Casey", happened_at=timezone.now())
    state = state_of(snap)
    assert (state.inspection, state.is_over, state.working_at) == (row, True, row.happened_at)
    now = timezone.now()
    assert not open_snaps(cache, now, now).exists()
    with pytest.raises(Conflict, match="over"):
        answer(snap, casey, working_at=timezone.now())


def test_a_check_made_before_the_call_or_another_check_answers_nothing(cache, quinn):
    item = make_item(cache, "gfci", "GF-01")
    snap = draw(quinn)
    record(item, "gfci", TRIPS, happened_at=ago(hours=1))
    record(item, "look", {"seen": "yes"}, happened_at=timezone.now())
    assert not state_of(snap).is_over


def test_what_is_not_found_counts_as_absent_with_a_note_to_follow_up(cache, quinn, casey):
    item = make_item(cache, "gfci", "GF-01")
    snap = draw(quinn)
    with pytest.raises(Conflict, match="where it was looked for"):
        answer(snap, casey, found=False)
    answer(snap, casey, found=False, note="Not on its hook, not in the trailer.")
    now = timezone.now()
    assert standing_of_items([item], now, now)[item.pk].state == "absent"
    assert "Not on its hook" in Inspection.objects.get().remark
    assert state_of(snap).word(now) == "not found"


def test_times_before_the_call_or_out_of_order_are_refused(cache, quinn):
    make_item(cache, "gfci", "GF-01")
    snap = draw(quinn)
    for wrong in ({"in_hand_at": ago(hours=1)}, {}, {"in_hand_at": ago(seconds=30), "working_at": ago(seconds=60)}):
        with pytest.raises(Conflict):
            answer(snap, quinn, **wrong)


def test_a_snap_is_overdue_when_its_minutes_are_up(cache, quinn):
    make_item(cache, "gfci", "GF-01")
    snap = draw(quinn)
    assert not state_of(snap).is_overdue(snap.happened_at + timedelta(minutes=4))
    assert state_of(snap).is_overdue(snap.happened_at + timedelta(minutes=6))


def test_another_departments_snap_is_not_answered(cache, quinn, sam):
    make_item(cache, "gfci", "GF-01")
    snap = draw(quinn)
    with pytest.raises(Conflict):
        answer(snap, sam, in_hand_at=timezone.now())


def test_a_reading_that_fails_answers_the_snap_as_well_and_nothing_is_said_to_work(cache, quinn):
    item = make_item(cache, "light_strip", "LT-01")
    snap = draw(quinn)
    assert (snap.item, snap.check_key, snap.pool, snap.weight) == (item, "light", 1, 1.0)
    record_inspection(
        check_key="light", item=item, values={"lit": "10", "total": "20"}, happened_at=timezone.now(),
        client_id=uuid.uuid4(), **signed(quinn),
    )  # fmt: skip
    state = state_of(snap)
    assert (state.inspection.verdict, state.working_at) == ("fail", None)
