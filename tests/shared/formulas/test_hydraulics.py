import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import hydraulics
from shared.formulas.hydraulics import Fitting, Hose
from shared.units import from_si, to_si

FLOW = st.floats(0, 2e-3)
BORE = st.floats(0.008, 0.08)
BORE_34 = to_si(0.75, "in")
K_1_GPM = to_si(1.0, "gpm") / math.sqrt(to_si(1.0, "psi"))


def test_eight_gallons_a_minute_through_fifty_feet_of_three_quarter_inch():
    # By hand: 4.52 * 8^1.85 / (140^1.85 * 0.75^4.87) * 50 = 4.60 psi.
    found = hydraulics.hazen_williams_pa(to_si(8.0, "gpm"), BORE_34, to_si(50.0, "ft"))
    assert from_si(found, "psi") == pytest.approx(4.60, abs=0.01)


def test_a_foot_of_cold_water_is_0433_psi():
    assert from_si(hydraulics.elevation_pa(to_si(1.0, "ft")), "psi") == pytest.approx(0.433, abs=0.0005)
    assert hydraulics.elevation_pa(-2.0) == -hydraulics.elevation_pa(2.0)


@given(a=FLOW, b=FLOW, bore=BORE, length=st.floats(0, 100))
def test_more_flow_never_costs_less(a, b, bore, length):
    low, high = sorted((a, b))
    assert hydraulics.hazen_williams_pa(low, bore, length) <= hydraulics.hazen_williams_pa(high, bore, length)


@given(flow=FLOW, a=BORE, b=BORE)
def test_a_wider_hose_never_costs_more(flow, a, b):
    narrow, wide = sorted((a, b))
    assert hydraulics.hazen_williams_pa(flow, wide, 10.0) <= hydraulics.hazen_williams_pa(flow, narrow, 10.0)


@given(flow=FLOW, lengths=st.lists(st.floats(0, 50), min_size=1, max_size=4))
def test_hoses_end_to_end_cost_what_one_of_their_length_costs(flow, lengths):
    run = [Hose(BORE_34, length) for length in lengths]
    whole = hydraulics.hazen_williams_pa(flow, BORE_34, sum(lengths))
    assert hydraulics.run_loss_pa(run, flow) == pytest.approx(whole, rel=1e-9, abs=1e-9)


def test_no_flow_costs_nothing():
    assert hydraulics.hazen_williams_pa(0.0, BORE_34, 15.0) == 0.0


def test_an_array_of_flows_costs_what_each_costs():
    flows = np.array([0.0, 1e-4, 5e-4])
    assert hydraulics.hazen_williams_pa(flows, BORE_34, 15.0) == pytest.approx(
        [hydraulics.hazen_williams_pa(float(flow), BORE_34, 15.0) for flow in flows]
    )


@given(supply=st.floats(5e4, 1e6), length=st.floats(0, 100), k=st.floats(0.2, 5), height=st.floats(-10, 4))
def test_at_the_operating_point_all_the_pressure_is_spent(supply, length, k, height):
    run = [Hose(BORE_34, length)]
    found = hydraulics.operating_point(supply, run, k * K_1_GPM, height)
    spent = hydraulics.elevation_pa(height) + hydraulics.run_loss_pa(run, found.flow_m3_s) + found.head_pa
    assert spent == pytest.approx(supply, rel=1e-5)
    assert hydraulics.spray_flow_m3_s(k * K_1_GPM, found.head_pa) == pytest.approx(found.flow_m3_s)


def test_a_supply_that_cannot_lift_the_water_gives_none():
    assert hydraulics.operating_point(5e4, [Hose(BORE_34, 10.0)], K_1_GPM, height_m=6.0) == (0.0, 0.0)


def test_without_a_hose_the_head_takes_the_whole_supply():
    assert hydraulics.operating_point(2e5, [], K_1_GPM).head_pa == pytest.approx(2e5)


def test_a_supply_gives_its_tested_flow_at_its_tested_pressure():
    assert hydraulics.supply_flow_m3_s(0.01, 5e5, 3e5, 3e5) == pytest.approx(0.01)
    assert hydraulics.supply_flow_m3_s(0.01, 5e5, 3e5, 5e5) == 0.0


@given(flow=FLOW, bore=BORE, length=st.floats(0, 100))
def test_friction_by_either_law_grows_with_length_and_is_never_negative(flow, bore, length):
    water = 999.0, 1.1e-3
    one = hydraulics.darcy_weisbach_pa(flow, bore, length, 1.5e-6, *water)
    assert one >= 0
    assert hydraulics.darcy_weisbach_pa(flow, bore, 2 * length, 1.5e-6, *water) == pytest.approx(2 * one)


