"""A register of past checks as rows: finds its columns under any headings, and its readings however they are written.

Plain Python, no database. A row is one check, repair, use or refill; what cannot be read is refused with its cell.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Protocol

from inspections.register_words import plain, roles_of
from inventory.importing.cells import CellError, parse_day, text_of, writes_day_first
from inventory.importing.columns import letter_of
from inventory.importing.report import Notice
from inventory.importing.sheets import Sheet, Unreadable
from inventory.importing.told import NOTHING, Told

PASS_WORDS = frozenset({"ok", "okay", "pass", "passed", "good", "sat", "satisfactory", "p"})
FAIL_WORDS = frozenset({"fail", "failed", "bad", "unsat", "unsatisfactory", "f"})
PAIR = re.compile(r"^\s*([^=:]+?)\s*[=:]\s*(.*?)\s*$")
# "P1 3.00 psi", "T1 62F": a name, a number, perhaps its unit; a name ends in a letter or in one short number
SPACED = re.compile(r"^\s*([A-Za-z][A-Za-z_ %]*?\d?)\s+([+-]?(?:\d[\d,]*\.?\d*|\.\d+)\s*[A-Za-z°%'\"]{0,8})\s*$")
PARTS = re.compile(r"[;|\n]+|\s/\s")
MOST_HEADER_ROWS = 25
READ_AS = "reading "  # before the key of the reading that a column was said to hold
ROLES = ("date", "tag", "check", "by", "readings", "remark", "reading name", "value", "value unit")


class Names(Protocol):
    """What a department's own tags and procedures say of a register's words."""

    def is_tag(self, text: str) -> bool:
        """Return whether something of the cache is called so."""

    def check(self, name: str, tag: str) -> str:
        """Return the check a name means for the thing with a tag, or used, refilled, repair; "" for none."""

    def is_reading(self, heading: str) -> bool:
        """Return whether some check asks for a reading called so."""

    def known_checks(self) -> str:
        """Return the names of checks in a sentence."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the register, its readings by the names it gave them."""

    sheet: str
    row: int
    on: date
    tag: str
    check: str  # check key, or used, refilled, repair
    by: str
    values: Mapping[str, Any]
    remark: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    letters: Mapping[str, str] = field(default_factory=dict)  # of the columns, by role and by name of a reading


@dataclass(slots=True)
class Reading:
    """What came of a file: rows in its own order, what was refused, what was found."""

    rows: list[Row] = field(default_factory=list)
    refused: list[Notice] = field(default_factory=list)
    findings: list[Notice] = field(default_factory=list)
    sheets: list[dict[str, Any]] = field(default_factory=list)


def read_register(sheets: Sequence[Sheet], names: Names, today: date, told: Told = NOTHING) -> Reading:
    """Return the rows of a register, in the order of the file.

    Args:
        sheets: of the file.
        names: what the department's tags and procedures are called.
        today: no check is dated after it.
        told: what somebody said its columns hold.

    Raises:
        Unreadable: no tab of the file is such a register.
    """
    out = Reading()
    tables = 0
    for sheet in sheets:
        if not any(any(cell is not None for cell in row) for row in sheet.rows):
            continue
        table = _table(sheet, names, told)
        out.sheets.append(_said_of(sheet, table))
        if table is None:
            problem = "no row of headings with a date, a tag and a check was found"
            out.refused.append(
                Notice(sheet.name, None, "", None, problem, "Head the columns date, tag, check, by, readings.")
            )
            continue
        tables += 1
        _find_unread(table, out)
        for group in _grouped(table):
            _read_row(table, group, names, today, out)
    if not tables:
        raise Unreadable(
            "No tab of the file reads as a register of checks: no row of headings with a date, a tag and a check was "
            "found. Head the columns date, tag, check, by, readings and send it again.",
            out.sheets,
        )
    return out


