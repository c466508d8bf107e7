"""After a use: what is wet is spread to dry, what is dry is packed and sealed, what may be contaminated is cleared.

Whoever packs a thing does not clear it, and the other way round: two names stand behind what goes back to people.
"""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from inspections.models import Inspection
from inspections.queries.after_use import Clock, clocks, wet_clock
from inspections.services.record import record_inspection, signature
from inventory.models import Item, Place, Seal, StateEvent
from inventory.queries import standing_of_items
from inventory.services import record_seal, record_state
from shared.api import Conflict
from shared.models import Department, User
from shared.notices import REMINDER, readers, tell
from shared.people import name_key, names_borne

Event = StateEvent.Event


@dataclass(frozen=True)
class Packing:
    """How things were found when they were packed.

    Attributes:
        mould: none or seen.
        seal: of the container they went into, with its number.
    """

    drained: bool
    mould: str
    rh_pct: float | None = None
    reloaded: bool | None = None
    place: Place | None = None
    seal: str = ""


@transaction.atomic
def spread_to_dry(
    *, department: Department, items: Sequence[Item], happened_at: datetime, by: User | None = None, by_name: str,
    client_id: uuid.UUID,
) -> list[StateEvent]:  # fmt: skip
    """Record that wet things are hung or spread to dry: from now on they no longer lie packed wet.

    Raises:
        Conflict: one of them is not wet.
    """
    if sent := _sent(department, client_id, "dry", items):
        return sent
    held = _held(department, items, happened_at)
    for clock in held:
        if clock.wet_at is None:
            raise Conflict(f"{clock.standing.item.tag} is not wet.")
    signed = _signed(department, happened_at, by, by_name)
    return [
        record_state(
            **signed, item=c.standing.item, event=Event.DRYING, client_id=_of(client_id, "dry", c.standing.item.pk)
        )
        for c in held
    ]


@transaction.atomic
def pack_items(
    *, department: Department, items: Sequence[Item], packing: Packing, happened_at: datetime,
    by: User | None = None, by_name: str, client_id: uuid.UUID,
) -> list[StateEvent]:  # fmt: skip
    """Pack what is dry: the dry-pack check of what has one, and the seal of the container they went into.

    What shows mould is recorded and stays where it is. What is in quarantine may be packed, and stays in quarantine.

    Raises:
        Conflict: water is left in it, it was not wet, nothing is said of mould, or whoever cleared it packs it.
    """
    if not packing.drained:
        raise Conflict("Drain it first: water left in it freezes, and grows mould.", where="drained")
    if packing.mould not in ("none", "seen"):
        raise Conflict("Say whether mould or odour was found: none or seen.", where="mould")
    if sent := _sent(department, client_id, "packed", items):
        return sent
    signed = _signed(department, happened_at, by, by_name)
    names = names_borne(by, by_name)
    rows = []
    for clock in _held(department, items, happened_at):
        item = clock.standing.item
        if clock.wet_at is None:
            raise Conflict(f"{item.tag} is packed already.")
        if name_key(clock.cleared_by) in names:
            raise Conflict(f"{clock.cleared_by} cleared {item.tag}: somebody else packs it.")
        if _dry_packed(item, clock, packing, signed, client_id):
            rows.append(
                record_state(**signed, item=item, event=Event.PACKED, client_id=_of(client_id, "packed", item.pk))
            )
    if packing.place is not None and packing.seal.strip() and rows:
        record_seal(
            **signed, place=packing.place, event=Seal.Event.APPLIED, number=packing.seal,
            client_id=_of(client_id, "seal", packing.place.pk),
        )  # fmt: skip
    return rows