@given(flow=st.floats(to_si(2.0, "gpm"), to_si(10.0, "gpm")), bore=st.floats(0.0157, 0.02))
def test_in_a_garden_hose_the_two_laws_agree_within_a_tenth(flow, bore):
    darcy = hydraulics.darcy_weisbach_pa(flow, bore, 15.0, 1.5e-6, 999.0, 1.12e-3)
    assert hydraulics.hazen_williams_pa(flow, bore, 15.0) == pytest.approx(darcy, rel=0.12)


def test_the_fire_service_coefficient_reads_low_in_a_garden_hose():
    # As its docstring warns: 1100 stands for booster hose at fire flows.
    for gpm, low, high in ((2.0, 0.35, 0.45), (10.0, 0.14, 0.25)):
        flow, length = to_si(gpm, "gpm"), to_si(100.0, "ft")
        short = 1 - hydraulics.fire_loss_pa(flow, length, 1100.0) / hydraulics.hazen_williams_pa(flow, BORE_34, length)
        assert low < short < high


@given(a=FLOW, b=FLOW, bore=BORE)
def test_more_flow_never_costs_less_though_layers_break_up(a, b, bore):
    low, high = sorted((a, b))
    losses = [hydraulics.darcy_weisbach_pa(flow, bore, 10.0, 0.0, 999.0, 1.1e-3) for flow in (low, high)]
    assert losses[0] <= losses[1] * (1 + 1e-12)


def test_water_in_layers_loses_in_proportion_to_its_flow():
    flow = to_si(0.1, "gpm")
    number = hydraulics.reynolds(flow, BORE_34, 999.0, 1.1e-3)
    assert number < 2040
    assert hydraulics.friction_factor(number) == pytest.approx(64 / number)
    # Hagen and Poiseuille: 128 mu L Q / (pi d^4).
    by_hand = 128 * 1.1e-3 * 10.0 * flow / (math.pi * BORE_34**4)
    assert hydraulics.darcy_weisbach_pa(flow, BORE_34, 10.0, 0.0, 999.0, 1.1e-3) == pytest.approx(by_hand)


@given(a=st.floats(273.2, 373), b=st.floats(273.2, 373))
def test_warmer_water_is_never_more_viscous(a, b):
    cold, warm = sorted((a, b))
    assert hydraulics.viscosity_pa_s(cold) >= hydraulics.viscosity_pa_s(warm)


def test_at_20_degrees_celsius_water_has_the_viscosity_that_viscometers_are_set_by():
    assert hydraulics.viscosity_pa_s(293.15) == pytest.approx(1.0016e-3, rel=1e-3)


@given(flow=FLOW, loss=st.floats(0, 1e5), at=st.floats(1e-5, 1e-3))
def test_a_fitting_takes_four_times_as_much_at_twice_the_flow(flow, loss, at):
    once = hydraulics.fitting_loss_pa(flow, loss, at)
    assert hydraulics.fitting_loss_pa(2 * flow, loss, at) == pytest.approx(4 * once)
    assert hydraulics.fitting_loss_pa(at, loss, at) == pytest.approx(loss)


def test_a_head_read_by_bucket_and_gauge_gives_its_flow_back():
    k = hydraulics.spray_k_m3_s_pa05(1e-4, 2e5)
    assert hydraulics.spray_flow_m3_s(k, 2e5) == pytest.approx(1e-4)


def test_the_nozzle_formula_is_torricellis_law():
    bore, pressure = to_si(1.0, "in"), to_si(50.0, "psi")
    torricelli = math.pi * bore**2 / 4 * math.sqrt(2 * pressure / 999.0)
    assert hydraulics.nozzle_flow_m3_s(bore, pressure) == pytest.approx(torricelli, rel=2e-3)


@given(
    flow=st.floats(1e-5, 1e-2),
    resistances=st.lists(st.floats(1e6, 1e13), min_size=1, max_size=6),
    exponent=st.floats(1, 2),
)
def test_branches_share_all_the_flow_and_one_loss(flow, resistances, exponent):
    split = hydraulics.parallel_split(flow, resistances, exponent)
    assert sum(split.flows_m3_s) == pytest.approx(flow)
    for part, resistance in zip(split.flows_m3_s, resistances, strict=True):
        assert resistance * part**exponent == pytest.approx(split.loss_pa, rel=1e-6)


