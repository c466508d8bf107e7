"""A whole register read: drafts of items, lots and crew, with every refusal and finding. No database, no clock."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from inventory.importing.columns import Column, Table, headed, stacked, understand
from inventory.importing.drafts import CrewDraft, ItemDraft, LotDraft
from inventory.importing.headings import ITEM_ROLES, best_fit
from inventory.importing.kinds import Recogniser
from inventory.importing.lines import decide_lines
from inventory.importing.notices import Notices
from inventory.importing.reading import RowReader
from inventory.importing.report import Notice
from inventory.importing.sheets import Sheet, Unreadable, hidden_tabs, read_sheets
from inventory.importing.told import NOTHING, Told
from inventory.importing.walk import Walked, by_lines, walk

FIRST_ROWS = 4  # of each sheet, shown as understood


@dataclass
class Register:
    """What a file says, ready to be stored."""

    items: list[ItemDraft] = field(default_factory=list)
    lots: list[LotDraft] = field(default_factory=list)
    crew: list[CrewDraft] = field(default_factory=list)
    notices: Notices = field(default_factory=Notices)
    sheets: list[dict[str, Any]] = field(default_factory=list)

    @property
    def first_rows(self) -> list[dict[str, Any]]:
        """Return the first rows of each sheet as they were understood."""
        shown: Counter[str] = Counter()
        rows = []
        for draft in (*self.items, *self.lots, *self.crew):
            shown[draft.origin.sheet] += 1
            if shown[draft.origin.sheet] <= FIRST_ROWS:
                rows.append({"sheet": draft.origin.sheet, "row": draft.origin.row, "said": draft.said()})
        return rows

    @property
    def refused(self) -> list[Notice]:
        return self.notices.refused

    def kinds(self) -> list[dict[str, Any]]:
        """Return each name in the register with the kind it was taken for and how sure that is."""
        rows = Counter((d.name, d.kind, d.sureness) for d in (*self.items, *self.lots))
        return [
            {"name": name, "kind": kind, "sureness": sureness, "rows": many}
            for (name, kind, sureness), many in sorted(rows.items(), key=lambda pair: pair[0][2])
        ]


def read_register(
    path: str | Path,
    *,
    kinds: Mapping[str, Mapping[str, Any]],
    department: str,
    on: date,
    told: Told = NOTHING,
) -> Register:
    """Return what a workbook or text table says.

    Args:
        path: the file.
        kinds: the catalogue's kinds by key, each with key, name, words, spec, serialised and consumable.
        department: its name, which a line is called after where the register names none.
        on: the day it is read, by which past and future are told apart.
        told: what somebody said of its columns and cells.

    Raises:
        Unreadable: the file is no register at all.
    """
    recogniser = Recogniser(kinds.values())
    register = Register()
    reader = RowReader(kinds, recogniser, register.notices, on)
    tabs = told.mended(read_sheets(path))
    _note_hidden(register, path)
    for tab in tabs:
        parts = stacked(tab)
        for sheet in parts:
            table = understand(sheet, lambda text: recogniser.recognise(text).sureness, told)
            if table is None:
                _note_skipped(register, sheet, whole=len(parts) == 1)
            else:
                _read_table(register, reader, recogniser, table)
    if not any(entry["sort"] for entry in register.sheets):
        raise Unreadable(
            "No tab of the file reads as a register: no column names items. Head the columns (Item, Serial, Qty, "
            "Line, Where kept …) and send it again.",
            register.sheets,
        )
    decide_lines([*register.items, *register.lots], department, register.notices)
    return register


def _read_table(register: Register, reader: RowReader, recogniser: Recogniser, table: Table) -> None:
    _note_unread(register, table)
    walked = Walked()
    refused_before, rows = len(register.refused), 0
    walking = walk(table, lambda text: recogniser.recognise(text).sureness, walked)
    for row in (part for whole in walking for part in by_lines(whole)):
        rows += 1
        drafted = reader.draft(table, row)
        if isinstance(drafted, ItemDraft):
            register.items.append(drafted)
        elif isinstance(drafted, LotDraft):
            register.lots.append(drafted)
        elif drafted is not None:
            register.crew.append(drafted)
    for row in walked.nameless:
        reader.refuse_nameless(table, row)
    _note_doubtful(register, table, walked)
    register.sheets.append(
        {
            "sheet": table.sheet.name,
            "sort": table.sort,
            "heading_rows": [i + 1 for i in table.heading_rows],
            "columns": _said_of(table.columns),
            "rows": rows,
            "refused_rows": len({n.row for n in register.refused[refused_before:]}),
            "sections": [{"row": row, "text": text} for row, text in walked.sections],
            "total_rows": walked.totals,
        }
    )


def _said_of(columns: Iterable[Column]) -> list[dict[str, Any]]:
    return [
        {"column": c.letter, "heading": c.heading, "taken_as": c.role, "sureness": round(c.sureness, 2)}
        for c in columns
    ]


def _note_unread(register: Register, table: Table) -> None:
    """Find the columns that were not read, outright headings among them one by one: what they hold is not taken."""
    row = (table.heading_rows[-1] + 1) if table.heading_rows else None
    held = {column.heading.casefold(): column.letter for column in table.columns if column.role}
    left = []
    for column in table.columns:
        below = (r[column.index] for r in table.sheet.rows[table.first_row :] if column.index < len(r))
        if column.role or not any(cell is not None for cell in below):
            continue
        if column.heading and best_fit(column.heading, ITEM_ROLES) == 1.0:
            twin = held.get(column.heading.casefold())
            why = f"and so is column {twin}, which was read" if twin else "but its cells do not look it"
            register.notices.of_file(
                table.sheet.name,
                f"column {column.letter} is headed {column.heading!r}, {why}: not read",
                "head it by what it holds and send the file again",
                row=row,
                value=column.heading,
            )
        else:
            left.append(f"{column.letter} {column.heading}".strip())
    if left:
        register.notices.of_file(
            table.sheet.name,
            f"{len(left)} columns were not read: {'; '.join(left)}"
            if len(left) > 1
            else f"column {left[0]} was not read",
            "head a column by what it holds (Item, Serial, Qty, Unit cost, Notes …) if it should be taken in",
            row=row,
        )


def _note_doubtful(register: Register, table: Table, walked: Walked) -> None:
    """Find lone texts that were taken for headings and could be things."""
    if walked.doubtful:
        rows = ", ".join(f"row {row} {text[:40]!r}" for row, text in walked.doubtful[:20])
        more = f" and {len(walked.doubtful) - 20} more" if len(walked.doubtful) > 20 else ""
        register.notices.of_file(
            table.sheet.name,
            f"taken for headings, not for things, as nothing stands beside them: {rows}{more}",
            "if they are things, write how many there are and send the file again",
            row=walked.doubtful[0][0],
        )


def _note_hidden(register: Register, path: str | Path) -> None:
    for name in hidden_tabs(path):
        register.sheets.append({"sheet": name, "sort": "", "rows": 0, "hidden": True})
        problem = "this tab is hidden and was not read"
        register.notices.of_file(name, problem, "show the tab and send the file again if its rows are still held")


def _note_skipped(register: Register, sheet: Sheet, *, whole: bool) -> None:
    filled = sum(any(c is not None for c in row) for row in sheet.rows)
    register.sheets.append(
        {"sheet": sheet.name, "sort": "", "rows": 0, "filled_rows": filled, "columns": _said_of(headed(sheet))}
    )
    if filled > 3 or (whole and filled):
        register.notices.of_file(
            sheet.name,
            f"nothing was read from this tab: none of its {filled} rows reads as headings of a register",
            "if it lists gear, head its columns (Item, Serial, Qty …) and send the file again",
        )


def catalogue_for_reading(kinds: Iterable[Any]) -> dict[str, dict[str, Any]]:
    """Return stored kinds in the shape that reading asks for."""
    return {
        k.key: {
            "key": k.key,
            "name": k.name,
            "words": k.words,
            "spec": k.spec_fields,
            "serialised": k.serialised,
            "consumable": k.consumable,
            "prefix": k.prefix,
        }
        for k in kinds
    }
