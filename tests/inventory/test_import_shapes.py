"""Registers of other shapes than the demo's: other headings, other rows, other files, other habits."""

import re
from datetime import UTC, date, datetime

import pytest
from openpyxl import load_workbook

from inventory.importing.report import ImportReport
from inventory.models import CrewMember, Item, Line, Lot, StateEvent
from inventory.queries import load_list
from tests.inventory.registers import AT, SAMPLE, TODAY, held, take, text_table, workbook

pytestmark = pytest.mark.django_db


def taken_as(report: ImportReport, sheet: str) -> dict[str, str]:
    """Return what each heading of a sheet was taken for."""
    (found,) = [s for s in report.details["sheets"] if s["sheet"] == sheet]
    return {c["heading"]: c["taken_as"] for c in found["columns"]}


def problems(report: ImportReport) -> str:
    return "\n".join(n.problem for n in report.findings)


# Headings ---------------------------------------------------------------------------------------------------------

OTHER_WORDS = [
    ["County hazardous materials team", None, None],
    ["Property held for decontamination"],
    [],
    ["Prepared by", "Quinn", None, "As of", datetime(2026, 10, 1, tzinfo=UTC).replace(tzinfo=None)],
    [], [], [], [],
    ["Line #", "Nomenclature", "Mfr", "Mfg serial", "Qty O/H", "U/I", "PO date", "Acq cost", "Funding", "Bldg/room",
     "Home unit", "Serviceability", "Remarks"],
    [1, "Tent, decon, 2-lane inflatable", "Own make", "AB-99812", 1, "EA", 43538, "24,500", "75% FG-2019-0041",
     "Stn 4/Bay 2", "Decon 1", "Svc", None],
    [2, "Blower, electric 110V", "Own make", "BL-5521", 1, "EA", 43538, "1,100", "75% FG-2019-0041", "Stn 4/Bay 2",
     "Decon 1", "Svc", "new in box"],
    [3, "Heater, hot water, tankless LP", "Own make", "HW-1", 1, "EA", 43540, "5,100", "local", "Stn 4/Bay 2",
     "Decon 1", "Unsvc", "out of service"],
    [4, "Pump, sump, auto", None, "PZ-11", 1, "EA", 43540, "260", "local", "Stn 4/Bay 2", "Decon 2", "Svc", None],
    [5, "Hose, garden, 50ft", None, None, 6, "EA", 43540, "45", "local", "Stn 4/Bay 2", "Decon 2", "Svc", None],
    [6, "Towels, bath", None, None, 300, "EA", 43540, "3", "local", "Stn 4/Bay 2", "Decon 2", "Svc", None],
    [7, "Coffee urn", None, None, 1, "EA", 43540, "30", "local", "Stn 4/Bay 2", "Decon 2", "Svc", None],
    [None, "Total", None, None, 11],
]  # fmt: skip


def test_headings_on_row_nine_in_other_words_are_found(department, tmp_path):
    report = take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": OTHER_WORDS}))
    assert (report.taken, report.refused) == (7, [])
    assert taken_as(report, "Sheet1") == {
        "Line #": "row_number", "Nomenclature": "name", "Mfr": "maker", "Mfg serial": "serial", "Qty O/H": "quantity",
        "U/I": "uom", "PO date": "acquired", "Acq cost": "cost", "Funding": "funding", "Bldg/room": "place",
        "Home unit": "line", "Serviceability": "condition", "Remarks": "note",
    }  # fmt: skip


def test_values_under_other_words_are_the_same_facts(department, tmp_path):
    take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": OTHER_WORDS}))
    shelter = Item.objects.select_related("award", "kind").get(serial="AB-99812")
    assert (shelter.kind.key, shelter.spec["lanes"], shelter.acquired_on) == ("shelter", 2, date(2019, 3, 14))
    assert (shelter.award.number, float(shelter.federal_share), float(shelter.unit_cost)) == (
        "FG-2019-0041",
        0.75,
        24500,
    )
    found = held(department)
    assert found[shelter.tag].place.name == "Stn 4, Bay 2"
    assert {s.line.name for s in found.values()} == {"Decon 1", "Decon 2"}
    assert Lot.objects.get().kind.key == "towel"


