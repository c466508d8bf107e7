"""``manage.py import_cache``: what it prints, writes, returns, and never does by halves."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inventory.importing.report import ImportReport
from inventory.models import ImportRun, Item, ItemKind
from inventory.services import storing
from shared.models import Department
from tests.inventory.registers import SAMPLE, text_table, workbook

pytestmark = pytest.mark.django_db
NAME = "Tarn Hollow Fire District"
KEYS = {"sheet", "row", "column", "value", "problem", "mend"}


def run(path, *options: str, department: str = NAME) -> str:
    said = StringIO()
    call_command("import_cache", str(path), "--department", department, *options, stdout=said, skip_checks=True)
    return said.getvalue()


def test_a_new_department_is_made_with_its_catalogue_and_a_slug():
    said = run(SAMPLE)
    department = Department.objects.get(name=NAME)
    assert department.slug == "tarn-hollow-fire-district"
    assert ItemKind.objects.filter(department=department).exists()
    assert "Took 190 rows" in said
    assert "Refused: Cache list row 151, Qty: cell D151: 'several' is not a quantity" in said


def test_a_department_is_known_again_whatever_its_capitals(department):
    run(SAMPLE, department="tarn hollow FIRE district")
    assert Department.objects.get() == department


def test_two_departments_whose_names_slug_alike_are_two(tmp_path):
    path = text_table(tmp_path / "r.csv", [["Item", "Serial", "Line"], ["Sump pump", "A1", "A"]])
    run(path, department="Other Ridge")
    run(path, department="Other-Ridge")
    assert sorted(Department.objects.values_list("slug", flat=True)) == ["other-ridge", "other-ridge-2"]


def test_the_report_is_written_as_agreed(tmp_path):
    run(SAMPLE, "--report", str(tmp_path / "report.json"))
    report = json.loads((tmp_path / "report.json").read_text())
    assert report["taken"] == 190
    assert len(report["refused"]) == 2
    assert all(set(n) == KEYS for n in report["refused"] + report["findings"])
    assert report["refused"][0]["value"] == "several"
    assert all(isinstance(n["row"], int) for n in report["refused"])
    (heading,) = [c for c in report["sheets"][0]["columns"] if c["heading"] == "Serial #"]
    assert (heading["taken_as"], heading["column"]) == ("serial", "C")
    assert heading["sureness"] > 0.9


def test_a_dry_run_leaves_nothing_not_even_the_department(tmp_path):
    said = run(SAMPLE, "--dry-run", "--report", str(tmp_path / "report.json"))
    assert "Would take 190 rows" in said
    assert json.loads((tmp_path / "report.json").read_text())["dry_run"] is True
    assert not Department.objects.exists()


@pytest.mark.parametrize(
    "content", [b"", b"\x00\x01\x02" * 50, b"just,words\nno,register\n", b"PK\x03\x04 cut short", b'{"taken": 3}']
)
def test_a_file_that_cannot_be_read_leaves_nothing_and_returns_2(tmp_path, content):
    path = tmp_path / "r.csv"
    path.write_bytes(content)
    with pytest.raises(CommandError, match="Nothing was changed") as caught:
        run(path)
    assert caught.value.returncode == 2
    assert not Department.objects.exists()


@pytest.mark.parametrize("name", ["none.xlsx", "."])
def test_a_file_that_is_not_there_or_a_folder_leaves_nothing_and_returns_2(tmp_path, name):
    with pytest.raises(CommandError, match="There is no file") as caught:
        run(tmp_path / name)
    assert caught.value.returncode == 2
    assert not Department.objects.exists()


def test_options_that_mean_nothing_return_2(tmp_path):
    with pytest.raises(CommandError, match="Nobody signs in as 'nobody'") as caught:
        run(SAMPLE, "--by", "nobody")
    assert caught.value.returncode == 2
    with pytest.raises(CommandError, match="blank") as caught:
        run(SAMPLE, department="  ")
    assert caught.value.returncode == 2


def test_a_report_that_cannot_be_written_says_so(tmp_path):
    with pytest.raises(CommandError, match="cannot be written"):
        run(SAMPLE, "--report", str(tmp_path / "no" / "folder" / "report.json"))


def test_the_run_is_in_the_name_of_who_made_it(quinn):
    run(SAMPLE, "--by", "quinn")
    assert ImportRun.objects.get().by == quinn


def test_a_failure_half_way_leaves_nothing(monkeypatch):
    def fail(self, drafts):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(storing.Storing, "crew", fail)
    with pytest.raises(RuntimeError):
        run(SAMPLE)
    assert not Item.objects.exists()
    assert not Department.objects.exists()


def test_only_the_first_notices_are_printed_and_the_rest_counted(tmp_path):
    rows = [["Tag", "Item", "Qty", "Line"], *([f"MT-{n}", "Anti-slip mat", "some", "A"] for n in range(40))]
    said = run(workbook(tmp_path / "r.xlsx", {"Items": rows}))
    assert said.count("Refused: Items row") == 12
    assert "Refused: 28 more; --report FILE writes all of them." in said


def test_a_report_holds_only_what_json_can(tmp_path):
    report = ImportReport(taken=1)
    assert json.loads(json.dumps(report.as_json()))["taken"] == 1
