"""Published and independently computed values that the formulas must reproduce (given.csv).

A number passes within the larger of its two tolerances; text, booleans and null must match exactly; a list passes
element by element; what a formula gives beyond what is expected is not judged.
"""

import csv
import json
from pathlib import Path

import pytest

from shared.verification import kinds  # noqa: F401  (fills the registry)
from shared.verification.passing import misses
from shared.verification.registry import KINDS

with (Path(__file__).parent / "given.csv").open(encoding="utf-8", newline="") as opened:
    ROWS = list(csv.DictReader(opened))


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['id']}-{row['kind']}" for row in ROWS])
def test_a_formula_gives_the_published_value(row):
    got = KINDS[row["kind"]].adapter(json.loads(row["inputs"]))
    relative, absolute = float(row["tolerance_rel"] or 0), float(row["tolerance_abs"] or 0)
    assert misses(got, json.loads(row["expected"]), relative, absolute) == [], row["source"]


def test_every_adapter_has_at_least_one_value_and_every_value_names_where_it_comes_from():
    assert {row["kind"] for row in ROWS} == set(KINDS)
    assert all(row["source"] and row["provenance"] for row in ROWS)
    assert len({row["id"] for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize(
    ("got", "expected"),
    [(1.02, 1.0), (None, 1.0), (True, 1.0), ("heat", "flow_cap"), (1, True), ([1.0], [1.0, 2.0]), ({}, {"a": 1})],
)
def test_the_pass_rule_itself_can_fail(got, expected):
    assert misses(got, expected, relative=0.01, absolute=0.0)


def test_the_pass_rule_takes_the_larger_of_the_two_tolerances():
    assert misses(101.0, 100.0, relative=0.01, absolute=0.5) == []
    assert misses(0.4, 0.0, relative=0.01, absolute=0.5) == []
