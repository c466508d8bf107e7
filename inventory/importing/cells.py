"""One cell as a typed value: parse it, or say what is wrong with it and how to mend it.

Every parser takes a cell of any type and returns the value, or None for a blank (including the ways people write
"nothing known"), or raises CellError. None of them crashes on anything.
"""

import calendar
import math
import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from inventory.importing.number_words import digits

NOTHING = frozenset(
    {
        "", "-", "--", "---", "?", "??", "???", ".", "n/a", "na", "n.a.", "n/k", "none", "nil", "null", "unknown",
        "unk", "unkn", "tbd", "tba", "not known", "not recorded", "not available", "see binder", "see file", "x",
    }
)  # fmt: skip
_UNREADABLE = re.compile(
    r"unread|illegib|worn|faded|missing|scratched|no plate|not legible|can'?t read|painted over", re.I
)
_GIVEN = frozenset({"donated", "donation", "gift", "free", "n/c", "no charge", "no cost", "incl", "included"})
_LOCAL = re.compile(r"\b(local|county|city|town|district|state|donat\w*|private|general fund|operating|own)\b", re.I)
_ALONE = {"a": 1, "an": 1, "single": 1, "couple": 2}  # words that count only where they are the whole cell
_MONTHS = {name.lower(): n for n, name in enumerate(calendar.month_abbr) if name} | {
    name.lower(): n for n, name in enumerate(calendar.month_name) if name
} | {"sept": 9}  # fmt: skip
_WEEKDAY = re.compile(r"(?:mon|tue|tues|wed|wednes|thu|thur|thurs|fri|sat|satur|sun)(?:day)?")
# "see invoice" says where the date is, not what it is
_ELSEWHERE = re.compile(r"(?:see|ask|check|per)\s+(?:the\s+)?[a-z ]{2,30}", re.I)
_EXCEL_EPOCH = date(1899, 12, 30)
_SERIAL_RANGE = (18_264, 73_050)  # 1950 to 2099
_QUANTITY = re.compile(
    r"(?:qty\.?|x|approx\.?|about|~|\(|#)?\s*([-+]?[\d.,' ]*\d)\s*(?:x|\))?\s*(?:(?:of|/)\s*\d+)?\s*"
    r"(doz(?:en)?\.?|dz\.?)?\s*[a-z./'’()\- ]*"
)
_YEARS = (1950, 2099)


class CellError(ValueError):
    """A cell that cannot be what its column holds."""

    def __init__(self, problem: str, mend: str) -> None:
        super().__init__(problem)
        self.problem, self.mend = problem, mend


@dataclass(frozen=True, slots=True)
class Day:
    """A date as the register knew it: to the day, or only to the month or the year."""

    on: date
    precision: str = "day"  # day, month or year

    @property
    def month(self) -> str:
        return f"{self.on:%Y-%m}"


@dataclass(frozen=True, slots=True)
class Share:
    """The federal part of a cost, as a fraction, and what else the cell said of the funding."""

    fraction: Decimal | None
    source: str = ""


def text_of(cell: Any) -> str:
    """Return a cell as one line of text."""
    if cell is None:
        return ""
    if isinstance(cell, float) and math.isfinite(cell) and cell.is_integer():
        cell = int(cell)
    if isinstance(cell, datetime):
        cell = cell.date()
    return " ".join(str(cell).split())


def is_nothing(cell: Any) -> bool:
    """Return whether a cell is blank or says in words that nothing is known."""
    return text_of(cell).strip().lower() in NOTHING


def parse_serial(cell: Any) -> tuple[str, str]:
    """Return (serial, ""), or ("", what the register says instead) where there is none to read."""
    text = text_of(cell)
    if not text:
        return "", ""
    bare = re.sub(r"^(?:s/?n|serial(?:\s*(?:no|number))?)\s*(?:[:#.]+\s*|\s)", "", text, flags=re.I).strip()
    if is_nothing(bare) or _UNREADABLE.search(bare) or not re.search(r"[A-Za-z0-9]", bare):
        return "", text
    return bare[:80], ""


def parse_number(text: str) -> float:
    """Return a number written with thousands marks either way: 1,200.00 and 1.200,00 and 1 200.

    Raises:
        CellError: it is no number.
    """
    bare = text.strip().replace(" ", "").replace("'", "")
    if re.fullmatch(r"[-+]?\d{1,3}(\.\d{3})+,\d+", bare) or re.fullmatch(r"[-+]?\d+,\d{1,2}", bare):
        bare = bare.replace(".", "").replace(",", ".")
    bare = re.sub(r"(?<=\d),(?=\d{3})", "", bare)
    try:
        number = float(bare)
    except ValueError:
        raise CellError(f"{text!r} is not a number", "write the number alone, such as 12") from None
    if not math.isfinite(number):
        raise CellError(f"{text!r} is not a number", "write the number alone, such as 12")
    return number


