"""Write a PDF report to a file: the same bytes the page gives for the same instant."""

from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from inspections.models import Inspection, Walk
from inventory.models import Line, Place
from reports import services


class Command(BaseCommand):
    help = "Write the PDF of one inspection, walk or line, of the verification of formulas, or of a place's labels."

    def add_arguments(self, parser: ArgumentParser) -> None:
        about = parser.add_mutually_exclusive_group(required=True)
        about.add_argument("--inspection", metavar="ID", help="an inspection, by its number or its record id")
        about.add_argument("--walk", metavar="ID", help="a walk, by its number or its record id")
        about.add_argument("--line", metavar="NAME", help="a line, by its name")
        about.add_argument("--labels", metavar="PLACE", help="labels of what stands at a place, by its name")
        about.add_argument("--verification", action="store_true", help="the formulas and their check values")
        parser.add_argument("--department", metavar="NAME", help="needed where another department has the same name")
        parser.add_argument("--as-of", metavar="TIME", help="what was known then, ISO 8601 with offset; now if absent")
        parser.add_argument("--out", metavar="FILE.pdf", required=True, type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = read_instant(options["as_of"])
        content = services.verification_pdf(as_of=as_of) if options["verification"] else self._about(as_of, options)
        options["out"].write_bytes(content)
        self.stdout.write(f"{options['out']}: {len(content)} bytes, data as of {as_of.isoformat(timespec='seconds')}")

    def _about(self, as_of: datetime, options: dict[str, Any]) -> bytes:
        if options["labels"]:
            place = the_one(Place.objects.filter(name=options["labels"]), options, "place", options["labels"])
            return services.labels_pdf(place=place, as_of=as_of)
        if options["line"]:
            about = {"line": the_one(Line.objects.filter(name=options["line"]), options, "line", options["line"])}
        else:
            name, model = ("inspection", Inspection) if options["inspection"] else ("walk", Walk)
            about = {name: the_one(by_id(model, options[name]), options, name, options[name])}
        return services.pdf(as_of=as_of, **about)


def by_id(model: type[Inspection] | type[Walk], given: str) -> QuerySet:
    """Return the rows a number or a record id names."""
    if given.isdigit():
        return model.objects.filter(pk=int(given))
    try:
        return model.objects.filter(client_id=UUID(given))
    except ValueError:
        raise CommandError(f"{given!r} is neither a number nor a record id.") from None


def the_one(rows: QuerySet, options: dict[str, Any], what: str, given: str) -> Any:
    """Return the single row meant.

    Raises:
        CommandError: there is none, or several departments have one.
    """
    if options.get("department"):
        rows = rows.filter(department__name=options["department"])
    found = list(rows.select_related("department")[:2])
    if not found:
        raise CommandError(f"No {what} {given!r} here. Check the name, and --department.")
    if len(found) > 1:
        raise CommandError(f"Several departments have a {what} {given!r}; say which with --department.")
    return found[0]


def read_instant(given: str | None) -> datetime:
    """Return the instant given, now if none was.

    Raises:
        CommandError: it is no instant, or has no offset.
    """
    if not given:
        return timezone.now()
    try:
        at = parse_datetime(given)
    except ValueError:
        at = None
    if at is None or timezone.is_naive(at):
        raise CommandError(f"{given!r} is no instant; write it as 2026-11-20T18:00:00Z.")
    return at
