"""Meters: what a calibration is worth, what a rejected one puts in question; and propane by the place it stands in."""

import io
import uuid
from datetime import timedelta

import pytest
from PIL import Image

from inspections.models import Calibration
from inspections.queries import in_question, instrument_of, instruments
from inspections.queries.instruments import tags_in
from inspections.queries.stores import propane_stores
from inspections.services import record_calibration
from shared.api import AlreadySent, Conflict
from tests.inspections.building import check, day, make_item, make_place

pytestmark = pytest.mark.django_db
RELIEF = "plate_psi=3.5; lift_psi=3.45; reseat_psi=3.2; bubbles=none; instrument={}"


@pytest.fixture
def gauge(cache):
    return make_item(cache, "meters", "GA-01", spec={"gauge_psi": 0.01})


@pytest.fixture
def valve(cache):
    return make_item(cache, "shelter", "SH-02", spec={"lanes": 2, "set_psi": 3.0, "relief_psi": 3.5})


def calibrate(item, at, **said):
    given = {
        "quantity": "pressure",
        "reference": "dead-weight tester, certificate 44 (invented)",
        "accepted": True,
        "due_on": (at + timedelta(days=365)).date(),
        "by_name": "Quinn",
        "client_id": uuid.uuid4(),
    }
    return record_calibration(department=item.department, item=item, happened_at=at, **(given | said))


def outcomes(row):
    return {proof.mode_code: proof.outcome for proof in row.proofs.all()}


def remarks(row):
    return [f["text"] for f in row.findings if f["outcome"] == "remark"]


def test_a_meter_in_its_calibration_proves_what_it_reads(gauge, valve):
    calibrate(gauge, day(0))
    row = check(valve, "relief", RELIEF.format("ga-01"), at=day(5))
    assert (row.verdict, outcomes(row)["RV1"], remarks(row)) == ("pass", "proven", [])


def test_past_its_day_the_reading_is_recorded_limits_the_pass_and_proves_nothing(gauge, valve):
    calibrate(gauge, day(0), due_on=day(10).date())
    on_the_day = check(valve, "relief", RELIEF.format("GA-01"), at=day(10))
    after = check(valve, "relief", RELIEF.format("GA-01"), at=day(11))
    assert (on_the_day.verdict, outcomes(on_the_day)["RV1"]) == ("pass", "proven")
    assert (after.verdict, outcomes(after)) == (
        "pass with limits",
        {"RV1": "claimed", "RV2": "claimed", "RV3": "proven"},
    )
    assert after.readings.get(key="lift_psi").number == 3.45
    assert after.measured == {}
    assert "GA-01 was due for calibration (pressure) on 11 June 2026" in after.summary


def test_a_fault_read_by_a_meter_past_its_day_still_takes_the_thing_out(gauge, valve):
    calibrate(gauge, day(0), due_on=day(10).date())
    row = check(valve, "relief", RELIEF.format("GA-01").replace("3.45", "4.4"), at=day(20))
    assert (row.verdict, outcomes(row)["RV1"]) == ("fail", "failed")


def test_a_meter_rejected_for_pressure_says_nothing_against_its_thermometer(gauge, cache):
    calibrate(gauge, day(0), accepted=False, error=0.4, unit="psi")
    heater = make_item(cache, "heater", "WH-02", spec={"set_degF": 105})
    row = check(heater, "heat", "tries=1; head_F=97; instrument=GA-01", at=day(3))
    assert (row.verdict, outcomes(row)["WH4"]) == ("pass", "proven")


def test_an_error_that_was_found_is_stated_and_not_taken_off(gauge, valve):
    calibrate(gauge, day(0), error=0.05, unit="psi")
    row = check(valve, "relief", RELIEF.format("GA-01"), at=day(3))
    assert row.readings.get(key="lift_psi").number == 3.45
    finding = next(f for f in row.findings if f["key"] == "lift_psi")
    assert finding["value"] == pytest.approx(3.45 / 3.5)
    assert remarks(row) == ["GA-01 read 0.05 psi high when last calibrated; the reading stands as it was read."]


def test_a_meter_that_was_never_calibrated_counts_and_is_named_and_one_nobody_knows_is_named(gauge, valve):
    row = check(valve, "relief", RELIEF.format("GA-01"), at=day(3))
    assert (row.verdict, outcomes(row)["RV1"]) == ("pass", "proven")
    assert remarks(row) == ["GA-01 was never calibrated, as far as the record goes."]
    other = check(valve, "relief", RELIEF.format("GA-77"), at=day(4))
    assert remarks(other) == ["No meter is on record under GA-77."]


def test_a_gauge_that_cannot_decide_makes_the_check_void_with_that_reason(cache, valve):
    make_item(cache, "meters", "GA-09", spec={"gauge_psi": 1.0})
    row = check(valve, "relief", RELIEF.format("GA-09"), at=day(3))
    assert (row.verdict, row.proofs.count()) == ("void", 0)
    assert "too coarse for this limit" in row.summary


