"""Repairs, uses and refills, and an item taken out or brought back by hand."""

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from inspections.models import Deficiency, Repair, Upkeep
from inspections.services.book import Book
from inspections.services.faults import resettle
from inspections.services.record import announce, signature
from inventory.models import Item, StateEvent
from inventory.services import record_state
from shared.api import Conflict, same_or_refuse
from shared.models import Department, User
from shared.people import name_key, names_borne


@transaction.atomic
def record_repair(
    *,
    department: Department,
    item: Item,
    what: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    deficiency: Deficiency | None = None,
    cost: Decimal | None = None,
    cause: str = "",
    parts: str = "",
    vendor: str = "",
    hours: float | None = None,
    recorded_at: datetime | None = None,
    announced: bool = True,
) -> Repair:
    """Record work on an item. It proves nothing: the same proof that found the fault, passed, restores it.

    Where no deficiency is named, the work is on whatever stood open then.
    """
    _own(department, item)
    if deficiency is not None and deficiency.item_id != item.pk:
        raise Conflict("That deficiency is another item's.")
    if any(value is not None and value < 0 for value in (hours, cost)):
        raise Conflict("Hours and cost cannot be negative.")
    told = {"cause": cause.strip()[:200], "parts": parts.strip()[:200], "vendor": vendor.strip()[:120]}
    said = {"item": item, "what": what.strip()[:300], "cost": cost, "hours": hours} | told
    row, created = Repair.objects.get_or_create(
        department=department,
        client_id=client_id,
        defaults=said | {"deficiency": deficiency} | _signed(happened_at, by, by_name, recorded_at),
    )
    book = Book(department)
    if created and book.saw(item, happened_at):
        # Work that is told of after the check that followed it: that check may now lack its second name.
        Item.objects.select_for_update().get(pk=item.pk)
        resettle(book=book, item=item, recorded_at=row.recorded_at)
    _settle(row, said, created=created, announced=announced)
    return row


@transaction.atomic
def record_upkeep(
    *,
    department: Department,
    item: Item,
    sort: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    hours: float | None = None,
    to_lb: float | None = None,
    note: str = "",
    recorded_at: datetime | None = None,
    announced: bool = True,
) -> Upkeep:
    """Record that an item was used or refilled: what use reopens must be proven again, contents until weighed.

    Raises:
        Conflict: sort is neither ``used`` nor ``refilled``, or a quantity is negative.
    """
    _own(department, item)
    if sort not in Upkeep.Sort.values:
        raise Conflict(f"{sort!r} is no upkeep; use used or refilled.")
    if any(value is not None and value < 0 for value in (hours, to_lb)):
        raise Conflict("Hours and pounds cannot be negative.")
    said = {"item": item, "sort": sort, "hours": hours, "to_lb": to_lb, "note": note.strip()[:240]}
    row, created = Upkeep.objects.get_or_create(
        department=department,
        client_id=client_id,
        defaults=said | _signed(happened_at, by, by_name, recorded_at),
    )
    _settle(row, said, created=created, announced=announced)
    return row


@transaction.atomic
def take_out_by_hand(
    *,
    department: Department,
    item: Item,
    reason: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> StateEvent:
    """Take an item out of service on somebody's word, for a stated reason."""
    _own(department, item)
    if not reason.strip():
        raise Conflict("Say why it is taken out of service.")
    row = record_state(
        department=department,
        item=item,
        event=StateEvent.Event.TAKEN_OUT,
        happened_at=happened_at,
        by=by,
        by_name=signature(by_name),
        reason=reason.strip()[:240],
        client_id=client_id,
    )
    announce(department, [item.pk])
    return row


@transaction.atomic
def bring_back_by_hand(
    *,
    department: Department,
    item: Item,
    reason: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> StateEvent:
    """Bring back what was taken out by hand; under the same name it awaits a second one.

    Raises:
        Conflict: it was not taken out by hand: a failed check is restored by the same check, passed.
    """
    _own(department, item)
    # Of two who bring it back at one moment, the second sees that it is back.
    Item.objects.select_for_update().get(pk=item.pk)
    events = (StateEvent.Event.TAKEN_OUT, StateEvent.Event.RESTORED, StateEvent.Event.RESTORED_AWAITING)
    last = (
        StateEvent.objects.as_of(happened_at, timezone.now())
        .filter(department=department, item=item, mode_code="", event__in=events)
        .exclude(client_id=client_id)
        .order_by("-happened_at", "-pk")
    )
    newest = last.first()
    taken = last.filter(event=StateEvent.Event.TAKEN_OUT).first()
    if newest is None or taken is None or newest.event == StateEvent.Event.RESTORED:
        raise Conflict("It was not taken out by hand; a failed check is restored by the same check, passed.")
    alone = name_key(taken.by_name) in names_borne(by, signature(by_name))
    event = StateEvent.Event.RESTORED_AWAITING if alone else StateEvent.Event.RESTORED
    row = record_state(
        department=department,
        item=item,
        event=event,
        happened_at=happened_at,
        by=by,
        by_name=signature(by_name),
        reason=reason.strip()[:240],
        client_id=client_id,
    )
    announce(department, [item.pk])
    return row


def _own(department: Department, item: Item) -> None:
    if item.department_id != department.pk:
        raise Conflict("That item belongs to another department.")


def _signed(at: datetime, by: User | None, by_name: str, recorded_at: datetime | None) -> dict[str, Any]:
    return {
        "happened_at": at,
        "by": by,
        "by_name": signature(by_name),
        "recorded_at": recorded_at or timezone.now(),
    }


def _settle(row: Repair | Upkeep, said: dict[str, Any], *, created: bool, announced: bool) -> None:
    """Tell of a row that is new; hold one that was sent before to what it said."""
    if not created:
        same_or_refuse(row, said)
    elif announced:
        announce(row.department, [row.item_id])
