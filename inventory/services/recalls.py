"""A maker's recall: what it means is taken out of service or withheld, and comes back by its remedy and a second name.

An item goes out under the recall's own code, so that a passed check or a bring-back by hand, which end other outages,
do not end this one.
"""

import uuid
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Final

from django.db import transaction

from inventory.models import Item, ItemKind, Lot, LotHold, Recall, StateEvent
from inventory.queries.recalls import UNKNOWN, Matched, caught_by, matches, matching, recalls_of
from inventory.services.ledger import record_state
from inventory.signals import cache_changed
from shared.api import Conflict, same_or_refuse
from shared.models import Department, User
from shared.people import name_key, names_borne

MOST_PATTERNS: Final = 500


def patterns_in(text: str) -> list[str]:
    """Return the serials or lot numbers of a notice: one to a line, or set apart by commas."""
    return list(dict.fromkeys(p for part in text.replace(",", "\n").split("\n") if (p := " ".join(part.split())[:80])))


@transaction.atomic
def record_recall(
    *,
    department: Department,
    reference: str,
    what: str,
    happened_at: datetime,
    by_name: str,
    by: User | None = None,
    kind: ItemKind | None = None,
    serials: Sequence[str] = (),
    lots: Sequence[str] = (),
    remedy: str = "",
    client_id: uuid.UUID | None = None,
) -> Recall:
    """Record a maker's recall and take out everything it means; the same client_id twice records once.

    Raises:
        Conflict: it names nothing, or a bare * that would mean everything.
    """
    _sensible(department, kind, serials, lots)
    said = {
        "kind": kind, "serials": list(serials), "lots": list(lots), "reference": reference[:120], "what": what[:300],
        "remedy": remedy[:300],
    }  # fmt: skip
    recall, made = Recall.objects.get_or_create(
        department=department,
        client_id=client_id or uuid.uuid4(),
        defaults=said | {"happened_at": happened_at, "by": by, "by_name": by_name},
    )
    if not made:
        same_or_refuse(recall, said)
        return recall
    found = matching(department, recall)
    take_out_recalled(recall=recall, items=found.items, lots=found.lots, at=happened_at, by=by, by_name=by_name)
    return recall


def draft_recall(
    *, department: Department, kind: ItemKind | None, serials: Sequence[str], lots: Sequence[str]
) -> Recall:
    """Return a recall that is not recorded, to see what it would mean.

    Raises:
        Conflict: as ``record_recall``.
    """
    _sensible(department, kind, serials, lots)
    return Recall(department=department, kind=kind, serials=list(serials), lots=list(lots))


def _sensible(department: Department, kind: ItemKind | None, serials: Sequence[str], lots: Sequence[str]) -> None:
    if kind is not None and kind.department_id != department.pk:
        raise Conflict("That kind belongs to another department.", where="kind")
    if kind is None and not serials and not lots:
        raise Conflict("A recall names a kind, serials or lots.", where="kind", mend="Copy them from the notice.")
    for where, patterns in (("serials", serials), ("lots", lots)):
        if len(patterns) > MOST_PATTERNS:
            raise Conflict(f"More than {MOST_PATTERNS} at once.", where=where, mend="Use a trailing * for a range.")
        for pattern in patterns:
            if sum(ch.isalnum() for ch in pattern) < 2:
                raise Conflict(f"{pattern!r} would mean nearly everything.", where=where, mend="Write more of it.")


def take_out_recalled(
    *, recall: Recall, items: Iterable[Matched], lots: Iterable[Lot], at: datetime, by: User | None, by_name: str
) -> int:
    """Take out what a recall means and has not taken out before; return how many things."""
    already = {c.thing for c in caught_by(recall)}
    many = 0
    for one in items:
        if one.item not in already:
            doubt = f" ({UNKNOWN}: read its plate)" if one.why == UNKNOWN else ""
            record_state(
                department=recall.department,
                item=one.item,
                event=StateEvent.Event.TAKEN_OUT,
                happened_at=at,
                by=by,
                by_name=by_name,
                reason=f"{recall}{doubt}: {recall.what}"[:240],
                mode_code=recall.code,
                client_id=_derived(recall, "item", one.item.pk),
            )
            many += 1
    held = [lot for lot in lots if lot not in already]
    for lot in held:
        _hold(recall, lot, LotHold.Event.HELD, f"{recall}: {recall.what}", at, by, by_name)
    _announce(recall, held)
    return many + len(held)


