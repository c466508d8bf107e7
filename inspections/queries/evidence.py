"""What is known of each failure mode of each item, as of one instant, as known at another."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from typing import Literal
from zoneinfo import ZoneInfo

from inspections import schedule
from inspections.queries.ledgers import FaultRow, ProofRow, Proofs, Rules, accepted_at, read_ledgers, read_proofs
from inventory.models import Item, Line
from shared.models import Department

YEAR_S = 365.25 * 86_400


@dataclass(frozen=True, slots=True)
class EvidenceOfMode:
    """What is known of one mode; names and meanings as in ``readiness.rating.facts.ModeEvidence``.

    Attributes:
        outcome: of the last proof that can see it; ``claimed`` where only looks did, or where it awaits a second name.
        proven_at: the last proof that found it absent, whatever came after.
        last_at: the last time anybody looked, claims included.
        in_doubt_since: the last good proof before a failure that is not put right, or that is known to come.
        inspection: client id behind the last proof.
    """

    outcome: Literal["proven", "claimed", "limited", "failed", "none"] = "none"
    ratio: float | None = None
    proven_at: datetime | None = None
    stale_at: datetime | None = None
    last_at: datetime | None = None
    reopened: bool = False
    in_doubt_since: datetime | None = None
    exposure_years: float | None = None
    inspection: str = ""


WEAKEST_FIRST = (
    "found present", "in doubt", "present, limits", "reopened", "stale", "never proven", "claimed", "proven",
)  # fmt: skip


def evidence_word(known: EvidenceOfMode | None, at: datetime) -> str:
    """Return the one word, of WEAKEST_FIRST, that every page has for what is known of a mode."""
    if known is None or known.outcome == "none":
        return "never proven"
    if known.outcome == "failed":
        return "found present"
    if known.in_doubt_since:
        return "in doubt"
    if known.outcome == "limited":
        return "present, limits"
    if known.reopened:
        return "reopened"
    if known.outcome == "claimed":
        return "claimed"
    return "stale" if known.stale_at and known.stale_at <= at else "proven"


@dataclass(frozen=True, slots=True)
class DoubtInterval:
    """A stretch in which a fault may have been there unseen: from the last good proof to the one that found it."""

    mode_code: str
    since: datetime | None
    found_at: datetime
    inspection: str
    put_right_at: datetime | None = None


def evidence(
    items: Sequence[Item], at: datetime, known_at: datetime, proofs: Proofs | None = None
) -> dict[int, dict[str, EvidenceOfMode]]:
    """Return by item id and mode code what is known; every mode of an item's kind is there.

    All items are of one department. The number of queries does not grow with them. ``proofs`` are those known at
    ``known_at``, where the caller has read them.
    """
    if not items:
        return {}
    department = items[0].department
    zone = ZoneInfo(department.time_zone)
    ledgers = read_ledgers(department, [item.pk for item in items], known_at, proofs)
    rules = Rules(department, at.astimezone(zone).date())
    found: dict[int, dict[str, EvidenceOfMode]] = {}
    for item in items:
        proofs, faults = ledgers.proofs[item.pk], ledgers.faults[item.pk]
        events, accepted = ledgers.events[item.pk], accepted_at(item, zone)
        found[item.pk] = {
            code: of_mode(
                proofs.get(code, ()),
                faults.get(code, ()),
                [when for when, what in events if what in rules.reopened_by(code)],
                at,
                accepted,
                rules.rule(item.kind.key, code),
            )
            for code in dict.fromkeys(chain(item.kind.mode_codes, proofs))
        }
    return found


def line_evidence(lines: Collection[Line], at: datetime, known_at: datetime) -> dict[int, dict[str, EvidenceOfMode]]:
    """Return by line id what is known of the modes that belong to a line and to none of its items."""
    lines = list(lines)
    if not lines:
        return {}
    department: Department = lines[0].department
    zone = ZoneInfo(department.time_zone)
    proofs = read_proofs(department, known_at, lines=[line.pk for line in lines])
    rules = Rules(department, at.astimezone(zone).date())
    return {
        line.pk: {
            code: of_mode(rows, (), (), at, None, rules.rule("line", code)) for code, rows in proofs[line.pk].items()
        }
        for line in lines
    }


def of_mode(
    proofs: Sequence[ProofRow],
    faults: Sequence[FaultRow],
    reopenings: Iterable[datetime],
    at: datetime,
    accepted: datetime | None,
    rule: schedule.Rule,
) -> EvidenceOfMode:
    """Derive what is known of one mode from its rows, oldest first. Pure."""
    past = [row for row in proofs if row.at <= at]
    seeing = [row for row in past if row.outcome != "claimed"]
    good = next((row for row in reversed(seeing) if row.outcome == "proven"), None)
    last = seeing[-1] if seeing else None
    fault = next((f for f in reversed(faults) if f.is_open(at)), None)
    awaiting = any(f.is_awaiting(at) for f in faults)
    outcome, ratio, bad = _outcome(past, last, fault, awaiting)
    anchor = last.at if last else accepted
    shown = bad or last or (past[-1] if past else None)
    return EvidenceOfMode(
        outcome=outcome,
        ratio=ratio,
        proven_at=good.at if good else None,
        stale_at=schedule.stale_at(good.at, rule.months, rule.grace_days) if good else None,
        last_at=past[-1].at if past else None,
        reopened=last is not None and any(last.at < when <= at for when in reopenings),
        in_doubt_since=_doubt(proofs, seeing, fault, outcome, at, accepted),
        exposure_years=max(0.0, (at - anchor).total_seconds() / YEAR_S) if anchor else None,
        inspection=shown.inspection if shown else "",
    )


def _outcome(
    past: Sequence[ProofRow], last: ProofRow | None, fault: FaultRow | None, awaiting: bool
) -> tuple[Literal["proven", "claimed", "limited", "failed", "none"], float | None, ProofRow | None]:
    """Return the outcome that stands, its ratio, and the proof of the fault that still stands, if one does."""
    if fault is not None and not fault.inspection:
        # Found by hand: there is no proof of it, and a claim or a look says nothing against it.
        graver = last is not None and last.outcome == "failed"
        return ("failed" if fault.grade == "I" or graver else "limited"), None, None
    if last is None:
        return ("claimed" if past else "none"), None, None
    if last.outcome == "proven" and fault is not None:
        # Another check has since seen it absent, but only the same proof puts a fault right.
        bad = next((row for row in reversed(past) if row.inspection == fault.inspection), None)
        return ("failed" if fault.grade == "I" else "limited"), bad.ratio if bad else None, bad
    if last.outcome == "proven":
        return ("claimed" if awaiting else "proven"), None, None
    return ("failed" if last.outcome == "failed" else "limited"), last.ratio, last


def _doubt(
    proofs: Sequence[ProofRow],
    seeing: Sequence[ProofRow],
    fault: FaultRow | None,
    outcome: str,
    at: datetime,
    accepted: datetime | None,
) -> datetime | None:
    """Return since when the mode has been in doubt: a fault stands, or a later proof that is known found one."""
    if fault is not None and not fault.inspection:
        good = next((row for row in reversed(seeing) if row.outcome == "proven" and row.at <= fault.at), None)
        return good.at if good else accepted or fault.at
    if outcome in ("failed", "limited"):
        found = next(i for i in range(len(seeing) - 1, -1, -1) if seeing[i].outcome in ("failed", "limited"))
        if seeing[found].planted_at is not None:
            return seeing[found].planted_at
        good = next((row for row in reversed(seeing[:found]) if row.outcome == "proven"), None)
        return good.at if good else accepted or seeing[found].at
    coming = next((row for row in proofs if row.at > at and row.outcome != "claimed"), None)
    if coming is None or coming.outcome == "proven":
        return None
    return seeing[-1].at if seeing else accepted


def doubt_intervals(item: Item, known_at: datetime) -> list[DoubtInterval]:
    """Return every stretch of an item's past in which a fault may have been there unseen; restored ones too."""
    return doubt_intervals_of([item], known_at)[item.pk]


def doubt_intervals_of(items: Sequence[Item], known_at: datetime) -> dict[int, list[DoubtInterval]]:
    """Return by item id every stretch in doubt, of items of one department, in a fixed number of queries."""
    if not items:
        return {}
    zone = ZoneInfo(items[0].department.time_zone)
    proofs = read_proofs(items[0].department, known_at, items=[item.pk for item in items])
    return {item.pk: _intervals(proofs[item.pk], accepted_at(item, zone)) for item in items}


def _intervals(proofs: Mapping[str, Sequence[ProofRow]], accepted: datetime | None) -> list[DoubtInterval]:
    intervals = []
    for code, rows in proofs.items():
        since, found = accepted, None
        for row in rows:
            if row.outcome == "proven":
                if found is not None:
                    intervals.append(DoubtInterval(code, found.planted_at or since, found.at, found.inspection, row.at))
                since, found = row.at, None
            elif row.outcome in ("failed", "limited") and found is None:
                found = row
        if found is not None:
            intervals.append(DoubtInterval(code, found.planted_at or since, found.at, found.inspection))
    return sorted(intervals, key=lambda interval: (interval.found_at, interval.mode_code))
