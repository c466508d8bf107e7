"""The dates a cylinder's plate sets."""

from collections.abc import Mapping
from datetime import date

from shared.formulas import dates

CYLINDERS = frozenset({"propane", "air_cylinder"})


def cylinder_dates(kind: str, spec: Mapping[str, object]) -> tuple[date | None, date | None]:
    """Return (requalify by, remove by) of a cylinder from its plate; (None, None) for other kinds."""
    if kind not in CYLINDERS:
        return None, None
    mark = str(spec.get("spec_mark") or ("4BW" if kind == "propane" else "composite"))
    made, last = _month(spec.get("made")), _month(spec.get("requal"))
    suffix = str(spec.get("requal_suffix") or "")
    try:
        return dates.requalify_by(mark, made, last, suffix), dates.remove_by(mark, made)
    except ValueError:
        # Dates that contradict each other (requalified before it was made) say nothing: the register's import names
        # them as a finding, and the cylinder's own check asks for them again.
        return None, None


def _month(text: object) -> date | None:
    if not text:
        return None
    year, month = str(text).split("-")[:2]
    return date(int(year), int(month), 1)
