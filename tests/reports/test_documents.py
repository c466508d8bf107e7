"""A document from asking to fetching: the outbox makes it, its page shows how far it is, the walls hold its file."""

import re
import uuid
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.urls import reverse

from reports import queries, services
from reports.models import Document
from reports.services import ask_again, ask_document, make_document
from shared import outbox
from shared.api import Conflict
from shared.models import AuditEntry, OutboxRow
from tests.reports.cache import inspect, make_item, make_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def media(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def inspection(quinn):
    return inspect(make_item(quinn.department), quinn)


def asked(inspection, quinn):
    return ask_document(department=quinn.department, sort="inspection", by=quinn, inspection=inspection)


def made(document: Document) -> Document:
    outbox.run(row_id=document.outbox_id)
    return queries.document(document.department, document.pk)


def test_a_document_asked_for_is_made_by_the_outbox_with_its_digest_and_pages(inspection, quinn, media):
    document = made(asked(inspection, quinn))
    assert document.outbox.state == OutboxRow.State.DONE
    content = (media / document.path).read_bytes()
    assert content.startswith(b"%PDF")
    assert document.pages == len(re.findall(rb"/Type\s*/Page\b", content)) > 0
    assert document.outbox.result["digest"] == document.digest


def test_a_paper_bears_the_day_of_the_department_it_was_done_on(quinn):
    evening = datetime(2026, 11, 21, 1, 10, tzinfo=UTC)  # 20:10 on the 20th where the department is
    late = inspect(make_item(quinn.department), quinn, at=evening)
    document = asked(late, quinn)
    assert document.title.endswith("of 2026-11-20")
    OutboxRow.objects.filter(pk=document.outbox_id).update(asked_at=evening)
    document.refresh_from_db()
    assert services.file_name(document).endswith("as-of-2026-11-20.pdf")


def test_asking_writes_the_document_and_its_work_or_neither(inspection, quinn, monkeypatch):
    monkeypatch.setattr(services, "_title", lambda *a: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        asked(inspection, quinn)
    assert not Document.objects.exists()
    assert not OutboxRow.objects.exists()


def test_making_it_twice_leaves_the_same_file(inspection, quinn, media):
    document = made(asked(inspection, quinn))
    before = (media / document.path).read_bytes()
    make_document(row=document.outbox, report=lambda *a: None)
    assert (media / document.path).read_bytes() == before
    assert len(list(media.rglob("*.pdf"))) == 1


def test_progress_is_told_on_the_way(inspection, quinn, media):
    told = []
    make_document(row=asked(inspection, quinn).outbox, report=lambda share, note: told.append((share, note)))
    assert [share for share, _ in told] == sorted(share for share, _ in told)
    assert told[-1][0] < 100


@pytest.mark.parametrize(
    ("sort", "with_inspection", "with_line"),
    [("inspection", False, False), ("line", True, False), ("status", True, False), ("inspection", True, True)],
)
def test_a_sort_is_about_exactly_what_it_can_be_about(sort, with_inspection, with_line, inspection, quinn):
    about = {"inspection": inspection if with_inspection else None}
    about["line"] = make_line(quinn.department) if with_line else None
    with pytest.raises(Conflict):
        ask_document(department=quinn.department, sort=sort, by=quinn, **about)


def test_what_another_department_owns_cannot_be_asked_about(inspection, sam):
    with pytest.raises(Conflict, match="another department"):
        ask_document(department=sam.department, sort="inspection", by=sam, inspection=inspection)


def test_the_page_asks_shows_progress_and_gives_the_file(inspection, quinn, client_of, media):
    client = client_of(quinn)
    response = client.post(reverse("reports:ask"), {"inspection": inspection.pk}, follow=True)
    document = Document.objects.get()
    page = response.content.decode()
    assert "<progress" in page
    assert 'hx-trigger="every 1s"' in page
    assert f'href="/reports/{document.pk}/"' in page, "without script the link looks again"
    made(document)
    fragment = client.get(reverse("reports:document", args=[document.pk]), headers={"HX-Request": "true"})
    assert "Download PDF" in fragment.content.decode()
    assert "hx-trigger" not in fragment.content.decode()
    file = client.get(reverse("reports:document-file", args=[document.pk]))
    assert file["Content-Type"] == "application/pdf"
    assert 'filename="inspection-report-sh-01' in file["Content-Disposition"]
    assert b"".join(file.streaming_content).startswith(b"%PDF")


def test_a_file_not_made_yet_is_not_found(inspection, quinn, client_of, media):
    document = asked(inspection, quinn)
    assert client_of(quinn).get(reverse("reports:document-file", args=[document.pk])).status_code == 404


def test_a_failure_is_shown_with_a_way_to_ask_again(inspection, quinn, client_of, media):
    document = asked(inspection, quinn)
    OutboxRow.objects.filter(pk=document.outbox_id).update(state="failed", attempts=5, error="OSError: disk is full")
    client = client_of(quinn)
    page = client.get(reverse("reports:document", args=[document.pk])).content.decode()
    assert "could not be made" in page
    assert "disk is full" in page
    client.post(reverse("reports:ask-again", args=[document.pk]))
    assert Document.objects.count() == 2


def test_another_department_finds_neither_page_nor_file(inspection, quinn, sam, client_of, media):
    document = made(asked(inspection, quinn))
    client = client_of(sam)
    for name in ("document", "document-file"):
        assert client.get(reverse(f"reports:{name}", args=[document.pk])).status_code == 404
    assert client.post(reverse("reports:ask-again", args=[document.pk])).status_code == 404
    assert client.post(reverse("reports:ask"), {"inspection": inspection.pk}).status_code == 400


def test_crew_ask_for_papers_but_take_no_export(inspection, casey, client_of, quinn, media):
    client = client_of(casey)
    assert client.post(reverse("reports:ask"), {"inspection": inspection.pk}).status_code == 302
    assert client.get(reverse("reports:status-export")).status_code == 403
    assert client.post(reverse("reports:ask"), {"status": "on"}).status_code == 403
    status = made(ask_document(department=quinn.department, sort="status", by=quinn))
    assert client.get(reverse("reports:document-file", args=[status.pk])).status_code == 403
    assert client_of(quinn).get(reverse("reports:document-file", args=[status.pk])).status_code == 200


def test_a_visitor_reads_documents_and_asks_for_none(inspection, quinn, visitor, client_of, media):
    document = made(asked(inspection, quinn))
    client = client_of(visitor)
    assert client.get(reverse("reports:document-list")).status_code == 200
    assert client.get(reverse("reports:document-file", args=[document.pk])).status_code == 200
    assert client.post(reverse("reports:ask"), {"inspection": inspection.pk}).status_code == 403


def test_the_list_of_documents_costs_the_same_queries_however_long(
    inspection, quinn, client_of, django_assert_max_num_queries
):
    for _ in range(20):
        asked(inspection, quinn)
    client = client_of(quinn)
    with django_assert_max_num_queries(12):
        page = client.get(reverse("reports:document-list")).content.decode()
    assert page.count("Inspection report, SH-01") == 20


def test_the_status_page_streams_what_the_command_writes_and_notes_who_took_it(inspection, gray, client_of, tmp_path):
    as_of = "2026-11-24T12:00:00+00:00"
    response = client_of(gray).get(reverse("reports:status-export"), {"as_of": as_of, "bom": "1"})
    assert response.streaming
    streamed = b"".join(response.streaming_content)
    out = tmp_path / "status.csv"
    call_command("export", department=gray.department.name, as_of=as_of, bom=True, out=out, stdout=StringIO())
    assert out.read_bytes() == streamed
    assert b"SH-01" in streamed
    assert AuditEntry.objects.get(did="export").by == gray


def test_an_instant_without_offset_is_refused(quinn, client_of):
    assert client_of(quinn).get(reverse("reports:status-export"), {"as_of": "yesterday"}).status_code == 400


@pytest.mark.parametrize("named", ["inspection", "line"])
def test_the_command_writes_the_same_bytes_as_the_page(named, inspection, quinn, media, tmp_path):
    line = make_line(quinn.department)
    about = {"inspection": inspection} if named == "inspection" else {"line": line}
    document = made(ask_document(department=quinn.department, sort=named, by=quinn, **about))
    given = {"inspection": str(inspection.client_id)} if named == "inspection" else {"line": "Line A"}
    out = tmp_path / "out.pdf"
    call_command("report", **given, as_of=document.outbox.asked_at.isoformat(), out=out, stdout=StringIO())
    assert out.read_bytes() == (media / document.path).read_bytes()


def test_the_command_says_what_it_does_not_find(quinn, other_department, tmp_path):
    out = tmp_path / "x.pdf"
    for given in ({"line": "Line Z"}, {"inspection": str(uuid.uuid4())}, {"walk": "seven"}):
        with pytest.raises(CommandError):
            call_command("report", **given, out=out)
    make_line(quinn.department)
    make_line(other_department)
    with pytest.raises(CommandError, match="--department"):
        call_command("report", line="Line A", out=out)
    with pytest.raises(CommandError, match="there are"):
        call_command("export", department="Nowhere", out=out)
    assert not out.exists()


def test_files_are_kept_below_the_media_root_by_department(inspection, quinn, media):
    document = made(asked(inspection, quinn))
    assert Path(document.path).parts[:2] == ("documents", str(quinn.department.pk))
    assert (Path(settings.MEDIA_ROOT) / document.path).is_file()


def test_asking_again_is_as_of_now_and_leaves_the_old_one(inspection, quinn):
    old = asked(inspection, quinn)
    new = ask_again(document=old, by=quinn)
    assert isinstance(new.outbox.asked_at, datetime)
    assert new.outbox.asked_at >= old.outbox.asked_at
    assert new.inspection == old.inspection
    assert new.pk != old.pk
