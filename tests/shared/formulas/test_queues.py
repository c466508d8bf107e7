import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.formulas import queues
from tests.check_values.references.people import stepped_burst

LOAD = st.floats(0.02, 0.98)
LANES = st.integers(1, 12)


@given(busy=LOAD, lanes=LANES, stay=st.floats(0.5, 30))
def test_as_many_are_there_as_come_in_the_time_that_each_stays(busy, lanes, stay):
    for queue in (
        queues.random_service_queue(busy * lanes / stay, 1 / stay, lanes),
        queues.fixed_service_queue(busy * lanes / stay, stay, lanes),
    ):
        come = busy * lanes / stay
        assert queue.load == pytest.approx(busy)
        assert queue.there == pytest.approx(come * queue.stay, rel=1e-9)
        assert queue.waiting == pytest.approx(come * queue.wait, rel=1e-9, abs=1e-12)
        assert 0.0 <= queue.waits <= 1.0
        assert 0.0 <= queue.empty <= 1.0


@given(busy=LOAD)
def test_one_lane_has_the_closed_forms_of_the_textbooks(busy):
    random, fixed = queues.random_service_queue(busy, 1.0, 1), queues.fixed_service_queue(busy, 1.0, 1)
    assert random.there == pytest.approx(busy / (1 - busy))
    assert fixed.waiting == pytest.approx(busy**2 / (2 * (1 - busy)))
    assert random.waits == pytest.approx(busy)
    assert fixed.waits == pytest.approx(busy)
    assert random.empty == pytest.approx(1 - busy)
    assert fixed.empty == pytest.approx(1 - busy)


@given(busy=st.floats(0.3, 0.95), lanes=LANES)
def test_a_fixed_time_waits_no_less_than_half_of_a_random_one_and_always_less_than_all(busy, lanes):
    random = queues.random_service_queue(busy * lanes, 1.0, lanes).wait
    fixed = queues.fixed_service_queue(busy * lanes, 1.0, lanes).wait
    assert random / 2 * (1 - 1e-6) <= fixed < random


@given(busy=st.floats(0.1, 0.95), lanes=st.integers(1, 11))
def test_one_lane_more_never_makes_people_wait_longer(busy, lanes):
    come = busy * lanes
    for queue in (queues.random_service_queue, queues.fixed_service_queue):
        assert queue(come, 1.0, lanes + 1).wait <= queue(come, 1.0, lanes).wait + 1e-12


@given(offered=st.floats(0.1, 9.5), lanes=st.integers(10, 20))
def test_the_chance_to_wait_is_erlangs_formula_as_it_is_printed(offered, lanes):
    last = offered**lanes / math.factorial(lanes) * lanes / (lanes - offered)
    printed = last / (sum(offered**k / math.factorial(k) for k in range(lanes)) + last)
    assert queues.random_service_queue(offered, 1.0, lanes).waits == pytest.approx(printed)


def test_a_fixed_time_agrees_with_people_followed_one_by_one():
    draw = np.random.default_rng(20260601)
    come, stay, lanes, people = 50 / 60, 3.0, 3, 400_000
    arrivals = np.cumsum(draw.exponential(1 / come, people))
    # With one time for all, lanes free up in the order they were taken: person n takes the lane of person n - lanes.
    starts = np.empty(people)
    for n in range(people):
        starts[n] = max(arrivals[n], starts[n - lanes] + stay) if n >= lanes else arrivals[n]
    waits = (starts - arrivals)[1000:]
    found = queues.fixed_service_queue(come, stay, lanes)
    assert found.wait == pytest.approx(float(waits.mean()), rel=0.03)
    assert found.waits == pytest.approx(float((waits > 1e-9).mean()), rel=0.01)


@settings(max_examples=20)
@given(lanes=st.integers(1, 500))
def test_hundreds_of_lanes_are_no_trouble(lanes):
    for queue in (queues.random_service_queue, queues.fixed_service_queue):
        assert 0.0 <= queue(0.95 * lanes, 1.0, lanes).waits <= 1.0


@pytest.mark.parametrize("come", [3.0, 3.5, 60.0])
def test_where_lanes_cannot_keep_up_there_is_no_mean_and_the_words_point_to_a_burst(come):
    for queue in (queues.random_service_queue, queues.fixed_service_queue):
        with pytest.raises(queues.NoSteadyState, match=r"below 1 \(a ratio\).*no steady state.*surge") as refused:
            queue(come, 1.0, 3)
        assert refused.value.load == pytest.approx(come / 3)


def test_a_burst_grows_by_the_difference_and_drains_at_the_service():
    assert queues.surge(60.0, 1.5, 36.0) == pytest.approx((36.0, 2.5, 1.0))
    assert queues.surge(30.0, 2.0, 30.0) == (0.0, 2.0, 0.0)


@settings(max_examples=10)
@given(arrivals=st.floats(31, 120), duration=st.floats(0.2, 3), service=st.floats(20, 30))
def test_a_burst_is_as_small_steps_in_time_say(arrivals, duration, service):
    assert queues.surge(arrivals, duration, service) == pytest.approx(
        stepped_burst(arrivals, duration, service), rel=5e-3, abs=1e-2 * duration
    )


def test_an_array_of_bursts_gives_what_each_gives():
    service = np.array([20.0, 36.0, 90.0])
    together = queues.surge(60.0, 1.5, service)
    for index, one in enumerate(service):
        alone = queues.surge(60.0, 1.5, float(one))
        assert [part[index] for part in together] == pytest.approx(list(alone))
        assert all(isinstance(part, float) for part in alone)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: queues.load(0.0, 1.0, 1), "arrivals must be above 0"),
        (lambda: queues.load(1.0, math.nan, 1), "service must be above 0"),
        (
            lambda: queues.random_service_queue(1.0, 1.0, 0),
            "lanes must be a whole number of at least 1 and at most 500",
        ),
        (lambda: queues.fixed_service_queue(1.0, 0.0, 2), "service_time must be above 0 time"),
        (
            lambda: queues.fixed_service_queue(1.0, 1.0, 501),
            "lanes must be a whole number of at least 1 and at most 500",
        ),
        (lambda: queues.surge(60.0, 0.0, 30.0), "duration must be above 0 time"),
        (lambda: queues.surge(60.0, 1.0, np.array([])), "service"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
