"""News from the rooms on the left: facts moved, so the lines that hold them are marked and rated again."""

from collections.abc import Iterable

from django.dispatch import receiver
from django.utils import timezone

from inspections.signals import evidence_changed
from inventory.models import Line, Posting
from inventory.signals import cache_changed
from readiness import services
from shared.models import Department


@receiver(cache_changed)
@receiver(evidence_changed)
def facts_moved(
    sender: object,
    department: Department,
    item_ids: Iterable[int] = (),
    lot_ids: Iterable[int] = (),
    line_ids: Iterable[int] = (),
    **_: object,
) -> None:
    """Mark the lines concerned in the transaction that moved their facts; rate them as soon as it is committed.

    Should the process die in between, the mark stays and the scheduler rates them within a minute.
    """
    now = timezone.now()
    lines = lines_holding(department, item_ids=item_ids, lot_ids=lot_ids, line_ids=line_ids)
    if not lines:
        return
    services.mark_stale(lines=lines, at=now)
    services.rerate_on_commit(lines=lines, because="facts moved")


def lines_holding(
    department: Department,
    *,
    item_ids: Iterable[int] = (),
    lot_ids: Iterable[int] = (),
    line_ids: Iterable[int] = (),
) -> list[Line]:
    """Return every line that holds, or ever held, one of these items or lots, and the lines named."""
    touched = set(line_ids)
    touched |= set(
        Posting.objects.filter(department=department, item_id__in=list(item_ids), line__isnull=False).values_list(
            "line_id", flat=True
        )
    )
    touched |= set(
        Posting.objects.filter(department=department, lot_id__in=list(lot_ids), line__isnull=False).values_list(
            "line_id", flat=True
        )
    )
    return list(Line.objects.filter(department=department, pk__in=touched).select_related("department").order_by("pk"))
