"""A deployment of its own for a test: its folder, its database, its broker, and its processes."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from shared.processes import dies_with_parent, end_group
from tests.servers import wait_for

ROOT = Path(__file__).resolve().parents[2]
LEASE_S = 3
WORKER = ["-m", "celery", "--app", "readiness", "worker", "--beat", "--pool", "solo", "--loglevel", "info"]
WORKER += ["--without-gossip", "--without-mingle"]

ENQUEUE = """
import json, sys, django
django.setup()
import tests.services.jobs
from django.db import transaction
from shared import outbox
for number in range(int(sys.argv[2])):
    with transaction.atomic():
        row = outbox.enqueue(task="tests.slow", payload=json.loads(sys.argv[1]), department=None)
    print(row.pk)
"""
ROWS = """
import json, sys, django
django.setup()
from shared.models import Department, OutboxRow
fields = ["pk", "key", "state", "attempts", "progress", "result", "error"]
rows = [dict(row, key=str(row["key"])) for row in OutboxRow.objects.order_by("pk").values(*fields)]
print(json.dumps({"rows": rows, "made": Department.objects.filter(slug__startswith="made-by-").count()}))
"""


@dataclass
class Deployment:
    """Settings by environment, as any deployment has them; nothing is shared with the suite's own database."""

    folder: Path
    environ: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
        self.environ = {
            **kept,
            "PYTHONPATH": str(ROOT),
            "DJANGO_SETTINGS_MODULE": "tests.services.settings",
            "HOLDAIR_VAR": str(self.folder / "var"),
            "HOLDAIR_SECRET_KEY": "only-for-the-test-suite",
            "HOLDAIR_OUTBOX_LEASE_SECONDS": str(LEASE_S),
            "HOLDAIR_SWEEP_SECONDS": "1",
            **self.environ,
        }

    def python(self, *arguments: str) -> str:
        """Run Python in this deployment and return what it printed."""
        done = subprocess.run(
            [sys.executable, *arguments], env=self.environ, cwd=ROOT, capture_output=True, text=True, timeout=120
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def migrate(self) -> None:
        self.python("manage.py", "migrate", "--verbosity", "0")

    def enqueue(self, *, steps: int, count: int = 1) -> list[int]:
        """Queue slow jobs of ``steps`` tenths of a second in a process of its own; return the rows' ids."""
        payload = json.dumps({"began": str(self.began_file), "steps": steps})
        return [int(line) for line in self.python("-c", ENQUEUE, payload, str(count)).split()]

    def look(self) -> dict[str, Any]:
        """Return every outbox row, and how many departments the jobs made."""
        return json.loads(self.python("-c", ROWS))

    @property
    def began_file(self) -> Path:
        return self.folder / "began"

    @property
    def began(self) -> list[str]:
        return self.began_file.read_text().splitlines() if self.began_file.exists() else []

    @contextmanager
    def process(self, *arguments: str, log: str) -> Iterator[subprocess.Popen]:
        """Run Python in the background for the length of the block; its whole process group ends with the block."""
        with (self.folder / log).open("a") as out:
            running = subprocess.Popen(
                [sys.executable, *arguments],
                env=self.environ,
                cwd=ROOT,
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                preexec_fn=dies_with_parent(signal.SIGKILL),
            )
        try:
            yield running
        finally:
            end_group(running, signal.SIGKILL)
            running.wait(timeout=20)

    def worker(self):
        """Run a real worker with its scheduler."""
        return self.process(*WORKER, "--schedule", str(self.folder / "beat-schedule"), log="worker.log")

    def wait_until_done(self, count: int, *, within_s: float) -> dict[str, Any]:
        """Return the rows once ``count`` of them are done."""

        def seen() -> dict[str, Any] | None:
            now = self.look()
            return now if sum(row["state"] == "done" for row in now["rows"]) == count else None

        try:
            return wait_for(seen, within_s=within_s, what=f"{count} rows done")
        except TimeoutError:
            log = self.folder / "worker.log"
            raise AssertionError(f"{self.look()}\n{log.read_text() if log.exists() else ''}") from None


def kill_outright(process: subprocess.Popen) -> None:
    """kill -9 a process and its helpers, as a power cut or the kernel would."""
    end_group(process, signal.SIGKILL)
    process.wait(timeout=20)
