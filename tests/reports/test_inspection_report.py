"""The inspection report: what it says, how it is drawn, and that the same facts make the same bytes."""

import io
import subprocess
import uuid
from dataclasses import replace
from datetime import timedelta

import pytest
from pypdf import PdfReader

from inspections.models import Deficiency, Walk
from inspections.services import open_walk, record_repair, sign_walk
from reports.pdf.inspection import build_inspection_report
from reports.pdf.layout import pages_in
from reports.queries import inspection_sheet, walk_sheet
from reports.sheets import ReadingLine
from tests.conftest import NOON
from tests.reports.cache import HOLD, inspect, make_item, make_line

LEAKS = HOLD | {"p2_psi": 1.6}


def words_of(pdf: bytes) -> str:
    """The text of a PDF with its line ends as blanks."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.fixture
def sheet(quinn):
    return inspection_sheet(inspect(make_item(quinn.department), quinn), NOON)


def test_the_report_says_what_a_minimum_record_must(sheet):
    text = words_of(build_inspection_report(sheet))
    for needed in (
        "Tarn Hollow Fire District",
        "SH-01 Shower shelter, air-beam, two lane",
        "S-SH-01",
        "Shower shelter, air-beam",
        "Station 4, trailer bay",
        "Line A",
        "15 Nov 2026",
        "Quinn, on recording, 15 Nov 2026",
        "Inflation hold test, version 1",
        "Left as in service",
        "Next due",
        sheet.record_id,
        "Data as of 24 Nov 2026 07:00 EST",
        "Page 1 of",
    ):
        assert needed in text


def test_readings_stand_as_entered_with_their_unit(sheet):
    text = words_of(build_inspection_report(sheet))
    assert "Reading 1 3.0 psi" in text
    assert "Beam surface at reading 2 49 \u00b0F" in text


def test_each_finding_stands_beside_its_limit_and_where_that_comes_from(sheet):
    deciding = [finding for finding in sheet.findings if finding.limit]
    assert deciding
    text = words_of(build_inspection_report(sheet))
    for finding in deciding:
        assert " ".join(finding.text.split()) in text
        assert finding.origin


def test_it_tells_what_was_proven_from_what_is_left_to_others_and_what_nothing_sees(sheet):
    proven = {mode.code for mode in sheet.modes if mode.outcome == "proven"}
    assert "SH1" in proven
    assert any(line.startswith("RV1") for line in sheet.seen_by_others)
    assert not {line.split()[0] for line in (*sheet.seen_by_others, *sheet.blind_spots)} & proven
    assert "SH1 Slow beam leak" in words_of(build_inspection_report(sheet))


def test_the_cautions_stand_on_the_report(sheet):
    text = words_of(build_inspection_report(sheet))
    assert "Incident command decides" in text
    assert "Status here is a record: isolate, lock or unplug before servicing." in text
    assert "Local code and the maker's manual" in text


def test_a_fault_is_followed_to_its_repair_and_its_restoration(quinn, casey, avery):
    item = make_item(quinn.department)
    failed = inspect(item, casey, at=NOON - timedelta(days=9), values=LEAKS)
    fault = Deficiency.objects.filter(inspection=failed).first()
    record_repair(
        department=item.department,
        item=item,
        deficiency=fault,
        what="Patched beam 2 & re-glued",
        cost=12,
        happened_at=NOON - timedelta(days=8),
        recorded_at=NOON - timedelta(days=8),
        by=avery,
        by_name="Avery",
        client_id=uuid.uuid4(),
    )
    before = words_of(build_inspection_report(inspection_sheet(failed, NOON)))
    assert "open: not restored" in before
    assert "Patched beam 2 & re-glued; Avery, 16 Nov 2026, $12.00" in before
    inspect(item, quinn, at=NOON - timedelta(days=7))
    after = words_of(build_inspection_report(inspection_sheet(failed, NOON)))
    assert "same check passed; Quinn, 17 Nov 2026" in after


def test_a_report_as_of_a_past_instant_knows_nothing_later(quinn, casey):
    item = make_item(quinn.department)
    failed = inspect(item, casey, at=NOON - timedelta(days=9), values=LEAKS)
    inspect(item, quinn, at=NOON - timedelta(days=7))
    then = inspection_sheet(failed, NOON - timedelta(days=8))
    assert not any(fault.restoration for fault in then.faults)
    assert any(fault.restoration for fault in inspection_sheet(failed, NOON).faults)


def test_the_same_facts_make_the_same_bytes(sheet):
    assert build_inspection_report(sheet) == build_inspection_report(replace(sheet))
    assert build_inspection_report(sheet) != build_inspection_report(replace(sheet, remark="zip sticky"))


def test_what_people_write_is_text_and_never_markup(sheet):
    pdf = build_inspection_report(replace(sheet, remark="<b>bold</b> & <para>\x00 tail", inspector="O'Neil <Quinn>"))
    text = words_of(pdf)
    assert "<b>bold</b> & <para> tail" in text
    assert "O'Neil <Quinn>" in text


def test_every_font_is_embedded(sheet, tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(build_inspection_report(sheet))
    listed = subprocess.run(["pdffonts", str(path)], capture_output=True, text=True, check=True).stdout
    fonts = [line.split() for line in listed.splitlines()[2:]]
    assert fonts
    assert all(font[-5] == "yes" and "SourceSans" in font[0] for font in fonts)


def test_a_long_table_runs_over_pages_with_its_header_on_each(sheet):
    many = replace(sheet, readings=tuple(ReadingLine(f"Reading {n}", str(n), "psi") for n in range(150)))
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(build_inspection_report(many))).pages]
    with_rows = [page for page in pages if "Reading 14" in page or "Reading 60" in page or "Reading 149" in page]
    assert len(with_rows) >= 3
    assert all("As entered" in page for page in with_rows)
    assert all(f"Page {n} of {len(pages)}" in page for n, page in enumerate(pages, start=1))


@pytest.mark.parametrize("long", ["word " * 4000, "x" * 6000, "line\n" * 900])
def test_a_note_of_any_length_stays_inside_the_pages(sheet, long):
    pdf = build_inspection_report(replace(sheet, remark=long, summary=long[:900]))
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert text.count(long[0]) >= len(long) // 6
    assert pages_in(pdf) == len(PdfReader(io.BytesIO(pdf)).pages)


def test_a_walk_report_holds_every_inspection_of_it(quinn):
    item, second = make_item(quinn.department), make_item(quinn.department, tag="SH-02")
    walk = open_walk(
        department=quinn.department,
        place=make_line(quinn.department).home,
        by=quinn,
        started_at=NOON - timedelta(hours=2),
        client_id=uuid.uuid4(),
    )
    for each in (item, second):
        inspect(each, quinn, at=NOON - timedelta(hours=1), walk=walk)
    open_sheet = walk_sheet(Walk.objects.get(pk=walk.pk), NOON)
    assert "not signed: the walk is open" in words_of(build_inspection_report(open_sheet))
    sign_walk(walk=walk, by=quinn, signed_name="Quinn", signed_at=NOON, note="all dry")
    text = words_of(build_inspection_report(walk_sheet(Walk.objects.get(pk=walk.pk), NOON + timedelta(minutes=1))))
    assert "Walk report: Station 4, trailer bay" in text
    assert "all dry" in text
    assert "Inflation hold test: SH-01" in text
    assert "Inflation hold test: SH-02" in text
    assert "Quinn, with the walk, 24 Nov 2026" in text


def test_a_walk_of_many_items_costs_no_more_queries_than_one_of_two(quinn, django_assert_max_num_queries):
    walk = open_walk(
        department=quinn.department,
        place=make_line(quinn.department).home,
        by=quinn,
        started_at=NOON - timedelta(hours=2),
        client_id=uuid.uuid4(),
    )
    for number in range(12):
        item = make_item(quinn.department, tag=f"SH-{number:02}")
        inspect(item, quinn, at=NOON - timedelta(hours=1), walk=walk)
    walk = Walk.objects.select_related("department", "place", "by").get(pk=walk.pk)
    with django_assert_max_num_queries(60):
        assert len(walk_sheet(walk, NOON).inspections) == 12
