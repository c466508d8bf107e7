"""A department's own versions of a procedure, and checks that are wholly its own."""

from copy import deepcopy
from datetime import date, timedelta

import pytest

from inspections.models import Procedure
from inspections.services import amend_procedure, load_procedures, make_check
from inspections.services.amending import cautions_taken
from inventory.models import ItemKind, StateEvent
from inventory.services import set_checks
from shared.api import Conflict
from shared.models import AuditEntry
from tests.inspections.building import DAY_1, check, day, load, make_item

pytestmark = pytest.mark.django_db
TODAY = date(2026, 6, 10)
HOLD = (
    "p_set_psi=3.0; rest_min=60; p1_psi=3.0; t1_degF=60; p2_psi=2.95; t2_degF=60; hold_min=60; same_gauge=yes; "
    "direct_sun=no; relief_lifted=no"
)


@pytest.fixture
def hold(cache):
    return Procedure.objects.get(department=cache, check_key="hold")


def changed(procedure, **changes):
    return deepcopy(procedure.definition) | changes


def amend(procedure, by, definition, **more):
    given = {"effective_on": TODAY, "today": TODAY, "base": procedure.version} | more
    return amend_procedure(
        department=procedure.department, check_key=procedure.check_key, by=by, definition=definition, **given
    )


def without(definition, key):
    return definition | {"inputs": [one for one in definition["inputs"] if one["key"] != key]}


def with_input(definition, key, **changes):
    return definition | {"inputs": [one | (changes if one["key"] == key else {}) for one in definition["inputs"]]}


def with_step(definition, number, **changes):
    steps = [step | (changes if n == number else {}) for n, step in enumerate(definition["steps"])]
    return definition | {"steps": steps}


def test_a_record_keeps_the_version_it_was_made_under_and_a_late_one_gets_the_version_of_its_day(quinn, hold, shelter):
    before = check(shelter, "hold", HOLD, at=day(1))
    new = amend(hold, quinn, changed(hold, restores="Send it to the maker."))
    after = check(shelter, "hold", HOLD, at=day(20))
    late = check(shelter, "hold", HOLD, at=day(2), recorded_at=day(21))
    assert (new.version, new.effective_on, new.origin) == (2, TODAY, "Tarn Hollow Fire District's own wording")
    before.refresh_from_db()
    assert [row.procedure.version for row in (before, after, late)] == [1, 2, 1]
    hold.refresh_from_db()
    assert hold.definition["restores"] != "Send it to the maker."


def test_labels_help_ranges_steps_and_what_must_be_read_are_the_departments_to_word(quinn, hold):
    told = with_input(changed(hold), "rest_min", label="Stood before reading", help="By the wall clock.", required=True)
    told = with_input(told, "p1_psi", least=1, most=10)
    told = with_step(told, 2, text="Leave it an hour.")
    new = amend(hold, quinn, told).definition
    asked = {one["key"]: one for one in new["inputs"]}
    assert (asked["rest_min"]["label"], asked["rest_min"]["required"]) == ("Stood before reading", True)
    assert (asked["p1_psi"]["least"], asked["p1_psi"]["most"]) == (1, 10)
    assert new["steps"][2]["text"] == "Leave it an hour."
    assert asked["p1_psi"]["aliases"] == []
    assert new["key"] == "hold"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: without(d, "p2_psi"), "Reading 2 cannot be taken away: the verdict is worked out from it"),
        (lambda d: with_input(d, "p2_psi", unit="kPa"), "in which unit is fixed"),
        (lambda d: with_input(d, "p2_psi", type="text"), "is fixed"),
        (lambda d: with_input(d, "p2_psi", required=False), "must be read: without it there is no verdict"),
        (lambda d: with_input(d, "p2_psi", label=" "), "needs a name"),
        (lambda d: with_input(d, "p2_psi", least=9, most=3), "not below its high end"),
        (lambda d: with_input(d, "p2_psi", least="x"), "is not a number"),
        (lambda d: with_input(d, "p2_psi", most=float("inf")), "finite"),
        (lambda d: d | {"steps": []}, "one step at least"),
        (lambda d: with_step(d, 1, text=""), "words are missing"),
        (lambda d: d | {"first": "  "}, "stands on every form"),
        (lambda d: d, "Nothing differs"),
    ],
)
def test_what_the_verdict_needs_stays_and_the_refusal_says_why(quinn, hold, change, said):
    with pytest.raises(Conflict, match=said):
        amend(hold, quinn, change(changed(hold)))
    assert Procedure.objects.filter(check_key="hold").count() == 1