def test_only_the_registers_own_words_take_a_thing_out_of_service(department, tmp_path):
    take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": OTHER_WORDS}))
    states = {s.item.serial: s.state for s in held(department).values()}
    assert (states["AB-99812"], states["BL-5521"], states["HW-1"]) == ("in service", "boxed", "out of service")
    blower = Item.objects.get(serial="BL-5521")
    assert (blower.accepted_on, blower.acceptance_assumed) == (None, False)
    assert StateEvent.objects.get(item=blower).happened_at.date() == date(2019, 3, 14)


def test_an_unknown_thing_is_taken_as_other_and_found(department, tmp_path):
    report = take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": OTHER_WORDS}))
    assert Item.objects.get(name="Coffee urn").kind.key == "other"
    assert "'Coffee urn' is no kind of the catalogue" in problems(report)


def test_every_column_may_stand_anywhere_under_its_own_heading(department, other_department, tmp_path):
    rows = [[c.value for c in r] for r in load_workbook(SAMPLE)["Cache list"].iter_rows(min_row=4)]
    turned = workbook(tmp_path / "r.xlsx", {"Cache list": [list(reversed(r)) for r in rows]})
    take(department, SAMPLE)
    take(other_department, turned)
    ours = Item.objects.filter(department=department).order_by("order")
    theirs = Item.objects.filter(department=other_department).order_by("order")
    fields = ("tag", "name", "serial", "kind__key", "acquired_on", "unit_cost", "federal_share", "spec", "note")
    assert list(theirs.values_list(*fields)) == list(ours.values_list(*fields))


HEADINGS = {
    "Tag": ["Unit ID", "Property tag", "Gear #", "Item no."],
    "Item": ["Equip. description", "Nomenclature", "Article", "Equipment"],
    "Serial #": ["S/N", "Mfg serial", "Ser. no.", "Manufacturer serial number"],
    "Qty": ["Quantity", "Qty O/H", "Count", "How many"],
    "Size / spec": ["Specification", "Nameplate", "Capacity / size", "Rating"],
    "Line": ["Home unit", "Decon line", "Set", "Assigned line"],
    "Where kept": ["Bldg/room", "Storage location", "Stored at", "Loc."],
    "Date acquired": ["PO date", "Purchase Date", "Rec'd", "In-service date"],
    "Date of mfr": ["DOM", "Mfg. date", "Built", "Manufacture date"],
    "Unit cost": ["Price", "Cost ea.", "Acq. cost", "Unit value"],
    "Fed %": ["Federal share", "% federal", "Fed. pct", "Federal participation"],
    "Award": ["Grant #", "FAIN", "Federal award no.", "Grant"],
    "Condition": ["Status", "Cond.", "Serviceability", "State"],
    "Notes": ["Remarks", "Comments", "Misc.", "Observations"],
}


@pytest.mark.parametrize("choice", range(4))
def test_the_demo_register_reads_the_same_under_four_other_sets_of_headings(
    department, other_department, tmp_path, choice
):
    rows = [[c.value for c in r] for r in load_workbook(SAMPLE)["Cache list"].iter_rows()]
    rows[3] = [HEADINGS[h][choice] for h in rows[3]]
    take(department, SAMPLE)
    report = take(other_department, workbook(tmp_path / "r.xlsx", {"Gear": [[]] * choice + rows}))
    assert report.details["taken_by_sort"]["items"] == 142
    assert [(n.row, n.value) for n in report.refused] == [(151 + choice, "several"), (152 + choice, "31/31/2020")]
    fields = ("tag", "serial", "acquired_on", "manufactured_on", "unit_cost", "federal_share", "award__number", "spec")
    ours, theirs = (
        list(Item.objects.filter(department=d).order_by("order").values_list(*fields))
        for d in (department, other_department)
    )
    assert theirs == ours


# Two rows of headings, tabs for lines -----------------------------------------------------------------------------


def a_set(mark: str) -> list[list]:
    return [
        [f"Decon set {mark}"],
        ["Equipment", None, None, "Acquisition", None, "Location", None, "Condition"],
        ["Description", "Serial", "Qty", "Date", "Cost ($)", "Station", "Bay", None],
        ["Shower tent two lane", f"SN{mark}001", 1, "3/4/2019", 24000, 4, 1, "Good"],
        ["Sump pump 1/2 hp 40 gpm", f"SN{mark}002", 1, "Mar 2020", 300, 4, 1, "Fair"],
        ["Portable generator 5000 W", f"SN{mark}003", 1, "2021", 1700, 4, 1, "Good"],
        ["Elevation grids", None, 24, "2021", 55, 4, 1, "Good"],
        ["Soap, liquid, 1 gal", None, 4, None, None, 4, 1, "Good"],
        ["Loud-hailer"],
    ]


