"""What each item needs next, and when."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from inspections import schedule
from inspections.queries.evidence import EvidenceOfMode, of_mode
from inspections.queries.ledgers import Ledgers, Rules, accepted_at, read_ledgers
from inventory.models import Item
from inventory.queries import LotStanding

LINE_CHECKS = ("connect", "setup")  # done once for the whole line
EVER = datetime(9999, 12, 31, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class DueCheck:
    """One check that an item needs.

    Attributes:
        due_on: day it is due; in the past where it is overdue, and the first day of record where nothing was proven.
        why: restore, after use, never proven or interval; the most pressing one.
        mode_codes: modes that make it due on that day or before.
        proven_on: day of the oldest proof that it would renew, None where one is missing.
        since: day it fell due by the record, which no asking day moves: of the fault, of the use, or the day itself.
        since_why: why on that day; ``why`` is the most pressing of all reasons.
        event: what reopened it (use, repair, move, refill), where something did.
        rule_of: mode whose rule makes it due first.
    """

    item: Item
    check_key: str
    due_on: date
    why: str
    mode_codes: tuple[str, ...]
    proven_on: date | None = None
    since: date | None = None
    since_why: str = ""
    event: str = ""
    rule_of: str = ""

    def is_overdue(self, on: date) -> bool:
        return self.due_on < on


PRESSING = ("restore", "after use", "never proven", "interval")


def due(items: Sequence[Item], on: date) -> list[DueCheck]:
    """Return every scheduled check of some items with the day it is next due, soonest first, as of a day.

    A check is due by the earliest of the modes it can see; a mode whose proof was reopened or failed is due that day.
    Modes without a calendar interval ask for nothing until an event does.
    """
    if not items:
        return []
    department = items[0].department
    zone = ZoneInfo(department.time_zone)
    at = datetime.combine(on, time.max, tzinfo=zone)
    ledgers = read_ledgers(department, [item.pk for item in items], EVER)
    rules = Rules(department, on)
    found = []
    for item in items:
        accepted = accepted_at(item, zone)
        for check_key, codes in item.kind.checks.items():
            wanted = []
            for code in codes:
                of = of_mode(
                    ledgers.proofs[item.pk].get(code, ()),
                    ledgers.faults[item.pk].get(code, ()),
                    [when for when, what in ledgers.events[item.pk] if what in rules.reopened_by(code)],
                    at,
                    accepted,
                    rules.rule(item.kind.key, code),
                )
                if (asks := _asks(of, rules.rule(item.kind.key, code), accepted, on, zone)) is not None:
                    since, event = _since(item, code, of, asks, ledgers, rules, at, zone)
                    wanted.append(_Asked(*asks, code, of.proven_at, since, event))
            if wanted:
                found.append(_check(item, check_key, wanted, on, zone))
    return sorted(found, key=lambda d: (d.due_on, d.item.order, d.item.tag, d.check_key))


def _asks(
    of: EvidenceOfMode, rule: schedule.Rule, accepted: datetime | None, on: date, zone: ZoneInfo
) -> tuple[date, str] | None:
    """Return when and why one mode asks for its check, None where it does not."""
    if of.outcome in ("failed", "limited"):
        return on, "restore"
    if of.reopened:
        return on, "after use"
    if of.proven_at is None:
        if rule.months is None:
            return None
        return (accepted.date() if accepted and accepted.date() < on else on), "never proven"
    day = schedule.due_on(of.proven_at.astimezone(zone), rule.months, on)
    return None if day is None else (day, "interval")


@dataclass(frozen=True, slots=True)
class _Asked:
    """What one mode asks of its check."""

    day: date
    why: str
    code: str
    proven_at: datetime | None
    since: date
    event: str


def _since(
    item: Item,
    code: str,
    of: EvidenceOfMode,
    asks: tuple[date, str],
    ledgers: Ledgers,
    rules: Rules,
    at: datetime,
    zone: ZoneInfo,
) -> tuple[date, str]:
    """Return the day that a mode fell due by the record, and what reopened it, if something did."""
    day, why = asks
    if why == "restore":
        seeing = [row.at for row in ledgers.proofs[item.pk].get(code, ()) if row.at <= at and row.outcome != "claimed"]
        standing = [f.at for f in ledgers.faults[item.pk].get(code, ()) if f.is_open(at)]
        found = max(standing, default=None) or max(seeing, default=None)
        return (found.astimezone(zone).date() if found else day), ""
    if why == "after use":
        seen = max(row.at for row in ledgers.proofs[item.pk][code] if row.at <= at and row.outcome != "claimed")
        what = rules.reopened_by(code)
        when, event = min((w, e) for w, e in ledgers.events[item.pk] if e in what and seen < w <= at)
        return when.astimezone(zone).date(), event
    if why == "never proven" and accepted_at(item, zone) is None:
        return min(day, item.made_at.astimezone(zone).date()), ""
    return day, ""


def _check(item: Item, check_key: str, wanted: Sequence[_Asked], on: date, zone: ZoneInfo) -> DueCheck:
    first = min(ask.day for ask in wanted)
    # Everything due by the day of asking (or by the first day to come) is named, so that one visit does.
    together = [ask for ask in wanted if ask.day <= max(first, on)]
    why = min((ask.why for ask in together), key=PRESSING.index)
    oldest = None if any(a.proven_at is None for a in wanted) else min(a.proven_at for a in wanted)
    earliest = min(together, key=lambda ask: ask.since)
    return DueCheck(
        item=item,
        check_key=check_key,
        due_on=first,
        why=why,
        mode_codes=tuple(ask.code for ask in together),
        proven_on=oldest.astimezone(zone).date() if oldest else None,
        since=earliest.since,
        since_why=earliest.why,
        event=next((ask.event for ask in together if ask.event), ""),
        rule_of=earliest.code,
    )


def lot_due(standing: LotStanding, rules: Rules, on: date) -> date | None:
    """Return when a lot is to be counted again; one that nobody ever counted, today."""
    kind = standing.lot.kind
    codes = kind.checks.get("count", ())
    months = min((m for code in codes if (m := rules.rule(kind.key, code).months)), default=None)
    if months is None:
        return None
    return on if standing.counted_on is None else schedule.add_months(standing.counted_on, months)
