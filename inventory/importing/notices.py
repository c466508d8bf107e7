"""Where the reading of a register writes down what it refuses and what it finds."""

from collections import defaultdict
from typing import Any

from inventory.importing.columns import letter_of
from inventory.importing.drafts import Origin
from inventory.importing.report import Notice


class Notices:
    """Refusals and findings of one file, in the order of its rows."""

    def __init__(self) -> None:
        self.refused: list[Notice] = []
        self.findings: list[Notice] = []
        self._blank: dict[tuple[str, str, str, str], list[int]] = defaultdict(list)

    def refuse(self, origin: Origin, role: str, problem: str, mend: str) -> None:
        """Leave a row out for one of its cells."""
        where = f"cell {_cell_name(origin, role)}: " if _cell_name(origin, role) else ""
        self.refused.append(self._notice(origin, role, where + problem, mend))

    def find(self, origin: Origin, role: str, problem: str, mend: str, value: Any = None) -> None:
        """Ask somebody to look at a cell of a row."""
        notice = self._notice(origin, role, problem, mend)
        if value is not None:
            notice = Notice(notice.sheet, notice.row, notice.column, value, problem, mend)
        self.findings.append(notice)

    def of_file(self, sheet: str, problem: str, mend: str, *, row: int | None = None, value: Any = None) -> None:
        """Find something that is no single row's."""
        self.findings.append(Notice(sheet, row, "", value, problem, mend))

    def blank(self, origin: Origin, role: str, what: str, mend: str) -> None:
        """Remember a blank that deserves one finding for all its rows together."""
        self._blank[origin.sheet, origin.headings.get(role, ""), what, mend].append(origin.row)

    def close(self) -> None:
        """Write the findings about blanks, one for each column, and put everything in the order of the file."""
        for (sheet, heading, what, mend), rows in self._blank.items():
            listed = ", ".join(str(r) for r in rows[:30]) + (" …" if len(rows) > 30 else "")
            many = f"{len(rows)} rows do" if len(rows) > 1 else "1 row does"
            self.findings.append(Notice(sheet, rows[0], heading, None, f"{many} not say {what}: {listed}", mend))
        self._blank.clear()
        self.findings.sort(key=lambda n: (n.row is None, n.sheet, n.row or 0))

    def _notice(self, origin: Origin, role: str, problem: str, mend: str) -> Notice:
        heading = origin.headings.get(role, "")
        letter = _letter(origin, role)
        return Notice(origin.sheet, origin.row, heading, origin.cells.get(role), problem, mend, letter)


def _cell_name(origin: Origin, role: str) -> str:
    letter = _letter(origin, role)
    return f"{letter}{origin.row}" if letter else ""


def _letter(origin: Origin, role: str) -> str:
    index = origin.cells.get(f"{role} column")
    return letter_of(index) if isinstance(index, int) else ""
