"""What an import says of itself: what was taken, what was refused, and what somebody should look at."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class Notice:
    """One cell that was refused, or one thing found: where it is, what is wrong and how to mend it."""

    sheet: str
    row: int | None
    column: str
    value: Any
    problem: str
    mend: str
    cell: str = ""  # letter of its column in the file, where it is one cell

    def as_json(self) -> dict[str, Any]:
        """Return the notice with its value as text or number."""
        return {
            "sheet": self.sheet,
            "row": self.row,
            "column": self.column,
            "value": plain(self.value),
            "problem": self.problem,
            "mend": self.mend,
        }


def plain(value: Any) -> Any:
    """Return a cell's value as JSON can hold it."""
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value if value is None or isinstance(value, str | int | float | bool) else str(value)


@dataclass
class ImportReport:
    """The outcome of one file.

    Attributes:
        taken: rows newly taken in. [-]
        refused: cells for which their row was left out whole.
        findings: what was taken in, or left out on purpose, and wants a person's eye.
        details: further keys of the report (sheets, kinds, lines, lots, crew …).
    """

    taken: int = 0
    refused: list[Notice] = field(default_factory=list)
    findings: list[Notice] = field(default_factory=list)
    dry_run: bool = False
    details: dict[str, Any] = field(default_factory=dict)
    run: Any = None  # the record of the import, where it was one and not a look

    @property
    def refused_rows(self) -> int:
        return len({(n.sheet, n.row) for n in self.refused})

    def as_json(self) -> Mapping[str, Any]:
        """Return the report as ``--report`` writes it."""
        return {
            "taken": self.taken,
            "refused": [n.as_json() for n in self.refused],
            "findings": [n.as_json() for n in self.findings],
            "dry_run": self.dry_run,
            **self.details,
        }
