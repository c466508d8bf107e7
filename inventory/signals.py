"""News from this room, heard on its right."""

from django.dispatch import Signal

# the cache moved: item_ids, lot_ids, line_ids of one department. Sent inside the transaction that moved them.
cache_changed = Signal()
