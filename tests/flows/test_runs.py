"""Runs, drills, snaps and test faults on their pages: whole requests, by who may make them."""

import uuid
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inspections.models import HandReceipt, Inspection, Plant, PlantEvent, Run, RunEvent, Snap
from inventory.models import Place
from inventory.queries import seals, standing_of_items
from readiness.services import rerate
from tests.flows.bays import ago, load, make_item, make_line, make_lot, make_place, make_row

pytestmark = pytest.mark.django_db


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


@pytest.fixture
def shelter(cache):
    return make_item(cache, "shelter", "SH-01", spec={"lanes": 2})


@pytest.fixture
def line(shelter):
    return make_line(shelter.department)


def text(answer, status=200):
    assert answer.status_code == status, answer.content.decode()[:2000]
    return answer.content.decode()


def sent(**said):
    return {"client_id": uuid.uuid4()} | said


SEND = {"sort": "drill", "title": "Autumn drill", "site": "Mill lot", "accepted_by": "Dana Reyes"}
BACK = {"contamination": "none", "water_ran": "yes", "handed_by": "Dana Reyes"}


def send(client, line, **said):
    client.post(reverse("runs:send", args=[line.pk]), sent(**SEND | said))
    return Run.objects.order_by("-pk").first()


def put(client, run, event, **said):
    return client.post(reverse("runs:put", args=[run.pk]), sent(event=event, **said))


def state_of(item):
    now = timezone.now()
    return standing_of_items([item], now, now)[item.pk].state


# Out and back --------------------------------------------------------------------------------------------------------


def test_a_line_is_sent_with_its_load_in_view_and_stands_as_assigned_until_it_is_back(client_of, casey, line, cache):
    client = client_of(casey)
    make_row(line, "heater", quantity=2, needed=1)
    rerate(line=line, at=timezone.now())
    page = text(client.get(reverse("runs:send", args=[line.pk])))
    assert "SH-01" in page
    assert "missing" in page
    run = send(client, line)
    assert run.predicted["word"] in ("Down", "Limited", "Whole")
    assert set(run.predicted["functions"]) >= {"shelter", "heat"}
    for address in (reverse("readiness:tonight"), reverse("readiness:line", args=[line.pk]), reverse("runs:list")):
        assert "Assigned" in text(client.get(address)), address
    receipt = HandReceipt.objects.get()
    printed = text(client.get(reverse("runs:receipt", args=[receipt.pk])))
    assert "Dana Reyes" in printed
    assert "SH-01" in printed
    client.post(reverse("runs:receive", args=[run.pk]), sent(**BACK))
    assert "Assigned" not in text(client.get(reverse("readiness:line", args=[line.pk])))
    assert state_of(line.department.items.get(tag="SH-01")) == "wet"


def test_what_is_missing_from_the_form_is_said_beside_it_and_nothing_is_lost(client_of, quinn, line):
    page = text(client_of(quinn).post(reverse("runs:send", args=[line.pk]), sent(title="Mill fire")), 422)
    assert "Say whether it is an incident" in page
    assert "A hand receipt names who accepts" in page
    assert 'value="Mill fire"' in page
    assert not Run.objects.exists()


def test_a_form_pressed_twice_sends_once(client_of, quinn, line):
    form = sent(**SEND)
    for _ in range(2):
        client_of(quinn).post(reverse("runs:send", args=[line.pk]), form)
    assert (Run.objects.count(), HandReceipt.objects.count()) == (1, 1)


def test_the_sheet_takes_stamps_people_and_uses_and_shows_them(client_of, casey, line, cache):
    client = client_of(casey)
    lot = make_lot(cache, "towel", "T1", on_hand=40)
    run = send(client, line)
    put(client, run, "erected")
    for walking in ("true", "false"):
        put(client, run, "person", lane="2", walking=walking)
    put(client, run, "used", lot=lot.pk, number="12")
    put(client, run, "operator", text="Avery")
    page = text(client.get(reverse("runs:run", args=[run.pk])))
    assert "Shelter erected" in page
    assert "1 walking, 1 not" in page
    assert "Lane 2" in page
    assert "Undo the last" in page
    assert list(RunEvent.objects.order_by("pk").values_list("event", "lane", "walking")) == [
        ("erected", None, None), ("person", 2, True), ("person", 2, False), ("used", None, None),
        ("operator", None, None),
    ]  # fmt: skip