@pytest.fixture
def two_tabs(tmp_path):
    merged = [("North", cells) for cells in ("A1:H1", "A2:C2", "D2:E2", "F2:G2")]
    tabs = {"North": a_set("N"), "South": a_set("S"), "Instructions": [["How"], ["to"], ["fill"], ["this"], ["in"]]}
    return workbook(tmp_path / "r.xlsx", tabs, merged)


def test_headings_of_two_rows_are_read_together(department, two_tabs):
    report = take(department, two_tabs)
    assert report.refused == []
    shelter = Item.objects.get(serial="SNN001")
    assert (shelter.acquired_on, float(shelter.unit_cost)) == (date(2019, 3, 4), 24000)
    assert held(department)[shelter.tag].place.name == "Station 4, Bay 1"


def test_a_tab_for_each_line_names_the_lines(department, two_tabs):
    report = take(department, two_tabs)
    assert {s.line.name for s in held(department).values()} == {"North", "South"}
    assert "taken from the headings over the rows: North, South" in problems(report)
    assert "nothing was read from this tab" in problems(report)


def test_a_register_without_tags_is_given_tags_that_stay(department, two_tabs):
    take(department, two_tabs)
    tags = dict(Item.objects.exclude(serial="").values_list("serial", "tag"))
    assert re.fullmatch(r"SH-\d\d", tags["SNN001"])
    again = take(department, two_tabs)
    assert (again.taken, again.details["already_held"]) == (0, 12)
    assert dict(Item.objects.exclude(serial="").values_list("serial", "tag")) == tags


def test_a_row_without_tag_or_serial_whose_date_changed_is_the_row_it_was(department, tmp_path):
    rows = [["Item", "Qty", "Acquired", "Line"], ["Elevation grid", 24, "3/4/2019", "A"], ["Mat", 4, "3/4/2019", "A"]]
    take(department, workbook(tmp_path / "a.xlsx", {"Items": rows}))
    rows[1][2] = "5/6/2020"
    report = take(department, workbook(tmp_path / "b.xlsx", {"Items": rows}))
    assert (report.taken, Item.objects.count()) == (0, 2)
    assert "the register now says 2020-05-06, the record says 2019-03-04" in problems(report)
    assert Item.objects.get(name="Elevation grid").acquired_on == date(2019, 3, 4)


# Text tables ------------------------------------------------------------------------------------------------------

SEMICOLONS = [
    ["Bestand", "", "", "", "", "", ""],
    ["Pos.", "Equip. description", "S/N", "Count", "Where stored", "Bought", "Price each"],
    ["LINE A - Station 4", "", "", "", "", "", ""],
    ["1", "Decon shelter 2-lane, résistant", "X-100", "1", "Bay 1", "14.03.2019", "24.000,00"],
    ["2", "Water heater 190k BTU", "X-101", "1", "Bay 1", "25/12/2020", "5.500,00"],
    ["3", "Propane bottle 100 lb, TW 68 mfr 03-2019", "X-102", "1", "Bay 1", "25/12/2020", "180,50"],
    ["LINE B - Station 11", "", "", "", "", "", ""],
    ["1", "Decon shelter 1-lane", "X-103", "1", "Bay 2", "01/02/2021", "11.000,00"],
    ["2", "Water heater 190k BTU", "X-104", "1", "Bay 2", "some day", "5.500,00"],
    ["3", "Propane bottle 100 lb", "X-105", "several", "Bay 2", "03/02/2021", "180,50"],
    ["TOTAL", "", "", "6", "", "", ""],
]


