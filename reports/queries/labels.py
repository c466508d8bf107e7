"""What the labels of a place say."""

from datetime import datetime

from inventory.models import Place
from inventory.page_queries import standing_at
from reports.sheets import Label, LabelSheet


def label_sheet(place: Place, at: datetime) -> LabelSheet:
    """Return a label for every item and lot at a place and in the places within it, in bay order."""
    items, lots = standing_at(place.department, place, at)
    labels = [Label(s.item.tag, s.item.name) for s in items]
    labels += [Label(number, name) for number, name in dict.fromkeys((s.lot.number, s.lot.name) for s in lots)]
    return LabelSheet(place.department.name, place.name, tuple(labels))
