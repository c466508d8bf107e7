"""A fault opened by hand, one put right by hand where no check can see it, and a risk run with under a name."""

import uuid
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from inspections.models import AcceptedRisk, Deficiency, Restoration
from inspections.queries.faults import Episode, fault_episodes
from inspections.services.book import Book
from inspections.services.faults import close_fault, derived, resettle
from inspections.services.record import announce, record_inspection, signature
from inventory.models import Item, ItemKind, StateEvent
from inventory.services import record_state
from shared.api import Conflict, same_or_refuse
from shared.models import Department, User

# A check that measures restores sooner than eyes do, and one of a single item sooner than one of a whole line.
LAST_CHOICE: Final = ("look", "count", "connect", "setup")
GRADES: Final = ("I", "C", "N")


def restoring_check(kind: ItemKind, mode_code: str) -> str:
    """Return the check that restores a fault of a kind: the first that sees its mode; "" where none does."""
    seeing = [key for key, codes in kind.checks.items() if mode_code in codes]
    return min(seeing, key=lambda key: LAST_CHOICE.index(key) + 1 if key in LAST_CHOICE else 0, default="")


@transaction.atomic
def open_deficiency_by_hand(
    *,
    department: Department,
    item: Item,
    mode_code: str,
    grade: str,
    text: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> Deficiency:
    """Open a deficiency on somebody's word; an impairment takes the item out of service at once.

    The check of the item's kind that can see the mode restores it, passed. Where none can, somebody else looks and
    says under their name that it is gone (``restore_by_hand``).

    Raises:
        Conflict: the item is another department's, the mode none of its kind's, the grade unknown, or nothing is said.
        AlreadySent: the client_id belongs to another fault.
    """
    _own(department, item)
    if mode_code not in item.kind.mode_codes:
        raise Conflict(
            f"{item.kind.name} has no failure mode {mode_code}.", where="mode_code", mend="Use one of its kind's."
        )
    if grade not in GRADES:
        raise Conflict("A fault is graded I, C or N.", where="grade", mend="Send I, C or N.")
    said = {"item": item, "mode_code": mode_code, "grade": grade, "text": _told(text, "text", "Say what is wrong.")}
    # Of two who find it at one moment, the second sees that the first did; resettling reads what is there under lock.
    Item.objects.select_for_update().get(pk=item.pk)
    row, created = Deficiency.objects.get_or_create(
        department=department,
        client_id=client_id,
        defaults=said
        | {
            "check_key": restoring_check(item.kind, mode_code),
            "happened_at": happened_at,
            "by": by,
            "by_name": signature(by_name),
        },
    )
    if not created:
        same_or_refuse(row, said)
        return row
    if grade == "I":
        record_state(
            department=department,
            item=item,
            event=StateEvent.Event.TAKEN_OUT,
            happened_at=happened_at,
            by=by,
            by_name=row.by_name,
            reason=row.text[:240],
            mode_code=mode_code,
            client_id=derived(client_id, "state taken out"),
        )
    book = Book(department)
    if book.saw(item, happened_at):
        resettle(book=book, item=item, recorded_at=row.recorded_at, codes={mode_code})
    announce(department, [item.pk])
    return row


@transaction.atomic
def restore_by_hand(
    *,
    department: Department,
    deficiency: Deficiency,
    statement: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> Restoration:
    """Put right what no check of the kind can see: a look at the item, and a statement under a name of its own.

    The look is on record with the statement as its remark and claims nothing of the mode. Under the name that found
    or repaired the fault, it awaits a second one.

    Raises:
        Conflict: a check can see it, so that check restores it; it is not open, or nothing is stated.
    """
    item = deficiency.item
    _own(department, item)
    if deficiency.check_key:
        raise Conflict("A check can see this fault: the same check, passed, restores it.")
    told = _told(statement, "statement", "Say what you saw that shows it is put right.")
    Item.objects.select_for_update().get(pk=item.pk)
    sent = Restoration.objects.filter(deficiency=deficiency, inspection__client_id=client_id, corrections=None).first()
    book = Book(department)
    fault = next((f for f in book.faults(item) if f.row.pk == deficiency.pk), None)
    if sent is None and fault is None:
        raise Conflict("This deficiency is not open any more.")
    look = record_inspection(
        department=department,
        check_key="look",
        item=item,
        values={"seen": "yes"},
        remark=told,
        happened_at=sent.happened_at if sent else happened_at,
        by=by,
        by_name=by_name,
        client_id=client_id,
    )
    if sent is not None:
        same_or_refuse(sent.inspection, {"remark": told})
        return sent
    own = fault.is_own(book.names_of(by, look.by_name, look.source), look.happened_at)
    close_fault(look, item, deficiency, alone=own and fault.grade == "I")
    announce(department, [item.pk])
    return Restoration.objects.get(deficiency=deficiency, inspection=look, corrections=None)


# Risks that are run ------------------------------------------------------------------------------------------------


@transaction.atomic
def accept_risk(
    *,
    department: Department,
    deficiency: Deficiency,
    until: date,
    reason: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> AcceptedRisk:
    """Record a named decision to run with a fault until a date. It stands beside the word and changes no number.

    Raises:
        Conflict: an impairment (its function is lost: the item stays out), not open, no reason, or a day gone by.
    """
    fault = _open_episode(department, deficiency, happened_at)
    if fault.grade == "I":
        raise Conflict(
            "An impairment is not accepted away: the function is lost, and the item stays out of service.",
            mend="Repair it, or send the line without it.",
        )
    if until < happened_at.astimezone(ZoneInfo(department.time_zone)).date():
        raise Conflict("That day is gone by.", where="until", mend="Give today or a later day.")
    said = {"deficiency": deficiency, "until": until, "reason": _told(reason, "reason", "Say why it may be run with.")}
    return _decided(department, said | {"withdrawn": False}, happened_at, by, by_name, client_id)


@transaction.atomic
def withdraw_risk(
    *,
    department: Department,
    deficiency: Deficiency,
    reason: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> AcceptedRisk:
    """Take an acceptance back by a new row; the old one stays as it was.

    Raises:
        Conflict: nothing is accepted, or no reason is given.
    """
    _own(department, deficiency)
    sent = AcceptedRisk.objects.filter(department=department, client_id=client_id).first()
    rows = AcceptedRisk.objects.filter(deficiency=deficiency, corrections=None)
    standing = rows.exclude(pk=sent.pk if sent else None).order_by("-happened_at", "-pk").first()
    if standing is None or standing.withdrawn:
        raise Conflict("No acceptance of this fault stands.")
    said = {"deficiency": deficiency, "until": standing.until, "reason": _told(reason, "reason", "Say why.")}
    return _decided(department, said | {"withdrawn": True}, happened_at, by, by_name, client_id)


def _decided(
    department: Department,
    said: dict[str, Any],
    happened_at: datetime,
    by: User | None,
    by_name: str,
    client_id: uuid.UUID,
) -> AcceptedRisk:
    signed = {"happened_at": happened_at, "by": by, "by_name": signature(by_name)}
    row, created = AcceptedRisk.objects.get_or_create(
        department=department, client_id=client_id, defaults=said | signed
    )
    if not created:
        same_or_refuse(row, said)
    return row


def _open_episode(department: Department, deficiency: Deficiency, at: datetime) -> Episode:
    """Return the fault that a deficiency opened, where it still stands."""
    _own(department, deficiency)
    for episode in fault_episodes(department, at, timezone.now(), [deficiency.item_id]):
        if episode.deficiency.pk == deficiency.pk:
            if episode.is_closed(at):
                break
            return episode
    raise Conflict("This deficiency is not open any more.")


def _own(department: Department, thing: Item | Deficiency) -> None:
    if thing.department_id != department.pk:
        raise Conflict("That belongs to another department.")


def _told(text: str, where: str, mend: str) -> str:
    if not (told := text.strip()[:300]):
        raise Conflict(mend, where=where, mend=mend)
    return told