def test_semicolons_latin_1_and_section_rows_are_read(department, tmp_path):
    path = text_table(tmp_path / "r.csv", SEMICOLONS, delimiter=";", encoding="latin-1")
    report = take(department, path)
    assert report.taken == 4
    assert [(n.row, n.column, n.value) for n in report.refused] == [(9, "Bought", "some day"), (10, "Count", "several")]
    assert Item.objects.get(serial="X-100").name == "Decon shelter 2-lane, résistant"
    assert float(Item.objects.get(serial="X-102").unit_cost) == 180.5
    assert Item.objects.get(serial="X-103").acquired_on == date(2021, 2, 1)  # the column puts the day first
    found = {s.item.serial: s for s in held(department).values()}
    assert (found["X-100"].line.name, found["X-100"].place.name) == ("Line A", "Station 4, Bay 1")
    assert (found["X-103"].line.name, found["X-103"].place.name) == ("Line B", "Station 11, Bay 2")


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_a_text_table_is_read_in_any_encoding_and_with_any_delimiter(department, tmp_path, encoding, delimiter):
    rows = [["Item", "Serial", "Qty", "Line"], ["Décon shelter, 2 lanes", "X-1", "1", "A"], ["Mat", "", "4", "A"]]
    report = take(department, text_table(tmp_path / "r.csv", rows, delimiter=delimiter, encoding=encoding))
    assert (report.taken, Item.objects.get(serial="X-1").name) == (2, "Décon shelter, 2 lanes")


def test_a_table_without_headings_is_read_by_what_its_cells_look_like(department, tmp_path):
    rows = [
        ["SH-1", "Decon shelter two lane", "TH123456", "1", "Line A", "Station 4", "2019-03-04", "$24000.00", "Good"],
        ["WH-1", "Propane water heater", "TH223456", "1", "Line A", "Station 4", "2019-03-05", "$5500.00", "Good"],
        ["SP-1", "Sump pump", "TH323456", "1", "Line A", "Station 4", "2019-03-06", "$260.00", "Fair"],
        ["GN-1", "Generator 5 kW", "TH423456", "1", "Line A", "Station 4", "2019-03-07", "$1700.00", "Good"],
    ]
    report = take(department, text_table(tmp_path / "r.csv", rows))
    assert (report.taken, report.refused) == (4, [])
    heater = held(department)["WH-1"]
    assert (heater.item.serial, heater.item.acquired_on, heater.line.name) == ("TH223456", date(2019, 3, 5), "Line A")
    assert float(heater.item.unit_cost) == 5500


# Habits -----------------------------------------------------------------------------------------------------------

PLATE_COLUMNS = [
    ["Location - Bay", "Thing ID", "Description of item", "Make/serial", "TW (lb)", "Last hydro", "DOM", "Amount",
     "Unit price", "Federal share", "Grant", "Assigned unit", "Status", "POC", "Comments"],
    ["Station 2 - Bay 3", "D-001", "Decon shelter", "Own make / 88123A", None, None, date(2018, 5, 1), 1, "$24,000",
     0.75, "FO-2018-01-77", "Line C", "In service", "Quinn", None],
    ["Station 2 - Bay 3", "D-002", "Propane cylinder, 100 lb", "Tank maker / 99812B", 68, None, date(2016, 5, 1), 1,
     180, 0, None, "Line C", "In service", "Quinn", None],
    ["Station 2 - Bay 3", "D-003", "Air bottle composite", "Air maker / 55512C", None, date(2022, 6, 1),
     date(2019, 5, 1), 1, 800, "75%", "FO-2018-01-77", "Line C", "OOS", "Quinn", "borrowed from Sam?"],
    ["Station 2 - Bay 3", "D-004", "Responder suits", None, None, None, None, "12 ea", 60, "local", None, "Line C",
     "New", "Quinn", "still in box"],
    ["Station 2 - Bay 3", "D-005", "Sump pump", None, None, None, None, 2, 60, "local", None, "Line C", "missing",
     "Quinn", None],
]  # fmt: skip
SUPPLIES = [
    ["Supply", "Qty", "Exp", "Lot no.", "Should have"],
    ["Nitrile gloves", 10, date(2027, 5, 1), "G1", 20],
    ["Bath towels", 100, None, None, 160],
    ["Redress kit - child", 12, None, None, 12],
]
PEOPLE = [
    ["Last", "First", "Rank", "Cert expires"],
    ["One", "Casey", "FF", "05/2027"],
    ["Two", "Avery", "FF", "05/2024"],
    ["Three", "Rowan", "Capt", "soon"],
]


@pytest.fixture
def plate_columns(tmp_path):
    return workbook(tmp_path / "r.xlsx", {"Equipment list": PLATE_COLUMNS, "Supplies": SUPPLIES, "People": PEOPLE})


