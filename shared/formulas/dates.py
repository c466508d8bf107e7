"""Dates of things that age: what a cylinder's collar decides, shelf life, life left and the year of replacement.

Months are counted on the calendar, and a month that is stamped is good to its last day.

A cylinder due in June 2026 is overdue from 1 July 2026 (49 CFR 180.205(c)). One filled before that may stay in service
until it is empty; it may not be refilled.
"""

import calendar
import re
from collections.abc import Mapping
from datetime import date, timedelta
from types import MappingProxyType
from typing import Final, NamedTuple

from shared.formulas._ranges import within

COMPOSITE_LIFE_YEARS: Final = 15
# DOT-SP 16320 (2017): carbon on an aluminium liner may go on in steps of five years after modal acoustic emission, to
# thirty (read in trade pages that quote the permit).
LONGEST_LIFE_YEARS: Final = 30


class _Rule(NamedTuple):
    """Years to the first requalification, to the next one by suffix, and for any other suffix; years of life."""

    first: int
    by_suffix: dict[str, int]
    other: int
    life: int | None = None
    clause: str = "49 CFR 180.209(a), table 1"


# Propane and like service, coated, non-corrosive gas: 12 years from manufacture; then 12 after volumetric expansion
# (no suffix, or + for overfill), 10 after proof pressure (S), 5 after external visual (E). 180.209(e) and (g) as in
# force since 30 November 2020. A suffix unknown here gets the shortest of the three.
_FOUR_B: Final = _Rule(12, {"": 12, "+": 12, "S": 10, "E": 5}, other=5, clause="49 CFR 180.209(e) and (g)")
# 180.209(a) table 1 and (b): 5 years, 10 with the star, which 3A and 3AA alone may bear. "+" gives no longer interval.
_THREE_A: Final = _Rule(5, {"*": 10, "+*": 10, "*+": 10}, other=5, clause="49 CFR 180.209(a), table 1, and (b)")
_FIVE_YEARS: Final = _Rule(5, {}, other=5)
# 180.209(a) table 1 and (k); its life of 24 years is from memory.
_THREE_HT: Final = _Rule(3, {}, other=3, life=24, clause="49 CFR 180.209(a), table 1, and (k)")
# RSPA Safety Advisory 94-1: 15 years of service life. Five years between tests is the usual permit (from memory).
_COMPOSITE: Final = _Rule(5, {}, other=5, life=COMPOSITE_LIFE_YEARS, clause="its permit; RSPA Safety Advisory 94-1")

_FAMILIES: Final[tuple[tuple[re.Pattern[str], _Rule], ...]] = (
    (re.compile(r"4(B|BA|BW|E)(?![A-Z])"), _FOUR_B),
    (re.compile(r"3(A|AA)M?(?![A-Z])"), _THREE_A),
    (re.compile(r"3(AX|AAX|AL)M?(?![A-Z])"), _FIVE_YEARS),
    # 3B, 3BN and 4AA480 may have ten in some services, 180.209(f) and (h); five is in time for all of them.
    (re.compile(r"(3(B|BN|T)|4(D|DA|DS)|4AA)(?![A-Z])"), _FIVE_YEARS),
    (re.compile(r"3HT(?![A-Z])"), _THREE_HT),
    # DOT-SP 12345, DOT-E 12345, TC-SU 1234: a permit's number in place of a specification, on a wrapped cylinder.
    (re.compile(r"(SP|SU|E)\d{3,5}(?!\d)|COMPOSITE|CARBON|FRP|CFFC|FIBRE|FIBER"), _COMPOSITE),
)
_AUTHORITY: Final = re.compile(r"^(DOT|ICC|TC|CTC|BTC|SPEC)+")
# 180.209(b)(1): of the gases it lists, those that a department has (the list from memory; that air is on it was read).
STAR_GASES: Final = frozenset({"air", "argon", "helium", "hydrogen", "neon", "nitrogen", "oxygen"})
_STAR_FROM: Final = date(1946, 1, 1)
_STAR_WATER_KG: Final = 125 * 0.45359237


class Star(NamedTuple):
    """What is known of a cylinder whose mark bears the star; None where it is not known."""

    water_capacity_kg: float | None = None
    gas: str | None = None
    off_the_rack: bool | None = None  # taken from its rack each time it is filled
    underwater: bool | None = None
    dried: bool | None = None  # after its water test


class CylinderDates(NamedTuple):
    """The two dates of a cylinder, the years between requalifications that were used, and the clause for them."""

    no_refill_after: date | None
    remove_by: date | None
    years: int | None
    clause: str


