import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import people

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


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: people.cycle_min(0.0, 0.5), "wet_min must be above 0 min"),
        (lambda: people.cycle_min(1.5, -0.5), "handover_min must be at least 0 min"),
        (lambda: people.throughput_per_hour(-1, 2.0), "lanes must be at least 0 lanes"),
        (lambda: people.throughput_per_hour(1, 0.0), "cycle_min must be above 0 min"),
        (lambda: people.lanes_for(math.nan, 2.0), "people_per_hour"),
        (lambda: people.mean_flow_share(math.inf, 1.0), "wet_min"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
