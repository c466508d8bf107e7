"""Shortages by line and of the whole cache, beside what is ordered: people served, and what it costs."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from inventory import page_queries, queries
from inventory.models import ItemKind, Line
from inventory.page_queries import is_expired
from inventory.queries import OrderStanding
from inventory.states import IN_SERVICE
from shared.models import Department


@dataclass(frozen=True)
class Short:
    """One kind short on one line, or in the whole cache (line None)."""

    line: Line | None
    kind: ItemKind
    par: int
    usable: int
    expired: int
    held: int
    below_need: bool
    people: int | None
    ordered: tuple[OrderStanding, ...]
    stored: int = 0  # usable in the store, of the whole cache

    @property
    def short(self) -> int:
        return max(0, self.par - self.usable)

    @property
    def coming(self) -> int:
        return sum(o.remaining for o in self.ordered)

    @property
    def still_short(self) -> int:
        """Return what is neither there, nor in the store, nor ordered."""
        return max(0, self.short - self.stored - self.coming)


@dataclass(frozen=True)
class Shortages:
    """All shortages on a day, and the orders."""

    on: date
    lines: list[tuple[Line, list[Short]]]
    whole: list[Short]
    orders: list[OrderStanding]

    @property
    def late(self) -> list[OrderStanding]:
        return [o for o in self.orders if o.late]

    @property
    def open(self) -> list[OrderStanding]:
        return [o for o in self.orders if o.is_open]

    @property
    def open_cost(self) -> Decimal:
        """Return the cost of what is still to come, as far as it is known."""
        return sum((o.order.unit_cost * o.remaining for o in self.open if o.order.unit_cost is not None), Decimal(0))

    @property
    def cost_unknown(self) -> int:
        return sum(1 for o in self.open if o.order.unit_cost is None)

    def rows(self) -> Iterator[list[Any]]:
        """Yield the list as a table: its headings first."""
        yield ["line", "kind", "par", "usable", "expired", "withheld", "short", "people served", "ordered",
               "next expected", "late", "good on"]  # fmt: skip
        for line, shorts in self.lines:
            for s in shorts:
                dates = [o.expected_on for o in s.ordered if o.expected_on]
                yield [line.name, s.kind.name, s.par, s.usable, s.expired, s.held, s.short,
                       "" if s.people is None else s.people, s.coming, min(dates, default=""),
                       "late" if any(o.late for o in s.ordered) else "", self.on]  # fmt: skip


def shortages(department: Department, at: datetime, on: date) -> Shortages:
    """Return what is short on a day against the load lists: what will have expired by then or is withheld is not there.

    ``at`` is the instant of the postings and counts; ``on`` may lie ahead of it.
    """
    lists, whole = page_queries.load_lists(department, at, on)
    orders = queries.orders_of(department, at, at)
    of_line: dict[tuple[int | None, int], list[OrderStanding]] = defaultdict(list)
    for o in orders:
        if o.is_open:
            of_line[o.order.line_id, o.order.kind_id].append(o)
    store: dict[int, int] = defaultdict(int)
    for s in whole.lots:
        if s.line is None and not s.held and not is_expired(s.lot, on):
            store[s.lot.kind_id] += s.on_hand
    for i in whole.items:
        if i.line is None and i.state == IN_SERVICE:
            store[i.item.kind_id] += i.quantity
    by_line, by_kind = [], defaultdict[int, list[Short]](list)
    for found in lists:
        shorts = [
            Short(
                found.line, v.row.kind, v.row.quantity, v.serving, v.expired, v.held, v.below_need, v.people,
                tuple(of_line[found.line.pk, v.row.kind_id]),
            )
            for v in found.short
        ]  # fmt: skip
        by_line.append((found.line, shorts))
        for s in shorts:
            by_kind[s.kind.pk].append(s)
    summed = [
        _summed(rows, store[kind], [*(o for s in rows for o in s.ordered), *of_line[None, kind]])
        for kind, rows in by_kind.items()
    ]
    return Shortages(on, by_line, sorted(summed, key=lambda s: (-s.still_short, s.kind.name)), orders)


def _summed(rows: Sequence[Short], stored: int, ordered: Sequence[OrderStanding]) -> Short:
    return Short(
        line=None,
        kind=rows[0].kind,
        par=sum(s.par for s in rows),
        usable=sum(s.usable for s in rows),
        expired=sum(s.expired for s in rows),
        held=sum(s.held for s in rows),
        below_need=any(s.below_need for s in rows),
        people=None,
        ordered=tuple(dict.fromkeys(ordered)),
        stored=stored,
    )
