"""Everything a department has a date for: checks, season campaigns, and what ends or is expected on a day.

The day of a check is the day of record (``DueCheck.since``): a proof moves it and nothing else does, neither a void
check, nor a look, nor the day of asking. What is past and not done stays on its own day.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.urls import reverse

from inspections import schedule
from inspections.models import Procedure
from inspections.queries.due import LINE_CHECKS, DueCheck, due, lot_due
from inspections.queries.evidence import evidence, line_evidence
from inspections.queries.instruments import instruments
from inspections.queries.ledgers import Rules
from inventory import queries as cache
from inventory.crew_currency import ORIGIN as CREW_POLICY
from inventory.crew_currency import currency
from inventory.models import CrewMember, FailureMode, Item, ItemFile, ItemKind, Line, Lot, Place
from inventory.queries import ItemStanding, LotStanding
from inventory.queries.orders import open_orders
from shared.formulas.dates import month_end
from shared.models import Department, Membership

GONE: Final = frozenset({"disposed", "absent", "lent", "condemned"})
# A proof so long before the campaign's month belongs to it: who drains in the last week of September has drained.
EARLY: Final = timedelta(days=31)
ORIGIN_WORDS: Final[Mapping[str, str]] = {
    "law": "law",
    "maker": "the maker",
    "own": "local decision",
    "modes": "failure modes of the trade",
    "standard": "standard or guidance",
    "policy": "local policy",
}
WHY_WORDS: Final[Mapping[str, str]] = {
    "restore": "by condition: a fault stands until this check passes",
    "use": "after use",
    "repair": "after repair",
    "move": "after it was moved",
    "refill": "after it was filled",
    "never proven": "never proven",
    "interval": "its interval",
}
CHECK, SEASON, SENDING, EXPIRY, CYLINDER, CREW = "check", "season", "sending", "expiry", "cylinder", "crew"
CALIBRATION, ORDER, PASS, PAPER = "calibration", "order", "pass", "paper"
SORTS: Final[Mapping[str, str]] = {
    CHECK: "checks",
    SEASON: "season campaigns",
    SENDING: "asked at sending",
    EXPIRY: "lots expiring",
    CYLINDER: "cylinder dates",
    CREW: "crew qualifications",
    CALIBRATION: "calibrations",
    ORDER: "orders expected",
    PASS: "passes ending",
    PAPER: "papers ending",
}


@dataclass(frozen=True)
class AgendaRow:
    """One thing with a date.

    Attributes:
        key: which thing it is, whatever its date.
        due_on: the day; None for what is asked at an event that has no day yet (``SENDING``).
        what: the check, campaign or date.
        why: what makes it due.
        rule: interval and grace of a check, None for other dates.
        origin: law, standard or guidance, local policy, the maker, ... with ``source``, its text.
        person: whose it is: the custodian of a thing, or the person the date is of.
        open_checks: what a season campaign still asks for, as (item, check key, name).
        unseen: failure modes of a campaign that no check sees.
    """

    key: str
    sort: str
    due_on: date | None
    what: str
    subject: str
    why: str = ""
    rule: schedule.Rule | None = None
    origin: str = ""
    source: str = ""
    check_key: str = ""
    item: Item | None = None
    lot: Lot | None = None
    line: Line | None = None
    place: Place | None = None
    kind: ItemKind | None = None
    person: str = ""
    to: tuple[str, tuple[Any, ...]] | None = None
    open_checks: tuple[tuple[Item, str, str], ...] = ()
    unseen: tuple[str, ...] = ()

    @property
    def link(self) -> str:
        """Return the page where it is done or stands; empty where there is none."""
        return reverse(self.to[0], args=self.to[1]) if self.to else ""

    @property
    def grace_days(self) -> int:
        return self.rule.grace_days if self.rule else 0

    def is_overdue(self, on: date) -> bool:
        return self.due_on is not None and self.due_on < on


@dataclass(frozen=True)
class Wanted:
    """What of the agenda is asked for; an empty field asks for all."""

    place: Place | None = None
    line: Line | None = None
    kind: ItemKind | None = None
    person: str = ""
    check_key: str = ""
    sort: str = ""
    _within: frozenset[int] = field(default=frozenset())

    def within(self, department: Department) -> "Wanted":
        """Return the same with the places inside the place asked for."""
        if self.place is None:
            return self
        inside = frozenset(cache.place_ids_within(department, self.place))
        return Wanted(self.place, self.line, self.kind, self.person, self.check_key, self.sort, inside)

    def takes(self, row: AgendaRow) -> bool:
        """Return whether a row is asked for."""
        return (
            (self.place is None or (row.place is not None and row.place.pk in self._within))
            and (self.line is None or row.line == self.line)
            and (self.kind is None or row.kind == self.kind)
            and (not self.person or row.person == self.person)
            and (not self.check_key or self.check_key == row.check_key or self._asks_in(row))
            and (not self.sort or row.sort == self.sort)
        )

    def _asks_in(self, row: AgendaRow) -> bool:
        return any(key == self.check_key for _, key, _ in row.open_checks)


def agenda(
    department: Department, on: date, until: date, *, wanted: Wanted | None = None, with_passes: bool = False
) -> list[AgendaRow]:
    """Return all that is overdue on a day or falls due until another, soonest first; what has no day comes last.

    Args:
        department: whose it is.
        on: the day asked on.
        until: last day looked ahead to.
        wanted: place, line, kind, person, check or sort; all where left out.
        with_passes: with the passes of people that end; for whoever may see people.
    """
    wanted = (wanted or Wanted()).within(department)
    reader = _Reader(department, on, until)
    rows = [row for row in reader.rows(with_passes) if wanted.takes(row)]
    shown = [row for row in rows if row.due_on is None or row.due_on <= until]
    return sorted(shown, key=lambda r: (r.due_on or date.max, list(SORTS).index(r.sort), r.subject, r.what, r.key))


def may_see(row: AgendaRow, membership: Membership) -> bool:
    """Return whether a row concerns somebody: others' qualifications and passes are the head's and the officer's."""
    if membership.role in (Membership.Role.HEAD, Membership.Role.OFFICER):
        return True
    if row.sort in (CREW, PASS):
        return row.person == membership.user.signed_name
    if membership.role == Membership.Role.GRANTS:
        return row.sort in (ORDER, PAPER, CALIBRATION, CYLINDER, EXPIRY)
    return row.sort != ORDER


