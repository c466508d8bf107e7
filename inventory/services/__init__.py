"""What can be done to the cache. Each service takes keyword arguments only and is one transaction."""

from inventory.services.cache_import import import_cache
from inventory.services.catalogue import load_catalogue, set_checks, set_failure_mode, set_interval, set_limit
from inventory.services.ledger import record_count, record_posting, record_seal, record_state
from inventory.services.lists import amend_item, standard_load_list
from inventory.services.orders import (
    accept_by_test,
    cancel_order,
    date_order,
    place_order,
    receive_order,
    undo_acceptance,
)
from inventory.services.recalls import record_recall, release_recalled

__all__ = [
    "accept_by_test",
    "amend_item",
    "cancel_order",
    "date_order",
    "import_cache",
    "load_catalogue",
    "place_order",
    "receive_order",
    "record_count",
    "record_posting",
    "record_recall",
    "record_seal",
    "record_state",
    "release_recalled",
    "set_checks",
    "set_failure_mode",
    "set_interval",
    "set_limit",
    "standard_load_list",
    "undo_acceptance",
]
