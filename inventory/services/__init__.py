"""What can be done to the cache. Each service takes keyword arguments only and is one transaction."""

from inventory.services.cache_import import import_cache
from inventory.services.catalogue import load_catalogue, set_checks, set_failure_mode, set_interval, set_limit
from inventory.services.ledger import record_count, record_posting, record_seal, record_state
from inventory.services.lists import amend_item, standard_load_list

__all__ = [
    "amend_item",
    "import_cache",
    "load_catalogue",
    "record_count",
    "record_posting",
    "record_seal",
    "record_state",
    "set_checks",
    "set_failure_mode",
    "set_interval",
    "set_limit",
    "standard_load_list",
]