class Shelf(NamedTuple):
    """Default life of a supply that bears no date: calendar months and days from receipt, with the source."""

    months: int
    days: int
    source: str


SHELF_LIVES: Final[Mapping[str, Shelf]] = MappingProxyType(
    {
        "gloves": Shelf(36, 0, "ASTM D7160: accelerated ageing covers three years (its scope, read)"),
        "bleach": Shelf(6, 0, "policy: doubtful after a year, after 3 months in heat (read on a page of formulas)"),
        "bleach mix": Shelf(0, 1, "1:10 in water is used within 24 h (read on a page of formulas)"),
        "alkaline cells": Shelf(84, 0, "policy: 7 of the 10 years that makers tell (read on a seller's page)"),
        "lithium cells": Shelf(84, 0, "policy: 7 of the 10 years that makers tell (read on a seller's page)"),
    }
)


class ShelfLife(NamedTuple):
    """Last day on which a supply is in date, None where it cannot be told; and what says so, or what is missing."""

    use_by: date | None
    basis: str


class LifeLeft(NamedTuple):
    """Age, what is left of life, as a share too, and what ends it first: "calendar", "hours" or "date"."""

    age_years: float
    remaining_years: float
    remaining_share: float
    ends_by: str


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


def due_month(start: date, months: int) -> date:
    """Last day of the month in which something is due, so many months after its start.

    Args:
        start: any day of the month to count from. [date]
        months: interval, >= 0. [month]

    Returns:
        Last day of the due month: the day itself is still in time. [date]

    Raises:
        ValueError: months is out of range, or the year would leave 1 to 9999.

    Source: month precision of 49 CFR 180.205(c), "during or before the month and year".
    """
    within("months", months, 0.0, unit="month")
    return month_end(add_months(start.replace(day=1), months))


def months_between(first: date, last: date) -> float:
    """Calendar months from one day to another: the same day of a later month is a whole number of them.

    Args:
        first: the day to count from. [date]
        last: the day to count to, before first for a negative count. [date]

    Returns:
        Months; a part of a month is a share of the month that it lies in. [month]

    Raises:
        ValueError: last is within a month of the year 9999's end.

    Source: the calendar. A day that a month does not have is its last: 29 February 2024 and 28 February 2025 are 12.
    """
    whole = 12 * (last.year - first.year) + last.month - first.month
    if add_months(first, whole) > last:
        whole -= 1
    start, end = add_months(first, whole), add_months(first, whole + 1)
    return whole + (last - start).days / (end - start).days


