"""Asking for a document, making it, and recording how property left."""

import hashlib
import os
import uuid
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from inspections.models import Deficiency, Inspection, Walk
from inventory.models import Item, Line, Place, StateEvent
from inventory.services import record_state
from reports import queries
from reports.exports import status_csv
from reports.models import Disposition, Document
from reports.pdf.inspection import build_inspection_report
from reports.pdf.labels import build_labels
from reports.pdf.layout import pages_in
from reports.pdf.line import build_line_report
from reports.pdf.tag import build_tag
from reports.pdf.verification import build_verification_report
from reports.queries.inspection import check_name
from shared import outbox
from shared.api import Conflict, same_or_refuse
from shared.models import AuditEntry, Department, OutboxRow, User

MAKE = "reports.make_document"
Sort = Document.Sort
Report = Callable[[int, str], None]


@transaction.atomic
def ask_document(
    *,
    department: Department,
    sort: str,
    by: User | None,
    inspection: Inspection | None = None,
    walk: Walk | None = None,
    line: Line | None = None,
) -> Document:
    """Ask for a document: a row and the work that will make it, in one transaction.

    It will say what was known at the moment of asking, however late it is made.

    Raises:
        Conflict: the sort and what it should be about do not fit, or that belongs to another department.
    """
    subject = _subject(sort, inspection, walk, line)
    if subject is not None and subject.department_id != department.pk:
        raise Conflict("That belongs to another department.")
    row = outbox.enqueue(task=MAKE, payload={"sort": sort}, department=department, asked_by=by)
    return Document.objects.create(
        department=department,
        outbox=row,
        sort=sort,
        title=_title(department, sort, subject),
        inspection=inspection,
        walk=walk,
        line=line,
    )


def ask_again(*, document: Document, by: User | None) -> Document:
    """Ask for the same document anew, as of now; the old one stays as it is."""
    return ask_document(
        department=document.department,
        sort=document.sort,
        by=by,
        inspection=document.inspection,
        walk=document.walk,
        line=document.line,
    )


def make_document(*, row: OutboxRow, report: Report) -> dict[str, Any]:
    """Make the file of the document that a row of the outbox asks for; doing it twice leaves the same file."""
    document = Document.objects.select_related("department", "inspection", "walk", "line__department").get(outbox=row)
    report(10, "reading the records")
    content = content_of(document)
    report(80, "writing the file")
    path = f"documents/{document.department_id}/{row.key}.{extension(document.sort)}"
    _write(Path(settings.MEDIA_ROOT) / path, content)
    digest = hashlib.sha256(content).hexdigest()
    pages = pages_in(content) if document.sort != Sort.STATUS else None
    Document.objects.filter(pk=document.pk).update(path=path, digest=digest, pages=pages)
    return {"document": document.pk, "digest": digest, "pages": pages}


def content_of(document: Document) -> bytes:
    """Return the bytes of a document as of the moment it was asked for."""
    as_of = document.outbox.asked_at
    if document.sort == Sort.STATUS:
        return status_export(department=document.department, as_of=as_of)
    if document.sort == Sort.VERIFICATION:
        return verification_pdf(as_of=as_of)
    return pdf(as_of=as_of, inspection=document.inspection, walk=document.walk, line=document.line)


def pdf(
    *, as_of: datetime, inspection: Inspection | None = None, walk: Walk | None = None, line: Line | None = None
) -> bytes:
    """Return the PDF about the one thing named, as known at ``as_of``."""
    if inspection is not None:
        return build_inspection_report(queries.inspection_sheet(inspection, as_of))
    if walk is not None:
        return build_inspection_report(queries.walk_sheet(walk, as_of))
    if line is not None:
        return build_line_report(queries.line_sheet(line, as_of))
    raise Conflict("Name one inspection, one walk or one line.")


def verification_pdf(*, as_of: datetime) -> bytes:
    """Return the PDF of the formulas, their check values and the last run by ``as_of``; alike for all departments."""
    return build_verification_report(queries.verification_sheet(as_of))


def labels_pdf(*, place: Place, as_of: datetime) -> bytes:
    """Return the labels of what stands at a place; they are printed anew rather than kept."""
    return build_labels(queries.label_sheet(place, as_of))


def tag_pdf(*, fault: Deficiency, as_of: datetime, address: str) -> bytes:
    """Return the tag to hang on an item for one fault; ``address`` is where a phone finds the item."""
    return build_tag(queries.tag_sheet(fault, as_of, address))


def status_export(*, department: Department, as_of: datetime, bom: bool = False) -> bytes:
    """Return the whole equipment status export as bytes; pages stream the same."""
    return "".join(status_csv(queries.property_records(department, as_of), as_of=as_of, bom=bom)).encode()


