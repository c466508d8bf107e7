"""A line sent out and received back: receipts, the sheet, the times as a drill, losses, the wet clock."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inspections import queries
from inspections.models import HandReceipt, Inspection, Run, RunEvent
from inspections.queries.after_use import wet_clock
from inspections.queries.runs import drills, losses_of, run_sheet, runs_out
from inspections.runs import Tap, drill_values, out_of_order, takt_over_lanes, takts
from inspections.services.after_use import Packing, clear_items, pack_items, spread_to_dry, tell_of_wet
from inspections.services.runs import Return, receive_line, record_run_event, send_line, undo_run_event
from inventory.models import Place
from inventory.queries import seals, standing, standing_of_items
from inventory.services import record_seal
from readiness import queries as answers
from readiness.rating.mission import Mission
from shared.api import AlreadySent, Conflict
from shared.models import Notice
from tests.conftest import NOON
from tests.flows.bays import HOLD, ago, load, make_crew, make_item, make_line, make_lot, make_place, make_row, record

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


@pytest.fixture
def shelter(cache):
    return make_item(cache, "shelter", "SH-01", spec={"lanes": 2}, unit_cost=Decimal("9000"))


@pytest.fixture
def line(shelter):
    return make_line(shelter.department)


def signed(user):
    return {"department": user.department, "by": user, "by_name": user.display_name}


def send(line, quinn, sort="drill", **more):
    said = {"sort": sort, "title": "Autumn drill", "accepted_by": "Dana Reyes", "happened_at": ago(hours=4)} | more
    return send_line(line=line, client_id=said.pop("client_id", uuid.uuid4()), **signed(quinn), **said)


def put(run, event, quinn, minutes, **more):
    at = run.happened_at + minutes * MINUTE
    return record_run_event(run=run, event=event, happened_at=at, client_id=uuid.uuid4(), **signed(quinn), **more)


def receive(run, quinn, came=None, **more):
    came = came or Return("none", water_ran=True)
    more = {"happened_at": ago(minutes=5), "client_id": uuid.uuid4(), "handed_by": "Dana Reyes"} | more
    return receive_line(run=run, came=came, **signed(quinn), **more)


def now_of(item):
    now = timezone.now()
    return standing_of_items([item], now, now)[item.pk]


def sheet_of(run):
    now = timezone.now()
    return run_sheet(run, now, now)


# Out and back --------------------------------------------------------------------------------------------------------


def test_a_line_sent_out_leaves_with_a_receipt_of_its_load_its_shortages_and_its_seals(line, quinn, cache):
    make_lot(cache, "towel", "T1", on_hand=40)
    make_row(line, "heater", quantity=2, needed=1)
    chest = make_place(cache, "Chest 1", sort=Place.Sort.CONTAINER)
    make_item(cache, "light_strip", "LT-01", place="Chest 1")
    record_seal(place=chest, event="applied", number="S 4471", happened_at=ago(days=3), **signed(quinn))
    run = send(line, quinn, organisation="Elm County")
    receipt = run.receipts.get()
    assert (receipt.way, receipt.accepted_by, receipt.by_name) == ("sent", "Dana Reyes", "Quinn")
    assert {row["tag"]: row["quantity"] for row in receipt.load if "tag" in row} == {"SH-01": 1, "LT-01": 1, "T1": 40}
    assert [row["missing"] for row in receipt.load if "missing" in row] == [2]
    assert receipt.seals == [{"place": "Chest 1", "number": "S 4471", "doubt": ""}]
    assert runs_out(cache, timezone.now(), timezone.now()) == {line.pk: run}


def test_a_line_that_is_out_is_not_sent_again_until_it_is_back(line, quinn):
    run = send(line, quinn)
    with pytest.raises(Conflict, match="out already"):
        send(line, quinn, title="Another")
    receive(run, quinn)
    assert send(line, quinn, title="Another", happened_at=ago(minutes=1)).title == "Another"


def test_the_same_send_twice_opens_one_run_and_other_content_under_its_id_is_refused(line, quinn):
    key, at = uuid.uuid4(), ago(hours=1)
    first = send(line, quinn, client_id=key, happened_at=at)
    assert send(line, quinn, client_id=key, happened_at=at) == first
    with pytest.raises(AlreadySent):
        send(line, quinn, client_id=key, title="Something else")
    assert (Run.objects.count(), HandReceipt.objects.count()) == (1, 1)


def test_what_is_lent_counts_zero_until_it_is_received_back(line, quinn, shelter):
    run = send(line, quinn, sort="loan")
    assert now_of(shelter).state == "lent"
    receive(run, quinn, Return("none", water_ran=False))
    assert now_of(shelter).state == "in service"


def test_nobody_accepting_no_title_or_another_departments_line_is_refused(line, quinn, sam):
    for wrong in ({"accepted_by": " "}, {"title": ""}, {"sort": "parade"}):
        with pytest.raises(Conflict):
            send(line, quinn, **wrong)
    with pytest.raises(Conflict):
        send(line, sam)
    assert not Run.objects.exists()


def test_a_line_is_received_once_and_not_before_contamination_is_stated(line, quinn):
    run, key = send(line, quinn), uuid.uuid4()
    with pytest.raises(Conflict, match="contaminated"):
        receive(run, quinn, Return("", water_ran=True))
    receipt = receive(run, quinn, client_id=key)
    assert receive(run, quinn, client_id=key) == receipt
    with pytest.raises(Conflict, match="already"):
        receive(run, quinn)
    assert (receipt.handed_by, receipt.accepted_by) == ("Dana Reyes", "Quinn")


# The sheet -----------------------------------------------------------------------------------------------------------


def test_a_stamp_stands_once_and_is_corrected_by_name(line, quinn):
    run = send(line, quinn)
    wrong = put(run, "erected", quinn, 40)
    with pytest.raises(Conflict, match="correct that stamp"):
        put(run, "erected", quinn, 20)
    put(run, "erected", quinn, 20, corrects=wrong)
    assert sheet_of(run).values["erect_min"] == "20"
    with pytest.raises(Conflict, match="corrected already"):
        put(run, "erected", quinn, 25, corrects=wrong)


def test_a_person_tapped_by_mistake_is_undone_by_a_row_and_stays_on_record(line, quinn):
    run = send(line, quinn)
    put(run, "person", quinn, 30, lane=1, walking=True)
    slip = put(run, "person", quinn, 30.2, lane=1, walking=True)
    undo_run_event(run=run, row=slip, happened_at=ago(minutes=1), client_id=uuid.uuid4(), **signed(quinn))
    assert len(sheet_of(run).people) == 1
    assert RunEvent.objects.filter(run=run).count() == 3


def test_rows_that_do_not_say_what_they_must_are_refused(line, quinn, sam, shelter, cache):
    run = send(line, quinn)
    wrong = (
        ("person", {}), ("person", {"lane": 13}), ("hours", {"number": 2}), ("fault", {"text": ""}), ("dance", {}),
        ("used", {"lot": make_lot(cache), "number": 1.5}), ("fuel", {"number": -1}), ("closed", {}), ("undone", {}),
    )  # fmt: skip
    for event, said in wrong:
        with pytest.raises(Conflict):
            put(run, event, quinn, 1, **said)
    with pytest.raises(Conflict):
        put(run, "erected", sam, 1)
    assert not run.events.exists()


def test_a_consumable_used_is_posted_as_used_and_given_back_when_it_is_undone(line, quinn, cache):
    lot = make_lot(cache, "towel", "T1", on_hand=40)
    run = send(line, quinn)

    def left():
        now = timezone.now()
        return next(s.on_hand for s in standing(line, now, now).lots if s.lot == lot)

    row = put(run, "used", quinn, 60, lot=lot, number=12)
    assert left() == 28
    better = put(run, "used", quinn, 60, lot=lot, number=15, corrects=row)
    assert left() == 25
    undo_run_event(run=run, row=better, happened_at=ago(minutes=1), client_id=uuid.uuid4(), **signed(quinn))
    assert left() == 40


def test_a_fault_that_names_its_failure_opens_a_deficiency_and_one_that_does_not_stays_a_note(line, quinn, cache):
    pump = make_item(cache, "pump", "PU-01")
    run = send(line, quinn)
    put(run, "fault", quinn, 40, item=pump, text="hums and moves no water", unit="SP2")
    put(run, "fault", quinn, 50, text="a mat is missing a corner")
    fault = pump.deficiencies.get()
    assert (fault.mode_code, fault.grade, fault.by_name) == ("SP2", "I", "Quinn")
    assert now_of(pump).state == "out of service"
    with pytest.raises(Conflict):
        put(run, "fault", quinn, 60, item=pump, text="it is a pump", unit="WH1")


# The times as a drill ------------------------------------------------------------------------------------------------


def tap(seconds, lane=1, walking=True):
    return Tap(NOON + timedelta(seconds=seconds), lane, walking)


def test_the_takt_is_taken_lane_by_lane_and_apart_for_those_who_do_not_walk():
    taps = [tap(0), tap(120), tap(250), tap(600, walking=False), tap(10, 2), tap(100, 2)]
    found = takts(taps)
    assert (found[1, True].people, found[1, True].gaps, found[1, True].median_s) == (3, 2, 125)
    assert found[1, False].median_s == 350
    assert takt_over_lanes(taps, walking=True).median_s == 120
    many = takt_over_lanes([tap(100 * n + n * n) for n in range(9)], walking=True)
    assert many.low_s < many.median_s < many.high_s


def test_too_few_gaps_make_no_takt_and_a_clock_left_running_no_minutes():
    values = drill_values(NOON, {"erected": NOON + 700 * MINUTE}, [tap(0), tap(90), tap(180)])
    assert values == {"people": "3", "lanes": "1"}


def test_a_stamp_before_an_earlier_step_is_named():
    stamps = {"on scene": NOON + 10 * MINUTE, "erected": NOON + 5 * MINUTE, "water warm": NOON + 20 * MINUTE}
    assert out_of_order(NOON, stamps) == ["Shelter erected"]


def drilled(line, quinn, **more):
    run = send(line, quinn)
    for event, minutes in (("on scene", 5), ("erected", 18), ("water warm", 25)):
        put(run, event, quinn, minutes)
    for n in range(6):
        put(run, "person", quinn, 30 + 2.5 * n, lane=1, walking=True)
    receive(run, quinn, Return("none", water_ran=True, readings={"wet_min": "1.5", "reached_set": "yes"}), **more)
    return run


def test_the_times_become_a_set_up_drill_of_the_line_and_prove_what_they_measured(line, quinn, shelter, cache):
    run = drilled(line, quinn)
    drill = Inspection.objects.get(check_key="setup")
    assert (drill.line, drill.verdict, drill.started_at) == (line, "pass", run.happened_at)
    assert drill.measured["setup_erect_s"]["value"] == 18 * 60
    assert drill.measured["takt_s"]["value"] == 150
    assert drill.measured["handover_s"]["value"] == pytest.approx(60)
    now = timezone.now()
    assert queries.evidence([shelter], now, now)[shelter.pk]["SH2"].outcome == "proven"
    assert [row.first_s for row in drills(line, now, now)] == [30 * 60]


def test_the_hand_over_that_a_drill_measured_reaches_the_rated_mission(line, quinn):
    assert answers.rated_mission(line, timezone.now()).handover_min == Mission().handover_min
    drilled(line, quinn)
    now = timezone.now()
    assert answers.rated_mission(line, now).handover_min == pytest.approx(1.0)
    assert answers.gather(line, now, now).rated_mission["handover_min"] == pytest.approx(1.0)
    assert answers.as_drilled(Mission(handover_min=2), 1.0).handover_min == 2


def test_a_late_correction_of_a_stamp_corrects_the_drill_with_it(line, quinn):
    run = drilled(line, quinn)
    stamp = sheet_of(run).stamps["erected"]
    put(run, "erected", quinn, 15, corrects=stamp)
    first = Inspection.objects.get(check_key="setup", corrects=None)
    newest = first.corrections.get()
    assert newest.measured["setup_erect_s"]["value"] == 15 * 60
    assert newest.measured["takt_s"] == first.measured["takt_s"]
    assert newest.happened_at == first.happened_at


def test_only_operators_that_the_roster_knows_as_qualified_count(line, quinn, cache):
    for name, days in (("Casey", 30), ("Avery", 3000)):
        make_crew(cache, name, qualified_on=ago(days=days).date())
    run = send(line, quinn)
    for name in ("Casey", "Avery", "somebody else"):
        put(run, "operator", quinn, 1, text=name)
    receive(run, quinn)
    readings = dict(Inspection.objects.get(check_key="setup").readings.values_list("key", "number"))
    assert (readings["crew"], readings["qualified"]) == (3, 1)


def test_a_run_that_timed_nothing_and_a_loan_make_no_drill(line, quinn):
    receive(send(line, quinn), quinn)
    loan = send(line, quinn, sort="loan", happened_at=ago(minutes=4))
    put(loan, "erected", quinn, 1)
    receive(loan, quinn, happened_at=ago(minutes=1))
    assert not Inspection.objects.filter(check_key="setup").exists()


# What is used, lost and wet ------------------------------------------------------------------------------------------


def test_what_was_used_is_due_for_its_after_use_checks_at_once(line, quinn, shelter, cache):
    light = make_item(cache, "light_strip", "LT-01")
    record(shelter, "hold", HOLD, happened_at=ago(days=1))
    pack_first = {"contamination": "none", "mould": "none", "wet_packed_h": "1", "drained": "yes"}
    record(shelter, "drypack", pack_first, happened_at=ago(days=1))
    run = send(line, quinn)
    receive(run, quinn, Return("none", water_ran=True, unused={light.pk}))
    assert (shelter.upkeep.count(), light.upkeep.count()) == (1, 0)
    due = {check.check_key: check.why for check in queries.due([shelter], timezone.localdate())}
    assert {due["hold"], due["drypack"]} == {"after use"}


def test_hours_run_on_the_sheet_are_the_hours_of_use(line, quinn, cache):
    generator = make_item(cache, "generator", "GN-01")
    run = send(line, quinn)
    put(run, "hours", quinn, 60, item=generator, number=1.5)
    put(run, "hours", quinn, 120, item=generator, number=2)
    receive(run, quinn)
    assert generator.upkeep.get().hours == 3.5


def test_what_did_not_come_back_is_posted_as_lost_with_its_cost(line, quinn, shelter, cache):
    hose = make_item(cache, "hose_cold", "HC-01", quantity=4, unit_cost=Decimal("35"))
    lot = make_lot(cache, "towel", "T1", on_hand=40)
    run = send(line, quinn)
    put(run, "used", quinn, 60, lot=lot, number=12)
    came = Return("none", water_ran=True, items_back={hose.pk: 3}, lots_back={lot.pk: 20})
    receive(run, quinn, came)
    lost = losses_of(sheet_of(run))
    assert [(row.tag, row.quantity, row.cost) for row in lost.rows] == [("HC-01", 1, Decimal("35")), ("T1", 8, None)]
    assert (lost.cost, [row.tag for row in lost.unpriced]) == (Decimal("35"), ["T1"])
    assert now_of(hose).quantity == 3
    now = timezone.now()
    assert next(s.on_hand for s in standing(line, now, now).lots) == 20


def test_more_cannot_come_back_than_left(line, quinn, shelter):
    with pytest.raises(Conflict, match="Count again"):
        receive(send(line, quinn), quinn, Return("none", water_ran=True, items_back={shelter.pk: 2}))


def test_water_stands_in_what_drains_and_the_clock_alarms_after_a_day_packed_wet(line, quinn, shelter, cache):
    light = make_item(cache, "light_strip", "LT-01")
    receive(send(line, quinn, happened_at=ago(hours=40)), quinn, happened_at=ago(hours=25))
    assert (now_of(shelter).state, now_of(light).state) == ("wet", "in service")
    now = timezone.now()
    (clock,) = wet_clock(cache, now, now)
    assert (clock.is_alarm, round(clock.hours_wet)) == (True, 25)
    spread_to_dry(items=[shelter], happened_at=ago(hours=24), client_id=uuid.uuid4(), **signed(quinn))
    (clock,) = wet_clock(cache, now, timezone.now())
    assert (clock.state, clock.is_alarm, round(clock.hours_wet)) == ("drying", False, 1)


def test_whoever_walks_is_told_once_of_what_lies_packed_wet_too_long(line, quinn, casey, shelter, cache):
    receive(send(line, quinn, happened_at=ago(hours=40)), quinn, happened_at=ago(hours=25))
    for _ in range(2):
        assert tell_of_wet(department=cache, at=timezone.now()) == 1
    assert sorted(Notice.objects.values_list("user__display_name", "subject")) == [
        ("Casey", "SH-01 lies packed wet"),
        ("Quinn", "SH-01 lies packed wet"),
    ]


def test_nothing_is_wet_where_no_water_ran(line, quinn, shelter):
    receive(send(line, quinn), quinn, Return("none", water_ran=False))
    assert now_of(shelter).state == "in service"


def pack(items, user, **more):
    packing = Packing(**{"drained": True, "mould": "none"} | more)
    return pack_items(items=items, packing=packing, happened_at=timezone.now(), client_id=uuid.uuid4(), **signed(user))


def test_dry_things_are_packed_under_a_seal_and_their_dry_pack_is_a_proof(line, quinn, shelter, cache):
    chest = make_place(cache, "Chest 1", sort=Place.Sort.CONTAINER)
    receive(send(line, quinn), quinn)
    spread_to_dry(items=[shelter], happened_at=ago(minutes=2), client_id=uuid.uuid4(), **signed(quinn))
    pack([shelter], quinn, place=chest, seal="S 9001")
    assert now_of(shelter).state == "in service"
    now = timezone.now()
    found = queries.evidence([shelter], now, now)[shelter.pk]
    assert {code: found[code].outcome for code in ("SH4", "SH9")} == {"SH4": "proven", "SH9": "proven"}
    assert seals(cache, now, now)[chest.pk].number == "S 9001"


def test_what_is_mouldy_or_not_drained_is_not_packed(line, quinn, shelter):
    receive(send(line, quinn), quinn)
    with pytest.raises(Conflict, match="Drain"):
        pack([shelter], quinn, drained=False)
    assert pack([shelter], quinn, mould="seen") == []
    assert now_of(shelter).state == "wet"
    assert shelter.deficiencies.get().mode_code == "SH4"


@pytest.mark.parametrize("contamination", ["suspected", "confirmed"])
def test_what_may_be_contaminated_stays_in_quarantine_until_somebody_else_clears_it(
    line, quinn, casey, shelter, contamination
):
    receive(send(line, quinn, sort="incident"), quinn, Return(contamination, water_ran=True))
    assert now_of(shelter).state == "quarantine"
    pack([shelter], quinn)
    assert now_of(shelter).state == "quarantine"

    def clear(user, cleared_by, **more):
        said = {"contamination": contamination, "method": "M8 paper", "reading": "no colour", "cleared_by": cleared_by}
        return clear_items(
            items=[shelter], happened_at=timezone.now(), client_id=uuid.uuid4(), **signed(user), **said | more
        )

    for user, name in ((quinn, "Quinn"), (casey, "quinn"), (quinn, "Casey")):
        with pytest.raises(Conflict, match="somebody else"):
            clear(user, name)
    with pytest.raises(Conflict, match="method"):
        clear(casey, "Casey", method=" ")
    clear(casey, "Casey")
    assert now_of(shelter).state == "in service"
    now = timezone.now()
    assert queries.evidence([shelter], now, now)[shelter.pk]["SH9"].outcome == "proven"


def test_whoever_cleared_a_thing_does_not_pack_it(line, quinn, casey, shelter):
    receive(send(line, quinn), quinn, Return("confirmed", water_ran=True))
    clear_items(
        items=[shelter], happened_at=ago(minutes=2), client_id=uuid.uuid4(), contamination="confirmed",
        method="meter", reading="0", cleared_by="Casey", **signed(casey),
    )  # fmt: skip
    assert now_of(shelter).state == "wet"
    with pytest.raises(Conflict, match="somebody else packs"):
        pack([shelter], casey)
    pack([shelter], quinn)
    assert now_of(shelter).state == "in service"
