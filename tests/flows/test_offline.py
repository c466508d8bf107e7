"""The walk without signal, seen from the server: what a phone takes along, and what becomes of what it sends."""

import json
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inspections.models import Inspection, Walk, WalkTakeUp
from inspections.sync import MOST_RECORDS
from inventory.models import Count, Place, Posting, Seal
from inventory.services import record_posting, record_seal
from tests.conftest import PASSWORD
from tests.flows.bays import BAY, HOLD, ago, load, make_item, make_line, make_lot, make_place, put_lot, record

pytestmark = pytest.mark.django_db
SYNC, PHOTO = "/walk/sync", "/walk/sync/photo"


@pytest.fixture
def bay(department):
    load(department)
    make_line(department)
    return make_place(department)


@pytest.fixture
def shelter(bay, department):
    return make_item(department, "shelter", "SH-01", serial="S-9")


class Phone:
    """A phone that somebody is signed in on."""

    def __init__(self, client, user, clock=timedelta(0)):
        self.client, self.user, self.clock = client, user, clock

    def said(self, **more):
        sent_at = (timezone.now() + self.clock).isoformat()
        return {"user": self.user.pk, "department": self.user.department.pk, "sent_at": sent_at} | more

    def post(self, body):
        text = body if isinstance(body, str) else json.dumps(body)
        return self.client.post(SYNC, text, content_type="application/json")

    def send(self, *records):
        answer = self.post(self.said(records=list(records)))
        assert answer.status_code == 200, answer.content
        return answer.json()["answers"]


@pytest.fixture
def caseys(casey, client_of):
    return Phone(client_of(casey), casey)


@pytest.fixture
def averys(avery, client_of):
    return Phone(client_of(avery), avery)


def at(**back):
    return ago(**back).isoformat()


def begun(place, **more):
    return {"kind": "walk", "client_id": str(uuid.uuid4()), "place": place.pk, "happened_at": at(minutes=40)} | more


def checked(item, walk=None, check_key="hold", values=HOLD, **more):
    of = type(item)._meta.model_name
    base = {"kind": "check", "client_id": str(uuid.uuid4()), "check_key": check_key, of: item.pk, "values": values}
    return base | {"walk": walk and walk["client_id"], "happened_at": at(minutes=20), "remark": ""} | more


def signature(walk, name="Casey", **more):
    base = {"kind": "sign", "client_id": str(uuid.uuid4()), "walk": walk["client_id"], "signed_name": name}
    return base | {"happened_at": at(minutes=5)} | more


def outcomes(answers):
    return [answer["outcome"] for answer in answers]


# The app itself ----------------------------------------------------------------------------------------------------


def test_what_a_phone_keeps_of_the_app_names_nobody_and_speaks_for_the_whole_site(caseys, shelter):
    page = caseys.client.get("/walk/offline/")
    worker = caseys.client.get("/walk/worker.js")
    assert "Casey" not in page.content.decode() + worker.content.decode()
    assert "SH-01" not in page.content.decode()
    assert worker["Service-Worker-Allowed"] == "/"
    assert worker["Content-Type"].startswith("text/javascript")


def test_everything_the_worker_keeps_is_there(db):
    kept = Client().get("/walk/worker.js").content.decode()
    keep = json.loads(kept.partition("const KEEP = ")[2].partition(";\n")[0])
    assert "/walk/offline/" in keep
    from django.contrib.staticfiles import finders

    for address in keep:
        if address.startswith("/static/"):
            assert finders.find(address.removeprefix("/static/")), address
        else:
            assert Client().get(address).status_code == 200


def test_the_manifest_installs_the_walk_with_icons_of_both_sizes(db):
    said = Client().get("/walk/app.webmanifest").json()
    assert said["start_url"] == "/walk/offline/"
    assert {icon["sizes"] for icon in said["icons"]} == {"192x192", "512x512"}


# Taken along -------------------------------------------------------------------------------------------------------


def test_the_overview_says_who_is_there_what_is_due_and_which_walks_are_open(caseys, shelter, bay, avery):
    walk = Walk.objects.create(department=bay.department, client_id=uuid.uuid4(), place=bay, by=avery)
    record(shelter, "look", {"damage": "none"}, walk=walk, by_name="Avery")
    said = caseys.client.get("/walk/overview").json()
    assert said["who"]["name"] == "Casey"
    assert [place["name"] for place in said["places"]] == [BAY]
    (open_walk,) = said["walks"]
    assert (open_walk["walker_name"], len(open_walk["done"])) == ("Avery", 1)


