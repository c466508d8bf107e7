import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.formulas import air, heat, manifold, propane
from shared.units import from_si, to_si

NOMINAL = to_si(100.0, "lb")
AIR_20 = to_si(20.0, "degF")
AIR = st.floats(210.0, 330.0)
SIZES = st.sampled_from([5.0, 20.0, 30.0, 33.0, 40.0, 60.0, 100.0, 420.0])
SHARE = st.floats(0.0, 1.2)


def lb(value):
    return to_si(value, "lb")


def rate(left_lb, air_degf=20.0, nominal_lb=100.0):
    return from_si(propane.vapour_rate_w(lb(left_lb), to_si(air_degf, "degF"), lb(nominal_lb)), "BTU/h")


def test_saturation_agrees_with_an_independent_equation_of_state():
    cool_prop = pytest.importorskip("CoolProp.CoolProp")
    for t in np.linspace(201.0, 359.0, 80).tolist():
        exact = cool_prop.PropsSI("P", "T", t, "Q", 0, "Propane")
        assert propane.saturation_pressure_pa(t) == pytest.approx(exact, rel=5e-4)
        assert propane.saturation_temperature_k(exact) == pytest.approx(t, abs=0.02)


def test_latent_heat_agrees_with_an_independent_equation_of_state():
    cool_prop = pytest.importorskip("CoolProp.CoolProp")
    for air_degf in range(-60, 161, 20):
        t = to_si(float(air_degf), "degF")
        exact = cool_prop.PropsSI("H", "T", t, "Q", 1, "Propane") - cool_prop.PropsSI("H", "T", t, "Q", 0, "Propane")
        assert propane.latent_heat_j_kg(t) == pytest.approx(exact, rel=0.002)


@given(t=st.floats(200.0, 360.0))
def test_pressure_and_temperature_of_saturation_undo_each_other(t):
    assert propane.saturation_temperature_k(propane.saturation_pressure_pa(t)) == pytest.approx(t, abs=1e-7)


@given(a=st.floats(200.0, 360.0), b=st.floats(200.0, 360.0))
def test_warmer_liquid_has_more_pressure(a, b):
    cold, warm = sorted((a, b))
    assert propane.saturation_pressure_pa(cold) <= propane.saturation_pressure_pa(warm)


@pytest.mark.parametrize(
    ("left", "air_degf", "chart"),
    [
        (100, 0, 113e3),
        (50, 20, 94e3),
        (20, 40, 68e3),
        (90, 70, 277e3),
        (10, 60, 60e3),
        (30, 60, 107e3),
        (70, 40, 160e3),
    ],
)
def test_the_nodes_of_the_chart_come_out_as_printed(left, air_degf, chart):
    assert rate(float(left), float(air_degf)) == pytest.approx(chart)


def test_between_the_nodes_the_chart_is_straight_both_ways():
    # Between 50 and 60 lb and 20 and 40 degF, in the middle: (94 + 125 + 109 + 140) / 4 = 117.
    assert rate(55.0, 30.0) == pytest.approx(117e3)


def test_two_half_full_cylinders_hold_one_lane_at_20_degf_to_the_end_of_three_hours():
    assert 2 * rate(50.0) == pytest.approx(188_000)
    mean_share = 1.5 / 2.0
    input_w = heat.heat_output_w(to_si(4.0, "gpm"), to_si(61.0, "ddegF")) / 0.82
    used = from_si(propane.burn_kg(input_w * mean_share, 3 * 3600.0), "lb")
    assert used == pytest.approx(15.5, abs=0.05)
    assert 2 * rate((100.0 - used) / 2) == pytest.approx(164_700, rel=0.001)
    assert 2 * rate((100.0 - used) / 2) >= from_si(input_w, "BTU/h")


