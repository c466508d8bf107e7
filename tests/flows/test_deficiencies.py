"""Deficiencies: their pages, faults found and put right by hand, risks accepted, photos, tags."""

import io
import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from inspections import queries, services
from inspections.models import AcceptedRisk, Deficiency, Inspection, Photo, Repair, Restoration
from inspections.services.deficiencies import restoring_check
from inventory.queries import standing_of_items
from shared.api import AlreadySent, Conflict
from tests.flows.api import at, signed
from tests.flows.bays import HOLD, ago, load, make_item, record

pytestmark = pytest.mark.django_db
LEAKS = HOLD | {"p2_psi": "1.0", "t2_degF": "62"}


@pytest.fixture
def shelter(department):
    return make_item(load(department), "shelter", "SH-01")


@pytest.fixture
def manifold(department):
    """A thing whose one failure mode no scheduled check can see."""
    return make_item(load(department), "regulator", "MR-01")


def found(item, code="SH2", grade="I", *, by_name="Casey", **more):
    more = {"happened_at": ago(hours=1), "client_id": uuid.uuid4(), "text": "hisses at the seam"} | more
    return services.open_deficiency_by_hand(
        department=item.department, item=item, mode_code=code, grade=grade, by_name=by_name, **more
    )


def state(item):
    now = timezone.now()
    return standing_of_items([item], now, now)[item.pk].state


def word(item, code):
    now = timezone.now()
    return queries.evidence_word(queries.evidence([item], now, now)[item.pk].get(code), now)


def picture(name="leak.png") -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(out, "PNG")
    return SimpleUploadedFile(name, out.getvalue(), "image/png")


def page(client, name, *args):
    return client.get(reverse(name, args=args)).content.decode()


# By hand -----------------------------------------------------------------------------------------------------------


def test_an_impairment_found_by_hand_takes_the_item_out_and_the_same_proof_restores_it(shelter):
    row = found(shelter)
    assert (row.check_key, row.inspection, state(shelter)) == ("hold", None, "out of service")
    assert word(shelter, "SH2") == "found present"
    record(shelter, "hold", HOLD, by_name="Avery", happened_at=ago(minutes=1))
    assert state(shelter) == "in service"
    assert word(shelter, "SH2") == "proven"


def test_whoever_found_it_by_hand_cannot_restore_it_alone(shelter):
    row = found(shelter)
    record(shelter, "hold", HOLD, by_name="Casey", happened_at=ago(minutes=1))
    assert row.restorations.get().awaiting_second_name


def test_a_fault_by_hand_is_known_though_nothing_was_ever_measured(shelter):
    found(shelter, "SH1", "C")
    assert state(shelter) == "in service"
    assert word(shelter, "SH1") == "in doubt"
    now = timezone.now()
    known = queries.evidence([shelter], now, now)[shelter.pk]["SH1"]
    assert (known.outcome, known.in_doubt_since.date()) == ("limited", ago(days=365).date())


def test_a_fault_by_hand_puts_in_doubt_back_to_the_last_good_proof(shelter):
    good = record(shelter, "hold", HOLD, happened_at=ago(days=10))
    found(shelter, "SH1", "C")
    now = timezone.now()
    assert queries.evidence([shelter], now, now)[shelter.pk]["SH1"].in_doubt_since == good.happened_at


def test_a_fault_by_hand_that_comes_in_late_is_put_right_by_the_proof_that_came_after_it(shelter):
    record(shelter, "hold", HOLD, by_name="Avery", happened_at=ago(hours=1))
    found(shelter, happened_at=ago(hours=2))
    assert state(shelter) == "in service"
    assert not queries.open_deficiencies(shelter.department, timezone.now(), timezone.now())


def test_sent_twice_it_is_opened_once_and_other_content_is_refused(shelter):
    one = uuid.uuid4()
    assert found(shelter, client_id=one) == found(shelter, client_id=one)
    with pytest.raises(AlreadySent):
        found(shelter, client_id=one, text="something else")
    assert Deficiency.objects.count() == 1


