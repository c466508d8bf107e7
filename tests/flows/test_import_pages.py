"""A register sent in the browser: looked at, corrected, mended, and taken in once."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inspections.models import Inspection
from inventory.models import HeadingMemory, ImportDraft, ImportRun, Item
from tests.flows.bays import load, make_item

pytestmark = pytest.mark.django_db
REGISTER = (
    "Item,Serial,Qty,Unit cost,Line,Gizmo\n"
    "Shower shelter two lanes,S-100,1,$9000,Line A,Rack 4\n"
    "Water heater,H-7,lots,$4000,Line A,Rack 5\n"
)
CHECKS = "date,tag,check,by,readings\n2026-01-05,SH-01,look,Casey,seen=yes\n2026-01-06,XX-99,look,Casey,seen=yes\n"


@pytest.fixture
def as_quinn(quinn, client_of):
    load(quinn.department)
    return client_of(quinn)


def send(client, text=REGISTER, name="register.csv", space="cache-import", **more):
    content = text if isinstance(text, bytes) else text.encode()
    sent = {"client_id": uuid.uuid4(), "file": SimpleUploadedFile(name, content)} | more
    return client.post(reverse(f"{space}:list"), sent)


def the_draft(client, **sent):
    answer = send(client, **sent)
    assert answer.status_code == 302, answer.content[:500]
    return ImportDraft.objects.order_by("-pk").first()


def to(draft, what, space="cache-import"):
    return reverse(f"{space}:{what}", args=[draft.pk])


def test_a_look_says_what_would_be_taken_and_writes_nothing(as_quinn):
    draft = the_draft(as_quinn)
    page = as_quinn.get(to(draft, "draft")).content.decode()
    assert "register.csv" in page
    assert "<b>1</b> row would be taken in" in page
    assert "is not a whole number" in page or "lots" in page
    assert not Item.objects.exists()
    assert not ImportRun.objects.exists()


def test_a_refused_cell_is_mended_in_place_and_read_again(as_quinn):
    draft = the_draft(as_quinn)
    as_quinn.post(to(draft, "mend"), {"m0-C": "2"})
    draft.refresh_from_db()
    assert draft.mended == {"register": {"3": {"C": "2"}}}
    assert draft.preview["taken"] == 2
    assert draft.preview["refused"] == []


def test_a_column_is_corrected_and_the_department_remembers_it_for_the_next_file(as_quinn):
    draft = the_draft(as_quinn)
    select = next(f"c0-{n}" for n, c in enumerate(draft.preview["sheets"][0]["columns"]) if c["heading"] == "Gizmo")
    as_quinn.post(to(draft, "mend"), {select: "place"})
    draft.refresh_from_db()
    taken = {c["heading"]: c["taken_as"] for c in draft.preview["sheets"][0]["columns"]}
    assert taken["Gizmo"] == "place"
    assert HeadingMemory.objects.get().field == "place"
    other = the_draft(as_quinn, name="next.csv", text=REGISTER + "Blower,B-1,1,$300,Line A,Rack 6\n")
    taken = {c["heading"]: c["taken_as"] for c in other.preview["sheets"][0]["columns"]}
    assert taken["Gizmo"] == "place"


def test_a_column_not_to_be_read_is_left_out(as_quinn):
    draft = the_draft(as_quinn)
    select = next(f"c0-{n}" for n, c in enumerate(draft.preview["sheets"][0]["columns"]) if c["heading"] == "Qty")
    as_quinn.post(to(draft, "mend"), {select: ""})
    draft.refresh_from_db()
    assert draft.preview["refused"] == []
    assert draft.preview["taken"] == 2


def test_a_file_no_column_of_which_was_understood_is_read_once_somebody_says_what_they_hold(as_quinn):
    draft = the_draft(as_quinn, text="Zzq,Wwx\nalpha gadget,4\nbeta gadget,5\n", name="odd.csv")
    assert "unreadable" in draft.preview
    assert "Or say below" in as_quinn.get(to(draft, "draft")).content.decode()
    as_quinn.post(to(draft, "mend"), {"c0-0": "name", "c0-1": "quantity"})
    draft.refresh_from_db()
    assert draft.preview["taken"] == 2


def test_it_is_taken_in_once_however_often_it_is_pressed(as_quinn):
    draft = the_draft(as_quinn)
    first, second = as_quinn.post(to(draft, "take-in")), as_quinn.post(to(draft, "take-in"))
    assert first["Location"] == second["Location"]
    assert Item.objects.count() == ImportRun.objects.count() == 1
    page = as_quinn.get(first["Location"]).content.decode()
    assert reverse("inventory:item", args=[Item.objects.get().pk]) in page
    assert as_quinn.get(to(draft, "draft"))["Location"] == first["Location"]


def test_the_same_file_again_changes_nothing(as_quinn):
    as_quinn.post(to(the_draft(as_quinn), "take-in"))
    again = the_draft(as_quinn)
    assert again.preview["taken"] == 0
    as_quinn.post(to(again, "take-in"))
    assert Item.objects.count() == ImportRun.objects.count() == 1


def test_a_dropped_draft_is_not_taken_in(as_quinn):
    draft = the_draft(as_quinn)
    assert as_quinn.post(to(draft, "drop")).status_code == 302
    assert as_quinn.post(to(draft, "take-in")).status_code == 422
    assert not Item.objects.exists()
    assert "register.csv" not in as_quinn.get(reverse("cache-import:list")).content.decode()


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (b"", "empty.csv"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "picture.csv"),
        (b"GIF89a\x00\x01", "x.xlsx"),
    ],
)
def test_what_is_no_register_is_refused_on_the_page(as_quinn, content, name):
    assert send(as_quinn, content, name).status_code == 422
    assert not ImportDraft.objects.exists()


def test_a_damaged_workbook_says_so_and_is_not_taken_in(as_quinn):
    draft = the_draft(as_quinn, text=b"PK\x03\x04 this is no zip", name="../../bad.xlsx")
    assert "unreadable" in draft.preview
    assert "/" not in draft.file.name
    assert as_quinn.post(to(draft, "take-in")).status_code == 422


def test_hostile_fields_change_nothing(as_quinn):
    draft = the_draft(as_quinn)
    as_quinn.post(to(draft, "mend"), {"m0-../../x": "1", "m99-A": "1", "c0-0": "no such field", "c9-9": "name"})
    draft.refresh_from_db()
    assert (draft.mapping, draft.mended) == ({}, {})


def test_past_checks_are_looked_at_mended_and_taken_in_once(as_quinn, quinn):
    make_item(quinn.department, "shelter", "SH-01")
    draft = the_draft(as_quinn, text=CHECKS, name="checks.csv", space="checks-import")
    assert draft.preview["taken"] == 1
    assert draft.preview["refused"][0]["cell"] == "B"
    as_quinn.post(to(draft, "mend", "checks-import"), {"m0-B": "SH-01"})
    draft.refresh_from_db()
    assert draft.preview["taken"] == 2
    assert not Inspection.objects.exists()
    for _ in range(2):
        assert as_quinn.post(to(draft, "take-in", "checks-import")).status_code == 302
    assert Inspection.objects.count() == 2


def test_a_large_file_is_read_by_a_worker(as_quinn, monkeypatch, django_capture_on_commit_callbacks):
    from inventory.services import import_drafts
    from shared import outbox

    monkeypatch.setattr(import_drafts, "READ_AT_ONCE", 10)
    monkeypatch.setattr(outbox, "nudge", lambda *a, **k: None)
    draft = the_draft(as_quinn)
    assert draft.preview is None
    assert "A worker is at it" in as_quinn.get(to(draft, "draft")).content.decode()
    assert outbox.run(row_id=draft.work_id) == "done"
    draft.refresh_from_db()
    assert draft.preview["taken"] == 1
    for _ in range(2):
        as_quinn.post(to(draft, "take-in"))
    draft.refresh_from_db()
    outbox.run(row_id=draft.work_id)
    assert Item.objects.count() == ImportRun.objects.count() == 1


def test_another_departments_draft_is_not_there(as_quinn, sam, client_of):
    draft = the_draft(as_quinn)
    load(sam.department)
    for what in ("draft", "mend", "take-in", "drop"):
        method = client_of(sam).get if what == "draft" else client_of(sam).post
        assert method(to(draft, what)).status_code == 404
