"""The demo register of Tarn Hollow, row by row: what is taken, refused and found."""

from collections import Counter
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from inventory.models import Award, CrewMember, ImportRun, Item, Line, LoadListRow, Lot, Place, Posting, StateEvent
from inventory.queries import crew_of, load_list, standing
from inventory.services import import_cache
from inventory.signals import cache_changed
from tests.inventory.registers import AT, SAMPLE, TODAY, held, take

pytestmark = pytest.mark.django_db
LEFT_OUT = {"XX-97", "XX-98", "XX-99"}


@pytest.fixture
def report(department):
    return take(department, SAMPLE)


def rows_of(tab):
    """Return the sample's rows below the headings, by row number."""
    sheet = load_workbook(SAMPLE)[tab]
    return {r[0].row: [c.value for c in r] for r in sheet.iter_rows()}


def test_every_row_is_taken_refused_or_found(report):
    assert report.taken == 190
    assert report.details["taken_by_sort"] == {"items": 142, "lots": 32, "crew": 16}
    assert [(n.sheet, n.row, n.column, n.value) for n in report.refused] == [
        ("Cache list", 151, "Qty", "several"),
        ("Cache list", 152, "Date acquired", "31/31/2020"),
    ]
    assert all(n.problem and n.mend for n in report.refused)


def test_every_item_is_taken_as_its_row_says(report, department):
    found = held(department)
    written = {r[0]: r for r in rows_of("Cache list").values() if r[0] and r[1] and r[0] not in LEFT_OUT | {"Tag"}}
    assert set(found) == set(written)
    for tag, row in written.items():
        item, standing = found[tag].item, found[tag]
        assert item.name == " ".join(row[1].split())
        assert standing.quantity == int(str(row[3]).split()[0])
        assert standing.line.name == row[5]
        assert standing.place.name == row[6]
        assert item.unit_cost == Decimal(str(row[9]).strip("$").replace(",", ""))
        assert item.serial == ("" if row[2] in (None, "n/a", "N/A", "unreadable") else row[2])
        assert (item.award.number if item.award else None) == row[11]
        assert item.condition_as_written == row[12].strip()
        assert item.note == (row[13] or "")
        assert item.acquired_on is not None
        assert (item.accepted_on, item.acceptance_assumed) == (item.acquired_on, True)
        assert standing.state == "in service"


def test_every_item_is_taken_for_the_kind_its_tag_stands_for(report, department):
    expected = {
        "SH": "shelter", "SH1": "shelter", "TP": "tarp", "BE": "berm", "RV": "relief_spare", "IN": "inflator",
        "CK": "inflation_kit", "AC": "air_cylinder", "WH": "heater", "LP": "propane", "MR": "regulator",
        "MV": "mixing_valve", "SP": "pump", "BL": "bladder", "BL1": "bladder", "HO50": "hose_cold",
        "HO25": "hose_hot", "HO15": "hose_whip", "HW": "hose_waste", "FT": "fittings", "RP": "backflow", "GR": "grid",
        "MT": "mat", "IJ": "injector", "BP": "sprayer", "LT": "light_strip", "PS": "light_supply", "TD": "tie_down",
        "GN": "generator", "FC": "fuel_can", "GF": "gfci", "CD": "cord", "BA": "battery", "SU": "suit", "PA": "papr",
        "RD": "radio", "SG": "signs", "ME": "meters", "TR": "trailer",
    }  # fmt: skip
    for item in Item.objects.filter(department=department).select_related("kind"):
        assert item.kind.key == expected[item.tag.split("-")[0]]
        assert item.kind_sureness >= 0.7


