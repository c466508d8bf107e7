"""The run of the check values: by command, by the outbox, on its page, on paper, and from the Line page."""

import json
import re
import sys
from datetime import UTC, datetime, timedelta
from io import BytesIO, StringIO, TextIOWrapper

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from reports import check_values, services, verification
from reports.models import Document, VerificationRun
from reports.queries.verification import filtered, verification_sheet
from shared import outbox
from shared.models import OutboxRow
from shared.verification.cases import CheckValue
from shared.verification.catalogue import catalogue
from shared.verification.run import run

MIX = {"t_hot_degF": 120, "t_cold_degF": 40, "t_set_degF": 100, "total_gpm": 2.0}
HEADINGS = "id,kind,inputs,expected,tolerance_rel,source\n"
GOOD = '"{""hot_gpm"": 1.5}"'
BAD = '"{""hot_gpm"": 1.6}"'
PAGE = "proof-book:verification"


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def row(name: str, expected: str) -> str:
    inputs = json.dumps(MIX).replace('"', '""')
    return f'{name},mix,"{inputs}",{expected},0.001,worked by hand\n'


@pytest.fixture
def unseen(tmp_path):
    """Write a file of check values that the house does not have."""

    def write(*rows: str):
        path = tmp_path / "unseen.csv"
        path.write_text(HEADINGS + "".join(rows))
        return str(path)

    return write


def verify(*arguments: str) -> tuple[str, int]:
    """Return what the command printed and its exit code."""
    out = StringIO()
    try:
        call_command("verify", *arguments, stdout=out, stderr=StringIO())
    except CommandError as refused:
        return out.getvalue() + str(refused), refused.returncode
    return out.getvalue(), 0


# The command: it needs no database, and these tests give it none --------------------------------------------------


def test_a_file_not_seen_before_is_run_and_told_case_by_case(unseen):
    said, code = verify("--cases", unseen(row("x-1", GOOD)))
    assert code == 0
    for word in ("x-1", "mix", "hot_gpm 1.5", "worked by hand", "1 of    1 pass"):
        assert word in said


def test_a_failing_case_ends_with_code_1_and_says_what_missed(unseen):
    said, code = verify("--cases", unseen(row("x-1", GOOD), row("x-2", BAD)))
    assert code == 1
    assert "FAILS" in said
    assert "1 of 2 cases fail." in said
    assert "1 FAIL" in said


def test_json_is_a_list_of_results_and_nothing_else(unseen):
    out = StringIO()
    with pytest.raises(CommandError) as refused:
        call_command("verify", "--json", "--cases", unseen(row("x-1", GOOD), row("x-2", BAD)), stdout=out)
    assert refused.value.returncode == 1
    found = json.loads(out.getvalue())
    assert [set(one) for one in found] == [{"id", "passed", "expected", "got", "error", "source"}] * 2
    assert [one["passed"] for one in found] == [True, False]
    assert found[0]["got"]["hot_gpm"] == pytest.approx(1.5)
    assert "hot_gpm: got 1.49999" in found[1]["error"]


def test_several_files_are_run_and_a_name_in_two_of_them_is_told(unseen, tmp_path):
    other = tmp_path / "other.csv"
    other.write_text(HEADINGS + row("x-1", GOOD))
    err = StringIO()
    call_command("verify", "--cases", unseen(row("x-1", GOOD)), "--cases", str(other), stdout=StringIO(), stderr=err)
    assert "'x-1' stands in unseen.csv and in other.csv; both are run." in err.getvalue()


def test_cases_can_be_piped_in(monkeypatch):
    piped = TextIOWrapper(BytesIO((HEADINGS + row("x-1", GOOD)).encode()))
    monkeypatch.setattr(sys, "stdin", piped)
    assert verify("--cases", "-")[1] == 0


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "no such file or directory. Name a CSV file of check values."),
        (b"PK\x03\x04\xff\xff", "is not UTF-8 text. Save it as CSV"),
        (b"id,kind\n", "no column inputs"),
        (b"", "it is empty"),
    ],
)
def test_a_file_that_cannot_be_read_ends_with_code_2_and_words(content, said, tmp_path):
    path = tmp_path / "bad.csv"
    if content is not None:
        path.write_bytes(content)
    found, code = verify("--cases", str(path))
    assert code == 2
    assert said in found


def test_a_bad_row_is_a_failed_case_of_a_whole_run(unseen):
    said, code = verify("--json", "--cases", unseen("x-1,mix,{},{},,\n", row("x-2", GOOD)))
    assert code == 1
    found = json.loads(said[: said.rindex("]") + 1])
    assert [one["passed"] for one in found] == [False, True]
    assert "unseen.csv, row 2, column expected" in found[0]["error"]


