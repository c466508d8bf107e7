import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import greywater, hydraulics
from shared.formulas.hydraulics import Fitting, Hose
from shared.units import from_si, to_si
from tests.check_values.references.greywater import BERMS, stepped

FLOW = st.floats(1e-5, 2e-3)
VOLUME = st.floats(1e-3, 2.0)
HEADS, FLOWS = [0.0, 2.0, 4.0, 6.0], [2e-3, 1.6e-3, 1e-3, 0.0]


def gallons(*values: float) -> list[float]:
    return [to_si(value, "gal") for value in values]


def test_a_slope_of_two_in_a_hundred_over_ten_feet_takes_2_4_inches():
    wall, none = to_si(6.0, "in"), 0.0
    depth = greywater.usable_depth_m(wall, none, 0.02, to_si(10.0, "ft"))
    assert from_si(wall - depth, "in") == pytest.approx(2.4)


@given(wall=st.floats(0.01, 1), dry=st.floats(0, 1), slope=st.floats(0, 0.2), across=st.floats(0, 10))
def test_usable_depth_is_never_negative_and_never_above_the_wall(wall, dry, slope, across):
    assert 0.0 <= greywater.usable_depth_m(wall, dry, slope, across) <= wall


def test_gear_that_fills_a_berm_leaves_nothing():
    assert greywater.berm_capacity_m3(2.0, 2.0, 0.1, 0.5) == 0.0


def test_a_bladder_above_its_limit_has_no_room():
    assert greywater.bladder_room_m3(0.5, 0.9, 0.46) == 0.0
    assert greywater.bladder_room_m3(0.5, 0.9, 0.4) == pytest.approx(0.05)


@given(room=VOLUME, inflow=FLOW, outflow=FLOW)
def test_a_room_that_fills_is_full_when_it_says_and_one_that_loses_never_is(room, inflow, outflow):
    time = greywater.fill_time_s(room, inflow, outflow)
    if outflow >= inflow:
        assert time == math.inf
    else:
        assert (inflow - outflow) * time == pytest.approx(room)


def test_a_square_foot_and_an_inch_of_rain_is_0_623_gallons():
    rain = greywater.waste_m3(0.0, to_si(1.0, "ft2"), to_si(1.0, "in"))
    assert from_si(rain, "gal") == pytest.approx(0.623, abs=5e-4)


@given(water=VOLUME, rain=st.floats(0, 0.2), soap=st.floats(0, 0.1))
def test_waste_is_never_less_than_the_water_used(water, rain, soap):
    assert greywater.waste_m3(water, 9.0, rain, soap) >= water


@given(volume=VOLUME, pump=FLOW, share=st.floats(0.01, 0.99))
def test_over_a_cycle_the_pump_moves_what_ran_in(volume, pump, share):
    cycle = greywater.sump_cycle(volume, share * pump, pump)
    assert pump * cycle.on_s == pytest.approx(share * pump * (cycle.on_s + cycle.off_s))
    assert cycle.duty == pytest.approx(share)
    assert cycle.starts_per_s == pytest.approx(1 / (cycle.on_s + cycle.off_s))
    assert not cycle.overflows


@given(volume=VOLUME, pump=FLOW, more=st.floats(1, 5))
def test_a_pump_that_does_not_gain_overflows_and_nothing_is_divided(volume, pump, more):
    cycle = greywater.sump_cycle(volume, more * pump, pump)
    assert cycle == (math.inf, 0.0, 0.0, 1.0, True)


def test_a_sump_without_inflow_does_not_cycle():
    cycle = greywater.sump_cycle(0.1, 0.0, 1e-3)
    assert (cycle.starts_per_s, cycle.duty, cycle.off_s) == (0.0, 0.0, math.inf)


@given(pump=FLOW, starts=st.floats(1e-4, 1e-2), share=st.floats(0.01, 0.99))
def test_a_sump_of_the_least_volume_never_starts_more_often_than_it_may(pump, starts, share):
    least = greywater.sump_least_m3(pump, starts)
    assert greywater.sump_cycle(least, share * pump, pump).starts_per_s <= starts * (1 + 1e-9)
    assert greywater.sump_cycle(least, pump / 2, pump).starts_per_s == pytest.approx(starts)


