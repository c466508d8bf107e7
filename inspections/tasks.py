"""Scheduled work of the evidence."""

from collections.abc import Callable
from typing import Any

from celery import shared_task
from django.utils import timezone

from inspections.services.after_use import tell_of_wet
from inspections.services.plants import show_long_hidden
from inspections.services.register import import_checks
from inventory.services.import_drafts import do_work
from shared import outbox
from shared.models import Department, OutboxRow

READ_CHECKS = "inspections.read_checks"


@outbox.job(READ_CHECKS)
def read_checks(row: OutboxRow, report: Callable[[int, str], None]) -> dict[str, Any]:
    """Read a register of past checks, or take it in."""
    return do_work(row=row, report=report, importer=import_checks, at=timezone.now())


@shared_task
def look_after_use() -> int:
    """Tell of what lies packed wet too long, and the heads of test faults a day old; return how many there are."""
    now = timezone.now()
    return sum(
        tell_of_wet(department=department, at=now) + show_long_hidden(department=department, at=now)
        for department in Department.objects.order_by("pk")
    )
