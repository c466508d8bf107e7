"""Tasks every deployment runs: the outbox and its sweep."""

from celery import shared_task
from django.utils import timezone

from shared import outbox


@shared_task
def run_outbox_row(row_id: int) -> str:
    """Do the job of one outbox row, if it is still there to be done."""
    return outbox.run(row_id=row_id, clock=timezone.now)


@shared_task
def sweep_outbox() -> int:
    """Send again what was lost on the way; return how many rows."""
    return outbox.sweep(at=timezone.now())