def parse_quantity(cell: Any) -> int | None:
    """Return how many: 12, "12 ea", "x6", "two hundred", "2 doz", "4 of 6" (4 are there).

    Raises:
        CellError: words, a fraction or a negative number.
    """
    mend = "count them and write a whole number, such as 6 or 6 ea"
    if isinstance(cell, bool):
        raise CellError(f"{cell} is not a quantity", mend)
    if isinstance(cell, datetime | date):
        raise CellError(f"{text_of(cell)} is a date, not a quantity", mend)
    if isinstance(cell, int | float):
        return _whole(float(cell), text_of(cell), mend)
    text = text_of(cell).lower()
    if text in NOTHING:
        return None
    if text in _ALONE:
        return _ALONE[text]
    for said in (text, digits(text)):
        match = _QUANTITY.fullmatch(said)
        if match and not re.match(r"^\s*[-+]?\d+\s*-\s*\d+", said):
            return _whole(parse_number(match.group(1)) * (12 if match.group(2) else 1), text, mend)
    return _refuse(text)


def _refuse(text: str) -> int:
    raise CellError(f"{text!r} is not a quantity", "count them and write a whole number, such as 6 or 6 ea")


def _whole(number: float, text: str, mend: str) -> int:
    if not math.isfinite(number) or number != int(number):
        raise CellError(f"{text!r} is not a whole number", mend)
    if number < 0:
        raise CellError(f"{text!r} is less than none", mend)
    if number > 1_000_000:
        raise CellError(f"{text!r} is more than any cache holds", mend)
    return int(number)


def parse_money(cell: Any) -> Decimal | None:
    """Return an amount in dollars: 1200, "$1,200.00", "1.2k", "USD 60 ea", "~$500".

    Raises:
        CellError: words, a date, or less than nothing.
    """
    mend = "write the amount in dollars, such as 1200.00, or leave it blank"
    if isinstance(cell, bool | datetime | date):
        raise CellError(f"{text_of(cell)!r} is not an amount", mend)
    text = text_of(cell).lower()
    if text in NOTHING | _GIVEN:
        return None
    match = re.fullmatch(
        r"(?:~|≈|approx\.?|about|est\.?|us\s?d|usd?|\$|€|£|\s)*([-+]?[\d.,' ]*\d)\.?\s*(k)?\s*"
        r"(?:usd|\$|€|£|/|each|ea\.?|per|[a-z ])*",
        text,
    )
    if not match or text.startswith("("):
        raise CellError(f"{text_of(cell)!r} is not an amount", mend)
    try:
        amount = Decimal(repr(parse_number(match.group(1)))) * (1000 if match.group(2) else 1)
        amount = amount.quantize(Decimal("0.01"))
    except (CellError, InvalidOperation):
        raise CellError(f"{text_of(cell)!r} is not an amount", mend) from None
    if amount < 0 or amount >= Decimal("1e9"):
        raise CellError(f"{text_of(cell)!r} is no price of an item", mend)
    return amount


def parse_share(cell: Any) -> Share | None:
    """Return the federal share: 0.75, 75, "75%", "75 %", "local" (none of it).

    Raises:
        CellError: more than all of it, less than none, or words that say neither.
    """
    mend = "write the federal part in percent, such as 75%, or local"
    if isinstance(cell, bool | datetime | date):
        raise CellError(f"{text_of(cell)!r} is not a share", mend)
    text = text_of(cell)
    if text.lower() in NOTHING - {"none", "nil"}:
        return None
    if match := re.search(r"[-+]?\d+(?:[.,]\d+)?", text):
        if re.search(r"\d\s*[-–]\s*\d|/", text):
            raise CellError(f"{text!r} is not one share", mend)
        number = Decimal(match.group().replace(",", "."))
        fraction = number / 100 if "%" in text or number > 1 else number
        if not 0 <= fraction <= 1:
            raise CellError(f"{text!r} is not between 0 and 100 percent", mend)
        return Share(fraction.quantize(Decimal("0.0001")), "local" if fraction == 0 else "")
    if text.lower() in ("none", "nil", "no"):
        return Share(Decimal(0), "local")
    if _LOCAL.search(text):
        return Share(Decimal(0), text.lower() if len(text) <= 40 else text[:40])
    raise CellError(f"{text!r} does not say what part is federal", mend)


def parse_factor(cell: Any) -> float | None:
    """Return a plain positive number such as uses per person.

    Raises:
        CellError: no number, or less than nothing.
    """
    if is_nothing(cell):
        return None
    text = text_of(cell)
    number = parse_number(re.sub(r"\s*(each|ea|pp|per person|/person)\.?$", "", text, flags=re.I))
    if number < 0 or isinstance(cell, bool) or number > 10_000:
        raise CellError(f"{text!r} is no number of uses", "write a number such as 2")
    return number


