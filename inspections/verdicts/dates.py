"""Dates of cylinders: month precision, the law's two states of an overdue one."""

import re
from datetime import date

from inspections.verdicts.core import Outcome
from inspections.verdicts.judgement import Judgement
from shared.formulas import dates

MONTH = re.compile(r"^(\d{4})-(\d{1,2})(?:-(\d{1,2}))?$")


def month_of(value: object) -> date | None:
    """Return the first day of a nameplate month (``2018-01`` or ``2018-01-31``), or None."""
    if isinstance(value, date):
        return value.replace(day=1)
    found = MONTH.match(str(value or "").strip())
    if not found or not 1 <= int(found[2]) <= 12:
        return None
    return date(int(found[1]), int(found[2]), 1)


def requalification(j: Judgement, code: str, *, holds_gas: bool, default_mark: str = "") -> None:
    """Settle the requalification mode from the nameplate's dates.

    Past its month but filled before: pass with limits, use until empty and do not refill (49 CFR 180.205(c)). Past and
    empty: out of service until requalified.
    """
    spec = j.subject.spec
    made, last = month_of(spec.get("made")), month_of(spec.get("requal"))
    mark = str(spec.get("spec_mark") or default_mark)
    suffix = str(spec.get("requal_suffix") or "")
    if made and last and last < made:
        text = f"Requalified {last:%B %Y} but made {made:%B %Y}: one of the two was misread."
        j.note("requal", text, Outcome.LIMITS, last.isoformat(), limit_key="cylinder_date")
        j.claimed(code, text)
        return
    due = dates.requalify_by(mark, made, last, suffix) if mark and (made or last) else None
    if due is None:
        j.note(
            "requal", "Requalify-by cannot be told: no date or specification is recorded.", limit_key="cylinder_date"
        )
        j.claimed(code, "No date or specification recorded.")
    elif j.subject.on <= due:
        text = f"Requalify by {due:%B %Y}."
        j.note("requal", text, value=due.isoformat(), limit_key="cylinder_date")
        j.proven(code, text)
    elif holds_gas:
        text = f"Requalification was due {due:%B %Y}: do not refill, use until empty."
        j.note("requal", text, Outcome.LIMITS, due.isoformat(), limit_key="cylinder_date")
        # Its contents are whole: the date limits refilling, not what it can give tonight.
        j.present(code, text, 1.0)
    else:
        text = f"Requalification was due {due:%B %Y} and it is empty: out of service until requalified."
        j.note("requal", text, Outcome.FAIL, due.isoformat(), limit_key="cylinder_date")
        j.impaired(code, text)
