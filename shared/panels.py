"""Parts of a page that rooms on the right fill.

A page belongs to the room of its subject and may import nothing from the right. So a room on the right registers a
function that gives one part for a named slot; the page asks them all, in the order they were registered.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest


@dataclass(frozen=True)
class Panel:
    """One part of a page: the template that draws it, and its context under the name ``panel``."""

    template: str
    context: Mapping[str, Any] = field(default_factory=dict)


Fill = Callable[..., Panel | None]
_fills: dict[str, list[Fill]] = defaultdict(list)


def panel(slot: str) -> Callable[[Fill], Fill]:
    """Register a function of a request and the page's subject as one part of the page with that slot."""

    def register(fill: Fill) -> Fill:
        if fill not in _fills[slot]:
            _fills[slot].append(fill)
        return fill

    return register


def panels_of(slot: str, request: HttpRequest, *subject: Any) -> list[Panel]:
    """Return the parts for one page; a function that has none for this reader gives None."""
    return [part for fill in _fills[slot] if (part := fill(request, *subject)) is not None]