@transaction.atomic
def catch_recalled(
    *, department: Department, item_ids: Iterable[int], lot_ids: Iterable[int], at: datetime, by: User | None,
    by_name: str,
) -> list[tuple[Recall, Item | Lot]]:  # fmt: skip
    """Take out what came in after the recalls that mean it; return each with its recall."""
    recalls = list(recalls_of(department))
    if not recalls:
        return []
    items = list(Item.objects.filter(department=department, pk__in=list(item_ids)).select_related("kind"))
    lots = list(Lot.objects.filter(department=department, pk__in=list(lot_ids)).select_related("kind"))
    caught: list[tuple[Recall, Item | Lot]] = []
    for recall in recalls:
        found = matches(recall, items, lots)
        if found.any and take_out_recalled(
            recall=recall, items=found.items, lots=found.lots, at=at, by=by, by_name=by_name
        ):
            caught += [(recall, m.item) for m in found.items]
            caught += [(recall, lot) for lot in found.lots]
    return caught


@transaction.atomic
def release_recalled(
    *,
    department: Department,
    recall: Recall,
    remedy: str,
    remedy_by: str,
    happened_at: datetime,
    by: User,
    by_name: str,
    item: Item | None = None,
    lot: Lot | None = None,
) -> StateEvent | LotHold:
    """Bring back one thing that a recall took out: its remedy was done by one person, another one releases it.

    Raises:
        Conflict: nothing was done, one person would do both, or this recall does not hold the thing.
    """
    thing = item or lot
    # Two releases at one moment: the second sees the first.
    Recall.objects.select_for_update().get(pk=recall.pk, department=department)
    caught = next((c for c in caught_by(recall) if c.thing == thing), None)
    if caught is None or caught.released_at is not None:
        raise Conflict(f"{recall} does not hold that.", where="thing")
    if not remedy.strip() or not remedy_by.strip():
        raise Conflict("Say what was done, and who did it.", where="remedy")
    if {name_key(remedy_by), name_key(recall.by_name)} & names_borne(by, by_name):
        raise Conflict(
            "A second name releases: neither whoever did the remedy nor whoever recorded the recall.",
            where="remedy_by",
            mend="Let somebody else look at it and release it.",
        )
    reason = f"{recall}: {remedy.strip()}, by {remedy_by.strip()}"[:240]
    if lot is not None:
        row = _hold(recall, lot, LotHold.Event.RELEASED, reason, happened_at, by, by_name)
        _announce(recall, [lot])
        return row
    return record_state(
        department=department, item=item, event=StateEvent.Event.RESTORED, happened_at=happened_at, by=by,
        by_name=by_name, reason=reason, mode_code=recall.code,
    )  # fmt: skip


def _hold(
    recall: Recall, lot: Lot, event: str, reason: str, at: datetime, by: User | None, by_name: str
) -> LotHold:  # fmt: skip
    return LotHold.objects.create(
        department=recall.department, client_id=_derived(recall, event, lot.pk), lot=lot, event=event,
        reason=reason[:240], recall=recall, happened_at=at, by=by, by_name=by_name,
    )  # fmt: skip


def _announce(recall: Recall, lots: Sequence[Lot]) -> None:
    if lots:
        cache_changed.send(
            sender=LotHold, department=recall.department, item_ids=[], lot_ids=[lot.pk for lot in lots], line_ids=[]
        )


def _derived(recall: Recall, what: str, pk: int) -> uuid.UUID:
    return uuid.uuid5(recall.client_id, f"{what} {pk}")
