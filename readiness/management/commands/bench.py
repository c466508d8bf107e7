"""``manage.py bench``: how quick a rating and a page are, as ratios taken in one run.

Absolute times depend on the machine; each figure is therefore given against a plain yardstick measured in the same
process, turn by turn. Everything happens in a scratch folder with a database of its own.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection

SCRATCH = "HOLDAIR_BENCH_SCRATCH"


class Command(BaseCommand):
    help = (
        "Print ratios: the formulas against bare NumPy, rating many lines against reading their rows bare, Tonight "
        "against a minimal page."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--lines", type=int, default=1000, help="lines to rate (1000)")
        parser.add_argument("--rounds", type=int, default=5, help="turns of each measurement (5)")

    def handle(self, *args: Any, **options: Any) -> None:
        if os.environ.get(SCRATCH) != str(settings.VAR_DIR):
            self._again_in_scratch()
            return
        call_command("migrate", verbosity=0)
        self._formulas(options["rounds"])
        self._rating(options["lines"], options["rounds"])
        self._page(options["rounds"])

    def _again_in_scratch(self) -> None:
        """Run this same command in a process whose database, files and keys are in a folder that goes away."""
        with tempfile.TemporaryDirectory(prefix="holdair-bench-") as folder:
            scratch = {"HOLDAIR_VAR": folder, SCRATCH: folder}
            env = {k: v for k, v in os.environ.items() if k != "DATABASE_URL"} | scratch
            subprocess.run([sys.executable, *sys.argv], env=env, check=True)

    def _formulas(self, rounds: int) -> None:
        from readiness.bench_formulas import ELEMENTS, MOST, pairs

        self.stdout.write(f"Formulas of a rating / bare NumPy with the same checks, {ELEMENTS:,} elements:")
        for pair in pairs():
            turns = [(_seconds(pair.ours, 25), _seconds(pair.bare, 25)) for _ in range(rounds)]
            ratio = statistics.median(ours / bare for ours, bare in turns)
            over = f", above {MOST}" if ratio > MOST else ""
            self.stdout.write(f"  {pair.name}: {ratio:.2f}{over}")

    def _rating(self, count: int, rounds: int) -> None:
        from readiness.benching import bare_read, build_many_lines, rate_all, share_of_formulas

        self.stdout.write(f"Building {count} lines…")
        department, rows = build_many_lines(count)
        self.stdout.write(f"{rows:,} rows in the tables that a rating reads, {rows / count:.0f} a line.")
        bare = _seconds(bare_read, rounds)
        ours = _seconds(lambda: rate_all(department), max(1, rounds // 3))
        gathered = _seconds(lambda: rate_all(department, score=False), max(1, rounds // 3))
        self.stdout.write(f"score and limits of {count} lines / bare read of the same rows: {ours / bare:.1f}")
        self.stdout.write(f"  of which gathering the facts: {gathered / bare:.1f}")
        self.stdout.write(f"  one rating's time inside the formulas, by profile: {share_of_formulas(department):.0%}")
        self.stdout.write(f"  one line, facts in hand: {(ours - gathered) / count * 1000:.2f} ms of CPU")

    def _page(self, rounds: int) -> None:
        from readiness.benching import minimal_page, tonight_page

        tonight, minimal = tonight_page(), minimal_page()
        pairs = [(_seconds(tonight, 3), _seconds(minimal, 3)) for _ in range(rounds)]
        ratio = statistics.median(a / b for a, b in pairs)
        self.stdout.write(f"Tonight / minimal database-backed page: {ratio:.1f} ({connection.vendor})")


def _seconds(act: Callable[[], object], rounds: int) -> float:
    """Return the median CPU seconds of this process over some turns, after one that is not counted."""
    act()
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        act()
        taken.append(time.process_time() - start)
    return statistics.median(taken)