def test_a_run_of_other_cases_is_not_kept(unseen):
    said, code = verify("--keep", "--cases", unseen(row("x-1", GOOD)))
    assert code == 2
    assert "leave out --cases" in said


# Runs that are kept -----------------------------------------------------------------------------------------------


@pytest.fixture
def house(monkeypatch, tmp_path):
    """Give the house two check values of its own, one of them failing where asked."""

    def keep(*rows: str):
        (tmp_path / "house.csv").write_text(HEADINGS + "".join(rows))
        monkeypatch.setattr(check_values, "CHECK_VALUES", tmp_path)

    return keep


@pytest.fixture
def passed(house, db) -> VerificationRun:
    house(row("x-1", GOOD), row("x-2", GOOD))
    return verification.keep(results=run(check_values.own_cases()), at=timezone.now(), by=None)


@pytest.fixture
def failed(house, db) -> VerificationRun:
    house(row("x-1", GOOD), row("x-2", BAD))
    return verification.keep(results=run(check_values.own_cases()), at=timezone.now(), by=None)


@pytest.mark.django_db
def test_the_command_keeps_a_run_for_the_page(house):
    house(row("x-1", GOOD), row("x-2", BAD))
    said, code = verify("--keep")
    kept = VerificationRun.objects.get()
    assert code == 1
    assert f"Kept as run {kept.pk}." in said
    assert (kept.passed, kept.failed) == (1, 1)
    assert kept.versions["numpy"]
    assert len(kept.code) == len(kept.cases) == 64


def test_a_kept_run_is_never_changed(passed):
    for change in (passed.save, passed.delete):
        with pytest.raises(DatabaseError, match="is a ledger"), transaction.atomic():
            change()


def test_asked_for_twice_it_is_run_once_and_done_twice_it_is_kept_once(house, quinn):
    house(row("x-1", GOOD))
    first = verification.ask_verification(by=quinn, department=quinn.department)
    assert verification.ask_verification(by=quinn).pk == first.pk
    assert outbox.run(row_id=first.pk) == OutboxRow.State.DONE
    first.refresh_from_db()
    verification.run_asked(row=first, report=lambda *a: None, at=timezone.now())
    kept = VerificationRun.objects.get()
    assert kept.asked_by == quinn
    assert first.result == {"run": kept.pk, "passed": 1, "failed": 0}
    assert verification.pending() is None


def test_without_check_values_a_run_is_given_up_in_words(house, quinn, tmp_path, monkeypatch):
    monkeypatch.setattr(check_values, "CHECK_VALUES", tmp_path / "nothing")
    asked = verification.ask_verification(by=quinn)
    assert outbox.run(row_id=asked.pk) == OutboxRow.State.FAILED
    asked.refresh_from_db()
    assert "no check values are there" in asked.error


# The page ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", ["quinn", "hollis", "casey", "gray", "visitor", "sam"])
def test_everybody_reads_the_page_and_whoever_may_ask_for_papers_runs_it(who, request, passed, client_of):
    client = client_of(request.getfixturevalue(who))
    page = client.get(reverse(PAGE)).content.decode()
    assert "All 2 check values come out." in page
    assert ("Run again" in page) == (who != "visitor")
    answer = client.post(reverse("proof-book:verify"))
    assert answer.status_code == (403 if who == "visitor" else 302)
    assert OutboxRow.objects.filter(task=verification.RUN).count() == (0 if who == "visitor" else 1)


def test_not_run_yet_is_said_and_every_case_with_it(house, quinn, client_of):
    house(row("x-1", GOOD))
    page = client_of(quinn).get(reverse(PAGE)).content.decode()
    assert "Not run on this machine yet." in page
    assert "not run yet" in page
    assert "come out" not in page.replace("how they come out", "")


def test_a_formula_shows_its_source_its_cases_and_what_came_of_them(passed, quinn, client_of):
    page = client_of(quinn).get(reverse(PAGE)).content.decode()
    part = page[page.index('id="heat-hot_share"') :]
    part = part[: part.index("</details>")]
    for word in ("enthalpy balance of two streams", "x-1", "hot_gpm 1.5", "worked by hand"):
        assert word in part
    assert "Share of the flow that must come from the hot side" in page
    for formula in catalogue():
        assert f'id="{formula.anchor}"' in page


def test_a_formula_without_a_case_is_named(passed, quinn, client_of):
    page = client_of(quinn).get(reverse(PAGE)).content.decode()
    named = re.search(r"<b>No check value exercises</b> (.*?)</p>", page)[1]
    assert "people.throughput_per_hour" in named
    assert "heat.hot_share" not in named


