"""Faults with what became of them, as of one instant."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from inspections.models import Deficiency, Restoration
from inspections.queries import fault_episodes
from inspections.queries.ledgers import corrected_inspections
from inventory.models import FailureMode
from reports.sheets import FaultLine


def fault_lines(
    rows: Iterable[Deficiency], modes: Mapping[str, FailureMode], as_of: datetime, zone: str
) -> dict[int, FaultLine]:
    """Return by deficiency id how each fault stands at ``as_of``: found, repaired, restored, and by whom."""
    rows = list(rows)  # each with its item
    ids = [row.pk for row in rows]
    repairs: dict[int, list[str]] = defaultdict(list)
    told = fault_episodes(rows[0].department, as_of, as_of, {row.item_id for row in rows}) if rows else ()
    for deficiency, repair in ((fault.deficiency.pk, repair) for fault in told for repair in fault.repairs):
        cost = f", ${repair.cost:,.2f}" if repair.cost is not None else ""
        repairs[deficiency].append(f"{repair.what}; {signed(repair.by_name, repair.happened_at, zone)}{cost}")
    restored: dict[int, tuple[str, datetime]] = {}
    corrected = corrected_inspections(rows[0].department, as_of) if rows else set()
    restorations = Restoration.objects.as_of(as_of, as_of).filter(deficiency__in=ids).order_by("happened_at", "pk")
    for row in restorations.exclude(inspection__in=corrected):
        alone = ", awaiting a second name" if row.awaiting_second_name else ""
        text = f"same check passed; {signed(row.by_name, row.happened_at, zone)}{alone}"
        restored[row.deficiency_id] = (text, row.happened_at)
    return {
        row.pk: FaultLine(
            item=row.item.tag,
            code=row.mode_code,
            name=modes[row.mode_code].name if row.mode_code in modes else "",
            grade=row.grade,
            text=row.text,
            found_by=row.by_name,
            found_at=row.happened_at,
            repairs=tuple(repairs[row.pk]),
            restoration=restored.get(row.pk, ("", None))[0],
            restored_at=restored.get(row.pk, ("", None))[1],
        )
        for row in rows
    }


def signed(name: str, at: datetime, zone: str) -> str:
    """Return a name with the day, as people sign."""
    return f"{name}, {at.astimezone(ZoneInfo(zone)):%d %b %Y}"
