"""One check, recorded: what it writes, what it takes out and restores, and what it refuses."""

import uuid
from datetime import UTC, date, datetime

import pytest
from django.db import connection

from inspections.models import Deficiency, Inspection, Proof, Reading, Restoration
from inspections.queries import evidence, open_deficiencies
from inspections.services import (
    bring_back_by_hand,
    open_walk,
    record_inspection,
    record_repair,
    sign_walk,
    take_out_by_hand,
)
from inspections.signals import evidence_changed
from inspections.verdicts.core import ReadingError
from inventory.models import Count, StateEvent
from inventory.queries import standing, standing_of_items
from inventory.services import record_state, set_limit
from shared.api import AlreadySent, Conflict
from shared.ledger import LedgerError
from shared.people import change_person
from tests.inspections.building import check, day, load, make_item, make_line, make_lot, make_place

TRIPS, DEAD = "test_trips=yes; reset=yes", "test_trips=no; reset=yes"
RUN = "inlet_F=39; outlet_F={out}; head_F=95; set_F=105; gpm=5.25; tries=1; off_after_flow_s=2; CO_ppm=2; drained=yes"


def state(item, at):
    return standing_of_items([item], at, at)[item.pk].state


@pytest.mark.django_db
def test_a_check_is_kept_with_its_readings_as_entered_its_verdict_and_its_proofs(gfci, quinn):
    row = check(gfci, "gfci", TRIPS, at=day(0), by=quinn, by_name="Quinn", remark="ok")
    assert row.verdict == "pass"
    assert row.procedure.check_key == "gfci"
    assert dict(row.readings.values_list("key", "as_entered")) == {"test_trips": "yes", "reset": "yes"}
    assert list(row.proofs.values_list("mode_code", "outcome")) == [("PW1", "proven")]
    assert row.findings[0]["limit_key"] == "gfci"


@pytest.mark.django_db
def test_a_failed_impairment_takes_the_item_out_in_the_same_transaction(gfci):
    states = []

    def listen(**news):
        states.append((state(gfci, day(0)), news["item_ids"], connection.in_atomic_block))

    evidence_changed.connect(listen)
    try:
        check(gfci, "gfci", DEAD, at=day(0))
    finally:
        evidence_changed.disconnect(listen)
    assert states == [("out of service", [gfci.pk], True)]
    assert Deficiency.objects.get().grade == "I"


@pytest.mark.django_db
def test_nothing_is_half_recorded_when_the_rooms_on_the_right_fail(gfci):
    def refuse(**news):
        raise RuntimeError("no")

    evidence_changed.connect(refuse)
    try:
        with pytest.raises(RuntimeError):
            check(gfci, "gfci", DEAD, at=day(0))
    finally:
        evidence_changed.disconnect(refuse)
    assert not Inspection.objects.exists()
    assert not StateEvent.objects.exists()


@pytest.mark.django_db
def test_a_critical_deficiency_is_noted_and_leaves_the_item_in_service(cache):
    strip = make_item(cache, "light_strip", "LT-01")
    check(strip, "light", "lit=8; of=10", at=day(0))
    fault = Deficiency.objects.get()
    assert (fault.grade, fault.mode_code, fault.check_key) == ("C", "LT1", "light")
    assert state(strip, day(0)) == "in service"
    assert Proof.objects.get().ratio == pytest.approx(0.8)


# Sent twice --------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_same_id_twice_makes_one_record(gfci):
    sent = uuid.uuid4()
    first = check(gfci, "gfci", DEAD, at=day(0), client_id=sent)
    again = check(gfci, "gfci", "TEST_TRIPS=no; RESET=yes", at=day(0), client_id=sent)
    assert again.pk == first.pk
    assert (Inspection.objects.count(), Deficiency.objects.count(), StateEvent.objects.count()) == (1, 1, 1)


@pytest.mark.django_db
@pytest.mark.parametrize("change", [{"text": TRIPS}, {"at": day(1)}, {"by_name": "Avery"}])
def test_the_same_id_with_other_content_is_refused(gfci, change):
    sent = uuid.uuid4()
    said = {"text": DEAD, "at": day(0), "by_name": "Casey"}
    check(gfci, "gfci", said["text"], at=said["at"], by_name=said["by_name"], client_id=sent)
    said |= change
    with pytest.raises(AlreadySent):
        check(gfci, "gfci", said["text"], at=said["at"], by_name=said["by_name"], client_id=sent)
    assert Inspection.objects.count() == 1


