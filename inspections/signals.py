"""News from this room, heard on its right."""

from django.dispatch import Signal

# the evidence moved: item_ids, line_ids of one department. Sent inside the transaction that moved them.
evidence_changed = Signal()
