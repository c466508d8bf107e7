"""Verification runs: the house's own check values, run against the formulas as they are on this machine."""

import json
import platform
import uuid
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from importlib.metadata import version
from typing import Any, Final

from django.db import transaction

from reports.check_values import cases_digest, own_cases
from reports.models import VerificationRun
from shared import outbox
from shared.models import Department, OutboxRow, User
from shared.verification.cases import CasesError
from shared.verification.run import Result, code_digest, for_json, run

RUN: Final = "reports.run_verification"
LIBRARIES: Final = ("numpy", "scipy", "fluids")


def as_row(result: Result) -> dict[str, Any]:
    """Return one result as it is kept: plain JSON."""
    return for_json(asdict(result))


def keep(*, results: Sequence[Result], at: datetime, by: User | None, key: uuid.UUID | None = None) -> VerificationRun:
    """Keep one run; the same key keeps it once."""
    failed = sum(not result.passed for result in results)
    kept, _ = VerificationRun.objects.get_or_create(
        key=key or uuid.uuid4(),
        defaults={
            "at": at,
            "passed": len(results) - failed,
            "failed": failed,
            "results": [as_row(result) for result in results],
            "code": code_digest(),
            "cases": cases_digest(),
            "versions": {"Python": platform.python_version()} | {name: version(name) for name in LIBRARIES},
            "machine": f"{platform.system()} {platform.machine()}",
            "asked_by": by,
        },
    )
    return kept


@transaction.atomic
def ask_verification(*, by: User | None, department: Department | None = None) -> OutboxRow:
    """Ask for a run by a worker; where one is waiting or going on, that one is given back."""
    waiting = pending()
    return waiting or outbox.enqueue(task=RUN, payload={}, department=department, asked_by=by)


def pending() -> OutboxRow | None:
    """Return the run that is asked for and not done yet, if there is one."""
    states = (OutboxRow.State.QUEUED, OutboxRow.State.CLAIMED)
    return OutboxRow.objects.filter(task=RUN, state__in=states).order_by("pk").first()


def run_asked(*, row: OutboxRow, report: outbox.Report, at: datetime) -> dict[str, Any]:
    """Make the run that a row of the outbox asks for; doing it twice keeps one."""
    report(5, "reading the check values")
    try:
        cases = own_cases()
    except CasesError as error:
        raise outbox.GiveUp(str(error)) from None
    report(20, f"running {len(cases)} cases")
    kept = keep(results=run(cases), at=at, by=row.asked_by, key=row.key)
    return {"run": kept.pk, "passed": kept.passed, "failed": kept.failed}


def as_text(rows: Sequence[dict[str, Any]]) -> str:
    """Return results as JSON, as the command prints them."""
    shown = ("id", "passed", "expected", "got", "error", "source")
    return json.dumps([{name: row[name] for name in shown} for row in rows], ensure_ascii=False, indent=1)
