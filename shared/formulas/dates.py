"""Dates that a cylinder's collar decides: requalify by, remove by. Month precision, as the marks are stamped.

The last day of the due month is still in time: a cylinder due in June 2026 is overdue from 1 July 2026
(49 CFR 180.205(c)). One filled before that may stay in service until it is empty; it may not be refilled.
"""

import calendar
import re
from datetime import date
from typing import Final, NamedTuple

COMPOSITE_LIFE_YEARS: Final = 15


class _Rule(NamedTuple):
    """Years to the first requalification, to the next one by suffix, and for any other suffix; years of life."""

    first: int
    by_suffix: dict[str, int]
    other: int
    life: int | None = None


# Propane and like service, coated, non-corrosive gas: 12 years from manufacture; then 12 after volumetric expansion
# (no suffix, or + for overfill), 10 after proof pressure (S), 5 after external visual (E). 180.209(e) and (g) as in
# force since 30 November 2020. A suffix unknown here gets the shortest of the three.
_FOUR_B: Final = _Rule(12, {"": 12, "+": 12, "S": 10, "E": 5}, other=5)
# 180.209(a) table 1 and (b): 5 years, 10 with the star, which 3A and 3AA alone may bear. "+" gives no longer interval.
_THREE_A: Final = _Rule(5, {"*": 10, "+*": 10, "*+": 10}, other=5)
_FIVE_YEARS: Final = _Rule(5, {}, other=5)
# RSPA Safety Advisory 94-1: 15 years of service life. Five years between tests is the usual permit (from memory).
_COMPOSITE: Final = _Rule(5, {}, other=5, life=COMPOSITE_LIFE_YEARS)

_FAMILIES: Final[tuple[tuple[re.Pattern[str], _Rule], ...]] = (
    (re.compile(r"4(B|BA|BW|E)(?![A-Z])"), _FOUR_B),
    (re.compile(r"3(A|AA)M?(?![A-Z])"), _THREE_A),
    (re.compile(r"3(AX|AAX|AL)M?(?![A-Z])"), _FIVE_YEARS),
    # DOT-SP 12345, DOT-E 12345, TC-SU 1234: a permit's number in place of a specification, on a wrapped cylinder.
    (re.compile(r"(SP|SU|E)\d{3,5}(?!\d)|COMPOSITE|CARBON|FRP|CFFC|FIBRE|FIBER"), _COMPOSITE),
)
_AUTHORITY: Final = re.compile(r"^(DOT|ICC|TC|CTC|BTC|SPEC)+")


def add_months(day: date, months: int) -> date:
    """Day so many calendar months later, or the last day of that month where it has no such day.

    Args:
        day: the day to count from. [date]
        months: calendar months, negative to count back. [month]

    Returns:
        The day in that month. [date]

    Raises:
        ValueError: the year would leave 1 to 9999.

    Source: the calendar.
    """
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= years <= date.max.year:
        raise ValueError(f"months must keep the year within 1 to 9999, got {months} from {day}")
    return date(years, month + 1, min(day.day, calendar.monthrange(years, month + 1)[1]))


def month_end(day: date) -> date:
    """Last day of a day's month.

    Args:
        day: any day of the month. [date]

    Returns:
        The month's last day. [date]

    Source: the calendar.
    """
    return day.replace(day=calendar.monthrange(day.year, day.month)[1])


def requalify_by(
    spec_mark: str,
    made: date | None,
    last: date | None,
    suffix: str = "",
    permit_years: int | None = None,
) -> date | None:
    """Last day on which a cylinder may still be refilled without a new requalification.

    Args:
        spec_mark: as stamped or written: "DOT-4BA240", "3AA2015", "DOT-SP 10915", "composite". [-]
        made: any day of the month of manufacture, None where not recorded. [date]
        last: any day of the month of the last requalification, None where there was none or none is recorded. [date]
        suffix: stamped after that month: "" volumetric, "S" proof, "E" external visual, a star, "+"; ignored
            without last. [-]
        permit_years: interval that the permit on a composite's label sets, where it is not 5. [year]

    Returns:
        Last day of the due month, never after remove_by; None where no rule is known for the mark or no month is
        recorded: the reader then goes by the collar and the permit. [date]

    Raises:
        ValueError: last is in a month before made, or permit_years is not 1 to 15.

    Source: 49 CFR 180.205(c), 180.209(a), (b), (e) and (g), as read in 2025; interval of composites from memory.
    """
    if permit_years is not None and not 1 <= permit_years <= COMPOSITE_LIFE_YEARS:
        raise ValueError(f"permit_years must be 1 to {COMPOSITE_LIFE_YEARS} years, got {permit_years!r}")
    if made and last and month_end(last) < month_end(made):
        raise ValueError(f"last must not be in a month before made, got last {last} and made {made}")
    rule = _rule(spec_mark)
    base = last or made
    if rule is None or base is None:
        return None
    years = rule.by_suffix.get(_suffix(suffix), rule.other) if last else rule.first
    if rule.life and permit_years:
        years = permit_years
    due = month_end(add_months(base.replace(day=1), 12 * years))
    end = remove_by(spec_mark, made)
    return min(due, end) if end else due


def remove_by(spec_mark: str, made: date | None) -> date | None:
    """Last day of a cylinder's service life, which no requalification extends.

    Args:
        spec_mark: as stamped or written, see requalify_by. [-]
        made: any day of the month of manufacture, None where not recorded. [date]

    Returns:
        Last day of the month 15 years on for a composite; None for a specification without a set life, for a mark
        without a known rule and where no month is recorded. [date]

    Source: 49 CFR 180.205(c); RSPA Safety Advisory 94-1 (1994), 15 years for composites.
    """
    rule = _rule(spec_mark)
    if rule is None or rule.life is None or made is None:
        return None
    return month_end(add_months(made.replace(day=1), 12 * rule.life))


def _rule(spec_mark: str) -> _Rule | None:
    mark = _AUTHORITY.sub("", re.sub(r"[^A-Z0-9]", "", spec_mark.upper()))
    return next((rule for pattern, rule in _FAMILIES if pattern.match(mark)), None)


def _suffix(suffix: str) -> str:
    """The suffix as the rules spell it: no blanks, capitals, one sign for a five-pointed star."""
    spelt = suffix.upper().replace("\N{BLACK STAR}", "*").replace("\N{WHITE STAR}", "*").replace("STAR", "*")
    return "".join(spelt.split()).removeprefix("NONE")
