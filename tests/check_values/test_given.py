"""Published and independently computed values that the formulas must reproduce (given.csv).

A number passes within the larger of its two tolerances; text, booleans and null must match exactly; a list passes
element by element; what a formula gives beyond what is expected is not judged.
"""

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from tests.check_values.adapters import ADAPTERS

with (Path(__file__).parent / "given.csv").open(encoding="utf-8", newline="") as opened:
    ROWS = list(csv.DictReader(opened))


def misses(got: Any, expected: Any, relative: float, absolute: float, path: str = "") -> list[str]:
    """Say where ``got`` is not what was expected; an empty list is a pass."""
    if isinstance(expected, dict):
        return [m for key in expected for m in misses(got.get(key), expected[key], relative, absolute, f"{path}.{key}")]
    if isinstance(expected, list):
        if len(got) != len(expected):
            return [f"{path}: {len(got)} elements, expected {len(expected)}"]
        return [m for i, e in enumerate(expected) for m in misses(got[i], e, relative, absolute, f"{path}[{i}]")]
    is_number = isinstance(expected, (int, float)) and not isinstance(expected, bool)
    if is_number and isinstance(got, (int, float)) and not isinstance(got, bool):
        good = abs(got - expected) <= max(relative * abs(expected), absolute)
    else:
        good = type(got) is type(expected) and got == expected
    return [] if good else [f"{path}: got {got!r}, expected {expected!r}"]


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['id']}-{row['kind']}" for row in ROWS])
def test_a_formula_gives_the_published_value(row):
    got = ADAPTERS[row["kind"]](json.loads(row["inputs"]))
    relative, absolute = float(row["tolerance_rel"] or 0), float(row["tolerance_abs"] or 0)
    assert misses(got, json.loads(row["expected"]), relative, absolute) == [], row["source"]


def test_every_adapter_has_at_least_one_value_and_every_value_names_where_it_comes_from():
    assert {row["kind"] for row in ROWS} == set(ADAPTERS)
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
