"""The demo's drill: a line of the invented district sent to its own yard, timed, tapped through and signed back."""

import uuid
from datetime import UTC, date, datetime, time, timedelta

from inspections.models import HandReceipt
from inspections.services.runs import hand_over, open_run, record_run_event
from inventory.models import Line
from shared.models import Department, User

DAYS_AGO = 45
STAMPS = (
    ("on scene", 6),
    ("doors open", 8),
    ("erected", 21),
    ("water flowing", 27),
    ("water warm", 33),
    ("packed", 140),
)
FIRST_MIN, TAKT_MIN, PEOPLE = 38.0, 2.4, 9


def load_runs(department: Department, by: User, today: date) -> None:
    """Load one past drill of Line C; what it used is long dry, so that it changes no rating."""
    line = Line.objects.get(department=department, name="Line C")
    ordered = datetime.combine(today - timedelta(days=DAYS_AGO), time(18), tzinfo=UTC)
    signed = {"department": department, "by": by, "by_name": by.signed_name}

    def at(minutes: float) -> datetime:
        return ordered + timedelta(minutes=minutes)

    def new(what: str) -> uuid.UUID:
        return uuid.uuid5(uuid.NAMESPACE_URL, f"demo {department.pk} {what}")

    run = open_run(
        line=line, sort="drill", title="Yard drill", site="Station 4 yard", happened_at=ordered, client_id=new("run"),
        **signed,
    )  # fmt: skip
    hand_over(
        run=run, way=HandReceipt.Way.SENT, accepted_by="Casey", happened_at=at(2), client_id=new("sent"), **signed
    )
    for event, minutes in STAMPS:
        record_run_event(run=run, event=event, happened_at=at(minutes), client_id=new(event), **signed)
    for number in range(PEOPLE):
        record_run_event(
            run=run, event="person", lane=1, walking=number % 4 != 3, happened_at=at(FIRST_MIN + TAKT_MIN * number),
            client_id=new(f"person {number}"), **signed,
        )  # fmt: skip
    back = {"way": HandReceipt.Way.RECEIVED, "handed_by": "Casey", "accepted_by": by.signed_name}
    hand_over(run=run, happened_at=at(150), client_id=new("received"), **back, **signed)
