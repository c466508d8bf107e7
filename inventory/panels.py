"""Parts of an item's page that rooms on the right fill.

The page of an item belongs here, its evidence does not, and nothing here may import from the right. So a room on the
right registers a function that gives one panel; the page asks them all, in the order they were registered.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest

from inventory.queries import ItemStanding


@dataclass(frozen=True)
class Panel:
    """One part of the page: the template that draws it, its context as ``panel``, and whether it stands last."""

    template: str
    context: Mapping[str, Any] = field(default_factory=dict)
    is_last: bool = False


Fill = Callable[[HttpRequest, ItemStanding, Mapping[str, Any]], Panel]
_fills: list[Fill] = []


def item_panel(fill: Fill) -> Fill:
    """Register a function that gives one panel of an item's page.

    It is called with the request, how the item stands, and forms that came back with errors by their name.
    """
    if fill not in _fills:
        _fills.append(fill)
    return fill


def panels_of(request: HttpRequest, standing: ItemStanding, forms: Mapping[str, Any]) -> list[Panel]:
    """Return the panels of one item's page: what is wrong and proven stands before what is only kept."""
    return sorted((fill(request, standing, forms) for fill in _fills), key=lambda panel: panel.is_last)
