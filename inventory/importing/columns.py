"""Where a sheet's headings stand and which column is what, under any headings or none.

Rows are scored as headings; the best row wins, alone or joined with the row above or below it (two-row headings,
merged group titles). Then roles are given to columns, surest pair first, by heading and content together.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from inventory.importing.cells import is_nothing, text_of
from inventory.importing.content import BY_CONTENT, DATED, LINE_HEADING, TOTAL, TYPED, Cells, likeness
from inventory.importing.headings import CREW_ROLES, ITEM_ROLES, best_fit, fit, is_plate_heading, paired
from inventory.importing.sentences import only_column, taken_apart
from inventory.importing.sheets import Cell, Sheet
from inventory.importing.told import NOTHING, Told

HEADING_ROWS = 60  # headings stand among the first rows that are not a title page
BY_LINE = "quantity by line"  # how many of the thing the line over the column has
PLATE = "plate"  # a figure of the plate in a column of its own
# several columns may say these together, read from left to right
MANY = frozenset({"place", "note", "spec", "maker", "disposition", PLATE})
_CREW_TAB = re.compile(r"\b(?:crew|roster|personnel|people|staff|members?|team|qualif\w*|training|operators?)\b", re.I)
_STOCK_TAB = re.compile(r"\b(?:consumables?|suppl(?:y|ies)|expendables?|stock|disposables?|kits)\b", re.I)
# what no heading looks like: an amount, a date, a code of letters and digits
_DATUM = re.compile(r"^[$€£]\s?\d|^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}$|^\d[\d,.]*$|^[A-Z]{1,4}\d*-?\d{2,}[A-Z]?$")
_LEAST = 0.34  # a pair below this is no match


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading as written, what it holds and how sure that is."""

    index: int
    heading: str
    role: str
    sureness: float
    at: int | None = None  # where it stands in the file, where that is not its index

    @property
    def stands_at(self) -> int:
        """Return where the column stands in the file, from 0."""
        return self.index if self.at is None else self.at

    @property
    def letter(self) -> str:
        """Return the column's letter as a spreadsheet shows it."""
        return letter_of(self.stands_at)


@dataclass(frozen=True)
class Table:
    """One sheet understood: what sort of rows, where they start, and its columns."""

    sheet: Sheet
    sort: str  # items, lots, crew
    first_row: int  # from 0
    heading_rows: tuple[int, ...]
    columns: tuple[Column, ...]

    def of(self, role: str) -> list[Column]:
        """Return the columns of a role, left to right."""
        return [c for c in self.columns if c.role == role]

    def one(self, role: str) -> Column | None:
        """Return the first column of a role."""
        return next(iter(self.of(role)), None)


