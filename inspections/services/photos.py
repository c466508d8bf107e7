"""Photos of a check, a fault or an item as it stood."""

import uuid
from datetime import datetime

from django.db import transaction

from inspections.models import Deficiency, Inspection, Photo
from inspections.services.record import signature
from inventory.models import Item
from shared.api import Conflict, same_or_refuse
from shared.files import keep_file
from shared.models import Department, User


@transaction.atomic
def add_photo(
    *,
    department: Department,
    content: bytes,
    name: str,
    by: User | None = None,
    by_name: str,
    happened_at: datetime,
    client_id: uuid.UUID,
    inspection: Inspection | None = None,
    deficiency: Deficiency | None = None,
    item: Item | None = None,
    note: str = "",
) -> Photo:
    """Keep a photo of one check, fault or item; the same client_id twice keeps one. It proves nothing by itself.

    Raises:
        Conflict: it names none or several of them, or another department's; the content is no photo and no PDF.
        AlreadySent: the id belongs to another photo.
    """
    of = {"inspection": inspection, "deficiency": deficiency, "item": item}
    named = [thing for thing in of.values() if thing is not None]
    if len(named) != 1:
        raise Conflict("A photo is of one check, one fault or one item.")
    if named[0].department_id != department.pk:
        raise Conflict("That belongs to another department.")
    # The file's id follows from the photo's: sent twice, the same content is found under it, and other content refused.
    file = keep_file(department=department, content=content, name=name, by=by, client_id=uuid.uuid5(client_id, "file"))
    signed = {"by": by, "by_name": signature(by_name), "happened_at": happened_at}
    row, created = Photo.objects.get_or_create(
        department=department, client_id=client_id, defaults={**of, "file": file, "note": note.strip()[:200], **signed}
    )
    if not created:
        same_or_refuse(row, of | {"file": file})
    return row
