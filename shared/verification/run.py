"""Check values run against the formulas: one result for each, whatever becomes of it."""

import copy
import difflib
import hashlib
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, Final

import numpy as np

from shared.verification import kinds as _kinds  # noqa: F401  (fills the registry)
from shared.verification.cases import CheckValue
from shared.verification.passing import misses
from shared.verification.registry import KINDS

RUN_ON: Final = ("shared.formulas", "shared.verification", "shared.verification.kinds")


@dataclass(frozen=True, slots=True)
class Result:
    """What became of one check value.

    Attributes:
        got: what the formulas gave, None where they gave nothing.
        error: empty for a pass; else what missed, or why nothing came back.
        relative_error: worst of its numbers; None where none could be compared. [share]
    """

    id: str
    kind: str
    area: str
    passed: bool
    expected: Any
    got: Any
    error: str
    relative_error: float | None
    source: str
    provenance: str = ""
    note: str = ""


def run(cases: Iterable[CheckValue]) -> list[Result]:
    """Return a result for each case, in their order; what one of them raises stops no other."""
    return [_result(case) for case in cases]


def _result(case: CheckValue) -> Result:
    got: Any = None
    error, relative = case.problem or _unknown(case), None
    if not error:
        try:
            # An adapter gets inputs of its own: whatever it does to them, the case stays as it was written.
            got = plain(KINDS[case.kind].adapter(copy.deepcopy(dict(case.inputs))))
            missed = misses(got, dict(case.expected), case.relative, case.absolute)
            error = "; ".join(one.lstrip(".") for one in missed)
            relative = worst_relative(got, dict(case.expected))
        except Exception as refused:
            # Whatever a formula or an adapter raises is the result of this case, and of no other.
            error = _words(refused)
    return Result(
        id=case.id,
        kind=case.kind,
        area=case.area or _subject(case.kind),
        passed=not error,
        expected=dict(case.expected),
        got=got,
        error=error,
        relative_error=relative,
        source=case.source,
        provenance=case.provenance,
        note=case.note,
    )


def _unknown(case: CheckValue) -> str:
    if case.kind in KINDS:
        return ""
    where = f"{case.file}, row {case.row}, column kind: " if case.file else ""
    near = difflib.get_close_matches(case.kind, KINDS, n=3, cutoff=0.5)
    mend = f"Did you mean {' or '.join(near)}?" if near else f"None of the {len(KINDS)} there are is like it."
    return f"{where}no calculation is called {case.kind!r}. {mend}"


def _subject(kind: str) -> str:
    return KINDS[kind].adapter.__module__.rpartition(".")[2] if kind in KINDS else ""


def _words(refused: Exception) -> str:
    if isinstance(refused, KeyError):
        return f"the inputs lack {refused}"
    if isinstance(refused, ValueError) and str(refused):
        return str(refused)
    return f"{type(refused).__name__}: {refused}" if str(refused) else type(refused).__name__


def plain(value: Any) -> Any:
    """Return what an adapter gave as plain numbers, words, lists and dictionaries."""
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, date):
        return value.isoformat()
    return float(value) if isinstance(value, Decimal) else value


def for_json(value: Any) -> Any:
    """Return plain values with what JSON has no number for (NaN, no end) as words."""
    if isinstance(value, dict):
        return {key: for_json(one) for key, one in value.items()}
    if isinstance(value, list):
        return [for_json(one) for one in value]
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


def worst_relative(got: Any, expected: Any) -> float | None:
    """Return the largest relative error among the numbers expected; None where no number met a number."""
    return max(_relatives(got, expected), default=None)


def _relatives(got: Any, expected: Any) -> Iterator[float]:
    if isinstance(expected, dict) and isinstance(got, dict):
        for key, value in expected.items():
            yield from _relatives(got.get(key), value)
    elif isinstance(expected, list) and isinstance(got, list):
        for ours, theirs in zip(got, expected, strict=False):
            yield from _relatives(ours, theirs)
    elif _is_number(expected) and _is_number(got):
        off = abs(got - expected)
        # Of nothing expected there is no share: a miss, however small, is counted as endless.
        yield off / abs(expected) if expected else (0.0 if off == 0 else math.inf)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def code_digest() -> str:
    """Return a digest of what check values run on: the formulas, the units and the adapters, as they are written."""
    found = hashlib.sha256((files("shared") / "units.py").read_bytes())
    for package in RUN_ON:
        for one in sorted(_sources(files(package)), key=lambda source: source.name):
            found.update(one.name.encode() + b"\0" + one.read_bytes())
    return found.hexdigest()


def _sources(package: Traversable) -> Iterator[Traversable]:
    return (one for one in package.iterdir() if one.name.endswith(".py"))