def test_two_hoses_alike_side_by_side_cost_a_quarter_by_the_square_law():
    alone = hydraulics.parallel_split(1e-3, [1e10]).loss_pa
    assert hydraulics.parallel_split(1e-3, [1e10, 1e10]).loss_pa == pytest.approx(alone / 4)


def test_a_pump_pays_for_nozzle_hose_appliance_and_rise():
    rise = hydraulics.elevation_pa(3.0)
    assert hydraulics.pump_discharge_pa(5e5, [1e5, 2e5], 5e4, 3.0) == pytest.approx(8.5e5 + rise)
    assert hydraulics.pump_discharge_pa(5e5, [], height_m=-3.0) == pytest.approx(5e5 - rise)


def test_half_the_efficiency_takes_twice_the_power():
    full = hydraulics.pump_power_w(1e-3, 10.0, 0.8)
    assert hydraulics.pump_power_w(1e-3, 10.0, 0.4) == pytest.approx(2 * full)
    assert hydraulics.pump_power_w(1e-3, 10.0, 1.0, 1000.0) == pytest.approx(98.0665)


@given(flow=st.floats(0, 0.02), static=st.floats(2e5, 8e5), share=st.floats(0.3, 0.99))
def test_what_is_left_of_a_supply_and_what_it_gives_at_that_pressure_are_inverse(flow, static, share):
    left = hydraulics.supply_pressure_pa(flow, 0.01, static, share * static)
    if left >= 0:
        back = hydraulics.supply_flow_m3_s(0.01, static, share * static, left)
        assert back == pytest.approx(flow, rel=1e-5, abs=1e-8)


def test_a_static_pressure_is_not_a_flowing_one():
    # A tap of 55 psi at rest that falls to 40 at 10 gpm has 51 left at 5 gpm.
    readings = to_si(10.0, "gpm"), to_si(55.0, "psi"), to_si(40.0, "psi")
    assert from_si(hydraulics.supply_pressure_pa(to_si(5.0, "gpm"), *readings), "psi") == pytest.approx(50.8, abs=0.1)


@given(ratio=st.floats(1, 1000), stock=st.floats(0, 0.1))
def test_a_stock_of_concentrate_lasts_by_its_draw(ratio, stock):
    draw = hydraulics.injector_dose_m3_s(5e-4, ratio)
    assert hydraulics.stock_time_s(stock, draw) * draw == pytest.approx(stock)


def test_a_stock_that_nobody_draws_on_lasts_without_end():
    assert hydraulics.stock_time_s(0.02, 0.0) == math.inf


def test_a_fitting_in_the_run_takes_from_the_head():
    run = [Hose(BORE_34, 15.0)]
    free = hydraulics.operating_point(3e5, run, K_1_GPM)
    fitted = hydraulics.operating_point(3e5, run, K_1_GPM, fittings=[Fitting(5e4, 4e-4)])
    assert fitted.flow_m3_s < free.flow_m3_s
    spent = hydraulics.run_loss_pa(run, fitted.flow_m3_s, [Fitting(5e4, 4e-4)]) + fitted.head_pa
    assert spent == pytest.approx(3e5, rel=1e-6)
    assert hydraulics.operating_point(3e5, [], K_1_GPM, fittings=[Fitting(5e4, 4e-4)]).head_pa < 3e5


FLOWS = np.array([0.0, 1e-6, 5e-5, 5e-4])


