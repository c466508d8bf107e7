"""Propane by the place it stands in: the law sums nominal pounds in a room, and counts empties as full."""

import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from inventory.models import Item, Place
from inventory.queries import standing_of_department
from shared.models import Department

PROPANE: Final = "propane"
GONE: Final = frozenset({"absent", "condemned", "disposed", "lent"})
OUTDOORS: Final = re.compile(r"\b(?:cage|outdoors?|outside|yard|lean-to|fenced?)\b", re.I)
FILLING_DENSITY: Final = 0.42  # of water capacity by weight, where the plate gives no nominal figure


@dataclass(frozen=True, slots=True)
class Store:
    """The propane of one place.

    Attributes:
        nominal_lb: what its cylinders hold when full, summed; empties too. [lb]
        is_outdoors: its name, or that of a place it lies in, says so; else it is taken for a room.
    """

    place: Place
    cylinders: int
    nominal_lb: float
    is_outdoors: bool


def propane_stores(department: Department, at: datetime) -> list[Store]:
    """Return every place that holds propane at an instant, rooms first, the fullest first."""
    pounds: dict[Place, float] = defaultdict(float)
    bottles: dict[Place, int] = defaultdict(int)
    for held in standing_of_department(department, at, at).items:
        if held.item.kind.key == PROPANE and held.place is not None and held.state not in GONE:
            pounds[held.place] += held.quantity * nominal_lb(held.item)
            bottles[held.place] += held.quantity
    within = dict(Place.objects.filter(department=department).values_list("pk", "within_id"))
    names = dict(Place.objects.filter(department=department).values_list("pk", "name"))
    stores = [Store(place, bottles[place], lb, _outdoors(place.pk, within, names)) for place, lb in pounds.items()]
    return sorted(stores, key=lambda store: (store.is_outdoors, -store.nominal_lb))


def nominal_lb(item: Item) -> float:
    """Return what one cylinder holds when full; 100 lb where its plate is not recorded."""
    if item.spec.get("nominal_lb"):
        return float(item.spec["nominal_lb"])
    water = item.spec.get("water_lb")
    return FILLING_DENSITY * float(water) if water else 100.0


def _outdoors(pk: int | None, within: dict[int, int | None], names: dict[int, str]) -> bool:
    seen: set[int] = set()
    while pk is not None and pk not in seen:
        if OUTDOORS.search(names[pk]):
            return True
        seen.add(pk)
        pk = within.get(pk)
    return False