def requalify_by(
    spec_mark: str,
    made: date | None,
    last: date | None,
    suffix: str = "",
    permit_years: int | None = None,
    *,
    clean_and_coated: bool = True,
    life_years: int | None = None,
) -> date | None:
    """Last day on which a cylinder may still be refilled without a new requalification.

    Args:
        spec_mark: as stamped or written: "DOT-4BA240", "3AA2015", "DOT-SP 10915", "composite". [-]
        made: any day of the month of manufacture, None where not recorded. [date]
        last: any day of the month of the last requalification, None where there was none or none is recorded. [date]
        suffix: stamped after that month: "" volumetric, "S" proof, "E" external visual, a star, "+"; ignored
            without last. [-]
        permit_years: interval that the permit on a composite's label sets, where it is not 5. [year]
        clean_and_coated: False where a cylinder of the 4B family holds another gas than clean propane or has lost its
            coating: 5 years then, from the first. [-]
        life_years: see remove_by. [year]

    Returns:
        Last day of the due month, never after remove_by; None where no rule is known for the mark or no month is
        recorded: the reader then goes by the collar and the permit. [date]

    Raises:
        ValueError: last is in a month before made, permit_years is not 1 to 15, or life_years not 15 to 30.

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
    due = due_month(base, 12 * _years(rule, made, last, suffix, permit_years, clean_and_coated))
    end = remove_by(spec_mark, made, life_years)
    return min(due, end) if end else due


def _years(
    rule: _Rule, made: date | None, last: date | None, suffix: str, permit_years: int | None, clean_and_coated: bool
) -> int:
    if rule is _COMPOSITE and permit_years:
        return permit_years
    if rule is _FOUR_B and not clean_and_coated:
        return rule.other
    years = rule.by_suffix.get(_suffix(suffix), rule.other) if last else rule.first
    # The star cannot be borne by one made before 1946.
    return rule.other if rule is _THREE_A and made and made < _STAR_FROM else years


def remove_by(spec_mark: str, made: date | None, life_years: int | None = None) -> date | None:
    """Last day of a cylinder's service life, which no requalification extends.

    Args:
        spec_mark: as stamped or written, see requalify_by. [-]
        made: any day of the month of manufacture, None where not recorded. [date]
        life_years: of a composite, where its permit and a modal acoustic emission test on record carry it past 15; at
            most 30. [year]

    Returns:
        Last day of the month 15 years on for a composite; None for a specification without a set life, for a mark
        without a known rule and where no month is recorded. [date]

    Raises:
        ValueError: life_years is not 15 to 30.

    Source: 49 CFR 180.205(c); RSPA Safety Advisory 94-1 (1994), 15 years for composites; DOT-SP 16320 for longer.
    """
    if life_years is not None and not COMPOSITE_LIFE_YEARS <= life_years <= LONGEST_LIFE_YEARS:
        raise ValueError(f"life_years must be {COMPOSITE_LIFE_YEARS} to {LONGEST_LIFE_YEARS} years, got {life_years!r}")
    rule = _rule(spec_mark)
    if rule is None or rule.life is None or made is None:
        return None
    years = life_years if rule is _COMPOSITE and life_years else rule.life
    return due_month(made, 12 * years)


def cylinder_dates(
    spec_mark: str,
    made: date | None,
    last: date | None,
    suffix: str = "",
    permit_years: int | None = None,
    *,
    clean_and_coated: bool = True,
    life_years: int | None = None,
    star: Star | None = None,
) -> CylinderDates:
    """Both dates of a cylinder: no refill after, and remove by.

    Past the first it may be used until it is empty; past the second it is removed, full or not.

    Args:
        spec_mark: as stamped or written, see requalify_by. [-]
        made: any day of the month of manufacture, None where not recorded. [date]
        last: any day of the month of the last requalification, None where there was none. [date]
        suffix: stamped after that month, see requalify_by. [-]
        permit_years: interval set by a composite's permit. [year]
        clean_and_coated: see requalify_by. [-]
        life_years: see remove_by. [year]
        star: what is known of a cylinder with the star; one fact against it takes its ten years. [-]

    Returns:
        The two dates, the years from the last requalification or manufacture, and the clause. [date]

    Raises:
        ValueError: as requalify_by and remove_by.

    Source: 49 CFR 180.205(c) and 180.209, see requalify_by, remove_by and star_objections.
    """
    rule = _rule(spec_mark)
    if rule is _THREE_A and star is not None and star_objections(spec_mark, made, star):
        suffix = ""
    due = requalify_by(
        spec_mark, made, last, suffix, permit_years, clean_and_coated=clean_and_coated, life_years=life_years
    )
    end = remove_by(spec_mark, made, life_years)
    if rule is None or due is None:
        return CylinderDates(due, end, None, "no rule is known for the mark, or no month is recorded")
    return CylinderDates(due, end, _years(rule, made, last, suffix, permit_years, clean_and_coated), rule.clause)


def star_objections(spec_mark: str, made: date | None, star: Star) -> tuple[str, ...]:
    """What stands against ten years for a cylinder whose mark bears the star; a fact not known is no objection.

    Args:
        spec_mark: as stamped or written, see requalify_by. [-]
        made: any day of the month of manufacture, None where not recorded. [date]
        star: what is known of the cylinder. [-]

    Returns:
        Objections in words, none where ten years may stand. [-]

    Raises:
        ValueError: the water capacity is not above 0 kg.

    Source: 49 CFR 180.209(b)(1) (read; the gases other than air from memory).
    """
    if star.water_capacity_kg is not None:
        within("water_capacity_kg", star.water_capacity_kg, 0.0, unit="kg", above=True)
    against = {
        "only 3A and 3AA may bear it": _rule(spec_mark) is not _THREE_A,
        "made before 1946": made is not None and made < _STAR_FROM,
        "more than 125 lb of water": star.water_capacity_kg is not None and star.water_capacity_kg > _STAR_WATER_KG,
        f"{star.gas} is not on the list": star.gas is not None and star.gas.strip().lower() not in STAR_GASES,
        "filled in its rack": star.off_the_rack is False,
        "used for breathing under water": star.underwater is True,
        "not dried after its water test": star.dried is False,
    }
    return tuple(words for words, holds in against.items() if holds)


def shelf_life(
    kind: str,
    received: date | None,
    printed: date | None,
    months: int | None = None,
) -> ShelfLife:
    """Last day on which a supply is in date: the printed date, else its kind's life from receipt.

    Args:
        kind: one of SHELF_LIVES, in any case; another one is in date by its printed date alone, or by months. [-]
        received: day of receipt, None where not recorded. [date]
        printed: date on the package, the last day of its month where only that is printed; None where none is. [date]
        months: life that the maker or the department sets, in place of the kind's. [month]

    Returns:
        Day, None where it cannot be told; and what says so, or what is missing. [date]

    Raises:
        ValueError: months is below 1.

    Source: SHELF_LIVES, each with its own; the printed date comes first.
    """
    if months is not None:
        within("months", months, 1.0, unit="month")
    if printed is not None:
        return ShelfLife(printed, "printed date")
    default = SHELF_LIVES.get(" ".join(kind.lower().split()))
    life = default if months is None else Shelf(months, 0, "the maker's or the department's own life")
    if life is None:
        return ShelfLife(None, "no printed date, and no life is known for its kind: ask the maker")
    if received is None:
        return ShelfLife(None, "no printed date and no day of receipt: look at the package")
    return ShelfLife(add_months(received, life.months) + timedelta(days=life.days), life.source)


def remaining_life(
    in_service: date,
    on: date,
    life_years: float,
    *,
    hours_left: float | None = None,
    hours_per_year: float | None = None,
    ends: date | None = None,
) -> LifeLeft:
    """Life that is left of a piece of equipment: by the calendar, by its hours and by a date set from outside.

    Args:
        in_service: day on which its life began. [date]
        on: day to be judged, not before in_service. [date]
        life_years: expected life, > 0. [year]
        hours_left: running hours left by its condition, >= 0; None where it is not counted. [h]
        hours_per_year: how much it runs, > 0; needed with hours_left. [h/year]
        ends: day on which a regulation ends it, None where none does. [date]

    Returns:
        Age and the least of what is left, never below 0; that over life_years; what ends it first. [year]

    Raises:
        ValueError: an argument is out of range, or hours_left comes without hours_per_year.

    Source: age by calendar months; the least of the three.
    """
    within("life_years", life_years, 0.0, unit="year", above=True)
    if on < in_service:
        raise ValueError(f"on must not be before in_service, got {on} and {in_service}")
    age = months_between(in_service, on) / 12
    left = {"calendar": life_years - age}
    if hours_left is not None:
        within("hours_left", hours_left, 0.0, unit="h")
        if hours_per_year is None:
            raise ValueError("hours_per_year must be above 0 h/year where hours_left is given, got None")
        within("hours_per_year", hours_per_year, 0.0, unit="h/year", above=True)
        left["hours"] = hours_left / hours_per_year
    if ends is not None:
        left["date"] = months_between(on, ends) / 12
    first = min(left, key=lambda name: left[name])
    least = max(0.0, left[first])
    return LifeLeft(age, least, least / life_years, first)


def replace_by(in_service: date, life_months: int, ends: date | None = None) -> date:
    """Day by which a piece of equipment is replaced: the end of its life, or the day that a regulation ends it.

    Args:
        in_service: day on which its life began. [date]
        life_months: expected life, at least 1. [month]
        ends: day on which a regulation ends it, None where none does. [date]

    Returns:
        The earlier of the two. [date]

    Raises:
        ValueError: life_months is out of range.

    Source: the calendar.
    """
    within("life_months", life_months, 1.0, unit="month")
    end = add_months(in_service, life_months)
    return min(end, ends) if ends else end


def fiscal_year(day: date, first_month: int = 1) -> int:
    """Budget year in which a day falls, named for the calendar year in which it ends.

    Args:
        day: any day. [date]
        first_month: month with which the budget year begins, 1 to 12; 10 for federal money. [month]

    Returns:
        Year. [year]

    Raises:
        ValueError: first_month is not 1 to 12.

    Source: common practice of public budgets.
    """
    within("first_month", first_month, 1, 12, unit="month")
    return day.year + (first_month > 1 and day.month >= first_month)


def _rule(spec_mark: str) -> _Rule | None:
    mark = _AUTHORITY.sub("", re.sub(r"[^A-Z0-9]", "", spec_mark.upper()))
    return next((rule for pattern, rule in _FAMILIES if pattern.match(mark)), None)


def _suffix(suffix: str) -> str:
    """The suffix as the rules spell it: no blanks, capitals, one sign for a five-pointed star."""
    spelt = suffix.upper().replace("\N{BLACK STAR}", "*").replace("\N{WHITE STAR}", "*").replace("STAR", "*")
    return "".join(spelt.split()).removeprefix("NONE")
