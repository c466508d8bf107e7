"""Snaps: draw one item without notice, and keep what came of it.

The check that answers a snap is an ordinary one: it proves what it proves. Fetching the item is a sighting; not finding
it counts it as absent, with a note of what to look into.
"""

import uuid
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inspections.models import Snap, SnapAnswer
from inspections.queries.snaps import LOOK, ON_CALL_MIN, SnapState, candidates, drawn, snap_states
from inspections.services.record import record_inspection, signature
from shared.api import Conflict, same_or_refuse
from shared.models import Department, User


@transaction.atomic
def draw_snap(
    *,
    department: Department,
    seed: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> Snap:
    """Draw one item, weighted to the least proven; the same client_id twice draws once.

    Raises:
        Conflict: nothing can be drawn, or the seed is none.
    """
    sent = Snap.objects.filter(department=department, client_id=client_id).first()
    if sent is not None:
        return sent
    if not (seed := seed.strip()[:40]):
        raise Conflict("A draw needs a seed.", where="seed")
    now = timezone.now()
    # What is known when the row is written is what the draw can be repeated from.
    found = candidates(department, happened_at, now)
    if not found:
        raise Conflict("Nothing can be drawn: nothing is in service here, or all of it is out or called already.")
    one = drawn(found, seed)
    return Snap.objects.create(
        department=department, client_id=client_id, item=one.item, check_key=one.check_key, weight=one.share,
        pool=len(found), seed=seed, allowed_min=ON_CALL_MIN[one.check_key], happened_at=happened_at, recorded_at=now,
        by=by, by_name=signature(by_name),
    )  # fmt: skip


@transaction.atomic
def answer_snap(
    *,
    department: Department,
    snap: Snap,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    in_hand_at: datetime | None = None,
    working_at: datetime | None = None,
    found: bool = True,
    note: str = "",
) -> SnapAnswer:
    """Record that the item is in hand, that it works, or that it is not where the record says.

    Raises:
        Conflict: the snap is over, times lie before the call, or a miss comes without a note of what was looked at.
    """
    if snap.department_id != department.pk:
        raise Conflict("That snap belongs to another department.")
    said = {"snap": snap, "in_hand_at": in_hand_at, "working_at": working_at, "found": found}
    Snap.objects.select_for_update().get(pk=snap.pk)
    sent = SnapAnswer.objects.filter(department=department, client_id=client_id).first()
    if sent is not None:
        same_or_refuse(sent, {"snap": snap, "found": found})
        return sent
    state = state_of_snap(snap)
    _may_answer(state, in_hand_at, working_at, found=found, note=note)
    row = SnapAnswer.objects.create(
        department=department, client_id=client_id, happened_at=happened_at, by=by, by_name=signature(by_name), **said
    )
    if not found or (state.in_hand_at is None and snap.check_key != LOOK):
        seen = {"seen": "yes" if found else "no"}
        remark = "Snap: in hand." if found else f"Snap: not where the record says. {note.strip()}"
        record_inspection(
            department=department, check_key=LOOK, item=snap.item, values=seen, happened_at=happened_at, by=by,
            by_name=by_name, client_id=uuid.uuid5(client_id, "sighting"), remark=remark[:300],
        )  # fmt: skip
    return row


def state_of_snap(snap: Snap) -> SnapState:
    """Return one snap with what came of it."""
    now = timezone.now()
    return snap_states([snap], now, now)[0]


def _may_answer(
    state: SnapState, in_hand_at: datetime | None, working_at: datetime | None, *, found: bool, note: str
) -> None:
    if state.is_over:
        raise Conflict("This snap is over.")
    if not found and not note.strip():
        raise Conflict("Say where it was looked for, so that it can be followed up.", where="note")
    if found and in_hand_at is None and working_at is None:
        raise Conflict("Say when it was in hand, or when it worked.")
    for at in (in_hand_at, working_at):
        if at is not None and at < state.snap.happened_at:
            raise Conflict("That lies before the call.")
    first = state.in_hand_at or in_hand_at
    if working_at is not None and first is not None and working_at < first:
        raise Conflict("It cannot work before it is in hand.")
