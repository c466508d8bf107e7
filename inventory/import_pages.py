"""What the page of an import shows, and what its forms say: the same for a register of the cache and one of checks."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from inventory.importing.columns import letter_of
from inventory.importing.told import Told, column_key, index_of
from inventory.models import ImportDraft
from inventory.services.import_drafts import REFUSED_SHOWN

FINDINGS_SHOWN: Final = 60
MOST_COLUMNS_SHOWN: Final = 60


@dataclass(frozen=True)
class ColumnView:
    """One column of a sheet: its heading, what it was taken for and how sure that is."""

    name: str  # of its select
    letter: str
    heading: str
    taken_as: str
    sureness: float
    told: bool
    choices: Sequence[tuple[str, str]]

    @property
    def sure(self) -> str:
        if self.told:
            return "as you said"
        return f"{round(self.sureness * 100)} in 100 sure" if self.taken_as else "not read"


@dataclass(frozen=True)
class SheetView:
    """One tab with its columns, and the first rows as they were understood."""

    name: str
    sort: str
    rows: int
    hidden: bool
    columns: list[ColumnView]
    first_rows: list[Mapping[str, Any]]


@dataclass(frozen=True)
class RefusedRow:
    """One row that would be left out, with each cell that is wrong and its whole text to mend."""

    sheet: str
    row: int | None
    notices: list[Mapping[str, Any]]
    cells: list[tuple[str, str, str, bool]]  # letter, name of the input, text, wrong


class DraftView:
    """A draft as its page shows it."""

    def __init__(self, draft: ImportDraft, choices: Callable[[str], list[tuple[str, str]]], told: Told) -> None:
        self.draft, self.preview, self.choices, self.told = draft, draft.preview or {}, choices, told

    @cached_property
    def sheets(self) -> list[SheetView]:
        of: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
        for row in self.preview.get("first_rows", ()):
            of[row["sheet"]].append(row)
        return [
            SheetView(
                sheet["sheet"], sheet["sort"], sheet["rows"], bool(sheet.get("hidden")), self._columns(n, sheet),
                of[sheet["sheet"]],
            )
            for n, sheet in enumerate(self.preview.get("sheets", ()))
        ]  # fmt: skip

    def _columns(self, number: int, sheet: Mapping[str, Any]) -> list[ColumnView]:
        choices = [("", "do not read"), *self.choices(sheet["sort"])]
        found = []
        for n, column in enumerate(sheet.get("columns", ())[:MOST_COLUMNS_SHOWN]):
            letter, heading = column["column"], column["heading"]
            said = self.told.role(sheet["sheet"], letter, heading)
            taken = said if said and (said.startswith("reading ")) else column["taken_as"]
            known = {key for key, _ in choices}
            offered = choices if taken in known else [*choices, (taken, taken)]
            found.append(
                ColumnView(
                    f"c{number}-{n}", letter, heading, taken, column["sureness"], said is not None, offered
                )
            )  # fmt: skip
        return found

    @cached_property
    def refused(self) -> list[RefusedRow]:
        rows: dict[tuple[str, int | None], list[Mapping[str, Any]]] = defaultdict(list)
        for notice in self.preview.get("refused", ()):
            rows[notice["sheet"], notice["row"]].append(notice)
        return [
            RefusedRow(sheet, row, notices, self._cells(n, sheet, row, {x["cell"] for x in notices}))
            for n, ((sheet, row), notices) in enumerate([*rows.items()][:REFUSED_SHOWN])
        ]

    def _cells(self, number: int, sheet: str, row: int | None, wrong: set[str]) -> list[tuple[str, str, str, bool]]:
        kept = self.preview.get("refused_cells", {}).get(sheet, {}).get(str(row))
        if kept is None:
            return []
        headings = {c.letter: c.heading for s in self.sheets if s.name == sheet for c in s.columns}
        texts = {letter_of(i): text for i, text in enumerate(kept)}
        letters = [*headings] or [*texts]
        shown = [
            (headings.get(le) or f"column {le}", f"m{number}-{le}", texts.get(le, ""), le in wrong) for le in letters
        ]
        return sorted(shown, key=lambda cell: not cell[3])

    @property
    def refused_rows(self) -> int:
        return len({(n["sheet"], n["row"]) for n in self.preview.get("refused", ())})

    @property
    def findings(self) -> list[Mapping[str, Any]]:
        return self.preview.get("findings", [])[:FINDINGS_SHOWN]

    @property
    def more_findings(self) -> int:
        return max(0, len(self.preview.get("findings", ())) - FINDINGS_SHOWN)

    @property
    def already(self) -> int:
        return self.preview.get("already_held", self.preview.get("already_taken", 0))

    @property
    def counts(self) -> list[tuple[str, int]]:
        of = self.preview.get("taken_by_sort") or self.preview.get("verdicts") or {}
        return [(what, many) for what, many in of.items() if many]

    # What the forms said.

    def said_of_columns(self, posted: Mapping[str, str]) -> dict[str, dict[str, tuple[str, str]]]:
        """Return what the selects say, less those that say what was guessed: only a correction is remembered."""
        said: dict[str, dict[str, tuple[str, str]]] = defaultdict(dict)
        for sheet in self.sheets:
            for column in sheet.columns:
                role = posted.get(column.name)
                if role is None or role == column.taken_as or role not in {key for key, _ in column.choices}:
                    continue
                said[sheet.name][column_key(column.letter, column.heading)] = (column.heading, role)
        return said

    def said_of_cells(self, posted: Mapping[str, str]) -> dict[str, dict[str, dict[str, str]]]:
        """Return the cells that were changed, by sheet, row and letter."""
        said: dict[str, dict[str, dict[str, str]]] = defaultdict(lambda: defaultdict(dict))
        for row in self.refused:
            for _, name, text, _ in row.cells:
                now, letter = posted.get(name), name.partition("-")[2]
                if now is not None and now.strip() != text.strip() and index_of(letter) is not None:
                    said[row.sheet][str(row.row)][letter] = now.replace("\0", "")
        return said
