"""Each formula stays within its stated bound of a reference library, over the range that is printed beside it."""

import numpy as np
import pytest

from shared.verification.catalogue import catalogue
from tests.check_values.references import Reference
from tests.references import Compared, all_references, compare, table

REFERENCES = all_references()


@pytest.mark.parametrize("reference", REFERENCES, ids=[f"{one.formula} beside {one.library}" for one in REFERENCES])
def test_a_formula_stays_within_its_bound_of_the_library(reference):
    compared = compare(reference)
    assert compared.points > 1
    assert compared.holds, f"{compared.worst:.2e} is beyond {reference.bound:.0e}"


def test_every_reference_is_of_a_public_formula_and_says_its_range():
    known = {formula.name for formula in catalogue()}
    assert {one.formula for one in REFERENCES} <= known
    assert all(one.over and one.bound < 1 for one in REFERENCES)
    assert {one.library for one in REFERENCES} >= {"CoolProp", "fluids", "pint", "wntr", "statsmodels", "scipy"}


def beside(ours: object, theirs: object, bound: float = 1e-3) -> Compared:
    return compare(Reference("x", "numpy", "0 to 1", lambda: (ours, theirs), bound))


def test_a_formula_that_is_off_is_caught_and_printed_so():
    off = beside(np.array([1.0, 2.1]), np.array([1.0, 2.0]))
    assert off.worst == pytest.approx(0.05)
    assert not off.holds
    assert "**exceeded**" in list(table([off]))[-1]
    assert not beside(np.array([np.nan]), np.array([1.0])).holds
    assert beside(np.array([1.0, 2.0]), np.array([1.0, 2.0])).holds


def test_points_that_do_not_pair_up_are_refused():
    for ours, theirs in (([], []), ([1.0], [1.0, 2.0])):
        with pytest.raises(ValueError, match="points beside"):
            beside(np.array(ours), np.array(theirs))
