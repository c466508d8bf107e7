"""What the tag of one fault says."""

from datetime import datetime
from zoneinfo import ZoneInfo

from inspections.models import Deficiency
from inspections.page_queries import check_name, procedures
from inventory.queries import modes_for
from reports.sheets import TagSheet


def tag_sheet(fault: Deficiency, at: datetime, address: str) -> TagSheet:
    """Return what the tag of a fault says; ``address`` is where a phone finds the item."""
    department = fault.department
    on = at.astimezone(ZoneInfo(department.time_zone)).date()
    mode = modes_for(department, on).get(fault.mode_code)
    check = check_name(procedures(department, on).get(fault.check_key), fault.check_key)
    how = f"{check.lower()}, passed" if fault.check_key else "a look and a statement"
    second = " under a second name" if fault.grade == "I" else ""
    return TagSheet(
        department=department.name,
        time_zone=department.time_zone,
        number=fault.pk,
        tag=fault.item.tag,
        name=fault.item.name,
        grade=fault.grade,
        mode=f"{fault.mode_code} {mode.name}" if mode else fault.mode_code,
        text=fault.text,
        caution=f"{mode.caution}." if mode and mode.caution else "",
        found_by=fault.by_name,
        found_at=fault.happened_at,
        restored_by=f"whoever restores it: {how}{second}.",
        printed_at=at,
        address=address,
    )
