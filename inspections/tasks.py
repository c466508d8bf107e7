"""Scheduled work of the evidence."""

from celery import shared_task
from django.utils import timezone

from inspections.services.after_use import tell_of_wet
from inspections.services.plants import show_long_hidden
from shared.models import Department


@shared_task
def look_after_use() -> int:
    """Tell of what lies packed wet too long, and the heads of test faults a day old; return how many there are."""
    now = timezone.now()
    return sum(
        tell_of_wet(department=department, at=now) + show_long_hidden(department=department, at=now)
        for department in Department.objects.order_by("pk")
    )