def pack(phone, place):
    return phone.client.get(reverse("inspections:pack", args=[place.pk])).json()


def test_a_place_comes_with_every_form_that_its_walk_needs(caseys, shelter, bay):
    said = pack(caseys, bay)
    (row,) = said["rows"]
    assert (row["tag"], row["serial"]) == ("SH-01", "S-9")
    hold = next(check for check in row["checks"] if check["key"] == "hold")
    form = said["forms"][hold["form"]]
    assert [step["text"] for step in form["steps"]][0].startswith("Look over beams")
    assert any("burst" in step["caution"] for step in form["steps"])
    asked = form["inputs"]["p2_psi"]
    assert (asked["unit"], asked["required"], asked["least"]) == ("psi", True, 0)
    assert "at most 5 percent" in asked["limit"].replace(" %", " percent")
    assert form["inputs"]["rest_min"]["timer"]["goal"] > 0
    assert ["yes", "Yes"] in form["inputs"]["same_gauge"]["choices"]


def test_no_earlier_reading_is_taken_along(caseys, shelter, bay):
    record(shelter, "hold", HOLD | {"p1_psi": "3.17", "p2_psi": "3.16"}, happened_at=ago(days=40))
    assert "3.17" not in json.dumps(pack(caseys, bay))


def test_a_form_is_the_one_of_the_page(caseys, shelter, bay):
    said = pack(caseys, bay)
    for check in said["rows"][0]["checks"]:
        form = said["forms"][check["form"]]
        page = caseys.client.get(f"/walk/check/item/{shelter.pk}/{check['key']}/").content.decode()
        for key, asked in form["inputs"].items():
            assert f'name="{key}"' in page
            assert asked["label"] in page.replace("&#x27;", "'")


def test_a_container_comes_with_its_seal(caseys, bay, department):
    trunk = make_place(department, "Trunk 3", sort=Place.Sort.CONTAINER, within=bay)
    record_seal(
        department=department, place=trunk, event="applied", number="TH 1", happened_at=ago(days=9), by_name="Quinn"
    )
    (container,) = pack(caseys, bay)["containers"]
    assert (container["seal"], container["applied_by"]) == ("TH 1", "Quinn")


def test_a_place_of_another_department_is_not_taken_along(caseys, other_department):
    there = make_place(other_department, "Their bay")
    assert caseys.client.get(reverse("inspections:pack", args=[there.pk])).status_code == 404


def test_a_place_takes_as_many_queries_however_much_stands_there(
    caseys, shelter, bay, department, django_assert_max_num_queries
):
    for number in range(12):
        make_item(department, "gfci", f"GF-{number:02}")
        make_item(department, "heater", f"WH-{number:02}")
    with django_assert_max_num_queries(39):
        pack(caseys, bay)


# Sent back ---------------------------------------------------------------------------------------------------------


def test_a_whole_walk_arrives_in_one_go(caseys, shelter, bay):
    walk = begun(bay)
    answers = caseys.send(walk, checked(shelter, walk), signature(walk))
    assert outcomes(answers) == ["recorded"] * 3
    row = Inspection.objects.get()
    assert (row.by_name, row.source, row.walk.signed_name) == ("Casey", "phone", "Casey")
    assert answers[1]["verdict"] == row.verdict == "pass"
    assert answers[1]["url"] == f"/walk/records/{row.client_id}/"
    assert answers[2]["done"]["reached"] == 1
    assert row.recorded_at > row.happened_at


def test_sent_again_everything_is_known_and_nothing_doubled(caseys, shelter, bay):
    walk = begun(bay)
    records = [walk, checked(shelter, walk), signature(walk)]
    caseys.send(*records)
    assert outcomes(caseys.send(*records)) == ["known"] * 3
    assert (Walk.objects.count(), Inspection.objects.count()) == (1, 1)


def test_a_refused_record_says_why_and_the_others_are_kept(caseys, shelter, bay):
    walk = begun(bay)
    bad = checked(shelter, walk, values=HOLD | {"p1_psi": "three", "t1_degF": "900"})
    answers = caseys.send(walk, bad, checked(shelter, walk, "look", {"damage": "none"}))
    assert outcomes(answers) == ["recorded", "refused", "recorded"]
    assert {one["where"] for one in answers[1]["problems"]} == {"p1_psi", "t1_degF"}
    assert all(one["mend"] for one in answers[1]["problems"])
    assert Inspection.objects.get().check_key == "look"
    mended = bad | {"values": HOLD}
    assert outcomes(caseys.send(mended)) == ["recorded"]


