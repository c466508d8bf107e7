"""How far each formula is from a reference library, over a stated range: `python -m tests.references` prints the table.

The libraries are installed for tests only. Every row is computed when it is printed; none is kept.
"""

import importlib
import pkgutil
import sys
from collections.abc import Iterator, Sequence
from importlib.metadata import version
from typing import NamedTuple

import numpy as np

from tests.check_values import references
from tests.check_values.references import Reference


class Compared(NamedTuple):
    """One formula beside its library: over how many points, and how far off at worst."""

    reference: Reference
    points: int
    worst: float  # largest relative error [share]

    @property
    def holds(self) -> bool:
        return self.worst <= self.reference.bound  # not of NaN


def all_references() -> list[Reference]:
    """Return the references of every subject."""
    modules = sorted(found.name for found in pkgutil.iter_modules(references.__path__))
    return [one for name in modules for one in importlib.import_module(f"{references.__name__}.{name}").REFERENCES]


def compare(reference: Reference) -> Compared:
    """Compute one formula and its library at the same points.

    Raises:
        ValueError: there are no points, or the two do not have the same number of them.
    """
    ours, theirs = (np.atleast_1d(np.asarray(found, dtype=float)) for found in reference.compute())
    if ours.shape != theirs.shape or not ours.size:
        raise ValueError(f"{reference.formula}: {ours.size} of our points beside {theirs.size} of {reference.library}")
    # Where the library says nothing at all, what we say is an error as a whole.
    scale = np.where(theirs == 0, 1.0, np.abs(theirs))
    return Compared(reference, ours.size, float(np.max(np.abs(ours - theirs) / scale)))


def table(rows: Sequence[Compared]) -> Iterator[str]:
    """Yield the lines of a Markdown table."""
    yield "| formula | library | range compared | points | largest relative error | bound held |"
    yield "|---|---|---|---:|---:|---:|"
    for row in rows:
        of = row.reference
        said = "" if row.holds else " **exceeded**"
        yield (
            f"| `{of.formula}` | {of.library} {version(of.library)} | {of.over} | {row.points} | {row.worst:.1e}{said} "
            f"| {of.bound:.0e} |"
        )


def main() -> int:
    """Print the table; 1 where a bound is exceeded."""
    rows = [compare(reference) for reference in all_references()]
    print(*table(rows), sep="\n")
    over = [row.reference.formula for row in rows if not row.holds]
    said = f"beyond its bound: {', '.join(over)}" if over else "each within its bound"
    print(f"\n{len(rows)} formulas compared; {said}.")
    return int(bool(over))


if __name__ == "__main__":
    sys.exit(main())
