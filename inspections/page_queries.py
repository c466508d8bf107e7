"""What the pages of the Walk show, each in a fixed number of queries however long the walk."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any

from django.db.models import Count, QuerySet

from inspections import queries
from inspections.models import Inspection, Procedure, Walk
from inspections.queries import DueCheck
from inspections.queries.due import LINE_CHECKS, lot_due
from inspections.queries.ledgers import Rules
from inventory import queries as cache
from inventory.models import FailureMode, Item, Line, Place
from inventory.page_queries import place_id_of
from inventory.queries import ItemStanding, LotStanding
from shared.models import Department, User
from shared.templatetags.holdair import day, in_sentence

# What comes due before the next monthly walk is worth doing on this one.
SOON = timedelta(days=31)
NOT_WALKED = frozenset({"disposed", "absent", "lent"})
EVERYWHERE = "look"


def procedures(department: Department, on: date) -> dict[str, Procedure]:
    """Return by check key the version of every procedure in force on a day, else the first there ever was."""
    found: dict[str, Procedure] = {}
    for row in Procedure.objects.filter(department=department).order_by("effective_on", "version"):
        if row.check_key not in found or row.effective_on <= on:
            found[row.check_key] = row
    return found


def check_name(procedure: Procedure | None, check_key: str) -> str:
    return procedure.name if procedure else check_key.replace("_", " ").capitalize()


def names_of(due: DueCheck | None, modes: Mapping[str, FailureMode]) -> tuple[str, ...]:
    """Return the names of the failure modes that a check is due for."""
    return tuple(modes[code].name if code in modes else code for code in due.mode_codes) if due else ()


# Places with what is due there ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PlaceDue:
    """One place with what is due among the things that stand directly in it."""

    place: Place
    things: int
    due: int
    never: int
    oldest: date | None

    @property
    def words(self) -> str:
        if not self.due:
            return "nothing due"
        parts = [f"{self.due} check{'' if self.due == 1 else 's'} due"]
        if self.never:
            parts.append(f"{self.never} of them never proven" if self.never < self.due else "never proven")
        if self.oldest:
            parts.append(f"longest overdue since {day(self.oldest)}")
        return ", ".join(parts)


def places_due(department: Department, at: datetime, on: date) -> list[PlaceDue]:
    """Return every place that holds something, with how many checks a walk of it would find due by a day."""
    whole = cache.standing_of_department(department, at, at)
    items = [s for s in whole.items if s.state not in NOT_WALKED]
    lots = [s for s in whole.lots if s.on_hand]
    things: dict[int | None, int] = defaultdict(int)
    for standing in (*items, *lots):
        things[place_id_of(standing)] += 1
    due: dict[int | None, list[tuple[date, str]]] = defaultdict(list)
    for place_id, due_on, why in (*_due_of_items(items, on), *_due_of_lots(lots, Rules(department, on), on)):
        if due_on <= on:
            due[place_id].append((due_on, why))
    places = Place.objects.filter(department=department).select_related("within")
    return [_place_due(place, things[place.pk], due[place.pk]) for place in places if things[place.pk]]


def _due_of_items(standings: Sequence[ItemStanding], on: date) -> Iterator[tuple[int | None, date, str]]:
    """Give (place, day, why) of each check; one of a whole line stands once, where the line is at home."""
    by_item = {s.item.pk: s for s in standings}
    of_lines: dict[tuple[Line, str], tuple[date, str]] = {}
    for check in queries.due([s.item for s in standings], on):
        standing = by_item[check.item.pk]
        if check.check_key not in LINE_CHECKS:
            yield place_id_of(standing), check.due_on, check.why
        elif standing.line:
            key = standing.line, check.check_key
            of_lines[key] = min(of_lines.get(key, (date.max, "")), (check.due_on, check.why))
    for (line, _), (due_on, why) in of_lines.items():
        yield line.home_id, due_on, why


def _due_of_lots(standings: Sequence[LotStanding], rules: Rules, on: date) -> Iterator[tuple[int | None, date, str]]:
    for standing in standings:
        if due_on := lot_due(standing, rules, on):
            yield place_id_of(standing), due_on, "interval" if standing.counted_on else "never proven"


def _place_due(place: Place, things: int, checks: Sequence[tuple[date, str]]) -> PlaceDue:
    dated = [due_on for due_on, why in checks if why == "interval"]
    never = sum(why == "never proven" for _, why in checks)
    return PlaceDue(place, things, len(checks), never, min(dated, default=None))


def open_walks(department: Department, by: User) -> tuple[list[Walk], list[Walk]]:
    """Return the walks that are not signed, with how many checks each has: somebody's own, and those of others."""
    walks = queries.open_walks(department).annotate(checks=Count("inspections"))
    mine: list[Walk] = []
    others: list[Walk] = []
    for walk in walks:
        walk.walker_name = walk.taken_name or walk.by.signed_name
        (mine if (walk.taken_by or walk.by_id) == by.pk else others).append(walk)
    return mine, others


