"""Which things of the cache a maker's recall means, and which lots are withheld."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import F, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from inventory.models import Item, Lot, LotHold, Recall, StateEvent
from shared.models import Department

UNKNOWN = "its serial is not recorded"


@dataclass(frozen=True, slots=True)
class Matched:
    """An item that a recall means, and why: its serial, its kind, or that nobody has recorded its serial."""

    item: Item
    why: str


@dataclass(frozen=True, slots=True)
class Matches:
    """Everything of a department that a recall means."""

    items: list[Matched]
    lots: list[Lot]

    @property
    def any(self) -> bool:
        return bool(self.items or self.lots)


def folded(mark: str) -> str:
    """Return a serial or lot number as it is compared: capitals, dashes and blanks do not tell two apart."""
    return "".join(ch for ch in mark.casefold() if ch.isalnum())


def fits(mark: str, patterns: Iterable[str]) -> str:
    """Return the pattern of a notice that a mark fits, a trailing * standing for any ending; "" for none."""
    known = folded(mark)
    for pattern in patterns:
        said = folded(pattern)
        open_ended = pattern.rstrip().endswith("*")
        if known and said and (known.startswith(said) if open_ended else known == said):
            return pattern
    return ""


def matches(recall: Recall, items: Iterable[Item], lots: Iterable[Lot]) -> Matches:
    """Return which of some items and lots a recall means.

    Of its kind, an item whose serial nobody has recorded is among them: what is not known must not count.
    """
    of_kind = [i for i in items if recall.kind_id in (None, i.kind_id)]
    found = [Matched(i, why) for i in of_kind if (why := _why(recall, i))]
    held = [
        lot
        for lot in lots
        if recall.kind_id in (None, lot.kind_id)
        and (fits(lot.number, recall.lots) or (recall.kind_id and not recall.serials and not recall.lots))
    ]
    return Matches(found, held)


def _why(recall: Recall, item: Item) -> str:
    if recall.serials:
        if said := fits(item.serial, recall.serials):
            return f"serial {item.serial} fits {said}"
        return UNKNOWN if recall.kind_id and not item.serial else ""
    return "every one of its kind" if recall.kind_id and not recall.lots else ""


def matching(department: Department, recall: Recall) -> Matches:
    """Return everything a department holds or held that a recall means."""
    of = {"kind": recall.kind} if recall.kind_id else {}
    items = Item.objects.filter(department=department, **of).select_related("kind")
    lots = Lot.objects.filter(department=department, **of).select_related("kind")
    return matches(recall, items, lots)


def recalls_of(department: Department) -> QuerySet[Recall]:
    """Return the recalls on record, less those that a newer row corrects, newest first."""
    rows = Recall.objects.filter(department=department, corrections=None).select_related("kind")
    return rows.order_by("-happened_at", "-pk")


def open_holds(at: datetime, known_at: datetime) -> QuerySet[LotHold]:
    """Return the holds that stand at an instant: each recall's own release ends its own hold."""
    rows = LotHold.objects.as_of(at, known_at).annotate(of=Coalesce(F("recall_id"), Value(0)))
    later = rows.filter(
        lot=OuterRef("lot"), event=LotHold.Event.RELEASED, of=OuterRef("of"), happened_at__gte=OuterRef("happened_at")
    )
    return rows.filter(event=LotHold.Event.HELD).annotate(ended=Subquery(later.values("pk")[:1])).filter(ended=None)


def with_holds(lots: QuerySet[Lot], at: datetime, known_at: datetime) -> QuerySet[Lot]:
    """Return lots that know as ``held`` why they are withheld at an instant; None where they are not."""
    mine = open_holds(at, known_at).filter(lot=OuterRef("pk")).order_by("happened_at", "pk")
    return lots.annotate(held=Subquery(mine.values("reason")[:1]))


@dataclass(frozen=True, slots=True)
class Caught:
    """What one recall took out: an item or a lot, and whether it still is."""

    thing: Item | Lot
    since: datetime
    released_at: datetime | None
    released_by: str = ""
    remedy: str = ""

    @property
    def is_item(self) -> bool:
        return isinstance(self.thing, Item)


def caught_by(recall: Recall) -> list[Caught]:
    """Return what a recall took out of service or withheld, what is still out first."""
    events = StateEvent.objects.filter(
        department_id=recall.department_id, mode_code=recall.code, corrections=None
    ).select_related("item")
    holds = LotHold.objects.filter(recall=recall, corrections=None).select_related("lot")
    rows = [(e.item, e.event == StateEvent.Event.TAKEN_OUT, e) for e in events.order_by("happened_at", "pk")]
    rows += [(h.lot, h.event == LotHold.Event.HELD, h) for h in holds.order_by("happened_at", "pk")]
    return sorted(_paired(rows), key=lambda c: (c.released_at is not None, str(c.thing)))


def _paired(rows: Sequence[tuple[Any, bool, Any]]) -> list[Caught]:
    out: dict[Any, Caught] = {}
    for thing, opens, row in rows:
        if opens:
            out.setdefault(thing, Caught(thing, row.happened_at, None))
        elif thing in out:
            out[thing] = Caught(thing, out[thing].since, row.happened_at, row.by_name, row.reason)
    return list(out.values())
