"""What is said of a line: as it leaves, kept with its run, and over a stretch of its past. The right registers how."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from inventory.models import Line

Predict = Callable[[Line, datetime], Mapping[str, Any]]
Said = Callable[[Line, datetime, datetime], Sequence[tuple[datetime, str]]]
_predictors: list[Predict] = []
_ratings: list[Said] = []


def predicts(ask: Predict) -> Predict:
    """Register what says beforehand what a line can do; the newest registered is asked."""
    if ask not in _predictors:
        _predictors.append(ask)
    return ask


def prediction_of(line: Line, at: datetime) -> dict[str, Any]:
    """Return what is said of a line at an instant, empty where nobody can say."""
    return dict(_predictors[-1](line, at)) if _predictors else {}


def tells_ratings(ask: Said) -> Said:
    """Register what tells which ratings of a line were made in a stretch of time; the newest registered is asked."""
    if ask not in _ratings:
        _ratings.append(ask)
    return ask


def ratings_between(line: Line, since: datetime, until: datetime) -> list[tuple[datetime, str]]:
    """Return when a line was rated in a stretch and with which word, oldest first; empty where nobody can say."""
    return list(_ratings[-1](line, since, until)) if _ratings else []