def signed_walks(department: Department) -> QuerySet[Walk]:
    walks = Walk.objects.filter(department=department).exclude(signed_at=None).select_related("place", "by")
    return walks.annotate(checks=Count("inspections")).order_by("-signed_at")


# One walk ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CheckRow:
    """One check of one thing on a walk: whether it is due, and what it came to if it was done."""

    key: str
    name: str
    due: DueCheck | None = None
    due_on: date | None = None
    why: str = ""
    done: Inspection | None = None
    on: date | None = None
    shows: tuple[str, ...] = ()  # names of the failure modes that it is due for

    @property
    def is_due(self) -> bool:
        """Whether it is due by today."""
        return self.due_on is not None and self.due_on <= self.on

    @property
    def is_pressing(self) -> bool:
        """Whether it is due before the next walk comes round."""
        return self.due_on is not None and self.due_on <= self.on + SOON

    @property
    def words(self) -> str:
        """Return when it is due, as the row says it."""
        if self.due_on is None:
            return "when asked"
        if self.why == "restore":
            return "to restore it"
        if self.why in ("after use", "never proven"):
            more = f" and {len(self.shows) - 1} more" if len(self.shows) > 1 else ""
            return f"{self.why}: {in_sentence(self.shows[0])}{more}" if self.shows else self.why
        if self.due_on < self.on:
            return f"overdue since {day(self.due_on)}"
        return "due today" if self.due_on == self.on else f"due {day(self.due_on)}"


@dataclass(frozen=True)
class WalkRow:
    """One thing that stands in the place walked."""

    of: str  # item, lot or line
    pk: int
    tag: str
    name: str
    state: str
    where: str
    checks: list[CheckRow]
    quantity: int = 1
    awaiting_second_name: bool = False
    count_line: int | None = None  # a lot that stands on several lines is counted on each of them
    subject: Any = None  # the item, lot or line itself
    place: Place | None = None
    sealed: bool = False  # a lot whose container was found sealed on this walk: its count stands

    @property
    def label(self) -> str:
        """Return what people call it: a tag is on the thing itself, a lot's number only on its box."""
        return self.name if self.of == "lot" else self.tag

    @property
    def done(self) -> list[CheckRow]:
        return [check for check in self.checks if check.done]

    @property
    def pressing(self) -> list[CheckRow]:
        return [check for check in self.checks if check.is_pressing and not check.done]

    @property
    def others(self) -> list[CheckRow]:
        return [check for check in self.checks if not check.is_pressing and not check.done]

    @property
    def again(self) -> list[CheckRow]:
        """Return every check that may be done beside those that press: done ones again, others early."""
        return self.others + self.done

    @property
    def anchor(self) -> str:
        return f"{self.of}-{self.pk}"


@dataclass(frozen=True)
class Found:
    """One check of a walk that did not simply pass."""

    row: Inspection

    @property
    def name(self) -> str:
        if self.row.item:
            return self.row.item.tag
        return f"lot {self.row.lot.number}" if self.row.lot else str(self.row.line)

    @property
    def check(self) -> str:
        return check_name(self.row.procedure, self.row.check_key).lower()