def note_export(*, department: Department, by: User, as_of: datetime) -> None:
    """Keep who took the equipment status out of the house."""
    AuditEntry.objects.create(
        department=department, by=by, did="export", subject="equipment status", detail={"as_of": as_of.isoformat()}
    )


@transaction.atomic
def record_disposition(
    *,
    department: Department,
    item: Item,
    method: str,
    happened_at: datetime,
    by: User | None,
    by_name: str,
    fair_market_value: Decimal | None = None,
    sale_price: Decimal | None = None,
    note: str = "",
    client_id: uuid.UUID | None = None,
    recorded_at: datetime | None = None,
) -> Disposition:
    """Record that an item left for good; from then on its state is disposed. The same client_id twice records once.

    Raises:
        Conflict: it is another department's, it was disposed of before, or a sale names no price.
    """
    if item.department_id != department.pk:
        raise Conflict("That belongs to another department.")
    client_id = client_id or uuid.uuid4()
    # Of two who dispose of it at one moment, the second sees that it is gone.
    Item.objects.select_for_update().get(pk=item.pk)
    known = Disposition.objects.filter(department=department, client_id=client_id).first()
    if known is not None:
        same_or_refuse(known, {"item": item, "method": method, "sale_price": sale_price, "note": note})
        return known
    if item.dispositions.exists():
        raise Conflict(f"{item.tag} was disposed of before.", mend="Read its property record.")
    if method == Disposition.Method.SOLD and sale_price is None:
        raise Conflict("A sale has a price.", where="sale_price", mend="Send sale_price; 0 where nothing was paid.")
    row = Disposition.objects.create(
        department=department,
        client_id=client_id,
        item=item,
        method=method,
        happened_at=happened_at,
        by=by,
        by_name=by_name,
        fair_market_value=fair_market_value,
        sale_price=sale_price,
        note=note,
        recorded_at=recorded_at or timezone.now(),
    )
    record_state(
        department=department,
        item=item,
        event=StateEvent.Event.DISPOSED,
        happened_at=happened_at,
        by=by,
        by_name=by_name,
        reason=row.get_method_display(),
        client_id=uuid.uuid5(client_id, "state"),
        recorded_at=row.recorded_at,
    )
    return row


def extension(sort: str) -> str:
    return "csv" if sort == Sort.STATUS else "pdf"


def file_name(document: Document) -> str:
    """Return what a browser should call the file: its title and the department's day, in plain letters."""
    asked_on = _day(document.department, document.outbox.asked_at)
    return f"{slugify(document.title)}-as-of-{asked_on}.{extension(document.sort)}"


def _subject(
    sort: str, inspection: Inspection | None, walk: Walk | None, line: Line | None
) -> Inspection | Walk | Line | None:
    named = [thing for thing in (inspection, walk, line) if thing is not None]
    fits = {Sort.INSPECTION: (Inspection, Walk), Sort.LINE: (Line,)}
    if sort in (Sort.STATUS, Sort.VERIFICATION) and not named:
        return None
    if sort not in fits or len(named) != 1 or not isinstance(named[0], fits[sort]):
        raise Conflict(
            "An inspection report is about one inspection or one walk, a line report about one line; the "
            "verification report and the equipment status export are about none.",
            mend="Name exactly what the sort is about.",
        )
    return named[0]


def _title(department: Department, sort: str, subject: Inspection | Walk | Line | None) -> str:
    if isinstance(subject, Inspection):
        about = subject.item or subject.lot or subject.line
        name = getattr(about, "tag", None) or getattr(about, "number", None) or getattr(about, "name", "")
        on = _day(department, subject.happened_at)
        return f"Inspection report, {name}, {check_name(subject).lower()} of {on}"[:200]
    if isinstance(subject, Walk):
        return f"Walk report, {subject.place.name}, {_day(department, subject.started_at)}"[:200]
    if isinstance(subject, Line):
        return f"Line report, {subject.name}"[:200]
    if sort == Sort.VERIFICATION:
        return "Verification report"
    return f"Equipment status, {department.name}"[:200]


def _day(department: Department, at: datetime) -> str:
    """Return the day an instant falls on where the department is: an evening walk is not of the next morning."""
    return f"{at.astimezone(ZoneInfo(department.time_zone)):%Y-%m-%d}"


def _write(path: Path, content: bytes) -> None:
    """Put a file in place whole: a reader never sees half of it, and a second worker only replaces like with like."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.{uuid.uuid4().hex[:8]}")
    part.write_bytes(content)
    os.replace(part, path)