@pytest.mark.parametrize(("code", "grade", "text"), [("HT1", "I", "x"), ("SH2", "A", "x"), ("SH2", "I", "  ")])
def test_a_mode_of_another_kind_a_strange_grade_and_no_words_are_refused(shelter, code, grade, text):
    with pytest.raises(Conflict):
        found(shelter, code, grade, text=text)
    assert not Deficiency.objects.exists()


def test_the_check_that_measures_restores_before_one_that_looks(shelter, manifold):
    assert restoring_check(shelter.kind, "SH3") == "hold"
    assert restoring_check(shelter.kind, "SH5") == "setup"
    assert restoring_check(manifold.kind, "XX0") == ""


# Where no check sees it --------------------------------------------------------------------------------------------


def stated(row, by_name, **more):
    more = {"happened_at": ago(minutes=5), "client_id": uuid.uuid4(), "statement": "ran a heater off it"} | more
    return services.restore_by_hand(department=row.department, deficiency=row, by_name=by_name, **more)


def test_what_no_check_sees_is_put_right_by_a_look_and_a_second_name(manifold):
    row = found(manifold, "XX0")
    alone = stated(row, "Casey", happened_at=ago(minutes=10))
    assert alone.awaiting_second_name
    assert not stated(row, "Avery").awaiting_second_name
    assert state(manifold) == "in service"
    look = Inspection.objects.get(check_key="look", by_name="Avery")
    assert (look.remark, look.proofs.filter(outcome="proven").count()) == ("ran a heater off it", 0)


def test_stated_twice_it_is_put_right_once(manifold):
    row, one = found(manifold, "XX0"), uuid.uuid4()
    assert stated(row, "Avery", client_id=one) == stated(row, "Avery", client_id=one)
    assert Restoration.objects.count() == 1


def test_what_a_check_sees_is_not_put_right_by_a_word(shelter):
    with pytest.raises(Conflict, match="same check"):
        stated(found(shelter), "Avery")


def test_after_a_word_put_it_right_the_same_fault_is_a_new_one_however_late_it_comes_in(manifold):
    row = found(manifold, "XX0", happened_at=ago(hours=3))
    stated(row, "Avery", happened_at=ago(hours=2))
    late = found(manifold, "XX0", happened_at=ago(hours=1))
    now = timezone.now()
    assert [f.deficiency for f in queries.open_deficiencies(manifold.department, now, now)] == [late]


# Risk accepted -----------------------------------------------------------------------------------------------------


def accepted(row, **more):
    on = timezone.localdate()
    more = {"until": on + timedelta(days=14), "reason": "one lane is enough till spring"} | more
    more = {"happened_at": timezone.now(), "client_id": uuid.uuid4(), "by_name": "Hollis"} | more
    return services.accept_risk(department=row.department, deficiency=row, **more)


def test_an_accepted_risk_stands_beside_the_fault_and_changes_nothing_of_it(shelter):
    row = found(shelter, "SH1", "C")
    before = queries.evidence([shelter], timezone.now(), timezone.now())[shelter.pk]["SH1"].outcome
    accepted(row)
    now = timezone.now()
    (risk,) = queries.accepted_risks(shelter.department, now)
    assert (risk.by_name, risk.reason, risk.is_expired) == ("Hollis", "one lane is enough till spring", False)
    assert queries.evidence([shelter], now, now)[shelter.pk]["SH1"].outcome == before


def test_past_its_day_it_is_named_as_such(shelter):
    row = found(shelter, "SH1", "C", happened_at=ago(days=40))
    accepted(row, happened_at=ago(days=30), until=ago(days=20).date(), client_id=uuid.uuid4())
    assert queries.accepted_risks(shelter.department, timezone.now())[0].is_expired


def test_an_impairment_is_not_accepted_away(shelter):
    with pytest.raises(Conflict, match="impairment"):
        accepted(found(shelter))


def test_neither_a_day_gone_by_nor_no_reason_nor_a_fault_put_right_is_accepted(shelter):
    row = found(shelter, "SH1", "C", happened_at=ago(days=2))
    for wrong in ({"until": ago(days=3).date()}, {"reason": " "}):
        with pytest.raises(Conflict):
            accepted(row, **wrong)
    record(shelter, "hold", HOLD, by_name="Avery", happened_at=ago(hours=1))
    with pytest.raises(Conflict, match="not open"):
        accepted(row)
    assert not AcceptedRisk.objects.exists()


