"""What every verdict returns. Pure: numbers and dates in, frozen dataclasses out."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Literal


class Outcome(StrEnum):
    """The four verdicts; void is a result of its own: it proves nothing and moves no clock."""

    PASS = "pass"
    LIMITS = "pass with limits"
    FAIL = "fail"
    VOID = "void"


@dataclass(frozen=True, slots=True)
class Limit:
    """One row of the limits data, as in inventory.Limit."""

    key: str
    quantity: str
    unit: str
    pass_low: float | None = None
    pass_high: float | None = None
    limits_low: float | None = None
    limits_high: float | None = None
    basis: str = ""
    origin: str = ""
    source: str = ""
    effective_on: date | None = None

    def judge(self, value: float) -> Outcome:
        """Return pass inside the pass range, pass with limits inside the wider one, else fail."""
        if _inside(value, self.pass_low, self.pass_high):
            return Outcome.PASS
        # A side with no wider bound keeps its pass bound; with neither wider bound there is no middle verdict.
        if self.limits_low is None and self.limits_high is None:
            return Outcome.FAIL
        low = self.limits_low if self.limits_low is not None else self.pass_low
        high = self.limits_high if self.limits_high is not None else self.pass_high
        return Outcome.LIMITS if _inside(value, low, high) else Outcome.FAIL

    def margin(self, value: float) -> float:
        """Return how much room the limit leaves between pass and fail on the side a value lies on.

        That is the stretch of pass with limits; without one, half of the range that passes, or the bound itself.
        """
        sides = [(self.pass_low, self.limits_low), (self.pass_high, self.limits_high)]
        held = [(bound, wide) for bound, wide in sides if bound is not None]
        if not held:
            return math.inf
        bound, wide = min(held, key=lambda side: abs(value - side[0]))
        if wide is not None and wide != bound:
            return abs(wide - bound)
        if self.pass_low is not None and self.pass_high is not None:
            return (self.pass_high - self.pass_low) / 2
        return abs(bound) or math.inf


def _inside(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or reaches(value, low)) and (high is None or reaches(high, value))


def reaches(value: float, bound: float) -> bool:
    """Return whether a number is at a bound or above it. A share such as 3.85 over 3.5 is 1.1 for this purpose.

    Args:
        value: of any unit. [-]
        bound: in the same unit. [-]
    """
    return value >= bound or math.isclose(value, bound, rel_tol=1e-9)


@dataclass(frozen=True, slots=True)
class Finding:
    """One number (or stated observation) that decided, beside its limit."""

    key: str
    text: str  # a whole sentence for people
    outcome: Outcome
    value: float | str | bool | None = None
    unit: str = ""
    limit_key: str = ""
    limit_text: str = ""  # "at most 5 percent of P1"
    origin: str = ""  # law, guidance, maker, policy … with its source


@dataclass(frozen=True, slots=True)
class ModeOutcome:
    """What the check showed of one failure mode."""

    code: str
    outcome: Literal["proven", "claimed", "limited", "failed"]
    ratio: float | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class MeasuredValue:
    """A quantity the rating will use; SI, named as in readiness.rating.facts.Item.measured."""

    value: float
    unit: str
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Subject:
    """What is known beforehand of the thing checked.

    Attributes:
        spec: nameplate by the catalogue's keys (US customary).
        baseline: this unit's own acceptance figures, by measured name, SI; absent where none was recorded.
        expected_units: of a row of n alike, how many there should be.
        cold_season: the date of the check lies in the department's cold season.
        grades: I, C or N by mode code; a mode not named here is taken for an impairment, the stricter reading.
        steps: last digit of each reading as it was written, by reading key, in that reading's unit.
        instrument: resolutions of the meters used (gauge_psi, therm_degF, scale_lb), where the register names them.
        baseline_assumed: the baseline is the first reading that showed capability, not one marked as acceptance.
        due: expiry of the lot, or another date that the record and not the check knows.
        meter_doubt: why a meter that was used proves nothing (past its calibration, rejected); empty where none is.
        meter_notes: what else is known of the meters used, for the record.
        room_lb: nominal propane that stands in the same place, empties counted as full. [lb]
    """

    kind: str
    on: date
    spec: Mapping[str, float | str] = field(default_factory=dict)
    baseline: Mapping[str, float] = field(default_factory=dict)
    expected_units: int = 1
    station_pressure_psi: float = 14.70
    cold_season: bool = False
    visible_modes: tuple[str, ...] = ()  # modes of this kind that this check can see
    at: datetime | None = None
    grades: Mapping[str, str] = field(default_factory=dict)
    steps: Mapping[str, float] = field(default_factory=dict)
    instrument: Mapping[str, float] = field(default_factory=dict)
    baseline_assumed: bool = True
    due: date | None = None
    meter_doubt: str = ""
    meter_notes: tuple[str, ...] = ()
    room_lb: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """Pass, pass with limits, fail or void, with the numbers that decided it."""

    outcome: Outcome
    findings: tuple[Finding, ...]
    modes: tuple[ModeOutcome, ...] = ()
    measured: Mapping[str, MeasuredValue] = field(default_factory=dict)
    summary: str = ""
    quality: tuple[str, ...] = ()  # remarks on the record, not on the item


class ReadingError(ValueError):
    """Readings that cannot be understood: says which, what is wrong and how to mend it.

    The first bad reading is the error itself; ``every`` lists it and all others of the same check.
    """

    def __init__(
        self, key: str, value: object, problem: str, mend: str, others: tuple["ReadingError", ...] = ()
    ) -> None:
        super().__init__(f"{key}={value!r}: {problem}. {mend}")
        self.key, self.value, self.problem, self.mend = key, value, problem, mend
        self.every: tuple[ReadingError, ...] = (self, *others)
