from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas.dates import add_months, month_end, remove_by, requalify_by

MADE = date(2014, 6, 1)
DAYS = st.dates(date(1950, 1, 1), date(2060, 12, 31))


def test_a_cylinder_due_in_june_is_overdue_on_the_first_of_july():
    due = requalify_by("4BA240", MADE, None, "")
    assert due == date(2026, 6, 30)
    assert due + timedelta(days=1) == date(2026, 7, 1)


@pytest.mark.parametrize("mark", ["4B", "4BA240", "DOT-4BW240", "dot 4e240", "DOT 4B240ET", "4BW/4BA", "ICC-4BA 240"])
@pytest.mark.parametrize(("suffix", "years"), [("", 12), ("none", 12), ("+", 12), ("S", 10), ("s ", 10), ("E", 5)])
def test_propane_s_next_date_goes_by_the_suffix_of_the_last_one(mark, suffix, years):
    assert requalify_by(mark, MADE, date(2026, 3, 17), suffix) == date(2026 + years, 3, 31)


def test_a_propane_cylinder_never_requalified_is_due_twelve_years_from_manufacture_whatever_the_suffix_field_says():
    assert requalify_by("4BA240", MADE, None, "E") == date(2026, 6, 30)


def test_a_suffix_nobody_knows_gets_the_shortest_interval():
    assert requalify_by("4BA240", MADE, date(2020, 2, 1), "Q") == date(2025, 2, 28)


@pytest.mark.parametrize("mark", ["3AA2015", "3A1800", "DOT-3AA 2400", "TC-3AAM153"])
@pytest.mark.parametrize(
    ("suffix", "years"), [("", 5), ("+", 5), ("*", 10), ("\N{BLACK STAR}", 10), ("star", 10), ("VE", 5)]
)
def test_steel_air_is_due_in_five_years_or_ten_with_the_star(mark, suffix, years):
    assert requalify_by(mark, MADE, date(2020, 2, 10), suffix) == month_end(date(2020 + years, 2, 1))
    assert requalify_by(mark, MADE, None, suffix) == date(2019, 6, 30)


@pytest.mark.parametrize("mark", ["3AL3000", "DOT-3AL2216", "3AX", "3AAX2400", "TC-3ALM207"])
def test_the_star_gives_aluminium_and_tube_cylinders_no_longer_interval(mark):
    assert requalify_by(mark, MADE, date(2020, 2, 10), "*") == date(2025, 2, 28)


@pytest.mark.parametrize("mark", ["DOT-SP 10915", "DOT-E 10915", "sp10915", "composite", "Carbon fibre", "TC-SU 5134"])
def test_a_composite_is_due_every_five_years_and_is_removed_at_fifteen(mark):
    assert requalify_by(mark, MADE, None) == date(2019, 6, 30)
    assert requalify_by(mark, MADE, date(2019, 5, 2)) == date(2024, 5, 31)
    assert remove_by(mark, MADE) == date(2029, 6, 30)


def test_no_requalification_carries_a_composite_past_its_life():
    assert requalify_by("composite", MADE, date(2027, 1, 1)) == remove_by("composite", MADE) == date(2029, 6, 30)


def test_the_permit_on_the_label_may_set_a_shorter_interval():
    assert requalify_by("DOT-E 8059", MADE, date(2020, 1, 1), permit_years=3) == date(2023, 1, 31)
    assert requalify_by("4BA240", MADE, date(2020, 1, 1), permit_years=3) == date(2032, 1, 31)


@pytest.mark.parametrize("mark", ["", "3HT1850", "4L200", "unknown", "4", "3"])
def test_a_mark_without_a_known_rule_gets_no_date(mark):
    assert requalify_by(mark, MADE, date(2020, 1, 1)) is None
    assert remove_by(mark, MADE) is None


def test_without_any_month_there_is_no_date():
    assert requalify_by("4BA240", None, None) is None
    assert remove_by("composite", None) is None
    assert requalify_by("4BA240", None, date(2020, 1, 15), "E") == date(2025, 1, 31)


def test_steel_has_no_set_life():
    assert remove_by("4BA240", MADE) is None
    assert remove_by("3AA2015", MADE) is None


def test_a_requalification_before_manufacture_is_refused():
    with pytest.raises(ValueError, match="last must not be in a month before made"):
        requalify_by("4BA240", MADE, date(2014, 5, 31))
    assert requalify_by("4BA240", date(2014, 6, 20), date(2014, 6, 1)) == date(2026, 6, 30)


def test_an_interval_no_permit_sets_is_refused():
    with pytest.raises(ValueError, match="permit_years must be 1 to 15 years"):
        requalify_by("composite", MADE, None, permit_years=0)


@given(day=DAYS, months=st.integers(-600, 600))
def test_months_are_added_as_an_independent_calendar_adds_them(day, months):
    assert add_months(day, months) == day + relativedelta(months=months)


def test_the_day_that_a_month_does_not_have_becomes_its_last():
    assert add_months(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert add_months(date(2024, 2, 29), 12) == date(2025, 2, 28)
    assert month_end(date(2024, 2, 3)) == date(2024, 2, 29)


def test_a_year_off_the_calendar_is_refused():
    with pytest.raises(ValueError, match="months must keep the year within 1 to 9999"):
        add_months(date(2024, 1, 1), 12 * 8000)


@given(made=DAYS, months=st.integers(0, 300), mark=st.sampled_from(["4BA240", "3AA2015", "composite", "3AL3000"]))
def test_a_due_date_is_the_last_of_a_month_and_after_its_base(made, months, mark):
    last = add_months(made, months)
    due = requalify_by(mark, made, last)
    assert due == month_end(due)
    assert due > last or due == remove_by(mark, made)
