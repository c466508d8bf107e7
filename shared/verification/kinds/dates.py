"""Check values of dates."""

import calendar
from datetime import date, timedelta
from typing import Any

from shared.formulas import dates
from shared.units import to_si
from shared.verification.registry import Case, kind


def day(value: Any) -> date | None:
    """Give a date of a case: a day, the last day of a month, or None where it is missing."""
    if not value:
        return None
    text = str(value)
    if text.count("-") == 1:
        first = date.fromisoformat(f"{text}-01")
        return first.replace(day=calendar.monthrange(first.year, first.month)[1])
    return date.fromisoformat(text)


def needed(case: Case, key: str) -> date:
    """Give a date of a case that it cannot do without."""
    found = day(case[key])
    if found is None:
        raise ValueError(f"{key} must be a date, 2026-06-30 or 2026-06, got {case[key]!r}")
    return found


def months(case: Case, name: str) -> int:
    """Give an interval of a case in whole months, from its years or its months."""
    told: float = case[f"{name}_months"] if f"{name}_months" in case else 12 * case[f"{name}_years"]
    if abs(told - round(told)) > 1e-6:
        raise ValueError(f"{name} must be whole months, got {told!r}")
    return round(told)


def month(found: date | None) -> str | None:
    return f"{found:%Y-%m}" if found else None


@kind(dates.due_month, dates.month_end)
def due_month(case: Case) -> Case:
    due = dates.due_month(needed(case, "start_month"), months(case, "interval"))
    return {"due_month": month(due), "overdue_from": due + timedelta(days=1)}


@kind(dates.add_months)
def month_later(case: Case) -> Case:
    return {"date": dates.add_months(needed(case, "start_date"), months(case, "later"))}


@kind(dates.months_between)
def months_apart(case: Case) -> Case:
    return {"months": dates.months_between(needed(case, "first_date"), needed(case, "last_date"))}


@kind(dates.cylinder_dates, dates.requalify_by, dates.remove_by, dates.star_objections)
def cylinder_dates(case: Case) -> Case:
    star = case.get("star")
    made, water_lb = day(case.get("made_month")), (star or {}).get("water_capacity_lb")
    known = star and dates.Star(
        None if water_lb is None else to_si(float(water_lb), "lb"),
        *(star.get(name) for name in ("gas", "off_the_rack", "underwater", "dried")),
    )
    mark, suffix, permit = case["spec"], case.get("suffix") or "", case.get("permit_years")
    clean, life = case.get("clean_and_coated", True), case.get("life_years")
    found = dates.cylinder_dates(
        mark,
        made,
        day(case.get("last_month")),
        suffix,
        permit,
        clean_and_coated=clean,
        life_years=life,
        star=known,
    )
    return {
        "no_refill_after": found.no_refill_after,
        "remove_by": found.remove_by,
        "years": found.years,
        "star_objections": list(dates.star_objections(mark, made, known)) if known else [],
    }


@kind(dates.shelf_life)
def shelf_life(case: Case) -> Case:
    own = months(case, "life") if {"life_months", "life_years"} & set(case) else None
    found = dates.shelf_life(case["item"], day(case.get("received_date")), day(case.get("printed_date")), own)
    return {"use_by": found.use_by, "basis": found.basis}


@kind(dates.remaining_life)
def remaining_life(case: Case) -> Case:
    found = dates.remaining_life(
        needed(case, "in_service_date"),
        needed(case, "as_of_date"),
        case["life_years"],
        hours_left=case["life_h"] - case["used_h"] if "life_h" in case else None,
        hours_per_year=case.get("h_per_year"),
        ends=day(case.get("ends_date")),
    )
    return {
        "age_years": found.age_years,
        "remaining_years": found.remaining_years,
        "remaining_pct": 100 * found.remaining_share,
        "ends_by": found.ends_by,
    }


@kind(dates.replace_by, dates.fiscal_year)
def replacement_year(case: Case) -> Case:
    by = dates.replace_by(needed(case, "in_service_date"), months(case, "life"), day(case.get("ends_date")))
    return {"replace_by": by, "fiscal_year": dates.fiscal_year(by, case.get("fiscal_first_month", 1))}
