"""Walks: one round through a place, open until signed."""

import uuid
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inspections.models import Walk, WalkTakeUp
from inspections.queries import walker
from inspections.services.record import signature
from inventory.models import Place
from shared.api import AlreadySent, Conflict
from shared.chain import seal_on_commit
from shared.models import Department, User
from shared.people import name_key, names_borne


@transaction.atomic
def open_walk(*, department: Department, place: Place, by: User, started_at: datetime, client_id: uuid.UUID) -> Walk:
    """Open a walk of a place; the same client_id twice opens one.

    Raises:
        AlreadySent: the id belongs to a walk of another place or person.
    """
    if place.department_id != department.pk:
        raise Conflict("That place belongs to another department.")
    walk, _ = Walk.objects.get_or_create(
        department=department, client_id=client_id, defaults={"place": place, "by": by, "started_at": started_at}
    )
    if walk.place_id != place.pk or walk.by_id != by.pk:
        raise AlreadySent("This id was sent before for another walk.")
    return walk


@transaction.atomic
def take_up_walk(
    *,
    department: Department,
    walk: Walk,
    by: User,
    by_name: str,
    happened_at: datetime,
    client_id: uuid.UUID,
    recorded_at: datetime | None = None,
) -> WalkTakeUp:
    """Record that somebody goes on with a walk half done; from then on it is theirs to sign.

    What whoever walked it before has read and still sends is kept on it; the same client_id twice records once.

    Raises:
        Conflict: it is another department's, or signed.
        AlreadySent: the id belongs to another walk or person.
    """
    if walk.department_id != department.pk:
        raise Conflict("That walk belongs to another department.")
    sent = WalkTakeUp.objects.filter(department=department, client_id=client_id).first()
    if sent is None:
        # Under lock: signing and taking up must not pass each other.
        held = Walk.objects.select_for_update().get(pk=walk.pk)
        if held.signed_at is not None:
            raise Conflict(f"{held.signed_name} has signed that walk; open another one for further checks.")
        sent = WalkTakeUp.objects.create(
            department=department,
            client_id=client_id,
            walk=held,
            by=by,
            by_name=signature(by_name),
            happened_at=happened_at,
            recorded_at=recorded_at or timezone.now(),
        )
    if sent.walk_id != walk.pk or sent.by_id != by.pk:
        raise AlreadySent
    return sent


@transaction.atomic
def sign_walk(*, walk: Walk, by: User, signed_name: str, signed_at: datetime, note: str = "") -> Walk:
    """Sign a walk: nothing is added to it afterwards. Signing again changes nothing.

    Raises:
        Conflict: no name or not the walker's own, another person's walk, or nothing was checked on it.
    """
    name = signature(signed_name)
    held = Walk.objects.select_for_update().get(pk=walk.pk)
    whose, since = walker(held)
    if whose.pk != by.pk:
        raise Conflict(
            f"A walk is signed by whoever walked it last: {whose.signed_name}, since {since:%Y-%m-%d %H:%M} UTC.",
            mend="Take the walk up, then sign it.",
        )
    if name_key(name) not in names_borne(by):
        raise Conflict(f"Sign with your own name, {by.signed_name}.")
    if held.signed_at is None:
        if not held.inspections.exists():
            raise Conflict("Nothing was checked on this walk; there is nothing to sign.")
        # The condition decides between two signatures that arrive together.
        Walk.objects.filter(pk=held.pk, signed_at=None).update(signed_at=signed_at, signed_name=name, note=note.strip())
        held.refresh_from_db()
        seal_on_commit(Walk, held.department_id, [held.pk])
    return held
