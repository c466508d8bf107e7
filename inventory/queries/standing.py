"""Where everything stands, as of one instant, as known at another: read from the ledgers in a fixed number of queries.

How many: the newest count stands, plus what was posted after it. What a register said when it was taken in is only an
opening figure; a count, even an older one on paper, is somebody's eyes and beats it. A count of 0 means absent.
A container's seal that is found unbroken makes the last count of what is inside as fresh as that (``queries.seals``).
Where: the newest posting that puts a thing somewhere (registered, received, moved, found) says place and line.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q

from inventory.models import Count, Item, Line, Lot, Place, Posting, StateEvent
from inventory.queries.recalls import with_holds
from inventory.queries.seals import SealStanding, seals, stands_since
from inventory.states import Happening, state_of
from shared.models import Department

Reason = Posting.Reason
PLACING = {Reason.REGISTERED, Reason.RECEIVED, Reason.MOVED, Reason.FOUND}
_POSTED = ("item_id", "lot_id", "change", "place_id", "line_id", "reason", "happened_at")
_COUNTED = ("item_id", "lot_id", "counted", "line_id", "happened_at")


@dataclass(frozen=True, slots=True)
class ItemStanding:
    """One item: how many are present, where, and whether they count.

    Attributes:
        counted_on: day of the newest count, in the department's own time; None: the register's figure only.
        state: in service, boxed, out of service, quarantine, wet, drying, lent, condemned, disposed or absent.
        state_since: when that state began; None where it has been in service since it came.
        awaiting_second_name: restored, but alone: counts as claimed.
    """

    item: Item
    quantity: int
    counted_on: date | None
    place: Place | None
    line: Line | None
    state: str
    state_since: datetime | None
    state_reason: str
    awaiting_second_name: bool


@dataclass(frozen=True, slots=True)
class LotStanding:
    """One lot on one line (or in the store, line None): how many are on hand.

    Attributes:
        held: why the lot is withheld, "" where it is not; held, it is on hand and counts for nothing.
    """

    lot: Lot
    on_hand: int
    counted_on: date | None
    line: Line | None
    place: Place | None = None
    held: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything on one line, or in a whole department (line None)."""

    line: Line | None
    at: datetime
    known_at: datetime
    items: tuple[ItemStanding, ...]
    lots: tuple[LotStanding, ...]


def standing(line: Line, at: datetime, known_at: datetime) -> Standing:
    """Return what stands on a line; what has been moved off it or disposed of does not."""
    on_line = Posting.objects.filter(department_id=line.department_id, line=line)
    counted = Count.objects.filter(department_id=line.department_id, line=line, lot__isnull=False)
    subjects = (
        Q(item__in=on_line.filter(item__isnull=False).values("item"))
        | Q(lot__in=on_line.filter(lot__isnull=False).values("lot"))
        | Q(lot__in=counted.values("lot"))
    )
    whole = _Reader(line.department, at, known_at, subjects).read()
    return Standing(
        line=line,
        at=at,
        known_at=known_at,
        items=tuple(s for s in whole.items if s.line and s.line.pk == line.pk),
        lots=tuple(s for s in whole.lots if s.line and s.line.pk == line.pk),
    )


def standing_of_department(department: Department, at: datetime, known_at: datetime) -> Standing:
    """Return everything a department holds, on a line or on none; what was disposed of is listed, on no line."""
    return _Reader(department, at, known_at, None).read()


def standing_of_items(items: Sequence[Item], at: datetime, known_at: datetime) -> dict[int, ItemStanding]:
    """Return by item id how some items of one department stand."""
    if not items:
        return {}
    whole = _Reader(items[0].department, at, known_at, Q(item__in=[i.pk for i in items])).read()
    return {s.item.pk: s for s in whole.items}


def spec_of(item: Item) -> dict[str, Any]:
    """Return an item's plate with its kind's defaults where the plate says nothing."""
    defaults = {f["key"]: f["default"] for f in item.kind.spec_fields if f.get("default") is not None}
    return defaults | item.spec


@dataclass(slots=True)
class _Posted:
    change: int
    place: int | None
    line: int | None
    reason: str
    at: datetime


@dataclass(slots=True)
class _Counted:
    counted: int
    at: datetime