def test_it_is_withdrawn_by_a_new_row_and_no_more_stands_afterwards(shelter):
    row = found(shelter, "SH1", "C")
    accepted(row)
    said = {"reason": "frost is coming", "by_name": "Hollis", "client_id": uuid.uuid4()}
    said |= {"department": row.department, "deficiency": row, "happened_at": timezone.now()}
    assert services.withdraw_risk(**said) == services.withdraw_risk(**said)
    assert not queries.accepted_risks(shelter.department, timezone.now())
    with pytest.raises(Conflict, match="stands"):
        services.withdraw_risk(**said | {"client_id": uuid.uuid4()})
    assert AcceptedRisk.objects.count() == 2


def test_an_accepted_risk_is_named_beside_the_word_on_tonight_and_on_the_line(shelter, quinn, client_of):
    accepted(found(shelter, "SH1", "C"))
    client = client_of(quinn)
    said = "Risk accepted by Hollis until"
    standing = standing_of_items([shelter], timezone.now(), timezone.now())[shelter.pk]
    assert said in page(client, "deficiencies:list")
    from readiness.page_queries import risks_by_line

    assert set(risks_by_line(shelter.department, timezone.now())) == {standing.line.pk}


# Pages -------------------------------------------------------------------------------------------------------------


def test_the_gravest_stand_first_and_those_put_right_only_where_asked(shelter, quinn, client_of):
    old = found(shelter, "SH7", "N", happened_at=ago(days=9))
    found(shelter, "SH1", "C", happened_at=ago(days=5))
    found(shelter, "SH2", "I", happened_at=ago(days=1))
    record(shelter, "look", {"seen": "yes", "curtains_ok": "yes"}, by_name="Avery")
    client = client_of(quinn)
    shown = page(client, "deficiencies:list")
    assert shown.index("impairment</span>") < shown.index("critical deficiency</span>")
    address = reverse("deficiencies:deficiency", args=[old.pk])
    assert address not in shown
    assert address in client.get(reverse("deficiencies:list"), {"closed": "1"}).content.decode()


@pytest.mark.parametrize(
    ("asked", "there"),
    [
        ({"grade": "C"}, True),
        ({"grade": "I"}, False),
        ({"kind": "shelter"}, True),
        ({"kind": "pump"}, False),
        ({"q": "hisses seam"}, True),
        ({"q": "nothing such"}, False),
        ({"line": "999999"}, False),
        ({"place": "999999"}, False),
        ({"place": "x", "line": "-1", "grade": "Z", "page": "900"}, True),
    ],
)
def test_the_list_is_narrowed_by_what_is_asked(shelter, quinn, client_of, asked, there):
    row = found(shelter, "SH1", "C")
    shown = client_of(quinn).get(reverse("deficiencies:list"), asked).content.decode()
    assert (reverse("deficiencies:deficiency", args=[row.pk]) in shown) is there


def test_one_deficiency_tells_its_whole_story(shelter, quinn, hollis, client_of):
    record(shelter, "hold", HOLD, by_name="Avery", happened_at=ago(days=60))
    first = record(shelter, "hold", LEAKS, happened_at=ago(days=40)).deficiencies.first()
    record(shelter, "hold", HOLD, by_name="Avery", happened_at=ago(days=35))
    again = record(shelter, "hold", LEAKS, happened_at=ago(days=3)).deficiencies.get(mode_code=first.mode_code)
    record(shelter, "hold", LEAKS, by_name="Quinn", happened_at=ago(days=2))
    client = client_of(quinn)
    client.post(
        reverse("deficiencies:repair", args=[again.pk]),
        {
            "repair-client_id": uuid.uuid4(),
            "repair-what": "patched the seam",
            "repair-cause": "fold crease",
            "repair-parts": "one patch",
            "repair-vendor": "Hill Canvas",
            "repair-hours": "1.5",
            "repair-cost": "40",
        },
    )
    work = Repair.objects.get()
    assert (work.cause, work.parts, work.vendor, work.hours, work.deficiency) == (
        "fold crease", "one patch", "Hill Canvas", 1.5, again,
    )  # fmt: skip
    shown = page(client, "deficiencies:deficiency", again.pk)
    for said in ("patched the seam", "Cause: fold crease", "Hill Canvas", "The same before, 1 time",
                 "the last good proof", "32 days"):  # fmt: skip
        assert said in shown, said


