"""The catalogue's limits, read from their own file: formulas know nothing of it, and must not contradict it."""

import csv
from pathlib import Path

FILE = Path(__file__).parents[3] / "inventory" / "catalogue" / "limits.csv"
BOUNDS = ("pass_low", "pass_high", "limits_low", "limits_high")


def catalogue_limit(key: str) -> dict[str, float]:
    """Return the bounds of a limit, those that it has."""
    with FILE.open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["key"] == key)
    return {name: float(row[name]) for name in BOUNDS if row[name]}
