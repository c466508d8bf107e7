"""Worked cases, the traps of a reading, and the rules that a verdict must not bend."""

from dataclasses import replace
from datetime import date

import pytest

from inspections.verdicts import judge
from inspections.verdicts.core import Limit, Outcome, Subject
from shared.formulas import air
from shared.units import from_si, to_si
from tests.inspections.judging import COLD, grades, judged, limits, modes

HOLD = {
    "p_set_psi": 3.0, "rest_min": 60.0, "p1_psi": 3.0, "t1_degF": 60.0, "p2_psi": 2.95, "t2_degF": 60.0,
    "hold_min": 60.0, "same_gauge": True, "direct_sun": False, "relief_lifted": False,
}  # fmt: skip
SEES = ("SH1", "SH2", "SH3", "FV1", "DV1")
FINE = {"p1_psi": 0.01, "p2_psi": 0.01, "t1_degF": 0.1, "t2_degF": 0.1}


def hold(steps=FINE, told=None, **readings):
    subject = Subject("shelter", date(2026, 6, 1), visible_modes=SEES, grades=grades(), steps=steps, **(told or {}))
    return judge("hold", subject, HOLD | readings, limits())


def finding(verdict, key):
    return next(found for found in verdict.findings if found.key == key)


# Hold test ---------------------------------------------------------------------------------------------------------


def test_a_gauge_that_fell_with_the_bay_is_a_pass_with_six_hundredths_lost():
    verdict = hold(t1_degF=62.0, p2_psi=2.50, t2_degF=49.0)
    assert verdict.outcome is Outcome.PASS
    assert finding(verdict, "loss").value == pytest.approx(0.06, abs=0.005)
    assert modes(verdict)["SH1"] == "proven"


def test_a_leaking_beam_in_a_warming_bay_does_not_hold():
    steady = hold(t1_degF=49.0, t2_degF=62.0, p2_psi=3.0)
    assert steady.outcome is Outcome.FAIL
    assert finding(steady, "loss").value == pytest.approx(17.7 * 521.67 / 508.67 - 14.7 - 3.0, abs=1e-3)


def test_a_change_of_weather_of_fifteen_hundredths_is_no_leak_when_the_barometer_was_read():
    read = hold(p2_psi=2.85, b1_psi=14.50, b2_psi=14.65)
    assert finding(read, "loss").value == pytest.approx(0.0, abs=0.001)
    assert read.outcome is Outcome.PASS
    assert finding(hold(p2_psi=2.85), "loss").value == pytest.approx(0.15, abs=0.001)


def test_a_cold_filled_beam_in_the_sun_doubles_its_pressure():
    baro = to_si(14.70, "psia")
    hot = air.pressure_at(to_si(3.4, "psi"), to_si(50.0, "degF"), baro, to_si(158.0, "degF"), baro)
    assert from_si(hot, "psi") == pytest.approx(7.2, abs=0.05)


@pytest.mark.parametrize(
    ("spoiled", "reason"),
    [
        ({"same_gauge": False}, "another gauge"),
        ({"direct_sun": True}, "sun"),
        ({"relief_lifted": True}, "relief"),
        ({"hold_min": 29.0}, "shorter"),
        ({"rest_min": 14.0}, "stretching"),
        ({"t2_degF": 81.0}, "more than 20"),
    ],
)
def test_a_spoiled_hold_is_void_says_why_and_proves_nothing(spoiled, reason):
    verdict = hold(**spoiled)
    assert verdict.outcome is Outcome.VOID
    assert reason in verdict.summary
    assert verdict.modes == ()
    assert dict(verdict.measured) == {}


@pytest.mark.parametrize(("rest", "outcome"), [(15.0, "pass with limits"), (59.0, "pass with limits"), (60.0, "pass")])
def test_a_short_rest_limits_a_hold_that_is_otherwise_good(rest, outcome):
    assert hold(rest_min=rest).outcome.value == outcome


