"""Hidden test faults: where they may be, what they withhold, who may know, and how many the checks find."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from inspections import queries
from inspections.models import PlantEvent
from inspections.planting import may_be_planted, why_not
from inspections.queries.plants import detection, known_to, withheld
from inspections.services import record_inspection
from inspections.services.plants import (
    PlantsAboard,
    plant_fault,
    remove_plant,
    show_at_send,
    show_long_hidden,
)
from inspections.services.runs import send_line
from inventory.models import ItemKind
from readiness import queries as answers
from readiness.rating.as_json import as_json
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from shared.api import Conflict
from shared.models import Notice
from tests.flows.bays import ago, load, make_item, make_line, make_row

pytestmark = pytest.mark.django_db
GOOD = {"bubbles": "none", "psi": "0.9", "hold_min": "15", "valves_turn": "yes", "vent_passes": "yes"}
BAD = GOOD | {"bubbles": "seen"}


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


@pytest.fixture
def light(cache):
    return make_item(cache, "light_strip", "LT-01")


def signed(user):
    return {"department": user.department, "by": user, "by_name": user.display_name}


def plant(item, user, check_key="light", mode_code="LT1", **more):
    said = {"what": "two segments unplugged behind the reel", "happened_at": ago(hours=3), "client_id": uuid.uuid4()}
    return plant_fault(item=item, check_key=check_key, mode_code=mode_code, **signed(user), **said | more)


def light_check(item, user, lit, at=None, **more):
    values = {"lit": str(lit), "total": "20"}
    return record_inspection(
        check_key="light", item=item, values=values, happened_at=at or ago(hours=1), client_id=uuid.uuid4(),
        **signed(user), **more,
    )  # fmt: skip


def events_of(row):
    return list(row.events.order_by("pk").values_list("event", flat=True))


def remove(row, user, **more):
    said = {"happened_at": ago(minutes=30), "client_id": uuid.uuid4()} | more
    return remove_plant(plant=row, by=user, by_name=user.display_name, **said)


# Where ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "check_key", "mode_code"),
    [
        ("heater", "heat", "WH1"), ("propane", "propane", "LP3"), ("gfci", "gfci", "PW1"), ("cord", "gfci", "PW2"),
        ("air_cylinder", "cylinder", "AC1"), ("inflation_kit", "cylinder_kit", "CI1"), ("shelter", "relief", "RV1"),
        ("inflator", "gfci", "IN4"), ("generator", "setup", "GN3"), ("heater", "look", "WH8"),
    ],
)  # fmt: skip
def test_never_on_gas_relief_valves_gfcis_cylinders_or_regulators(cache, quinn, kind, check_key, mode_code):
    item = make_item(cache, kind, "X-01")
    with pytest.raises(Conflict, match="No test fault"):
        plant(item, quinn, check_key, mode_code)
    assert withheld(cache, timezone.now(), timezone.now()) == frozenset()


def test_every_mode_that_may_be_planted_is_seen_by_its_check_and_none_is_of_the_forbidden(cache):
    offered = {kind.key: may_be_planted(kind.key, kind.checks) for kind in ItemKind.objects.filter(department=cache)}
    assert not any(offered[kind] for kind in ("heater", "propane", "regulator", "gfci", "cord", "air_cylinder"))
    assert not any(code[:2] in ("RV", "LP", "WH", "AC", "CI", "PW") for rows in offered.values() for _, code in rows)
    assert ("light", "LT1") in offered["light_strip"]
    assert why_not("pump", "SP1") == ""


def test_only_on_what_counts_once_and_by_a_check_that_sees_it(light, quinn, cache, sam):
    with pytest.raises(Conflict, match="does not see"):
        plant(light, quinn, "light", "SP1")
    with pytest.raises(Conflict, match="exactly"):
        plant(light, quinn, what=" ")
    with pytest.raises(Conflict):
        plant(light, sam)
    plant(light, quinn)
    with pytest.raises(Conflict, match="already"):
        plant(light, quinn)


# What it withholds ---------------------------------------------------------------------------------------------------


def test_a_planted_item_counts_zero_and_reads_as_if_nothing_were(cache, light, quinn):
    make_item(cache, "light_strip", "LT-02")
    line = make_line(cache)
    make_row(line, "light_strip", quantity=2, needed=2)

    def rated():
        now = timezone.now()
        return rate(answers.gather(line, now, now), Mission())

    def light_row(rating):
        return next(row for row in rating.functions if row.function == "light")

    before = rated()
    row = plant(light, quinn)
    after = rated()
    assert light_row(after).have < light_row(before).have
    mine = {item.tag: item for item in light_row(after).items}
    assert mine["LT-01"].state == "in service"
    assert [i.capacity for i in light_row(after).items] == [i.capacity for i in light_row(before).items]
    told = str(as_json(after))
    assert "plant" not in told
    assert row.what not in told
    assert not any("LT-01" in named for limit in after.limits for named in (*limit.not_counted, limit.item))


def test_what_hangs_on_a_planted_item_is_withheld_without_naming_it(cache, quinn):
    from inventory.models import SharedNode

    generator, pump = make_item(cache, "generator", "GN-01"), make_item(cache, "pump", "PU-01")
    line = make_line(cache)
    node = SharedNode.objects.create(
        department=cache, line=line, name="cord reel", sort="cord", item=generator, effective_on=ago(days=9).date()
    )
    node.members.add(pump)
    plant(generator, quinn, "generator", "GN1")
    now = timezone.now()
    rating = rate(answers.gather(line, now, now), Mission())
    assert "hangs on GN-01" not in str(as_json(rating))
    waste = next(row for row in rating.functions if row.function == "waste")
    assert waste.have == 0


def test_past_answers_withhold_it_from_when_it_was_planted_and_no_earlier(cache, light, quinn):
    plant(light, quinn, happened_at=ago(hours=3))
    now = timezone.now()
    assert withheld(cache, ago(hours=2), now) == {light.pk}
    assert withheld(cache, ago(hours=4), now) == frozenset()
    assert withheld(cache, ago(hours=2), ago(hours=2)) == frozenset()


# Found, missed, removed, proven --------------------------------------------------------------------------------------


def test_a_check_that_fails_the_planted_mode_has_found_it(light, quinn, casey):
    row = plant(light, quinn)
    inspection = light_check(light, casey, 12)
    assert events_of(row) == ["found"]
    assert row.events.get().inspection == inspection


def test_a_check_that_passes_it_has_missed_it_and_a_void_or_other_check_says_nothing(light, quinn, casey):
    row = plant(light, quinn)
    light_check(light, casey, 20)
    record_inspection(
        check_key="look", item=light, values={"seen": "yes"}, happened_at=ago(hours=1), client_id=uuid.uuid4(),
        **signed(casey),
    )  # fmt: skip
    light_check(light, casey, 20, at=ago(hours=5))  # before it was planted
    assert events_of(row) == ["missed"]


def test_it_stays_at_zero_until_it_is_removed_by_name_and_the_same_check_passes(light, quinn, casey, cache):
    row = plant(light, quinn)
    light_check(light, casey, 12)

    def is_zero():
        return light.pk in withheld(cache, timezone.now(), timezone.now())

    light_check(light, casey, 20, at=ago(minutes=50))
    assert is_zero(), "a pass before it is removed proves nothing"
    remove(row, quinn)
    assert is_zero()
    light_check(light, quinn, 20, at=ago(minutes=10))
    assert not is_zero()
    assert events_of(row) == ["found", "removed", "proven"]
    with pytest.raises(Conflict):
        remove(row, casey)


def test_a_corrected_check_neither_found_nor_missed_anything(light, quinn, casey, avery, cache):
    row = plant(light, quinn)
    wrong = light_check(light, casey, 20)
    light_check(light, avery, 12, corrects=wrong)
    (state,) = known_to(cache, quinn, "officer", timezone.now())
    assert state.plant == row
    assert (state.found is not None, state.missed) == (True, [])


def test_what_a_test_fault_showed_is_no_failure_of_the_equipment(light, quinn, casey, cache):
    light_check(light, casey, 20, at=ago(days=40))
    now = timezone.now()
    before = queries.histories(cache, now, now)["light_strip", "LT1"]
    row = plant(light, quinn)
    light_check(light, casey, 20, at=ago(hours=2))
    light_check(light, casey, 12, at=ago(hours=1))
    now = timezone.now()
    assert queries.histories(cache, now, now)["light_strip", "LT1"] == before
    assert queries.evidence([light], now, now)[light.pk]["LT1"].in_doubt_since == row.happened_at


def test_the_detection_rate_counts_what_is_over_with_its_range(cache, quinn, casey):
    now = timezone.now()
    assert detection(cache, now, now).percent is None
    for n in range(9):
        item = make_item(cache, "light_strip", f"LT-1{n}")
        row = plant(item, quinn)
        light_check(item, casey, 12 if n < 7 else 20)
        if n >= 7:
            remove(row, quinn)
    hidden = make_item(cache, "light_strip", "LT-99")
    plant(hidden, quinn)
    light_check(hidden, casey, 20)
    now = timezone.now()
    found = detection(cache, now, now)
    assert (found.found, found.trials) == (7, 9)
    assert found.percent[1] < found.percent[0] < found.percent[2]
    # Jeffreys: beta(7.5, 2.5)
    assert found.share.mean == pytest.approx(0.75)


# Who may know --------------------------------------------------------------------------------------------------------


def test_only_whoever_planted_it_knows_at_first(light, quinn, hollis, casey, gray, visitor, cache):
    plant(light, quinn)
    roles = {quinn: "officer", hollis: "head", casey: "crew", gray: "grants", visitor: "visitor"}
    know = [user.display_name for user, role in roles.items() if known_to(cache, user, role, timezone.now())]
    assert know == ["Quinn"]


def test_after_a_day_the_head_and_the_officers_know_and_the_crew_does_not(light, quinn, hollis, casey, cache):
    row = plant(light, quinn)
    later = row.happened_at + timedelta(hours=24)
    assert known_to(cache, hollis, "head", later)
    assert not known_to(cache, hollis, "head", later - timedelta(minutes=1))
    assert not known_to(cache, casey, "crew", later)


def test_the_crew_know_of_one_that_a_check_found(light, quinn, casey, cache):
    plant(light, quinn)
    light_check(light, casey, 20)
    assert not known_to(cache, casey, "crew", timezone.now())
    light_check(light, casey, 12, at=ago(minutes=30))
    assert known_to(cache, casey, "crew", timezone.now())


def send(line, user, **more):
    said = {"sort": "drill", "title": "Drill", "accepted_by": "Dana", "happened_at": ago(minutes=5)} | more
    return send_line(line=line, client_id=uuid.uuid4(), **signed(user), **said)


def test_no_line_leaves_before_its_sender_was_shown_the_test_faults_aboard(light, quinn, casey, hollis, cache):
    plant(light, quinn)
    line = make_line(cache)
    with pytest.raises(PlantsAboard) as refused:
        send(line, casey)
    with pytest.raises(PlantsAboard):
        send(line, casey, plants_known=True)
    show_at_send(line=line, states=refused.value.states, sender=casey, at=ago(minutes=6))
    shown = PlantEvent.objects.filter(event="shown")
    assert {event.by_name for event in shown} == {"Casey", "Hollis"}
    assert send(line, casey, plants_known=True).line == line
    assert known_to(cache, hollis, "head", timezone.now())


def test_the_head_is_told_once_of_what_has_stood_for_a_day_and_nobody_else_is(light, quinn, casey, hollis, cache):
    plant(light, quinn, happened_at=ago(hours=23))
    assert show_long_hidden(department=cache, at=timezone.now()) == 0
    for _ in range(2):
        show_long_hidden(department=cache, at=timezone.now() + timedelta(hours=2))
    notice = Notice.objects.get()
    assert (notice.user, "unplugged" in notice.body) == (hollis, True)


def test_nothing_is_planted_on_a_line_that_is_out(light, quinn, cache):
    send(make_line(cache), quinn)
    with pytest.raises(Conflict, match="out"):
        plant(light, quinn)
