"""What a column's cells look like: dates, money, codes, places … so that content can speak where headings do not.

Each likeness runs from 0 to 1 over the filled cells of a column; 0.5 means that the cells say nothing either way.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from inventory.importing.cells import (
    CellError,
    is_nothing,
    parse_day,
    parse_money,
    parse_quantity,
    parse_share,
    text_of,
)

TOTAL = re.compile(r"^\W*(?:sub\s*-?\s*|grand\s+)?totals?\b|^\W*sum\b\W|^\W*count of\b", re.I)
_TAG = re.compile(
    r"^[A-Za-z]{1,6}\d?[-_ ./]?\d{1,5}[A-Za-z]?$|^[A-Za-z]{1,5}[-_]\d?[A-Za-z]{1,4}[-_]?\d{1,4}$|"
    r"^[A-Z]{2,5}\d{0,3}[-_][A-Z0-9]{1,6}$"
)
_CODE = re.compile(r"^(?=.*\d)[A-Za-z0-9][A-Za-z0-9./_#-]{3,24}$")
_AWARD = re.compile(r"^(?=.*\d{2})(?=.*[A-Za-z])[A-Za-z0-9]+([-/ .][A-Za-z0-9]+){1,5}$")
_LINE = re.compile(
    r"^(?:(?:decon\s+)?(?:line|set|team|unit|trailer|package|corridor|rig)\s*[-#:]?\s*[A-Za-z0-9]{1,8}|[A-D]|all|"
    r"both|shared)$",
    re.I,
)
# a line or a station over a column of numbers: how many of each thing it has
LINE_HEADING = re.compile(
    r"^(?:(?:decon\s+)?(?:line|set|team|trailer|package|corridor|rig|cache)\s*[-#:]?\s*[A-Za-z0-9]{1,8}|"
    r"(?:station|stn|sta)\.?\s*#?\d{1,3})$",
    re.I,
)
PLACE_WORDS = re.compile(
    r"\b(?:station|stn|sta\.?|bay|room|rm|shelf|rack|container|conex|trailer bay|building|bldg|warehouse|shed|"
    r"garage|locker|"
    r"cabinet|cage|store\s?room|storage|hq|headquarters|annex|compartment|bin|floor|yard|hospital|dock|truck bay|"
    r"app bay)\b|^st\s*\d+",
    re.I,
)  # fmt: skip
CONDITION_WORDS = re.compile(
    r"^(?:new|excellent|exc|good|very good|ok|okay|fair|poor|bad|serviceable|unserviceable|usable|repairable|"
    r"salvage|scrap|"
    r"working|operational|functional|broken|damaged|oos|out of service|in service|ready|used|worn|needs? \w+|"
    r"boxed|unopened|"
    r"a|b|c|d|f|code [a-h]|satisfactory|unsat\w*|active|spare|in box|like new|unused|retired|missing|lost)\W*$",
    re.I,
)
_MEASURE = re.compile(
    r"\d\s*(?:ft|feet|'|\"|in\b|lbs?\b|gal|psi|v\b|volts?|a\b|amps?|w\b|kw|hp|gpm|btu|cu|ah|f\b|awg|lanes?|x\s*\d|%)",
    re.I,
)
_UNITS = re.compile(
    r"^(?:ea|each|pr|pair|set|box|bx|cs|case|pk|pkg|pack|roll|ft|gal|lb|dz|kit|unit|pcs?|bag|btl|bottle)s?\.?$", re.I
)
_PERSON = re.compile(r"^[A-Z][A-Za-z'’.-]+(?:,? [A-Z][A-Za-z'’.-]*){0,3}$")
_ROLE = re.compile(
    r"\b(?:officer|crew|head|chief|capt\w*|lieut\w*|lt\.?|ff|firefighter|grants?|logistics|medic|emt|operator|"
    r"lead|member|engineer|driver|tech\w*|hazmat)\b",
    re.I,
)


@dataclass(frozen=True, slots=True)
class Cells:
    """The filled cells of one column below its heading, and how many rows there are."""

    filled: Sequence[Any]
    rows: int
    kind_likeness: float = 0.0  # how many of the texts name a kind

    def share(self, test: Callable[[Any], bool]) -> float:
        """Return the part of the filled cells that pass a test."""
        said = [c for c in self.filled if not is_nothing(c)]
        return sum(1 for c in said if test(c)) / len(said) if said else 0.5

    @property
    def variety(self) -> float:
        """Distinct values over filled cells."""
        return len({text_of(c).lower() for c in self.filled}) / len(self.filled) if self.filled else 0.0


def likeness(cells: Cells, role: str) -> float:
    """Return how much a column's cells look like a role's; 0.5 for a column without cells."""
    if not cells.filled:
        return 0.5
    return _LIKENESS[role](cells) if role in _LIKENESS else 0.5


def _parses(parser: Callable[[Any], Any]) -> Callable[[Any], bool]:
    def test(cell: Any) -> bool:
        try:
            return parser(cell) is not None
        except CellError:
            return False

    return test


def _matches(pattern: re.Pattern[str]) -> Callable[[Any], bool]:
    return lambda cell: bool(pattern.search(text_of(cell)))


def _is_day(cell: Any) -> bool:
    return isinstance(cell, datetime | date) or _parses(parse_day)(cell)


def _is_small_count(cell: Any) -> bool:
    try:
        many = parse_quantity(cell)
    except CellError:
        return False
    return many is not None and many <= 5000 and not (isinstance(cell, str) and "$" in cell)


def is_sequence(cells: Cells) -> bool:
    """Return whether a column just numbers its rows: 1, 2, 3 …, perhaps again from 1 in every section."""
    numbers = [c for c in cells.filled if isinstance(c, int) or (isinstance(c, str) and c.isdigit())]
    if len(numbers) < 3 or len(numbers) < len(cells.filled):
        return False
    whole = [int(n) for n in numbers]
    steps = [b - a == 1 or (b == 1 and a > 1) for a, b in zip(whole, whole[1:], strict=False)]
    return all(steps) and whole[0] <= 2 and max(whole) > 2


def _tag(cells: Cells) -> float:
    if is_sequence(cells):
        return 0.0
    codes = cells.share(lambda c: bool(_TAG.match(text_of(c))) or bool(re.fullmatch(r"\d{3,10}", text_of(c))))
    return (
        codes * max(0.0, 2 * cells.variety - 1) * (0.4 + 0.6 * min(1.0, len(cells.filled) / max(cells.rows, 1) + 0.2))
    )


def _serial(cells: Cells) -> float:
    codes = cells.share(lambda c: not isinstance(c, datetime | date) and bool(_CODE.match(text_of(c).replace(" ", ""))))
    return codes * (0.2 + 0.8 * cells.variety) if not is_sequence(cells) else 0.0


def _quantity(cells: Cells) -> float:
    return 0.0 if is_sequence(cells) and len(cells.filled) > 4 else cells.share(_is_small_count)


def _cost(cells: Cells) -> float:
    marked = cells.share(lambda c: "$" in text_of(c) or bool(re.search(r"\.\d\d$", text_of(c))))
    return max(cells.share(_parses(parse_money)) * 0.7, min(1.0, marked * 1.3))


def _share(cells: Cells) -> float:
    fits = cells.share(_parses(parse_share))
    # a lone 0 or 1 may be a share or a count: what else stands in the column tells
    telling = [c for c in cells.filled if text_of(c) not in ("0", "1")]
    marks = sum("%" in text_of(c) or (isinstance(c, float) and 0 < c < 1) for c in telling)
    return fits * (0.4 + 0.6 * marks / max(len(telling), 1))


def _day(cells: Cells) -> float:
    return cells.share(_is_day)


def _name(cells: Cells) -> float:
    texts = cells.share(lambda c: isinstance(c, str) and bool(re.search(r"[A-Za-z]{3}", c)))
    return texts * min(1.0, 0.25 + 1.1 * cells.kind_likeness)


def _line(cells: Cells) -> float:
    few = 1.0 if len({text_of(c).lower() for c in cells.filled}) <= 12 else 0.4
    numbers = cells.share(_is_small_count) > 0.6
    repeated = 0.6 if cells.variety < 0.5 else 0.35
    return few * max(cells.share(_matches(_LINE)), repeated if few == 1.0 and not numbers else 0.0)


def _award(cells: Cells) -> float:
    codes = cells.share(lambda c: isinstance(c, str) and bool(_AWARD.match(c.strip())) and len(c.strip()) >= 6)
    return codes * (1.0 if cells.variety < 0.7 or len(cells.filled) < 4 else 0.6)


def _note(cells: Cells) -> float:
    return 0.4 + 0.4 * cells.share(lambda c: isinstance(c, str) and not _TAG.match(c) and " " in c)


def _person(cells: Cells) -> float:
    return cells.share(lambda c: isinstance(c, str) and bool(_PERSON.match(c.strip()))) * (
        1 - 0.8 * cells.kind_likeness
    )


_LIKENESS: dict[str, Callable[[Cells], float]] = {
    "tag": _tag,
    "name": _name,
    "serial": _serial,
    "quantity": _quantity,
    "spec": lambda c: 0.25 + 0.75 * c.share(_matches(_MEASURE)),
    "line": _line,
    "place": lambda c: 0.3 + 0.7 * c.share(_matches(PLACE_WORDS)) if not c.share(_is_day) > 0.5 else 0.0,
    "acquired": _day,
    "made": _day,
    "expires": _day,
    "disposed_on": _day,
    "cost": _cost,
    "total_cost": _cost,
    "federal_amount": _cost,
    "share": _share,
    "award": _award,
    "condition": lambda c: c.share(_matches(CONDITION_WORDS)),
    "note": _note,
    "maker": lambda c: 0.6 * c.share(lambda v: isinstance(v, str)),
    "par": _quantity,
    "per_person": lambda c: c.share(lambda v: _is_small_count(v) or isinstance(v, float)),
    "uom": lambda c: c.share(_matches(_UNITS)),
    "lot": lambda c: c.share(lambda v: bool(re.search(r"\d", text_of(v))) and not _is_day(v)),
    "row_number": lambda c: 1.0 if is_sequence(c) else 0.0,
    "custodian": lambda c: 0.3 + 0.7 * c.share(_matches(_PERSON)),
    "person": _person,
    "first_name": _person,
    "last_name": _person,
    "role": lambda c: 0.4 + 0.6 * c.share(_matches(_ROLE)),
    "qualified": _day,
    "qualified_until": _day,
    "qualified_on": _day,
    "funding": lambda c: 0.6,
}
# roles that a column may be given by its content alone, and how much of a likeness that takes
BY_CONTENT = {
    "name": 0.6,
    "tag": 0.75,
    "serial": 0.8,
    "quantity": 0.95,
    "cost": 0.8,
    "share": 0.85,
    "acquired": 0.85,
    "line": 0.8,
    "place": 0.8,
    "condition": 0.8,
    "spec": 0.8,
    "award": 0.9,
    "person": 0.9,
}
DATED = frozenset({"acquired", "made", "qualified", "qualified_on", "qualified_until"})
# columns of these roles hold one type of value: cells that are of another type speak against the heading
TYPED = frozenset(
    {"quantity", "acquired", "made", "cost", "share", "expires", "par", "per_person", "total_cost", "qualified",
     "federal_amount", "disposed_on", "qualified_on", "qualified_until"}
)  # fmt: skip
