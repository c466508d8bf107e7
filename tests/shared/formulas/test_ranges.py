import math
from decimal import Decimal

import numpy as np
import pytest

from shared.formulas import beliefs, capacity_sums, electric, greywater, heat, hydraulics, money, queues, reliability
from shared.formulas._ranges import whole, within

NO_NUMBERS = [True, False, None, "3", [3.0], (3.0,), Decimal(3)]
CURVE = [0.0, 5.0, 10.0], [2e-3, 1e-3, 0.0]


@pytest.mark.parametrize("value", NO_NUMBERS)
def test_what_is_no_number_is_refused_by_name_and_range(value):
    with pytest.raises(TypeError, match="flow must be above 0 and at most 9 gpm, got"):
        within("flow", value, 0.0, 9.0, unit="gpm", above=True)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 0.0, 9.1, np.array([]), np.array([1.0, math.nan])])
def test_a_number_outside_its_range_is_refused_by_name_and_range(value):
    with pytest.raises(ValueError, match="flow must be above 0 and at most 9 gpm, got"):
        within("flow", value, 0.0, 9.0, unit="gpm", above=True)


@pytest.mark.parametrize("value", [3, 3.0, np.float64(3), np.float32(3), np.int64(3), np.array(3.0), np.array([3, 9])])
def test_every_way_of_holding_a_number_is_taken(value):
    within("flow", value, 0.0, 9.0, unit="gpm", above=True)


@pytest.mark.parametrize("value", [3, 3.0, np.float64(3), np.int64(3)])
def test_a_whole_number_is_one_however_it_is_held(value):
    assert whole("lanes", value, 1, 5) == 3
    assert isinstance(whole("lanes", value, 1, 5), int)


@pytest.mark.parametrize("value", [*NO_NUMBERS, 0, 6, 2.5, math.nan, math.inf, np.array([3])])
def test_what_is_no_whole_number_of_its_range_is_refused_by_name(value):
    with pytest.raises((TypeError, ValueError), match="lanes must be"):
        whole("lanes", value, 1, 5)


def test_whole_numbers_held_as_numpy_s_give_what_python_s_give():
    assert queues.random_service_queue(30.0, 15.0, np.float64(3)) == queues.random_service_queue(30.0, 15.0, 3)
    assert queues.fixed_service_queue(0.5, 4.0, np.int64(3)) == queues.fixed_service_queue(0.5, 4.0, 3)
    assert reliability.koon(np.float64(2), np.int64(4), 0.9) == reliability.koon(2, 4, 0.9)
    assert heat.supply_water_in_month_k(285.0, 20.0, np.float64(2)) == heat.supply_water_in_month_k(285.0, 20.0, 2)
    assert beliefs.absent_under_gamma(np.int64(2), np.int64(5), np.int64(3), [], 1.0) == (
        beliefs.absent_under_gamma(2.0, 5.0, 3.0, [], 1.0)
    )


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda bad: money.straight_line(bad, 0, 60, 12), "cost"),
        (lambda bad: money.straight_line(1000, 0, bad, 12), "life_months"),
        (lambda bad: money.replacement(1000, bad, 5, 0.02), "inflation"),
        (lambda bad: queues.load(10.0, 15.0, bad), "lanes"),
        (lambda bad: reliability.koon(bad, 4, 0.9), "k"),
        (lambda bad: electric.run_time_s(1e5, 12.0, bad), "load_w"),
        (lambda bad: capacity_sums.whole_number(1.0, bad), "need"),
        (lambda bad: heat.flow_limit(bad, 0.0, 3e-4), "output_w"),
        (lambda bad: hydraulics.hose_content_m3(bad, 30.0), "bore_m"),
        (lambda bad: greywater.pump_on_hose(*CURVE, (), bad), "height_m"),
    ],
)
@pytest.mark.parametrize("bad", ["abc", None, True, math.nan, -math.inf, np.array([])])
def test_formulas_refuse_by_name_what_is_no_number(call, named, bad):
    with pytest.raises((TypeError, ValueError), match=f"{named} must be"):
        call(bad)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_a_likelihood_of_no_number_is_refused(bad):
    history = beliefs.ModeHistory(1, 1.0, ())
    with pytest.raises(ValueError, match="log_rate must be"):
        beliefs.log_likelihood(history, np.array([bad]), np.array([-np.inf]))
    with pytest.raises(ValueError, match="logit_demand must be"):
        beliefs.log_likelihood(history, np.array([0.0]), np.array([bad]))
