"""The catalogue in the Proof book: read by all, changed by the officer, refused with words and nothing lost."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.models import Calibration, Inspection, Procedure
from inventory.models import Interval, ItemKind, Limit
from shared.models import AuditEntry
from tests.flows.bays import HOLD, ago, load, make_item, make_line, record

pytestmark = pytest.mark.django_db


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


@pytest.fixture
def as_quinn(quinn, client_of):
    return client_of(quinn)


@pytest.fixture
def as_visitor(visitor, client_of):
    return client_of(visitor)


def at(name, **of):
    return reverse(f"catalogue:{name}", kwargs=of)


def text(answer, status=200):
    assert answer.status_code == status
    return answer.content.decode()


def today(plus=0):
    return (timezone.localdate() + timedelta(days=plus)).isoformat()


def fields_of(answer):
    """Return what a browser would send of the form as it was drawn."""
    form = answer.context["form"]
    sent = {}
    for bound in form:
        value = bound.value()
        if value in (None, False) or (value is True and not bound.field.widget.__class__.__name__.startswith("Check")):
            continue
        sent[bound.html_name] = "on" if value is True else value
    return sent


# Reading -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "of", "most"),
    [
        ("procedures", {}, 12),
        ("procedure", {"check_key": "heat"}, 14),
        ("limits", {}, 20),
        ("limit", {"key": "hold_loss_1h"}, 12),
        ("intervals", {}, 12),
        ("interval", {"code": "PW2"}, 12),
        ("kinds", {}, 12),
        ("kind", {"key": "gfci"}, 12),
        ("instruments", {}, 12),
    ],
)
def test_a_visitor_reads_every_page_and_finds_no_button_and_queries_do_not_grow(
    cache, as_visitor, name, of, most, django_assert_max_num_queries
):
    for n in range(3):
        make_item(cache, "meters", f"GA-0{n}", spec={"gauge_psi": 0.01})
        make_item(cache, "propane", f"LP-0{n}")
    with django_assert_max_num_queries(most):
        page = text(as_visitor.get(at(name, **of)))
    assert 'method="post" action="/proof-book' not in page
    assert "Put it in force" not in page


def test_a_procedure_is_read_as_the_phone_shows_it(cache, as_visitor):
    page = text(as_visitor.get(at("procedure", check_key="heat")))
    places = [page.index(said) for said in ("Carbon monoxide:", "Carbon monoxide at the shelter side", "Scald:")]
    assert places == sorted(places)
    assert "At most 9 ppm, with limits to 34 ppm. Guidance, NIOSH" in page
    assert "Refused outside 32 to 212." in page
    assert "Local code and the maker&#x27;s manual" in page
    connect = text(as_visitor.get(at("procedure", check_key="connect")))
    assert "Never <b>pass with limits</b>" in connect


def test_what_is_not_there_is_not_found(cache, as_quinn):
    for name, of in (
        ("procedure", {"check_key": "no"}), ("amend", {"check_key": "no"}), ("limit", {"key": "no"}),
        ("interval", {"code": "ZZ9"}), ("kind", {"key": "no"}), ("calibration", {"pk": 99}),
    ):  # fmt: skip
        assert as_quinn.get(at(name, **of)).status_code == 404
    assert as_quinn.get(at("procedure", check_key="hold") + "?version=9").status_code == 404


def test_the_intervals_say_who_asks_and_what_each_shipped_rule_is_held_by(cache, as_visitor):
    page = text(as_visitor.get(at("intervals")))
    assert "29 CFR 1926.404(b)(1)(iii)" in page
    assert "Garden-thread hose" in page
    assert "Kept on paper; status here isolates nothing" in page
    mode = text(as_visitor.get(at("interval", code="SP3")))
    assert "local policy: flow at the real lift once a year" in mode


def test_blind_spots_stand_per_kind_with_why(cache, as_visitor):
    page = text(as_visitor.get(at("kinds")))
    assert "a look cannot tell whether it holds its pressure" in page
    assert "Seen on no kind at all: XX0" not in page
    kind = text(as_visitor.get(at("kind", key="regulator")))
    assert "A look cannot tell whether it holds its pressure" in kind


# Procedures ----------------------------------------------------------------------------------------------------------


def test_an_officer_words_a_procedure_anew_and_the_phone_shows_it_from_its_day(cache, as_quinn, quinn):
    shelter = make_item(cache, "shelter", "SH-01")
    before = record(shelter, "hold", HOLD)
    sent = fields_of(as_quinn.get(at("amend", check_key="hold")))
    sent |= {
        "step_0_text": "Look over beams, caps, valves and zips.",
        "in_rest_min_label": "Stood since it was filled",
        "in_rest_min_required": "on",
        "step_new0_text": "Lock the bay door.",
        "step_new0_place": "1",
        "step_new0_caution": "It closes fast.",
        "new_0_label": "Door locked",
        "new_0_type": "yes_no",
        "new_0_expected": "yes",
        "new_0_step": "0",
        "origin": "Bay policy 4 (invented)",
    }
    answer = as_quinn.post(at("amend", check_key="hold"), sent)
    assert answer.status_code == 302, text(answer, answer.status_code)
    page = text(as_quinn.get(reverse("inspections:check", args=["item", shelter.pk, "hold"])))
    places = [
        page.index(s) for s in ("caps, valves and zips", 'name="own_door_locked"', "Lock the bay door", "It closes")
    ]
    assert places == sorted(places)
    assert "Stood since it was filled" in page
    assert "Yes is right. Local policy." in page
    given = HOLD | {"own_door_locked": "no", "client_id": uuid.uuid4()}
    assert as_quinn.post(reverse("inspections:check", args=["item", shelter.pk, "hold"]), given).status_code == 302
    newest = Inspection.objects.latest("pk")
    assert (newest.procedure.version, newest.verdict) == (2, "fail")
    before.refresh_from_db()
    assert before.procedure.version == 1
    read = text(as_quinn.get(at("procedure", check_key="hold")))
    assert "Version 2, in force since" in read
    assert "Bay policy 4 (invented)" in read
    assert "1 record made under it" in text(as_quinn.get(at("procedure", check_key="hold") + "?version=1"))


def test_what_is_refused_stands_beside_its_field_and_nothing_typed_is_lost(cache, as_quinn):
    sent = fields_of(as_quinn.get(at("amend", check_key="hold")))
    del sent["in_p2_psi_required"]
    page = text(as_quinn.post(at("amend", check_key="hold"), sent | {"step_0_text": "Mine."}), 422)
    assert "Reading 2 must be read: without it there is no verdict." in page
    assert "Mine." in page
    assert 'href="#id_in_p2_psi_label"' in page
    sent["in_p2_psi_required"] = "on"
    page = text(as_quinn.post(at("amend", check_key="hold"), sent | {"step_1_caution": ""}), 422)
    assert "A caution is taken away" in page
    assert Procedure.objects.filter(check_key="hold").count() == 1


def test_an_officer_makes_a_check_of_the_departments_own(cache, as_quinn):
    kind = ItemKind.objects.get(department=cache, key="radio")
    sent = fields_of(as_quinn.get(at("new-check"))) | {
        "name": "Radio check", "kind": kind.pk, "modes": "xx0", "step_0_text": "Call the station.",
        "step_0_caution": "Not beside the siren.", "new_0_label": "Heard", "new_0_type": "yes_no",
        "new_0_expected": "yes", "new_1_label": "Battery", "new_1_type": "number", "new_1_unit": "V",
        "new_1_pass_low": "7.2", "new_1_limits_low": "6.8",
    }  # fmt: skip
    answer = as_quinn.post(at("new-check"), sent)
    assert answer.url == at("procedure", check_key="own-radio-check"), text(answer, answer.status_code)
    radio = make_item(cache, "radio", "RD-01")
    page = text(as_quinn.get(reverse("inspections:check", args=["item", radio.pk, "own-radio-check"])))
    assert "Not beside the siren." in page
    assert "At least 7.2 V, with limits from 6.8 V. Local policy." in page
    given = {"own_heard": "yes", "own_battery": "7.0", "client_id": uuid.uuid4()}
    as_quinn.post(reverse("inspections:check", args=["item", radio.pk, "own-radio-check"]), given)
    row = Inspection.objects.get()
    assert (row.verdict, row.proofs.get().mode_code) == ("pass with limits", "XX0")
    wrong = text(as_quinn.post(at("new-check"), sent | {"name": "Other", "modes": "WH1"}), 422)
    assert "Radios has no WH1" in wrong or "has no WH1. It has: XX0." in wrong


# Limits, intervals, kinds --------------------------------------------------------------------------------------------


def test_a_makers_figure_for_one_kind_is_put_in_force_and_judges_from_then_on(cache, as_quinn):
    kind = ItemKind.objects.get(department=cache, key="shelter")
    sent = {"kind": kind.pk, "pass_high": "1", "limits_high": "10", "origin": "maker", "on": today(), "source": ""}
    refused = text(as_quinn.post(at("put-limit", key="hold_loss_1h"), sent), 422)
    assert "Say where it is written" in refused
    sent["source"] = "manual, page 9 (invented)"
    assert as_quinn.post(at("put-limit", key="hold_loss_1h"), sent).status_code == 302
    row = record(make_item(cache, "shelter", "SH-01"), "hold", HOLD, happened_at=timezone.now())
    assert row.verdict == "pass with limits"
    page = text(as_quinn.get(at("limits")))
    assert "At most 1 %, with limits to 10 %. Maker, manual, page 9 (invented)" in page
    assert Limit.objects.filter(key="hold_loss_1h").count() == 2
    assert AuditEntry.objects.filter(did="set limit").count() == 1


@pytest.mark.parametrize(
    ("key", "sent", "said"),
    [
        ("hold_loss_1h", {"pass_high": "9", "limits_high": "3"}, "Pass with limits ends below"),
        ("hold_loss_1h", {"pass_high": "many"}, "Write a number"),
        ("propane_indoors", {"pass_high": "500"}, "The law sets this limit"),
    ],
)
def test_a_limit_that_cannot_stand_is_refused_in_its_place(cache, as_quinn, key, sent, said):
    page = text(as_quinn.post(at("put-limit", key=key), {"origin": "policy", "on": today()} | sent), 422)
    assert said in page
    assert sent["pass_high"] in page
    assert Limit.objects.filter(key=key).count() == 1


def test_an_interval_is_made_tighter_and_the_law_stands(cache, as_quinn):
    sent = {"months": "6", "grace_days": "0", "origin": "own", "on": today()}
    assert "The law asks for it every 3 months" in text(as_quinn.post(at("put-interval", code="PW2"), sent), 422)
    assert as_quinn.post(at("put-interval", code="PW2"), sent | {"months": "1"}).status_code == 302
    page = text(as_quinn.get(at("interval", code="PW2")))
    assert "Proven every month." in page
    assert "The department&#x27;s own decision" in page or "The department's own decision" in page
    assert Interval.objects.filter(origin="own").count() == 1


def test_what_sees_what_is_changed_and_a_new_blind_spot_asks_why(cache, as_quinn):
    sent = {"has_gfci": "on", "sees_gfci": ["PW1"], "reason": ""}
    assert "No check would see PW2 any more" in text(as_quinn.post(at("put-checks", key="gfci"), sent), 422)
    sent["reason"] = "No ohmmeter in the bay yet."
    assert as_quinn.post(at("put-checks", key="gfci"), sent).status_code == 302
    assert ItemKind.objects.get(department=cache, key="gfci").checks == {"gfci": ["PW1"]}
    assert "PW2" in text(as_quinn.get(at("kind", key="gfci")))


def test_no_kind_of_another_department_is_taken(cache, as_quinn, other_department):
    theirs = ItemKind.objects.get(department=load(other_department), key="shelter").pk
    limit = {"kind": theirs, "pass_high": "1", "origin": "policy", "on": today()}
    interval = {"kind": theirs, "months": "1", "grace_days": "0", "origin": "own", "on": today()}
    made = {
        "name": "X",
        "kind": theirs,
        "step_0_text": "Do.",
        "new_0_label": "A",
        "new_0_type": "text",
        "effective_on": today(),
    }
    before = [Limit.objects.count(), Interval.objects.count(), Procedure.objects.count()]
    for address, sent in (
        (at("put-limit", key="hold_loss_1h"), limit),
        (at("put-interval", code="SH1"), interval),
        (at("new-check"), made),
    ):  # fmt: skip
        assert "Select a valid choice" in text(as_quinn.post(address, sent), 422)
    assert [Limit.objects.count(), Interval.objects.count(), Procedure.objects.count()] == before


# Meters --------------------------------------------------------------------------------------------------------------


def test_a_calibration_is_recorded_on_the_meters_own_page_and_offered_on_every_check(cache, as_quinn):
    gauge = make_item(cache, "meters", "GA-01", spec={"gauge_psi": 0.01})
    shelter = make_item(cache, "shelter", "SH-01", spec={"relief_psi": 3.5})
    check = reverse("inspections:check", args=["item", shelter.pk, "relief"])
    page = text(as_quinn.get(check))
    assert '<option value="GA-01">' in page
    assert 'list="meters"' in page
    assert "Record a calibration" in text(as_quinn.get(reverse("inventory:item", args=[gauge.pk])))
    assert "Record a calibration" not in text(as_quinn.get(reverse("inventory:item", args=[shelter.pk])))
    given = {
        "lift_psi": "3.5",
        "reseat_psi": "3.2",
        "bubbles": "none",
        "instrument": "GA-01",
        "client_id": uuid.uuid4(),
    }
    as_quinn.post(check, given)
    sent = {
        "client_id": uuid.uuid4(), "quantity": "pressure", "reference": "dead weight", "error": "0.3", "unit": "psi",
        "accepted": "no", "due_on": today(365),
    }  # fmt: skip
    for _ in range(2):
        answer = as_quinn.post(at("calibrate", pk=gauge.pk), {f"calibration-{k}": v for k, v in sent.items()})
        assert answer.url == reverse("inventory:item", args=[gauge.pk])
    row = Calibration.objects.get()
    question = text(as_quinn.get(at("calibration", pk=row.pk)))
    assert "Relief-valve check" in question
    assert "3.5 psi, 3.2 psi" in question
    listed = text(as_quinn.get(at("instruments")))
    assert "rejected" in listed
    assert "1 past its calibration or rejected" in listed


def test_a_calibration_that_lacks_something_comes_back_with_what_was_typed(cache, as_quinn):
    gauge = make_item(cache, "meters", "GA-01", spec={"gauge_psi": 0.01})
    sent = {
        "client_id": uuid.uuid4(),
        "quantity": "pressure",
        "reference": "dead weight",
        "accepted": "yes",
        "due_on": today(),
    }
    page = text(as_quinn.post(at("calibrate", pk=gauge.pk), {f"calibration-{k}": v for k, v in sent.items()}), 422)
    assert "It is due again on a later day than it was done." in page
    assert "dead weight" in page
    assert Calibration.objects.count() == 0


def test_a_bay_with_no_meter_says_how_one_gets_there(cache, as_visitor):
    assert "No meter is on record" in text(as_visitor.get(at("instruments")))


def test_a_room_over_the_laws_pounds_is_said_to_be(cache, as_visitor):
    for n in range(4):
        make_item(cache, "propane", f"LP-0{n}", spec={"nominal_lb": 100}, acquired_on=ago(days=400).date())
    page = text(as_visitor.get(at("limits")))
    assert "move some to an outdoor cage" in page
    assert "400 lb" in page