@dataclass(frozen=True)
class WalkView:
    """One walk: everything in its place in bay order, with what is due and what is done."""

    walk: Walk
    rows: list[WalkRow]
    lines: list[WalkRow]
    inspections: list[Inspection]

    @property
    def total(self) -> int:
        return len(self.rows)

    @cached_property
    def reached(self) -> int:
        return len(self.rows) - len(self.not_reached)

    @property
    def not_reached(self) -> list[WalkRow]:
        return [row for row in self.rows if not row.done and not row.sealed]

    @property
    def found(self) -> list[Found]:
        """Return the checks that found something, void ones among them: those have to be done again."""
        return [Found(row) for row in self.inspections if row.verdict != Inspection.Verdict.PASS]

    @property
    def left_due(self) -> int:
        return sum(check.is_due for row in (*self.rows, *self.lines) for check in row.pressing)

    @property
    def containers(self) -> list[Place]:
        """Return the containers that something here stands in."""
        places = {row.place.pk: row.place for row in self.rows if row.place}
        return [place for place in places.values() if place.sort == Place.Sort.CONTAINER]

    @property
    def took(self) -> float | None:
        """Return how long it took from its beginning to its signature. [min]"""
        if self.walk.signed_at is None:
            return None
        return (self.walk.signed_at - self.walk.started_at).total_seconds() / 60

    @property
    def percent(self) -> float:
        return 100 * self.reached / self.total if self.total else 0.0

    def matching(self, typed: str) -> list[WalkRow]:
        """Return the rows that a tag, typed or scanned, means: that one exactly, else those that hold it."""
        if not (wanted := typed.strip().casefold()):
            return self.rows
        exactly = [row for row in self.rows if row.tag.casefold() == wanted]
        return exactly or [row for row in self.rows if wanted in f"{row.tag} {row.name}".casefold()]

    def next_after(self, of: str = "", pk: int = 0) -> tuple[WalkRow, CheckRow] | None:
        """Return the next check that presses: of the same thing, then on from it in bay order, round to the first."""
        here = next((i for i, row in enumerate(self.rows) if (row.of, row.pk) == (of, pk)), 0)
        for row in (*self.rows[here:], *self.rows[:here], *self.lines):
            if row.pressing:
                return row, row.pressing[0]
        return None


def walk_of(department: Department, pk: int) -> Walk | None:
    return Walk.objects.filter(department=department, pk=pk).select_related("place", "by").first()


def walk_view(walk: Walk, at: datetime, on: date) -> WalkView:
    """Return a walk with everything that stands in its place and in the places within it."""
    inspections = done_on([walk])
    rows, lines = place_rows(walk.department, walk.place, at, on, inspections)
    shut = sealed_since(walk.department, rows, walk.started_at, at)
    rows = [replace(row, sealed=row.of == "lot" and row.place is not None and row.place.pk in shut) for row in rows]
    return WalkView(walk=walk, rows=rows, lines=lines, inspections=inspections)


def sealed_since(department: Department, rows: Iterable[WalkRow], since: datetime, at: datetime) -> set[int]:
    """Return the ids of those containers among the places of some rows whose seal was seen unbroken since."""
    containers = {row.place.pk for row in rows if row.place and row.place.sort == Place.Sort.CONTAINER}
    if not containers:
        return set()
    seals = cache.seals(department, at, at)
    return {pk for pk in containers if (held := seals.get(pk)) and held.seen_at and held.seen_at >= since}


def done_on(walks: Iterable[Walk]) -> list[Inspection]:
    """Return what was checked on some walks, in the order it was; what was corrected since is left out."""
    rows = Inspection.objects.filter(walk__in=[walk.pk for walk in walks], corrections=None)
    return list(rows.select_related("procedure", "item", "lot", "line").order_by("happened_at", "pk"))


