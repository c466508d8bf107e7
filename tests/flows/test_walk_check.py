"""A check step by step, its verdict, and its correction."""

import re
import uuid
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.models import Inspection, Procedure, Walk
from inspections.services import record_repair
from inventory.models import Count
from inventory.queries import standing_of_items
from tests.flows.bays import HOLD, ago, load, make_item, make_line, make_lot, make_place, record

pytestmark = pytest.mark.django_db
HEAT_FAILS = {"lit": "no", "tries": "6"}
HEAT_PASSES = {
    "lit": "yes",
    "tries": "1",
    "inlet_degF": "50",
    "outlet_degF": "98",
    "set_degF": "105",
    "gpm": "5.2",
    "minutes": "10",
    "head_degF": "96",
    "off_after_flow_s": "1",
    "co_ppm": "2",
    "strainer": "clean",
    "leaks": "none",
    "drained": "yes",
    "blown_out": "yes",
}


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


@pytest.fixture
def shelter(cache):
    return make_item(cache, "shelter", "SH-01")


@pytest.fixture
def heater(cache):
    return make_item(cache, "heater", "WH-01")


@pytest.fixture
def as_casey(casey, client_of):
    return client_of(casey)


def address(thing, check_key, **query):
    of = type(thing)._meta.model_name
    asked = "&".join(f"{name}={value}" for name, value in query.items())
    return reverse("inspections:check", args=[of, thing.pk, check_key]) + (f"?{asked}" if asked else "")


def send(client, thing, check_key, values, *, client_id=None, **query):
    sent = values | {"client_id": client_id or uuid.uuid4()}
    return client.post(address(thing, check_key, **query), sent)


def text(answer, status=200):
    assert answer.status_code == status
    return answer.content.decode()


def as_written(at):
    """An instant as a page of the department writes it: to the minute, on its own clocks."""
    return timezone.localtime(at, ZoneInfo("America/New_York")).strftime("%Y-%m-%dT%H:%M")


def state_of(item):
    now = timezone.now()
    return standing_of_items([item], now, now)[item.pk]


# The form ----------------------------------------------------------------------------------------------------------


def test_steps_stand_in_order_each_with_its_caution_and_its_inputs(as_casey, heater):
    page = text(as_casey.get(address(heater, "heat")))
    places = [
        page.index(said) for said in ("Carbon monoxide:", 'name="co_ppm"', "Propane: soap", 'name="lit"', "Scald:")
    ]
    assert places == sorted(places)


def test_units_help_limit_and_origin_stand_beside_the_field(as_casey, shelter):
    page = text(as_casey.get(address(shelter, "hold")))
    assert 'id="id_p1_psi_unit">psi<' in page
    assert "On the fabric, not the weather report." in page
    assert "At least 60 min, with limits from 15 min. Policy, fabric stretch" in page
    assert 'aria-describedby="id_t2_degF_unit id_t2_degF_limit"' in page
    assert "must be read" in page
    assert 'inputmode="decimal"' in page


def test_no_answer_is_given_beforehand(as_casey, shelter):
    record(shelter, "hold", HOLD)
    page = text(as_casey.get(address(shelter, "hold")))
    assert "checked" not in page
    assert "2.50" not in page


def test_yes_no_and_not_tried_are_three_answers_and_not_tried_records_none(as_casey, heater):
    page = text(as_casey.get(address(heater, "heat")))
    assert page.count('name="lit"') == 3
    answer = send(as_casey, heater, "heat", HEAT_PASSES | {"blown_out": "not tried"})
    assert answer.status_code == 302
    assert not Inspection.objects.get().readings.filter(key="blown_out").exists()


def test_a_check_that_the_kind_does_not_have_is_not_found(as_casey, heater):
    assert as_casey.get(address(heater, "hold")).status_code == 404
    assert as_casey.get(address(heater, "nonsense")).status_code == 404
    assert as_casey.get(f"/walk/check/person/{heater.pk}/heat/").status_code == 404
    assert as_casey.get(address(heater, "heat", walk="999")).status_code == 404
    assert as_casey.get(address(heater, "heat", walk="x")).status_code == 404


def test_a_department_without_procedures_gets_them_with_its_first_check(as_casey, shelter):
    Procedure.objects.all().delete()
    assert "Inflation hold test" in text(as_casey.get(address(shelter, "hold")))


# Recording ---------------------------------------------------------------------------------------------------------


