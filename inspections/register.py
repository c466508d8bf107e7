"""A register of past checks as rows: finds its columns under any headings, and its readings however they are written.

Plain Python, no database. A row is one check, repair, use or refill; what cannot be read is refused with its cell.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from inventory.importing.cells import CellError, parse_day, text_of, writes_day_first
from inventory.importing.report import Notice
from inventory.importing.sheets import Sheet

# What a register may head each column with, compared in lower case without marks.
HEADINGS: Mapping[str, frozenset[str]] = {
    "date": frozenset(
        {"date", "day", "when", "done on", "date done", "checked on", "inspected", "date of check", "dt"}
    ),
    "tag": frozenset(
        {
            "tag",
            "tag no",
            "tag number",
            "item",
            "item tag",
            "id",
            "item id",
            "unit",
            "unit id",
            "equipment",
            "no",
            "number",
        }
    ),
    "check": frozenset(
        {"check", "check type", "test", "type", "procedure", "what", "activity", "inspection", "event", "kind of check"}
    ),
    "by": frozenset(
        {"by", "done by", "who", "name", "inspector", "initials", "checked by", "tested by", "signed", "performed by"}
    ),
    "readings": frozenset({"readings", "reading", "values", "results", "measurements", "measured", "data", "result"}),
    "remark": frozenset({"remark", "remarks", "note", "notes", "comment", "comments"}),
}
NEEDED = ("date", "tag", "by")
OTHER_WORDS: Mapping[str, str] = {
    "used": "used",
    "use": "used",
    "refill": "refilled",
    "refilled": "refilled",
    "fill": "refilled",
    "repair": "repair",
    "repaired": "repair",
    "fix": "repair",
}
PASS_WORDS = frozenset({"ok", "pass", "passed", "good", "sat", "satisfactory"})
FAIL_WORDS = frozenset({"fail", "failed", "bad", "unsat", "unsatisfactory"})
PAIR = re.compile(r"^\s*([^=:]+?)\s*[=:]\s*(.*?)\s*$")
MOST_HEADER_ROWS = 25


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


@dataclass(slots=True)
class Reading:
    """What came of a file: rows in its own order, what was refused, what was found."""

    rows: list[Row] = field(default_factory=list)
    refused: list[Notice] = field(default_factory=list)
    findings: list[Notice] = field(default_factory=list)


def plain(text: Any) -> str:
    """Return a heading or a name as it is compared."""
    return " ".join(re.sub(r"[^a-z0-9%]+", " ", text_of(text).casefold()).split())


def read_register(sheets: Sequence[Sheet], check_words: Mapping[str, str], today: date) -> Reading:
    """Return the rows of a register, in the order of the file.

    Args:
        sheets: of the file.
        check_words: check key by every name that registers give it, in lower case.
        today: no check is dated after it.
    """
    out = Reading()
    for sheet in sheets:
        found = _header(sheet, check_words)
        if found is None:
            if any(any(cell is not None for cell in row) for row in sheet.rows):
                out.refused.append(
                    Notice(
                        sheet.name,
                        None,
                        "",
                        None,
                        "no row of headings with a date, a tag and a name was found",
                        "Head the columns date, tag, check, by, readings.",
                    )
                )
            continue
        _read_sheet(sheet, *found, check_words, today, out)
    return out


def _header(sheet: Sheet, check_words: Mapping[str, str]) -> tuple[int, dict[str, int], dict[int, str]] | None:
    """Return the header's row, the column of each role, and the columns that hold a reading each."""
    for at, cells in enumerate(sheet.rows[:MOST_HEADER_ROWS]):
        roles: dict[str, int] = {}
        rest: dict[int, str] = {}
        for column, cell in enumerate(cells):
            name = plain(cell)
            role = next((r for r, names in HEADINGS.items() if name in names and r not in roles), None)
            if role is not None:
                roles[role] = column
            elif name:
                rest[column] = text_of(cell)
        if all(role in roles for role in NEEDED) and ("check" in roles or plain(sheet.name) in check_words):
            return at, roles, rest
    return None