def parse_day(cell: Any, *, day_first: bool = False) -> Day | None:
    """Return a date: dates and serial numbers of spreadsheets, 3/14/19, 14-Mar-2019, 2019-03-14, Mar 2019, 2019.

    Args:
        cell: the cell.
        day_first: the column writes the day before the month.
    Raises:
        CellError: no calendar holds that date, or it is no date.
    """
    mend = "write the date as month/day/year, such as 03/14/2019, or Mar 2019"
    if isinstance(cell, datetime):
        return _day(cell.year, cell.month, cell.day, text_of(cell), mend)
    if isinstance(cell, date):
        return _day(cell.year, cell.month, cell.day, text_of(cell), mend)
    if isinstance(cell, bool):
        raise CellError(f"{cell} is not a date", mend)
    if isinstance(cell, int | float):
        return _from_number(cell, mend)
    text = text_of(cell)
    if text.lower() in NOTHING or _ELSEWHERE.fullmatch(text):
        return None
    bare = re.sub(r"^(circa|ca\.?|approx\.?|about|around|est\.?|~|≈|>|<)\s*", "", text, flags=re.I).strip(" .,?")
    bare = re.sub(r"[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?( ?[AaPp]\.?[Mm]\.?)?(Z|[+-]\d{2}:?\d{2})?$", "", bare)
    if re.fullmatch(r"\d{5}(\.\d+)?", bare):
        return _from_number(float(bare), mend)
    return _from_numbers(bare, text, day_first, mend) or _from_words(bare, text, mend)


def _from_numbers(bare: str, text: str, day_first: bool, mend: str) -> Day | None:
    if m := re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", bare):
        return _day(int(m[1]), int(m[2]), int(m[3]), text, mend)
    if m := re.fullmatch(r"((?:19|20)\d{2})(\d{2})(\d{2})", bare):
        return _day(int(m[1]), int(m[2]), int(m[3]), text, mend)
    if m := re.fullmatch(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{4}|\d{2})", bare):
        first, second, year = int(m[1]), int(m[3]), _year(m[4])
        day_leads = first > 12 or (second <= 12 and (day_first or m[2] == "."))
        month, day = (second, first) if day_leads else (first, second)
        return _day(year, month, day, text, mend)
    if m := re.fullmatch(r"(\d{4})[-/.](\d{1,2})", bare):
        return _day(int(m[1]), int(m[2]), 1, text, mend, "month")
    if m := re.fullmatch(r"(\d{1,2})[-/.](\d{4})", bare):
        return _day(int(m[2]), int(m[1]), 1, text, mend, "month")
    if m := re.fullmatch(r"(19|20)\d{2}", bare):
        return _day(int(bare), 1, 1, text, mend, "year")
    return None


def _from_words(bare: str, text: str, mend: str) -> Day:
    parts = [
        p for p in re.split(r"[\s,./'’\-]+", bare.lower()) if p and p not in ("of", "the") and not _WEEKDAY.fullmatch(p)
    ]
    months = [p for p in parts if p in _MONTHS]
    numbers = [re.sub(r"(st|nd|rd|th)$", "", p) for p in parts if p not in _MONTHS]
    if len(months) == 1 and all(n.isascii() and n.isdigit() for n in numbers):
        month = _MONTHS[months[0]]
        if len(numbers) == 1 and len(numbers[0]) in (2, 4):
            return _day(_year(numbers[0]), month, 1, text, mend, "month")
        if len(numbers) == 2:
            day, year = sorted(numbers, key=len) if len(numbers[0]) == 4 or len(numbers[1]) == 4 else numbers
            if len(year) in (2, 4):
                return _day(_year(year), month, int(day), text, mend)
    raise CellError(f"{text!r} is not a date", mend)


def _from_number(number: float, mend: str) -> Day:
    if not math.isfinite(number):
        raise CellError(f"{number} is not a date", mend)
    if number == int(number) and _YEARS[0] <= number <= _YEARS[1]:
        return Day(date(int(number), 1, 1), "year")
    if number == int(number) and 19_500_101 <= number <= 20_991_231:
        text = str(int(number))
        return _day(int(text[:4]), int(text[4:6]), int(text[6:]), text, mend)
    if _SERIAL_RANGE[0] <= number <= _SERIAL_RANGE[1]:
        return Day(_EXCEL_EPOCH + timedelta(days=int(number)))
    raise CellError(f"{number:g} is not a date", mend)


def _year(text: str) -> int:
    year = int(text)
    if len(text) == 4:
        return year
    return 1900 + year if year >= 70 else 2000 + year


def _day(year: int, month: int, day: int, text: str, mend: str, precision: str = "day") -> Day:
    try:
        on = date(year, month, day)
    except ValueError:
        raise CellError(f"no calendar holds the date {text!r}", mend) from None
    if not _YEARS[0] <= year <= _YEARS[1]:
        raise CellError(f"the year of {text!r} cannot be right", mend)
    return Day(on, precision)


def writes_day_first(cells: list[Any]) -> bool:
    """Return whether a column of dates puts the day before the month: some value only reads so, none the other way."""
    day_leads = month_leads = 0
    for cell in cells:
        if isinstance(cell, str) and (m := re.match(r"^(\d{1,2})[-/. ](\d{1,2})[-/. ]\d{2,4}\b", cell.strip())):
            first, second = int(m[1]), int(m[2])
            day_leads += first > 12 >= second
            month_leads += second > 12 >= first
    return day_leads > 0 and month_leads == 0
