"""What the pages of the Bay show, each in a handful of queries however long the cache is."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any

from django.db.models import Q, QuerySet

from inventory import queries
from inventory.crew_currency import currency
from inventory.models import Count, CrewMember, Item, ItemKind, Line, Lot, Place, Posting, StateEvent
from inventory.queries import CrewStanding, ItemStanding, LotStanding
from inventory.states import IN_SERVICE
from shared.models import Department

# Chain order, as the pages print it; kinds that serve none of the fourteen come last.
FUNCTIONS = (
    "shelter", "inflation", "anchoring", "water", "heat", "wash", "waste",
    "light", "power", "footing", "redress", "PPE", "signs", "crew",
)  # fmt: skip
STATES = (
    IN_SERVICE, "out of service", "boxed", "quarantine", "wet", "drying", "lent", "absent", "condemned", "disposed",
)  # fmt: skip
GONE = frozenset({"disposed", "absent"})
SOON_DAYS = 90


# Places and lines --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Holding:
    """A place or a line with what stands there."""

    subject: Place | Line | None
    items: int
    lots: int
    states: Mapping[str, int]

    @property
    def not_serving(self) -> list[tuple[str, int]]:
        """Return (state, how many) of what is there and does not count."""
        return [(state, self.states[state]) for state in STATES if state != IN_SERVICE and self.states.get(state)]


@dataclass(frozen=True)
class Bay:
    """All places and lines of a department."""

    places: list[Holding]
    lines: list[Holding]
    nowhere: Holding
    states: Mapping[str, int]

    @property
    def is_empty(self) -> bool:
        return not (self.places or self.lines or self.nowhere.items or self.nowhere.lots)


def bay(department: Department, at: datetime) -> Bay:
    """Return every place and line with how much stands there and in which states."""
    whole = queries.standing_of_department(department, at, at)
    items = [s for s in whole.items if s.state != "disposed"]
    places = Place.objects.filter(department=department).select_related("within")
    lines = Line.objects.filter(department=department).select_related("home")
    return Bay(
        places=_holdings(places, items, whole.lots, "place"),
        lines=_holdings(lines, items, whole.lots, "line"),
        nowhere=_holding(
            None, [s for s in items if place_id_of(s) is None], [s for s in whole.lots if place_id_of(s) is None]
        ),
        states=Counter(s.state for s in whole.items),
    )


def _holdings(
    subjects: Iterable[Any], items: Iterable[ItemStanding], lots: Iterable[LotStanding], of: str
) -> list[Holding]:
    item_groups, lot_groups = defaultdict(list), defaultdict(list)
    for groups, standings in ((item_groups, items), (lot_groups, lots)):
        for standing in standings:
            groups[_place_or_line_id(standing, of)].append(standing)
    return [_holding(subject, item_groups[subject.pk], lot_groups[subject.pk]) for subject in subjects]


def _place_or_line_id(standing: ItemStanding | LotStanding, of: str) -> int | None:
    if of == "place":
        return place_id_of(standing)
    return standing.line.pk if standing.line else None


def place_id_of(standing: ItemStanding | LotStanding) -> int | None:
    """Return the id of the place where something stands; what is on a line and posted nowhere is at its home."""
    if standing.place is not None:
        return standing.place.pk
    return standing.line.home_id if standing.line else None


def _holding(subject: Any, items: Sequence[ItemStanding], lots: Sequence[LotStanding]) -> Holding:
    return Holding(subject, len(items), len(lots), Counter(s.state for s in items))


@dataclass(frozen=True)
class PlaceView:
    """One place with all that stands in it, and in the places within it."""

    place: Place
    within: list[Place]  # from the outermost
    holds: list[Place]
    items: list[ItemStanding]
    lots: list[LotStanding]
    lines: list[Line]
    seal: queries.SealStanding | None = None

    @property
    def is_container(self) -> bool:
        return self.place.sort == Place.Sort.CONTAINER


def standing_at(department: Department, place: Place, at: datetime) -> tuple[list[ItemStanding], list[LotStanding]]:
    """Return what stands at a place and in the places within it, in bay order, less what is no longer there."""
    ids = queries.place_ids_within(department, place)
    whole = queries.standing_of_department(department, at, at)
    items = [s for s in whole.items if s.state not in GONE and place_id_of(s) in ids]
    return items, [s for s in whole.lots if s.on_hand and place_id_of(s) in ids]


def place_view(department: Department, place: Place, at: datetime) -> PlaceView:
    """Return one place with what stands there."""
    items, lots = standing_at(department, place, at)
    within, outer = [], place.within
    while outer is not None and outer not in within:
        within.insert(0, outer)
        outer = outer.within
    return PlaceView(
        place=place,
        within=within,
        holds=list(place.holds.all()),
        items=items,
        lots=lots,
        lines=list(Line.objects.filter(department=department, home=place)),
        seal=queries.seals(department, at, at).get(place.pk) if place.sort == Place.Sort.CONTAINER else None,
    )


# Items -------------------------------------------------------------------------------------------------------------


def search(department: Department, words: str) -> QuerySet[Item]:
    """Return items whose tag, name, serial or plate holds every word."""
    rows = Item.objects.filter(department=department).select_related("kind", "department")
    for word in words.split():
        rows = rows.filter(
            Q(tag__icontains=word) | Q(name__icontains=word) | Q(serial__icontains=word) | Q(plate__icontains=word)
        )
    return rows


def standings(items: Iterable[Item], at: datetime) -> list[ItemStanding]:
    """Return how some items of one department stand, in the order given."""
    items = list(items)
    found = queries.standing_of_items(items, at, at)
    return [found[item.pk] for item in items if item.pk in found]


@dataclass(frozen=True)
class SpecRow:
    """One line of the nameplate; ``assumed`` where the kind's default stands in for a plate that says nothing."""

    label: str
    value: Any
    unit: str
    assumed: bool

    @property
    def is_number(self) -> bool:
        return isinstance(self.value, int | float) and not isinstance(self.value, bool)