def test_two_lanes_burn_ten_pounds_an_hour_on_average_and_need_297600_at_the_peak():
    input_w = heat.heat_output_w(to_si(8.0, "gpm"), to_si(61.0, "ddegF")) / 0.82
    assert from_si(input_w, "BTU/h") == pytest.approx(297_600, rel=0.001)
    assert from_si(propane.burn_kg(input_w * 0.75, 3600.0), "lb") == pytest.approx(10.4, abs=0.05)


def test_three_cylinders_carry_two_lanes_on_the_chart_and_not_where_the_regulator_needs_10_psig():
    factor = propane.regulator_factor(AIR_20, to_si(10.0, "psig"))
    assert factor == pytest.approx(0.648, abs=0.0005)
    assert 3 * rate(56.3) == pytest.approx(310_400, rel=0.001)
    assert 3 * rate(56.3) * factor == pytest.approx(201_100, rel=0.001)
    assert 4 * rate(67.225) * factor == pytest.approx(306_900, rel=0.001)
    assert 2 * rate(50.0) * factor == pytest.approx(121_800, rel=0.001)


def test_off_the_chart_the_rate_is_never_higher_than_at_its_edge():
    assert rate(50.0, 100.0) == rate(50.0, 70.0)
    assert rate(105.0, 20.0) == rate(100.0, 20.0)
    assert rate(5.0, 20.0) == pytest.approx(rate(10.0, 20.0) / 2)
    assert rate(0.0, 20.0) == 0.0


def test_below_0_degf_the_rate_falls_to_nothing_at_the_boiling_point():
    boiling = from_si(propane.saturation_temperature_k(101_325.0), "degF")
    assert rate(50.0, 0.0) == pytest.approx(64e3)
    assert rate(50.0, boiling / 2) == pytest.approx(32e3)
    assert rate(50.0, boiling - 1) == 0.0


@pytest.mark.parametrize(
    ("nominal", "share", "air_degf", "expected"),
    [(20, 1.0, 0, 31e3), (20, 0.5, 40, 36e3), (33, 1.0, 20, 67e3), (33, 0.5, 60, 63e3)],
)
def test_smaller_cylinders_follow_the_heat_balance(nominal, share, air_degf, expected):
    # Worked apart with U = 1.8 BTU/(h ft2 degF) and bores of 12.0 and 12.2 in, printed to the nearest thousand.
    assert rate(nominal * share, float(air_degf), float(nominal)) == pytest.approx(expected, rel=0.02)


def test_the_heat_balance_of_the_chart_s_own_size_is_within_a_tenth_of_the_chart():
    # 100 lb in a 14.5 in bore wet 11.584 ft2; U = 1.8 gives 206,000 where the chart prints 214,000.
    per_area = 1.8 * to_si(1.0, "BTU/h") / (to_si(1.0, "ft2") * to_si(1.0, "ddegF"))
    latent = propane.latent_heat_j_kg(to_si(-43.8, "degF"))
    found = propane.heat_balance_w(per_area, to_si(11.584, "ft2"), to_si(40.0, "degF"), to_si(-43.8, "degF"), latent)
    assert found == pytest.approx(propane.vapour_rate_w(NOMINAL, to_si(40.0, "degF"), NOMINAL), rel=0.1)


@given(nominal=SIZES, a=SHARE, b=SHARE, air=AIR)
def test_a_fuller_cylinder_never_gives_less(nominal, a, b, air):
    less, more = sorted((a, b))
    size = lb(nominal)
    given_ = propane.vapour_rate_w(less * size, air, size), propane.vapour_rate_w(more * size, air, size)
    assert given_[0] <= given_[1] * (1 + 1e-12)


@given(nominal=SIZES, share=SHARE, a=AIR, b=AIR, inlet=st.floats(0, 2e5))
def test_warmer_air_never_gives_less(nominal, share, a, b, inlet):
    cold, warm = sorted((a, b))
    size = lb(nominal)
    assert propane.vapour_rate_w(share * size, cold, size) <= propane.vapour_rate_w(share * size, warm, size) * (
        1 + 1e-12
    )
    assert propane.regulator_factor(cold, inlet) <= propane.regulator_factor(warm, inlet) * (1 + 1e-12)


