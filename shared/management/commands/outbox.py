"""Show how the outbox stands; with --stale-after, fail where work has waited too long."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db.models import Count
from django.utils import timezone

from shared.models import OutboxRow


class Command(BaseCommand):
    help = "Count the outbox rows by state; exit 1 where one has been due for longer than --stale-after seconds."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--stale-after", type=float, metavar="SECONDS")

    def handle(self, *args: Any, **options: Any) -> None:
        counts = dict(OutboxRow.objects.values_list("state").annotate(Count("pk")))
        for state, label in OutboxRow.State.choices:
            self.stdout.write(f"{label:<12}{counts.get(state, 0):>8}")
        if options["stale_after"] is not None:
            due_by = timezone.now() - timedelta(seconds=options["stale_after"])
            late = OutboxRow.objects.filter(state=OutboxRow.State.QUEUED, not_before__lt=due_by).order_by("not_before")
            if oldest := late.first():
                raise CommandError(f"{late.count()} waiting too long; the oldest since {oldest.not_before:%F %T} UTC.")
