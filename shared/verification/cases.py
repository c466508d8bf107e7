"""Check values read from CSV: each row is one to run, or one that says what is wrong with it and how to mend it."""

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

NEEDED: Final = ("id", "kind", "inputs", "expected")
OPTIONAL: Final = ("area", "tolerance_rel", "tolerance_abs", "source", "provenance", "note")


class CasesError(ValueError):
    """A file that cannot be read as check values at all: names it, what is wrong and how to mend it."""


@dataclass(frozen=True, slots=True)
class CheckValue:
    """One published number and what it was published for.

    Attributes:
        inputs: by key, each in the unit of its suffix.
        expected: by key, the same way.
        relative: larger of the two tolerances counts. [share]
        absolute: of the number's own unit.
        provenance: how it is known: read, memory, computed.
        file: where it stands, with ``row`` as a spreadsheet counts, the headings being row 1.
        problem: why it cannot be run; empty where it can.
    """

    id: str
    kind: str = ""
    inputs: Mapping[str, Any] = field(default_factory=dict)
    expected: Mapping[str, Any] = field(default_factory=dict)
    relative: float = 0.0
    absolute: float = 0.0
    area: str = ""
    source: str = ""
    provenance: str = ""
    note: str = ""
    file: str = ""
    row: int = 0
    problem: str = ""


def read_cases(content: bytes, file: str) -> list[CheckValue]:
    """Return the check values of one CSV file, the unfit rows among them.

    Args:
        content: of the file; UTF-8, with or without a byte order mark.
        file: its name, for messages.

    Raises:
        CasesError: it is no such file: not text, no headings, a needed column missing, no row.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CasesError(
            f"{file}: byte {error.start + 1} is not UTF-8 text. Save it as CSV in UTF-8 and give it again."
        ) from None
    rows = list(_rows(text, file))
    if not rows:
        raise CasesError(f"{file}: it is empty. Its first row holds the headings: {', '.join((*NEEDED, *OPTIONAL))}.")
    headings = [heading.strip().casefold().replace(" ", "_") for heading in rows[0][1]]
    missing = [name for name in NEEDED if name not in headings]
    if missing:
        raise CasesError(
            f"{file}, row {rows[0][0]}: no column {' and no column '.join(missing)}. The headings, set apart by "
            f"commas, are {', '.join(NEEDED)}; optional are {', '.join(OPTIONAL)}."
        )
    if len(rows) == 1:
        raise CasesError(f"{file}: it has headings and no case below them.")
    return _told_apart([_case(headings, cells, file, row) for row, cells in rows[1:]])


def _rows(text: str, file: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows that hold something, numbered as a spreadsheet numbers them."""
    reader = csv.reader(io.StringIO(text, newline=""))
    row = 0
    try:
        for row, cells in enumerate(reader, start=1):
            if any(cell.strip() for cell in cells):
                yield row, cells
    except csv.Error as error:
        raise CasesError(
            f"{file}, row {row + 1}: {error}. Put a cell that holds commas or quotes in double quotes, and double each "
            "quote inside it."
        ) from None


def _case(headings: list[str], cells: list[str], file: str, row: int) -> CheckValue:
    of = dict(zip(headings, (cell.strip() for cell in cells), strict=False))
    where, problems = f"{file}, row {row}", []
    name = of.get("id", "")
    if not name:
        problems.append("column id: it is empty. Give each case a name of its own.")
    if not of.get("kind"):
        problems.append("column kind: it is empty. Name the calculation.")
    if len(cells) > len(headings):
        problems.append(
            f"it has {len(cells)} cells under {len(headings)} headings. Put JSON in double quotes, each quote inside "
            "it doubled."
        )
    found: dict[str, Any] = {}
    for column, read in (("inputs", _inputs), ("expected", _expected), *((t, _tolerance) for t in OPTIONAL[1:3])):
        try:
            found[column] = read(of.get(column, ""))
        except ValueError as error:
            problems.append(f"column {column}: {error}")
    return CheckValue(
        id=name or f"{file} row {row}",
        kind=of.get("kind", ""),
        inputs=found.get("inputs", {}),
        expected=found.get("expected", {}),
        relative=found.get("tolerance_rel", 0.0),
        absolute=found.get("tolerance_abs", 0.0),
        area=of.get("area", ""),
        source=of.get("source", ""),
        provenance=of.get("provenance", ""),
        note=of.get("note", ""),
        file=file,
        row=row,
        problem=" ".join(f"{where}, {problem}" for problem in problems),
    )


def _told_apart(cases: list[CheckValue]) -> list[CheckValue]:
    """Return the cases, each that bears an earlier one's id marked as unfit."""
    first: dict[str, int] = {}
    told = []
    for case in cases:
        if case.id in first:
            said = f"{case.file}, row {case.row}, column id: {case.id!r} stands in row {first[case.id]} already."
            told.append(_unfit(case, f"{said} Give each case a name of its own."))
        else:
            first[case.id] = case.row
            told.append(case)
    return told


def _unfit(case: CheckValue, problem: str) -> CheckValue:
    values = {name: getattr(case, name) for name in CheckValue.__slots__}
    return CheckValue(**{**values, "problem": f"{case.problem} {problem}".strip()})


def _object(text: str) -> dict[str, Any]:
    try:
        found = json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        # A quote left open takes the rows below into its cell.
        open_quote = " A double quote seems to be left open, which swallows the rows below." if "\n" in text else ""
        raise ValueError(
            f"this is no JSON ({error.msg.lower()}, letter {error.pos + 1}). Write an object such as "
            f'{{"flow_gpm": 4}}.{open_quote}'
        ) from None
    except RecursionError:
        raise ValueError("this is nested too deep. Write one object of numbers, words and lists.") from None
    if not isinstance(found, dict):
        raise ValueError('this is JSON but no object. Write names with values, such as {"flow_gpm": 4}.')
    return found


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no JSON number. Write a finite number, or null.")


def _inputs(text: str) -> dict[str, Any]:
    return _object(text)


def _expected(text: str) -> dict[str, Any]:
    found = _object(text)
    if not found:
        raise ValueError('nothing is expected, so nothing could fail. Write at least one value, such as {"gpm": 4}.')
    if not _finite(found):
        raise ValueError("a number in it is too large for any tolerance to mean something. Write a finite number.")
    return found


def _finite(value: Any) -> bool:
    if isinstance(value, dict):
        return all(_finite(one) for one in value.values())
    if isinstance(value, list):
        return all(_finite(one) for one in value)
    return not isinstance(value, float) or math.isfinite(value)


def _tolerance(text: str) -> float:
    try:
        found = float(text or 0)
    except ValueError:
        raise ValueError(f"{text!r} is no number. Write a number of 0 or more, or leave it empty for 0.") from None
    if not math.isfinite(found) or found < 0:
        raise ValueError(f"{text} is no tolerance. Write a number of 0 or more, or leave it empty for 0.")
    return found