def test_several_meters_are_named_with_commas_and_each_counts_for_what_it_reads(cache, gauge, valve):
    make_item(cache, "meters", "TH-01", spec={"therm_degF": 1.0})
    calibrate(gauge, day(0), due_on=day(1).date())
    row = check(valve, "relief", RELIEF.format("TH-01, GA-01"), at=day(5))
    assert "GA-01 was due" in row.summary
    assert tags_in("GA-01, TH-01; SC-2 and ME-3") == ["GA-01", "TH-01", "SC-2", "ME-3"]


def test_a_rejected_calibration_puts_in_question_by_name_what_it_read_since_the_last_good_one(cache, gauge, valve):
    early = check(valve, "relief", RELIEF.format("GA-01"), at=day(1))
    good = calibrate(gauge, day(5))
    asked = check(valve, "relief", RELIEF.format("GA-01"), at=day(8))
    check(valve, "relief", RELIEF.format("GA-010"), at=day(9))
    check(valve, "relief", RELIEF.format("GA-01") + "; void_reason=rain", at=day(10))
    heater = make_item(cache, "heater", "WH-02")
    check(heater, "heat", "tries=1; head_F=97; instrument=GA-01", at=day(11))
    wrong = check(valve, "relief", RELIEF.format("GA-01"), at=day(12))
    check(valve, "relief", RELIEF.format("GA-01"), at=day(12), corrects=wrong, client_id=uuid.uuid4())
    rejected = calibrate(gauge, day(20), accepted=False, error=0.5, unit="psi")
    found = in_question(rejected)
    assert asked in [one.inspection for one in found]
    assert early not in [one.inspection for one in found]
    assert wrong not in [one.inspection for one in found]
    assert len(found) == 2  # the one asked, and the correction of the wrong one
    assert found[0].entered == "3.5 psi, 3.45 psi, 3.2 psi"
    assert in_question(good) == []


def test_a_calibration_is_recorded_once_with_its_certificate_and_other_content_is_refused(gauge, quinn):
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(out, "PNG")
    said = {"client_id": uuid.uuid4(), "content": out.getvalue(), "file_name": "certificate.png", "by": quinn}
    rows = [calibrate(gauge, day(0), **said) for _ in range(2)]
    assert rows[0].pk == rows[1].pk
    assert rows[0].file.name == "certificate.png"
    with pytest.raises(AlreadySent):
        calibrate(gauge, day(0), **said, accepted=False)
    assert Calibration.objects.count() == 1


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"quantity": "luck"}, "no quantity of a meter"),
        ({"reference": " "}, "what it was held against"),
        ({"due_on": day(0).date()}, "later day"),
    ],
)
def test_a_calibration_that_says_nothing_is_refused(gauge, said, words):
    with pytest.raises(Conflict, match=words):
        calibrate(gauge, day(0), **said)


def test_a_corrected_calibration_no_longer_counts(gauge, valve):
    wrong = calibrate(gauge, day(0), accepted=False)
    calibrate(gauge, day(0), corrects=wrong)
    assert check(valve, "relief", RELIEF.format("GA-01"), at=day(5)).verdict == "pass"


def test_every_meter_is_listed_with_how_it_stands(cache, gauge, django_assert_num_queries):
    make_item(cache, "other", "SC-01", spec={"scale_lb": 0.5})
    make_item(cache, "other", "XX-01", spec={})
    calibrate(gauge, day(0), due_on=day(40).date())
    with django_assert_num_queries(2):
        meters = instruments(cache, day(5))
    assert [m.item.tag for m in meters] == ["GA-01", "SC-01"]
    words = [meters[0].word("pressure", (day(0) + timedelta(days=n)).date()) for n in (5, 12, 41)]
    assert words == ["trusted", "due soon", "overdue"]
    assert meters[1].word("mass", day(5).date()) == "never calibrated"
    assert instrument_of(cache, "sc-01", day(5)).step_of("mass") == (0.5, "lb")
    assert instrument_of(cache, "nobody", day(5)) is None


# Propane by the place it stands in -----------------------------------------------------------------------------------


def test_the_pounds_of_a_room_count_empties_as_full_and_a_cage_is_outdoors(cache):
    for n in range(4):
        make_item(cache, "propane", f"LP-0{n}")
    cage = make_place(cache, "Propane cage, north wall")
    caged = make_item(cache, "propane", "LP-09", spec={"water_lb": 238})
    caged.postings.create(
        department=cache, change=0, reason="moved", place=cage, happened_at=day(1), recorded_at=day(1), by_name="Quinn"
    )
    room, outdoors = propane_stores(cache, day(5))
    assert (room.place.name, room.cylinders, room.nominal_lb, room.is_outdoors) == (
        "Station 4, trailer bay", 4, 400, False,
    )  # fmt: skip
    assert (outdoors.nominal_lb, outdoors.is_outdoors) == (pytest.approx(0.42 * 238), True)
    first = cache.items.get(tag="LP-00")
    row = check(first, "propane", "gross_lb=72; upright_outdoors=no; soap=none", at=day(6))
    found = next(f for f in row.findings if f["key"] == "room_lb")
    assert (found["value"], found["outcome"], found["origin"]) == (400, "fail", "law, 29 CFR 1910.110(f)")