def test_what_its_walk_does_not_know_yet_waits(caseys, shelter, bay):
    walk = begun(bay)
    check = checked(shelter, walk)
    assert outcomes(caseys.send(check)) == ["later"]
    assert outcomes(caseys.send(walk, check)) == ["recorded", "recorded"]


def test_two_people_who_read_the_same_thing_are_both_kept(caseys, averys, shelter, bay):
    walk = begun(bay)
    caseys.send(walk, checked(shelter, walk))
    averys.send(checked(shelter, walk, values=HOLD | {"p2_psi": "2.52"}))
    assert sorted(Inspection.objects.values_list("by_name", flat=True)) == ["Avery", "Casey"]
    assert Inspection.objects.filter(walk__client_id=walk["client_id"]).count() == 2


def test_a_walk_taken_up_is_signed_by_whoever_took_it_up(caseys, averys, shelter, bay):
    walk = begun(bay)
    caseys.send(walk, checked(shelter, walk))
    taken = {"kind": "take-up", "client_id": str(uuid.uuid4()), "walk": walk["client_id"], "happened_at": at(minutes=9)}
    assert outcomes(averys.send(taken, taken)) == ["recorded", "known"]
    assert WalkTakeUp.objects.get().by_name == "Avery"
    refused, *_ = caseys.send(signature(walk))
    assert refused["outcome"] == "refused"
    assert "Avery" in refused["what"]
    assert outcomes(averys.send(signature(walk, "Avery"))) == ["recorded"]


def test_what_comes_after_its_walk_was_signed_stands_beside_it_and_says_so(caseys, averys, shelter, bay):
    walk = begun(bay)
    caseys.send(walk, checked(shelter, walk), signature(walk))
    late, *_ = averys.send(checked(shelter, walk, remark="Left bay door"))
    assert late["outcome"] == "recorded"
    row = Inspection.objects.get(by_name="Avery")
    assert row.walk is None
    assert row.remark.startswith("Left bay door")
    assert "signed before this came in" in row.remark


def test_a_clock_that_is_off_is_said_on_the_record_and_a_time_to_come_becomes_now(casey, client_of, shelter):
    phone = Phone(client_of(casey), casey, clock=timedelta(minutes=12))
    ahead = (timezone.now() + timedelta(minutes=11)).isoformat()
    (answer,) = phone.send(checked(shelter, happened_at=ahead))
    row = Inspection.objects.get()
    assert "clock was 12 min ahead" in row.remark
    assert row.happened_at <= row.recorded_at
    assert answer["remark"] == row.remark


def test_a_clock_that_is_right_is_not_spoken_of_and_the_phones_time_is_kept(caseys, shelter):
    check = checked(shelter)
    caseys.send(check)
    row = Inspection.objects.get()
    assert row.remark == ""
    assert row.happened_at == datetime.fromisoformat(check["happened_at"])


def test_a_form_of_an_older_version_is_said_on_the_record(caseys, shelter):
    caseys.send(checked(shelter, version=1))
    assert Inspection.objects.get().remark == ""
    caseys.send(checked(shelter, version=7))
    assert "version 7 of the procedure; version 1 was in force" in Inspection.objects.latest("pk").remark


def test_a_resent_record_is_known_though_its_owner_was_renamed_and_its_clock_moved(caseys, casey, shelter):
    check = checked(shelter, happened_at=(timezone.now() + timedelta(minutes=3)).isoformat())
    caseys.send(check)
    casey.display_name = "Casey B."
    casey.save()
    assert outcomes(caseys.send(check)) == ["known"]


def test_a_lot_on_several_lines_is_counted_on_one(caseys, bay, department):
    lot = make_lot(department)
    make_line(department, "Line B")
    put_lot(lot, 50, "Line B")
    row = next(row for row in pack(caseys, bay)["rows"] if row["of"] == "lot")
    assert row["line"]
    counted = {"kind": "count", "client_id": str(uuid.uuid4()), "lot": lot.pk, "line": row["line"], "counted": 44}
    sent = counted | {"happened_at": at(minutes=3)}
    assert outcomes(caseys.send(sent, sent)) == ["recorded", "known"]
    assert Count.objects.get().counted == 44


