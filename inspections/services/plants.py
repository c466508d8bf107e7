"""Hidden test faults: planting one, what the checks make of it, showing it to who must know, taking it away."""

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from inspections.models import Plant, PlantEvent
from inspections.planting import LONG_SECRET_H, may_be_planted, why_not
from inspections.queries.plants import PlantState, aboard, live_rows, plants
from inspections.queries.runs import runs_out
from inspections.signals import evidence_changed
from inventory.models import Item, Line
from inventory.queries import standing_of_items
from shared.api import Conflict, same_or_refuse
from shared.models import Department, Membership, User
from shared.notices import ALERT, tell

Event = PlantEvent.Event


class PlantsAboard(Conflict):
    """A line is to leave with hidden test faults that whoever sends it has not been shown."""

    def __init__(self, states: Sequence[PlantState]) -> None:
        told = "; ".join(f"{s.plant.item.tag}: {s.plant.what}" for s in states)
        super().__init__(
            f"Test faults are planted aboard: {told}. Those items count nothing.",
            where="plants_known",
            mend="Take them off or mend them first, or send it knowing of them with plants_known.",
        )
        self.states = list(states)


@transaction.atomic
def plant_fault(
    *,
    department: Department,
    item: Item,
    check_key: str,
    mode_code: str,
    what: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
) -> Plant:
    """Seal a hidden test fault on an item: from now on it counts zero, and nobody is told which.

    ``check_key`` is the check that should find it, and must see ``mode_code`` on this kind; ``what`` says exactly what
    was hidden or changed, so that it can be taken away.

    Raises:
        Conflict: it may not be planted there, the item is not in service, out on a run, or has one already.
    """
    if item.department_id != department.pk:
        raise Conflict("That item belongs to another department.")
    if not (what := " ".join(what.split())[:300]):
        raise Conflict("Say exactly what was hidden or changed.", where="what")
    Item.objects.select_for_update().get(pk=item.pk)
    said = {"item": item, "mode_code": mode_code, "check_key": check_key, "what": what}
    sent = Plant.objects.filter(department=department, client_id=client_id).first()
    if sent is not None:
        same_or_refuse(sent, said)
        return sent
    _may_be_planted(item, check_key, mode_code)
    row = Plant.objects.create(
        department=department, client_id=client_id, happened_at=happened_at, by=by, by_name=by_name, **said
    )
    _announce(row)
    return row


def _may_be_planted(item: Item, check_key: str, mode_code: str) -> None:
    if why := why_not(item.kind.key, mode_code):
        raise Conflict(f"No test fault on {item.tag}: {why}.", where="mode_code")
    if (check_key, mode_code) not in may_be_planted(item.kind.key, item.kind.checks):
        raise Conflict(f"{check_key} does not see {mode_code} on {item.tag}.", where="check_key")
    now = timezone.now()
    held = standing_of_items([item], now, now).get(item.pk)
    if held is None or held.state != "in service":
        raise Conflict(f"{item.tag} is {held.state if held else 'not there'}; a test fault is planted on what counts.")
    if held.line and held.line.pk in runs_out(item.department, now, now):
        raise Conflict(f"{held.line} is out; nothing is planted on a line in use.")
    if live_rows(item.department, now, now).filter(item=item).exists():
        raise Conflict(f"{item.tag} bears a test fault already.")


@transaction.atomic
def remove_plant(
    *, plant: Plant, happened_at: datetime, by: User | None = None, by_name: str, client_id: uuid.UUID, note: str = ""
) -> PlantEvent:
    """Record, under a name, that a test fault was taken away; the item counts again when the same check passes.

    Raises:
        Conflict: it was taken away already.
    """
    Plant.objects.select_for_update().get(pk=plant.pk)
    sent = PlantEvent.objects.filter(department=plant.department, client_id=client_id).first()
    if sent is not None:
        same_or_refuse(sent, {"plant": plant, "event": Event.REMOVED})
        return sent
    if plant.events.filter(event=Event.REMOVED, corrections=None).exists():
        raise Conflict("It is recorded as removed already.")
    row = PlantEvent.objects.create(
        department=plant.department, plant=plant, event=Event.REMOVED, note=note.strip()[:240], client_id=client_id,
        happened_at=happened_at, by=by, by_name=by_name,
    )  # fmt: skip
    _announce(plant)
    return row


