"""A file as sheets of cells: workbooks by their container, text files by their encoding and delimiter."""

import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

Cell = str | int | float | bool | datetime | date | None

LARGEST_BYTES = 20 * 2**20
LARGEST_UNPACKED = 400 * 2**20  # a workbook is a zip: a small one can hide a flood
MOST_ROWS = 50_000
MOST_COLUMNS = 400
_WORKBOOK_SIGNS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_DELIMITERS = ",;\t|"


class Unreadable(Exception):
    """A file that cannot be read as a register at all; the message says what is wrong and how to mend it.

    ``sheets`` are the tabs as far as they were looked at, so that somebody can say what their columns hold.
    """

    def __init__(self, message: str, sheets: Sequence[dict[str, Any]] = ()) -> None:
        super().__init__(message)
        self.sheets = list(sheets)


@dataclass(frozen=True)
class Sheet:
    """One tab: rows of cells as they stand, the first row of the sheet first.

    Attributes:
        merged: ranges merged in the tab, as ((first row, first column), (last row, last column)), from 0.
    """

    name: str
    rows: list[list[Cell]]
    merged: Sequence[tuple[tuple[int, int], tuple[int, int]]] = field(default_factory=tuple)


def read_sheets(path: str | Path) -> list[Sheet]:
    """Return the visible sheets of a workbook or the one table of a text file.

    Raises:
        Unreadable: missing, empty, too large, locked, damaged, or no table.
    """
    path = Path(path)
    raw = _bytes_of(path)
    sheets = _workbook(raw) if raw.startswith(_WORKBOOK_SIGNS) else [_text_table(raw, path.stem)]
    if not any(any(cell is not None for row in sheet.rows for cell in row) for sheet in sheets):
        raise Unreadable(f"{path.name} holds no filled cell. Save the register again and send that file.")
    return sheets


def hidden_tabs(path: str | Path) -> list[str]:
    """Return the names of a workbook's hidden tabs that hold something: they are not read, and somebody should know.

    The file is one that ``read_sheets`` has read.
    """
    raw = Path(path).read_bytes()
    if not raw.startswith(_WORKBOOK_SIGNS):
        return []
    book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
    hidden = [m.name for m in book.sheets_metadata if m.typ == SheetTypeEnum.WorkSheet]
    shown = {m.name for m in book.sheets_metadata if m.visible == SheetVisibleEnum.Visible}
    return [name for name in hidden if name not in shown and book.get_sheet_by_name(name).total_height > 0]


def _bytes_of(path: Path) -> bytes:
    if not path.is_file():
        raise Unreadable(f"There is no file {path}. Check the name and the folder.")
    if path.stat().st_size > LARGEST_BYTES:
        raise Unreadable(f"{path.name} is larger than {LARGEST_BYTES // 2**20} MB. Split it, one file for each line.")
    raw = path.read_bytes()
    if not raw.strip():
        raise Unreadable(f"{path.name} is empty. Save the register again and send that file.")
    return raw


def _workbook(raw: bytes) -> list[Sheet]:
    if raw.startswith(b"PK"):
        _refuse_flood(raw)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        tabs = [
            meta.name
            for meta in book.sheets_metadata
            if meta.typ == SheetTypeEnum.WorkSheet and meta.visible == SheetVisibleEnum.Visible
        ]
        return [_tab(book, name) for name in tabs]
    except CalamineError as error:
        raise Unreadable(
            f"The workbook cannot be opened ({error}). If it is locked, take the password off; else save it again "
            "as .xlsx or .csv."
        ) from error