def test_a_check_leads_to_its_verdict_with_the_numbers_that_decided_it(as_casey, shelter):
    answer = send(as_casey, shelter, "hold", HOLD)
    row = Inspection.objects.get()
    assert answer.url == reverse("inspections:inspection", args=[row.client_id])
    page = text(as_casey.get(answer.url))
    assert "Corrected loss 0.06 psi in 60 min" in page
    assert "Limit: at most 5 %" in page
    assert "Origin: policy" in page
    assert "SH1 Slow beam leak" in page
    assert (row.by_name, row.source) == ("Casey", "page")


def test_sent_twice_it_is_recorded_once_and_leads_to_the_same_record(as_casey, shelter):
    sent = uuid.uuid4()
    first, second = (send(as_casey, shelter, "hold", HOLD, client_id=sent) for _ in range(2))
    assert Inspection.objects.count() == 1
    assert first.url == second.url


@pytest.mark.parametrize("changed", ["another thing", "another reading"])
def test_a_form_sent_again_with_something_else_says_so_and_loses_nothing(as_casey, shelter, heater, changed):
    sent = uuid.uuid4()
    send(as_casey, shelter, "hold", HOLD, client_id=sent)
    thing, check, said = (heater, "heat", HEAT_PASSES) if changed == "another thing" else (shelter, "hold", HOLD)
    said = said | ({"p2_psi": "1.9"} if changed == "another reading" else {})
    answer = send(as_casey, thing, check, said, client_id=sent)
    assert "Something else was recorded from this form already" in text(answer, 422)
    assert Inspection.objects.count() == 1
    fresh = answer.context["form"]["client_id"].value()
    assert send(as_casey, thing, check, said, client_id=fresh).status_code == 302
    assert Inspection.objects.count() == 2


def test_what_cannot_be_read_is_said_beside_its_field_and_all_that_was_typed_stays(as_casey, shelter):
    wrong = HOLD | {"p2_psi": "two", "t1_degF": "600", "remark": "windy <b>"}
    page = text(send(as_casey, shelter, "hold", wrong), 422)
    assert "This is not a number. Give a number in psi" in page
    assert "This is outside -40 to 160 °F" in page
    assert 'value="two"' in page
    assert 'value="3.00"' in page
    assert re.search(r'name="same_gauge" value="yes"[^>]* checked', page)
    assert "windy &lt;b&gt;" in page
    assert not Inspection.objects.exists()


def test_the_id_of_a_refused_form_stays_so_that_sending_it_again_is_the_same_check(as_casey, shelter):
    sent = uuid.uuid4()
    page = text(send(as_casey, shelter, "hold", HOLD | {"p2_psi": ""}, client_id=sent), 422)
    assert str(sent) in page
    assert "This reading is missing" in page


def test_where_one_of_several_readings_is_needed_the_page_names_them(as_casey, heater):
    page = text(send(as_casey, heater, "heat", {"lit": "not tried"}), 422)
    assert "Nothing was read yet. Give at least one of: it lit, tries to light, water out" in page


def test_a_word_for_what_was_seen_is_kept(as_casey, heater):
    send(as_casey, heater, "look", {"damage__said": "cracked grip"})
    assert Inspection.objects.get().readings.get(key="damage").as_entered == "cracked grip"


def test_a_look_asks_of_a_thing_only_what_its_kind_can_show(as_casey, shelter, heater):
    of_shelter, of_heater = (text(as_casey.get(address(each, "look"))) for each in (shelter, heater))
    assert 'name="curtains_ok"' in of_shelter
    assert 'name="tyres_ok"' not in of_shelter
    assert 'name="tyres_ok"' in of_heater
    assert 'name="curtains_ok"' not in of_heater
    assert all('name="damage"' in page for page in (of_shelter, of_heater))


def test_a_bare_result_is_a_claim(as_casey, heater):
    send(as_casey, heater, "heat", {"result": "pass"})
    row = Inspection.objects.get()
    assert set(row.proofs.values_list("outcome", flat=True)) == {"claimed"}


def test_a_void_check_says_that_it_proves_nothing(as_casey, shelter):
    answer = send(as_casey, shelter, "hold", HOLD | {"same_gauge": "no"})
    page = text(as_casey.get(answer.url))
    assert "proves nothing and moves no date" in page
    assert "Nothing: it was void." in page


