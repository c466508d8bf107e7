"""How long a proof is trusted, and what reopens it. Pure: letters, months, days and instants.

The letters are those of the failure modes: M monthly, Q quarterly, A annual, W at the autumn cut-over, D at the
whole cache's drill (twice a year), U after each use, B before deployment. M, Q, A, W and D are calendar intervals, the
shortest governs; U and B are events. A due date is moved by a proof and by nothing else.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from shared.formulas.dates import add_months

MONTHS: Final[Mapping[str, int]] = {"M": 1, "Q": 3, "A": 12, "W": 12, "D": 6}
EVENTS: Final[frozenset[str]] = frozenset("UB")
# Days past due before evidence is called stale: local policy, editable; the law gives none.
GRACE_DAYS: Final[Mapping[str, int]] = {"M": 5, "Q": 10, "A": 30, "W": 30, "D": 30}

USE, REPAIR, MOVE, REFILL = "use", "repair", "move", "refill"
# A condition is a fact that its check establishes; these are what can undo it where the general rule does not fit.
REOPENED: Final[Mapping[str, frozenset[str]]] = {
    # A stamped date stands whatever is done with the cylinder.
    "AC2": frozenset(),
    "AC3": frozenset(),
    "LP2": frozenset(),
    # Contents are changed by use and by filling, not by carrying.
    "LP1": frozenset({USE, REFILL}),
    "AC1": frozenset({USE, REFILL}),
    "CS1": frozenset({USE}),
    # A plate or a mark changes when somebody changes the part.
    "RV3": frozenset({REPAIR}),
    "HO5": frozenset({REPAIR}),
    "PE1": frozenset(),
}
ANY_CHANGE: Final[frozenset[str]] = frozenset({USE, REPAIR, MOVE})


@dataclass(frozen=True, slots=True)
class Rule:
    """How long one mode's proof is trusted.

    Attributes:
        months: calendar interval, None where only events ask for the proof again. [month]
        grace_days: past due before the evidence is stale. [day]
        events: letters of events that ask for it again.
        origin: law, maker, own, modes, standard or policy.
    """

    months: int | None
    grace_days: int = 0
    events: frozenset[str] = frozenset()
    origin: str = "modes"
    source: str = ""


@dataclass(frozen=True, slots=True)
class Override:
    """An interval set for a mode beside its letters; see ``inventory.Interval``."""

    months: int
    grace_days: int
    origin: str
    source: str = ""


def letters_of(intervals: str) -> tuple[str, ...]:
    """Return the interval letters of a mode in the order they are written (``"A U"``)."""
    return tuple(letter for letter in intervals.upper() if letter in MONTHS or letter in EVENTS)


def calendar_letter(intervals: str) -> str | None:
    """Return the letter of the shortest calendar interval, None where only events are named."""
    calendar = [letter for letter in letters_of(intervals) if letter in MONTHS]
    return min(calendar, key=lambda letter: MONTHS[letter]) if calendar else None


def rule_for(intervals: str, override: Override | None = None) -> Rule:
    """Return the rule of one mode: law, maker or own decision, then its letters, then standards and policy.

    Args:
        intervals: letters of the mode. [-]
        override: interval in force for the kind and mode, the strongest where there are several.
    """
    events = frozenset(letter for letter in letters_of(intervals) if letter in EVENTS)
    letter = calendar_letter(intervals)
    if override is not None and (override.origin in ("law", "maker", "own") or letter is None):
        # The law's day is the law's day.
        grace = 0 if override.origin == "law" else override.grace_days
        return Rule(override.months, grace, events, override.origin, override.source)
    if letter is None:
        return Rule(None, 0, events)
    return Rule(MONTHS[letter], GRACE_DAYS[letter], events)


def due_at(proven_at: datetime, months: int | None) -> datetime | None:
    """Return when the proof is due again; None where no calendar interval asks for it."""
    if months is None:
        return None
    day = add_months(proven_at.date(), months)
    return proven_at.replace(year=day.year, month=day.month, day=day.day)


def stale_at(proven_at: datetime, months: int | None, grace_days: int = 0) -> datetime | None:
    """Return when a proof is no longer trusted: due, plus the grace that local policy gives."""
    due = due_at(proven_at, months)
    return None if due is None else due + timedelta(days=grace_days)


def due_on(proven_at: datetime | None, months: int | None, since: date) -> date | None:
    """Return the day a proof is due: at once (``since``) where there is none, None where nothing asks for it."""
    if proven_at is None:
        return since if months is not None else None
    due = due_at(proven_at, months)
    return None if due is None else due.date()


def reopened_by(code: str, cls: str, intervals: str) -> frozenset[str]:
    """Return what reopens a mode: use for those proven after use, any change for a condition, else nothing.

    Args:
        code: mode code. [-]
        cls: dormant, demand, both or condition. [-]
        intervals: letters of the mode. [-]
    """
    if code in REOPENED:
        return REOPENED[code]
    after_use = frozenset({USE}) if "U" in letters_of(intervals) else frozenset()
    return ANY_CHANGE | after_use if cls == "condition" else after_use
