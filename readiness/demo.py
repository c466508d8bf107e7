"""The demo: the invented Tarn Hollow Fire District, its register and two years of readings, dated as if written now.

The register and the first file of readings are the samples a new user imports by hand in the README; the second
file holds invented readings for checks that the first one lacks. All dates move by the same number of days, so that the
last walk is always yesterday's.
"""

import re
import tempfile
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from inspections.demo_meters import load_meters
from inspections.demo_runs import load_runs
from inspections.services import import_checks
from inventory.models import Line
from inventory.services import import_cache
from readiness import services
from readiness.rating.mission import Mission
from shared.models import Department, Membership, User

NAME = "Tarn Hollow Fire District"
LAST_READING = date(2026, 11, 18)  # newest date in the files
REGISTER = Path(settings.BASE_DIR) / "inventory/demo/tarn_hollow_cache.xlsx"
READINGS = (
    Path(settings.BASE_DIR) / "inspections/demo/tarn_hollow_checks.csv",
    Path(settings.BASE_DIR) / "inspections/demo/tarn_hollow_more.csv",
)
PASSWORD = "bay door 4 sticks"  # of a demo on one's own machine; `make run` prints it
PEOPLE = (
    ("quinn", "Quinn", Membership.Role.OFFICER),
    ("hollis", "Hollis", Membership.Role.HEAD),
    ("casey", "Casey", Membership.Role.CREW),
    ("avery", "Avery", Membership.Role.CREW),
    ("gray", "Gray", Membership.Role.GRANTS),
    ("visitor", "Visiting monitor", Membership.Role.VISITOR),
)
SIGN_INS = [(username, PASSWORD, role.label) for username, _, role in PEOPLE]
# What each line claims for itself, set by the head; the tanker is a stated part of a mission longer than the bladders.
MISSIONS = {
    "Line A": {"people_per_hour": 60, "hours": 3, "air_degF": 40, "supply_degF": 40, "tanker_at_min": 60},
    "Line B": {"people_per_hour": 60, "hours": 2, "air_degF": 40, "supply_degF": 40, "tanker_at_min": 60},
    "Line C": {"people_per_hour": 30, "hours": 2, "air_degF": 40, "supply_degF": 40, "tanker_at_min": 60},
}
_US_DATE = re.compile(r"\b(\d{1,2})/(\d{1,2})/(\d{4})\b")


def load_demo(*, today: date, name: str = NAME) -> Department:
    """Load the demo department with its dates moved to end yesterday, rate its lines and return it."""
    days = (today - LAST_READING).days - 1
    now = timezone.now()
    # Whole or not at all: a demo that was interrupted half-way would never be loaded again.
    with transaction.atomic():
        people = _people(name, today)
        department = people["quinn"].memberships.get().department
        import_cache(department=department, path=REGISTER, by=people["quinn"], at=now, days_later=days)
        for path in READINGS:
            with tempfile.TemporaryDirectory() as folder:
                moved = Path(folder) / path.name
                moved.write_text(move_dates(path.read_text(encoding="utf-8"), days), encoding="utf-8")
                import_checks(department=department, path=moved, by=people["quinn"], at=now)
        _missions(department, people["hollis"], today)
        load_meters(department, people["quinn"], today)
        load_runs(department, people["quinn"], today)
    lines = list(Line.objects.filter(department=department).select_related("department"))
    services.rerate_lines(lines=lines, at=timezone.now(), because="demo loaded")
    return department


def _people(name: str, today: date) -> dict[str, User]:
    department, _ = Department.objects.get_or_create(name=name, defaults={"slug": slugify(name)})
    prefix = "" if name == NAME else f"{department.slug}-"
    people = {}
    for username, shown, role in PEOPLE:
        user = User.objects.create_user(f"{prefix}{username}", password=PASSWORD, display_name=shown)
        ends = today + timedelta(days=30) if role == Membership.Role.VISITOR else None
        Membership.objects.create(department=department, user=user, role=role, starts_on=today, ends_on=ends)
        people[username] = user
    return people


def move_dates(text: str, days: int) -> str:
    """Return the text with every month/day/year date in it moved by so many days."""

    def move(found: re.Match[str]) -> str:
        month, day, year = map(int, found.groups())
        return f"{date(year, month, day) + timedelta(days=days):%m/%d/%Y}"

    return _US_DATE.sub(move, text)


def _missions(department: Department, head: User, today: date) -> None:
    since = datetime.combine(today - timedelta(days=365), time(12), tzinfo=UTC)
    for line in Line.objects.filter(department=department, name__in=MISSIONS):
        mission = Mission.from_json(MISSIONS[line.name])
        services.set_rated_mission(line=line, mission=mission, by=head, at=since, note="demo")
