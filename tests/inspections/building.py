"""Builders: a department with its catalogue, items on a line, checks of them; defaults for what a test skips."""

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

from inspections.models import Inspection
from inspections.services import load_procedures, record_inspection
from inventory.models import Item, ItemKind, Line, Lot, Place, Posting
from inventory.services import load_catalogue
from shared.models import Department

CATALOGUE_ON = date(2024, 1, 1)
DAY_1 = datetime(2026, 6, 1, 15, tzinfo=UTC)
SPECS: dict[str, dict[str, Any]] = {
    "shelter": {"lanes": 2, "set_psi": 3.0},
    "heater": {"input_btu_h": 190000, "set_degF": 105},
    "propane": {"nominal_lb": 100, "tare_lb": 68.0, "made": "2018-01"},
    "air_cylinder": {"rated_psi": 4500, "made": "2022-02", "requal": "2022-09", "spec_mark": "composite"},
}


def day(number: float) -> datetime:
    """Return an instant so many days after the first of June 2026."""
    return DAY_1 + timedelta(days=number)


def load(department: Department) -> Department:
    """Load catalogue and procedures."""
    load_catalogue(department=department, on=CATALOGUE_ON)
    load_procedures(department=department, on=CATALOGUE_ON)
    return department


def make_line(department: Department, name: str = "Line A") -> Line:
    return Line.objects.get_or_create(department=department, name=name)[0]


def make_place(department: Department, name: str = "Station 4, trailer bay") -> Place:
    return Place.objects.get_or_create(department=department, name=name)[0]


def make_item(
    department: Department, kind: str, tag: str, *, quantity: int = 1, line: str = "Line A", **fields: Any
) -> Item:
    """Make an item standing on a line since it was accepted."""
    accepted = fields.setdefault("accepted_on", date(2026, 1, 1))
    item = Item.objects.create(
        department=department,
        kind=ItemKind.objects.get(department=department, key=kind),
        tag=tag,
        name=tag,
        **{"spec": SPECS.get(kind, {}), **fields},
    )
    came = (
        datetime(accepted.year, accepted.month, accepted.day, tzinfo=UTC) if accepted else DAY_1 - timedelta(days=150)
    )
    Posting.objects.create(
        department=department,
        item=item,
        change=quantity,
        reason=Posting.Reason.REGISTERED,
        place=make_place(department),
        line=make_line(department, line),
        happened_at=came,
        recorded_at=came,
        by_name="Quinn",
    )
    return item


def make_lot(
    department: Department, kind: str = "towel", number: str = "L1", *, on_hand: int = 100, **fields: Any
) -> Lot:
    lot = Lot.objects.create(
        department=department,
        kind=ItemKind.objects.get(department=department, key=kind),
        number=number,
        name=kind,
        **fields,
    )
    Posting.objects.create(
        department=department,
        lot=lot,
        change=on_hand,
        reason=Posting.Reason.REGISTERED,
        line=make_line(department),
        happened_at=DAY_1 - timedelta(days=150),
        recorded_at=DAY_1 - timedelta(days=150),
        by_name="Quinn",
    )
    return lot


def check(item: Any, check_key: str, text: str, *, at: datetime, by_name: str = "Casey", **more: Any) -> Inspection:
    """Record a check written as a register writes it; it is learned when it happens, unless said."""
    of = {"item": "item", "lot": "lot", "line": "line"}[type(item)._meta.model_name]
    values = {pair.split("=")[0].strip(): pair.split("=")[1].strip() for pair in text.split(";") if "=" in pair}
    more.setdefault("client_id", uuid.uuid4())
    more.setdefault("recorded_at", at)
    return record_inspection(
        department=item.department,
        check_key=check_key,
        values=values,
        happened_at=at,
        by_name=by_name,
        **{of: item},
        **more,
    )
