"""Stored ratings for pages to read: a line short of its mission unless a test says otherwise."""

from copy import deepcopy
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from inventory.models import Line, Place
from readiness.models import LineState, StoredRating
from readiness.rating.mission import Mission
from readiness.rating.words import FUNCTIONS
from shared.models import Department

RATED_AT = datetime(2026, 11, 20, 18, 0, tzinfo=UTC)


def function_row(name: str, **changed: Any) -> dict[str, Any]:
    row = {
        "function": name,
        "need": 2,
        "have": 2,
        "unit": "lanes",
        "probability": 98.4,
        "evidence": "proven",
        "margin": 0.0,
        "resource": "",
        "carried": True,
        "at_most": False,
        "items": [item_row(f"{name[:2].upper()}-01")],
    }
    return row | changed


def item_row(tag: str, **changed: Any) -> dict[str, Any]:
    row = {
        "tag": tag,
        "name": f"Thing {tag}",
        "probability": 98.4,
        "mode": "",
        "state": "in service",
        "evidence": "proven",
        "capacity": 2,
        "unit": "lanes",
        "basis": "measured 2026-11-09",
        "not_established": [],
        "blind_spots": [],
    }
    return row | changed


def limit_row(function: str, need: float, have: float, unit: str, **changed: Any) -> dict[str, Any]:
    row = {
        "function": function,
        "resource": "",
        "need": need,
        "have": have,
        "unit": unit,
        "lanes": 1,
        "bites_at_min": 0,
        "head_degF_at_asked_rate": None,
        "item": "",
        "basis": "",
        "evidence": None,
        "not_counted": [],
        "at_most": False,
    }
    return row | changed


HEAT = limit_row(
    "heat",
    244_000,
    155_800,
    "BTU/h",
    head_degF_at_asked_rate=76,
    evidence={"state": "proven", "item": "WH-01", "inspection": str(UUID(int=7)), "on": "2026-11-09"},
)
VAPOUR = limit_row("heat", 297_600, 188_000, "BTU/h", resource="propane rate", basis="chart")
WASTE = limit_row("waste", 1080, 600, "gal", lanes=2, bites_at_min=100)
TOWELS = limit_row("redress", 180, 150, "people", lanes=2, bites_at_min=150, item="Towel, bath")


def rating(line: str = "Line A", **changed: Any) -> dict[str, Any]:
    """Return a rating's JSON: 60 asked, 30 carried, held by heat, propane rate, waste and towels."""
    mission = Mission(air_degF=20).as_json()
    answer: dict[str, Any] = {
        "line": line,
        "at": "2026-11-20T18:00:00Z",
        "known_at": "2026-11-20T18:00:00Z",
        "mission": mission,
        "word": "Limited",
        "reason": "short",
        "probability": 0.0,
        "probability_low": 0.0,
        "probability_high": 0.0,
        "can_do": can_do(30, probability=(88.2, 80.4, 93.1), lanes=1),
        "limits": [HEAT, VAPOUR, WASTE, TOWELS],
        "functions": [function_row(name) for name in FUNCTIONS],
        "not_recorded": [],
        "blind_spots": [],
        "single_points": [],
        "shared_nodes": [],
        "next_change_at": "2026-11-27T00:00:00Z",
        "at_most": [],
        "rated": {"target": 80, "mission_assumed": False, "load_list_assumed": False},
        "next_limit": None,
        "down": [],
        "cautions": [],
        "conditions": [],
        "in_doubt": [],
        "not_established": [],
        "exposure_assumed": [],
        "exact": True,
        "error": 0.0,
        "next_moves": None,
        "risk_accepted": [],
    }
    return deepcopy(answer | changed)


def can_do(people: float, *, hours: float = 3, probability: tuple[float, float, float], **changed: Any) -> dict:
    mean, low, high = probability
    row = {
        "people_per_hour": people,
        "hours": hours,
        "lanes": 2,
        "probability": mean,
        "probability_low": low,
        "probability_high": high,
        "head_degF": 98,
        "cold": False,
        "without": [],
        "asked_rate_hours": hours,
    }
    return row | changed


def whole(line: str = "Line B", **changed: Any) -> dict[str, Any]:
    sure = {"probability": 94.0, "probability_low": 89.0, "probability_high": 97.0}
    carried = {"word": "Whole", "reason": "", "limits": [], "can_do": can_do(60, probability=(94, 89, 97))}
    return rating(line, **(sure | carried | changed))


def down(line: str = "Line C", **changed: Any) -> dict[str, Any]:
    functions = [
        function_row("inflation", have=0, need=1, carried=False, probability=0.0)
        if n == "inflation"
        else function_row(n)
        for n in FUNCTIONS
    ]
    stopped = {
        "word": "Down",
        "reason": "",
        "down": ["inflation"],
        "functions": functions,
        "limits": [limit_row("inflation", 1, 0, "count", lanes=0, not_counted=["IN-03 out of service"])],
        "can_do": can_do(0, hours=0, probability=(0, 0, 0), lanes=0),
    }
    return rating(line, **(stopped | changed))


def make_line(department: Department, name: str = "Line A", *, home: str = "Station 4, trailer bay") -> Line:
    place, _ = Place.objects.get_or_create(department=department, name=home)
    return Line.objects.create(department=department, name=name, home=place, order=Line.objects.count())


def store(line: Line, answer: dict[str, Any], *, stale: bool = False) -> StoredRating:
    """Keep a rating as the one that stands for its line."""
    row = StoredRating.objects.create(
        department=line.department,
        line=line,
        at=RATED_AT,
        known_at=RATED_AT,
        word=answer["word"],
        reason=answer["reason"],
        probability=answer["probability"],
        rating=answer,
    )
    LineState.objects.update_or_create(
        line=line,
        defaults={"department": line.department, "newest": row, "stale_since": RATED_AT if stale else None},
    )
    return row