def _read_sheet(
    sheet: Sheet,
    at: int,
    roles: Mapping[str, int],
    rest: Mapping[int, str],
    check_words: Mapping[str, str],
    today: date,
    out: Reading,
) -> None:
    heads = {role: text_of(sheet.rows[at][column]) for role, column in roles.items()}
    body = sheet.rows[at + 1 :]
    day_first = writes_day_first([_cell(row, roles["date"]) for row in body])
    for number, cells in enumerate(body, start=at + 2):
        if all(cell is None or not text_of(cell) for cell in cells):
            continue
        got = {role: _cell(cells, column) for role, column in roles.items()}
        if not text_of(got["tag"]) and not text_of(got["by"]):
            continue  # a section heading, a total, a rule
        bad = list(_refusals(sheet.name, number, got, heads, day_first, check_words, today))
        if bad:
            out.refused.extend(bad)
            continue
        day = parse_day(got["date"], day_first=day_first)
        if day.precision != "day":
            problem = f"only the {day.precision} is recorded; taken as its first day"
            mend = "Write the day where it is known."
            out.findings.append(Notice(sheet.name, number, heads["date"], got["date"], problem, mend))
        check = _check(got, sheet, check_words)
        values = pairs(got.get("readings"), check) | {
            name: cells[column]
            for column, name in rest.items()
            if column < len(cells) and cells[column] is not None and text_of(cells[column])
        }
        remark = text_of(got.get("remark"))
        if not values and plain(remark) in PASS_WORDS:
            values = _bare(plain(remark), check)
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
                columns=heads,
            )
        )


def _cell(cells: Sequence[Any], column: int) -> Any:
    return cells[column] if column < len(cells) else None


def _check(got: Mapping[str, Any], sheet: Sheet, check_words: Mapping[str, str]) -> str:
    name = plain(got.get("check")) if "check" in got else plain(sheet.name)
    return check_words.get(name) or OTHER_WORDS.get(name) or ""


def _refusals(
    sheet: str,
    number: int,
    got: Mapping[str, Any],
    heads: Mapping[str, str],
    day_first: bool,
    check_words: Mapping[str, str],
    today: date,
) -> Iterator[Notice]:
    def refuse(role: str, problem: str, mend: str) -> Notice:
        return Notice(sheet, number, heads.get(role, role), got.get(role), problem, mend)

    try:
        day = parse_day(got["date"], day_first=day_first)
        if day is None:
            yield refuse("date", "the date is missing", "Write the day of the check.")
        elif day.on > today:
            yield refuse("date", "this day is still to come", "Write the day on which it was done.")
    except CellError as problem:
        yield refuse("date", problem.problem, problem.mend)
    if not text_of(got["tag"]):
        yield refuse("tag", "the tag is missing", "Write the tag of the item that was checked.")
    if not text_of(got["by"]):
        yield refuse("by", "nobody's name stands here", "Write who did it.")
    if "check" in got and not _check(got, Sheet(sheet, []), check_words):
        known = ", ".join(sorted({*check_words, *OTHER_WORDS} - set(check_words.values())))
        yield refuse("check", "no check has this name", f"Use one of: {known}.")


def pairs(cell: Any, check: str) -> dict[str, Any]:
    """Return the readings of one cell: ``psi=2.9; hold_min=60``, in lines or commas, or a bare word."""
    text = text_of(cell)
    if not text:
        return {}
    values: dict[str, Any] = {}
    for piece in re.split(r"[;|\n]+", text):
        parts = re.split(r",\s*(?=[A-Za-z][\w %/-]*\s*[=:])", piece)
        for part in parts:
            found = PAIR.match(part)
            if found:
                name = found[1]
                # A name given twice is kept under a name of its own, so that the reader of readings refuses it.
                values[name if name not in values else f"{name} "] = found[2]
            elif part.strip():
                values |= _bare(plain(part), check) or {part.strip(): "yes"}
    return values


def _bare(word: str, check: str) -> dict[str, Any]:
    """Return what a word without a number says: seen, or a result that is a claim."""
    if word in PASS_WORDS or word == "seen":
        return {"seen": "yes"} if check == "look" else {"result": "pass"}
    return {"result": "fail"} if word in FAIL_WORDS else {}