def test_a_seal_found_unbroken_is_recorded_and_reaches_what_is_inside(caseys, bay, department):
    trunk = make_place(department, "Trunk 3", sort=Place.Sort.CONTAINER, within=bay)
    lot = make_lot(department)
    record_posting(
        department=department, lot=lot, change=0, reason=Posting.Reason.MOVED, place=trunk, line=make_line(department),
        happened_at=ago(days=60), by_name="Quinn",
    )  # fmt: skip
    record_seal(
        department=department, place=trunk, event="applied", number="TH 1", happened_at=ago(days=9), by_name="Quinn"
    )
    walk = begun(bay)
    seal = {"kind": "seal", "client_id": str(uuid.uuid4()), "place": trunk.pk, "event": "intact", "number": "TH 1"}
    assert outcomes(caseys.send(walk, seal | {"happened_at": at(minutes=8)})) == ["recorded", "recorded"]
    assert Seal.objects.filter(event="intact").get().by_name == "Casey"
    page = caseys.client.get(reverse("inspections:round", args=[Walk.objects.get().pk])).content.decode()
    assert "count stands by its seal" in page
    assert "1 of 1" in page


# Walls and hostile bodies ------------------------------------------------------------------------------------------


def test_what_was_kept_under_another_name_is_not_recorded_under_this_one(caseys, avery, shelter):
    body = caseys.said(records=[checked(shelter)]) | {"user": avery.pk}
    answer = caseys.post(body)
    assert answer.status_code == 409
    assert "somebody else" in answer.json()["what"]
    assert not Inspection.objects.exists()


def test_what_was_kept_for_another_department_is_not_recorded_here(caseys, other_department, shelter):
    body = caseys.said(records=[checked(shelter)]) | {"department": other_department.pk}
    assert caseys.post(body).status_code == 409
    assert not Inspection.objects.exists()


def test_a_request_from_another_site_is_refused(casey, shelter):
    client = Client(enforce_csrf_checks=True)
    client.login(username="casey", password=PASSWORD) or client.force_login(
        casey, backend="django.contrib.auth.backends.ModelBackend"
    )
    phone = Phone(client, casey)
    assert phone.post(phone.said(records=[checked(shelter)])).status_code == 403


def test_ids_of_another_department_are_as_good_as_none(caseys, shelter, sam, other_department):
    load(other_department)
    theirs = make_item(other_department, "shelter", "SH-77", place="Their bay", line="Their line")
    lot = make_lot(other_department, line="Their line")
    place = make_place(other_department, "Their bay")
    walk = Walk.objects.create(department=other_department, client_id=uuid.uuid4(), place=place, by=sam)
    one = record(theirs, "look", {"damage": "none"})
    foreign = {"client_id": str(walk.client_id)}
    answers = caseys.send(
        begun(place),
        checked(theirs),
        checked(shelter, foreign),
        signature(foreign),
        {"kind": "take-up", "client_id": str(uuid.uuid4()), "walk": foreign["client_id"], "happened_at": at(minutes=1)},
        {"kind": "count", "client_id": str(uuid.uuid4()), "lot": lot.pk, "counted": 1, "happened_at": at(minutes=1)},
        {"kind": "seal", "client_id": str(uuid.uuid4()), "place": place.pk, "event": "intact", "number": "1",
         "happened_at": at(minutes=1)},
    )  # fmt: skip
    assert set(outcomes(answers)) <= {"refused", "later"}
    assert Inspection.objects.get() == one
    assert not Seal.objects.exists() | Count.objects.exists() | WalkTakeUp.objects.exists()


ODD = [None, 7, "check", [], [[]], {}, {"kind": 5}, {"kind": "nothing"}, {"kind": "check"}, {"kind": "sign", "walk": 3}]


@pytest.mark.parametrize("odd", ODD, ids=repr)
def test_an_odd_record_is_refused_and_the_next_is_taken(caseys, shelter, odd):
    answers = caseys.send(odd, checked(shelter))
    assert outcomes(answers) == ["refused", "recorded"]


@pytest.mark.parametrize(
    "values",
    [
        {"p1_psi": {"deep": 1}}, {"p1_psi": "9" * 5000}, {"p1_psi": "\0"}, {"nothing such": "1"}, [], "3.0", None,
        {"p1_psi": "1e999"}, {"p1_psi": "NaN"},
    ],
    ids=repr,
)  # fmt: skip
def test_odd_readings_are_refused(caseys, shelter, values):
    assert outcomes(caseys.send(checked(shelter, values=values))) == ["refused"]
    assert not Inspection.objects.exists()


