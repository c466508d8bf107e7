"""What the cache answers: what stands where, in which state, what is carried against what must be, and the limits."""

from inventory.queries.catalogue import (
    in_force,
    intervals_for,
    kinds_for,
    limits_for,
    limits_of_kinds,
    modes_for,
    stronger,
)
from inventory.queries.cylinders import cylinder_dates
from inventory.queries.lists import CrewStanding, crew_of, crews_of, load_list, load_lists
from inventory.queries.orders import OrderStanding, open_orders, orders_of
from inventory.queries.places import place_ids_within
from inventory.queries.seals import SealStanding, seal_key, seals
from inventory.queries.standing import (
    ItemStanding,
    LotStanding,
    Standing,
    spec_of,
    standing,
    standing_of_department,
    standing_of_items,
)

__all__ = [
    "CrewStanding",
    "ItemStanding",
    "LotStanding",
    "OrderStanding",
    "SealStanding",
    "Standing",
    "crew_of",
    "crews_of",
    "cylinder_dates",
    "in_force",
    "intervals_for",
    "kinds_for",
    "limits_for",
    "limits_of_kinds",
    "load_list",
    "load_lists",
    "modes_for",
    "open_orders",
    "orders_of",
    "place_ids_within",
    "seal_key",
    "seals",
    "spec_of",
    "standing",
    "standing_of_department",
    "standing_of_items",
    "stronger",
]