@given(air=AIR, a=st.floats(0, 3e5), b=st.floats(0, 3e5))
def test_a_regulator_that_needs_more_leaves_no_more(air, a, b):
    modest, greedy = sorted((a, b))
    assert 0 <= propane.regulator_factor(air, greedy) <= propane.regulator_factor(air, modest) <= 1


def test_a_regulator_that_needs_nothing_leaves_the_whole_chart():
    assert propane.regulator_factor(AIR_20, 0.0) == pytest.approx(1.0)


def test_a_cylinder_too_cold_for_its_regulator_gives_nothing():
    assert propane.regulator_factor(to_si(-22.0, "degF"), to_si(10.0, "psig")) == 0.0
    assert propane.regulator_factor(to_si(-60.0, "degF"), 0.0) == 0.0


@given(nominal=SIZES, shares=st.lists(SHARE, min_size=1, max_size=4), air=AIR)
def test_arrays_give_what_their_numbers_give(nominal, shares, air):
    size = lb(nominal)
    left = np.array(shares) * size
    together = propane.vapour_rate_w(left, air, size)
    assert together == pytest.approx([propane.vapour_rate_w(float(kg), air, size) for kg in left], rel=1e-12)
    airs = np.full(len(shares), air)
    assert propane.regulator_factor(airs, 5e4) == pytest.approx([propane.regulator_factor(air, 5e4)] * len(shares))
    assert propane.saturation_pressure_pa(airs) == pytest.approx([propane.saturation_pressure_pa(air)] * len(shares))


def test_contents_and_temperatures_broadcast_to_a_table():
    found = propane.vapour_rate_w(lb(np.array([[50.0], [100.0]])), to_si(np.array([0.0, 20.0]), "degF"), NOMINAL)
    assert from_si(found, "BTU/h") == pytest.approx(np.array([[64e3, 94e3], [113e3, 167e3]]))
    assert isinstance(propane.vapour_rate_w(20.0, 270.0, NOMINAL), float)


def test_twenty_pounds_last_as_long_as_their_heat():
    # 20 lb * 21,548 / 100,000 BTU/h = 4.31 h, and in that time a burner of 100,000 uses 20 lb.
    seconds = propane.burn_time_s(lb(20.0), to_si(100_000.0, "BTU/h"))
    assert seconds / 3600 == pytest.approx(4.31, abs=0.005)
    assert propane.burn_kg(to_si(100_000.0, "BTU/h"), seconds) == pytest.approx(lb(20.0))


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: propane.saturation_pressure_pa(20.0), "t_k must be at least 200 and at most 360 K"),
        (lambda: propane.saturation_pressure_pa(np.array([300.0, math.nan])), "t_k"),
        (lambda: propane.saturation_temperature_k(0.0), "abs_pa must be at least"),
        (lambda: propane.saturation_temperature_k(-101325.0), "abs_pa"),
        (lambda: propane.vapour_rate_w(-1.0, 270.0, 45.0), "contents_kg must be at least 0 kg"),
        (lambda: propane.vapour_rate_w(math.nan, 270.0, 45.0), "contents_kg"),
        (lambda: propane.vapour_rate_w(1.0, 20.0, 45.0), "t_k must be at least 200 and at most 400 K"),
        (lambda: propane.vapour_rate_w(1.0, 270.0, 0.0), "nominal_kg must be above 0 kg"),
        (lambda: propane.regulator_factor(270.0, -1.0), "least_inlet_gauge_pa must be at least 0 Pa"),
        (lambda: propane.regulator_factor(270.0, 1.0, 14.7), "baro_pa must be at least 50000 and at most 110000 Pa"),
        (lambda: propane.burn_kg(-1.0, 1.0), "power_w"),
        (lambda: propane.burn_time_s(1.0, 0.0), "power_w must be above 0 W"),
    ],
)
def test_nonsense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()


# --- filling, weighing, altitude ---------------------------------------------------------------------------------


