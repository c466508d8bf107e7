"""Builders for the pages of the Walk and the Bay: a bay with things in it, registered a year before now."""

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from inspections.models import Inspection
from inspections.services import load_procedures, record_inspection
from inventory.models import CrewMember, Item, ItemKind, Line, LoadListRow, Lot, Place, Posting
from inventory.services import load_catalogue, record_posting
from shared.models import Department

BAY = "Station 4, trailer bay"
A_YEAR = timedelta(days=365)
HOLD = {
    "p_set_psi": "3.0",
    "rest_min": "60",
    "p1_psi": "3.00",
    "t1_degF": "62",
    "p2_psi": "2.50",
    "t2_degF": "49",
    "hold_min": "60",
    "same_gauge": "yes",
    "direct_sun": "no",
    "relief_lifted": "no",
    "reached_set": "yes",
    "soap_result": "none",
}


def ago(**back: float) -> datetime:
    return timezone.now() - timedelta(**back)


def load(department: Department) -> Department:
    """Load catalogue and procedures, in force since long before anything here happens."""
    on = (timezone.now() - 3 * A_YEAR).date()
    load_catalogue(department=department, on=on)
    load_procedures(department=department, on=on)
    return department


def make_place(department: Department, name: str = BAY, **fields: Any) -> Place:
    return Place.objects.get_or_create(department=department, name=name, defaults=fields)[0]


def make_line(department: Department, name: str = "Line A", home: str = BAY) -> Line:
    return Line.objects.get_or_create(
        department=department, name=name, defaults={"home": make_place(department, home)}
    )[0]


def make_item(
    department: Department,
    kind: str,
    tag: str,
    *,
    quantity: int = 1,
    place: str | None = BAY,
    line: str | None = "Line A",
    **fields: Any,
) -> Item:
    """Make an item standing in the bay, on Line A unless said."""
    item = Item.objects.create(
        department=department,
        kind=ItemKind.objects.get(department=department, key=kind),
        tag=tag,
        order=Item.objects.count(),
        **{"name": f"Thing {tag}", "accepted_on": ago(days=365).date(), **fields},
    )
    record_posting(
        department=department,
        item=item,
        change=quantity,
        reason=Posting.Reason.REGISTERED,
        place=make_place(department, place) if place else None,
        line=make_line(department, line) if line else None,
        happened_at=ago(days=365),
        by_name="register",
    )
    return item


def make_lot(
    department: Department,
    kind: str = "towel",
    number: str = "L1",
    *,
    on_hand: int = 100,
    line: str = "Line A",
    **fields,
) -> Lot:
    lot = Lot.objects.create(
        department=department,
        kind=ItemKind.objects.get(department=department, key=kind),
        number=number,
        **{"name": f"{kind} {number}", **fields},
    )
    put_lot(lot, on_hand, line)
    return lot


def put_lot(lot: Lot, on_hand: int, line: str) -> None:
    record_posting(
        department=lot.department,
        lot=lot,
        change=on_hand,
        reason=Posting.Reason.REGISTERED,
        line=make_line(lot.department, line),
        happened_at=ago(days=365),
        by_name="register",
    )


def make_row(line: Line, kind: str, *, quantity: int, needed: float, **fields: Any) -> LoadListRow:
    found = ItemKind.objects.get(department=line.department, key=kind)
    return LoadListRow.objects.create(
        department=line.department,
        line=line,
        kind=found,
        quantity=quantity,
        needed=needed,
        **{"function": found.function, "effective_on": ago(days=365).date(), **fields},
    )


def make_crew(department: Department, name: str, **fields: Any) -> CrewMember:
    return CrewMember.objects.create(department=department, name=name, **fields)


def record(thing: Any, check_key: str, values: dict[str, str], *, by_name: str = "Casey", **more: Any) -> Inspection:
    """Record a check of an item, a lot or a line, an hour ago unless said."""
    of = type(thing)._meta.model_name
    more = {"happened_at": ago(hours=1), "client_id": uuid.uuid4()} | more
    return record_inspection(
        department=thing.department, check_key=check_key, values=values, by_name=by_name, **{of: thing}, **more
    )
