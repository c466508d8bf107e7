"""The record that a file was taken in."""

import hashlib
from datetime import datetime
from pathlib import Path

from inventory.importing.report import ImportReport
from inventory.models import ImportRun
from shared.models import Department, User


def keep_run(
    *, department: Department, sort: str, path: Path, by: User | None, at: datetime, report: ImportReport
) -> ImportRun:
    """Record an import (sort: cache or checks); the same file again with nothing new in it leaves no second record."""
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    runs = ImportRun.objects.filter(department=department, sort=sort, digest=digest)
    if report.taken == 0 and (before := runs.order_by("-at").first()):
        return before
    return ImportRun.objects.create(
        department=department,
        sort=sort,
        file_name=path.name[:200],
        digest=digest,
        at=at,
        by=by,
        report=report.as_json(),
    )
