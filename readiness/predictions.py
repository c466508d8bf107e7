"""What the stored rating says of a line as it leaves: the trial that its run is held against afterwards."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from inspections.predictions import predicts
from inventory.models import Line
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