def letter_of(index: int) -> str:
    """Return a column's letter: 0 is A, 26 is AA."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def understand(sheet: Sheet, names_kind: Callable[[str], float], told: Told = NOTHING) -> Table | None:
    """Return a sheet as a table of items, lots or crew; None where it is no register.

    Args:
        sheet: the sheet.
        names_kind: how surely a text names a kind of the catalogue, 0 to 1.
        told: what somebody said its columns hold; that beats any guess.
    """
    if (column := only_column(sheet)) is not None and (table := _of_sentences(sheet, column, names_kind)):
        return table
    heading_rows, headings = _headings_of(sheet)
    if not heading_rows:
        heading_rows, headings = _headings_told(sheet, told)
    headings = _split_merged(sheet, heading_rows, headings)
    first = heading_rows[-1] + 1 if heading_rows else _first_filled(sheet)
    width = max((len(row) for row in sheet.rows), default=0)
    headings += [""] * (width - len(headings))
    cells = [_cells(sheet, first, i, names_kind) for i in range(width)]
    crew = _as_told(_columns(headings, cells, CREW_ROLES), sheet.name, told)
    items = _as_told(_columns(headings, cells, ITEM_ROLES), sheet.name, told)
    if _is_crew(sheet, crew, items):
        return Table(sheet, "crew", first, heading_rows, tuple(crew))
    roles = {c.role for c in items}
    if "name" not in roles or (len(roles - {""}) < 2 and not heading_rows):
        return None
    numbered = {"serial", "serial_lot", "maker_serial"} & roles
    stock = {"expires", "lot", "par", "per_person", "lot_expires"} & roles and not numbered
    sort = "lots" if stock or (_STOCK_TAB.search(sheet.name) and not numbered) else "items"
    return Table(sheet, sort, first, heading_rows, tuple(items))


def _as_told(columns: list[Column], sheet: str, told: Told) -> list[Column]:
    """Return columns as somebody said they are: what one was said to hold, no other is guessed to hold."""
    said = {c.index: told.role(sheet, c.letter, c.heading) for c in columns}
    taken = {role for role in said.values() if role} - MANY
    return [
        replace(c, role=said[c.index], sureness=1.0 if said[c.index] else 0.0)
        if said[c.index] is not None
        else replace(c, role="", sureness=0.0)
        if c.role in taken
        else c
        for c in columns
    ]


def _headings_told(sheet: Sheet, told: Told) -> tuple[tuple[int, ...], list[str]]:
    """Return as headings the first row of which somebody said what a column holds, whatever its words."""
    for i, row in enumerate(sheet.rows[:HEADING_ROWS]):
        texts = [text_of(c) for c in row]
        if len([t for t in texts if t]) >= 2:
            said = any(told.role(sheet.name, letter_of(n), t) is not None for n, t in enumerate(texts) if t)
            return ((i,), texts) if said else ((), [])
    return (), []


def headed(sheet: Sheet) -> list[Column]:
    """Return the columns of a sheet that is no register, as far as it has headings, each without a role."""
    rows, headings = _headings_of(sheet)
    if not rows:
        first = next((row for row in sheet.rows if sum(c is not None for c in row) >= 2), [])
        headings = [text_of(c) for c in first]
    return [Column(i, heading, "", 0.0) for i, heading in enumerate(headings) if heading]


def _of_sentences(sheet: Sheet, column: int, names_kind: Callable[[str], float]) -> Table | None:
    """Return a sheet of one column, a sentence to a row, as a table; None where the sentences tell of no things."""
    apart = taken_apart(sheet, column, bool(_CREW_TAB.search(sheet.name)), names_kind)
    if apart is None:
        return None
    sort, roles, spread = apart
    return Table(spread, sort, 0, (), tuple(Column(i, "", role, 0.6, at=column) for i, role in enumerate(roles)))


def _split_merged(sheet: Sheet, rows: Sequence[int], headings: list[str]) -> list[str]:
    """Return headings with "Item / Serial" merged over two columns as Item and Serial."""
    for (top, left), (bottom, right) in sheet.merged:
        parts = re.split(r"\s*[/&,]\s*", headings[left]) if left < len(headings) else []
        if {top, bottom} & {*rows} and len(parts) == right - left + 1 > 1 and all(_best(p) >= 0.6 for p in parts):
            headings += [""] * (right + 1 - len(headings))
            headings[left : right + 1] = parts
    return headings


def stacked(sheet: Sheet) -> list[Sheet]:
    """Return a sheet as its tables, one above the other: a row of other headings further down begins the next.

    Each keeps the row numbers of the sheet, by blank rows where the others stand.
    """
    starts, headings = [0], frozenset[str]()
    for i, row in enumerate(sheet.rows):
        if not is_heading_row(row):
            continue
        said = frozenset(text_of(c).lower() for c in row if c is not None)
        if headings and len(said & headings) < 0.7 * len(said | headings):
            starts.append(i)
        headings = said
    if len(starts) == 1:
        return [sheet]
    ends = [*starts[1:], len(sheet.rows)]
    return [
        Sheet(sheet.name, [[] for _ in range(start)] + sheet.rows[start:end], sheet.merged)
        for start, end in zip(starts, ends, strict=True)
    ]


def is_heading_row(row: Sequence[Cell]) -> bool:
    """Return whether a row further down is a heading again, as where every section repeats it."""
    texts = [c for c in row if c is not None]
    if len(texts) < 3 or not all(isinstance(c, str) for c in texts):
        return False
    exact = sum(1 for c in texts if best_fit(c, ITEM_ROLES + CREW_ROLES) >= 0.95)
    return exact >= 3 and exact >= 0.6 * len(texts)


def _headings_of(sheet: Sheet) -> tuple[tuple[int, ...], list[str]]:
    """Return the heading rows, from 0, and the headings they give; ((), []) where there are none."""
    best: tuple[float, tuple[int, ...], list[str]] = (0.0, (), [])
    top = next((n for n, row in enumerate(sheet.rows) if row), 0)
    for i, row in enumerate(sheet.rows[top : top + HEADING_ROWS], start=top):
        alone = [text_of(c) if isinstance(c, str) else "" for c in row]
        score = _heading_score(row, alone)
        if score > best[0] + 1e-9:
            best = (score, (i,), alone)
    if not best[1]:
        return (), []
    i = best[1][0]
    for rows in ((i - 1, i), (i, i + 1)):
        if rows[0] >= 0 and rows[1] < len(sheet.rows) and _may_join(sheet.rows[rows[0]], sheet.rows[rows[1]]):
            joined = _joined(sheet, *rows)
            score = sum(_best(h) for h in joined if h)
            if score > best[0] + 0.25:
                best = (score, rows, joined)
    return best[1], best[2]


def _heading_score(row: Sequence[Cell], texts: Sequence[str]) -> float:
    filled = [c for c in row if c is not None]
    short = [t for t in texts if t and len(t) <= 48]
    if len(short) < 2 or len(short) < 0.7 * len(filled):
        return 0.0
    if any(_DATUM.search(t) for t in short):
        return 0.0
    # a column for each line: what stands over it is a heading like any other
    by_line = sum(bool(LINE_HEADING.match(t)) for t in short) >= 2 and any(fit(t, "name") == 1.0 for t in short)
    # "Line A" and "Station 4" are what stands below a heading, not headings
    fits = [f if f == 1.0 or not re.search(r"\d|\b[A-Z]$", t) else 0.0 for t, f in ((t, _best(t)) for t in short)]
    if by_line:
        fits = [0.9 if LINE_HEADING.match(t) else f for t, f in zip(short, fits, strict=True)]
    good = [f for f in fits if f >= 0.6]
    # one word that happens to be a heading makes no heading row
    if len(good) < 2 or len(good) < 0.3 * len(short):
        return 0.0
    return sum(good) - 0.1 * sum(1 for t in short if re.search(r"\d{3}", t))


def _best(heading: str) -> float:
    plate = 0.7 if is_plate_heading(heading) and len(heading) <= 24 else 0.0
    return max(best_fit(heading, ITEM_ROLES), best_fit(heading, CREW_ROLES), 0.9 if paired(heading) else 0.0, plate)


def _may_join(top: Sequence[Cell], bottom: Sequence[Cell]) -> bool:
    both = [c for row in (top, bottom) for c in row if c is not None]
    words = all(isinstance(c, str) and len(c) <= 40 and not re.search(r"\d{2}", c) for c in both)
    over = [i for i, c in enumerate(top) if c is not None]
    if len(over) == 1 and over[0] <= next((i for i, c in enumerate(bottom) if c is not None), 0):
        return False  # a title over the whole table, not over a group of its columns
    return words and sum(c is not None for c in top) >= 1 and sum(c is not None for c in bottom) >= 2


def _joined(sheet: Sheet, top_row: int, bottom_row: int) -> list[str]:
    """Return headings of two rows: a group title reaches over the blanks to its right."""
    top, bottom = sheet.rows[top_row], sheet.rows[bottom_row]
    width = max(len(top), len(bottom))
    joined, group = [], ""
    for i in range(width):
        over = text_of(top[i]) if i < len(top) else ""
        under = text_of(bottom[i]) if i < len(bottom) else ""
        group = over or (group if under and not _covers(sheet, top_row, i) else "")
        both = f"{group or over} {under}".strip()
        joined.append(max((both, under or over), key=lambda h: (_best(h), len(h))) if both else "")
    return joined


def _covers(sheet: Sheet, row: int, column: int) -> bool:
    """Return whether merged ranges are known and none of them spreads a title over this cell."""
    spread = [r for r in sheet.merged if r[0][0] <= row <= r[1][0] and r[0][1] < r[1][1]]
    return bool(spread) and not any(r[0][1] <= column <= r[1][1] for r in spread)


def _first_filled(sheet: Sheet) -> int:
    widths = [sum(c is not None for c in row) for row in sheet.rows]
    usual = min(3, max(widths, default=0))
    return next((i for i, width in enumerate(widths) if width >= usual), 0)


def _cells(sheet: Sheet, first: int, index: int, names_kind: Callable[[str], float]) -> Cells:
    rows = [row for row in sheet.rows[first : first + 400] if sum(c is not None for c in row) >= 2]
    rows = [row for row in rows if not any(isinstance(c, str) and TOTAL.search(c) for c in row)]
    filled = [row[index] for row in rows if index < len(row) and row[index] is not None]
    texts = list(dict.fromkeys(text_of(c) for c in filled if isinstance(c, str)))[:40]
    kinds = sum(names_kind(t) for t in texts) / len(texts) if texts else 0.0
    return Cells(filled, len(rows), kinds)


def _columns(headings: Sequence[str], cells: Sequence[Cells], roles: tuple[str, ...]) -> list[Column]:
    """Give roles to columns, surest pair first; a column nobody claims has the role ""."""
    given: dict[int, tuple[str, float]] = {}
    held: set[str] = set()
    pairs = [
        (_claim(heading, cells[i], role), i, role)
        for i, heading in enumerate(headings)
        for role in roles
        if cells[i].filled or heading
    ]
    for i, heading in enumerate(headings):
        if heading and (role := paired(heading)) and roles is ITEM_ROLES:
            pairs.append((0.95, i, role))
    for sureness, i, role in sorted(pairs, key=lambda p: (-p[0], p[1])):
        if sureness < _LEAST:
            break
        # "Item | Description" name a thing together
        also_name = role == "name" and sureness >= 0.8 and [r for r, _ in given.values()].count("name") < 2
        if i not in given and (role in MANY or role not in held or also_name):
            given[i] = (role, sureness)
            held.add(role)
    if roles is ITEM_ROLES:
        _give_line_columns(headings, cells, given)
        _give_plate_columns(headings, cells, given)
    return [
        Column(i, heading, *given[i]) if i in given else Column(i, heading, "", 0.0)
        for i, heading in enumerate(headings)
        if heading or cells[i].filled
    ]


def _claim(heading: str, cells: Cells, role: str) -> float:
    said, looks = fit(heading, role) if heading else 0.0, likeness(cells, role)
    if said < 0.5:
        # without a word for it a column must look the part, and a heading that means something else outweighs looks
        strange = 0.75 if not heading or best_fit(heading, ITEM_ROLES + CREW_ROLES) < 0.5 else 0.0
        return 0.62 * looks * strange if role in BY_CONTENT and looks >= BY_CONTENT[role] else 0.0
    claim = said * (0.62 + 0.38 * looks)
    if said == 1.0 and not _means_more(heading, role):
        # a column headed outright is what it says, bad cells and all: they are refused one by one. Only words like
        # "Made" or "Certified" may head something that is no date at all
        return claim * (0.45 if role in DATED and looks < 0.1 and len(cells.filled) >= 5 else 1.0)
    if role in TYPED and looks < 0.34:
        claim *= 0.45
    if role in ("tag", "row_number") and looks < 0.1 and cells.filled:
        claim *= 0.4
    if role == "name" and looks < 0.35 and cells.filled:
        claim *= 0.7
    return claim


@lru_cache(maxsize=2048)
def _means_more(heading: str, role: str) -> bool:
    """Return whether a heading is an outright heading of another role too ("Item" of names and of numbers)."""
    roles = CREW_ROLES if role in CREW_ROLES and role not in ITEM_ROLES else ITEM_ROLES
    return any(fit(heading, other) == 1.0 for other in roles if other != role)


def _give_line_columns(headings: Sequence[str], cells: Sequence[Cells], given: dict[int, tuple[str, float]]) -> None:
    """Make of two and more columns headed by a line each, with numbers below, how many of a thing each line has."""
    found = [
        i
        for i, heading in enumerate(headings)
        if LINE_HEADING.match(heading) and cells[i].filled and likeness(cells[i], "par") >= 0.6
    ]
    if len(found) > 1:
        given |= dict.fromkeys(found, (BY_LINE, 0.9))


def _give_plate_columns(headings: Sequence[str], cells: Sequence[Cells], given: dict[int, tuple[str, float]]) -> None:
    for i, heading in enumerate(headings):
        exact = i in given and fit(heading, given[i][0]) >= 0.9
        if heading and cells[i].filled and not exact and is_plate_heading(heading) and not is_nothing(heading):
            given[i] = (PLATE, 0.8)


def _is_crew(sheet: Sheet, crew: Sequence[Column], items: Sequence[Column]) -> bool:
    roles = {c.role for c in crew}
    named = bool({"person", "last_name", "first_name"} & roles)
    dated = bool({"qualified", "qualified_until", "qualified_on"} & roles)
    things = {"serial", "quantity", "cost", "spec", "award", "condition", "lot", "par"} & {
        c.role for c in items if c.sureness > 0.5
    }
    if _CREW_TAB.search(sheet.name) and named and (dated or "role" in roles):
        return not things - {"condition"}
    kinds = sum(c.sureness for c in items if c.role == "name")
    person = sum(c.sureness for c in crew if c.role == "person")
    return named and dated and not things and person >= kinds * 0.8
