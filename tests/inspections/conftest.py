"""Fixtures of this room: a department with its catalogue and a few items on Line A."""

import pytest

from inventory.models import Item
from shared.models import Department
from tests.inspections.building import load, make_item


@pytest.fixture
def cache(department: Department) -> Department:
    """Tarn Hollow with its catalogue and procedures."""
    return load(department)


@pytest.fixture
def gfci(cache: Department) -> Item:
    return make_item(cache, "gfci", "GF-03")


@pytest.fixture
def heater(cache: Department) -> Item:
    return make_item(cache, "heater", "WH-01")


@pytest.fixture
def shelter(cache: Department) -> Item:
    return make_item(cache, "shelter", "SH-01")
