"""A small cache with a catalogue, for tests of what leaves: two lines' worth of things and what was found of them."""

import uuid
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from inspections.models import Inspection
from inspections.services import load_procedures, record_inspection
from inventory.models import Award, Item, ItemKind, Line, Lot, Place
from inventory.services import load_catalogue, record_posting
from shared.models import Department, User
from tests.conftest import LAST_YEAR, NOON

SINCE = date(2024, 1, 1)
HOLD = {"p1_psi": 3.0, "t1_degF": 62, "p2_psi": 2.5, "t2_degF": 49, "hold_min": 60, "rest_min": 60, "same_gauge": True}


def make_catalogue(department: Department) -> None:
    """Load kinds, modes, limits and procedures, once a department."""
    load_catalogue(department=department, on=SINCE)
    load_procedures(department=department, on=SINCE)


def make_line(department: Department, name: str = "Line A") -> Line:
    if not department.kinds.exists():
        make_catalogue(department)
    place, _ = Place.objects.get_or_create(department=department, name="Station 4, trailer bay")
    return Line.objects.get_or_create(department=department, name=name, defaults={"home": place})[0]


def make_item(
    department: Department, tag: str = "SH-01", kind: str = "shelter", line: Line | None = None, **card: Any
) -> Item:
    """Put one item on a line, with a whole property record unless told otherwise."""
    line = line or make_line(department)
    award, _ = Award.objects.get_or_create(
        department=department,
        number="TH-2019-HS-0041",
        defaults={"title": "Homeland security", "assistance_listing": "97.067", "threshold_usd": Decimal(5000)},
    )
    values = {
        "name": "Shower shelter, air-beam, two lane",
        "serial": f"S-{tag}",
        "acquired_on": date(2019, 6, 19),
        "accepted_on": date(2019, 6, 19),
        "unit_cost": Decimal("24000.00"),
        "federal_share": Decimal("0.7500"),
        "award": award,
        "funding_source": "Homeland security grant",
        "title_holder": department.name,
        "use": "decontamination line, 4 drills a year",
        "condition": "usable",
        "custodian": "Quinn",
        "spec": {"lanes": 2, "set_psi": 3.0, "relief_psi": 3.5, "least_psi": 1.5} if kind == "shelter" else {},
    }
    item = Item.objects.create(
        department=department,
        kind=ItemKind.objects.get(department=department, key=kind),
        tag=tag,
        **(values | card),
    )
    record_posting(
        department=department,
        item=item,
        change=1,
        reason="registered",
        place=line.home,
        line=line,
        happened_at=LAST_YEAR,
        recorded_at=LAST_YEAR,
        by_name="Quinn",
    )
    return item


def make_lot(department: Department, line: Line | None = None, on_hand: int = 40) -> Lot:
    line = line or make_line(department)
    kind = ItemKind.objects.get(department=department, key="towel")
    lot = Lot.objects.create(department=department, kind=kind, number="L7757", name="Towel, bath", per_person=2)
    record_posting(
        department=department,
        lot=lot,
        change=on_hand,
        reason="received",
        line=line,
        happened_at=LAST_YEAR,
        recorded_at=LAST_YEAR,
        by_name="Quinn",
    )
    return lot


def inspect(item: Item, by: User, check_key: str = "hold", at: datetime | None = None, **more: Any) -> Inspection:
    """Record one check, a hold test that passes unless told otherwise."""
    values = more.pop("values", HOLD)
    return record_inspection(
        department=item.department,
        item=item,
        check_key=check_key,
        values=values,
        happened_at=at or NOON - timedelta(days=9),
        recorded_at=more.pop("recorded_at", (at or NOON - timedelta(days=9)) + timedelta(minutes=2)),
        by=by,
        by_name=by.signed_name,
        client_id=more.pop("client_id", uuid.uuid4()),
        **more,
    )
