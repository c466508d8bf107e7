"""Write the equipment status export to a file: the same bytes the page streams for the same instant."""

import csv
import io
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from reports import services
from reports.management.commands.report import read_instant
from shared.models import Department


class Command(BaseCommand):
    help = "Write the equipment status of a department as CSV, with every field that 2 CFR 200.313(d)(1) asks for."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--department", metavar="NAME", required=True)
        parser.add_argument("--as-of", metavar="TIME", help="what was known then, ISO 8601 with offset; now if absent")
        parser.add_argument("--bom", action="store_true", help="begin with a byte order mark, for older spreadsheets")
        parser.add_argument("--out", metavar="FILE.csv", required=True, type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = read_instant(options["as_of"])
        department = Department.objects.filter(name=options["department"]).first()
        if department is None:
            names = ", ".join(Department.objects.values_list("name", flat=True)) or "none yet"
            raise CommandError(f"No department is called {options['department']!r}; there are: {names}.")
        content = services.status_export(department=department, as_of=as_of, bom=options["bom"])
        options["out"].write_bytes(content)
        rows = sum(1 for _ in csv.reader(io.StringIO(content.decode(), newline=""))) - 1
        self.stdout.write(f"{options['out']}: {rows} rows, data as of {as_of.isoformat(timespec='seconds')}")
