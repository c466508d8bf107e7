"""Move every date of a register by so many days: for a demo whose last walk is always yesterday's."""

from dataclasses import fields, replace
from datetime import date, timedelta
from typing import Any

from inventory.importing.cells import Day
from inventory.importing.register import Register

_MONTHS = ("made", "requal")  # of a plate, written YYYY-MM


def move_dates(register: Register, days: int) -> None:
    """Move all dates of items, lots and people, and the months on plates, by so many days (may be negative)."""
    by = timedelta(days=days)
    for draft in (*register.items, *register.lots, *register.crew):
        for each in fields(draft):
            setattr(draft, each.name, _moved(getattr(draft, each.name), by))
    for item in register.items:
        for key in _MONTHS:
            if month := item.spec.get(key):
                item.spec[key] = f"{date.fromisoformat(f'{month}-15') + by:%Y-%m}"


def _moved(value: Any, by: timedelta) -> Any:
    if isinstance(value, Day):
        return replace(value, on=value.on + by)
    return value + by if isinstance(value, date) else value
