"""Registers too large for a request are read and taken in by the outbox."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from inventory.services import import_cache
from inventory.services.import_drafts import do_work
from shared import outbox
from shared.models import OutboxRow

READ_REGISTER = "inventory.read_register"


@outbox.job(READ_REGISTER)
def read_register(row: OutboxRow, report: Callable[[int, str], None]) -> dict[str, Any]:
    """Read a register of the cache, or take it in."""
    return do_work(row=row, report=report, importer=import_cache, at=timezone.now())
