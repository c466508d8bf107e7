"""What the stored rating says of a line as it leaves: the trial that its run is held against afterwards."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from inspections.predictions import predicts, tells_ratings
from inventory.models import Line
from readiness.models import StoredRating
from readiness.queries import stored


@predicts
def predicted(line: Line, at: datetime) -> Mapping[str, Any]:
    """Return the rating that stands for a line, as its run keeps it; empty where it was never rated."""
    row = stored(line)
    if row is None:
        return {}
    rating = row.rating
    can = rating["can_do"]
    return {
        "rated_at": row.at.isoformat(),
        "word": row.word,
        "reason": row.reason,
        "probability": row.probability,
        "people_per_hour": can["people_per_hour"],
        "hours": can["hours"],
        "can_do_probability": can["probability"],
        "functions": {one["function"]: one["probability"] for one in rating["functions"]},
        "mission": rating["mission"],
    }


@tells_ratings
def ratings_between(line: Line, since: datetime, until: datetime) -> Sequence[tuple[datetime, str]]:
    """Return when a line was rated in a stretch of time, and with which word."""
    rows = StoredRating.objects.filter(line=line, at__gte=since, at__lte=until).order_by("at", "pk")
    return [
        (at, f"{word.capitalize()}: {reason}" if reason else word.capitalize())
        for at, word, reason in rows.values_list("at", "word", "reason")
    ]
