"""What somebody said of a register beside the file itself: what its columns hold, and cells put right in place."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from inventory.importing.sheets import Sheet, clean_cell

MOST_LETTERS = 3


@dataclass(frozen=True)
class Told:
    """Corrections of one file, and what a department has said of headings before.

    Attributes:
        columns: by sheet, what a column holds, by ``column_key``; "" for a column that is not to be read.
        headings: the same by folded heading, of any file; ``columns`` wins.
        cells: by sheet and row as the spreadsheet numbers it, the text a cell should hold, by column letter.
    """

    columns: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    headings: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, Mapping[str, Mapping[str, str]]] = field(default_factory=dict)

    def role(self, sheet: str, letter: str, heading: str) -> str | None:
        """Return what a column was said to hold; None where nobody said."""
        said = self.columns.get(sheet, {}).get(column_key(letter, heading))
        return said if said is not None else self.headings.get(folded(heading))

    def mended(self, sheets: Sequence[Sheet]) -> list[Sheet]:
        """Return sheets with the cells that were put right."""
        return [self._mended(sheet) if sheet.name in self.cells else sheet for sheet in sheets]

    def _mended(self, sheet: Sheet) -> Sheet:
        rows = list(sheet.rows)
        for number, texts in self.cells[sheet.name].items():
            if not number.isdecimal() or not 1 <= (at := int(number)) <= len(rows):
                continue
            row = list(rows[at - 1])
            for letter, text in texts.items():
                index = index_of(letter)
                if index is not None and index < 400:
                    row += [None] * (index + 1 - len(row))
                    row[index] = clean_cell(text)
            rows[at - 1] = row
        return replace(sheet, rows=rows)


NOTHING = Told()


def folded(heading: str) -> str:
    """Return a heading as it is remembered."""
    return " ".join(heading.casefold().split())[:160]


def column_key(letter: str, heading: str) -> str:
    """Return how a column is named among the corrections of a file; tables one below the other share letters."""
    return f"{letter} {folded(heading)}".strip()


def index_of(letter: str) -> int | None:
    """Return a column's place from 0 by its letter; None for what is no letter."""
    if not 0 < len(letter) <= MOST_LETTERS or not (letter.isascii() and letter.isalpha() and letter.isupper()):
        return None
    index = 0
    for one in letter:
        index = index * 26 + ord(one) - 64
    return index - 1
