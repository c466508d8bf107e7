"""Scheduled work of the rating."""

from celery import shared_task
from django.utils import timezone

from readiness import services


@shared_task
def rerate_due() -> int:
    """Rate again each line whose facts moved or whose own instant has passed; return how many."""
    return services.rerate_due(at=timezone.now())
