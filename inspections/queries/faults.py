"""Deficiencies that stand open."""

from dataclasses import dataclass
from datetime import datetime

from inspections.models import Deficiency, Repair, Restoration
from inspections.queries.ledgers import corrected_inspections
from shared.models import Department

GRAVEST_FIRST = {"I": 0, "C": 1, "N": 2}


@dataclass(frozen=True, slots=True)
class OpenDeficiency:
    """A fault that is not put right, or is put right by one name alone."""

    deficiency: Deficiency
    awaiting_second_name: bool
    repairs: tuple[Repair, ...] = ()

    @property
    def own_names(self) -> tuple[str, ...]:
        """Names that cannot restore it: whoever found it, and whoever repaired it."""
        return tuple(dict.fromkeys([self.deficiency.by_name, *(repair.by_name for repair in self.repairs)]))


def open_deficiencies(department: Department, at: datetime, known_at: datetime) -> list[OpenDeficiency]:
    """Return what stands open at an instant, as known at another: impairments first, then oldest first."""
    corrected = corrected_inspections(department, known_at)
    restored: dict[int, bool] = {}
    rows = Restoration.objects.as_of(at, known_at).filter(department=department)
    for deficiency, alone, inspection in rows.values_list("deficiency_id", "awaiting_second_name", "inspection_id"):
        if inspection not in corrected:
            restored[deficiency] = restored.get(deficiency, True) and alone
    repairs = list(Repair.objects.as_of(at, known_at).filter(department=department).order_by("happened_at", "pk"))
    faults = (
        Deficiency.objects.as_of(at, known_at)
        .filter(department=department)
        .exclude(inspection__in=corrected)
        .select_related("item__kind", "inspection")
    )
    found = [
        OpenDeficiency(row, row.pk in restored, tuple(repair for repair in repairs if _is_of(repair, row)))
        for row in faults
        if restored.get(row.pk, True)
    ]
    return sorted(
        found, key=lambda f: (GRAVEST_FIRST.get(f.deficiency.grade, 3), f.deficiency.happened_at, f.deficiency.pk)
    )


def _is_of(repair: Repair, row: Deficiency) -> bool:
    if repair.deficiency_id is not None:
        return repair.deficiency_id == row.pk
    return repair.item_id == row.item_id and repair.happened_at >= row.happened_at