@pytest.mark.parametrize(
    ("tag", "spec"),
    [
        ("SH-01", {"lanes": 2, "set_psi": 3.0, "berm_gal": 120.0}),
        ("SH1-01", {"lanes": 1, "set_psi": 3.0, "berm_gal": 60.0}),
        (
            "LP-03",
            {"nominal_lb": 100.0, "tare_lb": 66.5, "made": "2015-12", "requal": "2017-06", "requal_suffix": "E"},
        ),
        ("WH-01", {"input_btu_h": 190000.0, "set_degF": 105.0, "volts": 120.0}),
        ("SP-01", {"gpm": 30.0, "volts": 115.0, "hp": 0.3333}),
        ("HO50-01", {"length_ft": 50.0, "thread": "GHT"}),
        ("BA-01", {"volts": 12.0, "ah": 100.0, "chemistry": "AGM"}),
        ("GN-01", {"watts": 5000.0, "tank_gal": 7.0, "fuel": "gasoline"}),
        ("CD-01", {"length_ft": 50.0, "awg": 12.0}),
    ],
)
def test_the_plate_becomes_typed_figures(report, department, tag, spec):
    assert Item.objects.get(department=department, tag=tag).spec == spec


def test_dates_are_read_however_they_are_written(report, department):
    acquired = dict(Item.objects.values_list("tag", "acquired_on"))
    assert acquired["SH-01"] == date(2019, 6, 19)  # 06/19/2019
    assert acquired["SH1-01"] == date(2023, 4, 21)  # a date cell
    assert acquired["TP-01"] == date(2016, 9, 5)  # 9/5/16
    assert acquired["BE-02"] == date(2023, 2, 19)  # 2023-02-19
    assert acquired["IN-01"] == date(2024, 8, 1)  # Aug 2024
    assert Item.objects.get(tag="IN-01").acquired_month_only
    assert Item.objects.get(tag="LP-03").manufactured_on == date(2015, 12, 29)


def test_the_copied_row_is_a_finding_and_no_second_item(report, department):
    (found,) = [n for n in report.findings if n.row == 150]
    assert (found.column, found.value) == ("Serial #", "TH42445C")
    assert "already that of SH-01" in found.problem
    assert not Item.objects.filter(tag="XX-99").exists()
    assert Item.objects.get(serial="TH42445C").note == ""


def test_serials_that_cannot_be_read_are_findings(report, department):
    unread = {n.row: n.value for n in report.findings if n.column == "Serial #" and "for the serial" in n.problem}
    assert unread == {55: "n/a", 74: "unreadable", 118: "N/A"}
    assert Item.objects.get(tag="LP-07").serial == ""


def test_each_doubtful_note_is_kept_and_found_and_plain_ones_only_kept(report, department):
    doubted = {n.row for n in report.findings if n.column == "Notes"}
    written = {row for row, r in rows_of("Cache list").items() if r[13] == "borrowed 2024?"}
    assert doubted == written
    assert Item.objects.get(tag="BE-01").note == "borrowed 2024?"
    assert Item.objects.get(tag="WH-01").note == "see binder"


def test_what_disagrees_is_found(report):
    found = {(n.sheet, n.row): n.problem for n in report.findings}
    assert found["Cache list", 117] == "requalified in 2022-06, before it was made in 2022-09"
    assert found["Consumables", 31].startswith("it expired on 2026-09-30")
    assert "21 rows do not say what part of the cost is federal" in found["Cache list", 11]
    assert len(report.findings) == 29


def test_money_and_awards_are_kept(report, department):
    shelter, hose, mat = (Item.objects.get(tag=t) for t in ("SH-01", "TP-02", "MT-01"))
    assert (shelter.federal_share, shelter.funding_source) == (Decimal("0.75"), "")
    assert (hose.federal_share, hose.funding_source) == (Decimal(0), "local")
    assert mat.federal_share is None
    assert set(Award.objects.values_list("number", flat=True)) == {
        "TH-2019-HS-0041", "TH-2022-FG-0107", "TH-2023-HS-0055",
    }  # fmt: skip


def test_places_nest_in_their_station(report, department):
    bay = Place.objects.get(name="Station 4, trailer bay")
    assert (bay.sort, bay.within.name, bay.within.sort) == ("bay", "Station 4", "station")
    assert Place.objects.get(name="Station 2, container").sort == "container"
    assert Place.objects.count() == 6
    assert Line.objects.get(name="Line B").home.name == "Station 11, bay 2"


def test_lots_keep_what_is_on_hand_par_and_expiry(report, department):
    line = Line.objects.get(name="Line A")
    lots = {s.lot.number: s for s in standing(line, AT, AT).lots}
    assert (lots["L7757"].on_hand, lots["L7757"].lot.per_person) == (400, 2)
    assert lots["L9160"].lot.expires_on == date(2030, 12, 31)  # Dec 2030 is good through the month
    assert lots["L6994"].lot.expires_on == date(2027, 1, 28)
    assert Lot.objects.count() == 32