def test_a_fault_found_again_leads_to_the_one_that_stands(shelter, quinn, client_of):
    head = found(shelter, happened_at=ago(hours=3))
    again = found(shelter, happened_at=ago(hours=2))
    answer = client_of(quinn).get(reverse("deficiencies:deficiency", args=[again.pk]))
    assert answer.url == reverse("deficiencies:deficiency", args=[head.pk])


def test_a_fault_is_opened_on_its_page_and_what_is_missing_is_said_beside_it(shelter, casey, client_of):
    client, address = client_of(casey), reverse("deficiencies:new", args=[shelter.pk])
    said = {"fault-client_id": uuid.uuid4(), "fault-mode_code": "SH1", "fault-text": "hisses"}
    answer = client.post(address, said)
    assert answer.status_code == 422
    assert "Say how grave it is." in answer.content.decode()
    assert "hisses" in answer.content.decode()
    answer = client.post(address, said | {"fault-grade": "C"})
    row = Deficiency.objects.get()
    assert (answer.url, row.by, row.grade) == (reverse("deficiencies:deficiency", args=[row.pk]), casey, "C")


def test_a_tag_leads_to_the_form_and_an_unknown_one_says_so(shelter, casey, client_of):
    client = client_of(casey)
    find = reverse("deficiencies:find-item")
    assert client.get(find, {"tag": "sh-01"}).url == reverse("deficiencies:new", args=[shelter.pk])
    assert "No item bears the tag" in client.get(find, {"tag": "ZZ"}).content.decode()


def test_the_head_accepts_and_withdraws_on_the_page_and_nobody_else_is_offered_to(shelter, hollis, quinn, client_of):
    row = found(shelter, "SH1", "C")
    assert "Accept risk" not in page(client_of(quinn), "deficiencies:deficiency", row.pk)
    client = client_of(hollis)
    said = {"accept-client_id": uuid.uuid4(), "accept-reason": "dry season"}
    answer = client.post(reverse("deficiencies:accept", args=[row.pk]), said | {"accept-until": "2001-01-01"})
    assert (answer.status_code, AcceptedRisk.objects.count()) == (422, 0)
    assert "That day is gone by." in answer.content.decode()
    until = timezone.localdate() + timedelta(days=3)
    client.post(reverse("deficiencies:accept", args=[row.pk]), said | {"accept-until": until.isoformat()})
    assert "Accepted by Hollis until" in page(client, "deficiencies:deficiency", row.pk)
    gone = {"withdraw-client_id": uuid.uuid4(), "withdraw-reason": "rain"}
    client.post(reverse("deficiencies:withdraw", args=[row.pk]), gone)
    assert "Withdrawn by Hollis" in page(client, "deficiencies:deficiency", row.pk)


def test_the_list_takes_the_same_queries_for_one_fault_as_for_forty(
    department, quinn, client_of, django_assert_max_num_queries
):
    load(department)
    client = client_of(quinn)
    for number in range(40):
        found(make_item(department, "shelter", f"SH-{number:02}"), "SH1", "C")
    with django_assert_max_num_queries(30):
        assert b"40 open" in client.get(reverse("deficiencies:list")).content


