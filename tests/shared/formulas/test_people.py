import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import people
from shared.units import from_si, to_si

CYCLE = st.floats(0.5, 30)


def test_ninety_seconds_and_thirty_of_hand_over_make_thirty_an_hour_a_lane():
    cycle = people.cycle_min(1.5, 0.5)
    assert cycle == 2.0
    assert people.throughput_per_hour(1, cycle) == 30.0
    assert people.throughput_per_hour(2, cycle) == 60.0
    assert people.mean_flow_share(1.5, 0.5) == 0.75


def test_five_minutes_wet_make_under_twenty_two_an_hour_from_two_lanes():
    assert people.throughput_per_hour(2, people.cycle_min(5.0, 0.5)) == pytest.approx(21.8, abs=0.05)


@pytest.mark.parametrize(("asked", "lanes"), [(0, 0), (1, 1), (30, 1), (31, 2), (60, 2), (60.1, 3)])
def test_lanes_are_whole(asked, lanes):
    assert people.lanes_for(asked, 2.0) == lanes


@given(lanes=st.integers(0, 40), cycle=CYCLE)
def test_the_rate_of_some_lanes_needs_just_those_lanes(lanes, cycle):
    assert people.lanes_for(people.throughput_per_hour(lanes, cycle), cycle) == lanes


@given(asked=st.floats(0, 500), cycle=CYCLE)
def test_the_lanes_found_carry_the_rate_and_one_fewer_does_not(asked, cycle):
    lanes = people.lanes_for(asked, cycle)
    assert people.throughput_per_hour(lanes, cycle) >= asked - 1e-6
    assert lanes == 0 or people.throughput_per_hour(lanes - 1, cycle) < asked


def test_an_array_of_lanes_washes_what_each_number_does():
    assert people.throughput_per_hour(np.array([0.0, 1.0, 2.0]), 4.0).tolist() == [0.0, 15.0, 30.0]


def test_two_side_by_side_in_a_lane_pass_twice_as_many():
    assert people.throughput_per_hour(3, 6.5, positions=2) == pytest.approx(55.385, abs=1e-3)


@given(share=st.floats(0, 1), walking=st.floats(1, 100), carried=st.floats(1, 100))
def test_neither_stage_falls_behind_the_party(share, walking, carried):
    rate = people.party_per_hour(share, walking, carried)
    assert rate * share <= walking * (1 + 1e-9)
    assert rate * (1 - share) <= carried * (1 + 1e-9)
    assert max(rate * share / walking, rate * (1 - share) / carried) == pytest.approx(1.0)


def test_a_party_that_all_walks_needs_no_lane_for_those_who_are_carried():
    assert people.party_per_hour(1.0, 60.0, 0.0) == 60.0
    assert people.party_per_hour(0.0, 0.0, 10.0) == 10.0
    assert people.party_per_hour(0.9, 60.0, 0.0) == 0.0


@given(share=st.floats(0, 1), walking=CYCLE, carried=CYCLE)
def test_a_mean_cycle_lies_between_the_two(share, walking, carried):
    low, high = sorted((walking, carried))
    assert low - 1e-9 <= people.mixed_cycle_min(share, walking, carried) <= high + 1e-9


def test_one_persons_warm_water_takes_500_btu_a_gallon_a_minute_by_degree():
    # 15 gal by 50 degF: 500/60 x 15 x 50 = 6,250 BTU.
    found = people.heat_per_person_j(to_si(15.0, "gal"), to_si(50.0, "ddegF"))
    assert from_si(found, "BTU") == pytest.approx(6250.0)


@given(stock=st.floats(0, 1e4), each=st.floats(0.1, 50), rate=st.floats(0, 1), over=st.floats(0, 1e5))
def test_a_stock_serves_just_those_it_has_enough_for(stock, each, rate, over):
    assert people.people_served(stock, each, rate, over) * each == pytest.approx(stock + rate * over)


def test_what_nobody_takes_holds_nobody_back():
    assert people.people_served(0.0, 0.0) == math.inf


def test_the_least_of_the_means_binds_and_the_next_is_named():
    assert people.binding({"water": 160.0, "heat": 76.8, "waste": 66.7}) == ("waste", 66.7, "heat", 76.8)
    assert people.binding({"water": 160.0}) == ("water", 160.0, None, math.inf)


def test_of_equal_means_the_first_binds():
    assert people.binding({"lanes": 60.0, "water": 60.0}).by == "lanes"


@given(st.dictionaries(st.text(min_size=1), st.floats(0, 1e6), min_size=1, max_size=8))
def test_nothing_is_less_than_what_binds(limits):
    found = people.binding(limits)
    assert found.people == limits[found.by] == min(limits.values())
    assert found.next_people >= found.people


@pytest.mark.parametrize(("lanes", "crew"), [(0, 6), (1, 6), (2, 10), (3, 10), (4, 12), (6, 16)])
def test_crew_is_that_of_the_next_larger_number_in_the_table_and_grows_beyond_it(lanes, crew):
    assert people.crew_for(lanes, {1: 6, 3: 10}) == crew


@pytest.mark.parametrize(
    "formula",
    [
        lambda x: people.party_per_hour(x, 60.0, 10.0),
        lambda x: people.mixed_cycle_min(x, 2.0, 10.0),
        lambda x: people.heat_per_person_j(x, 30.0),
        lambda x: people.people_served(x, 2.0, 0.1, 60.0),
        lambda x: people.people_served(5.0, x),
    ],
)
def test_an_array_gives_what_each_of_its_numbers_gives(formula):
    values = np.array([0.0, 0.25, 1.0])
    each = [formula(float(value)) for value in values]
    assert all(isinstance(one, float) for one in each)
    assert formula(values) == pytest.approx(each)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: people.cycle_min(0.0, 0.5), "wet_min must be above 0 min"),
        (lambda: people.cycle_min(1.5, -0.5), "handover_min must be at least 0 min"),
        (lambda: people.throughput_per_hour(-1, 2.0), "lanes must be at least 0 lanes"),
        (lambda: people.throughput_per_hour(1, 0.0), "cycle_min must be above 0 min"),
        (lambda: people.lanes_for(math.nan, 2.0), "people_per_hour"),
        (lambda: people.mean_flow_share(math.inf, 1.0), "wet_min"),
        (lambda: people.throughput_per_hour(1, 2.0, 0.0), "positions must be above 0 positions"),
        (lambda: people.party_per_hour(1.2, 60.0, 10.0), "walking_share must be at least 0 and at most 1"),
        (lambda: people.party_per_hour(0.5, 60.0, -1.0), "carried_per_hour must be at least 0 1/h"),
        (lambda: people.mixed_cycle_min(0.5, 0.0, 5.0), "walking_min must be above 0 min"),
        (lambda: people.heat_per_person_j(0.05, -1.0), "rise_k must be at least 0 K"),
        (lambda: people.people_served(-1.0, 1.0), "stock must be at least 0"),
        (lambda: people.people_served(np.array([]), 1.0), "stock"),
        (lambda: people.binding({}), "people must hold at least one"),
        (lambda: people.binding({"water": math.nan}), "people.'water'. must be at least 0"),
        (lambda: people.crew_for(2, {}), "table must hold at least one"),
        (lambda: people.crew_for(-1, {1: 6}), "lanes must be at least 0 lanes"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
