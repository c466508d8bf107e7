"""What the formulas are timed against gives what they give, and their share of a rating is a share."""

import numpy as np
import pytest

from readiness.bench_formulas import pairs
from readiness.benching import share_of_formulas
from tests.demo_district import loaded_for_a_module

PAIRS = pairs(1000)


@pytest.mark.parametrize("pair", PAIRS, ids=[pair.name for pair in PAIRS])
def test_a_bare_expression_gives_what_its_formula_gives(pair):
    ours = pair.ours()
    assert ours.size > 1
    np.testing.assert_allclose(ours, pair.bare(), rtol=1e-12)


@pytest.fixture(scope="module")
def _demo(django_db_setup, django_db_blocker):
    with loaded_for_a_module(django_db_blocker) as department:
        yield department


@pytest.fixture
def demo(_demo, db):
    return _demo


def test_the_share_of_the_formulas_in_a_rating_lies_between_none_and_all(demo):
    assert 0 < share_of_formulas(demo) < 1
