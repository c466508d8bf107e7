"""Registers of checks of other shapes: other headings, a column or a row for each reading, other ways of writing."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from openpyxl import Workbook

from inspections.entry import read_entry
from inspections.models import Inspection, Reading, Repair, Upkeep
from inspections.register_words import check_named, reading_meant, roles_of
from inspections.services import import_checks
from inspections.services.procedures import register_words, shipped
from inspections.verdicts.core import ReadingError
from inventory.importing.sheets import Unreadable
from inventory.models import ImportRun
from tests.inspections.building import make_item

AT = datetime(2026, 11, 24, 18, tzinfo=UTC)
WIDE = (
    "Inspected on,Unit #,Test performed,Inspector,P1 (psi),T1 (°F),P2 (psi),T2 (°F),Minutes held,Gauge same?,"
    "Gross wt (lb),Soap,OCV (V),Rest (h),Weather,Remarks"
)
INPUTS = {p["key"]: [*p["inputs"], *shipped()["common_inputs"]] for p in shipped()["procedures"]}


@pytest.fixture
def shelf(cache):
    """A department with a thing of most kinds."""
    for kind, tag in (
        ("shelter", "SH-01"), ("propane", "LP-01"), ("battery", "BA-01"), ("gfci", "GF-01"), ("gfci", "GF-02"),
        ("heater", "WH-01"), ("pump", "SP-01"), ("generator", "GN-01"), ("grid", "GR-01"), ("air_cylinder", "AC-01"),
    ):  # fmt: skip
        make_item(cache, kind, tag)
    return cache


def take(department, path: Path):
    return import_checks(department=department, path=path, by=None, at=AT)


def table(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "checks.csv"
    path.write_text(text, encoding="utf-8")
    return path


def readings(tag: str) -> dict[str, str]:
    rows = Reading.objects.filter(inspection__item__tag=tag).order_by("inspection__happened_at")
    return dict(rows.values_list("key", "as_entered"))


@pytest.mark.django_db
def test_a_column_for_each_reading_under_other_headings_is_read(tmp_path, shelf):
    text = f"""Readings of 2025
{WIDE}
14-Mar-2025,SH-01,Inflation test,Quinn,3.00,62,2.98,61,60,Y,,none,,,rain,
"Mar 15, 2025",LP-01,Propane weight,Quinn,,,,,,,160.2 lb,no bubbles,,,,
2025-03-15,BA-01,Battery voltage,Casey,,,,,,,,,12.84 V,24,,
3/15/25,GF-01,GFCI test,Casey,,,,,,,,,,,,trips and resets
15/3/2025,gf 02,GFCI,Casey,,,,,,,,,,,,pass
3/18/2025,SH-01,Levitation,Casey,,,,,,,,,,,,
3/18/2025,LP-01,propane weigh,Casey,,,,,,,heavy,none,,,,
"""
    report = take(shelf, table(tmp_path, text))
    assert [(n.row, n.column, n.value) for n in report.refused] == [
        (8, "Test performed", "Levitation"), (9, "Gross wt (lb)", "heavy"),
    ]  # fmt: skip
    assert report.taken == 5
    assert {"p1_psi": "3.00", "hold_min": "60", "same_gauge": "Y"}.items() <= readings("SH-01").items()
    assert readings("BA-01") == {"ocv_v": "12.84 V", "rest_h": "24"}
    assert readings("GF-01") == {"test_trips": "yes", "reset": "yes"}
    assert Inspection.objects.get(item__tag="LP-01").verdict == "pass"
    assert [n.problem for n in report.findings] == ["not read, as no check asks for it: Weather"]


@pytest.mark.django_db
def test_a_row_for_each_reading_makes_one_check_of_its_rows(tmp_path, shelf):
    rows = [("p1", "3.00", "psi"), ("t1", 62, "F"), ("p2", 2.97, "psi"), ("t2", 61, "F"), ("hold_min", 60, "min")]
    text = "Date,Item tag,Check,Reading,Value,Unit,Done by\n" + "".join(
        f"5/1/2025,SH-01,hold test,{name},{value},{unit},Quinn\n" for name, value, unit in rows
    )
    report = take(shelf, table(tmp_path, text + "5/1/2025,GF-01,gfci,trips,yes,,Quinn\n"))
    assert (report.taken, report.refused) == (2, [])
    assert readings("SH-01")["p2_psi"] == "2.97 psi"


@pytest.mark.django_db
def test_tabs_for_checks_repairs_and_uses_are_read_by_their_names(tmp_path, shelf):
    book = Workbook()
    book.remove(book.active)
    tabs = {
        "Heater runs": [["Date", "Heater", "Tester", "In F", "Out F", "GPM", "Head temp", "Lit?", "Drained"],
                        ["4/2/2025", "WH-01", "Casey", 48, 105, 6.2, 101, "yes", "✓"]],
        "Bucket test": [["Date", "Tag", "By", "Seconds to fill 5 gal", "Starts", "Stops"],
                        ["4/3/2025", "SP-01", "Casey", "9.1 s", "3/3", "3/3"]],
        "Repairs": [["Date", "Tag", "By", "What was done", "Cost", "Parts"],
                    ["4/4/2025", "GF-02", "Avery", "replaced module", "$38.50", "one module"],
                    ["4/5/2025", "WH-01", "Avery", "new igniter", "n/a", ""]],
        "Use log": [["Date", "Tag", "By", "Hours used", "People"], ["4/6/2025", "SH-01", "Quinn", "3.5", 40]],
    }  # fmt: skip
    for name, rows in tabs.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(tmp_path / "log.xlsx")
    report = take(shelf, tmp_path / "log.xlsx")
    assert (report.taken, report.refused) == (5, [])
    assert readings("WH-01")["inlet_degF"] == "48"
    assert readings("SP-01") == {"fill_s": "9.1 s", "starts": "3/3", "stops": "3/3"}
    assert sorted(Repair.objects.values_list("what", flat=True)) == [
        "new igniter", "replaced module; Parts=one module",
    ]  # fmt: skip
    assert Upkeep.objects.get().hours == 3.5
    # A drill asks for people, a use does not: what is written stays with the use, in its own words.
    assert Upkeep.objects.get().note == "People=40"


@pytest.mark.django_db
def test_readings_in_one_cell_may_be_written_many_ways(tmp_path, shelf):
    text = """WHEN,TAG,CHECK,WHO,READINGS