def test_a_failure_leads_the_page_and_stands_open(failed, quinn, client_of):
    page = client_of(quinn).get(reverse(PAGE)).content.decode()
    assert "1 of 2 check values fails." in page
    assert "expected 1.6" in page
    assert '<details class="fn proof" open>' in page
    assert "All 2" not in page


def test_other_formulas_or_cases_than_those_that_were_run_are_said(passed, house, quinn, client_of):
    assert "other ones now" not in client_of(quinn).get(reverse(PAGE)).content.decode()
    house(row("x-1", GOOD))
    assert "other ones now" in client_of(quinn).get(reverse(PAGE)).content.decode()


def test_the_list_is_narrowed_by_failure_subject_and_word_as_a_fragment(failed, quinn, client_of):
    client = client_of(quinn)

    def found(**asked: str) -> list[str]:
        answer = client.get(reverse(PAGE), asked, headers={"HX-Request": "true"})
        page = answer.content.decode()
        assert "<html" not in page
        return re.findall(r"<h3>(.*?)</h3>", page)

    assert found(failed="1") == ["heat.hot_share"]
    assert found(subject="dates") == [one.name for one in catalogue() if one.subject == "dates"]
    assert "heat.hot_share" in found(q="enthalpy STREAMS")
    assert found(q="no such word at all") == []
    assert found(subject="heat", q="x-2") == ["heat.hot_share"]
    assert client.get(reverse(PAGE), {"subject": "cooking"}).status_code == 404


def test_an_empty_answer_leads_back(passed, quinn, client_of):
    page = client_of(quinn).get(reverse(PAGE), {"failed": "1"}).content.decode()
    assert "No formula has a failing case." in page
    assert "Show all formulas" in page


def test_a_run_under_way_is_watched_and_the_page_drawn_anew_when_it_is_done(house, quinn, client_of):
    house(row("x-1", GOOD))
    client = client_of(quinn)
    page = client.post(reverse("proof-book:verify"), follow=True).content.decode()
    assert "A run is under way" in page
    watch = {"HX-Request": "true", "HX-Target": "run"}
    assert "HX-Refresh" not in client.get(reverse(PAGE), headers=watch)
    outbox.run(row_id=verification.pending().pk)
    assert client.get(reverse(PAGE), headers=watch)["HX-Refresh"] == "true"
    assert "All 1 check values come out." in client.get(reverse(PAGE)).content.decode()


def test_the_page_costs_the_same_queries_however_many_cases(house, quinn, client_of, django_assert_max_num_queries):
    house(*(row(f"x-{n}", GOOD) for n in range(40)))
    verification.keep(results=run(check_values.own_cases()), at=timezone.now(), by=None)
    client = client_of(quinn)
    with django_assert_max_num_queries(6):
        client.get(reverse(PAGE))


def test_words_of_a_case_are_escaped(db, quinn, client_of):
    case = CheckValue("<b>x", "mix", MIX, {"hot_gpm": 1.5}, relative=0.1, source="<script>alert(1)</script>")
    verification.keep(results=run([case]), at=timezone.now(), by=None)
    page = client_of(quinn).get(reverse(PAGE)).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


# On paper ---------------------------------------------------------------------------------------------------------


def test_the_paper_lists_formulas_cases_and_results_and_is_alike_however_it_is_asked(
    failed, quinn, client_of, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path / "files"
    client_of(quinn).post(reverse("reports:ask"), {"verification": "on"})
    document = Document.objects.get()
    outbox.run(row_id=document.outbox_id)
    document.refresh_from_db()
    out = tmp_path / "out.pdf"
    call_command("report", verification=True, as_of=document.outbox.asked_at.isoformat(), out=out, stdout=StringIO())
    assert out.read_bytes() == (settings.MEDIA_ROOT / document.path).read_bytes()
    text = text_of(out.read_bytes())
    for word in ("1 of 2 check values fail", "heat.hot_share", "enthalpy balance", "x-1", "worked by hand", "x-2"):
        assert word in text
    assert "No check value exercises" in text


def test_the_paper_says_what_was_known_at_its_moment(passed):
    before = text_of(services.verification_pdf(as_of=passed.at - timedelta(days=1)))
    assert "Not run on this machine yet" in before
    assert "All 2 check values come out" in text_of(services.verification_pdf(as_of=passed.at))


def test_a_sheet_can_be_narrowed_to_nothing(db):
    sheet = verification_sheet(datetime(2026, 1, 1, tzinfo=UTC))
    assert filtered(sheet, failed=True, subject="", words="").subjects == ()
