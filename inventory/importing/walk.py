"""The rows of a table below its headings: which are rows of things, which are sections, totals, repeats or blank."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from inventory.importing.cells import is_nothing, text_of
from inventory.importing.columns import BY_LINE, Column, Table, is_heading_row
from inventory.importing.conditions import state_of_heading
from inventory.importing.content import PLACE_WORDS, TOTAL
from inventory.importing.headings import ITEM_ROLES, best_fit
from inventory.importing.sheets import Cell

_DITTO = frozenset({'"', "″", "〃", "''", "ditto", "do.", "same", "same as above", "as above", "〞"})
_LINE_SAID = re.compile(
    r"\b(?P<word>(?i:(?:decon(?:tamination)?\s+)?(?:line|set|team|corridor|package|unit|trailer|rig|cache|lane set)))"
    r"\s*[-#:]?\s*(?:no\.?\s*)?(?P<mark>[A-Z](?![a-z])|\d{1,3}[A-Z]?|[A-Z][a-z]+|one|two|three)\b"
)
# "Cache list" and "Line items" name no line
_NO_MARK = frozenset(
    {
        "list", "inventory", "contents", "content", "items", "item", "log", "register", "roster", "equipment", "gear",
        "supplies", "master", "data", "sheet", "name", "number", "no", "cost", "total", "pressure", "stock", "up",
        "consumables", "crew",
    }
)  # fmt: skip
_CHAPTERS = frozenset(
    {
        "shelter", "shelters", "inflation", "anchoring", "water", "heat", "heating", "wash", "waste", "light", "lights",
        "lighting", "power", "electrical", "footing", "redress", "ppe", "signs", "crew", "communications", "comms",
        "hoses", "pumps", "tools", "supplies", "consumables", "cylinders", "other", "misc", "miscellaneous",
    }
)  # fmt: skip
# a section's text stands in the first columns, or over all of them
_HEADED = frozenset({"", "name", "tag", "line", "place", "row_number", "person", "last_name", "first_name"})
_DECORATION = "-=*#_~•:–— .|>"


@dataclass(slots=True)
class Row:
    """One row of things.

    Attributes:
        number: as the spreadsheet numbers it, from 1.
        cells: by role, the (column, cell) pairs left to right that are filled.
        section: text of the nearest section row above.
        section_line, section_places: what that section, and those above it, say of line and place.
    """

    number: int
    cells: dict[str, list[tuple[Column, Cell]]]
    section: str = ""
    section_line: str = ""
    section_places: tuple[str, ...] = ()

    def first(self, role: str) -> Cell:
        """Return the first filled cell of a role, or None."""
        pairs = self.cells.get(role)
        return pairs[0][1] if pairs else None

    def text(self, role: str) -> str:
        """Return all cells of a role as text, joined."""
        return "; ".join(text_of(cell) for _, cell in self.cells.get(role, ()))


@dataclass(slots=True)
class Walked:
    """What was passed over, for the report."""

    totals: list[int] = field(default_factory=list)
    sections: list[tuple[int, str]] = field(default_factory=list)
    nameless: list[Row] = field(default_factory=list)
    doubtful: list[tuple[int, str]] = field(default_factory=list)  # sections that might be things


def line_named_in(text: str) -> str:
    """Return the line a text names ("--- Line A ---" is Line A), or ""."""
    bare = text.strip(_DECORATION)
    match = _LINE_SAID.search(bare.title() if bare.isupper() or bare.islower() else bare)
    if not match or match["mark"].lower() in _NO_MARK:
        return ""
    word = re.sub(r"^decon\w*\s+", "", match["word"].lower()).capitalize()
    return f"{word} {match['mark'].upper() if len(match['mark']) <= 2 else match['mark']}"


def places_named_in(text: str) -> tuple[str, ...]:
    """Return the places a text names, outermost first: "Station 4, trailer bay" is (Station 4, trailer bay)."""
    parts = [p.strip(_DECORATION) for p in re.split(r"\s*(?:,|;|/|\||>|\\|\s[-–—]\s|\()\s*", text.replace(")", ""))]
    kept = [p for p in parts if p and not is_nothing(p)]
    return tuple(kept[:4])


def walk(table: Table, names_kind: Callable[[str], float], walked: Walked) -> Iterator[Row]:
    """Yield the rows of things of a table; sections, totals, blanks and repeated headings are passed over."""
    section, line, places = "", _line_in_title(table), ()
    shouts = _mostly_upper(table)
    above: dict[int, Cell] = {}
    for index in range(table.first_row, len(table.sheet.rows)):
        row = table.sheet.rows[index]
        filled = [(i, c) for i, c in enumerate(row) if c is not None]
        if not filled or (len(filled) > 2 and is_heading_row(row)):
            continue
        if _is_total(table, filled):
            walked.totals.append(index + 1)
            continue
        if (said := _section_of(table, filled, names_kind, shouts)) is not None:
            text = said.strip(_DECORATION)
            text = text.title() if text.isupper() and len(text) > 3 else text
            # a chapter or a station below a line's heading does not end that line, nor a chapter the station
            line = line_named_in(said) or line
            section = section if places and text.lower() in _CHAPTERS else text
            places = _section_places(text) or (places if line_named_in(said) == "" else ())
            walked.sections.append((index + 1, text))
            if not _is_plainly_heading(said, shouts):
                walked.doubtful.append((index + 1, text))
            continue
        found = Row(index + 1, _by_role(table, row, above), section, line, places)
        if _is_named(table, found):
            yield found
        else:
            walked.nameless.append(found)


def by_lines(row: Row) -> list[Row]:
    """Return a row that has a number for each line as a row for each, without those that have none of the thing."""
    counted = row.cells.get(BY_LINE)
    if not counted:
        return [row]
    there = [pair for pair in counted if text_of(pair[1]).strip() not in ("0", "0.0", "-")]
    if len(there) > 1:
        # one tag or serial cannot be on two lines: it stays in the note
        marks = {role: row.cells[role] for role in ("tag", "serial") if role in row.cells}
        kept = {role: pairs for role, pairs in row.cells.items() if role not in marks}
        if marks:
            kept["note"] = [*kept.get("note", []), *(pair for pairs in marks.values() for pair in pairs)]
    else:
        kept = row.cells
    parts = []
    for column, cell in there or counted[:1]:
        cells = {**kept, "quantity": [(column, cell)], "line": [(column, column.heading)]}
        parts.append(Row(row.number, cells, row.section, row.section_line, row.section_places))
    return parts


def _line_in_title(table: Table) -> str:
    """Return the line that the title over a table names, where it names one: "Decon Trailer 7 load list"."""
    above = table.sheet.rows[: table.heading_rows[0]] if table.heading_rows else []
    said = {line_named_in(c) for row in above for c in row if isinstance(c, str) and len(c) <= 80} - {""}
    return said.pop() if len(said) == 1 else ""


def _is_plainly_heading(said: str, shouts: bool) -> bool:
    """Return whether a lone text says by its look or its words that it is over things, not one of them."""
    bare = said.strip(_DECORATION)
    return bool(
        bare != said
        or (said.isupper() and not shouts)
        or bare.lower() in _CHAPTERS
        or re.match(r"page \d+\b", bare, re.I)
        or line_named_in(said)
        or PLACE_WORDS.search(said)
        or state_of_heading(bare)[0]
        or best_fit(bare, ITEM_ROLES) == 1.0
    )


def _section_places(section: str) -> tuple[str, ...]:
    if not PLACE_WORDS.search(section):
        return ()
    return tuple(p for p in places_named_in(section) if not line_named_in(p) or PLACE_WORDS.search(p))


def _is_total(table: Table, filled: Sequence[tuple[int, Cell]]) -> bool:
    name = table.one("name") or table.one("person")
    names = dict(filled)
    if name and name.index in names and len(filled) > 1:
        return bool(TOTAL.search(text_of(names[name.index])))
    return any(isinstance(c, str) and TOTAL.search(c) for _, c in filled[:2]) or (
        len(filled) <= 3 and any(isinstance(c, str) and TOTAL.search(c) for _, c in filled)
    )


def _mostly_upper(table: Table) -> bool:
    """Return whether the register writes its names in capitals, so that capitals make no section."""
    name = table.one("name")
    rows = table.sheet.rows[table.first_row :]
    names = [r[name.index] for r in rows if name and name.index < len(r) and sum(c is not None for c in r) > 1]
    texts = [n for n in names if isinstance(n, str)]
    return bool(texts) and sum(n.isupper() for n in texts) > 0.5 * len(texts)


def _section_of(
    table: Table, filled: Sequence[tuple[int, Cell]], names_kind: Callable[[str], float], shouts: bool
) -> str | None:
    """Return the text of a section row, or None: one text alone (or repeated by merged cells) that is no thing."""
    texts = {text_of(c) for _, c in filled}
    if len(texts) != 1 or not isinstance(filled[0][1], str):
        return None
    text = texts.pop()
    if not re.search(r"[A-Za-z]", text) or not _may_head(table, filled, text, shouts):
        return None
    if len(text) > 80 or table.sort == "crew" and not line_named_in(text):
        return text if len(text) > 80 else None
    name = table.one("name")
    decorated = text != text.strip(_DECORATION) or (text.isupper() and not shouts) or text.lower() in _CHAPTERS
    in_name = len(filled) == 1 and name is not None and filled[0][0] == name.index
    thing = in_name and names_kind(text) >= 0.6 and not decorated
    return None if thing and not line_named_in(text) else text


def _may_head(table: Table, filled: Sequence[tuple[int, Cell]], text: str, shouts: bool) -> bool:
    """Return whether a lone text stands where headings stand: a lone serial or remark belongs to a thing unnamed."""
    role = next((c.role for c in table.columns if c.index == filled[0][0]), "")
    if role in ("tag", "serial", "lot") and re.fullmatch(r"\S*\d\S*", text):
        return False
    return len(filled) > 1 or role in _HEADED or _is_plainly_heading(text, shouts)


def _by_role(table: Table, row: Sequence[Cell], above: dict[int, Cell]) -> dict[str, list[tuple[Column, Cell]]]:
    cells: dict[str, list[tuple[Column, Cell]]] = {}
    for column in table.columns:
        cell = row[column.index] if column.index < len(row) else None
        if isinstance(cell, str) and cell.lower() in _DITTO:
            cell = above.get(column.index)
        if cell is None:
            continue
        above[column.index] = cell
        cells.setdefault(column.role, []).append((column, cell))
    return cells


def _is_named(table: Table, row: Row) -> bool:
    if table.sort == "crew":
        return any(not is_nothing(row.first(role)) for role in ("person", "last_name", "first_name"))
    names = [cell for _, cell in row.cells.get("name", ())]
    return any(not is_nothing(name) and re.search(r"[A-Za-z]", text_of(name)) for name in names)
