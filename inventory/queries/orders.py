"""What is ordered and not yet here, as of an instant, as known at another."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from inventory.models import Order, OrderEvent
from shared.models import Department

Event = OrderEvent.Event


@dataclass(frozen=True, slots=True)
class OrderStanding:
    """One order with what became of it by a day.

    Attributes:
        expected_on: the newest date that was given, None where none was.
        received: units that came.
        cancelled: no more of it will come.
    """

    order: Order
    on: date
    expected_on: date | None
    received: int
    cancelled: bool
    events: tuple[OrderEvent, ...] = field(default=(), compare=False)

    @property
    def remaining(self) -> int:
        """Return units still to come."""
        return 0 if self.cancelled else max(0, self.order.quantity - self.received)

    @property
    def is_open(self) -> bool:
        return self.remaining > 0

    @property
    def late(self) -> bool:
        """Whether its date is past and something is still to come."""
        return self.is_open and self.expected_on is not None and self.expected_on < self.on

    @property
    def slipped(self) -> bool:
        """Whether it is now expected later than when it was ordered."""
        first = self.order.expected_on
        return self.expected_on is not None and first is not None and self.expected_on > first

    @property
    def word(self) -> str:
        if self.cancelled:
            return "cancelled"
        if not self.is_open:
            return "received"
        if self.late:
            return "late"
        return "part received" if self.received else "ordered"

    @property
    def cost(self) -> Decimal | None:
        """Return what is to be paid for what was ordered and not cancelled."""
        each = self.order.unit_cost
        return None if each is None else each * (self.received if self.cancelled else self.order.quantity)


def orders_of(department: Department, at: datetime, known_at: datetime) -> list[OrderStanding]:
    """Return every order of a department with what became of it, open ones first, by their date."""
    on = at.astimezone(ZoneInfo(department.time_zone)).date()
    orders = list(
        Order.objects.as_of(at, known_at).filter(department=department).select_related("kind", "line", "award")
    )
    if not orders:
        return []
    events: dict[int, list[OrderEvent]] = defaultdict(list)
    rows = OrderEvent.objects.as_of(at, known_at).filter(department=department).select_related("item", "lot")
    for row in rows.order_by("happened_at", "recorded_at", "pk"):
        events[row.order_id].append(row)
    found = [_standing(order, events[order.pk], on) for order in orders]
    return sorted(found, key=lambda s: (not s.is_open, s.expected_on or date.max, s.order.pk))


def open_orders(department: Department, at: datetime, known_at: datetime) -> list[OrderStanding]:
    """Return the orders of which something is still to come, in order of their date."""
    return [s for s in orders_of(department, at, known_at) if s.is_open]


def _standing(order: Order, events: list[OrderEvent], on: date) -> OrderStanding:
    dated = [e.expected_on for e in events if e.event == Event.DATED]
    return OrderStanding(
        order=order,
        on=on,
        expected_on=dated[-1] if dated else order.expected_on,
        received=sum(e.quantity for e in events if e.event == Event.RECEIVED),
        cancelled=any(e.event == Event.CANCELLED for e in events),
        events=tuple(events),
    )