# Who must know -------------------------------------------------------------------------------------------------------


def may_leave(*, line: Line, at: datetime, by: User | None, by_name: str, known: bool) -> None:
    """Let a line leave only if whoever sends it has been shown the test faults aboard.

    Raises:
        PlantsAboard: there are some, and the sender has not said that they are known.
    """
    now = timezone.now()
    states = aboard(line, at, now)
    if not states or (known and by is not None and all(_knows(state, by) for state in states)):
        return
    raise PlantsAboard(states)


def _knows(state: PlantState, user: User) -> bool:
    return state.plant.by_id == user.pk or state.shown_to(user)


@transaction.atomic
def show_plants(*, states: Sequence[PlantState], to: User, at: datetime, note: str) -> list[PlantEvent]:
    """Record that somebody was shown test faults; again changes nothing."""
    rows = []
    for state in states:
        client_id = uuid.uuid5(state.plant.client_id, f"shown {to.pk} {note}")
        row, _ = PlantEvent.objects.get_or_create(
            department=state.plant.department, client_id=client_id,
            defaults={
                "plant": state.plant, "event": Event.SHOWN, "note": note[:240], "happened_at": at, "by": to,
                "by_name": to.signed_name,
            },
        )  # fmt: skip
        rows.append(row)
    return rows


def show_at_send(*, line: Line, states: Sequence[PlantState], sender: User, at: datetime) -> None:
    """Show the test faults aboard to whoever sends a line, and to the heads of the department."""
    show_plants(states=states, to=sender, at=at, note=f"at the sending of {line}")
    for head in heads_of(line.department):
        _tell(
            head,
            states,
            at,
            note=f"at the sending of {line}",
            subject=f"Test faults aboard {line}, which is being sent",
        )


@transaction.atomic
def show_long_hidden(*, department: Department, at: datetime) -> int:
    """Show the heads every test fault that has stood for a day, each once; return how many were shown."""
    before = at - timedelta(hours=LONG_SECRET_H)
    rows = live_rows(department, at, timezone.now()).filter(happened_at__lte=before).values_list("pk", flat=True)
    old = plants(department, at, timezone.now(), pk__in=list(rows))
    for head in heads_of(department):
        unseen = [state for state in old if not state.shown_to(head)]
        if unseen:
            _tell(head, unseen, at, note="after a day", subject="Test faults that have stood for a day")
    return len(old)


def _tell(head: User, states: Sequence[PlantState], at: datetime, *, note: str, subject: str) -> None:
    show_plants(states=states, to=head, at=at, note=note)
    told = "\n".join(f"{s.plant.item.tag}: {s.plant.what} (planted by {s.plant.by_name})" for s in states)
    ids = " ".join(str(s.plant.pk) for s in states)
    body = f"{told}\n\nThey count nothing until the fault is removed by name and the same check passes."
    tell(department=states[0].plant.department, user=head, key=f"plants {ids} {note}"[:160], sort=ALERT,
         subject=subject, body=body)  # fmt: skip


def heads_of(department: Department) -> list[User]:
    """Return the heads of a department whose membership is in force."""
    current = Membership.objects.current(timezone.localdate()).filter(department=department, role=Membership.Role.HEAD)
    return [membership.user for membership in current.select_related("user").order_by("pk")]


def _announce(row: Plant) -> None:
    evidence_changed.send(sender=Plant, department=row.department, item_ids=[row.item_id], line_ids=[])