def test_plate_figures_in_columns_of_their_own_reach_the_plate(department, plate_columns):
    take(department, plate_columns)
    specs = dict(Item.objects.values_list("tag", "spec"))
    assert specs["D-002"] == {"nominal_lb": 100.0, "tare_lb": 68.0}
    assert specs["D-003"]["requal"] == "2022-06"
    assert Item.objects.get(tag="D-002").manufactured_on == date(2016, 5, 1)


def test_a_column_that_says_two_things_is_taken_apart(department, plate_columns):
    take(department, plate_columns)
    shelter = Item.objects.get(tag="D-001")
    assert (shelter.serial, shelter.plate) == ("88123A", "Own make")
    assert held(department)["D-001"].place.name == "Station 2, Bay 3"


def test_what_the_status_column_says_becomes_the_state(department, plate_columns):
    take(department, plate_columns)
    states = {tag: s.state for tag, s in held(department).items()}
    assert states == {
        "D-001": "in service", "D-002": "in service", "D-003": "out of service", "D-004": "boxed", "D-005": "absent",
    }  # fmt: skip


def test_supplies_beside_the_register_of_one_line_belong_to_it(department, plate_columns):
    report = take(department, plate_columns)
    rows = {r.kind.key: r.quantity for r in load_list(Line.objects.get(), TODAY)}
    assert (rows["towel"], rows["kit_child"], rows["gloves"]) == (160, 12, 20)
    assert "the file knows only Line C: taken in on it" in problems(report)
    assert set(Lot.objects.values_list("number", flat=True)) == {"G1", "TW-L1", "KC-L1"}


def test_an_end_date_is_an_end_even_when_gone_by(department, plate_columns):
    report = take(department, plate_columns)
    ends = dict(CrewMember.objects.values_list("name", "qualified_until"))
    assert ends == {"Casey One": date(2027, 5, 31), "Avery Two": date(2024, 5, 31)}
    assert [(n.sheet, n.row, n.value) for n in report.refused] == [("People", 4, "soon")]


def test_chapters_over_different_gear_are_no_lines(department, tmp_path):
    rows = [
        ["Equipment", "Qty", "Location"], ["SHELTER"], ["Decon tent 2 lane", 1, "Stn 1"],
        ["Ground tarp 20x30", 2, "Stn 1"], ["HEAT"], ["Water heater", 2, "Stn 1"], ["PPE"], ["Suits", "a few", "Stn 1"],
        ["SCBA", 6, '"'],
    ]  # fmt: skip
    report = take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": rows}))
    assert report.taken == 4
    assert [n.value for n in report.refused] == ["a few"]
    assert {s.line.name for s in held(department).values()} == {f"{department.name} line"}
    assert "no line is named anywhere" in problems(report)


def test_stations_over_the_same_gear_are_lines(department, tmp_path):
    rows = [
        ["Gear", "How many", "Serial"], ["STATION 4"], ["Decon tent", 1, "Z-1"], ["Blower", 1, "Z-2"], ["STATION 11"],
        ["Decon tent", 1, "Z-3"], ["Grids", 12], ["Sub-total", 3],
    ]  # fmt: skip
    take(department, workbook(tmp_path / "r.xlsx", {"Sheet1": rows}))
    found = {s.item.serial: (s.line.name, s.place.name) for s in held(department).values()}
    assert found["Z-1"] == ("Station 4", "Station 4")
    assert found["Z-3"] == ("Station 11", "Station 11")


def test_tables_stacked_on_one_tab_are_each_read_under_their_own_headings(department, tmp_path):
    rows = [
        [None, "DECON INVENTORY"], [None, "Item", "Description", "Qty", "Yr", "Where", "Set"],
        [None, "SH-01", "Decon shelter two lane", 1, 2019, "Bay 1", "A"],
        [None, "WH-01", "Water heater", 1, 2019, "Bay 1", "A"], [None, "WH-02", "Water heater", 1, 2019, "Bay 1", "A"],
        [], [None, "Consumable", "Lot", "On hand", "Expires", "Par", "Set"],
        [None, "Bath towel", "L1", 120, None, 160, "A"], [None, "Gloves nitrile", "L2", 10, "Jan-27", 20, "A"],
    ]  # fmt: skip
    report = take(department, workbook(tmp_path / "r.xlsx", {"Inv": rows}))
    assert report.details["taken_by_sort"] == {"items": 3, "lots": 2, "crew": 0}
    assert set(held(department)) == {"SH-01", "WH-01", "WH-02"}
    assert Item.objects.get(tag="WH-01").acquired_on == date(2019, 1, 1)
    assert Lot.objects.get(number="L2").expires_on == date(2027, 1, 31)


