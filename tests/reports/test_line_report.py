"""The line report, drawn from a rating that stood, and from none."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from readiness.models import StoredRating
from readiness.services import rerate
from reports.pdf.line import build_line_report
from reports.queries import line_sheet
from tests.conftest import NOON
from tests.reports.cache import inspect, make_item, make_line
from tests.reports.test_inspection_report import words_of


@pytest.fixture
def line(quinn):
    inspect(make_item(quinn.department), quinn)
    return make_line(quinn.department)


def test_a_line_never_rated_says_so_and_still_lists_its_items(line):
    text = words_of(build_line_report(line_sheet(line, NOON)))
    assert "This line was never rated." in text
    assert "SH-01" in text
    assert "Inflation hold test: pass" in text


def test_a_rated_line_leads_with_its_word_what_it_can_do_and_how_sure_that_is(line):
    stored = rerate(line=line, at=NOON)
    text = words_of(build_line_report(line_sheet(line, datetime.now(UTC))))
    assert stored.word in text
    assert "Can do now:" in text
    assert "80 % range" in text
    assert "min wet each, a local medical setting" in text
    assert "Incident command decides" in text
    for name in stored.rating["not_recorded"]:
        assert name in text


def test_blind_spots_and_single_points_are_named_and_no_chance_is_never_at_most(line):
    row = rerate(line=line, at=NOON)
    item = {"tag": "SH-01", "name": "Shower shelter", "evidence": "claimed"}
    function = {"function": "shelter", "need": 2, "have": 1, "unit": "lanes", "evidence": "claimed", "items": [item]}
    none = {"probability": 0, "probability_low": 0, "probability_high": 0, "at_most": ["probability"]}
    told = {"functions": [function], "single_points": ["SH-01"], "blind_spots": ["SH3", "XX9"]}
    StoredRating.objects.filter(pk=row.pk).update(rating=row.rating | none | told)
    sheet = line_sheet(line, datetime.now(UTC))
    assert sheet.single_points == ("SH-01 Shower shelter",)
    assert sheet.blind_spots == ("SH3 Seam delamination", "XX9")
    assert "at most 0" not in sheet.asked
    assert "0 in 100, 80 % range 0 to 0" in sheet.asked


def test_every_function_of_the_rating_stands_in_chain_order(line):
    stored = rerate(line=line, at=NOON)
    sheet = line_sheet(line, datetime.now(UTC))
    assert {f.name for f in sheet.functions} == {f["function"] for f in stored.rating["functions"]}
    assert sheet.functions[0].name == "shelter"


def test_the_rating_that_stood_then_is_the_one_shown(line):
    rerate(line=line, at=NOON)
    assert line_sheet(line, NOON).word == "Not rated", "it was not made yet"


def test_a_line_report_is_the_same_bytes_for_the_same_sheet(line):
    rerate(line=line, at=NOON)
    sheet = line_sheet(line, datetime.now(UTC))
    assert build_line_report(sheet) == build_line_report(replace(sheet))