def test_a_gauge_too_coarse_to_decide_is_void_with_that_reason():
    verdict = hold(steps={"p1_psi": 0.2, "p2_psi": 0.2, "t1_degF": 0.1, "t2_degF": 0.1})
    assert verdict.outcome is Outcome.VOID
    assert "Too coarse" in verdict.summary
    named = hold(told={"instrument": {"gauge_psi": 0.2}})
    assert named.outcome is Outcome.VOID


def test_a_gauge_that_takes_more_than_half_of_the_limit_limits_the_pass():
    verdict = hold(steps={"p1_psi": 0.1, "p2_psi": 0.1}, p2_psi=3.0)
    assert 0.5 < finding(verdict, "resolution").value < 1.0
    assert verdict.outcome is Outcome.LIMITS


def test_a_loss_within_its_uncertainty_of_the_limit_is_neither_proven_nor_found():
    verdict = hold(p2_psi=2.851)
    assert verdict.outcome is Outcome.LIMITS
    assert "SH1" not in modes(verdict)


def test_the_loss_allowed_goes_with_the_hold_and_never_above_the_figure_for_a_day():
    assert "at most 2.5 percent" in finding(hold(hold_min=30.0), "loss").text
    assert "at most 10.0 percent" in finding(hold(hold_min=120.0), "loss").text
    assert "at most 12.0 percent" in finding(hold(hold_min=600.0), "loss").text
    assert "at most 12.0 percent" in finding(hold(hold_min=1440.0), "loss").text


def test_the_makers_own_limit_decides_where_it_is_set():
    tight = dict(limits()) | {"hold_loss_1h": replace(limits()["hold_loss_1h"], pass_high=1.0, origin="maker")}
    subject = Subject("shelter", date(2026, 6, 1), visible_modes=SEES, grades=grades(), steps=FINE)
    verdict = judge("hold", subject, HOLD, tight)
    assert verdict.outcome is Outcome.LIMITS
    assert finding(verdict, "loss").origin.startswith("maker")


def test_the_time_it_stands_is_the_shorter_of_a_steady_and_a_slackening_leak():
    verdict = hold(told={"spec": {"least_psi": 1.5}})
    loss = finding(verdict, "loss").value
    assert verdict.measured["stand_s"].value == pytest.approx(3600 * 1.5 / loss, rel=1e-6)
    assert not verdict.measured["stand_s"].at_least
    tight = hold(p2_psi=3.0)
    assert tight.measured["stand_s"].at_least
    assert "assumed" in finding(tight, "stand").text


def test_seams_and_fill_valve_are_proven_only_where_they_were_named():
    assert {"SH3", "FV1"}.isdisjoint(modes(hold()))
    named = modes(hold(soap_result="none", seam_lift_in=0.5))
    assert (named["SH3"], named["FV1"]) == ("proven", "proven")
    assert modes(hold(seam_lift_in=1.5))["SH3"] == "failed"
    assert modes(hold(soap_result="fill valve"))["FV1"] == "limited"


def test_a_hold_begun_under_set_pressure_does_not_show_that_it_can_be_filled():
    verdict = hold(p1_psi=2.7, p2_psi=2.66)
    assert verdict.outcome is Outcome.LIMITS
    assert "SH2" not in modes(verdict)


def test_what_the_record_leaves_out_limits_the_pass():
    left_out = {key: value for key, value in HOLD.items() if key != "same_gauge"}
    subject = Subject("shelter", date(2026, 6, 1), visible_modes=SEES, grades=grades(), steps=FINE)
    verdict = judge("hold", subject, left_out, limits())
    assert verdict.outcome is Outcome.LIMITS
    assert "Not recorded: same gauge" in finding(verdict, "same_gauge").text


# Heat run ----------------------------------------------------------------------------------------------------------

BASE_W = float(to_si(155_662.5, "BTU/h"))


def run(text, **told):
    return judged("heat", text, baseline={"heater_output_w": BASE_W}, **told)


def test_output_is_five_hundred_times_flow_times_rise():
    verdict = run("inlet_F=39; outlet_F=98.3; set_F=105; gpm=5.25; tries=1")
    assert from_si(verdict.measured["heater_output_w"].value, "BTU/h") == pytest.approx(155_662.5, rel=2e-3)
    assert not verdict.measured["heater_output_w"].at_least


