"""What is known of each mode: as of an instant, as known at another."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from inspections import queries
from inspections.queries import WEAKEST_FIRST, EvidenceOfMode, evidence_word
from inspections.queries.evidence import YEAR_S
from inspections.queries.histories import exposures
from inspections.queries.ledgers import ProofRow
from inspections.services import record_repair, record_upkeep
from inventory.models import Posting
from inventory.services import record_posting
from tests.inspections.building import DAY_1, check, day, make_item, make_line, make_place

TRIPS, DEAD = "test_trips=yes; reset=yes", "test_trips=no; reset=yes"
WEIGHED = "gross_lb=162.1; tare_lb=68.0; soap=none"
RUN = "inlet_F=39; outlet_F={out}; head_F=95; set_F=105; gpm={gpm}; tries=1; off_after_flow_s=2; CO_ppm=2; drained=yes"


def known(item, code, at, known_at=None):
    return queries.evidence([item], at, known_at or at)[item.pk][code]


def used(item, at, sort="used", **more):
    record_upkeep(
        department=item.department,
        item=item,
        sort=sort,
        happened_at=at,
        recorded_at=at,
        by_name="Casey",
        client_id=uuid.uuid4(),
        **more,
    )


@pytest.mark.django_db
def test_before_any_check_exposure_runs_from_acceptance_and_nothing_is_proven(gfci):
    of = known(gfci, "PW1", day(0))
    assert (of.outcome, of.proven_at, of.reopened) == ("none", None, False)
    assert of.exposure_years == pytest.approx((DAY_1 - datetime(2026, 1, 1, 5, tzinfo=UTC)).total_seconds() / YEAR_S)


@pytest.mark.django_db
def test_where_not_even_acceptance_is_known_exposure_is_not_known_either(cache):
    item = make_item(cache, "gfci", "GF-08", accepted_on=None)
    assert known(item, "PW1", day(0)).exposure_years is None


@pytest.mark.django_db
def test_a_proof_resets_exposure_and_is_trusted_for_its_interval_and_grace(gfci):
    row = check(gfci, "gfci", TRIPS, at=day(0))
    of = known(gfci, "PW1", day(73.05))
    assert (of.outcome, of.proven_at, of.inspection) == ("proven", day(0), str(row.client_id))
    assert of.exposure_years == pytest.approx(0.2)
    assert of.stale_at == datetime(2026, 7, 6, 15, tzinfo=UTC)


@pytest.mark.django_db
def test_a_void_check_and_a_bare_look_move_no_clock(cache):
    battery = make_item(cache, "battery", "BA-01")
    check(battery, "battery", "rest_h=24; temp_F=77; OCV_V=12.83", at=day(0))
    check(battery, "battery", "rest_h=3; temp_F=77; OCV_V=12.83", at=day(30))
    check(battery, "battery", "result=pass", at=day(31))
    of = known(battery, "BA1", day(40))
    assert (of.outcome, of.proven_at, of.last_at) == ("proven", day(0), day(31))
    assert of.exposure_years == pytest.approx(40 * 86400 / YEAR_S)


@pytest.mark.django_db
def test_a_bare_look_alone_is_claimed_and_exposure_still_runs_from_acceptance(shelter):
    check(shelter, "look", "seen=yes", at=day(0))
    of = known(shelter, "SH7", day(10))
    assert (of.outcome, of.proven_at) == ("claimed", None)
    assert of.exposure_years > 0.4


@pytest.mark.django_db
def test_a_fault_casts_doubt_back_to_the_last_good_proof_until_it_is_put_right(gfci):
    check(gfci, "gfci", TRIPS, at=day(0))
    check(gfci, "gfci", DEAD, at=day(30), by_name="Casey")
    of = known(gfci, "PW1", day(31))
    assert (of.outcome, of.in_doubt_since) == ("failed", day(0))
    check(gfci, "gfci", TRIPS, at=day(32), by_name="Quinn")
    after = known(gfci, "PW1", day(33))
    assert (after.outcome, after.in_doubt_since) == ("proven", None)
    interval = queries.doubt_intervals(gfci, day(33))[0]
    assert (interval.since, interval.found_at, interval.put_right_at) == (day(0), day(30), day(32))


@pytest.mark.django_db
def test_the_past_has_two_voices(gfci):
    check(gfci, "gfci", TRIPS, at=day(0))
    check(gfci, "gfci", DEAD, at=day(30))
    believed, since = known(gfci, "PW1", day(20), day(20)), known(gfci, "PW1", day(20), day(40))
    assert (believed.outcome, believed.in_doubt_since) == ("proven", None)
    assert (since.outcome, since.in_doubt_since) == ("proven", day(0))


@pytest.mark.django_db
def test_what_is_learned_late_was_not_known_before(gfci):
    check(gfci, "gfci", TRIPS, at=day(0), recorded_at=day(10))
    assert known(gfci, "PW1", day(5), day(5)).outcome == "none"
    assert known(gfci, "PW1", day(5), day(11)).outcome == "proven"


@pytest.mark.django_db
def test_a_corrected_check_stands_until_its_correction_is_known(gfci):
    wrong = check(gfci, "gfci", DEAD, at=day(0))
    check(gfci, "gfci", TRIPS, at=day(0), corrects=wrong, recorded_at=day(5), by_name="Quinn")
    assert known(gfci, "PW1", day(2), day(2)).outcome == "failed"
    assert known(gfci, "PW1", day(2), day(6)).outcome == "proven"
    assert queries.open_deficiencies(gfci.department, day(2), day(2))
    assert not queries.open_deficiencies(gfci.department, day(2), day(6))


@pytest.mark.django_db
def test_what_awaits_a_second_name_counts_as_claimed(gfci):
    check(gfci, "gfci", DEAD, at=day(0), by_name="Casey")
    check(gfci, "gfci", TRIPS, at=day(1), by_name="Casey")
    assert known(gfci, "PW1", day(2)).outcome == "claimed"
    assert queries.open_deficiencies(gfci.department, day(2), day(2))[0].awaiting_second_name
    check(gfci, "gfci", TRIPS, at=day(3), by_name="Quinn")
    assert known(gfci, "PW1", day(4)).outcome == "proven"
    assert queries.open_deficiencies(gfci.department, day(4), day(4)) == []


@pytest.mark.django_db
def test_another_check_that_sees_the_mode_does_not_put_the_fault_right(heater):
    check(heater, "heat", "tries=1; co_ppm=60", at=day(0))
    check(heater, "setup", "co_ppm=2", at=day(1), by_name="Quinn")
    of = known(heater, "WH6", day(2))
    assert (of.outcome, of.in_doubt_since) == ("failed", datetime(2026, 1, 1, 5, tzinfo=UTC))


@pytest.mark.django_db
def test_a_limited_mode_carries_its_ratio(cache):
    strip = make_item(cache, "light_strip", "LT-01")
    check(strip, "light", "lit=19; of=20", at=day(0))
    of = known(strip, "LT1", day(1))
    assert (of.outcome, of.ratio) == ("limited", pytest.approx(0.95))


@pytest.mark.django_db
def test_a_check_on_a_row_of_several_alike_shows_one_unit_unless_it_says_how_many(cache):
    radios = make_item(cache, "radio", "RD-01", quantity=6)
    check(radios, "look", "works=yes", at=day(0))
    assert known(radios, "XX0", day(1)).outcome == "claimed"
    check(radios, "look", "works=yes; units=6", at=day(2))
    assert known(radios, "XX0", day(3)).outcome == "proven"


@pytest.mark.django_db
def test_a_count_and_a_check_of_the_whole_line_show_every_unit(cache):
    grid, hose = make_item(cache, "grid", "GR-01", quantity=24), make_item(cache, "hose_cold", "HO-01", quantity=4)
    check(grid, "count", "counted=24", at=day(0))
    check(make_line(cache), "connect", "hose_ft=200; layout_ft=100; threads_mate=yes", at=day(0))
    assert known(grid, "GR1", day(1)).outcome == "proven"
    assert known(hose, "HO6", day(1)).outcome == "proven"


# What reopens ------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_use_reopens_contents_and_a_weighing_settles_them(cache):
    cylinder = make_item(cache, "propane", "LP-01")
    check(cylinder, "propane", WEIGHED, at=day(0))
    used(cylinder, day(5), hours=2.5)
    assert known(cylinder, "LP1", day(4)).reopened is False
    assert known(cylinder, "LP1", day(6)).reopened is True
    assert known(cylinder, "LP2", day(6)).reopened is False
    check(cylinder, "propane", WEIGHED, at=day(7))
    assert known(cylinder, "LP1", day(8)).reopened is False


@pytest.mark.django_db
def test_use_reopens_what_is_proven_after_each_use_and_a_repair_does_not_touch_a_dormant_mode(shelter):
    hold = "rest_min=60; P1_psi=3.00; T1_F=60; P2_psi=2.95; T2_F=60; hold_min=60; same_gauge=yes; direct_sun=no"
    check(shelter, "hold", hold, at=day(0))
    record_repair(
        department=shelter.department,
        item=shelter,
        what="zip",
        happened_at=day(1),
        by_name="Avery",
        client_id=uuid.uuid4(),
        recorded_at=day(1),
    )
    assert known(shelter, "SH1", day(2)).reopened is False
    used(shelter, day(3), hours=1)
    assert known(shelter, "SH1", day(4)).reopened is True
    assert known(shelter, "SH2", day(4)).reopened is False


@pytest.mark.django_db
def test_a_move_reopens_what_was_found_to_fit(cache):
    inflator = make_item(cache, "inflator", "IN-01")
    check(inflator, "connect", "fits=yes", at=day(0))
    check(inflator, "look", "runs=yes", at=day(0))
    record_posting(
        department=cache,
        item=inflator,
        change=0,
        reason=Posting.Reason.MOVED,
        happened_at=day(1),
        recorded_at=day(1),
        by_name="Quinn",
        place=make_place(cache, "Station 2"),
        line=make_line(cache, "Line B"),
    )
    assert known(inflator, "FV3", day(2)).reopened is True
    assert known(inflator, "IN1", day(2)).reopened is False


# Measured quantities -----------------------------------------------------------------------------------------------


def of_heater(item, at):
    return queries.measured([item], at, at)[item.pk]["heater_output_w"]


@pytest.mark.django_db
def test_a_run_at_set_point_does_not_lower_what_an_earlier_run_measured(heater):
    first = check(heater, "heat", RUN.format(out="98.3", gpm="5.25"), at=day(0))
    check(heater, "heat", RUN.format(out="105.2", gpm="2.5"), at=day(30))
    of = of_heater(heater, day(31))
    assert (of.inspection, of.at_least, of.on, of.stale) == (str(first.client_id), False, date(2026, 6, 1), False)


@pytest.mark.django_db
def test_a_bound_above_what_was_measured_shows_that_it_gives_at_least_that(heater):
    check(heater, "heat", RUN.format(out="90", gpm="3"), at=day(0))
    check(heater, "heat", RUN.format(out="105.2", gpm="5"), at=day(30))
    assert of_heater(heater, day(31)).at_least is True


@pytest.mark.django_db
def test_a_quantity_past_its_interval_is_stale(heater):
    check(heater, "heat", RUN.format(out="98.3", gpm="5.25"), at=day(0))
    assert of_heater(heater, day(101)).stale is False
    assert of_heater(heater, day(103)).stale is True


@pytest.mark.django_db
def test_contents_are_stale_after_use_and_what_it_was_filled_to_is_not_yet_weighed(cache):
    cylinder = make_item(cache, "propane", "LP-01")
    check(cylinder, "propane", WEIGHED, at=day(0))
    used(cylinder, day(2), hours=2)
    assert queries.measured([cylinder], day(3), day(3))[cylinder.pk]["propane_kg"].stale
    used(cylinder, day(4), sort="refilled", to_lb=95)
    filled = queries.measured([cylinder], day(5), day(5))[cylinder.pk]["propane_kg"]
    assert (filled.value, filled.stale) == (pytest.approx(95 * 0.45359237), True)
    check(cylinder, "propane", WEIGHED, at=day(6))
    assert not queries.measured([cylinder], day(7), day(7))[cylinder.pk]["propane_kg"].stale


@pytest.mark.django_db
def test_a_void_check_measures_nothing(cache):
    battery = make_item(cache, "battery", "BA-01")
    check(battery, "battery", "rest_h=3; temp_F=77; OCV_V=12.83", at=day(0))
    assert queries.measured([battery], day(1), day(1)) == {}


# Histories, faults, due --------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_histories_add_up_the_exposures_of_like_items(cache):
    a, b = make_item(cache, "gfci", "GF-01"), make_item(cache, "gfci", "GF-02")
    check(a, "gfci", TRIPS, at=day(0))
    check(a, "gfci", TRIPS, at=day(73.05))
    check(b, "gfci", DEAD, at=day(73.05))
    of = queries.histories(cache, day(100), day(100))["gfci", "PW1"]
    from_start = (DAY_1 - datetime(2026, 1, 1, 5, tzinfo=UTC)).total_seconds() / YEAR_S
    assert of.passes == 2
    assert of.pass_years == pytest.approx(from_start + 0.2)
    assert of.failures == (pytest.approx(from_start + 0.2),)
    assert queries.histories(cache, day(1), day(100))["gfci", "PW1"].passes == 1


def test_a_fault_found_again_is_one_failure_and_the_pass_after_it_starts_afresh():
    def row(number, outcome):
        return ProofRow(DAY_1 + timedelta(days=number), outcome, None, "", "gfci")

    rows = [
        row(0, "proven"),
        row(5, "claimed"),
        row(10, "failed"),
        row(12, "failed"),
        row(20, "proven"),
        row(30, "proven"),
    ]
    found = exposures(rows, DAY_1 + timedelta(days=99), None)
    assert [(round(years * 365.25), absent) for years, absent in found] == [(10, False), (10, True)]


@pytest.mark.django_db
def test_open_deficiencies_name_the_gravest_first_and_who_cannot_restore_them(gfci, cache):
    strip = make_item(cache, "light_strip", "LT-01")
    check(strip, "light", "lit=8; of=10", at=day(0))
    check(gfci, "gfci", DEAD, at=day(1), by_name="Casey")
    record_repair(
        department=cache,
        item=gfci,
        what="swapped",
        happened_at=day(2),
        by_name="Avery",
        client_id=uuid.uuid4(),
        recorded_at=day(2),
    )
    found = queries.open_deficiencies(cache, day(3), day(3))
    assert [fault.deficiency.grade for fault in found] == ["I", "C"]
    assert found[0].own_names == ("Casey", "Avery")


@pytest.mark.django_db
def test_what_is_due_is_moved_by_a_proof_and_by_nothing_else(gfci):
    start = queries.due([gfci], day(0).date())[0]
    assert (start.why, start.proven_on) == ("never proven", None)
    check(gfci, "gfci", TRIPS + "; ground_ohm=0.3", at=day(0))
    check(gfci, "gfci", "result=pass", at=day(20))
    of = queries.due([gfci], day(21).date())[0]
    assert (of.check_key, of.due_on, of.why, of.mode_codes) == ("gfci", date(2026, 7, 1), "interval", ("PW1",))
    assert of.is_overdue(date(2026, 7, 2))


@pytest.mark.django_db
def test_a_fault_and_a_use_make_their_check_due_at_once(cache, gfci):
    check(gfci, "gfci", DEAD, at=day(0))
    assert queries.due([gfci], day(3).date())[0].why == "restore"
    cylinder = make_item(cache, "propane", "LP-01")
    check(cylinder, "propane", WEIGHED + "; upright_outdoors=yes; plug=yes", at=day(0))
    used(cylinder, day(1), hours=1)
    of = queries.due([cylinder], day(3).date())[0]
    assert (of.why, of.due_on) == ("after use", day(3).date())


@pytest.mark.django_db
def test_the_number_of_queries_does_not_grow_with_the_items(cache, django_assert_max_num_queries):
    items = [make_item(cache, "gfci", f"GF-{n:02}") for n in range(12)]
    for item in items:
        check(item, "gfci", TRIPS, at=day(0))
    with django_assert_max_num_queries(14):
        queries.evidence(items, day(1), day(1))
    with django_assert_max_num_queries(6):
        queries.measured(items, day(1), day(1))
    with django_assert_max_num_queries(14):
        queries.due(items, day(1).date())
    with django_assert_max_num_queries(4):
        queries.histories(cache, day(1), day(1))


@pytest.mark.parametrize(
    ("known", "word"),
    [
        (None, "never proven"),
        (EvidenceOfMode(), "never proven"),
        (EvidenceOfMode("failed", in_doubt_since=day(0)), "found present"),
        (EvidenceOfMode("proven", in_doubt_since=day(0)), "in doubt"),
        (EvidenceOfMode("limited", reopened=True), "present, limits"),
        (EvidenceOfMode("proven", reopened=True), "reopened"),
        (EvidenceOfMode("claimed", proven_at=day(0)), "claimed"),
        (EvidenceOfMode("proven", proven_at=day(0), stale_at=day(5)), "stale"),
        (EvidenceOfMode("proven", proven_at=day(0), stale_at=day(6)), "proven"),
    ],
)
def test_every_page_has_one_word_for_what_is_known_of_a_mode(known, word):
    assert evidence_word(known, day(5)) == word
    assert word in WEAKEST_FIRST