def test_the_tag_is_one_page_with_the_signal_word(shelter, casey, client_of):
    row = found(shelter)
    answer = client_of(casey).get(reverse("reports:tag", args=[row.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.count(b"/Type /Page\n") + answer.content.count(b"/Type /Page ") == 1


# Photos ------------------------------------------------------------------------------------------------------------


def test_photos_taken_with_a_check_are_kept_with_it_once(shelter, casey, client_of):
    client, one = client_of(casey), uuid.uuid4()
    address = reverse("inspections:check", args=["item", shelter.pk, "hold"])
    for _ in range(2):
        client.post(address, HOLD | {"client_id": one, "photos": [picture("a.png"), picture("b.png")]})
    row = Inspection.objects.get()
    assert Photo.objects.filter(inspection=row, by=casey).count() == 2
    shown = page(client, "inspections:inspection", row.client_id)
    assert reverse("shared:file", args=[row.photos.first().file_id]) in shown


def test_a_photo_that_is_none_takes_the_check_back_and_says_so(shelter, casey, client_of):
    address = reverse("inspections:check", args=["item", shelter.pk, "hold"])
    bad = SimpleUploadedFile("a.png", b"no picture", "image/png")
    answer = client_of(casey).post(address, HOLD | {"client_id": uuid.uuid4(), "photos": [bad]})
    assert answer.status_code == 422
    assert "neither a photo" in answer.content.decode()
    assert 'value="2.50"' in answer.content.decode()
    assert not Inspection.objects.exists()


def test_photos_are_added_to_a_record_and_to_a_fault_afterwards(shelter, casey, client_of):
    client, row = client_of(casey), record(shelter, "hold", LEAKS)
    fault = row.deficiencies.first()
    said = {"photo-note": "the seam"}
    for address in (
        reverse("deficiencies:photos-of-record", args=[row.client_id]),
        reverse("deficiencies:photos", args=[fault.pk]),
    ):
        client.post(address, said | {"photo-client_id": uuid.uuid4(), "photos": [picture()]})
    assert {(p.inspection_id, p.deficiency_id) for p in Photo.objects.all()} == {(row.pk, None), (None, fault.pk)}
    assert page(client, "deficiencies:deficiency", fault.pk).count("the seam. Casey") == 2


def test_no_photo_chosen_is_said_on_the_page(shelter, casey, client_of):
    fault = found(shelter)
    answer = client_of(casey).post(reverse("deficiencies:photos", args=[fault.pk]), {"photo-client_id": uuid.uuid4()})
    assert (answer.status_code, Photo.objects.count()) == (422, 0)
    assert "Choose or take a photo first." in answer.content.decode()


# Over the API ------------------------------------------------------------------------------------------------------


def test_a_fault_is_opened_accepted_photographed_and_read_over_the_api(shelter, casey, hollis):
    sent = {"client_id": str(uuid.uuid4()), "item": shelter.pk, "mode_code": "SH1", "grade": "C", "text": "hisses"}
    answers = [signed(casey).post(at("deficiencies"), sent, format="json") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200]
    pk = answers[0].json()["id"]
    until = timezone.localdate() + timedelta(days=5)
    said = {"client_id": str(uuid.uuid4()), "until": until.isoformat(), "reason": "dry season"}
    assert signed(casey).post(at(f"deficiencies/{pk}/accept"), said, format="json").status_code == 403
    assert signed(hollis).post(at(f"deficiencies/{pk}/accept"), said, format="json").status_code == 201
    assert signed(casey).get(at(f"deficiencies/{pk}/acceptances")).json()[0]["reason"] == "dry season"
    gone = {"client_id": str(uuid.uuid4()), "reason": "rain"}
    assert signed(hollis).post(at(f"deficiencies/{pk}/withdraw"), gone, format="json").status_code == 201
    photo = {"client_id": str(uuid.uuid4()), "photo": picture()}
    assert signed(casey).post(at(f"deficiencies/{pk}/add-photo"), photo, format="multipart").status_code == 201
    assert len(signed(casey).get(at(f"deficiencies/{pk}/photos")).json()) == 1
    assert signed(casey).get(at(f"deficiencies/{pk}")).json()["is_open"] is True


def test_over_the_api_an_impairment_is_not_accepted_and_a_word_restores_only_what_no_check_sees(
    shelter, manifold, avery, hollis
):
    row, unseen = found(shelter), found(manifold, "XX0")
    said = {"client_id": str(uuid.uuid4()), "until": "2099-01-01", "reason": "x"}
    assert signed(hollis).post(at(f"deficiencies/{row.pk}/accept"), said, format="json").status_code == 409
    word_given = {"client_id": str(uuid.uuid4()), "statement": "ran a heater off it"}
    assert signed(avery).post(at(f"deficiencies/{row.pk}/restore"), word_given, format="json").status_code == 409
    answer = signed(avery).post(at(f"deficiencies/{unseen.pk}/restore"), word_given, format="json")
    assert answer.status_code == 201
    assert state(manifold) == "in service"