@dataclass(frozen=True)
class Event:
    """One ledger row of an item as its page lists it, newest first."""

    at: datetime
    recorded_at: datetime
    what: str
    by: str
    note: str
    corrected: bool = False


@dataclass(frozen=True)
class ItemView:
    """One item's card and its history in the cache."""

    standing: ItemStanding
    spec: list[SpecRow]
    events: list[Event] = field(default_factory=list)

    @property
    def item(self) -> Item:
        return self.standing.item

    @property
    def federal_percent(self) -> str:
        """Return the federal share in percent, to the digits the record keeps."""
        share = self.item.federal_share
        return "" if share is None else f"{float(share) * 100:.2f}".rstrip("0").rstrip(".")


def item_view(standing: ItemStanding) -> ItemView:
    """Return one item's card: its plate by its kind's fields, and everything the ledgers say of it."""
    return ItemView(standing, _spec_rows(standing.item), _events(standing.item))


def _spec_rows(item: Item) -> list[SpecRow]:
    rows, known = [], dict(item.spec)
    for asked in item.kind.spec_fields:
        value = known.pop(asked["key"], None)
        default = asked.get("default")
        if value in (None, ""):
            if default is None:
                continue
            rows.append(SpecRow(asked["label"], default, asked.get("unit", ""), True))
        else:
            rows.append(SpecRow(asked["label"], value, asked.get("unit", ""), False))
    # What the register gave beyond the kind's own fields is shown too, under its own name.
    return rows + [SpecRow(key.replace("_", " "), value, "", False) for key, value in known.items()]


def _events(item: Item) -> list[Event]:
    of_item = {"department_id": item.department_id, "item": item}
    states = StateEvent.objects.filter(**of_item)
    postings = Posting.objects.filter(**of_item).select_related("place", "line")
    counts = Count.objects.filter(**of_item)
    corrected = {
        model: set(rows.exclude(corrects=None).values_list("corrects_id", flat=True))
        for model, rows in ((StateEvent, states), (Posting, postings), (Count, counts))
    }
    events = [_event(row, _state_words(row), row.reason, corrected) for row in states]
    events += [_event(row, _posting_words(row), row.note, corrected) for row in postings]
    events += [_event(row, f"Counted {row.counted}", row.note, corrected) for row in counts]
    return sorted(events, key=lambda e: (e.at, e.recorded_at), reverse=True)


def _event(row: Any, what: str, note: str, corrected: Mapping[type, set[int]]) -> Event:
    return Event(row.happened_at, row.recorded_at, what, row.by_name, note, row.pk in corrected[type(row)])


def _state_words(row: StateEvent) -> str:
    return f"{row.get_event_display()} ({row.mode_code})" if row.mode_code else row.get_event_display()


