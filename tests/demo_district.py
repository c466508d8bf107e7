"""The demo district for tests that only read or roll back: loaded once a module, not once a test."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

from django.db import transaction

from readiness.demo import load_demo
from shared.models import Department

DEMO_DAY = date(2026, 11, 24)


@contextmanager
def loaded_for_a_module(django_db_blocker: object) -> Iterator[Department]:
    """Hold the demo in a transaction around a module's tests; each test's own rolls back to it."""
    with django_db_blocker.unblock():
        around = transaction.atomic()
        around.__enter__()
        try:
            department = load_demo(today=DEMO_DAY)
            # What waits for a commit that never comes must not be run by the first test that captures such calls.
            transaction.get_connection().run_on_commit.clear()
            with django_db_blocker.block():
                yield department
        finally:
            transaction.set_rollback(True)
            around.__exit__(None, None, None)
