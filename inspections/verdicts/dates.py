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


def stamped(j: Judgement, key: str) -> object:
    """Return what is stamped on a cylinder: as read at this check, else as recorded; a difference is remarked."""
    read, recorded = j.readings.get(key), j.subject.spec.get(key)
    if read in (None, ""):
        return recorded
    same = month_of(read) == month_of(recorded) if month_of(read) else j.word(key) == str(recorded).strip().casefold()
    if recorded not in (None, "") and not same:
        told = f"Stamped {key.replace('_', ' ')} read as {read}; recorded is {recorded}. The stamp read is used."
        if told not in j.quality:
            j.quality.append(told)
    return read


def requalification(j: Judgement, code: str, *, holds_gas: bool, default_mark: str = "") -> None:
    """Settle the requalification mode from the nameplate's dates.

    Past its month but filled before: pass with limits, use until empty and do not refill (49 CFR 180.205(c)). Past and
    empty: out of service until requalified.
    """
    made, last = month_of(stamped(j, "made")), month_of(stamped(j, "requal"))
    mark = str(stamped(j, "spec_mark") or default_mark)
    suffix = str(stamped(j, "requal_suffix") or "")
    suffix = "" if suffix.casefold() == "none" else suffix
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
        j.seen(code, text)
    elif holds_gas:
        text = f"Requalification was due {due:%B %Y}: do not refill, use until empty."
        j.note("requal", text, Outcome.LIMITS, due.isoformat(), limit_key="cylinder_date")
        # Its contents are whole: the date limits refilling, not what it can give tonight.
        j.present(code, text, 1.0)
    else:
        text = f"Requalification was due {due:%B %Y} and it is empty: out of service until requalified."
        j.note("requal", text, Outcome.FAIL, due.isoformat(), limit_key="cylinder_date")
        j.impaired(code, text)
