"""Orders against shortages, and what comes of them: a new date, a receipt with what it brought, an end.

What is received as a consumable becomes a lot; everything else becomes items that stand boxed, and count for nothing,
until an acceptance test has passed (``accept_by_test``).
"""

import uuid
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max

from inventory.models import Award, Item, ItemKind, Line, Lot, Order, OrderEvent, Place, Posting, StateEvent
from inventory.queries.orders import OrderStanding, orders_of
from inventory.services.ledger import record_posting, record_state
from inventory.services.recalls import catch_recalled
from inventory.signals import cache_changed
from inventory.states import Happening, state_of
from shared.api import LATEST, AlreadySent, Conflict, same_or_refuse
from shared.models import AuditEntry, Department, User

Event = OrderEvent.Event
MOST_AT_ONCE: Final = 200  # items of one receipt, each with a card of its own


@transaction.atomic
def place_order(
    *,
    department: Department,
    kind: ItemKind,
    quantity: int,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    line: Line | None = None,
    supplier: str = "",
    reference: str = "",
    unit_cost: Decimal | None = None,
    expected_on: date | None = None,
    award: Award | None = None,
    reason: str = "",
    client_id: uuid.UUID | None = None,
) -> Order:
    """Record that something was ordered; the same client_id twice records once.

    Raises:
        Conflict: not even one, or something of another department.
    """
    if quantity < 1:
        raise Conflict("Order at least one.", where="quantity")
    for thing in (kind, line, award):
        if thing is not None and thing.department_id != department.pk:
            raise Conflict("That belongs to another department.")
    said = {
        "kind": kind, "line": line, "quantity": quantity, "supplier": supplier[:120], "reference": reference[:60],
        "unit_cost": unit_cost, "expected_on": expected_on, "award": award, "reason": reason[:240],
    }  # fmt: skip
    order, made = Order.objects.get_or_create(
        department=department,
        client_id=client_id or uuid.uuid4(),
        defaults=said | {"happened_at": happened_at, "by": by, "by_name": by_name},
    )
    if made:
        _announce(order)
    else:
        same_or_refuse(order, said)
    return order


def date_order(*, order: Order, expected_on: date, note: str = "", **signed: Any) -> OrderEvent:
    """Record the date that a supplier now gives."""
    return _happened(order, Event.DATED, expected_on=expected_on, note=note, **signed)


def cancel_order(*, order: Order, note: str, **signed: Any) -> OrderEvent:
    """Record that no more of an order will come, and why."""
    return _happened(order, Event.CANCELLED, note=note, **signed)


@transaction.atomic
def _happened(
    order: Order,
    event: str,
    *,
    department: Department,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    client_id: uuid.UUID | None = None,
    **what: Any,
) -> OrderEvent:
    now = _under_lock(department, order)
    said = {"order": order, "event": event} | what
    client_id = client_id or uuid.uuid4()
    if sent := OrderEvent.objects.filter(department=department, client_id=client_id).first():
        same_or_refuse(sent, said)
        return sent
    if not now.is_open:
        raise Conflict(f"Nothing of this order is still to come: it is {now.word}.", where="order")
    row = OrderEvent.objects.create(
        department=department, client_id=client_id, happened_at=happened_at, by=by, by_name=by_name, **said
    )
    _announce(order)
    return row


