"""Rows of the cache's ledgers: postings, counts and states, each sent once, corrected by a new row.

Every service here is idempotent by the sender's own ``client_id``, raises AlreadySent for other content under it, and
sends ``cache_changed`` inside its transaction.
``recorded_at`` is given only by what loads old records whole; otherwise the row takes the time it is written.
"""

import uuid
from datetime import datetime
from typing import Any, TypeVar

from django.db import transaction

from inventory.models import Count, Item, Line, Lot, Place, Posting, Seal, StateEvent
from inventory.queries import place_ids_within
from inventory.signals import cache_changed
from shared.api import Conflict, same_or_refuse
from shared.ledger import LedgerRow
from shared.models import Department, User

Row = TypeVar("Row", bound=LedgerRow)


@transaction.atomic
def record_posting(
    *,
    department: Department,
    change: int,
    reason: str,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    item: Item | None = None,
    lot: Lot | None = None,
    place: Place | None = None,
    line: Line | None = None,
    note: str = "",
    client_id: uuid.UUID | None = None,
    corrects: Posting | None = None,
    recorded_at: datetime | None = None,
) -> Posting:
    """Record that so many of an item or lot came, went or moved; the same client_id twice records once.

    An item moves by a posting of change 0 that names where it now stands. A lot moves by two: less on the line it
    leaves, more on the line it joins.
    """
    if reason not in Posting.Reason.values:
        raise Conflict(f"{reason!r} is no reason for a posting; use one of {', '.join(Posting.Reason.values)}.")
    what = {"change": change, "reason": reason, "place": place, "line": line, "note": note}
    _same_department(department, place, line)
    return _record(
        Posting, _subject(department, item, lot) | what, department, happened_at, by, by_name, client_id, corrects,
        recorded_at,
    )  # fmt: skip


@transaction.atomic
def record_count(
    *,
    department: Department,
    counted: int,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    item: Item | None = None,
    lot: Lot | None = None,
    line: Line | None = None,
    inspection_ref: uuid.UUID | None = None,
    note: str = "",
    client_id: uuid.UUID | None = None,
    corrects: Count | None = None,
    recorded_at: datetime | None = None,
) -> Count:
    """Record what was counted; from then on the count stands, plus what is posted later. 0 means absent.

    Raises:
        Conflict: counted is negative, or a lot stands on several lines and the line counted is not named.
    """
    if counted < 0:
        raise Conflict(f"A count cannot be {counted}; count again and send what is there.")
    _same_department(department, line)
    if lot is not None and line is None:
        line = _only_line_of(lot)
    what = {"counted": counted, "line": line, "inspection_ref": inspection_ref, "note": note}
    return _record(
        Count, _subject(department, item, lot) | what, department, happened_at, by, by_name, client_id, corrects,
        recorded_at,
    )  # fmt: skip


@transaction.atomic
def record_state(
    *,
    department: Department,
    item: Item,
    event: str,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    reason: str = "",
    mode_code: str = "",
    note: str = "",
    client_id: uuid.UUID | None = None,
    corrects: StateEvent | None = None,
    recorded_at: datetime | None = None,
) -> StateEvent:
    """Record what happened to an item's state: taken out, restored, wet, lent …; derived, never set.

    Raises:
        Conflict: no such event.
    """
    if event not in StateEvent.Event.values:
        raise Conflict(f"{event!r} is no state event; use one of {', '.join(StateEvent.Event.values)}.")
    _same_department(department, item)
    what = {"item": item, "event": event, "reason": reason, "mode_code": mode_code, "note": note}
    return _record(StateEvent, what, department, happened_at, by, by_name, client_id, corrects, recorded_at)


@transaction.atomic
def record_seal(
    *,
    department: Department,
    place: Place,
    event: str,
    number: str,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    note: str = "",
    client_id: uuid.UUID | None = None,
    corrects: Seal | None = None,
    recorded_at: datetime | None = None,
) -> Seal:
    """Record that a container was sealed, or how its seal was found; the same client_id twice records once.

    What was seen is kept whatever its number: whether it stands for a recount is derived (``queries.seals``).

    Raises:
        Conflict: no such event, no number, or the place is no container.
    """
    if event not in Seal.Event.values:
        raise Conflict(f"{event!r} is no event of a seal; use one of {', '.join(Seal.Event.values)}.")
    if place.sort != Place.Sort.CONTAINER:
        raise Conflict(f"{place} is no container; only a container is sealed.", where="place")
    if not (number := " ".join(number.split())[:40]):
        raise Conflict("Read the number off the seal.", where="number")
    _same_department(department, place)
    what = {"place": place, "event": event, "number": number, "note": note}
    row = _record(Seal, what, department, happened_at, by, by_name, client_id, corrects, recorded_at)
    within = Posting.objects.filter(place__in=place_ids_within(department, place), line__isnull=False)
    # What is inside counts for those lines; the seal may have made its count fresh, or ended that.
    cache_changed.send(
        sender=Seal, department=department, line_ids=sorted(set(within.values_list("line_id", flat=True)))
    )
    return row


def _record(
    model: type[Row],
    what: dict[str, Any],
    department: Department,
    happened_at: datetime,
    by: User | None,
    by_name: str,
    client_id: uuid.UUID | None,
    corrects: Row | None,
    recorded_at: datetime | None,
) -> Row:
    client_id = client_id or uuid.uuid4()
    _may_correct(corrects, what, client_id)
    values = what | {"happened_at": happened_at, "by": by, "by_name": by_name, "corrects": corrects}
    if recorded_at is not None:
        values["recorded_at"] = recorded_at
    row, created = model.objects.get_or_create(department=department, client_id=client_id, defaults=values)
    if created:
        _announce(model, row, corrects)
    else:
        same_or_refuse(row, what)
    return row


def _announce(model: type[Row], row: Row, corrects: Row | None) -> None:
    rows = [row, corrects] if corrects is not None else [row]
    cache_changed.send(
        sender=model,
        department=row.department,
        item_ids=sorted({r.item_id for r in rows if getattr(r, "item_id", None)}),
        lot_ids=sorted({r.lot_id for r in rows if getattr(r, "lot_id", None)}),
        line_ids=sorted({r.line_id for r in rows if getattr(r, "line_id", None)}),
    )


def _subject(department: Department, item: Item | None, lot: Lot | None) -> dict[str, Any]:
    if (item is None) == (lot is None):
        raise Conflict("Name one item or one lot, not both and not neither.")
    _same_department(department, item or lot)
    return {"item": item, "lot": lot}


def _same_department(department: Department, *things: Any) -> None:
    for thing in things:
        if thing is not None and thing.department_id != department.pk:
            raise Conflict("That belongs to another department.")


def _may_correct(corrects: LedgerRow | None, what: dict[str, Any], client_id: uuid.UUID) -> None:
    if corrects is None:
        return
    for name in ("item", "lot"):
        if name in what and getattr(corrects, f"{name}_id") != (what[name].pk if what[name] else None):
            raise Conflict("A correction speaks of the same item or lot as the row it corrects.")
    # Under lock: of two corrections at one moment, the second sees the first. The same one sent twice is no second.
    type(corrects).objects.select_for_update().get(pk=corrects.pk)
    if corrects.corrections.exclude(client_id=client_id).exists():
        raise Conflict("That row is corrected already; correct the newest row instead.")


def _only_line_of(lot: Lot) -> Line | None:
    lines = list(Line.objects.filter(postings__lot=lot).distinct()[:2])
    if len(lines) > 1:
        raise Conflict(f"Lot {lot.number} stands on several lines; say which one was counted.")
    return lines[0] if lines else None