def test_merged_cells_and_ditto_marks_say_what_stands_above(department, tmp_path):
    rows = [
        ["Line", "Item", "Serial", "Where"], ["Line A", "Decon shelter", "Z-1", "Station 4"],
        [None, "Water heater", "Z-2", '"'], [None, "Sump pump", "Z-3", "ditto"],
    ]  # fmt: skip
    take(department, workbook(tmp_path / "r.xlsx", {"Items": rows}, [("Items", "A2:A4")]))
    assert {(s.line.name, s.place.name) for s in held(department).values()} == {("Line A", "Station 4")}


# Doubts -----------------------------------------------------------------------------------------------------------


def one_row(tmp_path, **cells: object):
    row = {"Tag": "LP-01", "Item": "Propane cylinder 100 lb", "Serial": "T1", "Qty": 1, "Line": "Line A"} | cells
    return workbook(tmp_path / "r.xlsx", {"Items": [list(row), list(row.values())]})


@pytest.mark.parametrize(
    ("cells", "problem"),
    [
        ({"Date of mfr": "3/1/2018", "Spec": "TW 68 lb; mfr 01-2018"}, "made in 2018-03 by this column, in 2018-01"),
        ({"Acquired": "1/1/2017", "Date of mfr": "3/1/2018"}, "acquired in 2017-01, before it was made in 2018-03"),
        ({"Acquired": "1/1/2030"}, "2030-01-01 is still to come"),
        ({"Spec": "TW 68 lb; mfr 01-2018; requal 2031-06 E"}, "requalified in 2031-06, which is still to come"),
        ({"Spec": "TW 6800 lb"}, "Tare (TW) of 6800 lb cannot be right"),
        ({"Qty": 3}, "one serial for 3 units"),
        ({"Qty": 0}, "the register counts none"),
        ({"Fed %": "75%"}, "75% is federal, but no award is named"),
        ({"Fed %": "0%", "Award": "FG-2019-0041"}, "nothing of the cost is federal"),
        ({"Notes": "on loan to Sam?"}, "it is taken in as here and in service"),
    ],
)
def test_a_doubt_is_found_and_the_row_taken(department, tmp_path, cells, problem):
    report = take(department, one_row(tmp_path, **cells))
    assert report.taken == 1
    assert problem in problems(report)


def test_a_thing_still_to_come_is_not_accepted_yet(department, tmp_path):
    take(department, one_row(tmp_path, Acquired="1/1/2030"))
    item = Item.objects.get()
    assert (item.accepted_on, item.acceptance_assumed) == (None, False)


@pytest.mark.parametrize(
    ("cells", "column"),
    [({"Unit cost": "ask Gray"}, "Unit cost"), ({"Fed %": "140%"}, "Fed %"), ({"Acquired": "soon"}, "Acquired")],
)
def test_a_row_with_a_cell_that_cannot_be_read_leaves_nothing_of_itself(department, tmp_path, cells, column):
    report = take(department, one_row(tmp_path, **cells))
    assert (report.taken, [n.column for n in report.refused]) == (0, [column])
    assert not Item.objects.exists()
    assert not Line.objects.exists()


def test_every_bad_cell_of_a_row_is_named_at_once(department, tmp_path):
    report = take(department, one_row(tmp_path, Qty="some", **{"Unit cost": "ask", "Acquired": "soon"}))
    assert {n.column for n in report.refused} == {"Qty", "Unit cost", "Acquired"}
    assert report.details["refused_rows"] == 1


def test_a_mended_row_is_taken_the_next_time(department, tmp_path):
    take(department, one_row(tmp_path, Qty="some"))
    assert take(department, one_row(tmp_path, Qty=2)).taken == 1