def test_a_tap_over_htmx_returns_the_sheet_alone_and_a_refusal_says_why(client_of, casey, line):
    client = client_of(casey)
    run = send(client, line)
    headers = {"HX-Request": "true"}
    address = reverse("runs:put", args=[run.pk])
    fragment = text(client.post(address, sent(event="person", lane="1", walking="true"), headers=headers))
    assert fragment.lstrip().startswith('<div id="sheet"')
    refused = text(client.post(address, sent(event="fault", text=""), headers=headers), 422)
    assert "say the text" in refused
    again = text(client.post(address, sent(event="person", lane="99"), headers=headers), 422)
    assert "Not recorded" in again


def test_the_last_tap_is_undone_and_a_stamp_corrected(client_of, casey, line):
    client = client_of(casey)
    run = send(client, line)
    put(client, run, "erected")
    put(client, run, "person", lane="1", walking="true")
    tap = RunEvent.objects.get(event="person")
    client.post(reverse("runs:undo", args=[run.pk, tap.pk]), sent())
    stamp = RunEvent.objects.get(event="erected")
    form = text(client.get(reverse("runs:amend", args=[run.pk, stamp.pk])))
    assert "Shelter erected" in form
    zone = ZoneInfo("America/New_York")
    later = (timezone.now() + timedelta(days=1)).astimezone(zone).strftime("%Y-%m-%dT%H:%M")
    assert "still to come" in text(client.post(reverse("runs:amend", args=[run.pk, stamp.pk]), sent(at=later)), 422)
    now = (timezone.now() - timedelta(seconds=1)).astimezone(zone).strftime("%Y-%m-%dT%H:%M:%S")
    client.post(reverse("runs:amend", args=[run.pk, stamp.pk]), sent(at=now))
    assert stamp.corrections.get().event == "erected"
    assert "0 walking, 0 not" in text(client.get(reverse("runs:run", args=[run.pk])))


def test_receiving_asks_what_it_must_and_leads_to_what_follows(client_of, quinn, line, shelter, cache):
    client = client_of(quinn)
    hose = make_item(cache, "hose_cold", "HC-01", quantity=4, unit_cost="35")
    run = send(client, line)
    put(client, run, "erected")
    address = reverse("runs:receive", args=[run.pk])
    asked = text(client.get(address))
    assert "HC-01" in asked
    assert "Beams reached set pressure" in asked
    refused = text(client.post(address, sent(**{f"item_{hose.pk}": "5"}, handed_by="Dana")), 422)
    assert "No more than 4 left" in refused
    assert "Say whether the equipment may be contaminated" in refused
    wrong = text(client.post(address, sent(**BACK, read_co_ppm="lots")), 422)
    assert "Not recorded yet" in wrong
    answer = client.post(address, sent(**BACK, **{f"item_{hose.pk}": "3"}, read_reached_set="yes"))
    assert answer["Location"] == f"{reverse('runs:after-use')}?line={line.pk}"
    page = text(client.get(reverse("runs:run", args=[run.pk])))
    assert "$35" in page
    assert "set-up drill" in page
    assert Inspection.objects.get(check_key="setup").readings.get(key="reached_set").text == "yes"


def test_after_use_shows_the_clock_and_takes_each_step(client_of, quinn, casey, line, shelter, cache):
    chest = make_place(cache, "Chest 1", sort=Place.Sort.CONTAINER)
    client = client_of(casey)
    run = send(client, line)
    client.post(reverse("runs:receive", args=[run.pk]), sent(**BACK | {"contamination": "confirmed"}))
    page = text(client.get(reverse("runs:after-use")))
    assert "In quarantine" in page
    client.post(reverse("runs:dry"), sent(items=[shelter.pk]))
    packed = {"items": [shelter.pk], "drained": "yes", "mould": "none"}
    assert "give both or neither" in text(client.post(reverse("runs:pack"), sent(**packed, seal="S 1")), 422)
    client.post(reverse("runs:pack"), sent(**packed, seal="S 1", place=chest.pk))
    assert state_of(shelter) == "quarantine"
    clear = {"items": [shelter.pk], "contamination": "confirmed", "method": "meter", "reading": "0", "cleared_by": "Q"}
    assert client.post(reverse("runs:clear"), sent(**clear)).status_code == 403
    officer = client_of(quinn)
    assert "A clearance is by name" in text(
        officer.post(reverse("runs:clear"), sent(**clear | {"cleared_by": ""})), 422
    )
    assert "somebody else" in text(officer.post(reverse("runs:clear"), sent(**clear | {"cleared_by": "Casey"})), 422)
    officer.post(reverse("runs:clear"), sent(**clear | {"cleared_by": "Quinn"}))
    assert state_of(shelter) == "in service"
    now = timezone.now()
    assert seals(cache, now, now)[chest.pk].number == "S 1"
    assert "Nothing lies wet" in text(client.get(f"{reverse('runs:after-use')}?line={line.pk}"))


