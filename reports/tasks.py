"""Documents are made by the outbox, so that one asked for is made even if a worker dies over it."""

from collections.abc import Callable
from typing import Any

from reports import services
from shared import outbox
from shared.models import OutboxRow


@outbox.job(services.MAKE)
def make_document(row: OutboxRow, report: Callable[[int, str], None]) -> dict[str, Any]:
    """Make the document that a row asks for."""
    return services.make_document(row=row, report=report)