def test_a_check_done_earlier_is_recorded_at_its_own_time_and_never_ahead(as_casey, shelter):
    day_before = ago(days=1)
    send(as_casey, shelter, "hold", HOLD | {"happened": as_written(day_before)})
    row = Inspection.objects.get()
    assert row.happened_at == day_before.replace(second=0, microsecond=0)
    assert row.recorded_at > row.happened_at
    ahead = HOLD | {"happened": as_written(ago(days=-2))}
    assert "still to come" in text(send(as_casey, shelter, "hold", ahead), 422)


def test_when_the_form_was_opened_is_kept_as_the_start_unless_it_makes_no_sense(as_casey, shelter):
    send(as_casey, shelter, "hold", HOLD | {"opened_at": ago(minutes=70).isoformat()})
    row = Inspection.objects.get()
    assert 4100 < (row.happened_at - row.started_at).total_seconds() < 4400
    for nonsense in ("soon", "2026-99-99T00:00:00", ago(days=9).isoformat(), ago(days=-1).isoformat()):
        send(as_casey, shelter, "hold", HOLD | {"opened_at": nonsense})
    assert Inspection.objects.filter(started_at=None).count() == 4


def test_a_check_of_a_line_is_recorded_of_the_line(as_casey, shelter, cache):
    line = make_line(cache)
    send(as_casey, line, "setup", {"erect_min": "9", "reached_set": "yes", "qualified": "6"})
    assert Inspection.objects.get().line == line


def test_a_count_of_a_lot_stands_from_then_on(as_casey, cache):
    lot = make_lot(cache)
    send(as_casey, lot, "count", {"counted": "88"})
    assert Count.objects.get().counted == 88


# On a walk ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def walk(casey, department, cache):
    place = make_place(department)
    return Walk.objects.create(department=department, place=place, by=casey, client_id=uuid.uuid4())


def test_on_a_walk_the_verdict_leads_on_to_the_next_that_is_due(as_casey, walk, shelter, heater):
    answer = send(as_casey, shelter, "hold", HOLD, walk=walk.pk)
    page = text(as_casey.get(answer.url))
    assert Inspection.objects.get().walk == walk
    assert f"?walk={walk.pk}" in page
    assert "Next: SH-01" in page


def test_after_the_last_that_is_due_the_verdict_leads_back_to_the_walk(as_casey, walk, cache):
    gfci = make_item(cache, "gfci", "GF-01", line=None)
    full = {"test_trips": "yes", "reset": "yes", "ground_ohm": "0.2", "jacket": "none"}
    make_line(cache).delete()
    page = text(as_casey.get(send(as_casey, gfci, "gfci", full, walk=walk.pk).url))
    assert "Back to the walk" in page
    assert "Next:" not in page


# Impairments -------------------------------------------------------------------------------------------------------


def test_a_failed_impairment_says_what_to_do_now_and_who_may_restore_it(as_casey, heater):
    answer = send(as_casey, heater, "heat", HEAT_FAILS)
    page = text(as_casey.get(answer.url))
    assert "Out of service: Line A is rated without it" in page
    assert "<b>Now:</b>" in page
    assert "then the whole heat run" in page
    assert "not Casey" in page
    assert state_of(heater).state == "out of service"


def test_whoever_repaired_it_may_not_restore_it_alone_either(as_casey, heater, casey):
    row = record(heater, "heat", HEAT_FAILS)
    record_repair(
        department=heater.department,
        item=heater,
        what="New igniter",
        happened_at=ago(minutes=30),
        by_name="Avery",
        client_id=uuid.uuid4(),
    )
    page = text(as_casey.get(reverse("inspections:inspection", args=[row.client_id])))
    assert "not Casey or Avery" in page


def test_the_same_name_restores_it_awaiting_a_second_and_the_record_says_so(as_casey, heater):
    record(heater, "heat", HEAT_FAILS, by_name="Casey")
    page = text(as_casey.get(send(as_casey, heater, "heat", HEAT_PASSES).url))
    assert re.search("WH1 [^.]+: restored, awaiting second name", page)
    assert state_of(heater).awaiting_second_name


def test_another_name_restores_it(client_of, avery, heater):
    record(heater, "heat", HEAT_FAILS, by_name="Casey")
    client = client_of(avery)
    page = text(client.get(send(client, heater, "heat", HEAT_PASSES).url))
    assert "Avery passed the check that Casey failed" in page
    assert state_of(heater).state == "in service"


# Corrections -------------------------------------------------------------------------------------------------------