def test_nothing_is_cleared_by_hand_on_the_items_page(client_of, quinn, shelter):
    client, address = client_of(quinn), reverse("inventory:change-state", args=[shelter.pk])
    client.post(address, {"state-event": "quarantined", "state-reason": "smell", "state-client_id": uuid.uuid4()})
    refused = client.post(address, {"state-event": "cleared", "state-reason": "fine", "state-client_id": uuid.uuid4()})
    assert refused.status_code == 422
    assert state_of(shelter) == "quarantine"


def test_the_set_up_curve_shows_every_drill_that_was_timed(client_of, quinn, line):
    client = client_of(quinn)
    assert "No drill of this line was timed yet" in text(client.get(reverse("runs:drills", args=[line.pk])))
    for n in (3, 2):
        run = Run.objects.create(
            department=line.department, line=line, sort="drill", title=f"Drill {n}", happened_at=ago(days=n),
            by=quinn, by_name="Quinn",
        )  # fmt: skip
        RunEvent.objects.create(
            department=line.department, run=run, event="erected", happened_at=ago(days=n, minutes=-20 * n),
            by=quinn, by_name="Quinn",
        )  # fmt: skip
        client.post(reverse("runs:receive", args=[run.pk]), sent(**BACK | {"water_ran": "no"}))
    page = text(client.get(reverse("runs:drills", args=[line.pk])))
    assert '<svg class="curve"' in page
    assert ">60</td>" in page
    assert ">40</td>" in page


def test_the_pages_of_runs_take_as_many_queries_however_much_they_show(
    client_of, quinn, line, cache, django_assert_num_queries
):
    client = client_of(quinn)
    run = send(client, line)
    client.post(reverse("runs:receive", args=[run.pk]), sent(**BACK))
    run = send(client, line)
    put(client, run, "person", lane="1", walking="true")
    make_item(cache, "light_strip", "LT-00", line="Line B")
    pages = [reverse("runs:list"), reverse("runs:run", args=[run.pk]), reverse("runs:after-use"), reverse("runs:snaps")]
    taken = []
    for address in pages:
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        taken.append(len(queries))
    for _ in range(20):
        put(client, run, "person", lane="1", walking="true")
    for n in range(1, 9):
        make_item(cache, "light_strip", f"LT-{n:02}", line="Line B")
    for address, before in zip(pages, taken, strict=True):
        with django_assert_num_queries(before):
            client.get(address)


# Snap ----------------------------------------------------------------------------------------------------------------


def test_an_officer_draws_and_whoever_is_called_answers_until_it_is_read(client_of, quinn, casey, cache):
    item = make_item(cache, "light_strip", "LT-01")
    officer, crew = client_of(quinn), client_of(casey)
    assert crew.post(reverse("runs:draw"), sent()).status_code == 403
    page = text(crew.get(reverse("runs:snaps")))
    assert "100 %" in page
    assert '<td data-label="Check">Light</td>' in page
    assert "LT1 Light segments out" in page
    officer.post(reverse("runs:draw"), sent())
    snap = Snap.objects.get()
    address = reverse("runs:snap", args=[snap.pk])
    page = text(crew.get(address))
    assert "In hand" in page
    assert snap.seed in page
    assert "it is the same" in page
    crew.post(reverse("runs:answer", args=[snap.pk]), sent(answer="hand"))
    assert "It works" in text(crew.get(address))
    crew.post(reverse("runs:answer", args=[snap.pk]), sent(answer="works"))
    crew.post(reverse("inspections:check", args=["item", item.pk, "light"]), sent(lit="20", of="20"))
    page = text(crew.get(address))
    assert ": pass</a>" in page
    assert "It works</button>" not in page


def test_what_is_not_found_asks_where_it_was_looked_for(client_of, quinn, casey, cache):
    item = make_item(cache, "light_strip", "LT-01")
    client_of(quinn).post(reverse("runs:draw"), sent())
    snap, crew = Snap.objects.get(), client_of(casey)
    address = reverse("runs:answer", args=[snap.pk])
    assert "Say where it was looked for" in text(crew.post(address, sent(answer="missing")), 422)
    crew.post(address, sent(answer="missing", note="Not on its reel."))
    assert state_of(item) == "absent"
    assert "not found" in text(crew.get(reverse("runs:snaps")))


# Test faults ---------------------------------------------------------------------------------------------------------


HIDDEN = "two segments unplugged behind the reel"


