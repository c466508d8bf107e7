"""Check values of dates."""

from datetime import date

from shared.formulas import dates
from shared.verification.registry import Case, kind


@kind(dates.requalify_by)
def due_month(case: Case) -> Case:
    made = date.fromisoformat(f"{case['start_month']}-01")
    mark = {12: "DOT-4BA240", 5: "DOT-3AA2015"}[case["interval_years"]]
    due = dates.requalify_by(mark, made, None)
    return {"due_month": due and f"{due:%Y-%m}"}