# Restoring ---------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("passed_by", "restored"), [("Casey", False), ("casey ", False), ("Avery", False), ("Quinn", True)]
)
def test_an_impairment_is_restored_by_a_name_that_neither_found_nor_repaired_it(gfci, passed_by, restored):
    check(gfci, "gfci", DEAD, at=day(0), by_name="Casey")
    repair(gfci, "Avery", day(2))
    check(gfci, "gfci", TRIPS, at=day(3), by_name=passed_by)
    held = standing_of_items([gfci], day(4), day(4))[gfci.pk]
    assert held.state == "in service"
    assert held.awaiting_second_name is not restored
    assert Restoration.objects.get().awaiting_second_name is not restored


def repair(item, by_name, at):
    return record_repair(
        department=item.department,
        item=item,
        what="device replaced",
        happened_at=at,
        by_name=by_name,
        client_id=uuid.uuid4(),
        recorded_at=at,
    )


@pytest.mark.django_db
def test_what_awaits_a_second_name_is_whole_when_that_name_passes_the_same_proof(gfci):
    check(gfci, "gfci", DEAD, at=day(0), by_name="Casey")
    check(gfci, "gfci", TRIPS, at=day(1), by_name="Casey")
    check(gfci, "gfci", TRIPS, at=day(2), by_name="Casey")
    assert Restoration.objects.count() == 1
    check(gfci, "gfci", TRIPS, at=day(3), by_name="Quinn")
    assert not standing_of_items([gfci], day(4), day(4))[gfci.pk].awaiting_second_name
    assert list(Restoration.objects.order_by("pk").values_list("awaiting_second_name", flat=True)) == [True, False]


@pytest.mark.django_db
def test_a_repair_alone_restores_nothing(gfci):
    check(gfci, "gfci", DEAD, at=day(0))
    done = repair(gfci, "Avery", day(1))
    assert [f.repairs for f in open_deficiencies(gfci.department, day(2), day(2))] == [(done,)]
    assert state(gfci, day(2)) == "out of service"


@pytest.mark.django_db
def test_a_void_check_restores_nothing_and_a_look_does_not_either(cache):
    pump = make_item(cache, "pump", "SP-01")
    check(pump, "sump", "runs=no", at=day(0), by_name="Casey")
    check(pump, "look", "seen=yes; works=yes", at=day(1), by_name="Quinn")
    check(pump, "sump", "result=pass", at=day(1), by_name="Quinn")
    assert state(pump, day(2)) == "out of service"


@pytest.mark.django_db
def test_a_critical_deficiency_is_closed_by_the_same_proof_under_any_name(cache):
    strip = make_item(cache, "light_strip", "LT-01")
    check(strip, "light", "lit=8; of=10", at=day(0), by_name="Casey")
    check(strip, "light", "lit=10; of=10", at=day(1), by_name="Casey")
    assert Restoration.objects.get().awaiting_second_name is False


@pytest.mark.django_db
def test_the_same_fault_found_again_is_one_deficiency(cache):
    strip = make_item(cache, "light_strip", "LT-01")
    for number in range(3):
        check(strip, "light", "lit=8; of=10", at=day(number))
    assert Deficiency.objects.count() == 1
    assert Proof.objects.count() == 3


@pytest.mark.django_db
def test_a_failure_that_comes_in_late_is_restored_by_the_pass_already_on_record(gfci):
    check(gfci, "gfci", TRIPS, at=day(5), by_name="Quinn")
    check(gfci, "gfci", DEAD, at=day(3), by_name="Casey", recorded_at=day(6))
    assert state(gfci, day(4)) == "in service"  # as believed on that day
    assert standing_of_items([gfci], day(4), day(6))[gfci.pk].state == "out of service"  # as known since
    assert state(gfci, day(6)) == "in service"


