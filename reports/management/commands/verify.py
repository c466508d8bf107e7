"""Run check values against the formulas: each case with what was expected, what came back and where it comes from."""

import shutil
import sys
import textwrap
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from reports import verification
from reports.check_values import own_cases, read_file
from shared.verification.cases import CasesError, CheckValue, read_cases
from shared.verification.run import Result, run
from shared.verification.words import share, written

UNREADABLE: Final = 2
NARROWEST: Final = 100
# Heading and share of the width of each column.
COLUMNS: Final = (("case", 0.07), ("kind", 0.13), ("expected", 0.2), ("got", 0.2), ("error", 0.16), ("source", 0.24))


class Command(BaseCommand):
    help = (
        "Run check values against the formulas and print each: expected, got, error, source. "
        "Exit code 1 where one fails, 2 for a file that cannot be read."
    )
    # The formulas need no database; only --keep does.
    requires_system_checks: Sequence[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--cases",
            action="append",
            metavar="FILE.csv",
            help="check values to run, - for what is piped in; may be given several times; the house's own if absent",
        )
        parser.add_argument("--json", action="store_true", help="print a JSON list and nothing else")
        parser.add_argument("--keep", action="store_true", help="keep the run, as the Verification page shows it")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["keep"] and options["cases"]:
            raise CommandError("--keep keeps a run of the house's own cases: leave out --cases.", returncode=UNREADABLE)
        try:
            cases = self._cases(options["cases"])
        except CasesError as error:
            raise CommandError(str(error), returncode=UNREADABLE) from None
        results = run(cases)
        if options["json"]:
            self.stdout.write(verification.as_text([verification.as_row(result) for result in results]))
        else:
            self._print(results)
        if options["keep"]:
            self._keep(results, quiet=options["json"])
        if failed := sum(not result.passed for result in results):
            raise CommandError(f"{failed} of {len(results)} cases fail.", returncode=1)

    def _cases(self, given: list[str] | None) -> list[CheckValue]:
        if not given:
            return own_cases()
        cases = [case for name in given for case in _read(name)]
        first: dict[str, str] = {}
        for case in cases:
            if first.setdefault(case.id, case.file) != case.file:
                self.stderr.write(f"Case {case.id!r} stands in {first[case.id]} and in {case.file}; both are run.")
        return cases

    def _keep(self, results: list[Result], *, quiet: bool) -> None:
        try:
            kept = verification.keep(results=results, at=timezone.now(), by=None)
        except DatabaseError as error:
            raise CommandError(
                f"The run was not kept: {error}. Run manage.py migrate first.", returncode=UNREADABLE
            ) from None
        if not quiet:
            self.stdout.write(f"Kept as run {kept.pk}.")

    def _print(self, results: list[Result]) -> None:
        width = max(NARROWEST, shutil.get_terminal_size((168, 24)).columns)
        widths = [int(width * share) - 2 for _, share in COLUMNS]
        for line in _row([name for name, _ in COLUMNS], widths):
            self.stdout.write(line)
        self.stdout.write("-" * width)
        for result in results:
            for line in _row(_cells(result), widths):
                self.stdout.write(line)
        self.stdout.write("")
        for line in _summary(results):
            self.stdout.write(line)


def _read(name: str) -> list[CheckValue]:
    if name == "-":
        return read_cases(sys.stdin.buffer.read(), "standard input")
    return read_file(Path(name))


def _cells(result: Result) -> list[str]:
    expected, got = written(result.expected), written(result.got, like=result.expected)
    error = f"FAILS: {result.error}" if result.error else share(result.relative_error)
    return [result.id, result.kind, expected, got, error, result.source]


def _row(cells: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    """Yield the lines of one row, each cell wrapped in its column."""
    wrapped = [textwrap.wrap(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
    for line in range(max(map(len, wrapped))):
        parts = [(c[line] if line < len(c) else "").ljust(w) for c, w in zip(wrapped, widths, strict=True)]
        yield "  ".join(parts).rstrip()


def _summary(results: Sequence[Result]) -> Iterator[str]:
    areas = {area: [result for result in results if result.area == area] for area in {r.area for r in results}}
    for area, found in [*sorted(areas.items()), ("all", list(results))]:
        failed = sum(not result.passed for result in found)
        said = f", {failed} FAIL" if failed else ""
        yield f"{area or 'no area':<24} {len(found) - failed:>4} of {len(found):>4} pass{said}"