@pytest.fixture
def planted(client_of, quinn, cache):
    item = make_item(cache, "light_strip", "LT-01")
    make_item(cache, "light_strip", "LT-02")
    make_row(make_line(cache), "light_strip", quantity=2, needed=1)
    client_of(quinn).post(reverse("runs:plant", args=[item.pk]), sent(fault="light LT1", what=HIDDEN))
    return Plant.objects.get()


def pages_of(item, line):
    return [
        reverse("inventory:item", args=[item.pk]), reverse("readiness:line", args=[line.pk]),
        reverse("readiness:tonight"), reverse("inventory:bay"), reverse("inventory:load-list", args=[line.pk]),
        reverse("inventory:item-list"), reverse("inspections:walk"), reverse("runs:list"), reverse("runs:snaps"),
        reverse("runs:after-use"), reverse("runs:drills", args=[line.pk]), reverse("reports:document-list"),
    ]  # fmt: skip


def api_of(item):
    at = "/api/v1/"
    return [f"{at}items/{item.pk}", f"{at}items/{item.pk}/readings", *(f"{at}{name}" for name in (
        "items", "inspections", "deficiencies", "repairs", "upkeep", "counts", "postings", "walks", "runs", "snaps",
        "lines", f"lines/{item.postings.first().line_id}/rating",
    ))]  # fmt: skip


def test_the_crew_the_grant_writer_and_a_visitor_read_nothing_of_it_anywhere(
    client_of, planted, casey, gray, visitor, hollis, cache
):
    line, item = make_line(cache), planted.item
    rerate(line=line, at=timezone.now())
    for user in (casey, gray, visitor, hollis):
        client = client_of(user)
        for address in (*pages_of(item, line), *api_of(item)):
            page = text(client.get(address))
            for word in (HIDDEN, "test fault", "Test fault of", "planted", "withheld"):
                if word == "test fault" and user == hollis:
                    continue  # the head has the page of them, and finds none on it yet
                assert word not in page.replace("Test faults</a>", ""), (user.display_name, address, word)
    assert client_of(casey).get(reverse("runs:plants")).status_code == 403
    assert HIDDEN not in text(client_of(hollis).get(reverse("runs:plants")))
    assert HIDDEN in text(client_of(quinn_of(cache)).get(reverse("runs:plants")))


def quinn_of(cache):
    return Plant.objects.get(department=cache).by


def test_whoever_may_not_know_of_it_cannot_remove_it_either(client_of, planted, casey, hollis):
    for user, status in ((casey, 404), (hollis, 403)):
        address = reverse("runs:remove-plant", args=[planted.pk])
        assert client_of(user).post(address, sent()).status_code == status
    assert not PlantEvent.objects.exists()


def test_the_crew_that_finds_it_sees_it_removes_it_and_proves_the_item_sound(client_of, planted, casey, avery, cache):
    crew, item = client_of(casey), planted.item
    check = reverse("inspections:check", args=["item", item.pk, "light"])
    crew.post(check, sent(lit="12", of="20"))
    page = text(crew.get(reverse("inventory:item", args=[item.pk])))
    assert HIDDEN in page
    crew.post(reverse("runs:remove-plant", args=[planted.pk]), sent(note="plugged in again"))
    client_of(avery).post(check, sent(lit="20", of="20"))
    assert list(planted.events.order_by("pk").values_list("event", flat=True)) == ["found", "removed", "proven"]
    assert HIDDEN not in text(crew.get(reverse("inventory:item", args=[item.pk])))


def test_a_sender_is_shown_what_is_planted_and_says_so_before_the_line_leaves(client_of, planted, casey, cache, hollis):
    client, line = client_of(casey), make_line(cache)
    address = reverse("runs:send", args=[line.pk])
    assert HIDDEN not in text(client.get(address)), "looking is not sending"
    page = text(client.post(address, sent(**SEND)), 422)
    assert HIDDEN in page
    assert not Run.objects.exists()
    assert {e.by for e in PlantEvent.objects.filter(event="shown")} == {casey, hollis}
    client.post(address, sent(**SEND, plants_known="on"))
    assert Run.objects.get().line == line
    assert HIDDEN in text(client_of(hollis).get(reverse("runs:plants")))


def test_no_form_offers_a_fault_that_may_not_be_planted(client_of, quinn, cache):
    heater = make_item(cache, "heater", "WH-01")
    client, address = client_of(quinn), reverse("runs:plant", args=[heater.pk])
    assert "No test fault may be planted" in text(client.get(address))
    assert client.post(address, sent(fault="heat WH1", what="x")).status_code == 422
    assert not Plant.objects.exists()