def test_a_changed_cell_is_found_and_changes_nothing(department, tmp_path):
    take(department, one_row(tmp_path, **{"Unit cost": 180}))
    report = take(department, one_row(tmp_path, Qty=2, **{"Unit cost": 200}))
    assert report.taken == 0
    assert "LP-01: the register now says 200.00, the record says 180.00" in problems(report)
    assert "LP-01: the register now says 2, the record says 1" in problems(report)
    assert (held(department)["LP-01"].quantity, float(Item.objects.get().unit_cost)) == (1, 180)


def test_a_tag_used_twice_is_found_and_taken_once(department, tmp_path):
    rows = [["Tag", "Item", "Serial", "Line"], ["SP-1", "Sump pump", "A1", "A"], ["SP-1", "Sump pump", "A2", "A"]]
    report = take(department, workbook(tmp_path / "r.xlsx", {"Items": rows}))
    assert (report.taken, Item.objects.get().serial) == (1, "A1")
    assert "tag SP-1 is already used in row 2" in problems(report)


def test_a_serial_held_since_an_earlier_import_is_not_taken_again(department, tmp_path):
    take(department, one_row(tmp_path))
    report = take(department, one_row(tmp_path, Tag="LP-77"))
    assert report.taken == 0
    assert "serial T1 is held by LP-01" in problems(report)


def test_one_lot_on_two_lines_is_one_lot(department, tmp_path):
    rows = [["Item", "Lot", "On hand", "Expires", "Line"],
            ["Towel", "L1", 100, None, "A"], ["Towel", "L1", 50, None, "B"],
            ["Towel", "L1", 50, None, "B"], ["Towel", "L1", 9, "Jan 2030", "C"]]  # fmt: skip
    report = take(department, workbook(tmp_path / "r.xlsx", {"Consumables": rows}))
    assert (report.taken, Lot.objects.count()) == (2, 1)
    assert "lot L1 is already in row 3" in problems(report)
    assert "lot L1 expires on nothing elsewhere" in problems(report)


def test_without_shelter_the_heaters_tell_the_lanes_and_without_either_two_are_assumed(department, tmp_path):
    rows = [["Item", "Serial", "Line"], ["Water heater", "A1", "A"], ["Sump pump", "A2", "B"]]
    report = take(department, workbook(tmp_path / "r.xlsx", {"Items": rows}))
    needed = {
        n: {r.kind.key: r.needed for r in load_list(Line.objects.get(name=n), TODAY)} for n in ("Line A", "Line B")
    }
    assert (needed["Line A"]["heater"], needed["Line B"]["heater"]) == (1, 2)
    assert "two lanes is the longer list" in problems(report)


def test_crew_of_a_line_nobody_knows_is_refused(department, tmp_path):
    people = [["Name", "Role", "Qualified", "Line"], ["Casey", "crew", "Mar 2026", "Line Z"]]
    tabs = {"Items": [["Item", "Serial", "Line"], ["Sump pump", "A1", "A"]], "Crew": people}
    report = take(department, workbook(tmp_path / "r.xlsx", tabs))
    assert [(n.sheet, n.value) for n in report.refused] == [("Crew", "Line Z")]
    assert not CrewMember.objects.exists()


def test_a_month_that_was_to_come_is_the_same_card_when_it_has_gone_by(department, tmp_path):
    people = [["Name", "Role", "Qualified until/since", "Line"], ["Casey", "crew", "Dec 2026", "all"]]
    path = workbook(tmp_path / "r.xlsx", {"Crew": people})
    take(department, path)
    later = take(department, path, at=datetime(2027, 3, 1, tzinfo=UTC))
    assert "the register now says" not in problems(later)
    assert CrewMember.objects.get().qualified_until == date(2026, 12, 31)


def test_a_register_known_only_since_its_import(department, tmp_path):
    take(department, one_row(tmp_path, Acquired="1/1/2019"))
    assert held(department, datetime(2026, 11, 1, tzinfo=UTC)) == {}
    assert set(held(department, AT)) == {"LP-01"}


def test_a_column_headed_like_a_date_that_holds_none_is_named_and_not_read(department, tmp_path):
    rows = [["Item", "Serial", "Line", "Made"], *([f"Sump pump {n}", f"A{n}11", "A", "overseas"] for n in range(6))]
    report = take(department, workbook(tmp_path / "r.xlsx", {"Items": rows}))
    assert report.taken == 6
    assert "column D is headed 'Made', but its cells do not look it: not read" in problems(report)
