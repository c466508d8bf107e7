"""Load lists given where a department has none, and changes to an item's card."""

import math
from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction

from inventory.models import Item, ItemKind, Line, LoadListRow
from inventory.services.catalogue import shipped_lists
from inventory.signals import cache_changed
from shared.api import Conflict
from shared.models import AuditEntry, Department, User

CARD_FIELDS = frozenset(
    {
        "name", "serial", "plate", "acquired_on", "acquired_month_only", "accepted_on", "acceptance_assumed",
        "manufactured_on", "unit_cost", "federal_share", "award", "funding_source", "title_holder", "use", "condition",
        "custodian", "spec", "note", "kind", "kind_sureness",
    }
)  # fmt: skip


@transaction.atomic
def standard_load_list(
    *,
    line: Line,
    lanes: int,
    on: date,
    kinds: Mapping[str, ItemKind],
    par: Mapping[str, int] | None = None,
    per_person: Mapping[str, float] | None = None,
) -> list[LoadListRow]:
    """Give a line without a load list the standard one for its lanes, marked assumed; return the rows made.

    One lane has its own list; more than two scale the two-lane list's rows that go by the lane. ``par`` and
    ``per_person`` are the register's own figures by kind and win over the standard list's.
    """
    if line.load_rows.exists():
        return []
    shipped = shipped_lists()["one_lane" if lanes == 1 else "two_lanes"]
    made = []
    for order, row in enumerate(shipped["rows"]):
        factor = lanes / shipped["lanes"] if row["scales"] == "lane" else 1
        by_person = row["scales"] == "person"
        needed = row["needed"] if by_person else math.ceil(row["needed"] * factor)
        if by_person and per_person and row["kind"] in per_person and needed:
            needed = per_person[row["kind"]]
        quantity = (par or {}).get(row["kind"], math.ceil(row["quantity"] * factor))
        made.append(
            LoadListRow(
                department_id=line.department_id,
                line=line,
                function=row["function"],
                kind=kinds[row["kind"]],
                quantity=quantity if by_person else max(quantity, math.ceil(needed)),
                needed=needed,
                scales=row["scales"],
                way=row["way"],
                assumed=True,
                order=order,
                effective_on=on,
            )
        )
    return LoadListRow.objects.bulk_create(made)


@transaction.atomic
def amend_item(*, department: Department, item: Item, by: User, changes: Mapping[str, Any]) -> Item:
    """Change what an item's card says (not where it is, how many or in which state) and keep who changed what.

    Raises:
        Conflict: a field that is derived from a ledger, or an item of another department.
        ValidationError: a value the card cannot hold, such as a serial another item has.
    """
    if item.department_id != department.pk:
        raise Conflict("That belongs to another department.")
    if unknown := set(changes) - CARD_FIELDS:
        raise Conflict(f"{', '.join(sorted(unknown))} cannot be changed on the card; record a posting, count or state.")
    for value in changes.values():
        if getattr(value, "department_id", department.pk) != department.pk:
            raise Conflict("That belongs to another department.")
    before = {name: getattr(item, name) for name in changes}
    for name, value in changes.items():
        setattr(item, name, value)
    item.full_clean(exclude={"spec"})  # an empty plate is no error
    item.save(update_fields=list(changes))
    detail = {name: {"was": str(before[name]), "is": str(changes[name])} for name in changes}
    AuditEntry.objects.create(department=department, by=by, did="amend item", subject=item.tag, detail=detail)
    cache_changed.send(sender=Item, department=department, item_ids=[item.pk], lot_ids=[], line_ids=[])
    return item
