"""Whatever a register holds is taken, refused with its cell, or found: no row, column or tab goes in silence."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from inventory.models import Lot
from tests.inventory.registers import held, take, text_table, workbook

pytestmark = pytest.mark.django_db
HEAD = ["Gear", "How many", "S/N", "Notes"]


def findings(report) -> list[tuple[int | None, str]]:
    return [(n.row, n.problem) for n in report.findings]


def test_a_row_that_names_nothing_is_refused_or_found(department, tmp_path):
    rows = [HEAD, ["Blower", 2, "", ""], ["", 3, "", ""], ["", "", "S-77", ""], ["", "", "", "loose strap, no home"]]
    report = take(department, text_table(tmp_path / "r.csv", rows))
    assert report.taken == 1
    assert [(n.row, n.problem) for n in report.refused] == [(3, "the row names no item"), (4, "the row names no item")]
    assert (5, "the row names no item and was passed over: loose strap, no home") in findings(report)


def test_a_lone_text_that_could_be_a_thing_is_found(department, tmp_path):
    rows = [
        HEAD,
        ["--- Heating ---"],
        ["Blower", 2, "", ""],
        ["Cot, folding"],
        ["Bucket"],
        ["STATION 2"],
        ["Sump pump", 1],
    ]
    report = take(department, text_table(tmp_path / "r.csv", rows))
    (problem,) = [problem for _, problem in findings(report) if problem.startswith("taken for headings")]
    assert "row 4 'Cot, folding', row 5 'Bucket'" in problem
    assert "Heating" not in problem
    assert "Station" not in problem


def test_a_column_nobody_reads_is_found(department, tmp_path):
    rows = [
        ["Item", "Qty", "Qty/case", "Colour", "Qty"],
        ["Towels", 200, 50, "white", 198],
        ["Blower", 1, "", "blue", 1],
    ]
    report = take(department, workbook(tmp_path / "r.xlsx", {"Stock": rows}))
    said = [problem for _, problem in findings(report)]
    assert "2 columns were not read: C Qty/case; D Colour" in said
    assert "column E is headed 'Qty', and so is column B, which was read: not read" in said


def test_a_hidden_tab_is_found_and_a_hidden_row_is_read(department, tmp_path):
    rows = [["Item", "Serial", "Qty"], ["Blower", "B1", 1], ["Blower", "B2", 1]]
    path = workbook(tmp_path / "r.xlsx", {"Now": rows, "Old": [["Item", "Serial"], ["Blower", "B9"]]})
    book = load_workbook(path)
    book["Old"].sheet_state = "hidden"
    book["Now"].row_dimensions[3].hidden = True
    book.save(path)
    report = take(department, path)
    assert report.taken == 2
    assert ("Old", "this tab is hidden and was not read") in [(n.sheet, n.problem) for n in report.findings]


def test_a_small_tab_that_is_no_register_is_found(department, tmp_path):
    tabs = {"Gear": [["Item", "Qty"], ["Blower", 1]], "READ ME": [["Kept by Casey"], ["Call before editing"]]}
    report = take(department, workbook(tmp_path / "r.xlsx", tabs))
    assert [n.sheet for n in report.findings if "nothing was read from this tab" in n.problem] == ["READ ME"]


def test_a_heading_merged_over_two_columns_is_two_headings(department, tmp_path):
    rows = [["Set", "Item / Serial", None, "Count"], ["Line Red", "Shower shelter 2 lane", "SR1", 1]]
    report = take(department, workbook(tmp_path / "r.xlsx", {"Master": rows}, merged=[("Master", "B1:C1")]))
    assert report.refused == []
    (shelter,) = held(department).values()
    assert (shelter.item.serial, shelter.item.name) == ("SR1", "Shower shelter 2 lane")


def test_one_date_column_for_things_and_lots_is_read_as_each_needs_it(department, tmp_path):
    rows = [
        ["Tag", "Description", "Serial/Lot", "Qty", "Exp / Mfr date", "Each"],
        ["100", "Propane cylinder 100 lb", "PC-5", "1", "03/2019", "$180.00"],
        ["", "Redress kit adult", "K-19", "100", "12/2028", "$8.75"],
        ["", "Soap, gallon", "SP-7", "3", "01/2026", "$19.00"],
    ]
    report = take(department, text_table(tmp_path / "r.csv", rows))
    assert held(department)["100"].item.manufactured_on == date(2019, 3, 1)
    assert held(department)["100"].item.unit_cost == 180
    assert {lot.number: lot.expires_on for lot in Lot.objects.all()} == {
        "K-19": date(2028, 12, 31), "SP-7": date(2026, 1, 31),
    }  # fmt: skip
    (expired,) = [n for n in report.findings if "it expired on" in n.problem]
    assert (expired.column, expired.value) == ("Exp / Mfr date", "01/2026")


STATES = [
    ("Not in service", "", "out of service"),
    ("At repair shop", "", "out of service"),
    ("Unsvc", "", "out of service"),
    ("Awaiting parts", "", "out of service"),
    ("In service", "", "in service"),
    ("Good", "was out of service, repaired 2025", "in service"),
    ("Good", "on loan to Station 4 since Jan", "lent"),
    ("Good", "was on loan to Station 4, returned", "in service"),
    ("Good", "on loan to county?", "in service"),
]


@pytest.mark.parametrize(("condition", "note", "state"), STATES)
def test_plain_words_about_where_a_thing_is_decide_its_state(department, tmp_path, condition, note, state):
    rows = [["ID", "Equipment", "S/N", "State", "History"], ["A1", "Generator", "D1", condition, note]]
    take(department, text_table(tmp_path / "r.csv", rows))
    assert held(department)["A1"].state == state


def test_what_was_disposed_of_is_not_in_service(department, tmp_path):
    sold = datetime(2024, 2, 2, tzinfo=UTC).replace(tzinfo=None)
    tabs = {
        "Export": [
            ["Tag", "Item", "Serial", "Disp Dt", "Disp Method"],
            ["G1", "Generator 5 kW", "T-3", None, None],
            ["G2", "Generator 3 kW", "T-4", sold, "Auction"],
        ],
        "Retired gear": [["Tag", "Item", "Serial"], ["G3", "Generator 2 kW", "T-5"]],
    }
    report = take(department, workbook(tmp_path / "r.xlsx", tabs))
    now = held(department)
    assert {tag: s.state for tag, s in now.items()} == {"G1": "in service", "G2": "disposed", "G3": "disposed"}
    before = datetime(2024, 2, 1, 12, tzinfo=UTC)
    assert now["G2"].state_since.date() >= before.date()
    assert sum("taken in as disposed" in problem for _, problem in findings(report)) == 2


def test_a_section_of_things_out_of_service_says_so_of_each(department, tmp_path):
    rows = [
        HEAD,
        ["Blower", 1, "b1", ""],
        ["OUT OF SERVICE"],
        ["Blower", 1, "b2", ""],
        ["WET ROOM"],
        ["Blower", 1, "b3", ""],
    ]
    take(department, text_table(tmp_path / "r.csv", rows))
    assert {s.item.serial: s.state for s in held(department).values()} == {
        "b1": "in service", "b2": "out of service", "b3": "in service",
    }  # fmt: skip


def test_chapters_under_stations_leave_the_stations_standing(department, tmp_path):
    rows = [HEAD]
    for station in ("STATION 1 - BAY 2", "STATION 2 - BAY 1"):
        rows += [[station], ["Shelter"], ["Shower tent 2-lane", 1], ["Heating"], ["Water heater", 2], ["Sump pump", 1]]
    take(department, text_table(tmp_path / "r.csv", rows))
    assert sorted({s.line.name for s in held(department).values()}) == ["Station 1 - Bay 2", "Station 2 - Bay 1"]
    assert {s.place.name for s in held(department).values()} == {"Station 1, Bay 2", "Station 2, Bay 1"}


def test_a_column_for_each_line_is_how_many_each_line_has(department, tmp_path):
    rows = [
        ["Item", "Line A", "Line B", "Line C", "Unit cost"],
        ["Shower shelter, two lane", 1, 1, 0, 24_000],
        ["Propane cylinder 100 lb", 4, 2, None, 180],
        ["Towels", 400, 320, 160, 3],
    ]
    path = workbook(tmp_path / "r.xlsx", {"Load plan": rows})
    report = take(department, path)
    assert report.refused == []
    aboard = {(s.item.kind.key, s.line.name): s.quantity for s in held(department).values()}
    assert aboard == {
        ("shelter", "Line A"): 1, ("shelter", "Line B"): 1, ("propane", "Line A"): 4, ("propane", "Line B"): 2,
    }  # fmt: skip
    assert sorted(Lot.objects.values_list("postings__line__name", "postings__change")) == [
        ("Line A", 400), ("Line B", 320), ("Line C", 160),
    ]  # fmt: skip
    assert take(department, path).taken == 0


def test_a_title_that_names_a_line_names_it_for_all_below_and_is_no_heading(department, tmp_path):
    rows = [
        ["Decon Trailer 7 load list"],
        ["Item", "Qty required", "Qty present", "Short"],
        ["Shower shelter 2 lane", 1, 1, 0],
        ["Blower", 2, 1, 1],
    ]
    report = take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": rows}))
    assert {s.line.name for s in held(department).values()} == {"Trailer 7"}
    assert {s.item.federal_share for s in held(department).values()} == {None}
    assert "column D Short was not read" in [problem for _, problem in findings(report)]


def test_a_share_in_dollars_and_tags_of_digits_are_read(department, tmp_path):
    rows = [
        ["PROPERTY TAG", "DESCRIPTION", "S/N", "STATUS", "ORIG COST", "GRANT #", "FED SHARE $"],
        ["00451", "SHELTER, DECON, 2 LANE", "X-1", "ACTIVE", "24000.00", "TH-2019-1", "18000.00"],
        ["00452", "GENERATOR 5KW", "X-2", "OUT OF SVC", "1700.00", "TH-2019-1", "2000.00"],
        ["00453", "HEATER, WATER", "X-3", "ACTIVE", "5500.00", "", "0.00"],
    ]
    report = take(department, text_table(tmp_path / "r.txt", rows, delimiter="|"))
    now = held(department)
    assert {tag: s.item.federal_share for tag, s in now.items()} == {
        "00451": Decimal("0.75"),
        "00452": None,
        "00453": 0,
    }
    assert now["00452"].state == "out of service"
    assert any("2000.00 of 1700.00" in problem for _, problem in findings(report))


def test_a_place_that_says_who_has_it_is_no_place(department, tmp_path):
    rows = [["Equipment", "Serial", "Where", "Notes"], ["Trailer", "K6", "Borrowed by Sam until 12/1", ""],
            ["Air bottle", "K5", "Station 3", "hydro 06/21; mfr 5/2016"]]  # fmt: skip
    take(department, text_table(tmp_path / "r.csv", rows))
    by_serial = {s.item.serial: s for s in held(department).values()}
    assert (by_serial["K6"].state, by_serial["K6"].place) == ("lent", None)
    assert by_serial["K5"].item.spec == {"made": "2016-05", "requal": "2021-06"}