# Subjects ----------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_count_is_also_a_row_of_the_counts_ledger(cache):
    grid = make_item(cache, "grid", "GR-01", quantity=24)
    row = check(grid, "count", "counted=22", at=day(0))
    kept = Count.objects.get()
    assert (kept.counted, kept.inspection_ref, kept.item) == (22, row.client_id, grid)
    assert row.verdict == "pass with limits"
    assert standing_of_items([grid], day(1), day(1))[grid.pk].quantity == 22


@pytest.mark.django_db
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("said", "left"), [("counted=80; spoiled=30", 50), ("counted=80; seal_intact=no", 0), ("counted=80", 80)]
)
def test_what_is_spoiled_or_behind_a_broken_seal_is_not_on_hand(cache, said, left):
    lot = make_lot(cache, on_hand=100)
    check(lot, "count", said, at=day(0))
    assert Count.objects.get().counted == left
    assert standing(make_line(cache), day(1), day(1)).lots[0].on_hand == left


@pytest.mark.django_db
def test_a_drill_shows_nothing_of_what_took_no_part_in_it(cache):
    inside, away = (make_item(cache, "bladder", tag) for tag in ("BL-01", "BL-02"))
    lent = {"event": StateEvent.Event.LENT, "happened_at": day(-1), "by_name": "Quinn", "reason": "to Sam"}
    record_state(department=cache, item=away, by=None, recorded_at=day(-1), **lent)
    check(make_line(cache), "setup", "bladder_level=yes", at=day(0))
    known = evidence([inside, away], day(1), day(1))
    assert [known[item.pk]["BL4"].outcome for item in (inside, away)] == ["proven", "none"]


@pytest.mark.django_db
def test_a_drill_restores_what_a_drill_took_out(cache):
    bladder = make_item(cache, "bladder", "BL-01")
    check(make_line(cache), "setup", "bladder_level=no", at=day(0))
    assert standing(make_line(cache), day(1), day(1)).items[0].state == "out of service"
    check(make_line(cache), "setup", "bladder_level=yes", at=day(2), by_name="Hollis")
    assert standing(make_line(cache), day(3), day(3)).items[0].state == "in service"
    assert evidence([bladder], day(3), day(3))[bladder.pk]["BL4"].outcome == "proven"


def test_a_lot_is_counted_and_an_expired_one_fails(cache):
    lot = make_lot(cache, expires_on=date(2026, 5, 1))
    row = check(lot, "count", "counted=80", at=day(0))
    assert row.verdict == "fail"
    assert Count.objects.get().lot == lot
    assert not row.proofs.exists()


@pytest.mark.django_db
def test_one_thing_looked_for_and_not_found_is_counted_absent(gfci):
    check(gfci, "look", "seen=no", at=day(0))
    assert state(gfci, day(1)) == "absent"


@pytest.mark.django_db
def test_a_drill_of_a_line_shows_each_item_what_its_kind_can_show(cache):
    line = make_line(cache)
    shelter, generator = make_item(cache, "shelter", "SH-01"), make_item(cache, "generator", "GN-01")
    make_item(cache, "gfci", "GF-01")
    text = "qualified=8; lanes=2; erect_min=14; reached_set=yes; generator_ft=12"
    row = check(line, "setup", text, at=day(0))
    shown = set(row.proofs.values_list("item__tag", "line__name", "mode_code", "outcome"))
    assert shown == {
        ("SH-01", None, "SH2", "proven"),
        ("GN-01", None, "GN3", "failed"),
        (None, "Line A", "PE1", "proven"),
    }
    assert state(generator, day(1)) == "out of service"
    assert state(shelter, day(1)) == "in service"


@pytest.mark.django_db
def test_a_check_that_the_kind_does_not_have_is_refused_with_those_it_has(gfci):
    with pytest.raises(ReadingError, match="It is checked by: gfci"):
        check(gfci, "heat", "tries=1", at=day(0))


@pytest.mark.django_db
def test_an_unknown_check_and_unknown_readings_are_refused(gfci):
    with pytest.raises(ReadingError, match="no such check"):
        check(gfci, "polish", "shine=yes", at=day(0))
    with pytest.raises(ReadingError) as refused:
        check(gfci, "gfci", "test_trips=perhaps; colour=red", at=day(0))
    assert [one.key for one in refused.value.every] == ["test_trips", "colour"]
    assert not Inspection.objects.exists()


