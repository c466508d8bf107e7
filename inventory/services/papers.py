"""Certificates, manuals, invoices and plate photos of an item, or a manual that serves a whole kind."""

import uuid
from datetime import date, datetime

from django.db import transaction

from inventory.models import Item, ItemFile, ItemKind
from shared.api import Conflict, same_or_refuse
from shared.files import keep_file
from shared.models import Department, User


@transaction.atomic
def add_paper(
    *,
    department: Department,
    content: bytes,
    name: str,
    sort: str,
    happened_at: datetime,
    by: User,
    by_name: str,
    client_id: uuid.UUID,
    item: Item | None = None,
    kind: ItemKind | None = None,
    valid_until: date | None = None,
    note: str = "",
) -> ItemFile:
    """Keep a paper of one item or of a whole kind; the same client_id twice keeps one. A newer one stands before it.

    Raises:
        Conflict: no item and no kind, another department's, or neither photo nor PDF.
        AlreadySent: the client_id belongs to another paper.
    """
    of = item or kind
    if of is None or (item is not None and kind is not None) or of.department_id != department.pk:
        raise Conflict("Name one item or one kind of the department.")
    if sort not in ItemFile.Sort.values:
        raise Conflict("There is no such sort of paper.", where="sort", mend="Choose one of the list.")
    file = keep_file(department=department, content=content, name=name, by=by, client_id=client_id)
    said = {"item": item, "kind": kind, "file": file, "sort": sort, "valid_until": valid_until, "note": note[:240]}
    row, made = ItemFile.objects.get_or_create(
        department=department,
        client_id=client_id,
        defaults=said | {"happened_at": happened_at, "by": by, "by_name": by_name},
    )
    if not made:
        same_or_refuse(row, said)
    return row
