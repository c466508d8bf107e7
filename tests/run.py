"""Run the whole suite: everything on SQLite, then what touches the database again on a real PostgreSQL.

`python -m tests.run [pytest arguments]`; the arguments go to both passes. Each pass ends with pytest's own closing
line, and the exit code is not zero when either failed.
"""

import os
import signal
import subprocess
import sys

from tests.servers import postgres_cluster

NO_TESTS = 5  # pytest's exit code when nothing was selected: right for a narrowed run, wrong for the whole


def run_pytest(title: str, arguments: list[str], **environ: str) -> int:
    print(f"\n== {title}", flush=True)
    command = [sys.executable, "-m", "pytest", *arguments]
    return subprocess.run(command, env={**os.environ, **environ}, stdin=subprocess.DEVNULL).returncode


def main(arguments: list[str]) -> int:
    # So that what was started is stopped on SIGTERM as well, as it is on Ctrl-C and on a failure.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    # A database of the developer's own must not become the suite's.
    for name in ("DATABASE_URL", "CELERY_BROKER_URL", "HOLDAIR_VAR"):
        os.environ.pop(name, None)
    on_sqlite = run_pytest("Everything: SQLite, Redis, worker processes, Chromium", arguments)
    with postgres_cluster() as url:
        again = ["-m", "database and not browser and not services", *arguments]
        on_postgres = run_pytest("The database tests again: PostgreSQL", again, DATABASE_URL=url)
    allowed = {0, NO_TESTS} if arguments else {0}
    return int(not {on_sqlite, on_postgres} <= allowed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
