"""Tasks every deployment runs: the outbox and its sweep, mail, the seals of records."""

from collections.abc import Callable
from typing import Any

from celery import shared_task
from django.utils import timezone

from shared import chain, notices, outbox
from shared.models import Department, OutboxRow


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


@outbox.job(notices.MAIL)
def mail_notice(row: OutboxRow, report: Callable[[int, str], None]) -> dict[str, Any]:
    """Mail the notice that a row names."""
    return {"sent": notices.deliver(notice_id=row.payload["notice"], clock=timezone.now)}


@shared_task
def retry_mail() -> int:
    """Ask again for mail that was given up while the mail server was away; return how many."""
    return notices.retry_unsent(at=timezone.now())
