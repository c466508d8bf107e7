"""Documents and runs of the check values are made by the outbox, so that a dead worker costs no work."""

from collections.abc import Callable
from typing import Any

from celery import shared_task
from django.utils import timezone

from reports import mailings, services, verification
from shared import outbox
from shared.models import OutboxRow


@outbox.job(services.MAKE)
def make_document(row: OutboxRow, report: Callable[[int, str], None]) -> dict[str, Any]:
    """Make the document that a row asks for."""
    return services.make_document(row=row, report=report)


@outbox.job(verification.RUN)
def run_verification(row: OutboxRow, report: Callable[[int, str], None]) -> dict[str, Any]:
    """Run the house's check values, as a row asks for."""
    return verification.run_asked(row=row, report=report, at=timezone.now())


@shared_task
def verify_again() -> int:
    """Ask for a run of the check values; return the outbox row that will make it."""
    return verification.ask_verification(by=None).pk


@shared_task
def remind() -> int:
    """Tell people what newly falls due, and on Monday how the week stands; return how many were told."""
    return mailings.remind(at=timezone.now())