def test_taking_a_caution_away_needs_a_reason_that_is_kept_and_other_words_do_not(quinn, hold):
    bare = with_step(changed(hold), 1, caution="")
    with pytest.raises(Conflict, match="A caution is taken away: Never pass set pressure"):
        amend(hold, quinn, bare)
    reworded = amend(hold, quinn, with_step(changed(hold), 1, caution="It bursts in the sun: stay with it."))
    assert reworded.version == 2
    taken = amend(reworded, quinn, with_step(changed(reworded), 1, caution=""), reason="Beams here are open weave.")
    entry = AuditEntry.objects.filter(did="new version of a procedure").latest("pk")
    assert entry.by == quinn
    assert entry.detail["reason"] == "Beams here are open weave."
    assert entry.detail["cautions"] == ["It bursts in the sun: stay with it."]
    assert "caution" not in taken.definition["steps"][1]


def test_a_step_put_before_another_takes_no_caution_with_it(hold):
    told = changed(hold)
    more = told | {"steps": [{"text": "Put on gloves.", "inputs": []}, *told["steps"]]}
    assert cautions_taken(told, more) == []
    gone = told | {"steps": [step for n, step in enumerate(told["steps"]) if n != 4]}
    assert len(cautions_taken(told, gone)) == 1


def test_an_edit_of_a_version_that_is_not_the_newest_is_refused_and_so_is_one_from_the_past(quinn, hold):
    amend(hold, quinn, changed(hold, restores="One."))
    with pytest.raises(Conflict, match="Version 2 was made meanwhile"):
        amend(hold, quinn, changed(hold, restores="Two."))
    newest = Procedure.objects.get(check_key="hold", version=2)
    with pytest.raises(Conflict, match="from today on at the earliest"):
        amend(newest, quinn, changed(newest, restores="Two."), effective_on=TODAY - timedelta(days=1))


def test_loading_the_catalogue_again_lays_nothing_over_the_departments_own_version(quinn, hold, cache):
    amend(hold, quinn, changed(hold, restores="One."))
    load_procedures(department=cache, on=TODAY)
    assert Procedure.objects.filter(department=cache, check_key="hold").count() == 2


def test_a_reading_of_its_own_weighs_on_the_verdict_and_proves_no_mode(quinn, hold, shelter):
    more = {"label": "Zip pulls", "type": "number", "unit": "", "pass_low": 4, "limits_low": 3}
    told = changed(hold)
    amend(hold, quinn, told | {"inputs": [*told["inputs"], more]}, effective_on=TODAY)
    rows = [check(shelter, "hold", f"{HOLD}; own_zip_pulls={n}", at=day(20 + n)) for n in (4, 3, 2)]
    assert [row.verdict for row in rows] == ["pass", "pass with limits", "fail"]
    finding = next(f for f in rows[1].findings if f["key"] == "own_zip_pulls")
    assert (finding["value"], finding["limit_text"], finding["origin"]) == (
        3.0, "at least 4, with limits from 3", "local policy",
    )  # fmt: skip
    assert {p.mode_code for p in rows[2].proofs.all()} == {p.mode_code for p in rows[0].proofs.all()}


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"label": "Pulls", "type": "number", "pass_low": 5, "pass_high": 4}, "lies above the most"),
        ({"label": "Pulls", "type": "number", "pass_low": 5, "limits_low": 6}, "begins above the least"),
        ({"label": "Pulls", "type": "number", "limits_high": 6}, "wider bound needs"),
        ({"label": "Pulls", "type": "photo"}, "a number, a yes or no, or words"),
        ({"label": "Pulls", "type": "yes_no", "expected": "maybe"}, "yes, no, or nothing"),
        ({"label": "", "type": "text"}, "needs a name"),
    ],
)
def test_nonsense_of_its_own_is_refused_with_words(quinn, hold, more, said):
    told = changed(hold)
    with pytest.raises(Conflict, match=said):
        amend(hold, quinn, told | {"inputs": [*told["inputs"], more]})


# A check of its own --------------------------------------------------------------------------------------------------

