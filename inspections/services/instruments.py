"""A meter held against a reference: what it was off by, whether that is accepted, and until when."""

import uuid
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from inspections.models import Calibration
from inspections.queries.instruments import QUANTITIES
from inspections.services.record import announce, signature
from inventory.models import Item
from shared.api import Conflict, same_or_refuse
from shared.files import keep_file
from shared.models import Department, User


@transaction.atomic
def record_calibration(
    *,
    department: Department,
    item: Item,
    quantity: str,
    reference: str,
    accepted: bool,
    due_on: date,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    error: float | None = None,
    unit: str = "",
    content: bytes | None = None,
    file_name: str = "",
    corrects: Calibration | None = None,
) -> Calibration:
    """Record that a meter was held against a reference; the same client_id twice records once.

    ``error`` is the reading less the reference as it was found, in ``unit``. It is stated beside what the meter reads
    and never taken off: a correction that nobody at the bay can redo is worse than a number that says what it is.

    Raises:
        Conflict: another department's item, no such quantity, no reference named, or a due day that does not lie ahead.
        AlreadySent: the client_id belongs to another calibration.
    """
    if item.department_id != department.pk:
        raise Conflict("That belongs to another department.")
    if quantity not in QUANTITIES:
        raise Conflict(
            f"{quantity!r} is no quantity of a meter.", where="quantity", mend=f"Use {', '.join(QUANTITIES)}."
        )
    if not reference.strip():
        raise Conflict("Say what it was held against.", where="reference", mend="Name the reference and its own paper.")
    if due_on <= happened_at.date():
        raise Conflict("It is due again on a later day than it was done.", where="due_on", mend="Give the later day.")
    if corrects is not None and (corrects.item_id, corrects.quantity) != (item.pk, quantity):
        raise Conflict("A correction is of the same meter and quantity as the record it corrects.")
    file = None
    if content is not None:
        name = file_name or "certificate"
        file = keep_file(
            department=department, content=content, name=name, by=by, client_id=uuid.uuid5(client_id, "certificate")
        )
    said = {
        "item": item,
        "quantity": quantity,
        "reference": reference.strip()[:120],
        "error": error,
        "unit": unit.strip()[:12],
        "accepted": accepted,
        "due_on": due_on,
        "file": file,
        "corrects": corrects,
    }
    row, created = Calibration.objects.get_or_create(
        department=department,
        client_id=client_id,
        defaults=said
        | {"happened_at": happened_at, "recorded_at": timezone.now(), "by": by, "by_name": signature(by_name)},
    )
    if not created:
        same_or_refuse(row, said)
    else:
        announce(department, {item.pk})
    return row
