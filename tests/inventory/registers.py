"""Builders of registers in many shapes, and of things in the cache."""

import csv
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from inventory.importing.report import ImportReport
from inventory.models import Item, ItemKind, Line, Lot, Posting
from inventory.queries import kinds_for, standing_of_department
from inventory.services import import_cache, load_catalogue, record_posting
from shared.models import Department

TODAY = date(2026, 11, 24)
AT = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
SAMPLE = Path(__file__).resolve().parents[2] / "inventory" / "demo" / "tarn_hollow_cache.xlsx"


def workbook(path: Path, tabs: Mapping[str, Sequence[Sequence[Any]]], merged: Sequence[tuple[str, str]] = ()) -> Path:
    """Write a workbook of tabs, each a list of rows, with merged ranges as (tab, "A1:C1")."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in tabs.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    for name, cells in merged:
        book[name].merge_cells(cells)
    book.save(path)
    return path


def text_table(path: Path, rows: Sequence[Sequence[Any]], *, delimiter: str = ",", encoding: str = "utf-8") -> Path:
    """Write a text table."""
    with path.open("w", newline="", encoding=encoding) as table:
        csv.writer(table, delimiter=delimiter).writerows(rows)
    return path


def take(department: Department, path: Path, *, dry_run: bool = False, at: datetime = AT) -> ImportReport:
    """Import a register as the suite does."""
    return import_cache(department=department, path=path, by=None, at=at, dry_run=dry_run)


def held(department: Department, at: datetime = AT) -> dict[str, Any]:
    """Return by tag how everything in a department stands, as known then."""
    return {s.item.tag: s for s in standing_of_department(department, at, at).items}


def stocked(department: Department) -> dict[str, ItemKind]:
    """Give a department the catalogue; return its kinds by key."""
    load_catalogue(department=department, on=date(2020, 1, 1))
    return kinds_for(department)


def make_item(
    department: Department,
    *,
    tag: str = "WH-01",
    kind: str = "heater",
    line: Line | None = None,
    quantity: int = 1,
    since: datetime = datetime(2024, 1, 1, tzinfo=UTC),
) -> Item:
    """Make an item that stands on a line, known since it came."""
    kinds = stocked(department)
    item = Item.objects.create(department=department, kind=kinds[kind], tag=tag, name=kinds[kind].name)
    record_posting(
        department=department,
        item=item,
        change=quantity,
        reason=Posting.Reason.REGISTERED,
        line=line,
        happened_at=since,
        recorded_at=since,
        by_name="Quinn",
    )
    return item


def make_lot(department: Department, *, number: str = "L1", line: Line, on_hand: int = 100) -> Lot:
    """Make a lot of towels on a line, known since it came."""
    kinds = stocked(department)
    since = datetime(2024, 1, 1, tzinfo=UTC)
    lot = Lot.objects.create(department=department, kind=kinds["towel"], number=number, name="Towel, bath")
    record_posting(
        department=department,
        lot=lot,
        change=on_hand,
        reason=Posting.Reason.REGISTERED,
        line=line,
        happened_at=since,
        recorded_at=since,
        by_name="Quinn",
    )
    return lot


def make_line(department: Department, name: str = "Line A") -> Line:
    """Make a line."""
    return Line.objects.create(department=department, name=name)