def _refuse_flood(raw: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as container:
            unpacked = sum(entry.file_size for entry in container.infolist())
    except zipfile.BadZipFile as error:
        raise Unreadable("The workbook is damaged. Open it, save it again as .xlsx and send that file.") from error
    if unpacked > LARGEST_UNPACKED:
        raise Unreadable("The workbook unpacks to far more than a register needs. Save the tabs as .csv instead.")


def _tab(book: CalamineWorkbook, name: str) -> Sheet:
    sheet = book.get_sheet_by_name(name)
    if sheet.total_height > MOST_ROWS:
        raise Unreadable(f"Tab {name!r} has more than {MOST_ROWS} rows. Delete the empty rows at its end.")
    rows = [[clean_cell(cell) for cell in row[:MOST_COLUMNS]] for row in sheet.to_python(skip_empty_area=False)]
    merged = tuple(getattr(sheet, "merged_cell_ranges", None) or ())
    for (top, left), (bottom, right) in merged:
        # a cell merged downwards (one line's name beside all its rows) says the same of each row it covers
        if left == right and left < MOST_COLUMNS and bottom < len(rows):
            for row in range(top + 1, bottom + 1):
                rows[row][left] = rows[top][left]
    return Sheet(name, rows, merged)


def _text_table(raw: bytes, name: str) -> Sheet:
    text = _decoded(raw)
    if text.lstrip()[:1] in ("{", "<") or text.lstrip().startswith(("[{", "[[")):
        raise Unreadable("This is no text table: it reads as JSON or a web page. Save the register as .xlsx or .csv.")
    delimiter = _delimiter(text)
    try:
        read = list(csv.reader(io.StringIO(text), delimiter=delimiter))
        rows = [[clean_cell(c) for c in row[:MOST_COLUMNS]] for row in read]
        if _is_prose(read, delimiter):
            # one thing to a line, in words: the commas are the sentence's
            quoted = list(csv.reader(io.StringIO(text)))
            alone = all(len(row) <= 1 for row in quoted)
            lines = [row[0] if row else "" for row in quoted] if alone else text.splitlines()
            rows = [[clean_cell(line)] for line in lines]
    except csv.Error as error:
        raise Unreadable(f"The text table cannot be read ({error}). Save it again as .csv or .xlsx.") from error
    if len(rows) > MOST_ROWS:
        raise Unreadable(f"The table has more than {MOST_ROWS} rows. Split it, one file for each line.")
    return Sheet(name, rows)


def _decoded(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    else:
        if b"\x00" in raw[:4096]:
            raise Unreadable("This is no text table and no workbook. Save the register as .xlsx or .csv.")
        # latin-1 takes every byte, so it is what stands last
        encodings = ["utf-8-sig", "cp1252", "latin-1"]
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Unreadable("The text's encoding cannot be told. Save it again as UTF-8.")


def _delimiter(text: str) -> str:
    """Return the delimiter under which most rows have the same number of fields, more than one."""
    sample = text.splitlines(keepends=True)[:200]

    def agreement(delimiter: str) -> tuple[int, int]:
        try:
            widths = Counter(len(row) for row in csv.reader(sample, delimiter=delimiter) if len(row) > 1)
        except csv.Error:
            return (0, 0)
        width, rows = widths.most_common(1)[0] if widths else (0, 0)
        return (rows, width)

    return max(_DELIMITERS, key=agreement)


def _is_prose(rows: Sequence[Sequence[str]], delimiter: str) -> bool:
    """Return whether a text is a list in words and no table: few lines have fields, or they are parts of sentences."""
    filled = [row for row in rows if any(c.strip() for c in row)]
    parted = [row for row in filled if len(row) > 1]
    width, alike = Counter(len(row) for row in parted).most_common(1)[0] if parted else (1, 0)
    if len(parted) < 0.5 * len(filled):
        return not (width > 3 and alike > 1)  # a small table below a long title is a table
    after = [c for row in parted for c in row[1:] if c.strip()]
    # "bought 3/2019, $22,000": behind a comma of a sentence stands a space, behind one of a number three digits
    spaced = sum(bool(re.match(r" |\d{3}\b", c)) for c in after)
    return delimiter in ",;" and alike < 0.6 * len(filled) and spaced > 0.8 * len(after)


def clean_cell(cell: Any) -> Cell:
    """Return a cell as reading takes it: no blanks around, None where it is empty."""
    if isinstance(cell, str):
        # NUL and no-break spaces come from copied web tables; neither belongs in a name
        text = cell.replace("\x00", "").replace("\xa0", " ").replace("\ufeff", "").strip()
        return text or None
    if isinstance(cell, time | timedelta):
        return str(cell)
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return int(cell)
    return cell