@dataclass(frozen=True, slots=True)
class _Table:
    """One tab: where its headings stand, the column of each role, the columns of a reading each, and the others."""

    sheet: Sheet
    at: int
    roles: Mapping[str, int]
    readings: Mapping[int, str]
    unread: Mapping[int, str]
    day_first: bool

    @property
    def heads(self) -> dict[str, str]:
        heads = self.sheet.rows[self.at]
        return {role: text_of(_cell(heads, column)) for role, column in self.roles.items()}

    @property
    def letters(self) -> dict[str, str]:
        return {name: letter_of(c) for c, name in self.readings.items()} | {
            role: letter_of(c) for role, c in self.roles.items()
        }


def _said_of(sheet: Sheet, table: _Table | None) -> dict[str, Any]:
    """Return what is said of a tab in the report: its columns, each with what it was taken for."""
    if table is None:
        first = next((row for row in sheet.rows if sum(bool(text_of(c)) for c in row) >= 2), [])
        columns = [(c, text_of(cell), "", 0.0) for c, cell in enumerate(first) if text_of(cell)]
        return {"sheet": sheet.name, "sort": "", "rows": 0, "columns": _columns(columns)}
    heads, roles = sheet.rows[table.at], {column: role for role, column in table.roles.items()}
    columns = [
        (c, text_of(_cell(heads, c)), roles.get(c) or ("reading" if c in table.readings else ""), 1.0)
        for c in sorted({*roles, *table.readings, *table.unread})
    ]
    return {
        "sheet": sheet.name,
        "sort": "checks",
        "heading_rows": [table.at + 1],
        "rows": len(sheet.rows) - table.at - 1,
        "columns": _columns(columns),
    }


def _columns(columns: Sequence[tuple[int, str, str, float]]) -> list[dict[str, Any]]:
    return [
        {"column": letter_of(c), "heading": heading, "taken_as": role, "sureness": sure if role else 0.0}
        for c, heading, role, sure in columns
    ]


def _as_told(roles: dict[str, int], sheet: str, cells: Sequence[Any], told: Told) -> tuple[dict[str, int], set, dict]:
    """Return (roles, columns not to be read, name of the reading by column) as somebody said them."""
    roles, left, named = dict(roles), set[int](), dict[int, str]()
    for column, cell in enumerate(cells):
        said = told.role(sheet, letter_of(column), text_of(cell))
        if said is None:
            continue
        roles = {role: at for role, at in roles.items() if at != column}
        if not said:
            left.add(column)
        elif said == "reading" or said.startswith(READ_AS):
            named[column] = text_of(cell) if said == "reading" else said.removeprefix(READ_AS)
        elif said in ROLES:
            roles[said] = column
    return roles, left, named


def _table(sheet: Sheet, names: Names, told: Told) -> _Table | None:
    named_tab = bool(names.check(sheet.name, ""))
    for at, cells in enumerate(sheet.rows[:MOST_HEADER_ROWS]):
        guessed = roles_of(cells, named_tab=named_tab)
        roles, left, named = _as_told(guessed, sheet.name, cells, told)
        below = sheet.rows[at + 1 :]
        if "date" in roles and "tag" not in roles:
            roles |= _tag_column(cells, below, roles, names)
        if not {"date", "tag"} <= roles.keys() or ("check" not in roles and not named_tab) or len(roles) < 3:
            continue
        others = {
            column: text_of(cell) for column, cell in enumerate(cells) if plain(cell) and column not in roles.values()
        }
        others |= {c: f"column {letter_of(c)}" for c in _bare_columns(cells, below)}
        readings = {column: name for column, name in others.items() if names.is_reading(name) and column not in left}
        readings |= named
        unread = {column: name for column, name in others.items() if column not in readings}
        day_first = writes_day_first([_cell(row, roles["date"]) for row in below])
        return _Table(sheet, at, roles, readings, unread, day_first)
    return None


