"""Calibrations of the demo's meter boxes: trusted ones, one due soon, one past its day. Invented, like the rest."""

import uuid
from datetime import UTC, date, datetime, time, timedelta

from inspections.services import record_calibration
from inventory.models import Item
from shared.models import Department, User

REFERENCE = {
    "pressure": "dead-weight tester, certificate TH-2231 (invented)",
    "mass": "50 lb test weight, certificate TH-0907 (invented)",
    "temperature": "ice point and reference thermometer TH-12 (invented)",
}
# tag, quantity, days ago, days until due, off by, unit
CALIBRATIONS = (
    ("ME-01", "pressure", 120, 245, 0.01, "psi"),
    ("ME-01", "mass", 120, 245, 0.1, "lb"),
    ("ME-01", "temperature", 345, 20, -0.5, "degF"),
    ("ME-02", "pressure", 400, -35, 0.0, "psi"),
)


def load_meters(department: Department, by: User, today: date) -> None:
    """Record the calibrations of the meter boxes that the demo's register holds."""
    boxes = {item.tag: item for item in Item.objects.filter(department=department, kind__key="meters")}
    for tag, quantity, ago, due_in, error, unit in CALIBRATIONS:
        if tag in boxes:
            record_calibration(
                department=department,
                item=boxes[tag],
                quantity=quantity,
                reference=REFERENCE[quantity],
                accepted=True,
                error=error,
                unit=unit,
                due_on=today + timedelta(days=due_in),
                happened_at=datetime.combine(today - timedelta(days=ago), time(14), tzinfo=UTC),
                by=by,
                by_name=by.signed_name,
                client_id=uuid.uuid5(uuid.NAMESPACE_URL, f"{department.slug} {tag} {quantity}"),
            )
