"""What is said of a line before it leaves, kept with its run: the room on the right registers how to ask."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from inventory.models import Line

Predict = Callable[[Line, datetime], Mapping[str, Any]]
_predictors: list[Predict] = []


def predicts(ask: Predict) -> Predict:
    """Register what says beforehand what a line can do; the newest registered is asked."""
    if ask not in _predictors:
        _predictors.append(ask)
    return ask


def prediction_of(line: Line, at: datetime) -> dict[str, Any]:
    """Return what is said of a line at an instant, empty where nobody can say."""
    return dict(_predictors[-1](line, at)) if _predictors else {}
