"""The public formulas beside the last run of their check values."""

import importlib
import inspect
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from typing import Any

from reports.check_values import cases_digest, own_cases
from reports.models import VerificationRun
from reports.sheets import CaseLine, FormulaLine, SubjectSheet, VerificationSheet
from shared.verification.cases import CasesError
from shared.verification.catalogue import Formula, catalogue
from shared.verification.run import code_digest
from shared.verification.words import share, written

# A process never changes its own code; reading it again for each page would be in vain.
code_now = lru_cache(maxsize=1)(code_digest)


def last_run(as_of: datetime) -> VerificationRun | None:
    """Return the newest run by an instant."""
    runs = VerificationRun.objects.filter(at__lte=as_of).select_related("asked_by")
    return runs.order_by("-at", "-pk").first()


def verification_sheet(as_of: datetime) -> VerificationSheet:
    """Return every public formula with its check values and what the last run by an instant made of them."""
    run = last_run(as_of)
    if run is None:
        cases, problem = _unrun()
        return _sheet(as_of, cases, problem)
    cases = [_case(row) for row in run.results]
    return replace(
        _sheet(as_of, cases, ""),
        run_at=run.at,
        record_id=str(run.key),
        passed=run.passed,
        failed=run.failed,
        asked_by=run.asked_by.signed_name if run.asked_by else "",
        ran_on=", ".join([run.machine, *(f"{name} {number}" for name, number in run.versions.items())]),
        code=run.code,
        moved=(run.code, run.cases) != (code_now(), _cases_now()),
    )


def _unrun() -> tuple[list[CaseLine], str]:
    try:
        found = own_cases()
    except CasesError as error:
        return [], str(error)
    return [
        CaseLine(c.id, c.kind, "not run", written(c.expected), "", "", c.source, c.provenance, c.note) for c in found
    ], ""


def _cases_now() -> str:
    try:
        return cases_digest()
    except CasesError:
        return ""


def _case(row: Mapping[str, Any]) -> CaseLine:
    return CaseLine(
        id=row["id"],
        kind=row["kind"],
        word="pass" if row["passed"] else "fail",
        expected=written(row["expected"]),
        got=written(row["got"], like=row["expected"]),
        error=row["error"] or share(row["relative_error"]),
        source=row["source"],
        provenance=row["provenance"],
        note=row["note"],
    )


def _sheet(as_of: datetime, cases: Iterable[CaseLine], problem: str) -> VerificationSheet:
    by_kind: dict[str, list[CaseLine]] = defaultdict(list)
    for case in cases:
        by_kind[case.kind].append(case)
    known = catalogue()
    subjects = tuple(
        SubjectSheet(
            name,
            _about(name),
            tuple(_formula(one, by_kind) for one in known if one.subject == name),
        )
        for name in dict.fromkeys(one.subject for one in known)
    )
    claimed = {kind for one in known for kind in one.kinds}
    astray = tuple(case for kind, found in by_kind.items() if kind not in claimed for case in found)
    return VerificationSheet(as_of, subjects, astray, problem=problem)


def _formula(one: Formula, by_kind: Mapping[str, list[CaseLine]]) -> FormulaLine:
    cases = tuple(case for kind in one.kinds for case in by_kind.get(kind, ()))
    return FormulaLine(one.name, one.subject, one.anchor, one.sentence, one.source, cases)


@lru_cache(maxsize=64)
def _about(subject: str) -> str:
    """Return what a subject's module says of itself, in its first sentence."""
    name = "shared.units" if subject == "units" else f"shared.formulas.{subject}"
    return " ".join((inspect.getdoc(importlib.import_module(name)) or "").split("\n\n")[0].split())


def filtered(sheet: VerificationSheet, *, failed: bool, subject: str, words: str) -> VerificationSheet:
    """Return only the formulas that a reader asked for: of one subject, with a word in them, with a failing case."""
    wanted = words.casefold().split()

    def fits(formula: FormulaLine) -> bool:
        text = " ".join(
            (formula.name, formula.sentence, formula.source)
            + tuple(f"{case.id} {case.kind} {case.source} {case.note}" for case in formula.cases)
        ).casefold()
        return (not failed or formula.failed > 0) and all(word in text for word in wanted)

    kept = [
        replace(one, formulas=tuple(filter(fits, one.formulas)))
        for one in sheet.subjects
        if not subject or one.name == subject
    ]
    astray = () if subject or words else sheet.astray
    return replace(sheet, subjects=tuple(one for one in kept if one.formulas), astray=astray)
