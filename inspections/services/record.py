"""Record one check as it comes from a page, the API or a phone that was offline."""

import uuid
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from inspections.entry import Entry, folded, inputs_by_name, read_entry
from inspections.models import Inspection, Procedure, Walk
from inspections.services.book import Book
from inspections.services.recorder import Check, Recorder, Signed, derived
from inspections.signals import evidence_changed
from inspections.verdicts.core import ReadingError
from inventory.models import Item, Line, Lot, StateEvent
from inventory.services import record_state, undo_acceptance
from shared.api import AlreadySent, Conflict
from shared.models import Department, User
from shared.people import name_key

ANYWHERE = frozenset({"look", "count"})  # seen and counted: of anything, whether its schedule asks for it or not


@transaction.atomic
def record_inspection(
    *,
    department: Department,
    check_key: str,
    item: Item | None = None,
    lot: Lot | None = None,
    line: Line | None = None,
    values: Mapping[str, Any],
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    walk: Walk | None = None,
    started_at: datetime | None = None,
    remark: str = "",
    source: str = "page",
    recorded_at: datetime | None = None,
    corrects: Inspection | None = None,
) -> Inspection:
    """Judge a check and record it with its readings, proofs and deficiencies; the same client_id twice records once.

    A failed impairment takes the item out of service in the same transaction; a passed proof that an open deficiency
    waits for restores it, under a second name.

    ``values`` are readings by any name that the procedure knows, as written; ``client_id`` is the sender's own id for
    this check; ``corrects`` names an earlier inspection of the same subject that this one replaces.

    Raises:
        ReadingError: readings that cannot be understood; ``every`` lists all of them with how to mend each.
        AlreadySent: the client_id belongs to another check.
        Conflict: the subject, the walk or the correction does not stand as it must.
    """
    subject = _one_subject(department, item, lot, line)
    book = Book(department)
    procedure = book.procedure(check_key, book.day(happened_at))
    if procedure is None:
        raise ReadingError("check", check_key, "no such check", "Use one of the checks that the procedures list.")
    sent = _sent_before(department, client_id)
    if sent is not None:
        return _same_check(sent, check_key, subject, values, happened_at, by_name, procedure)
    may_be_checked(check_key, item, lot, line)
    _open_walk(department, walk)
    entry = _read(book, procedure, values, book.day(happened_at))
    _lock(item, line)
    recorder = Recorder(book)
    signed = Signed(happened_at, recorded_at or timezone.now(), signature(by_name), by, source)
    check = Check(
        check_key, procedure, entry, signed, client_id, item, lot, line, walk, started_at, remark, corrects=corrects
    )
    try:
        with transaction.atomic():
            _undo(book, corrects, check)
            inspection = recorder.record(check)
            _lift_by_second_name(book, corrects, inspection)
    except IntegrityError:
        # Sent twice at the same moment: the other one won.
        sent = _sent_before(department, client_id)
        if sent is None:
            raise
        return _same_check(sent, check_key, subject, values, happened_at, by_name, procedure)
    announce(department, recorder.touched_items, recorder.touched_lines)
    return inspection


def announce(department: Department, item_ids: Iterable[int], line_ids: Iterable[int] = ()) -> None:
    """Tell the rooms on the right, inside the transaction."""
    evidence_changed.send(
        sender=Inspection, department=department, item_ids=sorted(item_ids), line_ids=sorted(line_ids)
    )


def signature(name: str) -> str:
    """Return a name as it is kept. Conflict where nobody signed."""
    if not (kept := " ".join(str(name).split())[:120]):
        raise Conflict("Say who did this: the name is missing.")
    return kept


def may_be_checked(check_key: str, item: Item | None, lot: Lot | None, line: Line | None) -> None:
    """Refuse a check that the thing's kind does not have.

    Raises:
        ReadingError: names the checks it does have.
    """
    if item is not None and check_key not in item.kind.checks and check_key not in ANYWHERE:
        known = ", ".join(sorted(item.kind.checks)) or "none"
        raise ReadingError(
            "check", check_key, f"{item.kind.name.lower()} has no such check", f"It is checked by: {known}."
        )
    if lot is not None and check_key not in ANYWHERE:
        raise ReadingError("check", check_key, "a lot is counted or looked at", "Use count or look.")
    if line is not None and check_key not in ("setup", "connect", "drypack"):
        raise ReadingError("check", check_key, "this check is of one item, not of a line", "Name the item by its tag.")


def _one_subject(department: Department, *subjects: Any) -> Any:
    named = [subject for subject in subjects if subject is not None]
    if len(named) != 1:
        raise Conflict("Name one item, one lot or one line.")
    if named[0].department_id != department.pk:
        raise Conflict("That belongs to another department.")
    return named[0]


def _read(book: Book, procedure: Procedure, values: Mapping[str, Any], on: date) -> Entry:
    return read_entry(procedure.definition, values, book.input_names(procedure), on)


