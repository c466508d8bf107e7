"""Whether somebody's qualification is current: one rule, in one place.

The rule is local policy by default. No law read for this project sets an interval for operating a decontamination
line; 29 CFR 1910.120(q)(8) asks responders for a yearly refresher of another qualification. A department that
follows a printed "valid until" date is served by that date, whatever the rule says.
"""

from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

CURRENT_MONTHS = 24
ORIGIN = "local policy: qualified again within 24 months; no published interval found"


@dataclass(frozen=True, slots=True)
class Currency:
    """Whether somebody counts on a day, and until when; until is None where no date was recorded."""

    qualified: bool
    until: date | None


def currency(
    on: date, *, qualified_on: date | None, qualified_until: date | None, months: int = CURRENT_MONTHS
) -> Currency:
    """Return whether somebody is qualified on a day, and the last day of it.

    Args:
        on: the day asked about.
        qualified_on: day of the course or drill, or None.
        qualified_until: last day printed on the card, or None; where given it alone decides.
        months: how long a course counts, > 0. [months]
    Returns:
        Currency; not qualified where neither date is recorded.
    Raises:
        ValueError: months is not positive.
    Source: ORIGIN.
    """
    if months <= 0:
        raise ValueError(f"months must be positive, got {months}")
    if qualified_until is not None:
        started = qualified_on is None or qualified_on <= on
        return Currency(started and on <= qualified_until, qualified_until)
    if qualified_on is None:
        return Currency(False, None)
    until = qualified_on + relativedelta(months=months)
    return Currency(qualified_on <= on <= until, until)
