"""Seals of containers: which number holds a container shut, and since when that was seen.

While a seal is found unbroken under the number it was applied with, the last count of what is inside stands, and is as
fresh as the eyes on the seal: nobody invents a count for it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from inventory.models import Place, Seal
from shared.models import Department


@dataclass(frozen=True, slots=True)
class SealStanding:
    """What is known of one container's seal.

    Attributes:
        number: of the seal that holds it; blank where none does, or where that is in doubt.
        applied_at: when that one was applied.
        seen_at: when it was last found unbroken, None where nobody has looked since.
        doubt: why none holds it: found broken, or found under another number.
    """

    number: str = ""
    applied_at: datetime | None = None
    applied_by: str = ""
    seen_at: datetime | None = None
    doubt: str = ""


def seals(department: Department, at: datetime, known_at: datetime) -> dict[int, SealStanding]:
    """Return by place id what is known of its seal; a place that never had one is absent."""
    rows = Seal.objects.as_of(at, known_at).filter(department=department)
    found: dict[int, SealStanding] = {}
    for row in rows.order_by("happened_at", "recorded_at", "pk"):
        found[row.place_id] = _after(found.get(row.place_id, SealStanding()), row)
    return found


def _after(held: SealStanding, row: Seal) -> SealStanding:
    if row.event == Seal.Event.APPLIED:
        return SealStanding(row.number, row.happened_at, row.by_name)
    if row.event == Seal.Event.BROKEN:
        return SealStanding(doubt=f"seal {row.number} was found broken or opened")
    if not held.number:
        return replace(held, doubt=held.doubt or f"seal {row.number} was never recorded as applied")
    if seal_key(row.number) != seal_key(held.number):
        return SealStanding(doubt=f"seal {row.number} was found where {held.number} was applied")
    return replace(held, seen_at=row.happened_at)


def seal_key(number: str) -> str:
    """Return a seal's number as it is compared: capitals, blanks and dashes do not tell seals apart."""
    return "".join(letter for letter in number.casefold() if letter.isalnum())


def stands_since(
    seals: Mapping[int, SealStanding],
    around: Iterable[Place],
    counted_at: datetime | None,
    posted_at: datetime | None,
) -> datetime | None:
    """Return when a seal last stood for a recount, None where none does. Pure.

    Args:
        seals: by place id.
        around: the place where something stands, and the places that one is within.
        counted_at: its last count; a seal vouches for a count, never for a register's figure.
        posted_at: the last posting of it; what went in or out did so before the seal was applied.
    """
    if counted_at is None:
        return None
    seen = [
        held.seen_at
        for place in around
        if (held := seals.get(place.pk))
        and held.number
        and held.seen_at is not None
        and counted_at <= held.applied_at
        and (posted_at is None or posted_at <= held.applied_at)
    ]
    return max(seen, default=None)
