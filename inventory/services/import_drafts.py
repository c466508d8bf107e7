"""A register sent in the browser: looked at, corrected, and taken in once, or dropped.

Each look is a whole import that is rolled back, so what the preview says is what taking in will do. A small file is
read in the request; a large one by a job, whose progress the page shows.
"""

import tempfile
import uuid
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from django.db import transaction

from inventory.importing.cells import text_of
from inventory.importing.report import ImportReport
from inventory.importing.sheets import Unreadable, read_sheets
from inventory.importing.told import Told, folded
from inventory.models import HeadingMemory, ImportDraft, ImportRun
from shared import outbox
from shared.api import Conflict
from shared.files import keep_register, path_of
from shared.models import Department, OutboxRow, StoredFile, User

Importer = Callable[..., ImportReport]

READ_AT_ONCE: Final = 300_000  # bytes; what is larger is read by a worker
MOST_CELLS: Final = 2_000  # mended in place; a file with more to mend is better mended where it comes from
LONGEST_CELL: Final = 500
REFUSED_SHOWN: Final = 40


@transaction.atomic
def open_draft(
    *, department: Department, sort: str, content: bytes, name: str, by: User, at: datetime, client_id: uuid.UUID
) -> ImportDraft:
    """Keep a file that was sent as a draft of an import; the same client_id twice opens one.

    Raises:
        Conflict: no workbook and no text table.
        AlreadySent: the client_id belongs to another file.
    """
    file = keep_register(department=department, content=content, name=name, by=by, client_id=client_id)
    draft = ImportDraft.objects.filter(department=department, file=file, sort=sort).first()
    return draft or ImportDraft.objects.create(department=department, sort=sort, file=file, by=by, made_at=at)


@transaction.atomic
def tell_columns(*, draft: ImportDraft, columns: Mapping[str, Mapping[str, tuple[str, str]]], at: datetime) -> None:
    """Note what somebody said that columns hold, by sheet and column: (heading, field); remembered for the next file.

    Raises:
        Conflict: it is taken in or dropped.
    """
    held = _still_open(draft)
    for sheet, said in columns.items():
        held.mapping.setdefault(sheet, {}).update({key: role for key, (_, role) in said.items()})
        for heading, role in said.values():
            if heading := folded(heading):
                HeadingMemory.objects.update_or_create(
                    department_id=held.department_id,
                    sort=held.sort,
                    heading=heading,
                    defaults={"field": role, "at": at},
                )
    _changed(held)


@transaction.atomic
def mend_cells(*, draft: ImportDraft, cells: Mapping[str, Mapping[str, Mapping[str, str]]]) -> None:
    """Note what cells should hold, by sheet, row and column letter; the file itself stays as it was sent.

    Raises:
        Conflict: it is taken in or dropped, or more is mended than a person mends by hand.
    """
    held = _still_open(draft)
    for sheet, rows in cells.items():
        for row, texts in rows.items():
            kept = held.mended.setdefault(sheet, {}).setdefault(row, {})
            kept.update({letter: text[:LONGEST_CELL] for letter, text in texts.items()})
    if sum(len(texts) for rows in held.mended.values() for texts in rows.values()) > MOST_CELLS:
        raise Conflict(f"More than {MOST_CELLS} cells are mended here.", mend="Mend the file and send it again.")
    _changed(held)


@transaction.atomic
def drop_draft(*, draft: ImportDraft, at: datetime) -> None:
    """Put a draft away; nothing of it was taken in."""
    held = _still_open(draft)
    held.dropped_at = at
    held.save(update_fields=["dropped_at"])


def _still_open(draft: ImportDraft) -> ImportDraft:
    held = ImportDraft.objects.select_for_update().get(pk=draft.pk)
    if held.run_id is not None:
        raise Conflict("This file is taken in already.", mend="See what came of it; send a newer file as a new one.")
    if held.dropped_at is not None:
        raise Conflict("This draft was dropped.", mend="Send the file again.")
    return held


def _changed(held: ImportDraft) -> None:
    held.preview, held.work = None, None
    held.save(update_fields=["mapping", "mended", "preview", "work"])


def told_of(draft: ImportDraft) -> Told:
    """Return what was said of a draft's columns and cells, and what its department said of headings before."""
    remembered = HeadingMemory.objects.filter(department_id=draft.department_id, sort=draft.sort)
    return Told(draft.mapping, dict(remembered.values_list("heading", "field")), draft.mended)


