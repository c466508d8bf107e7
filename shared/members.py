"""Who belongs to a department, and as what: inviting, changing, retiring. Every change is on the audit trail.

A head may do all of it. An officer may not make, change or retire a head, and nobody changes or retires himself; a
department always keeps a head.
"""

import secrets
from datetime import date, datetime, timedelta
from typing import Final

from django.contrib.auth.password_validation import validate_password
from django.db import transaction
from django.db.models import Q

from shared.api import Conflict
from shared.models import ApiToken, AuditEntry, Department, Invitation, Membership, User
from shared.people import name_key, names_borne
from shared.tokens import digest_of

Role = Membership.Role
GOOD_FOR: Final = timedelta(days=7)


def invitation_of(key: str, at: datetime) -> Invitation | None:
    """Return the invitation a key opens; None for one that is wrong, used, withdrawn or expired, which look alike."""
    rows = Invitation.objects.filter(digest=digest_of(key), accepted_at=None, withdrawn_at=None, expires_at__gt=at)
    return rows.select_related("department").first()


@transaction.atomic
def invite(
    *,
    department: Department,
    by: Membership,
    display_name: str,
    role: str,
    at: datetime,
    email: str = "",
    starts_on: date | None = None,
    ends_on: date | None = None,
) -> tuple[Invitation, str]:
    """Keep a place for somebody; return the invitation with its key, which is kept nowhere.

    Raises:
        Conflict: a role the inviter may not give, dates that do not fit it, or a name that somebody signs with.
    """
    _may_give(by, role)
    _sensible(role, starts_on, ends_on)
    _free_name(department, display_name)
    key = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        department=department, display_name=display_name, email=email, role=role, starts_on=starts_on,
        ends_on=ends_on, digest=digest_of(key), made_at=at, made_by=by.user, expires_at=at + GOOD_FOR,
    )  # fmt: skip
    _note(by, "invited", display_name, {"role": role})
    return invitation, key


@transaction.atomic
def invite_again(*, invitation: Invitation, by: Membership, at: datetime) -> tuple[Invitation, str]:
    """Give an invitation that was not taken up a new key; the old one opens nothing any more."""
    held = _unused(invitation)
    _may_give(by, held.role)
    key = secrets.token_urlsafe(32)
    held.digest, held.expires_at, held.withdrawn_at = digest_of(key), at + GOOD_FOR, None
    held.save(update_fields=["digest", "expires_at", "withdrawn_at"])
    _note(by, "invited again", held.display_name, {"role": held.role})
    return held, key


@transaction.atomic
def withdraw(*, invitation: Invitation, by: Membership, at: datetime) -> None:
    """Take an invitation back; one that was taken up already is retired instead."""
    held = _unused(invitation)
    _may_give(by, held.role)
    if held.withdrawn_at is None:
        held.withdrawn_at = at
        held.save(update_fields=["withdrawn_at"])
        _note(by, "withdrew invitation", held.display_name, {"role": held.role})


def _unused(invitation: Invitation) -> Invitation:
    held = Invitation.objects.select_for_update().get(pk=invitation.pk)
    if held.accepted_at is not None:
        raise Conflict("This invitation was taken up already.", mend="Retire the person instead.")
    return held


@transaction.atomic
def accept(*, key: str, username: str, password: str, at: datetime) -> User | None:
    """Make the sign-in that an invitation keeps a place for, once; None where the key opens nothing.

    Raises:
        Conflict: the sign-in name is taken, or somebody signs with the name by now.
        ValidationError: the password is too weak.
    """
    held = Invitation.objects.select_for_update().filter(digest=digest_of(key)).first()
    if held is None or held.accepted_at or held.withdrawn_at or held.expires_at <= at:
        return None
    if User.objects.filter(username__iexact=username).exists():
        raise Conflict("Somebody signs in with that name already.", where="username", mend="Choose another one.")
    _free_name(held.department, held.display_name)
    validate_password(password, User(username=username, display_name=held.display_name))
    user = User.objects.create_user(username, held.email, password, display_name=held.display_name)
    Membership.objects.create(
        department=held.department, user=user, role=held.role, starts_on=held.starts_on, ends_on=held.ends_on
    )
    held.accepted_at, held.accepted_by = at, user
    held.save(update_fields=["accepted_at", "accepted_by"])
    AuditEntry.objects.create(
        department=held.department, by=user, did="accepted invitation", subject=username, detail={"role": held.role}
    )
    return user


