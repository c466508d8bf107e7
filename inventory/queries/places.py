"""Which places lie within which."""

from collections import defaultdict

from inventory.models import Place
from shared.models import Department


def place_ids_within(department: Department, place: Place) -> set[int]:
    """Return the ids of a place and of every place inside it, in one query."""
    children: dict[int | None, list[int]] = defaultdict(list)
    for pk, within in Place.objects.filter(department=department).values_list("pk", "within_id"):
        children[within].append(pk)
    found, left = set(), [place.pk]
    while left:
        here = left.pop()
        if here not in found:
            found.add(here)
            left += children[here]
    return found
