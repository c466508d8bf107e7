"""``manage.py rate``: what one line can do, now or at a past instant."""

import json
from argparse import ArgumentParser
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from inventory.models import Line
from readiness import queries
from readiness.rating.as_json import as_json
from readiness.rating.mission import Mission, MissionError
from readiness.rating.rate import rate
from readiness.rating.words import summary_lines
from shared.models import Department


class Command(BaseCommand):
    help = "Rate a line: how many people an hour it could wash, for how long, how sure, and what stops it first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--line", required=True, help="the line's name")
        parser.add_argument("--department", help="its department, where two have a line of that name")
        parser.add_argument("--mission", help="JSON file of the mission asked; the line's rated mission if absent")
        parser.add_argument("--at", help="rate as of this instant (2026-11-20T18:00Z or a date); now if absent")
        parser.add_argument("--known-at", help="with what was known then; now if absent")
        parser.add_argument("--json", action="store_true", help="print the whole rating as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        line = self._line(options["line"], options["department"])
        zone = ZoneInfo(line.department.time_zone)
        now = timezone.now()
        at = _instant(options["at"], "--at", zone) or now
        known_at = _instant(options["known_at"], "--known-at", zone) or now
        facts = queries.gather(line, at, known_at)
        try:
            mission = _mission(options["mission"]) or Mission.from_json(dict(facts.rated_mission))
        except MissionError as error:
            raise CommandError(str(error)) from error
        rating = rate(facts, mission)
        if options["json"]:
            self.stdout.write(json.dumps(as_json(rating), indent=1, ensure_ascii=False))
        else:
            self.stdout.write("\n".join(summary_lines(rating)))

    def _line(self, name: str, department: str | None) -> Line:
        lines = Line.objects.filter(name__iexact=name).select_related("department")
        if department:
            if not Department.objects.filter(name__iexact=department).exists():
                known = ", ".join(Department.objects.values_list("name", flat=True)) or "none yet"
                raise CommandError(f"No department is called {department!r}. Departments: {known}.")
            lines = lines.filter(department__name__iexact=department)
        found = list(lines[:2])
        if len(found) == 1:
            return found[0]
        if found:
            raise CommandError(f"Two departments have a {name}; add --department NAME.")
        known = ", ".join(Line.objects.order_by("name").values_list("name", flat=True)[:20]) or "none yet"
        raise CommandError(f"No line is called {name!r}. Lines: {known}.")


def _instant(text: str | None, option: str, zone: ZoneInfo) -> datetime | None:
    if not text:
        return None
    try:
        # A bare day means the end of it: what that day's walk showed counts.
        day = parse_date(text)
        parsed = datetime.combine(day, time(23, 59, 59), tzinfo=zone) if day else parse_datetime(text)
    except ValueError:
        parsed = None
    if parsed is None:
        raise CommandError(f"{option} {text!r} is no instant; write 2026-11-20 or 2026-11-20T18:00Z.")
    return parsed if parsed.tzinfo else parsed.replace(tzinfo=UTC)


def _mission(path: str | None) -> Mission | None:
    if not path:
        return None
    try:
        body = json.loads(Path(path).read_text())
    except OSError as error:
        raise CommandError(f"--mission {path}: {error.strerror or error}.") from error
    except ValueError as error:
        raise CommandError(f"--mission {path} is not JSON: {error}.") from error
    if not isinstance(body, dict):
        raise CommandError(f"--mission {path} must hold one JSON object of mission keys.")
    return Mission.from_json(body)
