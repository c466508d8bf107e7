"""The demo district and its lines."""

import pytest

from inventory.models import Line
from tests.demo_district import DEMO_DAY, loaded_for_a_module

__all__ = ["DEMO_DAY"]


@pytest.fixture(scope="module")
def _demo(django_db_setup, django_db_blocker):
    with loaded_for_a_module(django_db_blocker) as department:
        yield department


@pytest.fixture
def demo(_demo, db):
    """The demo district as of DEMO_DAY."""
    return _demo


@pytest.fixture
def line_b(demo):
    return Line.objects.select_related("department").get(department=demo, name="Line B")