def _posting_words(row: Posting) -> str:
    where = ", ".join(name for name in (row.place and row.place.name, row.line and row.line.name) if name)
    how_many = f" {abs(row.change)}" if row.change else ""
    return f"{row.get_reason_display()}{how_many}{f': {where}' if where else ''}"


# Load list ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LoadView:
    """One row of a load list beside what is aboard."""

    row: Any
    present: int  # units aboard, in whatever state
    serving: int  # of those, units that count
    not_serving: tuple[ItemStanding, ...]
    expired: int = 0
    held: int = 0  # in date, and withheld
    other_way: bool = False  # another way of the same function carries it

    @property
    def by_person(self) -> bool:
        return self.row.scales == "person"

    @property
    def shortage(self) -> int:
        return max(0, self.row.quantity - self.serving)

    @property
    def is_whole(self) -> bool:
        """Whether there is nothing to say of it: all there, all of it counting."""
        return not (self.shortage or self.expired or self.held or self.not_serving)

    @property
    def below_need(self) -> bool:
        """Whether fewer count than the line needs to carry its rated lanes, and no other way carries them."""
        return not self.other_way and self.lacks

    @property
    def lacks(self) -> bool:
        return not self.by_person and self.serving < self.row.needed

    @property
    def people(self) -> int | None:
        """Return how many people it serves; None where it is not counted by the person."""
        return int(self.serving // self.row.needed) if self.by_person and self.row.needed else None


@dataclass(frozen=True)
class LoadGroup:
    function: str
    rows: list[LoadView]


@dataclass(frozen=True)
class LoadList:
    """A line's load list beside what is aboard it, and what is aboard that the list does not name."""

    line: Line
    groups: list[LoadGroup]
    assumed: bool
    beyond: list[ItemStanding]
    beyond_lots: list[LotStanding]

    @cached_property
    def rows(self) -> list[LoadView]:
        return [row for group in self.groups for row in group.rows]

    @property
    def all_assumed(self) -> bool:
        return bool(self.rows) and all(row.row.assumed for row in self.rows)

    @property
    def short(self) -> list[LoadView]:
        return [row for row in self.rows if row.shortage]


def load_list(line: Line, at: datetime, on: date) -> LoadList:
    """Return a line's load list with what is present, what counts, and the shortage of each row."""
    return _load_list_of(line, queries.standing(line, at, at), queries.load_list(line, on), on)


def load_lists(department: Department, at: datetime, on: date) -> tuple[list[LoadList], queries.Standing]:
    """Return every line's load list as ``load_list`` does for one, and the whole cache, however many lines there are.

    ``on`` may lie ahead: what expires by then counts for nothing.
    """
    whole, rows = queries.standing_of_department(department, at, at), queries.load_lists(department, on)
    found = []
    for line in Line.objects.filter(department=department).select_related("home"):
        aboard = queries.Standing(
            line,
            at,
            at,
            tuple(s for s in whole.items if s.line and s.line.pk == line.pk),
            tuple(s for s in whole.lots if s.line and s.line.pk == line.pk),
        )
        found.append(_load_list_of(line, aboard, rows.get(line.pk, []), on))
    return found, whole


def _load_list_of(line: Line, standing: queries.Standing, rows: Sequence[Any], on: date) -> LoadList:
    items, lots = defaultdict(list), defaultdict(list)
    for s in standing.items:
        items[s.item.kind_id].append(s)
    for s in standing.lots:
        lots[s.lot.kind_id].append(s)
    views = [_load_view(row, items[row.kind_id], lots[row.kind_id], on) for row in rows]
    groups = defaultdict(list)
    for view in _with_other_ways(views):
        groups[view.row.function].append(view)
    named = {row.kind_id for row in rows}
    return LoadList(
        line=line,
        groups=[LoadGroup(name, groups[name]) for name in sorted(groups, key=chain_place)],
        assumed=any(row.assumed for row in rows),
        beyond=[s for s in standing.items if s.item.kind_id not in named and s.state not in GONE],
        beyond_lots=[s for s in standing.lots if s.lot.kind_id not in named and s.on_hand],
    )


def _with_other_ways(views: Sequence[LoadView]) -> list[LoadView]:
    """Return the rows of a list, each knowing whether another way of its function carries the line."""
    ways: dict[str, dict[str, bool]] = defaultdict(dict)
    for view in views:
        if view.row.needed and not view.by_person:
            carried = ways[view.row.function]
            carried[view.row.way] = carried.get(view.row.way, True) and not view.lacks
    return [
        replace(view, other_way=any(ok for way, ok in ways[view.row.function].items() if way != view.row.way))
        for view in views
    ]


def chain_place(function: str) -> int:
    """Return where a function stands in the chain; what serves none of the fourteen comes last."""
    return FUNCTIONS.index(function) if function in FUNCTIONS else len(FUNCTIONS)


def _load_view(row: Any, items: Sequence[ItemStanding], lots: Sequence[LotStanding], on: date) -> LoadView:
    dated = [s for s in lots if not is_expired(s.lot, on)]
    good = [s for s in dated if not s.held]
    stock = sum(s.on_hand for s in lots)
    return LoadView(
        row=row,
        present=sum(s.quantity for s in items) + stock,
        serving=sum(s.quantity for s in items if s.state == IN_SERVICE) + sum(s.on_hand for s in good),
        not_serving=tuple(s for s in items if s.state != IN_SERVICE),
        expired=stock - sum(s.on_hand for s in dated),
        held=sum(s.on_hand for s in dated if s.held),
    )


def is_expired(lot: Lot, on: date) -> bool:
    """Whether a lot counts for nothing on a day; it must outlast the day it is relied on."""
    return lot.expires_on is not None and lot.expires_on <= on


# Lots --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LotView:
    """One lot on one line, or in the store."""

    standing: LotStanding
    expired: bool
    days_left: int | None
    people: int | None

    @property
    def counts(self) -> bool:
        return not self.expired and not self.standing.held

    @property
    def soon(self) -> bool:
        return self.days_left is not None and 0 <= self.days_left <= SOON_DAYS


@dataclass(frozen=True)
class Stock:
    """All lots of one kind on one line, beside its par."""

    kind: ItemKind
    line: Line | None
    lots: list[LotView]
    par: int | None

    @property
    def on_hand(self) -> int:
        """Return units that count: what is past its date or withheld does not."""
        return sum(v.standing.on_hand for v in self.lots if v.counts)

    @property
    def people(self) -> int | None:
        served = [v.people for v in self.lots if v.people is not None and v.counts]
        return sum(served) if served else None

    @property
    def shortage(self) -> int:
        return max(0, (self.par or 0) - self.on_hand)


def stocks(department: Department, at: datetime, on: date) -> list[Stock]:
    """Return every consumable by line and kind, with its lots; the store (no line) comes last."""
    whole = queries.standing_of_department(department, at, at)
    pars: dict[tuple[int, int], int] = defaultdict(int)
    for line_id, rows in queries.load_lists(department, on).items():
        for row in rows:
            pars[line_id, row.kind_id] += row.quantity
    groups: dict[tuple[int | None, int], list[LotStanding]] = defaultdict(list)
    for s in whole.lots:
        groups[s.line.pk if s.line else None, s.lot.kind_id].append(s)
    made = [
        Stock(
            kind=lots[0].lot.kind,
            line=lots[0].line,
            lots=[_lot_view(s, on) for s in lots],
            par=pars.get((line_id, kind_id)) if line_id else None,
        )
        for (line_id, kind_id), lots in groups.items()
    ]
    return sorted(made, key=lambda s: (s.line is None, s.line.order if s.line else 0, str(s.line), s.kind.name))


def _lot_view(standing: LotStanding, on: date) -> LotView:
    lot = standing.lot
    each = lot.per_person or lot.kind.per_person
    return LotView(
        standing=standing,
        expired=is_expired(lot, on),
        days_left=(lot.expires_on - on).days if lot.expires_on else None,
        people=int(standing.on_hand // each) if each else None,
    )


# Crew --------------------------------------------------------------------------------------------------------------


def roster(department: Department, on: date) -> list[CrewStanding]:
    """Return everybody on the roster on a day, whoever counts first, then by the day their qualification ends."""
    people = CrewMember.objects.filter(Q(left_on=None) | Q(left_on__gt=on), department=department)
    found = []
    for member in people.select_related("line"):
        counts = currency(on, qualified_on=member.qualified_on, qualified_until=member.qualified_until)
        found.append(CrewStanding(member, counts.qualified, counts.until))
    return sorted(found, key=lambda s: (not s.qualified, s.until or date.max, s.name))