@pytest.mark.parametrize(
    ("formula", "values"),
    [
        (lambda flow: hydraulics.darcy_weisbach_pa(flow, 0.019, 15.0, 1.5e-6, 999.0, 1.1e-3), FLOWS),
        (lambda flow: hydraulics.fire_loss_pa(flow, 15.0, 24.0), FLOWS),
        (lambda flow: hydraulics.fitting_loss_pa(flow, 1e4, 1e-4), FLOWS),
        (lambda flow: hydraulics.k_loss_pa(flow, 0.019, 2.0), FLOWS),
        (lambda flow: hydraulics.supply_pressure_pa(flow, 1e-3, 4e5, 3e5), FLOWS),
        (lambda flow: hydraulics.injector_dose_m3_s(flow, 128.0), FLOWS),
        (lambda flow: hydraulics.pump_power_w(flow, 10.0, 0.5), FLOWS),
        (lambda flow: hydraulics.spray_k_m3_s_pa05(flow, 2e5), FLOWS[1:]),
        (lambda pressure: hydraulics.nozzle_flow_m3_s(0.02, pressure), FLOWS * 1e9),
        (hydraulics.viscosity_pa_s, np.array([275.0, 300.0, 370.0])),
        (hydraulics.friction_factor, np.array([10.0, 2000.0, 1e5])),
    ],
)
def test_an_array_gives_what_each_of_its_numbers_gives(formula, values):
    each = [formula(float(value)) for value in values]
    assert all(isinstance(one, float) for one in each)
    assert formula(values) == pytest.approx(each)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: hydraulics.hazen_williams_pa(-1e-4, 0.02, 10.0), "flow_m3_s must be at least 0 m3/s"),
        (lambda: hydraulics.hazen_williams_pa(math.nan, 0.02, 10.0), "flow_m3_s"),
        (lambda: hydraulics.hazen_williams_pa(1e-4, 0.0, 10.0), "bore_m must be above 0 and at most 1 m"),
        (lambda: hydraulics.hazen_williams_pa(1e-4, 0.02, -1.0), "length_m"),
        (lambda: hydraulics.hazen_williams_pa(1e-4, 0.02, 1.0, 0.0), "c must be at least 50 and at most 160"),
        (lambda: hydraulics.elevation_pa(math.inf), "height_m must be a finite number m"),
        (lambda: hydraulics.operating_point(0.0, [], K_1_GPM), "supply_pa must be above 0 Pa"),
        (lambda: hydraulics.operating_point(1e5, [], 0.0), "k_m3_s_pa05"),
        (lambda: hydraulics.supply_flow_m3_s(0.01, 3e5, 5e5, 1e5), "static_pa must be above 500000 Pa"),
        (lambda: hydraulics.supply_flow_m3_s(0.01, 5e5, 3e5, 6e5), "wanted_pa"),
        (lambda: hydraulics.viscosity_pa_s(to_si(400.0, "degF")), "t_k must be at least 273 and at most 374 K"),
        (lambda: hydraulics.viscosity_pa_s(np.array([280.0, math.nan])), "t_k"),
        (lambda: hydraulics.reynolds(1e-4, 0.02, 0.0, 1e-3), "density_kg_m3 must be above 0 kg/m3"),
        (lambda: hydraulics.friction_factor(0.0), "reynolds must be above 0"),
        (lambda: hydraulics.friction_factor(1e5, 0.1), "relative_roughness must be at least 0 and at most 0.05"),
        (lambda: hydraulics.friction_factor(np.array([])), "reynolds"),
        (lambda: hydraulics.darcy_weisbach_pa(1e-4, 0.02, 1.0, 0.002, 999.0, 1e-3), "roughness_m must be at least 0"),
        (lambda: hydraulics.darcy_weisbach_pa(1e-4, 0.02, 1.0, 0.0, 999.0, -1e-3), "viscosity_pa_s must be above 0"),
        (lambda: hydraulics.fire_loss_pa(1e-4, 10.0, 0.0), "coefficient must be above 0 psi per 100 ft"),
        (lambda: hydraulics.fitting_loss_pa(1e-4, 1e4, 0.0), "at_m3_s must be above 0 m3/s"),
        (lambda: hydraulics.k_loss_pa(1e-4, 0.02, -1.0), "k must be at least 0"),
        (lambda: hydraulics.spray_k_m3_s_pa05(1e-4, 0.0), "head_pa must be above 0 Pa"),
        (lambda: hydraulics.nozzle_flow_m3_s(0.02, 1e5, 1.2), "discharge must be above 0 and at most 1"),
        (lambda: hydraulics.parallel_split(1e-4, []), "resistances must hold at least one branch"),
        (lambda: hydraulics.parallel_split(1e-4, [1e9, 0.0]), "resistances must be above 0"),
        (lambda: hydraulics.parallel_split(1e-4, [1e9], 3.0), "exponent must be at least 1 and at most 2"),
        (lambda: hydraulics.pump_discharge_pa(1e5, [-1.0]), "losses_pa must be at least 0 Pa"),
        (lambda: hydraulics.pump_power_w(1e-3, 10.0, 0.0), "efficiency must be above 0 and at most 1"),
        (lambda: hydraulics.supply_pressure_pa(1e-4, 0.01, 3e5, 5e5), "static_pa must be at least 500000 Pa"),
        (lambda: hydraulics.injector_dose_m3_s(1e-4, 0.5), "ratio must be at least 1"),
        (lambda: hydraulics.stock_time_s(-1.0, 1e-4), "stock_m3 must be at least 0 m3"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