@given(shutoff=st.floats(1e4, 5e5), static=st.floats(0, 5e5), droop=st.floats(1e8, 1e12), hose=st.floats(0, 1e12))
def test_a_pump_gives_at_its_outlet_what_the_hose_asks(shutoff, static, droop, hose):
    found = greywater.pump_operating_point(shutoff, droop, static, hose)
    if static >= shutoff:
        assert found == (0.0, shutoff)
    else:
        assert found.outlet_pa == pytest.approx(static + hose * found.flow_m3_s**2, abs=1e-3)


def test_a_pump_stands_on_its_curve_between_the_points_and_never_beyond_them():
    assert greywater.pump_flow_m3_s(3.0, HEADS, FLOWS) == pytest.approx(1.3e-3)
    assert greywater.pump_flow_m3_s(7.0, HEADS, FLOWS) == 0.0
    # A curve that begins at a head is not drawn out to free flow.
    assert greywater.pump_flow_m3_s(0.0, [1.0, 4.0], [1.5e-3, 0.0]) == 1.5e-3


@given(height=st.floats(0, 5.5), length=st.floats(0, 60))
def test_a_pump_on_its_hose_gives_less_than_its_curve_says_for_the_lift_alone(height, length):
    run = [Hose(to_si(1.5, "in"), length)]
    found = greywater.pump_on_hose(HEADS, FLOWS, run, height)
    assert 0 < found.flow_m3_s <= greywater.pump_flow_m3_s(height, HEADS, FLOWS) * (1 + 1e-9)
    asked = hydraulics.elevation_pa(height) + hydraulics.run_loss_pa(run, found.flow_m3_s)
    assert found.outlet_pa == pytest.approx(asked, rel=1e-6)
    assert greywater.pump_flow_m3_s(asked / hydraulics.elevation_pa(1.0), HEADS, FLOWS) == pytest.approx(
        found.flow_m3_s, rel=1e-6
    )


def test_a_pump_that_cannot_lift_stands_at_its_shut_off_pressure():
    found = greywater.pump_on_hose(HEADS, FLOWS, [Hose(0.038, 10.0)], 6.5)
    assert found == (0.0, hydraulics.elevation_pa(1.0) * 6.0)


def test_a_fitting_on_the_discharge_costs_flow():
    free = greywater.pump_on_hose(HEADS, FLOWS, [Hose(0.038, 10.0)], 1.0)
    fitted = greywater.pump_on_hose(HEADS, FLOWS, [Hose(0.038, 10.0)], 1.0, [Fitting(2e4, 1e-3)])
    assert fitted.flow_m3_s < free.flow_m3_s


@pytest.mark.parametrize("row", BERMS)
def test_a_berm_runs_as_small_steps_in_time_say(row):
    inflow, pump, *volumes, hours = row
    flows = to_si(inflow, "gpm"), to_si(pump, "gpm")
    found = greywater.berm_run(*flows, *gallons(*volumes), to_si(hours, "h"))
    steps = stepped(*flows, *gallons(*volumes), to_si(hours, "h"))
    assert [found.overflow_s, found.bladder_full_s, found.pump_s] == pytest.approx(steps, rel=1e-3)


@given(
    inflow=st.floats(0, 1e-3),
    pump=st.floats(0, 2e-3),
    start=st.floats(0.02, 0.35),
    stop=st.floats(0, 0.9),
    room=st.floats(0, 1),
    over=st.floats(60, 20_000),
)
def test_no_water_is_lost_between_berm_and_bladder(inflow, pump, start, stop, room, over):
    found = greywater.berm_run(inflow, pump, 0.4, start, stop * start, room, over)
    ended = min(found.overflow_s, over)
    assert found.berm_m3 + found.bladder_m3 == pytest.approx(inflow * ended, rel=1e-6, abs=1e-9)
    assert found.bladder_m3 == pytest.approx(pump * found.pump_s, rel=1e-6, abs=1e-9)
    assert -1e-9 <= found.berm_m3 <= 0.4 + 1e-9
    assert found.bladder_m3 <= room + 1e-9
    if math.isinf(found.overflow_s) and math.isinf(found.bladder_full_s):
        assert found.first is None
    else:
        assert found.first == ("berm" if found.overflow_s < found.bladder_full_s else "bladder")


