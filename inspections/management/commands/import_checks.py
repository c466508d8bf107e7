"""``manage.py import_checks FILE --department NAME``: past readings, judged as live ones are."""

import json
from argparse import ArgumentParser
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspections.services import import_checks
from inventory.importing.sheets import Unreadable
from shared.models import Department, User


class Command(BaseCommand):
    """Reads a register of past checks of any shape; refuses row by row."""

    help = (
        "Take in past checks, repairs, uses and refills from a CSV or workbook. Twice changes nothing. Exit 0: the "
        "file was read, refusals or not. Exit 2: it could not be read, or an option is wrong."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file")
        parser.add_argument("--department", required=True, help="its name")
        parser.add_argument("--dry-run", action="store_true", help="read and judge, write nothing")
        parser.add_argument("--report", help="file to write the JSON report to")
        parser.add_argument("--by", default="", help="username of whoever takes it in")

    def handle(self, *args: object, **options: object) -> None:
        name = " ".join(str(options["department"]).split())
        department = Department.objects.filter(name__iexact=name).first()
        if department is None:
            raise CommandError(f"There is no department {name!r}. Take its cache in first.", returncode=2)
        by = User.objects.filter(username=options["by"]).first() if options["by"] else None
        if options["by"] and by is None:
            raise CommandError(f"There is nobody with the username {options['by']!r}.", returncode=2)
        try:
            report = import_checks(
                department=department,
                path=options["file"],
                by=by,
                at=timezone.now(),
                dry_run=bool(options["dry_run"]),
            )
        except Unreadable as problem:
            raise CommandError(f"{problem} Nothing was changed.", returncode=2) from problem
        said = report.as_json()
        self._tell(said, bool(options["dry_run"]))
        if options["report"]:
            _write(Path(str(options["report"])), said)

    def _tell(self, said: dict, dry_run: bool) -> None:
        verdicts = ", ".join(f"{count} {verdict}" for verdict, count in said["verdicts"].items())
        self.stdout.write(f"{'Would take' if dry_run else 'Took'} {said['taken']} rows: {verdicts}.")
        self.stdout.write(f"{said['already_taken']} were on record already.")
        for word in ("refused", "findings"):
            for notice in said[word][:20]:
                row, column = f" row {notice['row']}" if notice["row"] else "", notice["column"]
                where = f"{notice['sheet']}{row}{f', {column}' if column else ''}"
                self.stdout.write(f"  {word}: {where}: {notice['problem']}. {notice['mend']}")
            if len(said[word]) > 20:
                self.stdout.write(f"  … {len(said[word]) - 20} more {word}; --report writes them all.")
        self._name(said)

    def _name(self, said: dict) -> None:
        """Name every failure, void and stretch in doubt: these are what the past has to say."""
        for word, title in (("failures", "Failures"), ("voids", "Voids")):
            self.stdout.write(f"{title}: {len(said[word])}.")
            for one in said[word]:
                self.stdout.write(f"  {one['on']} {one['tag']}, {one['check']}, {one['by']}: {one['why']}")
        self.stdout.write(f"Stretches in doubt: {len(said['in_doubt'])}.")
        for one in said["in_doubt"]:
            since = f"from {one['since']}" if one["since"] else "from before any proof"
            right = f"put right {one['put_right']}" if one["put_right"] else "not put right"
            where = f"row {one['row']} of {one['sheet']}"
            self.stdout.write(f"  {one['tag']}, {one['mode']}: {since} to {one['until']} ({where}), {right}")


def _write(path: Path, said: Mapping[str, Any]) -> None:
    try:
        path.write_text(json.dumps(said, indent=1, ensure_ascii=False) + "\n", "utf-8")
    except OSError as error:
        raise CommandError(
            f"The report cannot be written to {path} ({error.strerror}); the import itself is done as reported here. "
            "Name a folder that exists and run it again.",
            returncode=2,
        ) from error
