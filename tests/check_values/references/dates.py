"""Months on the calendar beside python-dateutil."""

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from shared.formulas import dates
from tests.check_values.references import Reference

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]
# Every 37th day of forty years, so that each day of the month and each leap February is met.
DAYS = [date(1996, 1, 1) + timedelta(days=37 * n) for n in range(400)]
MONTHS = (-25, -1, 1, 5, 12, 60, 120, 144, 180)


def _days(found: list[date]) -> NDArray[np.float64]:
    return np.array([day.toordinal() for day in found], dtype=float)


def _add() -> Pair:
    from dateutil.relativedelta import relativedelta

    pairs = [(day, months) for day in DAYS for months in MONTHS]
    ours = [dates.add_months(day, months) for day, months in pairs]
    return _days(ours), _days([day + relativedelta(months=months) for day, months in pairs])


def _due() -> Pair:
    from dateutil.relativedelta import relativedelta

    pairs = [(day, months) for day in DAYS for months in MONTHS if months > 0]
    ours = [dates.due_month(day, months) for day, months in pairs]
    return _days(ours), _days([day + relativedelta(months=months, day=31) for day, months in pairs])


def _between() -> Pair:
    from dateutil.relativedelta import relativedelta

    apart = [(first, last, relativedelta(last, first)) for first, last in zip(DAYS, DAYS[90:], strict=False)]
    whole = [12 * found.years + found.months for _, _, found in apart]
    return np.floor([dates.months_between(first, last) for first, last, _ in apart]), np.array(whole, dtype=float)


REFERENCES = [
    # In days since the year 1: half a day is 7e-7 of them.
    Reference("dates.add_months", "python-dateutil", "1996 to 2036, -25 to 180 months", _add, 1e-9),
    Reference("dates.due_month", "python-dateutil", "1996 to 2036, 1 to 180 months", _due, 1e-9),
    Reference("dates.months_between", "python-dateutil", "1996 to 2036, whole months of nine years", _between, 1e-9),
]
