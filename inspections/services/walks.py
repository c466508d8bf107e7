"""Walks: one round through a place, open until signed."""

import uuid
from datetime import datetime

from django.db import transaction

from inspections.models import Walk
from inspections.services.record import signature
from inventory.models import Place
from shared.api import AlreadySent, Conflict
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
def sign_walk(*, walk: Walk, by: User, signed_name: str, signed_at: datetime, note: str = "") -> Walk:
    """Sign a walk: nothing is added to it afterwards. Signing again changes nothing.

    Raises:
        Conflict: no name or not the walker's own, another person's walk, or nothing was checked on it.
    """
    name = signature(signed_name)
    held = Walk.objects.select_for_update().get(pk=walk.pk)
    if held.by_id != by.pk:
        raise Conflict("A walk is signed by whoever walked it.")
    if name_key(name) not in names_borne(by):
        raise Conflict(f"Sign with your own name, {by.signed_name}.")
    if held.signed_at is None:
        if not held.inspections.exists():
            raise Conflict("Nothing was checked on this walk; there is nothing to sign.")
        # The condition decides between two signatures that arrive together.
        Walk.objects.filter(pk=held.pk, signed_at=None).update(signed_at=signed_at, signed_name=name, note=note.strip())
        held.refresh_from_db()
    return held
