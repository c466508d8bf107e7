"""Published and independently computed values that the formulas must reproduce, and the rule by which they do.

A number passes within the larger of its two tolerances; text, booleans and null must match exactly; a list passes
element by element; what a formula gives beyond what is expected is not judged.
"""

from collections import Counter

import pytest

from reports.check_values import own_cases, own_files
from shared.verification.catalogue import catalogue
from shared.verification.passing import misses
from shared.verification.registry import KINDS
from shared.verification.run import run

CASES = own_cases()


@pytest.mark.parametrize("case", CASES, ids=[f"{case.id}-{case.kind}" for case in CASES])
def test_a_formula_gives_the_published_value(case):
    result = run([case])[0]
    assert result.passed, f"{result.error} ({result.source})"


def test_every_kind_has_at_least_one_value_and_every_value_names_where_it_comes_from():
    assert {case.kind for case in CASES} == set(KINDS)
    assert [case.id for case in CASES if not (case.source and case.provenance and case.area)] == []


def test_every_public_formula_is_exercised_by_a_value_from_outside():
    kinds = {case.kind for case in CASES}
    assert [formula.name for formula in catalogue() if kinds.isdisjoint(formula.kinds)] == []


def test_no_two_values_of_the_house_bear_one_name():
    assert [name for name, times in Counter(case.id for case in CASES).items() if times > 1] == []


def test_all_given_values_are_kept_and_at_least_sixty_of_our_own():
    given = [case for case in CASES if case.file == "given.csv"]
    assert len(given) == 189
    assert len({case.kind for case in given}) == 81
    assert len(CASES) - len(given) >= 60
    assert len(own_files()) > 1


@pytest.mark.parametrize(
    ("got", "expected"),
    [
        (1.02, 1.0),
        (None, 1.0),
        (True, 1.0),
        ("heat", "flow_cap"),
        (1, True),
        ([1.0], [1.0, 2.0]),
        ({}, {"a": 1}),
        ({}, {"a": None}),
        (float("nan"), 1.0),
        (float("inf"), 1.0),
        (float("inf"), float("inf")),
        (float("nan"), float("nan")),
    ],
)
def test_the_pass_rule_itself_can_fail(got, expected):
    assert misses(got, expected, relative=0.01, absolute=0.0)


def test_the_pass_rule_takes_the_larger_of_the_two_tolerances():
    assert misses(101.0, 100.0, relative=0.01, absolute=0.5) == []
    assert misses(0.4, 0.0, relative=0.01, absolute=0.5) == []
