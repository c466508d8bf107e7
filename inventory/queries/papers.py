"""Papers of an item: its own, and those of its kind."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from inventory.models import Item, ItemFile


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper: ``replaced`` where a newer one of its sort stands, ``lapsed`` where its last day is past."""

    row: ItemFile
    replaced: bool
    lapsed: bool

    @property
    def of_kind(self) -> bool:
        return self.row.item_id is None


def papers_of(item: Item, on: date) -> list[Paper]:
    """Return the papers of an item and of its kind, newest first."""
    rows = ItemFile.objects.filter(Q(item=item) | Q(kind=item.kind_id), department=item.department_id, corrections=None)
    seen: set[tuple[str, bool]] = set()
    found = []
    for row in rows.select_related("file").order_by("-happened_at", "-pk"):
        # Of "other" papers and invoices there may be several that all stand.
        key = (row.sort, row.item_id is None)
        many = row.sort in (ItemFile.Sort.OTHER, ItemFile.Sort.INVOICE)
        lapsed = row.valid_until is not None and row.valid_until < on
        found.append(Paper(row, key in seen and not many, lapsed))
        seen.add(key)
    return found


def manual_of(item: Item) -> ItemFile | None:
    """Return the maker's manual that stands for an item: its own before its kind's, the newest of either."""
    rows = ItemFile.objects.filter(
        Q(item=item) | Q(kind=item.kind_id),
        department=item.department_id,
        sort=ItemFile.Sort.MANUAL,
        corrections=None,
    )
    return max(rows, key=lambda r: (r.item_id is not None, r.happened_at, r.pk), default=None)