def test_a_cylinder_of_47_6_pounds_of_water_holds_20_pounds():
    assert from_si(propane.fill_limit_kg(lb(47.6)), "lb") == pytest.approx(20.0, abs=0.01)
    # 29 CFR 1910.110: 100 gal, 42 %, SG 0.510, factor 1.031.
    assert propane.fill_limit_m3(100.0, 0.42, 0.51, 1.031) == pytest.approx(79.8, abs=0.1)


def test_what_the_scale_says_less_the_tare_is_held():
    assert propane.held_kg(lb(37.0), lb(17.0)) == pytest.approx(lb(20.0))
    assert from_si(propane.fuel_energy_j(lb(20.0), propane.HEATING_VALUE_J_KG), "BTU") == pytest.approx(430_960)


@given(t=st.floats(200.0, 360.0), height=st.floats(0, 5000))
def test_a_hill_raises_the_gauge_and_lowers_the_boiling_point(t, height):
    there = air.station_pressure_pa(height)
    lift = propane.cylinder_gauge_pa(t, there) - propane.cylinder_gauge_pa(t)
    assert lift == pytest.approx(air.STANDARD_ATMOSPHERE_PA - there, abs=1e-6)
    assert propane.saturation_temperature_k(there) <= propane.saturation_temperature_k(air.STANDARD_ATMOSPHERE_PA)
    assert propane.cylinder_gauge_pa(propane.saturation_temperature_k(there), there) == pytest.approx(0, abs=1.0)


# --- cylinders on one manifold -----------------------------------------------------------------------------------


def test_one_full_cylinder_at_0_degf_strands_half_of_its_gas_under_a_draw_of_64000():
    # The chart gives 64,000 at 50 lb: 50 * 21,548 / 64,000 = 16.83 h, though the gas would last twice that.
    draw = to_si(64_000.0, "BTU/h")
    found = manifold.manifold_end([NOMINAL], [NOMINAL], to_si(0.0, "degF"), draw, propane.burn_kg(draw, 1.0))
    assert found.vapour_s / 3600 == pytest.approx(16.834, abs=0.001)
    assert found.fuel_s == pytest.approx(2 * found.vapour_s, rel=1e-6)
    assert found.stranded_kg == pytest.approx(lb(50.0), rel=1e-6)
    assert found.binds == "vapour rate"


def test_a_small_draw_in_warm_air_ends_with_the_fuel():
    draw = to_si(20_000.0, "BTU/h")
    found = manifold.manifold_end([NOMINAL], [NOMINAL], to_si(70.0, "degF"), draw, propane.burn_kg(draw, 1.0))
    assert found.binds == "fuel"
    assert found.stranded_kg < 0.1 * NOMINAL
    assert found.vapour_s < found.fuel_s


def test_a_draw_that_burns_nothing_on_average_never_ends_and_too_large_a_draw_never_starts():
    assert manifold.manifold_end([NOMINAL], [NOMINAL], 280.0, 1e3, 0.0)[:2] == (math.inf, math.inf)
    assert manifold.manifold_end([NOMINAL], [NOMINAL], 280.0, 1e9, 1.0).vapour_s == 0.0
    assert manifold.manifold_rate_w([NOMINAL], [NOMINAL], 280.0, 1.0, 2 * NOMINAL) == 0.0
    assert manifold.manifold_rate_w([0.0], [NOMINAL], 280.0) == 0.0


CONTENTS = st.lists(st.floats(0.1, 45.0), min_size=1, max_size=4)


