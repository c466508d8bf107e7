"""``manage.py import_cache FILE --department NAME``: take a register into a department's cache."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from inventory.importing.report import ImportReport, Notice
from inventory.importing.sheets import Unreadable
from inventory.services import import_cache
from shared.models import Department, User

SHOWN = 12


class Command(BaseCommand):
    """Reads a workbook or text table of any shape; refuses row by row, never by halves."""

    help = (
        "Take a register (.xlsx or .csv, any headings) into a department's cache. The department is made where it is "
        "new. Exit 0: the file was read, refusals or not. Exit 2: it could not be read, or an option is wrong."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the register, .xlsx or .csv")
        parser.add_argument("--department", required=True, help="name of the department; made where it is new")
        parser.add_argument("--dry-run", action="store_true", help="report the same, change nothing")
        parser.add_argument("--report", metavar="FILE", help="write the report as JSON")
        parser.add_argument("--by", metavar="USERNAME", help="who imports it; must be able to sign in")

    def handle(self, *args: Any, **options: Any) -> None:
        by = self._person(options["by"])
        name = " ".join(options["department"].split())
        if not name:
            raise CommandError("--department is blank. Give the department's name.", returncode=2)
        try:
            with transaction.atomic():
                department = _department(name)
                report = import_cache(
                    department=department, path=options["file"], by=by, at=timezone.now(), dry_run=options["dry_run"]
                )
                if options["dry_run"]:
                    transaction.set_rollback(True)  # the department too, where it was made for this
        except Unreadable as error:
            raise CommandError(f"{error} Nothing was changed.", returncode=2) from error
        if options["report"]:
            _write(Path(options["report"]), report)
        self._summarise(report, name)

    def _person(self, username: str | None) -> User | None:
        if not username:
            return None
        person = User.objects.filter(username=username).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {username!r}. Leave --by out, or name a user.", returncode=2)
        return person

    def _summarise(self, report: ImportReport, name: str) -> None:
        counts, details = report.details["taken_by_sort"], report.details
        would = "Would take" if report.dry_run else "Took"
        self.stdout.write(
            f"{would} {report.taken} rows into {name}: {counts['items']} items, {counts['lots']} lots, "
            f"{counts['crew']} crew. Already held: {details['already_held']}. "
            f"Refused: {details['refused_rows']} rows. Findings: {len(report.findings)}."
        )
        for sheet in details["sheets"]:
            if sheet["sort"]:
                known = ", ".join(
                    f"{c['heading'] or c['column']} as {c['taken_as']} ({c['sureness']:.2f})"
                    for c in sheet["columns"]
                    if c["taken_as"]
                )
                self.stdout.write(f"  {sheet['sheet']}: {sheet['rows']} rows of {sheet['sort']}. {known}.")
        for line in details["lines"]:
            self.stdout.write(f"  {line['line']}: {line['items']} items, {line['lots']} lots.")
        self._list("Refused", report.refused)
        self._list("Look at", report.findings)
        if report.dry_run:
            self.stdout.write("Dry run: nothing was changed.")

    def _list(self, title: str, notices: list[Notice]) -> None:
        for notice in notices[:SHOWN]:
            where = f"{notice.sheet} row {notice.row}" if notice.row else notice.sheet
            column = f", {notice.column}" if notice.column else ""
            self.stdout.write(f"{title}: {where}{column}: {notice.problem}. To mend: {notice.mend}.")
        if len(notices) > SHOWN:
            self.stdout.write(f"{title}: {len(notices) - SHOWN} more; --report FILE writes all of them.")


def _department(name: str) -> Department:
    department = Department.objects.filter(name__iexact=name).first()
    if department is not None:
        return department
    base = slugify(name)[:70] or "department"
    slug, number = base, 1
    while Department.objects.filter(slug=slug).exists():
        number += 1
        slug = f"{base}-{number}"
    return Department.objects.create(name=name[:160], slug=slug)


def _write(path: Path, report: ImportReport) -> None:
    try:
        path.write_text(json.dumps(report.as_json(), indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    except OSError as error:
        raise CommandError(
            f"The report cannot be written to {path} ({error.strerror}); the import itself is done as reported here. "
            "Name a folder that exists and run it again.",
            returncode=2,
        ) from error
