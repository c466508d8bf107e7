from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import dates
from shared.formulas.dates import Star, add_months, month_end, months_between, remove_by, requalify_by

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


@pytest.mark.parametrize("mark", ["", "3E1800", "4L200", "unknown", "4", "3"])
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


@pytest.mark.parametrize("mark", ["3B", "3BN480", "3T", "4AA480", "4D500", "4DA500", "DOT-4DS"])
def test_specifications_with_one_interval_are_due_in_five_years(mark):
    assert requalify_by(mark, MADE, date(2020, 2, 10), "*") == date(2025, 2, 28)


def test_a_light_cylinder_of_the_3ht_kind_is_due_in_three_years_and_lives_24():
    assert requalify_by("3HT1850", MADE, date(2020, 2, 10)) == date(2023, 2, 28)
    assert remove_by("3HT1850", MADE) == date(2038, 6, 30)


def test_another_gas_or_a_lost_coating_takes_propane_s_twelve_years():
    assert requalify_by("4BA240", MADE, None, clean_and_coated=False) == date(2019, 6, 30)
    assert requalify_by("4BA240", MADE, date(2020, 1, 1), "", clean_and_coated=False) == date(2025, 1, 31)
    assert requalify_by("3AA2015", MADE, None, clean_and_coated=False) == date(2019, 6, 30)


def test_a_star_on_a_cylinder_made_before_1946_gives_five_years():
    assert requalify_by("3AA2015", date(1945, 12, 31), date(2020, 1, 1), "*") == date(2025, 1, 31)
    assert requalify_by("3AA2015", date(1946, 1, 1), date(2020, 1, 1), "*") == date(2030, 1, 31)


GOOD_STAR = Star(50.0, "Air", off_the_rack=True, underwater=False, dried=True)


def test_ten_years_stand_where_nothing_known_is_against_them():
    assert dates.star_objections("3AA2015", MADE, GOOD_STAR) == ()
    assert dates.star_objections("3A1800", None, Star()) == ()
    found = dates.cylinder_dates("3AA2015", MADE, date(2020, 1, 1), "*", star=GOOD_STAR)
    assert (found.no_refill_after, found.years) == (date(2030, 1, 31), 10)


@pytest.mark.parametrize(
    ("against", "words"),
    [
        ({"water_capacity_kg": 57.0}, "more than 125 lb of water"),
        ({"gas": "chlorine"}, "chlorine is not on the list"),
        ({"off_the_rack": False}, "filled in its rack"),
        ({"underwater": True}, "used for breathing under water"),
        ({"dried": False}, "not dried after its water test"),
    ],
)
def test_one_fact_against_the_star_takes_its_ten_years_and_is_named(against, words):
    star = GOOD_STAR._replace(**against)
    assert dates.star_objections("3AA2015", MADE, star) == (words,)
    found = dates.cylinder_dates("3AA2015", MADE, date(2020, 1, 1), "*", star=star)
    assert (found.no_refill_after, found.years) == (date(2025, 1, 31), 5)


def test_the_star_is_for_steel_of_the_3a_kinds_alone():
    assert dates.star_objections("3AL3000", MADE, GOOD_STAR) == ("only 3A and 3AA may bear it",)


def test_a_permit_with_its_test_may_carry_a_composite_past_fifteen_years():
    assert remove_by("composite", MADE, life_years=20) == date(2034, 6, 30)
    assert requalify_by("composite", MADE, date(2029, 6, 1), life_years=20) == date(2034, 6, 30)
    assert remove_by("4BA240", MADE, life_years=20) is None
    with pytest.raises(ValueError, match="life_years must be 15 to 30 years"):
        remove_by("composite", MADE, life_years=31)


@given(
    made=DAYS,
    months=st.integers(0, 300),
    mark=st.sampled_from(["4BW240", "3AA2015", "composite", "3AL3000", "3E", ""]),
    suffix=st.sampled_from(["", "S", "E", "*", "+", "VE"]),
)
def test_both_dates_are_told_as_each_is_alone(made, months, mark, suffix):
    last = add_months(made, months)
    found = dates.cylinder_dates(mark, made, last, suffix)
    assert found.no_refill_after == requalify_by(mark, made, last, suffix)
    assert found.remove_by == remove_by(mark, made)
    assert found.clause
    assert (found.years is None) == (found.no_refill_after is None)


@given(start=DAYS, months=st.integers(0, 600))
def test_what_is_due_in_a_month_is_due_on_its_last_day(start, months):
    due = dates.due_month(start, months)
    assert due + timedelta(days=1) == (start + relativedelta(months=months + 1)).replace(day=1)