def place_rows(
    department: Department, place: Place, at: datetime, on: date, inspections: Iterable[Inspection] = ()
) -> tuple[list[WalkRow], list[WalkRow]]:
    """Return what stands in a place in bay order, and the lines at home there, each with its checks."""
    whole = cache.standing_of_department(department, at, at)
    places = cache.place_ids_within(department, place)
    here = [s for s in whole.items if s.state not in NOT_WALKED and place_id_of(s) in places]
    lots = [s for s in whole.lots if s.on_hand and place_id_of(s) in places]
    lines = list(Line.objects.filter(department=department, home__in=places))
    aboard = [s for s in whole.items if s.line and s.line in lines]
    by_item: dict[int, list[DueCheck]] = defaultdict(list)
    for check in queries.due([s.item for s in {s.item.pk: s for s in (*here, *aboard)}.values()], on):
        by_item[check.item.pk].append(check)
    drawer = _Drawer(department, on, by_item, inspections)
    return (
        [drawer.item_row(s) for s in here] + [drawer.lot_row(s, whole.lots) for s in lots],
        [drawer.line_row(line, [s.item for s in aboard if s.line == line]) for line in lines],
    )


class _Drawer:
    """Makes the rows of one place from what was read once."""

    def __init__(
        self,
        department: Department,
        on: date,
        due: Mapping[int, Sequence[DueCheck]],
        inspections: Iterable[Inspection],
    ) -> None:
        self.on, self.due, self.procedures = on, due, procedures(department, on)
        self.modes = cache.modes_for(department, on)
        self.rules = Rules(department, on)
        self.done: dict[tuple[str, int, str], Inspection] = {}
        for one in inspections:
            for of in ("item", "lot", "line"):
                if pk := getattr(one, f"{of}_id"):
                    self.done[of, pk, one.check_key] = one

    def check(self, of: str, pk: int, key: str, due: DueCheck | None = None, **said: Any) -> CheckRow:
        known = {"due_on": due.due_on, "why": due.why} if due else said
        name = check_name(self.procedures.get(key), key)
        shows = names_of(due, self.modes)
        return CheckRow(key, name, due, done=self.done.get((of, pk, key)), on=self.on, shows=shows, **known)

    def item_row(self, standing: ItemStanding) -> WalkRow:
        item = standing.item
        due = {check.check_key: check for check in self.due.get(item.pk, ())}
        keys = [key for key in item.kind.checks if key not in LINE_CHECKS]
        # What is due soonest stands first; a look is open to everything.
        keys = sorted(keys, key=lambda key: due[key].due_on if key in due else date.max)
        keys += [EVERYWHERE] if EVERYWHERE not in keys else []
        return WalkRow(
            of="item",
            pk=item.pk,
            tag=item.tag,
            name=item.name,
            state=standing.state,
            where=str(standing.line or ""),
            checks=[self.check("item", item.pk, key, due.get(key)) for key in keys],
            quantity=standing.quantity,
            awaiting_second_name=standing.awaiting_second_name,
            subject=item,
            place=standing.place,
        )

    def lot_row(self, standing: LotStanding, all_lots: Iterable[LotStanding]) -> WalkRow:
        lot = standing.lot
        on_lines = [s for s in all_lots if s.lot.pk == lot.pk]
        due_on = lot_due(standing, self.rules, self.on)
        why = "interval" if standing.counted_on else "never proven"
        return WalkRow(
            of="lot",
            pk=lot.pk,
            tag=lot.number,
            name=lot.name,
            state="",
            where=str(standing.line or "store"),
            checks=[self.check("lot", lot.pk, "count", due_on=due_on, why=why)],
            quantity=standing.on_hand,
            count_line=standing.line.pk if standing.line and len(on_lines) > 1 else None,
            subject=lot,
            place=standing.place,
        )

    def line_row(self, line: Line, items: Iterable[Item]) -> WalkRow:
        first: dict[str, DueCheck] = {}
        seen = {key for item in items for key in item.kind.checks}
        for item in items:
            for check in self.due.get(item.pk, ()):
                if check.check_key in LINE_CHECKS:
                    held = first.get(check.check_key)
                    first[check.check_key] = check if held is None or check.due_on < held.due_on else held
        keys = [key for key in LINE_CHECKS if key in seen or key == "setup"]
        checks = [self.check("line", line.pk, key, first.get(key)) for key in keys]
        return WalkRow("line", line.pk, line.name, "the line as a whole", "", "", checks, subject=line)