@pytest.fixture
def wrong(heater):
    return record(heater, "heat", HEAT_FAILS | {"leaks": "drips at union"}, happened_at=ago(days=2), by_name="Avery")


def correction_of(row):
    return reverse("inspections:correct", args=[row.client_id])


def kept(row, **changed):
    base = HEAT_FAILS | {"leaks": "seen", "leaks__said": "drips at union"}
    return (
        base
        | {"happened": as_written(row.happened_at), "client_id": uuid.uuid4(), "remark": "Read the wrong tag."}
        | changed
    )


def test_the_form_of_a_correction_shows_what_was_recorded(as_casey, wrong):
    page = text(as_casey.get(correction_of(wrong)))
    assert "Correcting the record of" in page
    assert "Recorded: 6" in page
    assert "Recorded: drips at union" in page
    assert "What was wrong with the record" in page


def test_a_correction_is_a_new_record_that_names_the_old_one_and_takes_back_what_it_did(as_casey, wrong, heater):
    assert state_of(heater).state == "out of service"
    answer = as_casey.post(correction_of(wrong), kept(wrong, lit="yes", tries="1"))
    newer = Inspection.objects.get(corrects=wrong)
    assert answer.url == reverse("inspections:inspection", args=[newer.client_id])
    assert newer.happened_at == wrong.happened_at
    assert newer.readings.get(key="leaks").as_entered == "drips at union"
    assert "Read the wrong tag." in text(as_casey.get(answer.url))
    old = text(as_casey.get(reverse("inspections:inspection", args=[wrong.client_id])))
    assert "stands in its place" in old
    assert "Correct this record" not in old


def test_nobody_corrects_away_alone_what_took_an_item_out(client_of, avery, as_casey, wrong, heater):
    right = kept(wrong, lit="yes", tries="1", leaks="none", leaks__said="")
    page = text(client_of(avery).post(correction_of(wrong), right), 422)
    assert "somebody else corrects it, or the check is done again" in page
    assert state_of(heater).state == "out of service"
    assert as_casey.post(correction_of(wrong), right).status_code == 302
    assert state_of(heater).state == "in service"


def test_a_correction_that_changes_nothing_is_refused(as_casey, wrong):
    page = text(as_casey.post(correction_of(wrong), kept(wrong)), 422)
    assert "Nothing differs from the record" in page
    assert Inspection.objects.count() == 1


def test_a_correction_says_what_was_wrong(as_casey, wrong):
    assert text(as_casey.post(correction_of(wrong), kept(wrong, tries="2", remark="")), 422)
    assert Inspection.objects.count() == 1


def test_a_record_is_corrected_once_and_then_the_newest_is(as_casey, wrong):
    as_casey.post(correction_of(wrong), kept(wrong, lit="yes", tries="1"))
    newer = Inspection.objects.get(corrects=wrong)
    assert as_casey.get(correction_of(wrong)).url == reverse("inspections:inspection", args=[newer.client_id])
    page = text(as_casey.post(correction_of(wrong), kept(wrong, lit="yes", tries="3")), 422)
    assert "corrected already" in page
    assert Inspection.objects.count() == 2


# Walls -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["visitor", "hollis", "gray"])
def test_only_officer_and_crew_check_and_correct(who, request, client_of, wrong, heater):
    client = client_of(request.getfixturevalue(who))
    assert client.get(address(heater, "heat")).status_code == 403
    assert send(client, heater, "heat", HEAT_PASSES).status_code == 403
    assert client.post(correction_of(wrong), kept(wrong, tries="2")).status_code == 403
    page = text(client.get(reverse("inspections:inspection", args=[wrong.client_id])))
    assert "Correct this record" not in page
    assert Inspection.objects.count() == 1


def test_another_departments_things_and_records_are_not_found(sam, client_of, wrong, heater, walk):
    client = client_of(sam)
    assert client.get(address(heater, "heat")).status_code == 404
    assert client.get(reverse("inspections:inspection", args=[wrong.client_id])).status_code == 404
    assert client.get(correction_of(wrong)).status_code == 404
    theirs = make_item(load(sam.department), "heater", "WH-01", place="Other bay", line=None)
    assert client.get(address(theirs, "heat", walk=walk.pk)).status_code == 404


def test_no_page_of_a_check_carries_an_inline_style(as_casey, wrong, shelter):
    for page in (address(shelter, "hold"), correction_of(wrong), f"/walk/records/{wrong.client_id}/"):
        assert "style=" not in as_casey.get(page).content.decode()