@transaction.atomic
def clear_items(
    *, department: Department, items: Sequence[Item], contamination: str, method: str, reading: str, cleared_by: str,
    happened_at: datetime, by: User | None = None, by_name: str, client_id: uuid.UUID,
) -> list[StateEvent]:  # fmt: skip
    """Clear things from quarantine: how it was measured, what it read, and by whom.

    Raises:
        Conflict: no method, reading or name; it is not in quarantine; or whoever packed it would clear it.
    """
    method, reading, cleared_by = (" ".join(text.split())[:80] for text in (method, reading, cleared_by))
    for name, text in (("method", method), ("reading", reading), ("cleared_by", cleared_by)):
        if not text:
            raise Conflict(f"A clearance names its method, its reading and who gave it: {name} is missing.", where=name)
    if sent := _sent(department, client_id, "cleared", items):
        return sent
    signed = _signed(department, happened_at, by, by_name)
    names = names_borne(by, cleared_by)
    rows = []
    for clock in _held(department, items, happened_at):
        item = clock.standing.item
        if clock.quarantined_at is None:
            raise Conflict(f"{item.tag} is not in quarantine.")
        if name_key(clock.packed_by) in names:
            raise Conflict(f"{clock.packed_by} packed {item.tag}: somebody else clears it.", where="cleared_by")
        rows.append(
            record_state(
                **signed,
                item=item,
                event=Event.CLEARED,
                note=cleared_by,
                reason=f"Cleared by {cleared_by}: {method}, reading {reading}."[:240],
                client_id=_of(client_id, "cleared", item.pk),
            )  # fmt: skip
        )
        if "drypack" in item.kind.checks:
            values = {
                "contamination": contamination, "cleared": "yes", "clearance_method": method,
                "clearance_reading": reading, "cleared_by": cleared_by,
            }  # fmt: skip
            _check(item, values, signed, _of(client_id, "clearance", item.pk))
    return rows


def _dry_packed(item: Item, clock: Clock, packing: Packing, signed: Mapping[str, Any], client_id: uuid.UUID) -> bool:
    """Do the dry-pack check where the kind has one, and return whether the thing may be called packed."""
    if "drypack" not in item.kind.checks:
        return packing.mould == "none"
    values = {"drained": "yes", "mould": packing.mould, "wet_packed_h": f"{min(clock.hours_wet or 0.0, 2000.0):.1f}"}
    if clock.quarantined_at is None and not clock.cleared_by:
        values["contamination"] = "none"
    if packing.rh_pct is not None:
        values["rh_pct"] = f"{packing.rh_pct:g}"
    if packing.reloaded is not None:
        values["reloaded"] = "yes" if packing.reloaded else "no"
    if packing.seal.strip():
        values["seal_number"] = packing.seal.strip()[:40]
    row = _check(item, values, signed, _of(client_id, "drypack", item.pk))
    return packing.mould == "none" and row.verdict != Inspection.Verdict.VOID


def _check(item: Item, values: Mapping[str, str], signed: Mapping[str, Any], client_id: uuid.UUID) -> Inspection:
    return record_inspection(**signed, check_key="drypack", item=item, values=values, client_id=client_id)


def _held(department: Department, items: Sequence[Item], at: datetime) -> list[Clock]:
    """Return the clocks of some items, under lock, in their order."""
    if not items:
        raise Conflict("Choose at least one thing.", where="items")
    if any(item.department_id != department.pk for item in items):
        raise Conflict("That item belongs to another department.")
    list(Item.objects.select_for_update().filter(pk__in=[item.pk for item in items]).order_by("pk"))
    now = timezone.now()
    held = clocks(department, list(standing_of_items(items, at, now).values()), at, now)
    return sorted(held, key=lambda clock: (clock.standing.item.order, clock.standing.item.pk))


def _sent(department: Department, client_id: uuid.UUID, what: str, items: Sequence[Item]) -> list[StateEvent]:
    """Return the rows that this form or call wrote before."""
    ids = [_of(client_id, what, item.pk) for item in items]
    return list(StateEvent.objects.filter(department=department, client_id__in=ids))


def _of(client_id: uuid.UUID, what: str, pk: int) -> uuid.UUID:
    return uuid.uuid5(client_id, f"{what} {pk}")


def _signed(department: Department, at: datetime, by: User | None, by_name: str) -> dict[str, Any]:
    return {"department": department, "happened_at": at, "by": by, "by_name": signature(by_name)}


@transaction.atomic
def tell_of_wet(*, department: Department, at: datetime) -> int:
    """Tell those who walk of everything that lies packed wet too long, each stretch once; return how much does."""
    alarms = [clock for clock in wet_clock(department, at, timezone.now()) if clock.is_alarm]
    if not alarms:
        return 0
    people = readers(department, REMINDER, timezone.localdate(at))
    for clock in alarms:
        tag = clock.standing.item.tag
        body = f"{tag} lies packed wet for more than {clock.alarm_h:g} hours. Unroll it and spread it to dry."
        for membership in people:
            tell(
                department=department, user=membership.user, key=f"wet {tag} {clock.wet_at:%Y-%m-%dT%H:%M}",
                sort=REMINDER, subject=f"{tag} lies packed wet", body=body,
            )  # fmt: skip
    return len(alarms)