def campaigns(department: Department, on: date, until: date) -> list[tuple[str, date, date]]:
    """Return (name, first day, last day) of the season campaigns: the newest that has begun, and those to come."""
    found = []
    for year in range(on.year - 1, until.year + 1):
        for name, month in (
            ("Cold-weather cut-over", department.cold_season_from),
            ("Spring proof", department.cold_season_to),
        ):
            first = date(year, month, 1)
            found.append((name, first, month_end(first)))
    found.sort(key=lambda c: c[1])
    begun = [c for c in found if c[1] <= on]
    return begun[-1:] + [c for c in found if on < c[1] and c[2] <= until]


class _Reader:
    """Reads the department once and gives its rows."""

    def __init__(self, department: Department, on: date, until: date) -> None:
        self.department, self.on, self.until = department, on, until
        self.zone = ZoneInfo(department.time_zone)
        self.at = datetime.combine(on, time.max, tzinfo=self.zone)
        whole = cache.standing_of_department(department, self.at, self.at)
        self.standings = [s for s in whole.items if s.state not in GONE]
        self.lots = [s for s in whole.lots if s.on_hand]
        self.rules = Rules(department, on)
        # Its time zone and seasons are read from this department, once.
        for standing in self.standings:
            standing.item.department = department

    def rows(self, with_passes: bool) -> Iterator[AgendaRow]:
        yield from self._checks()
        yield from self._counts()
        yield from self._drills()
        yield from self._seasons()
        yield from self._sendings()
        yield from self._expiries()
        yield from self._cylinders()
        yield from self._crew()
        yield from self._calibrations()
        yield from self._orders()
        yield from self._papers()
        if with_passes:
            yield from self._passes()

    # Checks --------------------------------------------------------------------------------------------------------

    @cached_property
    def names(self) -> dict[str, str]:
        rows = Procedure.objects.filter(department=self.department).only("check_key", "name", "effective_on")
        held = cache.in_force(rows, self.on, lambda row: row.check_key)
        return {str(key): row.name for key, row in held.items()}

    def name(self, check_key: str) -> str:
        return self.names.get(check_key) or check_key.replace("_", " ").capitalize()

    @cached_property
    def homes(self) -> dict[int, Place]:
        return {p.pk: p for p in Place.objects.filter(department=self.department)}

    def place_of(self, standing: ItemStanding | LotStanding) -> Place | None:
        if standing.place is not None:
            return standing.place
        home = standing.line.home_id if standing.line else None
        return self.homes.get(home) if home else None

    def rule_of(self, kind_key: str, code: str) -> dict[str, Any]:
        """Return the rule of a mode on a kind with its origin, and the source that says as much."""
        rule, said = self.rules.rule(kind_key, code), self.rules.interval(kind_key, code)
        origin, source = rule.origin, rule.source
        if origin == "modes" and said is not None and said.months == rule.months:
            origin, source = said.origin, said.source
        elif origin == "modes" and (mode := self.rules.modes.get(code)) is not None:
            source = mode.origin
        return {"rule": rule, "origin": ORIGIN_WORDS.get(origin, origin), "source": source}

    def _checks(self) -> Iterator[AgendaRow]:
        by_item = {s.item.pk: s for s in self.standings}
        of_lines: dict[tuple[int, str], AgendaRow] = {}
        for check in due([s.item for s in self.standings], self.on):
            standing = by_item[check.item.pk]
            if check.check_key not in LINE_CHECKS or standing.line is None:
                yield self._check(check, standing)
                continue
            key = (standing.line.pk, check.check_key)
            row = self._line_check(check, standing)
            if key not in of_lines or row.due_on < of_lines[key].due_on:
                of_lines[key] = row
        yield from of_lines.values()

    def _check(self, check: DueCheck, standing: ItemStanding) -> AgendaRow:
        item = check.item
        return AgendaRow(
            key=f"check {item.pk} {check.check_key}",
            sort=CHECK,
            due_on=check.since or check.due_on,
            what=self.name(check.check_key),
            subject=f"{item.tag} {item.name}" if item.name != item.tag else item.tag,
            why=_why(check),
            **self.rule_of(item.kind.key, check.rule_of),
            check_key=check.check_key,
            item=item,
            line=standing.line,
            place=self.place_of(standing),
            kind=item.kind,
            person=item.custodian,
            to=("inspections:check", ("item", item.pk, check.check_key)),
        )

    def _line_check(self, check: DueCheck, standing: ItemStanding) -> AgendaRow:
        line = standing.line
        return AgendaRow(
            key=f"line check {line.pk} {check.check_key}",
            sort=CHECK,
            due_on=check.since or check.due_on,
            what=self.name(check.check_key),
            subject=str(line),
            why=_why(check),
            **self.rule_of(check.item.kind.key, check.rule_of),
            check_key=check.check_key,
            line=line,
            place=self.homes.get(line.home_id) if line.home_id else None,
            to=("inspections:check", ("line", line.pk, check.check_key)),
        )

    def _counts(self) -> Iterator[AgendaRow]:
        for standing in self.lots:
            lot, line = standing.lot, standing.line
            day = lot_due(standing, self.rules, self.on)
            if day is None:
                continue
            if standing.counted_on is None:
                day = min(day, lot.received_on or lot.made_at.astimezone(self.zone).date())
            code = next((c for c in lot.kind.checks.get("count", ()) if self.rules.rule(lot.kind.key, c).months), "")
            yield AgendaRow(
                key=f"count {lot.pk} {line.pk if line else 0}",
                sort=CHECK,
                due_on=day,
                what=self.name("count"),
                subject=str(lot),
                why=WHY_WORDS["interval" if standing.counted_on else "never proven"],
                **self.rule_of(lot.kind.key, code),
                check_key="count",
                lot=lot,
                line=line,
                place=self.place_of(standing),
                kind=lot.kind,
                to=("inventory:count-lot", (lot.pk,)),
            )

    def _drills(self) -> Iterator[AgendaRow]:
        """Give the timed drill of each line: its crew's own proof."""
        lines = list(Line.objects.filter(department=self.department))
        known = line_evidence(lines, self.at, self.at) if lines else {}
        said = self.rule_of("line", "PE1")
        for line in lines:
            shown = known.get(line.pk, {}).get("PE1")
            proven = shown.proven_at if shown else None
            made = line.made_at.astimezone(self.zone).date()
            day = schedule.due_on(proven and proven.astimezone(self.zone), said["rule"].months, min(made, self.on))
            if day is None:
                continue
            yield AgendaRow(
                key=f"drill {line.pk}",
                sort=CHECK,
                due_on=day,
                what="Timed set-up drill",
                subject=str(line),
                why=WHY_WORDS["interval" if proven else "never proven"],
                **said,
                check_key="setup",
                line=line,
                place=self.homes.get(line.home_id) if line.home_id else None,
                to=("inspections:check", ("line", line.pk, "setup")),
            )

    # Seasons and sendings ------------------------------------------------------------------------------------------

    def _with_letter(self, letter: str) -> dict[str, FailureMode]:
        return {c: m for c, m in self.rules.modes.items() if letter in schedule.letters_of(m.intervals)}

    def _of_lines(self) -> dict[Line | None, list[ItemStanding]]:
        found: dict[Line | None, list[ItemStanding]] = defaultdict(list)
        for standing in self.standings:
            found[standing.line].append(standing)
        return found

    def _seasons(self) -> Iterator[AgendaRow]:
        cold = self._with_letter("W")
        held = [s for s in self.standings if cold.keys() & set(s.item.kind.mode_codes)]
        known = evidence([s.item for s in held], self.at, self.at)
        for line, standings in self._of_lines().items():
            aboard = [s for s in standings if s in held]
            for name, first, last in campaigns(self.department, self.on, self.until) if aboard else ():
                row = self._season(name, first, last, line, aboard, cold, known)
                if row is not None:
                    yield row

    def _season(
        self,
        name: str,
        first: date,
        last: date,
        line: Line | None,
        aboard: Sequence[ItemStanding],
        cold: Mapping[str, FailureMode],
        known: Mapping[int, Mapping[str, Any]],
    ) -> AgendaRow | None:
        """Return one campaign on one line; None where every check that sees the cold's harm has been passed for it."""
        since = datetime.combine(first - EARLY, time(), tzinfo=self.zone)
        asked: dict[tuple[int, str], tuple[Item, str, str]] = {}
        unseen: set[str] = set()
        for item in (s.item for s in aboard):
            if item.accepted_on and item.accepted_on > last:
                continue
            for code in cold.keys() & set(item.kind.mode_codes):
                if code not in item.kind.scheduled_modes:
                    unseen.add(cold[code].name)
                elif not _shown_since(known.get(item.pk, {}).get(code), since):
                    key = next(k for k, codes in item.kind.checks.items() if code in codes)
                    asked[item.pk, key] = (item, key, self.name(key))
        if not asked:
            return None
        return AgendaRow(
            key=f"season {name} {first:%Y-%m} {line.pk if line else 0}",
            sort=SEASON,
            due_on=last,
            what=name,
            subject=str(line) if line else "On no line",
            why=f"the season: from {first:%-d %B} to {last:%-d %B}",
            origin=ORIGIN_WORDS["policy"],
            source="the department's cold season, and what its failure modes say the cold harms",
            line=line,
            place=self.homes.get(line.home_id) if line and line.home_id else None,
            to=("readiness:line", (line.pk,)) if line else None,
            open_checks=tuple(sorted(asked.values(), key=lambda a: (a[0].order, a[0].tag, a[1]))),
            unseen=tuple(sorted(unseen)),
        )

    def _sendings(self) -> Iterator[AgendaRow]:
        """Give what is asked of each line when it is sent, whatever its date."""
        asked = self._with_letter("B")
        for line, standings in self._of_lines().items():
            if line is None:
                continue
            tags: dict[str, list[tuple[Item, str, str]]] = defaultdict(list)
            codes: dict[str, tuple[str, str]] = {}
            for item in (s.item for s in standings):
                for key, seen in item.kind.checks.items():
                    if wanted := [code for code in seen if code in asked]:
                        tags[key].append((item, key, self.name(key)))
                        codes.setdefault(key, (item.kind.key, wanted[0]))
            for key, items in tags.items():
                yield AgendaRow(
                    key=f"sending {line.pk} {key}",
                    sort=SENDING,
                    due_on=None,
                    what=self.name(key),
                    subject=str(line),
                    why="before deployment: asked when the line is sent",
                    **self.rule_of(*codes[key]),
                    check_key=key,
                    line=line,
                    to=("readiness:line", (line.pk,)),
                    open_checks=tuple(items),
                )

    # Dates of things and people ------------------------------------------------------------------------------------

    def _expiries(self) -> Iterator[AgendaRow]:
        for standing in self.lots:
            lot, line = standing.lot, standing.line
            if lot.expires_on is None:
                continue
            yield AgendaRow(
                key=f"expiry {lot.pk} {line.pk if line else 0}",
                sort=EXPIRY,
                due_on=lot.expires_on,
                what="Lot expires",
                subject=f"{lot}, {standing.on_hand} on hand",
                why="its printed date",
                origin=ORIGIN_WORDS["maker"],
                source="as recorded from the package",
                lot=lot,
                line=line,
                place=self.place_of(standing),
                kind=lot.kind,
                to=("inventory:lot-list", ()),
            )

    def _cylinders(self) -> Iterator[AgendaRow]:
        for standing in self.standings:
            item = standing.item
            days = cache.cylinder_dates(item.kind.key, cache.spec_of(item))
            for what, day, why in zip(
                ("Requalify by", "Remove by"),
                days,
                ("after this month it may be used until empty and not refilled", "its service life ends"),
                strict=True,
            ):
                if day is not None:
                    yield AgendaRow(
                        key=f"cylinder {item.pk} {what}",
                        sort=CYLINDER,
                        due_on=day,
                        what=f"{what} {day:%B %Y}",
                        subject=f"{item.tag} {item.name}",
                        why=why,
                        origin=ORIGIN_WORDS["law"],
                        source="49 CFR 180.205(c), 180.209 and the permit, from the months on its plate",
                        item=item,
                        line=standing.line,
                        place=self.place_of(standing),
                        kind=item.kind,
                        person=item.custodian,
                        to=("inventory:item", (item.pk,)),
                    )

    def _crew(self) -> Iterator[AgendaRow]:
        for one in CrewMember.objects.filter(department=self.department).select_related("line"):
            if one.left_on is not None and one.left_on <= self.on:
                continue
            ends = currency(self.on, qualified_on=one.qualified_on, qualified_until=one.qualified_until).until
            if ends is not None:
                yield AgendaRow(
                    key=f"crew {one.pk}",
                    sort=CREW,
                    due_on=ends,
                    what="Qualification ends",
                    subject=one.name,
                    why="the date on the card" if one.qualified_until else "the months a course counts",
                    origin=ORIGIN_WORDS["policy"],
                    source="as recorded from the card" if one.qualified_until else CREW_POLICY,
                    line=one.line,
                    person=one.name,
                    to=("inventory:crew", ()),
                )

    def _calibrations(self) -> Iterator[AgendaRow]:
        for meter in instruments(self.department, self.at):
            for quantity in meter.quantities:
                row, item = meter.newest.get(quantity), meter.item
                if row is None:
                    day, why = item.made_at.astimezone(self.zone).date(), "never calibrated"
                elif not row.accepted:
                    day, why = row.happened_at.astimezone(self.zone).date(), "rejected when last held to a reference"
                else:
                    day, why = row.due_on, "the day its last calibration set"
                yield AgendaRow(
                    key=f"calibration {item.pk} {quantity}",
                    sort=CALIBRATION,
                    due_on=day,
                    what=f"Calibration, {quantity}",
                    subject=f"{item.tag} {item.name}",
                    why=why,
                    origin=ORIGIN_WORDS["policy"],
                    source="thermometers, scales and gauges held against a reference once a year, or as its papers say",
                    item=item,
                    kind=item.kind,
                    person=item.custodian,
                    to=("inventory:item", (item.pk,)),
                )

    def _orders(self) -> Iterator[AgendaRow]:
        for standing in open_orders(self.department, self.at, self.at):
            order = standing.order
            if standing.expected_on is not None:
                yield AgendaRow(
                    key=f"order {order.pk}",
                    sort=ORDER,
                    due_on=standing.expected_on,
                    what="Order expected",
                    subject=f"{standing.remaining} {order.kind}",
                    why="late, not received" if standing.late else "the date the supplier gave",
                    line=order.line,
                    kind=order.kind,
                    person=order.by_name,
                )

    def _papers(self) -> Iterator[AgendaRow]:
        newest: dict[tuple[int | None, str], ItemFile] = {}
        rows = ItemFile.objects.as_of(self.at, self.at).filter(department=self.department, valid_until__isnull=False)
        for row in rows.select_related("item__kind").order_by("happened_at", "pk"):
            newest[row.item_id, row.sort] = row
        held = {s.item.pk for s in self.standings}
        for row in newest.values():
            if row.item_id in held:
                yield AgendaRow(
                    key=f"paper {row.item_id} {row.sort}",
                    sort=PAPER,
                    due_on=row.valid_until,
                    what=f"{row.get_sort_display()} ends",
                    subject=f"{row.item.tag} {row.item.name}",
                    why="valid until this day, as the paper says",
                    item=row.item,
                    kind=row.item.kind,
                    to=("inventory:item", (row.item_id,)),
                )

    def _passes(self) -> Iterable[AgendaRow]:
        ending = Membership.objects.filter(department=self.department, ends_on__gte=self.on, user__is_active=True)
        for held in ending.select_related("user"):
            yield AgendaRow(
                key=f"pass {held.pk}",
                sort=PASS,
                due_on=held.ends_on,
                what="Pass ends",
                subject=f"{held.user.signed_name}, {held.get_role_display().lower()}",
                why="the last day it was given for",
                person=held.user.signed_name,
            )


def _why(check: DueCheck) -> str:
    """Return why a check fell due on its day, and what else asks for it since."""
    first = check.event if check.since_why == "after use" else check.since_why
    also = [check.event] if check.event else []
    also += [check.why] if check.why != "after use" else []
    return "; ".join(WHY_WORDS[why] for why in dict.fromkeys([first or check.why, *also]))


def _shown_since(known: Any, since: datetime) -> bool:
    return bool(known and known.proven_at and known.proven_at >= since and known.outcome in ("proven", "claimed"))