def test_a_run_held_at_set_point_is_a_lower_bound_and_proves_output_only_when_it_already_clears():
    low = run("inlet_F=39; outlet_F=105.2; set_F=105; gpm=2.5; tries=1")
    assert low.measured["heater_output_w"].at_least
    assert "WH3" not in modes(low)
    assert "heater_efficiency" not in low.measured
    assert "hose_loss_k" not in low.measured
    enough = run("inlet_F=45.1; outlet_F=126.1; head_F=98; set_F=105; gpm=3.75; tries=1")
    assert modes(enough)["WH3"] == "proven"
    assert enough.measured["heater_output_w"].at_least
    assert any("above set-point" in remark for remark in enough.quality)


@pytest.mark.parametrize(("outlet", "bound"), [("100.0", False), ("100.1", True)])
def test_five_degrees_below_set_point_is_where_a_run_starts_to_measure(outlet, bound):
    verdict = run(f"inlet_F=39; outlet_F={outlet}; set_F=105; gpm=5.25; tries=1")
    assert verdict.measured["heater_output_w"].at_least is bound


def test_hose_loss_is_outlet_less_head_of_a_run_below_set_point():
    verdict = run("inlet_F=39; outlet_F=98.3; head_F=95.3; set_F=105; gpm=5.25; tries=1")
    assert verdict.measured["hose_loss_k"].value == pytest.approx(3 / 1.8)


def test_efficiency_comes_from_the_weighed_fuel_and_a_nonsense_one_is_left_out():
    verdict = run("inlet_F=39; outlet_F=98.3; set_F=105; gpm=5.25; minutes=10; fuel_lb=1.47; tries=1")
    assert verdict.measured["heater_efficiency"].value == pytest.approx(0.82, abs=0.01)
    nonsense = run("inlet_F=39; outlet_F=98.3; set_F=105; gpm=5.25; minutes=10; fuel_lb=0.4; tries=1")
    assert "heater_efficiency" not in nonsense.measured
    assert any("weigh" in remark for remark in nonsense.quality)


def test_a_new_heater_is_held_to_its_plate_until_it_has_a_baseline():
    whole = judged("heat", "inlet_F=39; outlet_F=98.3; set_F=105; gpm=5.25; tries=1", spec={"input_btu_h": 190_000})
    assert modes(whole)["WH3"] == "proven"
    half = judged("heat", "inlet_F=39; outlet_F=98.3; set_F=105; gpm=2.6; tries=1", spec={"input_btu_h": 190_000})
    assert modes(half)["WH3"] == "limited"


def test_a_limited_output_carries_its_measured_ratio():
    verdict = run("inlet_F=45.1; outlet_F=99.2; set_F=105; gpm=3.75; tries=1")
    of = next(mode for mode in verdict.modes if mode.code == "WH3")
    assert (of.outcome, round(of.ratio, 2)) == ("limited", 0.65)
    assert verdict.outcome is Outcome.LIMITS


def test_a_cool_head_at_a_flow_raised_on_purpose_is_no_fault_of_the_heater():
    verdict = run("inlet_F=39; outlet_F=85; head_F=82; set_F=105; gpm=6.6; tries=1")
    assert modes(verdict)["WH4"] == "proven"
    assert finding(verdict, "head_degF").outcome is Outcome.LIMITS


def test_drained_alone_is_half_of_what_is_asked_and_proves_nothing():
    assert modes(run("tries=1; drained=yes"))["WH2"] == "claimed"
    assert modes(run("tries=1; drained=yes; leaks=none"))["WH2"] == "proven"


def test_undrained_in_the_cold_season_is_an_impairment():
    verdict = run("tries=1; drained=no", on=COLD, cold_season=True)
    assert modes(verdict)["WH2"] == "failed"


# Cylinders, batteries, counts --------------------------------------------------------------------------------------


def test_an_overdue_cylinder_that_is_full_may_be_used_until_empty_and_not_refilled():
    spec = {"tare_lb": 66.5, "nominal_lb": 100, "made": "2015-12", "requal": "2017-06", "requal_suffix": "E"}
    full = judged("propane", "gross_lb=160.7; tare_lb=66.5; soap=none", spec=spec)
    assert full.outcome is Outcome.LIMITS
    assert "do not refill" in full.summary
    assert modes(full)["LP2"] == "limited"
    empty = judged("propane", "gross_lb=67; tare_lb=66.5; soap=none", spec=spec)
    assert modes(empty)["LP2"] == "failed"


