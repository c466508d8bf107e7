"""Tasks every deployment runs: the outbox and its sweep."""

from celery import shared_task
from django.utils import timezone

from shared import chain, outbox
from shared.models import Department


@shared_task
def run_outbox_row(row_id: int) -> str:
    """Do the job of one outbox row, if it is still there to be done."""
    return outbox.run(row_id=row_id, clock=timezone.now)


@shared_task
def sweep_outbox() -> int:
    """Send again what was lost on the way; return how many rows."""
    return outbox.sweep(at=timezone.now())


@shared_task
def seal_records() -> int:
    """Seal signed records that a dead process left unsealed; return how many."""
    return sum(chain.seal_new(department=department) for department in Department.objects.order_by("pk"))