def test_a_pump_that_gains_keeps_the_berm_near_empty_until_the_bladder_is_full():
    berm, start, stop, room = gallons(100.0, 20.0, 5.0, 500.0)
    found = greywater.berm_run(to_si(8.0, "gpm"), to_si(20.0, "gpm"), berm, start, stop, room, 3600.0)
    assert found.first is None
    assert found.berm_m3 <= start
    assert found.starts == 19  # one at 2.5 min, then one each 3.125 min for an hour


def test_without_a_bladder_the_pump_never_starts():
    berm, start, stop = gallons(100.0, 20.0, 5.0)
    found = greywater.berm_run(to_si(8.0, "gpm"), to_si(20.0, "gpm"), berm, start, stop, 0.0, 3600.0)
    assert (found.starts, found.bladder_full_s, found.first) == (0, 0.0, "bladder")
    assert from_si(found.overflow_s, "min") == pytest.approx(12.5)


@pytest.mark.parametrize(
    "formula",
    [
        lambda x: greywater.usable_depth_m(x, 0.02, 0.01, 3.0),
        lambda x: greywater.berm_capacity_m3(x, 2.0, 0.1, 0.05),
        lambda x: greywater.bladder_room_m3(x, 0.9, 0.2),
        lambda x: greywater.fill_time_s(x, 1e-3, 4e-4),
        lambda x: greywater.waste_m3(x, 9.0, 0.01),
        lambda x: greywater.sump_least_m3(x, 1e-3),
        lambda x: greywater.pump_flow_m3_s(x, HEADS, FLOWS),
    ],
)
def test_an_array_gives_what_each_of_its_numbers_gives(formula):
    values = np.array([0.05, 0.3, 2.5])
    each = [formula(float(value)) for value in values]
    assert all(isinstance(one, float) for one in each)
    assert formula(values) == pytest.approx(each)


def test_rooms_and_flows_may_both_be_arrays():
    times = greywater.fill_time_s(np.array([1.0, 1.0, 1.0]), np.array([2.0, 1.0, 0.5]), 1.0)
    assert times.tolist() == [1.0, math.inf, math.inf]


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: greywater.usable_depth_m(0.0, 0.0, 0.0, 1.0), "wall_m must be above 0 m"),
        (lambda: greywater.usable_depth_m(0.3, 0.0, 2.0, 1.0), "slope must be at least 0 and at most 1"),
        (lambda: greywater.berm_capacity_m3(3.0, -1.0, 0.1), "width_m must be above 0 m"),
        (lambda: greywater.berm_capacity_m3(3.0, 1.0, math.nan), "depth_m must be at least 0 m"),
        (lambda: greywater.bladder_room_m3(0.5, 90.0), "fill_limit must be at least 0 and at most 1"),
        (lambda: greywater.fill_time_s(1.0, -1e-4), "inflow_m3_s must be at least 0 m3/s"),
        (lambda: greywater.fill_time_s(np.array([]), 1e-4), "room_m3"),
        (lambda: greywater.waste_m3(1.0, 1.0, math.inf), "rain_m must be at least 0 m"),
        (lambda: greywater.sump_cycle(0.0, 1e-4, 1e-3), "working_m3 must be above 0 m3"),
        (lambda: greywater.sump_cycle(0.1, 1e-4, 0.0), "pump_m3_s must be above 0 m3/s"),
        (lambda: greywater.sump_least_m3(1e-3, 0.0), "starts_per_s must be above 0 1/s"),
        (lambda: greywater.pump_operating_point(1e5, 0.0, 1e4, 0.0), "droop . resistance must be above 0"),
        (lambda: greywater.pump_flow_m3_s(-1.0, HEADS, FLOWS), "head_m must be at least 0 m"),
        (lambda: greywater.pump_flow_m3_s(1.0, [0.0], [1.0]), "hold at least 2 points"),
        (lambda: greywater.pump_flow_m3_s(1.0, [0.0, 2.0], [0.0, 1.0]), "curve_head_m must rise"),
        (lambda: greywater.berm_run(1e-4, 1e-3, 0.4, 0.5, 0.0, 1.0, 60.0), "berm_m3 must be above 0.5 m3"),
        (lambda: greywater.berm_run(1e-4, 1e-3, 0.4, 0.1, 0.1, 1.0, 60.0), "start_m3 must be above 0.1 m3"),
        (lambda: greywater.berm_run(1e-3, 1e-3, 0.4, 1e-6, 0.0, 1e3, 1e6), "starts of the pump must be at least 0"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