def test_contents_are_judged_by_water_capacity_where_it_is_stamped():
    verdict = judged("propane", "gross_lb=160; soap=none", spec={"tare_lb": 68, "water_lb": 238, "nominal_lb": 90})
    assert finding(verdict, "gross_lb").value == pytest.approx(92 / (0.42 * 238))


def test_the_stamped_tare_rules_over_one_read_otherwise():
    verdict = judged("propane", "gross_lb=160; tare_lb=60; soap=none", spec={"tare_lb": 68})
    assert from_si(verdict.measured["propane_kg"].value, "lb") == pytest.approx(92)
    assert verdict.quality


def test_a_planning_temperature_gives_the_vapour_of_the_chart():
    verdict = judged("propane", "gross_lb=118; soap=none; planning_F=20", spec={"tare_lb": 68, "nominal_lb": 100})
    assert finding(verdict, "planning_degF").value == pytest.approx(94_000, rel=0.01)


def test_air_is_judged_as_it_would_read_at_seventy_degrees():
    cold = judged("cylinder", "psi=4000; temp_F=20; outside=ok", spec={"rated_psi": 4500})
    assert finding(cold, "psi").value == pytest.approx((4014.7 * 529.67 / 479.67 - 14.7) / 4500, rel=1e-4)
    assert modes(cold)["AC1"] == "proven"


def test_a_composite_past_fifteen_years_is_removed():
    verdict = judged(
        "cylinder",
        "psi=4500; temp_F=70; outside=ok",
        spec={"rated_psi": 4500, "made": "2010-01", "requal": "2024-01", "spec_mark": "composite"},
    )
    assert modes(verdict)["AC3"] == "failed"


def test_dates_that_contradict_each_other_are_claimed_and_not_guessed():
    verdict = judged(
        "cylinder",
        "psi=4500; temp_F=70; outside=ok",
        spec={"rated_psi": 4500, "made": "2020-01", "requal": "2018-01", "spec_mark": "3AA"},
    )
    assert modes(verdict)["AC2"] == "claimed"


@pytest.mark.parametrize(("rest", "outcome"), [("3", "void"), ("4", "pass with limits"), ("8", "pass")])
def test_a_battery_read_before_it_rested_is_void_and_half_rested_limits(rest, outcome):
    assert judged("battery", f"rest_h={rest}; temp_F=77; OCV_V=12.83").outcome.value == outcome


def test_a_lot_past_its_expiry_dresses_nobody():
    verdict = judged("count", "counted=40", kind="towel", expected_units=40, due=date(2026, 6, 1))
    assert verdict.outcome is Outcome.FAIL
    assert modes(verdict)["CS1"] == "limited"


def test_a_lesser_mode_inside_the_wider_limit_is_limited_and_an_impairment_is_absent():
    assert modes(judged("light", "lit=19; of=20"))["LT1"] == "limited"
    assert modes(judged("heat", "tries=5"))["WH1"] == "proven"


def test_a_check_shows_nothing_of_modes_that_it_cannot_see_on_the_kind():
    verdict = judged("gfci", "test_trips=yes; reset=yes; ground_ohm=0.3", kind="cord")
    assert modes(verdict) == {"PW2": "proven"}


def test_without_a_limit_on_record_a_number_proves_nothing():
    subject = Subject("light_strip", date(2026, 6, 1), visible_modes=("LT1",), grades=grades())
    verdict = judge("light", subject, {"lit": 10.0, "of": 10.0}, {})
    assert modes(verdict) == {"LT1": "claimed"}
    assert verdict.outcome is Outcome.LIMITS


def test_a_limit_without_a_wider_band_has_no_middle_verdict():
    only = Limit("k", "q", "s", pass_high=5)
    assert [only.judge(value) for value in (5.0, 5.1)] == [Outcome.PASS, Outcome.FAIL]
