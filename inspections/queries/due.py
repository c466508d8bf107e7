"""What each item needs next, and when."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from inspections import schedule
from inspections.queries.evidence import EvidenceOfMode, of_mode
from inspections.queries.ledgers import Rules, accepted_at, read_ledgers
from inventory.models import Item

EVER = datetime(9999, 12, 31, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class DueCheck:
    """One check that an item needs.

    Attributes:
        due_on: day it is due; in the past where it is overdue, and the first day of record where nothing was proven.
        why: restore, after use, never proven or interval; the most pressing one.
        mode_codes: modes that make it due on that day or before.
        proven_on: day of the oldest proof that it would renew, None where one is missing.
    """

    item: Item
    check_key: str
    due_on: date
    why: str
    mode_codes: tuple[str, ...]
    proven_on: date | None = None

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
                    wanted.append((*asks, code, of.proven_at))
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


def _check(item: Item, check_key: str, wanted: list, on: date, zone: ZoneInfo) -> DueCheck:
    first = min(day for day, _, _, _ in wanted)
    # Everything due by the day of asking (or by the first day to come) is named, so that one visit does.
    together = [ask for ask in wanted if ask[0] <= max(first, on)]
    why = min((why for _, why, _, _ in together), key=PRESSING.index)
    proven = [proven_at for _, _, _, proven_at in wanted]
    oldest = None if any(p is None for p in proven) else min(proven).astimezone(zone).date()
    return DueCheck(item, check_key, first, why, tuple(code for _, _, code, _ in together), oldest)