@transaction.atomic
def change_member(
    *, member: Membership, by: Membership, role: str, starts_on: date | None, ends_on: date | None, on: date
) -> Membership:
    """Change somebody's role or the days it holds.

    Raises:
        Conflict: himself, a role the changer may not give or take, the last head, or dates that do not fit.
    """
    held = _held(member, by)
    _may_give(by, role)
    _sensible(role, starts_on, ends_on)
    if held.role == Role.HEAD and (role != Role.HEAD or ends_on is not None or (starts_on and starts_on > on)):
        _another_head(held, on)
    was = {"role": held.role, "starts_on": str(held.starts_on), "ends_on": str(held.ends_on)}
    held.role, held.starts_on, held.ends_on = role, starts_on, ends_on
    held.save(update_fields=["role", "starts_on", "ends_on"])
    now = {"role": role, "starts_on": str(starts_on), "ends_on": str(ends_on)}
    _note(by, "changed member", held.user.username, {"was": was, "is": now})
    return held


@transaction.atomic
def retire(*, member: Membership, by: Membership, on: date, at: datetime) -> Membership:
    """End somebody's membership now: what they are signed in with here stops, and so do their tokens.

    The last day is yesterday's where they began before today, so that a session open this minute carries nothing.

    Raises:
        Conflict: himself, a head by an officer, or the last head.
    """
    held = _held(member, by)
    _another_head(held, on)
    last = on - timedelta(days=1)
    held.ends_on = last
    if held.starts_on and held.starts_on > last:
        held.starts_on = last
    held.save(update_fields=["starts_on", "ends_on"])
    ApiToken.objects.filter(user=held.user, department=held.department, revoked_at=None).update(revoked_at=at)
    _note(by, "retired", held.user.username, {"role": held.role, "on": on.isoformat()})
    return held


def _held(member: Membership, by: Membership) -> Membership:
    # All heads of the department under lock: of two that retire each other at one moment, the second is refused.
    list(Membership.objects.select_for_update().filter(department=by.department, role=Role.HEAD))
    held = Membership.objects.select_for_update().select_related("user").get(pk=member.pk, department=by.department)
    if held.user_id == by.user_id:
        raise Conflict("Nobody changes or retires himself.", mend="Ask another head or officer.")
    if held.role == Role.HEAD and by.role != Role.HEAD:
        raise Conflict("Only a head changes or retires a head.", mend="Ask the head.")
    return held


def _another_head(member: Membership, on: date) -> None:
    if member.role != Role.HEAD:
        return
    others = Membership.objects.current(on).filter(
        Q(user__is_active=True), department=member.department, role=Role.HEAD, ends_on=None
    )
    if not others.exclude(pk=member.pk).exists():
        raise Conflict("This is the department’s last head.", mend="Make somebody else head first.")


def _may_give(by: Membership, role: str) -> None:
    if role not in Role.values:
        raise Conflict("There is no such role.", where="role", mend="Choose one of the list.")
    if role == Role.HEAD and by.role != Role.HEAD:
        raise Conflict("Only a head makes heads.", where="role", mend="Ask the head.")


def _sensible(role: str, starts_on: date | None, ends_on: date | None) -> None:
    if role == Role.VISITOR and ends_on is None:
        raise Conflict("A visitor’s pass ends on a day.", where="ends_on", mend="Give its last day.")
    if starts_on and ends_on and ends_on < starts_on:
        raise Conflict("It would end before it begins.", where="ends_on", mend="Give a later day.")


def _free_name(department: Department, name: str) -> None:
    for user in User.objects.filter(memberships__department=department).distinct():
        if name_key(name) in names_borne(user):
            raise Conflict(
                "Somebody in the department signs with this name.", where="display_name", mend="Tell the two apart."
            )


def _note(by: Membership, did: str, subject: str, detail: dict[str, object]) -> None:
    AuditEntry.objects.create(department=by.department, by=by.user, did=did, subject=subject, detail=detail)