def read_draft(*, draft: ImportDraft, importer: Importer, at: datetime) -> dict[str, Any]:
    """Read a draft as it stands and keep what taking it in would do; nothing is written of its rows."""
    told = told_of(draft)
    try:
        with _under_its_name(draft.file) as path:
            report = importer(department=draft.department, path=path, by=draft.by, at=at, dry_run=True, told=told)
            rows = _rows_of(path, told, report)
        refused = [n.as_json() | {"cell": n.cell} for n in report.refused]
        preview = report.as_json() | {"refused": refused, "refused_cells": rows}
    except Unreadable as problem:
        preview = {"unreadable": str(problem), "sheets": problem.sheets, "refused": [], "findings": [], "taken": 0}
    # Only where nothing was corrected meanwhile: what was read would no longer be what stands.
    same = ImportDraft.objects.filter(pk=draft.pk, mapping=draft.mapping, mended=draft.mended, run=None)
    same.update(preview=preview)
    draft.preview = preview
    return preview


def _rows_of(path: Path, told: Told, report: ImportReport) -> dict[str, dict[str, list[str]]]:
    """Return the whole text of the first refused rows, by sheet and row, to be mended in place."""
    wanted = list(dict.fromkeys((n.sheet, n.row) for n in report.refused if n.row))[:REFUSED_SHOWN]
    if not wanted:
        return {}
    tables = {sheet.name: sheet.rows for sheet in told.mended(read_sheets(path))}
    found: dict[str, dict[str, list[str]]] = {}
    for sheet, row in wanted:
        if row <= len(tables.get(sheet, ())):
            found.setdefault(sheet, {})[str(row)] = [text_of(cell) for cell in tables[sheet][row - 1]]
    return found


@transaction.atomic
def take_in(*, draft: ImportDraft, importer: Importer, by: User, at: datetime) -> ImportRun:
    """Take a draft's rows in, once: a second press finds what the first one did.

    Raises:
        Conflict: it was dropped, or cannot be read.
    """
    held = ImportDraft.objects.select_for_update().get(pk=draft.pk)
    if held.run_id is not None:
        return held.run
    held = _still_open(held)
    try:
        with _under_its_name(held.file) as path:
            report = importer(department=held.department, path=path, by=by, at=at, told=told_of(held))
    except Unreadable as problem:
        raise Conflict(str(problem), mend="Say what its columns hold, or send another file.") from problem
    held.run = report.run
    held.save(update_fields=["run"])
    return held.run


def is_large(file: StoredFile) -> bool:
    """Whether a file is left to a worker."""
    return file.size > READ_AT_ONCE


@transaction.atomic
def ask_work(*, draft: ImportDraft, task: str, do: str, by: User) -> OutboxRow:
    """Have a worker read a draft, or take it in; asked twice while it is still to be done, it is done once."""
    held = ImportDraft.objects.select_for_update().get(pk=draft.pk)
    waiting = (OutboxRow.State.QUEUED, OutboxRow.State.CLAIMED)
    if held.work is not None and held.work.payload.get("do") == do and held.work.state in waiting:
        return held.work
    held.work = outbox.enqueue(task=task, payload={"draft": held.pk, "do": do}, department=held.department, asked_by=by)
    held.save(update_fields=["work"])
    return held.work


def do_work(*, row: OutboxRow, report: outbox.Report, importer: Importer, at: datetime) -> dict[str, Any]:
    """Do what ``ask_work`` asked: repeatable, as a look writes nothing and taking in happens once.

    Raises:
        GiveUp: the draft was dropped, or cannot be taken in.
    """
    draft = ImportDraft.objects.select_related("department", "file", "by").get(
        pk=row.payload["draft"], department_id=row.department_id
    )
    report(10, "reading")
    if row.payload["do"] == "read":
        return {"taken": read_draft(draft=draft, importer=importer, at=at)["taken"]}
    try:
        return {"run": take_in(draft=draft, importer=importer, by=row.asked_by, at=at).pk}
    except Conflict as refused:
        raise outbox.GiveUp(str(refused)) from refused


@contextmanager
def _under_its_name(file: StoredFile) -> Iterator[Path]:
    """Lend a kept file under the name it was sent with: a text table's only tab is called after it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / (file.name.replace("/", " ").replace("\0", " ") or "register")
        path.symlink_to(path_of(file).resolve())
        yield path
