"""What somebody changes about themselves, and which names they have signed with.

A signature is text, so that paper keeps its names; but whoever may put his own name right must not thereby become a
second person. So a changed name is kept, and every name somebody ever bore is theirs.
"""

from datetime import datetime

from django.db import transaction

from shared.api import Conflict
from shared.models import ApiToken, AuditEntry, Department, User

RENAMED = "changed name"


def name_key(name: str) -> str:
    """Return a signature as it is compared: capitals and blanks do not tell people apart."""
    return " ".join(name.casefold().split())


def names_borne(user: User | None, signed: str = "") -> frozenset[str]:
    """Return every name that somebody has signed with, and the one on the paper in hand, as they are compared."""
    names = {signed}
    if user is not None:
        names.add(user.signed_name)
        kept = AuditEntry.objects.filter(by=user, did=RENAMED).values_list("detail", flat=True)
        names |= {detail[side] for detail in kept for side in ("was", "is")}
    return frozenset(key for name in names if (key := name_key(name)))


@transaction.atomic
def change_person(*, user: User, display_name: str, uses_si: bool, email: str | None = None) -> User:
    """Change the name somebody signs with, the units they read and their address; what the name was stays on record.

    Raises:
        Conflict: somebody else of one of their departments signs so.
    """
    held = User.objects.select_for_update().get(pk=user.pk)
    was = held.signed_name
    if name_key(display_name) != name_key(was) and _is_taken(held, display_name):
        raise Conflict("Somebody else in your department signs with this name.", where="display_name")
    held.display_name, held.uses_si = display_name, uses_si
    if email is not None:
        held.email = email
    held.save(update_fields=["display_name", "uses_si", "email"])
    if held.signed_name != was:
        for membership in held.memberships.all():
            AuditEntry.objects.create(
                department_id=membership.department_id,
                by=held,
                did=RENAMED,
                subject=held.username,
                detail={"was": was, "is": held.signed_name},
            )
    return held


def _is_taken(user: User, name: str) -> bool:
    departments = user.memberships.values("department")
    others = User.objects.filter(memberships__department__in=departments).exclude(pk=user.pk).distinct()
    return any(name_key(name) in names_borne(other) for other in others)


@transaction.atomic
def set_alert_step(*, department: Department, alert_step: float, by: User, at: datetime) -> Department:
    """Set by how many points of 100 a line's score must drop before the head is told."""
    held = Department.objects.select_for_update().get(pk=department.pk)
    if held.alert_step != alert_step:
        detail = {"was": held.alert_step, "is": alert_step}
        AuditEntry.objects.create(department=held, at=at, by=by, did="set alert step", subject=held.name, detail=detail)
        held.alert_step = alert_step
        held.save(update_fields=["alert_step"])
    return held


@transaction.atomic
def change_password(*, user: User, password: str, at: datetime) -> User:
    """Change a password, and end every token made under the old one: a device that was lost stays locked out."""
    user.set_password(password)
    user.save(update_fields=["password"])
    ApiToken.objects.filter(user=user, revoked_at=None).update(revoked_at=at)
    return user