PAPR = {
    "name": "Blower flow test",
    "steps": [{"text": "Fit the flow meter.", "caution": "Not in a contaminated zone."}],
    "inputs": [
        {"label": "Flow", "type": "number", "unit": "L/min", "pass_low": 170, "limits_low": 160, "required": True},
        {"label": "Alarm sounds", "type": "yes_no", "expected": "yes"},
        {"label": "Cartridge lot", "type": "text"},
    ],
    "mode_codes": ["XX0"],
    "origin": "maker's manual, page 12 (invented)",
}


def papr_check(cache, quinn, **changes):
    kind = {"kind": ItemKind.objects.get(department=cache, key="papr")}
    dates = {"effective_on": DAY_1.date(), "today": DAY_1.date()}
    return make_check(department=cache, by=quinn, **(PAPR | kind | dates | changes))


@pytest.mark.parametrize(
    ("readings", "verdict", "shown"),
    [
        ("own_flow=175; own_alarm_sounds=yes", "pass", "proven"),
        ("own_flow=165; own_alarm_sounds=yes", "pass with limits", "proven"),  # an impairment is there or not
        ("own_flow=150; own_alarm_sounds=yes", "fail", "failed"),
        ("own_flow=175; own_alarm_sounds=no", "fail", "failed"),
        ("own_flow=175; void_reason=dropped the meter", "void", None),
    ],
)
def test_its_own_check_is_judged_by_its_own_bounds_and_settles_the_modes_it_names(
    cache, quinn, readings, verdict, shown
):
    made = papr_check(cache, quinn)
    papr = make_item(cache, "papr", "PR-01")
    row = check(papr, made.check_key, readings, at=day(2))
    assert row.verdict == verdict
    assert [p.outcome for p in row.proofs.all()] == ([shown] if shown else [])


def test_its_failure_takes_the_thing_out_and_the_same_check_by_a_second_name_brings_it_back(cache, quinn):
    made = papr_check(cache, quinn)
    papr = make_item(cache, "papr", "PR-01")
    check(papr, made.check_key, "own_flow=100", at=day(2))
    check(papr, made.check_key, "own_flow=180", at=day(3), by_name="Avery")
    events = list(StateEvent.objects.filter(item=papr).order_by("happened_at").values_list("event", flat=True))
    assert events == ["taken out", "restored"]


def test_a_flow_that_must_be_read_is_asked_for_and_words_are_kept(cache, quinn):
    made = papr_check(cache, quinn)
    papr = make_item(cache, "papr", "PR-01")
    with pytest.raises(ValueError, match="own_flow"):
        check(papr, made.check_key, "own_alarm_sounds=yes", at=day(2))
    row = check(papr, made.check_key, "own_flow=180; own_cartridge_lot=K7", at=day(2))
    assert row.readings.get(key="own_cartridge_lot").text == "K7"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"inputs": [{"label": "Note", "type": "text"}]}, "nothing is expected that could show it"),
        ({"inputs": []}, "one reading at least"),
        ({"steps": []}, "one step at least"),
        ({"name": "Inflation hold test"}, "of that name already"),
        ({"name": "!!"}, "Give the check a name"),
        ({"mode_codes": ["WH1"]}, "has no failure mode WH1"),
        ({"effective_on": DAY_1.date() - timedelta(days=1)}, "from today on"),
        ({"inputs": [PAPR["inputs"][0], PAPR["inputs"][0]]}, "Two readings are called Flow"),
    ],
)
def test_a_check_that_cannot_stand_is_refused_with_words(cache, quinn, changes, said):
    before = Procedure.objects.count()
    with pytest.raises(Conflict, match=said):
        papr_check(cache, quinn, **changes)
    assert Procedure.objects.count() == before


def test_a_kind_of_another_department_is_refused(cache, quinn, other_department):
    theirs = ItemKind.objects.get(department=load(other_department), key="papr")
    with pytest.raises(Conflict, match="another department"):
        papr_check(cache, quinn, kind=theirs)


def test_a_new_blind_spot_needs_a_reason_that_is_kept(cache, quinn):
    kind = ItemKind.objects.get(department=cache, key="gfci")
    with pytest.raises(Conflict, match="No check would see PW2 any more"):
        set_checks(department=cache, kind=kind, checks={"gfci": ["PW1"]}, by=quinn)
    set_checks(department=cache, kind=kind, checks={"gfci": ["PW1"]}, by=quinn, reason="No ohmmeter yet.")
    kind.refresh_from_db()
    assert kind.scheduled_modes == {"PW1"}
    assert AuditEntry.objects.get(did="set checks of a kind").detail["reason"] == "No ohmmeter yet."
