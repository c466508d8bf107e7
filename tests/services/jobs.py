"""Jobs for the tests of real workers, loaded by tests/services/settings.py and nowhere else."""

import time
from pathlib import Path

from shared import outbox
from shared.models import Department


@outbox.job("tests.slow")
def slow(row, report):
    """Say that it began, take its time, then do what must be done once: make the department the row names."""
    with Path(row.payload["began"]).open("a") as began:
        began.write(f"attempt {row.attempts}\n")
    for step in range(row.payload["steps"]):
        report(100 * step // row.payload["steps"], f"step {step + 1}")
        time.sleep(0.1)
    _, made = Department.objects.get_or_create(slug=f"made-by-{row.key}", defaults={"name": f"Made by {row.key}"})
    return {"made": made}