@given(contents=CONTENTS, air_k=st.floats(240, 300), draw=st.floats(1e3, 1e5), factor=st.floats(0.1, 1.0))
def test_the_rate_holds_until_the_end_and_not_after(contents, air_k, draw, factor):
    at = (contents, [NOMINAL] * len(contents), air_k)
    burn = propane.burn_kg(draw, 1.0)
    found = manifold.manifold_end(*at, draw, burn, factor)
    assert 0 <= found.vapour_s <= found.fuel_s
    if found.vapour_s == 0:
        assert manifold.manifold_rate_w(*at, factor) < draw
    else:
        assert manifold.manifold_rate_w(*at, factor, burn * found.vapour_s * (1 - 1e-6)) >= draw * (1 - 1e-6)
        later = min(sum(contents), burn * (found.vapour_s + found.fuel_s * 1e-6))
        assert manifold.manifold_rate_w(*at, factor, later) <= draw * (1 + 1e-5)


@given(
    nominal=SIZES,
    fill=st.floats(0.2, 1.0),
    air_k=st.floats(240, 300),
    draw=st.floats(1e3, 3e5),
    hours=st.floats(0.1, 24),
)
def test_the_count_of_cylinders_carries_the_run_and_one_fewer_does_not(nominal, fill, air_k, draw, hours):
    size, burn, run_s = lb(nominal), propane.burn_kg(draw, 1.0), 3600 * hours
    found = manifold.cylinders_needed(size, fill * size, air_k, draw, burn, run_s)

    def carries(count):
        at = ([fill * size] * count, [size] * count, air_k)
        held = fill * size * count >= burn * run_s * (1 - 1e-9)
        lowest = min(manifold.manifold_rate_w(*at), manifold.manifold_rate_w(*at, 1.0, burn * run_s))
        return held and lowest >= draw * (1 - 1e-8)

    assert found.needed >= max(found.for_fuel, found.at_start)
    assert carries(found.needed)
    assert found.needed == 1 or not carries(found.needed - 1)


def test_air_below_the_boiling_point_wants_more_cylinders_than_there_are():
    found = manifold.cylinders_needed(NOMINAL, NOMINAL, to_si(-50.0, "degF"), 1e4, 1e-4, 3600.0)
    assert (found.needed, found.at_start, found.binds) == (None, None, "vapour rate")


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: propane.held_kg(lb(16.0), lb(17.0)), "gross_kg - tare_kg must be at least 0 kg"),
        (lambda: propane.fuel_energy_j(-1.0, 1.0), "amount must be at least 0"),
        (lambda: propane.vapour_volume_m3(1.0, 0.0), "m3_per_kg must be above 0"),
        (lambda: propane.fill_limit_kg(10.0, 42.0), "filling_density must be above 0 and at most 1 ratio"),
        (lambda: propane.fill_limit_m3(1.0, 0.42, 0.0, 1.0), "specific_gravity must be above 0"),
        (lambda: propane.cylinder_gauge_pa(280.0, 14.7), "baro_pa must be at least 50000"),
        (lambda: propane.cylinder_gauge_pa(to_si(400.0, "degF")), "t_k must be at least 200 and at most 360 K"),
        (lambda: propane.wetted_m2(0.0, 0.3), "contents_kg must be above 0 kg"),
        (lambda: manifold.manifold_rate_w([1.0], [], 280.0), "one value for each cylinder"),
        (lambda: manifold.manifold_rate_w([1.0, math.nan], [9.0, 9.0], 280.0), "contents_kg must be at least 0 kg"),
        (lambda: manifold.manifold_rate_w([1.0], [0.0], 280.0), "nominal_kg must be above 0 kg"),
        (lambda: manifold.manifold_rate_w([1.0], [9.0], 280.0, 1.5), "factor must be at least 0 and at most 1"),
        (lambda: manifold.manifold_end([1.0], [9.0], 280.0, 0.0, 1.0), "draw_w must be above 0 W"),
        (lambda: manifold.cylinders_needed(9.0, 10.0, 280.0, 1.0, 1.0, 1.0), "fill_kg must be above 0 and at most 9"),
        (lambda: manifold.cylinders_needed(9.0, 9.0, 280.0, 1.0, 1.0, 0.0), "run_s must be above 0 s"),
    ],
)
def test_gas_without_sense_is_refused_by_name_and_range(call, named):
    with pytest.raises(ValueError, match=named):
        call()