@pytest.mark.django_db
def test_another_departments_item_is_refused(gfci, other_department):
    load(other_department)
    with pytest.raises(Conflict, match="another department"):
        record_inspection(
            department=other_department,
            check_key="gfci",
            item=gfci,
            values={"test_trips": "yes"},
            happened_at=day(0),
            by_name="Sam",
            client_id=uuid.uuid4(),
        )


@pytest.mark.django_db
def test_a_check_without_a_name_or_with_two_subjects_is_refused(gfci, cache):
    with pytest.raises(Conflict, match="name is missing"):
        check(gfci, "gfci", TRIPS, at=day(0), by_name="  ")
    with pytest.raises(Conflict, match="one item, one lot or one line"):
        check(gfci, "gfci", TRIPS, at=day(0), line=make_line(cache))


# Walks -------------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_signed_walk_takes_no_more_checks(gfci, casey):
    walk = open_walk(
        department=casey.department,
        place=make_place(casey.department),
        by=casey,
        started_at=day(0),
        client_id=uuid.uuid4(),
    )
    with pytest.raises(Conflict, match="Nothing was checked"):
        sign_walk(walk=walk, by=casey, signed_name="Casey", signed_at=day(0))
    check(gfci, "gfci", TRIPS, at=day(0), walk=walk)
    with pytest.raises(Conflict, match="your own name, Casey"):
        sign_walk(walk=walk, by=casey, signed_name="Hollis", signed_at=day(0.1))
    signed = sign_walk(walk=walk, by=casey, signed_name="Casey", signed_at=day(0.1))
    assert signed.signed_name == "Casey"
    again = sign_walk(walk=walk, by=casey, signed_name="casey", signed_at=day(9))
    assert (again.signed_name, again.signed_at) == ("Casey", day(0.1))
    with pytest.raises(Conflict, match="signed"):
        check(gfci, "gfci", TRIPS, at=day(1), walk=walk)


# Baselines ---------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_first_run_below_set_point_is_the_baseline_and_a_run_at_set_point_is_not(heater):
    check(heater, "heat", RUN.format(out="105.2").replace("5.25", "2.5"), at=day(0))
    first = check(heater, "heat", RUN.format(out="98.3"), at=day(10))
    low = check(heater, "heat", RUN.format(out="80"), at=day(20))
    assert first.verdict == "pass"
    assert low.proofs.get(mode_code="WH3").ratio == pytest.approx(41 / 59.3, rel=1e-3)


@pytest.mark.django_db
def test_a_run_marked_as_acceptance_is_the_baseline_whatever_came_first(heater):
    check(heater, "heat", RUN.format(out="98.3"), at=day(0))
    check(heater, "heat", RUN.format(out="85") + "; acceptance=yes", at=day(10))
    later = check(heater, "heat", RUN.format(out="85"), at=day(20))
    assert later.proofs.get(mode_code="WH3").outcome == "proven"


@pytest.mark.django_db
def test_the_limits_in_force_on_the_day_decide(cache, hollis):
    strip = make_item(cache, "light_strip", "LT-01")
    fields = {"pass_low": 80.0, "limits_low": 70.0, "origin": "maker", "source": "manual, page 4", "by": hollis}
    set_limit(department=cache, key="light_path", kind=strip.kind, on=day(10).date(), **fields)
    assert check(strip, "light", "lit=8; of=10", at=day(5)).verdict == "fail"
    assert check(strip, "light", "lit=8; of=10", at=day(15)).verdict == "pass"


# Corrections -------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_correction_is_a_new_row_and_takes_back_what_the_mistake_did(gfci):
    wrong = check(gfci, "gfci", DEAD, at=day(0))
    right = check(gfci, "gfci", TRIPS, at=day(0), corrects=wrong, recorded_at=day(1), by_name="Quinn")
    assert right.corrects == wrong
    assert state(gfci, day(0.5)) == "out of service"
    assert standing_of_items([gfci], day(0.5), day(2))[gfci.pk].state == "in service"
    with pytest.raises(Conflict, match="corrected already"):
        check(gfci, "gfci", DEAD, at=day(0), corrects=wrong, recorded_at=day(2))