def _tag_column(cells: Sequence[Any], below: Sequence[Sequence[Any]], roles: Mapping[str, int], names: Names) -> dict:
    """Return the column whose cells are tags of the cache though it is headed "Heater" or "Cylinder"."""
    for column in range(len(cells)):
        filled = [text_of(_cell(row, column)) for row in below if text_of(_cell(row, column))]
        if column not in roles.values() and filled and sum(map(names.is_tag, filled)) >= 0.5 * len(filled):
            return {"tag": column}
    return {}


def _bare_columns(cells: Sequence[Any], below: Sequence[Sequence[Any]]) -> list[int]:
    width = max((len(row) for row in below), default=0)
    bare = [column for column in range(width) if not plain(_cell(cells, column))]
    return [column for column in bare if any(text_of(_cell(row, column)) for row in below)]


def _find_unread(table: _Table, out: Reading) -> None:
    """Find columns that hold something and are no reading of any check."""
    below = table.sheet.rows[table.at + 1 :]
    left = [name for column, name in table.unread.items() if any(text_of(_cell(row, column)) for row in below)]
    if left:
        problem = f"not read, as no check asks for it: {', '.join(left)}"
        mend = "Head a column as the check calls the reading, if it should count."
        out.findings.append(Notice(table.sheet.name, table.at + 1, "", None, problem, mend))


def _grouped(table: _Table) -> Iterator[tuple[int, Sequence[Any], dict[str, Any]]]:
    """Yield (row number, cells, readings) of each check: of its row, or of its rows where each holds one reading."""
    groups: dict[Any, tuple[int, Sequence[Any], dict[str, Any]]] = {}
    for number, cells in enumerate(table.sheet.rows[table.at + 1 :], start=table.at + 2):
        got = {role: _cell(cells, column) for role, column in table.roles.items()}
        if all(cell is None or not text_of(cell) for cell in cells) or _is_between(got, cells):
            continue
        if "value" not in got:
            yield number, cells, {}
            continue
        key = tuple(text_of(got.get(role)).casefold() for role in ("date", "tag", "check", "by"))
        _, _, values = groups.setdefault(key, (number, cells, {}))
        name = text_of(got["reading name"])
        # a name given twice is kept under a name of its own, so that the reader of readings refuses it
        values[name if name not in values else f"{name} "] = (
            f"{text_of(got['value'])} {text_of(got.get('value unit'))}".strip()
        )
    yield from groups.values()


def _is_between(got: Mapping[str, Any], cells: Sequence[Any]) -> bool:
    """Return whether a row is a section heading, a total or a rule: nobody and nothing is named, little is said."""
    filled = sum(bool(text_of(cell)) for cell in cells)
    return not text_of(got.get("tag")) and not text_of(got.get("by")) and filled <= 2


def _read_row(
    table: _Table, group: tuple[int, Sequence[Any], dict[str, Any]], names: Names, today: date, out: Reading
) -> None:
    number, cells, values = group
    heads, sheet = table.heads, table.sheet
    got = {role: _cell(cells, column) for role, column in table.roles.items()}
    bad = list(_refusals(table, number, got, names, today))
    if bad:
        out.refused.extend(bad)
        return
    day = parse_day(got["date"], day_first=table.day_first)
    if day.precision != "day":
        problem = f"only the {day.precision} is recorded; taken as its first day"
        out.findings.append(
            Notice(sheet.name, number, heads["date"], got["date"], problem, "Write the day where it is known.")
        )
    check = _check(got, sheet, names)
    remark = text_of(got.get("remark"))
    values = values | pairs(got.get("readings"), check)
    values |= {
        name: cells[column]
        for column, name in table.readings.items()
        if column < len(cells) and cells[column] is not None and text_of(cells[column])
    }
    if not values and remark:
        values = _bare(plain(remark), check) or _observed(remark, names)
    out.rows.append(
        Row(
            sheet.name,
            number,
            day.on,
            text_of(got["tag"]),
            check,
            text_of(got["by"]),
            values,
            remark,
            heads,
            table.letters,
        )
    )