7/1/25,SH-01,hold,Quinn,"P1 3.00 psi, T1 62F, P2 2.98 psi, T2 61F, hold 60 min"
7/2/25,SH-01,hold,Quinn,p1=3.00 psi / t1=62 F / p2=2.98 psi / t2=61 F / hold=60 min
7/1/25,LP-01,weigh,Quinn,gross: 160.1; tare: 68
7/1/25,BA-01,battery,Quinn,"ocv=12,84; rest=24"
7/1/25,GR-01,count,Quinn,22 of 24
7/1/25,GN-01,Run under load,Quinn,pass - 121 V 60.1 Hz 30 min
7/1/25,WH-01,Heater,Quinn,FAIL
"""
    report = take(shelf, table(tmp_path, text))
    assert (report.taken, report.refused) == (7, [])
    assert Reading.objects.get(inspection__item__tag="BA-01", key="ocv_v").number == 12.84
    assert readings("GR-01") == {"counted": "22"}
    assert readings("GN-01") == {"result": "pass", "note": "121 V 60.1 Hz 30 min"}
    assert Inspection.objects.get(item__tag="WH-01").verdict == "fail"


@pytest.mark.django_db
def test_a_row_that_names_nothing_but_says_something_is_refused_and_a_total_is_not(tmp_path, shelf):
    text = "date,tag,check,by,readings\n1/5/2025,,gfci,,test_trips=yes; reset=yes\nTotal,,,,1\n"
    report = take(shelf, table(tmp_path, text))
    assert [(n.row, n.column) for n in report.refused] == [(2, "tag"), (2, "by")]


@pytest.mark.django_db
def test_the_same_file_twice_leaves_one_record_of_its_run(tmp_path, shelf):
    path = table(tmp_path, "date,tag,check,by,readings\n1/5/2025,GF-01,gfci,Quinn,test_trips=yes; reset=yes\n")
    take(shelf, path)
    again = take(shelf, path)
    assert (again.taken, again.as_json()["already_taken"]) == (0, 1)
    assert ImportRun.objects.filter(sort="checks").count() == 1


@pytest.mark.django_db
def test_a_thing_is_found_by_its_serial_or_with_its_name_behind_the_tag(tmp_path, shelf):
    item = shelf.items.get(tag="GF-02")
    item.serial = "TH-9 9"
    item.save()
    text = "date,tag,check,by,readings\n1/5/2025,GF-01 inline GFCI,gfci,Quinn,pass\n1/5/2025,TH99,gfci,Quinn,pass\n"
    report = take(shelf, table(tmp_path, text))
    assert (report.taken, report.refused) == (2, [])
    assert sorted(Inspection.objects.values_list("item__tag", flat=True)) == ["GF-01", "GF-02"]


@pytest.mark.parametrize(
    ("name", "own", "check"),
    [
        ("Inflation test", ("hold", "relief", "look"), "hold"),
        ("Run", ("inflate", "look", "gfci", "connect"), "inflate"),
        ("Leak", ("bladder", "setup"), "bladder"),
        ("Heater", ("heat", "setup", "look"), "heat"),
        ("Monthly check", ("gfci",), "gfci"),
        ("Inspection", ("hold", "relief", "look"), "look"),
        ("Visual", ("bladder", "look"), "look"),
        ("Repairs", (), "repair"),
        ("Levitation", ("hold",), ""),
        ("Test", ("hold", "relief"), ""),
    ],
)
def test_a_vague_name_is_enough_where_the_thing_has_one_such_check(name, own, check):
    assert check_named(name, register_words(), own) == check


@pytest.mark.parametrize(
    ("check", "heading", "key"),
    [
        ("hold", "Start pressure", "p1_psi"), ("hold", "End temp F", "t2_degF"), ("hold", "Minutes held", "hold_min"),
        ("hold", "Gauge same?", "same_gauge"), ("heat", "In F", "inlet_degF"), ("heat", "CO ppm", "co_ppm"),
        ("sump", "Seconds to fill 5 gal", "fill_s"), ("generator", "Run time (min)", "run_min"),
        ("cylinder", "Temp F", "temp_degF"), ("cylinder", "Pressure", "psi"), ("count", "Qty found", "counted"),
        ("hold", "Weather", None), ("propane", "Gross (kg)", None), ("battery", "Serial", None),
    ],
)  # fmt: skip
def test_a_heading_means_the_one_reading_it_names(check, heading, key):
    meant = reading_meant(heading, INPUTS[check])
    assert (meant["key"] if meant else None) == key


def test_every_input_is_meant_by_its_own_key_and_label():
    for check, inputs in INPUTS.items():
        for asked in inputs:
            meant = reading_meant(asked["key"], inputs)
            assert meant is None or meant["key"] == asked["key"], (check, asked["key"])


def test_columns_of_a_log_are_told_by_their_headings():
    log = ["Date of test", "Equip ID", "Type of test", "Result", "Tested by", "Comments"]
    assert roles_of(log, named_tab=False) == {
        "date": 0, "tag": 1, "check": 2, "readings": 3, "by": 4, "remark": 5,
    }  # fmt: skip
    assert "check" not in roles_of(["Date", "Tag", "By", "What was done"], named_tab=True)


DEFINITION = next(p for p in shipped()["procedures"] if p["key"] == "propane") | {"common_inputs": []}


@pytest.mark.parametrize("said", ["no bubbles", "None seen", "no leaks found", "nothing"])
def test_none_may_be_said_in_more_words(said):
    assert read_entry(DEFINITION, {"gross_lb": "160", "soap": said}).values["soap"] == "none"


@pytest.mark.parametrize("said", ["n/a", "not tested", "-"])
def test_what_was_not_taken_is_not_given(said):
    assert "soap" not in read_entry(DEFINITION, {"gross_lb": "160", "soap": said}).values


@pytest.mark.parametrize(("written", "number"), [("1,200", 1200.0), ("160,2", 160.2), ("160.25 W", 160.25)])
def test_a_comma_marks_thousands_or_decimals(written, number):
    generator = next(p for p in shipped()["procedures"] if p["key"] == "generator") | {"common_inputs": []}
    assert read_entry(generator, {"started": "yes", "load_w": written}).values["load_w"] == number


def test_a_comma_that_marks_neither_is_refused():
    with pytest.raises(ReadingError, match="not a number"):
        read_entry(DEFINITION, {"gross_lb": "16,0225"})


def test_days_in_readings_are_read_as_in_registers():
    generator = next(p for p in shipped()["procedures"] if p["key"] == "generator") | {"common_inputs": []}
    entry = read_entry(generator, {"started": "yes", "fuel_date": "14-Mar-2025"}, today=date(2025, 4, 1))
    assert entry.values["fuel_date"] == "2025-03-14"


@pytest.mark.django_db
@pytest.mark.parametrize("content", [b"a,b\n1,2\n", b"PK\x03\x04 cut short", None])
def test_a_file_that_is_no_register_of_checks_is_refused_whole(tmp_path, shelf, content):
    path = tmp_path / "checks.xlsx"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(Unreadable):
        take(shelf, path)
    assert not ImportRun.objects.exists()


@pytest.mark.django_db
def test_what_was_set_each_time_is_no_run_of_copied_readings(tmp_path, shelf):
    make_item(shelf, "bladder", "BL-01")
    leak = "method=air; psi=1.0; hold_min=15; bubbles=none; valves_turn=yes; vent_passes=yes"
    rows = [f"0{month}/05/2025,BL-01,bladder,Casey,{leak}" for month in (1, 2, 3, 4)]
    bucket = "bucket_gal=5; fill_s=11.2; starts=3; stops=3"
    rows += [f"0{month}/05/2025,SP-01,bucket test,Casey,{bucket}" for month in (1, 2, 3)]
    report = take(shelf, table(tmp_path, "date,tag,check,by,readings\n" + "\n".join(rows)))
    assert [n.problem for n in report.findings] == ["SP-01: the same readings 3 times running"]
