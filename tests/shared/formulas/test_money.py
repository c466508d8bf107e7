import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import money

DOLLARS = st.decimals(0, 1_000_000, places=2)
CENT = Decimal("0.01")


def test_asset_a_of_the_regulation_is_half_a_year_old():
    assert money.straight_line(1600, 0, 48, 6) == (Decimal(400), Decimal(200), Decimal(1400))


def test_nothing_is_written_off_past_the_end_of_its_life():
    assert money.straight_line(24500, 2500, 120, 121) == money.straight_line(24500, 2500, 120, 9999)
    assert money.straight_line(24500, 2500, 120, 120).book == 2500


def test_a_third_of_a_dollar_is_rounded_once_at_the_end():
    # Month by month 277.78 would make 3,333.36 in the year.
    assert money.straight_line(10000, 0, 36, 12).accumulated == Decimal("3333.33")
    assert money.straight_line(Decimal("0.01"), 0, 2, 1).accumulated == CENT


@given(cost=DOLLARS, share=st.floats(0, 1), life=st.integers(1, 600), a=st.integers(0, 700), b=st.integers(0, 700))
def test_the_book_value_falls_from_cost_to_salvage_and_adds_up(cost, share, life, a, b):
    salvage = (cost * Decimal(str(round(share, 4)))).quantize(CENT, rounding="ROUND_DOWN")
    sooner, later = (money.straight_line(cost, salvage, life, months) for months in sorted((a, b)))
    assert cost >= sooner.book >= later.book >= salvage
    assert later.book + later.accumulated == cost
    assert money.straight_line(cost, salvage, life, 0).book == cost
    assert money.straight_line(cost, salvage, life, life).book == salvage


@given(costs=st.lists(st.integers(1, 100000), min_size=1, max_size=5), life=st.integers(1, 40))
def test_things_of_one_life_have_one_rate_whatever_they_cost(costs, life):
    found = money.composite_rate(costs, [life] * len(costs), Decimal("0.25"))
    assert float(found.rate) == pytest.approx(1 / life)
    assert float(found.net_of_salvage) == pytest.approx(0.75 / life)


@given(
    cost=st.integers(100, 1_000_000),
    inflation=st.floats(-0.05, 0.2),
    years=st.integers(1, 40),
    interest=st.floats(-0.05, 0.2),
    saved=st.integers(0, 200_000),
)
def test_the_deposits_grow_to_the_cost(cost, inflation, years, interest, saved):
    found = money.replacement(cost, inflation, years, interest, saved)
    kept = float(saved)
    for _ in range(years):
        kept = kept * (1 + interest) + float(found.annual_deposit)
    assert kept >= float(found.future_cost) - 0.01 * years * (1 + abs(interest)) ** years
    if found.annual_deposit:
        assert kept == pytest.approx(float(found.future_cost), abs=0.01 * years * (1 + abs(interest)) ** years)


def test_without_interest_the_cost_is_shared_evenly_and_next_to_none_is_as_good_as_none():
    assert money.replacement(9000, 0, 6, 0) == (Decimal(9000), Decimal(1500))
    assert money.replacement(9000, 0, 6, 1e-15) == money.replacement(9000, 0, 6, 0)
    assert money.replacement(9000, 0, 6, 1e-8).annual_deposit == Decimal(1500)


def test_who_has_saved_enough_sets_nothing_aside():
    assert money.replacement(9000, 0, 6, Decimal("0.02"), 9000).annual_deposit == 0


def test_a_float_is_taken_as_it_is_written():
    assert money.straight_line(0.1 + 0.2, 0, 1, 0).book == Decimal("0.30")
    assert money.replacement(1000.10, 0, 1, 0).future_cost == Decimal("1000.10")


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: money.straight_line(-1, 0, 12, 0), r"cost must be at least 0 and at most 1000000000000 \$"),
        (lambda: money.straight_line(math.nan, 0, 12, 0), "cost must be at least 0"),
        (lambda: money.straight_line(Decimal("Infinity"), 0, 12, 0), "cost must be at least 0"),
        (lambda: money.straight_line(100, 101, 12, 0), r"salvage must be at least 0 and at most 100 \$"),
        (lambda: money.straight_line(100, 0, 0, 0), "life_months must be a whole number of at least 1"),
        (lambda: money.straight_line(100, 0, 12, 1.5), "months_elapsed must be a whole number of at least 0"),
        (lambda: money.straight_line(100, 0, 12, math.inf), "months_elapsed must be a whole number of at least 0"),
        (lambda: money.composite_rate([], []), "costs must hold at least one cost and lives_years as many"),
        (lambda: money.composite_rate([1, 2], [5]), "costs must hold at least one cost and lives_years as many"),
        (lambda: money.composite_rate([0], [5]), "costs must be above 0"),
        (lambda: money.composite_rate([1], [0]), "lives_years must be above 0 year"),
        (lambda: money.composite_rate([1], [5], 1.5), "salvage must be at least 0 and at most 1 ratio"),
        (lambda: money.replacement(100, -1, 5, 0), "inflation must be above -1 and at most 1 ratio/year"),
        (lambda: money.replacement(100, 0, 0, 0), "years must be above 0 and at most 100 year"),
        (lambda: money.replacement(100, 0, 5, 2), "interest must be above -1 and at most 1 ratio/year"),
        (lambda: money.replacement(100, 0, 5, 0, -1), "saved must be at least 0"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