def _observed(remark: str, names: Names) -> dict[str, Any]:
    """Return what a remark states outright, "trips and resets"; nothing unless every word of it is a reading."""
    said = [part.strip() for part in re.split(r"\s*(?:,|&|;|\band\b)\s*", remark) if part.strip()]
    return dict.fromkeys(said, "yes") if all(names.is_reading(part) for part in said) else {}


def _cell(cells: Sequence[Any], column: int) -> Any:
    return cells[column] if column < len(cells) else None


def _check(got: Mapping[str, Any], sheet: Sheet, names: Names) -> str:
    tag = text_of(got.get("tag"))
    named = names.check(text_of(got.get("check")), tag) if text_of(got.get("check")) else ""
    return named or ("" if text_of(got.get("check")) else names.check(sheet.name, tag))


def _refusals(table: _Table, number: int, got: Mapping[str, Any], names: Names, today: date) -> Iterator[Notice]:
    def refuse(role: str, problem: str, mend: str) -> Notice:
        letter = table.letters.get(role, "")
        return Notice(table.sheet.name, number, table.heads.get(role, role), got.get(role), problem, mend, letter)

    try:
        day = parse_day(got["date"], day_first=table.day_first)
        if day is None:
            yield refuse("date", "the date is missing", "Write the day of the check.")
        elif day.on > today:
            yield refuse("date", "this day is still to come", "Write the day on which it was done.")
    except CellError as problem:
        yield refuse("date", problem.problem, problem.mend)
    if not text_of(got["tag"]):
        yield refuse("tag", "the tag is missing", "Write the tag of the item that was checked.")
    if not text_of(got.get("by")):
        yield refuse("by", "nobody's name stands here", "Write who did it.")
    if not _check(got, table.sheet, names):
        yield refuse("check", "no check has this name", f"Use one of: {names.known_checks()}.")


def pairs(cell: Any, check: str) -> dict[str, Any]:
    """Return the readings of one cell: ``psi=2.9; hold_min=60``, ``P1 3.00 psi, T1 62F``, a number or a bare word."""
    text = text_of(cell) if not isinstance(cell, str) else cell
    if not text.strip():
        return {}
    if check == "count" and (many := re.fullmatch(r"\s*(?:counted\s*)?(\d+)(?:\s*(?:of|/)\s*\d+)?\s*", text, re.I)):
        return {"counted": many[1]}
    values: dict[str, Any] = {}
    for piece in PARTS.split(text):
        for part in re.split(r",\s*(?=[A-Za-z][\w %/-]*(?:\s*[=:]|\s+[+-]?\.?\d)|\d+\s+[A-Za-z])", piece):
            found = PAIR.match(part) or SPACED.match(part)
            if found:
                name = found[1]
                # A name given twice is kept under a name of its own, so that the reader of readings refuses it.
                values[name if name not in values else f"{name} "] = found[2]
            elif part.strip():
                values |= _bare(plain(part), check) or _judged(part) or {part.strip(): "yes"}
    return values


def _judged(part: str) -> dict[str, Any]:
    """Return "pass - 121 V for 30 min" as a result with a note: a claim, as the numbers have no names."""
    found = re.match(r"\s*([A-Za-z]+)\s*[-–,(]\s*(.+?)\)?\s*$", part)
    said = _bare(plain(found[1]), "") if found and len(found[1]) > 1 else {}
    return said | {"note": found[2]} if said and found else {}


def _bare(word: str, check: str) -> dict[str, Any]:
    """Return what a word without a number says: seen, or a result that is a claim."""
    if word in PASS_WORDS or word == "seen":
        return {"seen": "yes"} if check == "look" else {"result": "pass"}
    return {"result": "fail"} if word in FAIL_WORDS else {}