def _sent_before(department: Department, client_id: uuid.UUID) -> Inspection | None:
    return Inspection.objects.filter(department=department, client_id=client_id).first()


def _same_check(
    sent: Inspection,
    check_key: str,
    subject: Any,
    values: Mapping[str, Any],
    happened_at: datetime,
    by_name: str,
    procedure: Procedure,
) -> Inspection:
    """Return the record of an id that was sent before, if it says the same."""
    names = inputs_by_name(procedure.definition)
    given = {
        names[folded(key)]["key"] if folded(key) in names else key: str(value).strip()[:200]
        for key, value in values.items()
        if value is not None and str(value).strip()
    }
    kept = dict(sent.readings.values_list("key", "as_entered"))
    of = {"item": sent.item_id, "lot": sent.lot_id, "line": sent.line_id}[type(subject)._meta.model_name]
    same = (
        sent.check_key == check_key
        and of == subject.pk
        and sent.happened_at == happened_at
        and sent.by_name == signature(by_name)
        and kept == given
    )
    if not same:
        raise AlreadySent
    return sent


def _open_walk(department: Department, walk: Walk | None) -> None:
    if walk is None:
        return
    if walk.department_id != department.pk:
        raise Conflict("That walk belongs to another department.")
    # Read again under lock: signing and a late reading must not pass each other.
    held = Walk.objects.select_for_update().get(pk=walk.pk)
    if held.signed_at is not None:
        raise Conflict("That walk is signed; open another one for further checks.")


def _lock(item: Item | None, line: Line | None) -> None:
    """Take the item (or the line's row) first, so that two checks of it settle its faults one after the other."""
    if item is not None:
        Item.objects.select_for_update().get(pk=item.pk)
    if line is not None:
        Line.objects.select_for_update().get(pk=line.pk)


def _undo(book: Book, corrected: Inspection | None, check: Check) -> None:
    """Take back what a corrected inspection did to states; its proofs and faults fall away with it.

    Raises:
        Conflict: it is another subject's, or corrected already.
    """
    if corrected is None:
        return
    same = (corrected.check_key, corrected.item_id, corrected.lot_id, corrected.line_id) == (
        check.check_key,
        check.item.pk if check.item else None,
        check.lot.pk if check.lot else None,
        check.line.pk if check.line else None,
    )
    if corrected.department_id != book.department.pk or not same:
        raise Conflict("A correction is of the same check of the same thing as the record it corrects.")
    # Under lock: of two corrections at one moment, the second sees the first.
    Inspection.objects.select_for_update().get(pk=corrected.pk)
    if corrected.corrections.exists():
        raise Conflict("That record is corrected already; correct the newest one instead.")
    opposite = {
        StateEvent.Event.TAKEN_OUT: StateEvent.Event.RESTORED,
        StateEvent.Event.RESTORED: StateEvent.Event.TAKEN_OUT,
        StateEvent.Event.RESTORED_AWAITING: StateEvent.Event.TAKEN_OUT,
    }
    proofs = corrected.proofs.exclude(item=None).values_list("mode_code", "item_id")
    ids = {
        derived(corrected.client_id, f"state {event} {code} {item_id}"): event
        for code, item_id in proofs
        for event in opposite
    }
    for row in StateEvent.objects.filter(department=book.department, client_id__in=list(ids), corrections=None):
        record_state(
            department=book.department,
            item=row.item,
            event=opposite[StateEvent.Event(row.event)],
            happened_at=row.happened_at,
            by=check.signed.by,
            by_name=check.signed.by_name,
            reason="The record behind it was corrected.",
            mode_code=row.mode_code,
            client_id=derived(check.client_id, f"undo {row.pk}"),
            corrects=row,
            recorded_at=check.signed.recorded_at,
        )
    taken_up = derived(corrected.client_id, "accepted")
    for row in StateEvent.objects.filter(department=book.department, client_id=taken_up, corrections=None):
        undo_acceptance(accepted=row, by=check.signed.by, by_name=check.signed.by_name)
    # What it had restored stands open again, what it had found is gone: read the faults afresh, without it.
    book.forget(corrected)


def _lift_by_second_name(book: Book, corrected: Inspection | None, newer: Inspection) -> None:
    """Hold the second-name rule for corrections too: nobody corrects away alone what took an item out.

    Raises:
        Conflict: the correction no longer finds an impairment that stood, under the name that found it.
    """
    if corrected is None:
        return
    found_again = newer.deficiencies.filter(grade="I").values("mode_code")
    lifted = corrected.deficiencies.filter(grade="I").exclude(mode_code__in=found_again)
    names = book.names_of(newer.by, newer.by_name, newer.source)
    if name_key(corrected.by_name) in names and lifted.exclude(restorations__awaiting_second_name=False).exists():
        raise Conflict(
            "This record took the item out of service: somebody else corrects it, or the check is done again. "
            "Passed by you, it comes back awaiting a second name."
        )