@transaction.atomic
def receive_order(
    *,
    department: Department,
    order: Order,
    quantity: int,
    place: Place,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    serials: Sequence[str] = (),
    lot_number: str = "",
    expires_on: date | None = None,
    note: str = "",
    client_id: uuid.UUID | None = None,
) -> list[OrderEvent]:
    """Record that so many of an order came, and what they are: a lot, or items that are boxed until accepted.

    ``serials`` are those of the units, in any number up to the quantity; what has none stamped stands without.

    Raises:
        Conflict: more than is still to come, a serial or a lot that does not stand as said.
        AlreadySent: the client_id belongs to another receipt.
    """
    if place.department_id != department.pk:
        raise Conflict("That place belongs to another department.", where="place")
    now = _under_lock(department, order)
    client_id = client_id or uuid.uuid4()
    if sent := list(OrderEvent.objects.filter(department=department, client_id__in=_ids(client_id)).order_by("pk")):
        if {row.order_id for row in sent} != {order.pk} or sum(row.quantity for row in sent) != quantity:
            raise AlreadySent
        return sent
    if not 0 < quantity <= now.remaining:
        raise Conflict(
            f"{now.remaining} of this order are still to come, not {quantity}.",
            where="quantity",
            mend="Receive what was ordered; what came beyond it is an order of its own.",
        )
    receipt = _Receipt(department, order, place, happened_at, by, by_name, note[:240], client_id)
    if order.kind.consumable:
        made = [receipt.lot(quantity, lot_number, expires_on)]
    else:
        made = receipt.items(quantity, [s.strip() for s in serials if s.strip()])
    catch_recalled(
        department=department,
        item_ids=[row.item_id for row in made if row.item_id],
        lot_ids=[row.lot_id for row in made if row.lot_id],
        at=happened_at,
        by=by,
        by_name=by_name,
    )
    _announce(order)
    return made


def _ids(client_id: uuid.UUID) -> list[uuid.UUID]:
    return [client_id, *(uuid.uuid5(client_id, f"unit {n}") for n in range(1, MOST_AT_ONCE))]


class _Receipt:
    """Writes what one receipt brought."""

    def __init__(
        self, department: Department, order: Order, place: Place, at: datetime, by: User | None, by_name: str,
        note: str, client_id: uuid.UUID,
    ) -> None:  # fmt: skip
        self.department, self.order, self.place, self.note = department, order, place, note
        self.signed = {"department": department, "happened_at": at, "by": by, "by_name": by_name}
        self.day = at.astimezone(ZoneInfo(department.time_zone)).date()
        self.ids = iter(_ids(client_id))

    def lot(self, quantity: int, number: str, expires_on: date | None) -> OrderEvent:
        kind = self.order.kind
        if not (number := number.strip()[:60]):
            raise Conflict("Read the lot number off the box.", where="lot_number", mend="Write “none” if it has none.")
        if number.casefold() == "none":
            number = f"{self.day:%Y-%m-%d} order {self.order.pk}"
        if expires_on is not None and expires_on <= self.day:
            raise Conflict("That lot is past its date already.", where="expires_on", mend="Send it back.")
        lot, made = Lot.objects.get_or_create(
            department=self.department,
            kind=kind,
            number=number,
            defaults={
                "name": kind.name, "received_on": self.day, "expires_on": expires_on, "unit_cost": self.order.unit_cost,
            },
        )  # fmt: skip
        if not made and lot.expires_on != expires_on:
            said = f"{lot.expires_on:%d %b %Y}" if lot.expires_on else "never"
            raise Conflict(f"Lot {number} is on record as expiring {said}.", where="expires_on", mend="Read the box.")
        self._post(quantity, lot=lot)
        return self._event(quantity, lot=lot)

    def items(self, quantity: int, serials: Sequence[str]) -> list[OrderEvent]:
        each = self.order.kind.serialised
        if each and quantity > MOST_AT_ONCE:
            raise Conflict(f"At most {MOST_AT_ONCE} at once.", where="quantity", mend="Receive them in two parts.")
        if len(serials) > (quantity if each else 1):
            raise Conflict(f"{len(serials)} serials for {quantity}.", where="serials", mend="One serial to each unit.")
        taken = Item.objects.filter(department=self.department, serial__in=serials).first()
        if taken is not None or len({s.casefold() for s in serials}) != len(serials):
            raise Conflict(
                f"Serial {taken.serial} is that of {taken.tag}." if taken else "The same serial stands here twice.",
                where="serials", mend="Read both plates.",
            )  # fmt: skip
        parts = [1] * quantity if each else [quantity]
        marks = [*serials, *[""] * (len(parts) - len(serials))]
        return [self._one(many, serial) for many, serial in zip(parts, marks, strict=True)]

    def _one(self, many: int, serial: str) -> OrderEvent:
        order = self.order
        last = Item.objects.filter(department=self.department).aggregate(m=Max("order"))["m"] or 0
        item = Item.objects.create(
            department=self.department, kind=order.kind, tag=self._tag(), name=order.kind.name, serial=serial[:80],
            acquired_on=self.day, unit_cost=order.unit_cost, award=order.award, condition=Item.Condition.NEW,
            order=last + 1,
        )  # fmt: skip
        self._post(many, item=item)
        record_state(
            **self.signed, item=item, event=StateEvent.Event.BOXED, reason="received; no acceptance test has passed yet"
        )
        return self._event(many, item=item)

    def _tag(self) -> str:
        prefix = self.order.kind.prefix or "OT"
        used = {
            tag.casefold()
            for tag in Item.objects.filter(department=self.department, tag__istartswith=prefix).values_list(
                "tag", flat=True
            )
        }
        return next(tag for n in range(1, len(used) + 2) if (tag := f"{prefix}-{n:02d}").casefold() not in used)

    def _post(self, many: int, **of: Any) -> None:
        record_posting(
            **self.signed, **of, change=many, reason=Posting.Reason.RECEIVED, place=self.place, line=self.order.line,
            note=self.note,
        )  # fmt: skip

    def _event(self, many: int, **of: Any) -> OrderEvent:
        return OrderEvent.objects.create(
            **self.signed, **of, client_id=next(self.ids), order=self.order, event=Event.RECEIVED, quantity=many,
            note=self.note,
        )  # fmt: skip


