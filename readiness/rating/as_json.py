"""The rating as JSON: the keys of its settled form first and in their order, further ones after them."""

from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime
from typing import Any

from readiness.rating.answer import CanDo, FunctionRow, Limit, Rating
from readiness.rating.mission import Mission


def as_json(rating: Rating) -> dict[str, Any]:
    """Return a rating as plain dicts, lists, strings and numbers, always in the same order."""
    can = rating.can_do
    first: dict[str, Any] = {
        "line": rating.line,
        "at": _plain(rating.at),
        "known_at": _plain(rating.known_at),
        "mission": rating.mission.as_json(),
        "word": rating.word,
        "reason": rating.reason,
        "probability": rating.probability,
        "probability_low": rating.probability_low,
        "probability_high": rating.probability_high,
        "can_do": _can_do(can),
        "people_per_hour": can.people_per_hour,
        "hours": can.hours,
        "limits": [_limit(limit) for limit in rating.limits],
        "functions": [_function(row) for row in rating.functions],
        "not_recorded": list(rating.not_recorded),
        "blind_spots": list(rating.blind_spots),
        "single_points": list(rating.single_points),
        "shared_nodes": _plain(rating.shared_nodes),
        "next_moves": rating.next_moves,
        "next_change_at": _plain(rating.next_change_at),
        "at_most": list(rating.at_most),
    }
    special = {"next_limit": None if rating.next_limit is None else _limit(rating.next_limit)}
    more = {f.name: special.get(f.name, _plain(getattr(rating, f.name))) for f in fields(rating) if f.name not in first}
    return first | more


def _can_do(can: CanDo) -> dict[str, Any]:
    return {f.name: _plain(getattr(can, f.name)) for f in fields(can)}


def _limit(limit: Limit) -> dict[str, Any]:
    """A limit names only what it has: its own figure has no resource, and only heat has a head temperature."""
    said = {"function": limit.function}
    for f in fields(limit):
        value = _plain(getattr(limit, f.name))
        if f.name in _ALWAYS or value not in (None, "", [], False):
            said[f.name] = value
    return said


_ALWAYS = frozenset({"function", "need", "have", "unit", "lanes", "bites_at_min"})


def _function(row: FunctionRow) -> dict[str, Any]:
    first = ("function", "need", "have", "unit", "probability", "evidence")
    rest = [f.name for f in fields(row) if f.name not in first]
    return {name: _plain(getattr(row, name)) for name in (*first, *rest)}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mission):
        return value.as_json()
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    return value