def test_lines_get_the_standard_list_of_their_shelter_with_the_registers_par(report, department):
    of = {name: {r.kind.key: r for r in load_list(Line.objects.get(name=name), TODAY)} for name in ("Line A", "Line C")}
    assert all(r.assumed for rows in of.values() for r in rows.values())
    assert (of["Line A"]["heater"].needed, of["Line C"]["heater"].needed) == (2, 1)
    assert (of["Line A"]["towel"].quantity, of["Line C"]["towel"].quantity) == (400, 160)
    assert of["Line A"]["blanket"].quantity == 200
    assert of["Line A"]["kit_child"].needed == 1


def test_a_day_gone_by_is_since_and_a_day_to_come_is_until(report, department):
    quinn, blair = CrewMember.objects.get(name="Quinn"), CrewMember.objects.get(name="Blair")
    assert (quinn.qualified_on, quinn.qualified_until, quinn.line) == (date(2025, 1, 10), None, None)
    assert blair.line.name == "Line B"
    roster = {c.name for c in crew_of(Line.objects.get(name="Line A"), TODAY) if c.qualified}
    assert roster == {"Quinn", "Rowan", "Jules", "Sage", "Devon", "Reese", "Indra", "Gray"}


def test_postings_happen_when_things_came_and_are_known_when_imported(report, department):
    posting = Posting.objects.get(item__tag="SH-01")
    assert posting.happened_at.date() == date(2019, 6, 19)
    assert posting.recorded_at == AT
    assert "SH-01" in held(department)
    assert not StateEvent.objects.exists()


def test_the_same_file_twice_changes_nothing(report, department):
    tables = (Item, Lot, Posting, StateEvent, CrewMember, LoadListRow, Place, Line, Award, ImportRun)
    before = {t: list(t.objects.order_by("pk").values()) for t in tables}
    again = take(department, SAMPLE)
    assert {t: list(t.objects.order_by("pk").values()) for t in tables} == before
    assert (again.taken, again.details["already_held"]) == (0, 190)
    assert [n.as_json() for n in again.refused] == [n.as_json() for n in report.refused]
    first = Counter(n.problem for n in report.findings if "load list" not in n.problem)
    assert Counter(n.problem for n in again.findings) == first


def test_a_dry_run_reports_the_same_and_changes_nothing(department):
    dry = take(department, SAMPLE, dry_run=True)
    assert not Item.objects.exists()
    assert not Line.objects.exists()
    assert not ImportRun.objects.exists()
    real = take(department, SAMPLE)
    assert dry.as_json() | {"dry_run": False} == real.as_json()


def test_the_lines_that_changed_are_announced_once(department):
    heard = []

    def hear(**sent):
        heard.append(sent)

    cache_changed.connect(hear)
    try:
        take(department, SAMPLE)
        take(department, SAMPLE)
    finally:
        cache_changed.disconnect(hear)
    assert len(heard) == 1
    assert set(heard[0]["line_ids"]) == set(Line.objects.values_list("pk", flat=True))
    assert len(heard[0]["item_ids"]) == 142


def test_a_run_is_kept_with_its_report(report, department, quinn):
    run = ImportRun.objects.get()
    assert (run.sort, run.file_name, run.report["taken"]) == ("cache", "tarn_hollow_cache.xlsx", 190)
    assert len(run.digest) == 64


def test_the_import_stays_quick_in_queries(department, django_assert_max_num_queries):
    with django_assert_max_num_queries(110):
        take(department, SAMPLE)


def test_a_demo_moves_every_date_of_the_register_by_the_same_days(department):
    import_cache(department=department, path=SAMPLE, by=None, at=AT, days_later=40)
    shelter = Item.objects.get(department=department, tag="SH-01")
    assert shelter.acquired_on == date(2019, 7, 29)
    assert shelter.postings.get().happened_at.date() == date(2019, 7, 29)
    assert Item.objects.get(department=department, tag="LP-01").spec["made"] == "2018-02"