@pytest.mark.parametrize(
    "more",
    [
        {"happened_at": "yesterday"}, {"happened_at": "2026-11-01T10:00:00"}, {"happened_at": "0001-01-01T00:00:00Z"},
        {"client_id": "1"}, {"item": "x"}, {"item": -1}, {"item": 10**30}, {"check_key": "../etc"}, {"walk": "no"},
        {"remark": "x" * 151}, {"check_key": "sump"}, {"happened_at": None},
    ],
    ids=repr,
)  # fmt: skip
def test_odd_fields_are_refused_with_words(caseys, shelter, more):
    (answer,) = caseys.send(checked(shelter) | more)
    assert answer["outcome"] == "refused"
    assert answer["what"]
    assert not Inspection.objects.exists()


@pytest.mark.parametrize("body", ["", "[]", "{", "nothing", '{"records": []}', "[" * 100_000, '"x"'])
def test_a_body_that_is_no_list_of_records_is_explained(caseys, body):
    answer = caseys.post(body)
    assert answer.status_code in (400, 409)
    assert answer.json()["mend"]


@pytest.mark.parametrize("sent_at", [None, "now", 5, "2026-11-01"])
def test_a_body_that_says_no_time_is_explained(caseys, sent_at):
    assert caseys.post(caseys.said(records=[]) | {"sent_at": sent_at}).status_code == 400


def test_a_clock_centuries_off_breaks_nothing(caseys, shelter):
    far = datetime(2150, 1, 1, tzinfo=UTC).isoformat()
    answer = caseys.post(caseys.said(records=[checked(shelter)]) | {"sent_at": far})
    assert answer.json()["answers"][0]["outcome"] == "recorded"
    assert "days ahead" in Inspection.objects.get().remark


def test_too_many_records_and_too_long_a_body_are_refused_whole(caseys, shelter):
    assert caseys.post(caseys.said(records=[{}] * (MOST_RECORDS + 1))).status_code == 400
    long = caseys.post(caseys.said(records=[checked(shelter, remark="x" * 3_000_000)]))
    assert long.status_code == 413
    assert long.json()["mend"]


def test_a_record_that_breaks_something_of_ours_stays_on_the_phone_and_the_others_are_taken(
    caseys, shelter, monkeypatch
):
    from inspections import services, sync

    whole = services.record_inspection

    def breaks(**what):
        if what["check_key"] == "hold":
            raise RuntimeError("ours")
        return whole(**what)

    monkeypatch.setattr(sync.services, "record_inspection", breaks)
    answers = caseys.send(checked(shelter), checked(shelter, check_key="look", values={"damage": "none"}))
    assert outcomes(answers) == ["later", "recorded"]


# By hand, without script -------------------------------------------------------------------------------------------


def test_without_script_a_walk_is_taken_up_by_a_button(caseys, averys, shelter, bay):
    walk = begun(bay)
    caseys.send(walk)
    row = Walk.objects.get()
    assert "Take it up" in averys.client.get("/walk/").content.decode()
    form = {"client_id": str(uuid.uuid4())}
    for _ in range(2):
        averys.client.post(reverse("inspections:take-up", args=[row.pk]), form)
    assert WalkTakeUp.objects.get().by_name == "Avery"
    page = caseys.client.get(reverse("inspections:round", args=[row.pk])).content.decode()
    assert "taken up by Avery" in page
    assert "Take it up" in page


def test_without_script_a_seal_is_recorded_and_a_wrong_form_keeps_what_was_typed(caseys, bay, department):
    trunk = make_place(department, "Trunk 3", sort=Place.Sort.CONTAINER, within=bay)
    address = reverse("inventory:seal", args=[trunk.pk])
    refused = caseys.client.post(address, {"client_id": str(uuid.uuid4()), "number": "TH 7"})
    assert refused.status_code == 422
    assert "TH 7" in refused.content.decode()
    form = {"client_id": str(uuid.uuid4()), "event": "applied", "number": "TH 7", "note": ""}
    caseys.client.post(address, form)
    caseys.client.post(address, form)
    assert Seal.objects.get().number == "TH 7"
    page = caseys.client.get(reverse("inventory:place", args=[trunk.pk])).content.decode()
    assert "Sealed." in page
    assert 'value="TH 7"' not in page