class _Reader:
    """Reads the three ledgers once and derives every standing from the rows in hand."""

    def __init__(self, department: Department, at: datetime, known_at: datetime, subjects: Q | None) -> None:
        self.department, self.at, self.known_at, self.subjects = department, at, known_at, subjects
        self.zone = ZoneInfo(department.time_zone)

    def read(self) -> Standing:
        """Return the standing of all subjects."""
        postings, counts = self._ledger(Posting, _POSTED), self._ledger(Count, _COUNTED)
        of_item: dict[int, list[_Posted]] = defaultdict(list)
        of_lot: dict[tuple[int, int | None], list[_Posted]] = defaultdict(list)
        for item, lot, change, place, line, reason, at in postings:
            row = _Posted(change, place, line, reason, at)
            (of_item[item] if item else of_lot[lot, line]).append(row)
        item_counts: dict[int, _Counted] = {}
        lot_counts: dict[tuple[int, int | None], _Counted] = {}
        for item, lot, counted, line, at in counts:  # oldest first: the last one written stands
            if item:
                item_counts[item] = _Counted(counted, at)
            else:
                lot_counts[lot, line] = _Counted(counted, at)
        lines, places = self._lines(), self._places()
        return Standing(
            line=None,
            at=self.at,
            known_at=self.known_at,
            items=tuple(self._items(of_item, item_counts, lines, places)),
            lots=tuple(self._lots(of_lot, lot_counts, lines, places)),
        )

    def _ledger(self, model: type, fields: tuple[str, ...]) -> Iterable[tuple]:
        rows = model.objects.as_of(self.at, self.known_at).filter(department=self.department)
        if self.subjects is not None:
            rows = rows.filter(self.subjects)
        return rows.order_by("happened_at", "recorded_at", "pk").values_list(*fields)

    def _lines(self) -> dict[int, Line]:
        return {line.pk: line for line in Line.objects.filter(department=self.department)}

    def _places(self) -> dict[int, Place]:
        return {p.pk: p for p in Place.objects.filter(department=self.department).select_related("within")}

    def _histories(self, item_ids: Iterable[int]) -> dict[int, list[Happening]]:
        rows = StateEvent.objects.as_of(self.at, self.known_at).filter(department=self.department)
        if self.subjects is not None:
            rows = rows.filter(item__in=list(item_ids))
        histories: dict[int, list[Happening]] = defaultdict(list)
        fields = ("item_id", "event", "happened_at", "reason", "mode_code")
        for item, event, at, reason, code in rows.order_by("happened_at", "recorded_at", "pk").values_list(*fields):
            histories[item].append(Happening(event, at, reason, code))
        return histories

    def _items(
        self,
        postings: Mapping[int, list[_Posted]],
        counts: Mapping[int, _Counted],
        lines: Mapping[int, Line],
        places: Mapping[int, Place],
    ) -> Iterable[ItemStanding]:
        histories = self._histories(postings)
        # Prefetched, not joined: hundreds of items share a few kinds, whose data would be read again for each.
        rows = Item.objects.filter(department=self.department).prefetch_related("kind", "award")
        if self.subjects is not None:
            rows = rows.filter(pk__in=list(postings))
        for item in rows:
            if not (posted := postings.get(item.pk)):
                continue  # not there yet at that instant
            item.department = self.department
            counted = counts.get(item.pk)
            quantity, since = _quantity(posted, counted)
            placed = next((p for p in reversed(posted) if p.reason in PLACING), None)
            history = histories.get(item.pk, [])
            if quantity <= 0 and posted[-1].reason == Reason.DISPOSED:
                history = [*history, Happening("disposed", posted[-1].at)]
            state = state_of(history, absent_since=since if quantity <= 0 else None)
            here = placed is not None and state.state != "disposed"
            yield ItemStanding(
                item=item,
                quantity=max(quantity, 0),
                counted_on=self._counted_on(counted, posted, places.get(placed.place) if placed else None, places),
                place=places.get(placed.place) if here else None,
                line=lines.get(placed.line) if here else None,
                state=state.state,
                state_since=state.since,
                state_reason=state.reason,
                awaiting_second_name=state.awaiting_second_name,
            )

    def _lots(
        self,
        postings: Mapping[tuple[int, int | None], list[_Posted]],
        counts: Mapping[tuple[int, int | None], _Counted],
        lines: Mapping[int, Line],
        places: Mapping[int, Place],
    ) -> Iterable[LotStanding]:
        keys = postings.keys() | counts.keys()
        rows = with_holds(Lot.objects.filter(department=self.department), self.at, self.known_at)
        found = {lot.pk: lot for lot in rows.prefetch_related("kind")}
        standings = []
        for lot_id, line_id in keys:
            counted, posted = counts.get((lot_id, line_id)), postings.get((lot_id, line_id), [])
            placed = next((p for p in reversed(posted) if p.reason in PLACING), None)
            standings.append(
                LotStanding(
                    lot=found[lot_id],
                    on_hand=max(_quantity(posted, counted)[0], 0),
                    counted_on=self._counted_on(counted, posted, places.get(placed.place) if placed else None, places),
                    line=lines.get(line_id),
                    place=places.get(placed.place) if placed else None,
                    held=found[lot_id].held or "",
                )
            )
        return sorted(standings, key=lambda s: (s.lot.name, str(s.lot.expires_on or ""), s.lot.number, s.lot.pk))

    def _counted_on(
        self,
        counted: _Counted | None,
        posted: Sequence[_Posted],
        place: Place | None,
        places: Mapping[int, Place],
    ) -> date | None:
        """Return the day of the newest count, or of the seal that stands for a recount of it."""
        if counted is None:
            return None
        around: list[Place] = []
        while place is not None and place not in around:
            around.append(place)
            place = places.get(place.within_id) if place.within_id else None
        # Only containers are sealed; without one, the seals are not read.
        shut = [each for each in around if each.sort == Place.Sort.CONTAINER]
        moved = [p.at for p in posted if p.reason != Reason.REGISTERED]
        seen = stands_since(self.seals, shut, counted.at, max(moved, default=None)) if shut else None
        return (seen or counted.at).astimezone(self.zone).date()

    @cached_property
    def seals(self) -> dict[int, SealStanding]:
        return seals(self.department, self.at, self.known_at)


def _quantity(posted: Sequence[_Posted], counted: _Counted | None) -> tuple[int, datetime]:
    """Return how many there are, and when the row that says so happened."""
    if counted is None:
        return sum(p.change for p in posted), posted[-1].at
    later = [p for p in posted if p.at > counted.at and p.reason != Reason.REGISTERED]
    return counted.counted + sum(p.change for p in later), later[-1].at if later else counted.at