@given(first=DAYS, last=DAYS)
def test_months_between_two_days_agree_with_an_independent_calendar(first, last):
    apart = relativedelta(last, first)
    whole = 12 * apart.years + apart.months
    assert abs(months_between(first, last) - whole) <= 1
    if last >= first:
        assert int(months_between(first, last)) == whole


@given(first=DAYS, months=st.integers(0, 400))
def test_months_added_are_months_between(first, months):
    assert months_between(first, add_months(first, months)) == months


@given(first=DAYS, a=DAYS, b=DAYS)
def test_a_later_day_is_never_fewer_months_away(first, a, b):
    sooner, later = sorted((a, b))
    assert months_between(first, sooner) <= months_between(first, later)


LEAP = date(2024, 2, 29)


def test_a_supply_goes_by_its_printed_date_and_else_by_its_kind():
    assert dates.shelf_life("Gloves", LEAP, None).use_by == date(2027, 2, 28)
    assert dates.shelf_life("gloves", LEAP, date(2030, 1, 31)) == (date(2030, 1, 31), "printed date")
    assert dates.shelf_life("gloves", LEAP, None, months=48).use_by == date(2028, 2, 29)
    assert dates.shelf_life("bleach mix", LEAP, None).use_by == date(2024, 3, 1)


def test_a_missing_date_is_named_and_never_made_up():
    for told in (dates.shelf_life("gloves", None, None), dates.shelf_life("tarpaulin", LEAP, None)):
        assert told.use_by is None
        assert "no printed date" in told.basis
    assert all(life.source for life in dates.SHELF_LIVES.values())


def test_the_least_of_calendar_hours_and_date_ends_a_life():
    begun, on = date(2020, 2, 29), date(2026, 2, 28)
    assert dates.remaining_life(begun, on, 10) == (6.0, 4.0, 0.4, "calendar")
    assert dates.remaining_life(begun, on, 10, hours_left=100, hours_per_year=50).ends_by == "hours"
    assert dates.remaining_life(begun, on, 10, ends=date(2026, 8, 28)) == (6.0, 0.5, 0.05, "date")
    assert dates.remaining_life(begun, on, 5) == (6.0, 0.0, 0.0, "calendar")


@given(begun=DAYS, days=st.integers(0, 20000), life=st.floats(0.5, 50))
def test_age_and_what_is_left_make_the_life(begun, days, life):
    left = dates.remaining_life(begun, begun + timedelta(days=days), life)
    assert left.remaining_years == pytest.approx(max(0.0, life - left.age_years))
    assert 0 <= left.remaining_share <= 1


@pytest.mark.parametrize(
    ("day", "first_month", "year"),
    [
        (date(2029, 9, 30), 10, 2029),
        (date(2029, 10, 1), 10, 2030),
        (date(2029, 12, 31), 1, 2029),
        (date(2030, 1, 1), 7, 2030),
        (date(2030, 7, 1), 7, 2031),
    ],
)
def test_a_budget_year_is_named_for_the_year_in_which_it_ends(day, first_month, year):
    assert dates.fiscal_year(day, first_month) == year


def test_equipment_is_replaced_at_the_end_of_its_life_or_on_the_day_a_rule_ends_it():
    assert dates.replace_by(LEAP, 12) == date(2025, 2, 28)
    assert dates.replace_by(LEAP, 240, date(2039, 2, 28)) == date(2039, 2, 28)
    assert dates.replace_by(LEAP, 12, date(2039, 2, 28)) == date(2025, 2, 28)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: dates.due_month(LEAP, -1), "months must be at least 0 month"),
        (lambda: dates.shelf_life("gloves", LEAP, None, months=0), "months must be at least 1 month"),
        (lambda: dates.star_objections("3AA", MADE, Star(0.0)), "water_capacity_kg must be above 0 kg"),
        (lambda: dates.remaining_life(LEAP, date(2024, 2, 28), 10), "on must not be before in_service"),
        (lambda: dates.remaining_life(LEAP, LEAP, 0), "life_years must be above 0 year"),
        (lambda: dates.remaining_life(LEAP, LEAP, float("nan")), "life_years must be above 0 year"),
        (lambda: dates.remaining_life(LEAP, LEAP, 5, hours_left=10), "hours_per_year must be above 0 h/year"),
        (
            lambda: dates.remaining_life(LEAP, LEAP, 5, hours_left=-1, hours_per_year=1),
            "hours_left must be at least 0 h",
        ),
        (lambda: dates.replace_by(LEAP, 0), "life_months must be at least 1 month"),
        (lambda: dates.fiscal_year(LEAP, 13), "first_month must be at least 1 and at most 12 month"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