@pytest.mark.django_db
def test_whoever_found_an_impairment_does_not_correct_it_away_alone(gfci):
    wrong = check(gfci, "gfci", DEAD, at=day(0), by_name="Casey")
    with pytest.raises(Conflict, match="somebody else corrects it"):
        check(gfci, "gfci", TRIPS, at=day(0), by_name="casey ", corrects=wrong)
    assert state(gfci, day(1)) == "out of service"
    again = check(gfci, "gfci", DEAD + "; awg=12", at=day(0), by_name="Casey", corrects=wrong)
    assert (again.corrects, state(gfci, day(1))) == (wrong, "out of service")


@pytest.mark.django_db
def test_a_new_name_makes_nobody_a_second_person(gfci, casey, avery):
    check(gfci, "gfci", DEAD, at=day(0), by=casey, by_name=casey.signed_name)
    renamed = change_person(user=casey, display_name="C. Casey", uses_si=False)
    check(gfci, "gfci", TRIPS, at=day(1), by=renamed, by_name=renamed.signed_name)
    assert state_now(gfci).awaiting_second_name
    check(gfci, "gfci", TRIPS, at=day(2), by=avery, by_name=avery.signed_name)
    assert not state_now(gfci).awaiting_second_name


@pytest.mark.django_db
def test_a_new_name_does_not_bring_back_by_hand_alone_either(gfci, casey):
    of = {"department": gfci.department, "item": gfci, "reason": "sound"}
    take_out_by_hand(**of, happened_at=day(0), by=casey, by_name="Casey", client_id=uuid.uuid4())
    renamed = change_person(user=casey, display_name="C. Casey", uses_si=False)
    bring_back_by_hand(**of, happened_at=day(1), by=renamed, by_name="C. Casey", client_id=uuid.uuid4())
    assert state_now(gfci).awaiting_second_name


@pytest.mark.django_db
def test_a_pass_corrected_into_a_fail_takes_the_restored_item_out_again(gfci):
    check(gfci, "gfci", DEAD, at=day(0), by_name="Casey")
    passed = check(gfci, "gfci", TRIPS, at=day(1), by_name="Quinn")
    assert state(gfci, day(2)) == "in service"
    check(gfci, "gfci", DEAD, at=day(1), by_name="Quinn", corrects=passed, recorded_at=day(3))
    assert standing_of_items([gfci], day(2), day(4))[gfci.pk].state == "out of service"


@pytest.mark.django_db
def test_a_corrected_count_corrects_the_counts_ledger(cache):
    grid = make_item(cache, "grid", "GR-01", quantity=24)
    wrong = check(grid, "count", "counted=2", at=day(0))
    check(grid, "count", "counted=24", at=day(0), corrects=wrong, recorded_at=day(1))
    assert standing_of_items([grid], day(2), day(2))[grid.pk].quantity == 24


@pytest.mark.django_db
def test_records_are_never_edited_or_deleted(gfci):
    row = check(gfci, "gfci", TRIPS, at=day(0))
    with pytest.raises(LedgerError):
        row.delete()
    with pytest.raises(LedgerError):
        Proof.objects.update(outcome="failed")
    assert Reading.objects.count() == 2


# By hand -----------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_what_was_taken_out_by_hand_comes_back_under_a_second_name(gfci):
    of = {"department": gfci.department, "item": gfci}
    take_out_by_hand(**of, reason="dropped", happened_at=day(0), by_name="Casey", client_id=uuid.uuid4())
    assert state_now(gfci).state == "out of service"
    bring_back_by_hand(**of, reason="sound", happened_at=day(1), by_name="Casey", client_id=uuid.uuid4())
    assert state_now(gfci).awaiting_second_name
    bring_back_by_hand(**of, reason="sound", happened_at=day(2), by_name="Quinn", client_id=uuid.uuid4())
    assert not state_now(gfci).awaiting_second_name
    with pytest.raises(Conflict, match="same check"):
        bring_back_by_hand(**of, reason="again", happened_at=day(3), by_name="Quinn", client_id=uuid.uuid4())


def state_now(item):
    far = datetime(2030, 1, 1, tzinfo=UTC)
    return standing_of_items([item], far, far)[item.pk]


@pytest.mark.django_db
def test_a_line_names_its_items_of_that_day(cache):
    make_item(cache, "gfci", "GF-09")
    assert [held.item.tag for held in standing(make_line(cache), day(0), day(0)).items] == ["GF-09"]
