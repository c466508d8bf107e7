"""The roster: two functions rest on it, so each change has the lines rated again."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from inventory.models import CrewMember, Line
from inventory.signals import cache_changed
from shared.api import Conflict
from shared.models import AuditEntry, Department, User
from shared.people import name_key

FIELDS = ("name", "role", "line", "user", "qualified_on", "qualified_until", "left_on")


@transaction.atomic
def put_crew(
    *,
    department: Department,
    by: User,
    member: CrewMember | None = None,
    name: str,
    role: str = "",
    line: Line | None = None,
    user: User | None = None,
    qualified_on: date | None = None,
    qualified_until: date | None = None,
    left_on: date | None = None,
) -> CrewMember:
    """Put somebody on the roster, or change what it says of them; line None is every line.

    Raises:
        Conflict: another of that name, a line or person of another department, or days that contradict each other.
    """
    name = " ".join(name.split())[:120]
    if not name:
        raise Conflict("Write the name.", where="name", mend="As they sign.")
    if line is not None and line.department_id != department.pk:
        raise Conflict("That line belongs to another department.", where="line")
    if user is not None and not user.memberships.filter(department=department).exists():
        raise Conflict("That person does not belong here.", where="user")
    if qualified_on and qualified_until and qualified_until < qualified_on:
        raise Conflict("That qualification ends before it begins.", where="qualified_until", mend="Read the card.")
    roster = {name_key(m.name): m for m in CrewMember.objects.select_for_update().filter(department=department)}
    same = roster.get(name_key(name))
    if same is not None and (member is None or same.pk != member.pk):
        raise Conflict(f"{same.name} is on the roster.", where="name", mend="Change that entry, or tell the two apart.")
    held = next((m for m in roster.values() if member is not None and m.pk == member.pk), None)
    held = held or CrewMember(department=department)
    now = {"name": name, "role": role[:40], "line": line, "user": user, "qualified_on": qualified_on,
           "qualified_until": qualified_until, "left_on": left_on}  # fmt: skip
    before = {} if held.pk is None else {field: getattr(held, field) for field in FIELDS}
    changed = {field: value for field, value in now.items() if held.pk is None or before[field] != value}
    if not changed:
        return held
    touched = {line.pk for line in (held.line, now["line"]) if line is not None}
    everywhere = now["line"] is None or (held.pk is not None and held.line is None)
    for field, value in now.items():
        setattr(held, field, value)
    _save(held)
    _note(department, by, held, before, changed)
    lines = list(department.lines.values_list("pk", flat=True)) if everywhere else sorted(touched)
    cache_changed.send(sender=CrewMember, department=department, item_ids=[], lot_ids=[], line_ids=lines)
    return held


def _save(member: CrewMember) -> None:
    try:
        member.full_clean()
    except ValidationError as wrong:
        where, said = next(iter(wrong.message_dict.items()))
        raise Conflict(said[0], where=where) from wrong
    member.save()


def _note(department: Department, by: User, member: CrewMember, before: Any, changed: dict[str, Any]) -> None:
    detail = {
        field: {"was": str(before[field]) if before.get(field) else "", "is": "" if value is None else str(value)}
        for field, value in changed.items()
    }
    did = "changed crew" if before else "added crew"
    AuditEntry.objects.create(department=department, by=by, did=did, subject=member.name, detail=detail)