@transaction.atomic
def accept_by_test(*, item: Item, at: datetime, by: User | None, by_name: str, client_id: uuid.UUID) -> bool:
    """Take an item out of its box because its acceptance test passed; return whether it was boxed.

    Anything else that keeps it out of use stands: a wet or recalled item does not become fit by its first test.
    """
    rows = StateEvent.objects.as_of(at, LATEST).filter(item=item)
    history = [Happening(r.event, r.happened_at, r.reason) for r in rows.order_by("happened_at", "recorded_at", "pk")]
    boxed = [h for h in history if h.event in (StateEvent.Event.BOXED, StateEvent.Event.ACCEPTED)]
    if state_of(boxed).state != "boxed":
        return False
    record_state(
        department=item.department, item=item, event=StateEvent.Event.ACCEPTED, happened_at=at, by=by, by_name=by_name,
        reason="acceptance test passed", client_id=client_id,
    )  # fmt: skip
    item.accepted_on, item.acceptance_assumed = at.astimezone(ZoneInfo(item.department.time_zone)).date(), False
    item.save(update_fields=["accepted_on", "acceptance_assumed"])
    AuditEntry.objects.create(
        department=item.department, by=by, did="accept item", subject=item.tag, detail={"on": str(item.accepted_on)}
    )
    return True


@transaction.atomic
def undo_acceptance(*, accepted: StateEvent, by: User | None, by_name: str) -> None:
    """Put an item back into its box: the acceptance test behind it was corrected."""
    record_state(
        department=accepted.department, item=accepted.item, event=StateEvent.Event.BOXED,
        happened_at=accepted.happened_at, by=by, by_name=by_name, reason="the acceptance test was corrected",
        client_id=uuid.uuid5(accepted.client_id, "boxed again"), corrects=accepted,
    )  # fmt: skip
    Item.objects.filter(pk=accepted.item_id).update(accepted_on=None, acceptance_assumed=False)


def _under_lock(department: Department, order: Order) -> OrderStanding:
    """Return how an order stands, with its row held: of two receipts at one moment, the second sees the first."""
    if order.department_id != department.pk:
        raise Conflict("That order belongs to another department.", where="order")
    Order.objects.select_for_update().get(pk=order.pk)
    return next(s for s in orders_of(department, LATEST, LATEST) if s.order.pk == order.pk)


def _announce(order: Order) -> None:
    lines = [order.line_id] if order.line_id else list(order.department.lines.values_list("pk", flat=True))
    cache_changed.send(sender=Order, department=order.department, item_ids=[], lot_ids=[], line_ids=lines)
