"""Each limit at its bound, just inside and just outside it; and which modes the checks can show."""

import csv
from datetime import date

import pytest

from shared.formulas.dates import months_between
from tests.inspections.judging import CATALOGUE, judged, kinds, limits, modes

HOLD = "P_set_psi=10; rest_min={rest}; P1_psi=10.000; T1_F=60.0; P2_psi={p2}; T2_F={t2}; hold_min={hold}; "
HOLD += "same_gauge=yes; direct_sun=no; relief_lifted=no; gauge_step_psi={gauge}; therm_step_degF=0.05"
FAIR = {"rest": "60", "t2": "60.0", "hold": "60", "gauge": "0.001"}
HEAT = {"spec": {"input_btu_h": 190000}, "baseline": {"heater_output_w": 29307.1070172}}  # 100,000 BTU/h
RUN = "tries=1; gpm=5; set_F=110; inlet_F=40; outlet_F={}"
LOADED = "start_tries=1; load_W=2600; V1=120; Hz1=60; run_min=30"
KEY = "tyres_ok=yes; lights_ok=yes; brakes_ok=yes; coupler_fits=yes; registered=yes; bay_clear=yes; key_s={}"
STAMPED = {"spec": {"tare_lb": 68, "nominal_lb": 100, "made": "2018-01"}}
AIR = {"spec": {"rated_psi": 4500, "made": "2022-02", "spec_mark": "composite"}}
PASS, LIMITS, FAIL, VOID = "pass", "pass with limits", "fail", "void"


def hold(**told):
    """Return a hold that lost nothing unless told: the pressure goes with the temperature."""
    t2 = float(told.get("t2", "60.0"))
    return HOLD.format(**FAIR | {"p2": f"{24.7 * (t2 + 459.67) / 519.67 - 14.7:.3f}"} | told)


# check, readings with a place for the number, what is known beforehand, (number, verdict) on either side of each bound
BOUNDS = [
    # Loss and its uncertainty together must lie within: nothing is decided at the very bound.
    ("hold", "p2", {}, [("9.52", PASS), ("9.50", LIMITS), ("9.02", LIMITS), ("8.9", FAIL)]),
    ("hold", "p2", {}, [("10.4", PASS), ("10.6", VOID)]),
    ("hold", "rest", {}, [("60", PASS), ("59.9", LIMITS), ("15", LIMITS), ("14.9", VOID)]),
    ("hold", "hold", {}, [("30", PASS), ("29.9", VOID)]),
    ("hold", "t2", {}, [("80.0", PASS), ("80.1", VOID), ("40.0", PASS), ("39.9", VOID)]),
    ("hold", "gauge", {}, [("0.1", PASS), ("0.5", LIMITS), ("1.0", VOID)]),
    ("relief", "plate_psi=3.5; lift_psi={}", {"spec": {"relief_psi": 3.5}},
     [("3.15", PASS), ("3.14", FAIL), ("3.85", PASS), ("3.86", FAIL)]),
    ("relief", "plate_psi=4; lift_psi=4; reseat_psi={}; bubbles=none", {"spec": {"relief_psi": 4}},
     [("3.4", PASS), ("3.39", LIMITS), ("3.0", LIMITS), ("2.99", FAIL)]),
    ("inflate", "min_to_set={}", {"baseline": {"inflate_s": 600}},
     [("12.5", PASS), ("12.6", LIMITS), ("16", LIMITS), ("16.1", FAIL)]),
    ("cylinder_kit", "outlet_psi=5; outlet_after_psi={}", {}, [("5.5", PASS), ("5.51", FAIL)]),
    ("heat", RUN, HEAT, [("74", PASS), ("73.9", LIMITS), ("64", LIMITS), ("63.9", FAIL)]),
    ("heat", "tries={}", {}, [("3", PASS), ("4", LIMITS), ("5", LIMITS), ("6", FAIL)]),
    ("heat", "tries=1; head_F={}", {}, [("90", PASS), ("89.9", LIMITS), ("80", LIMITS), ("79.9", FAIL)]),
    ("heat", "tries=1; head_F={}", {}, [("100", PASS), ("100.1", LIMITS), ("105", LIMITS), ("105.1", FAIL)]),
    ("heat", "tries=1; off_after_flow_s={}", {}, [("5", PASS), ("5.1", FAIL)]),
    ("heat", "tries=1; co_ppm={}", {}, [("9", PASS), ("9.1", LIMITS), ("34", LIMITS), ("35", FAIL)]),
    ("propane", "gross_lb={}", STAMPED, [("148", PASS), ("147.9", LIMITS), ("98", LIMITS), ("97.9", FAIL)]),
    ("propane", "gross_lb={}", STAMPED, [("168", PASS), ("168.1", LIMITS), ("170", LIMITS), ("170.1", FAIL)]),
    ("propane", "empty_lb={}", STAMPED, [("64.6", PASS), ("64.5", FAIL)]),
    ("cylinder", "psi={}; temp_F=70", AIR, [("4050", PASS), ("4049", LIMITS), ("2250", LIMITS), ("2249", FAIL)]),
    ("sump", "starts=3; stops={}", {}, [("3", PASS), ("2", FAIL)]),
    ("sump", "gpm={}; lift_ft=6", {}, [("6", PASS), ("5.99", LIMITS), ("4", LIMITS), ("3.99", FAIL)]),
    ("sump", "runs=yes; refill_in={}", {}, [("1", PASS), ("1.1", LIMITS), ("3", LIMITS), ("3.1", FAIL)]),
    ("bladder", "bubbles=none; hold_min={}", {}, [("15", PASS), ("14.9", VOID)]),
    ("bladder", "hold_min=30; drop_in={}", {"kind": "berm"},
     [("0.25", PASS), ("0.26", LIMITS), ("0.5", LIMITS), ("0.51", FAIL)]),
    ("hose", "drips_min={}", {}, [("2", PASS), ("2.1", LIMITS), ("10", LIMITS), ("10.1", FAIL)]),
    ("injector", "gpm=1; run_s=60; drawn_ml={}", {},
     [("18.92706", LIMITS), ("18.92705", PASS), ("3.78542", PASS), ("3.78541", LIMITS), ("1.8928", LIMITS),
      ("1.8927", FAIL), ("37.854", LIMITS), ("37.855", FAIL)]),
    ("injector", "gpm=1; run_s=60; set_pct=0.3; drawn_ml={}", {},
     [("13.627", PASS), ("13.628", LIMITS), ("9.085", PASS), ("9.0849", LIMITS)]),
    ("injector", "idle_rise_ml={}", {}, [("0", PASS), ("0.1", FAIL)]),
    ("sprayer", "hold_min={}", {}, [("2", PASS), ("1.9", LIMITS), ("1", LIMITS), ("0.9", FAIL)]),
    ("sprayer", "flow_ml_min={}; rated_ml_min=400", {},
     [("360", PASS), ("359.9", FAIL), ("440", PASS), ("440.1", FAIL)]),
    ("propane", "gross_lb=160; planning_degF=20; draw_btu_h={}", STAMPED, [("152000", PASS), ("161000", FAIL)]),
    ("heat", "tries=1; away_ft={}", {}, [("10", PASS), ("9.9", FAIL)]),
    ("generator", "started=yes; load_W=900; exhaust_ft={}; V1=120; Hz1=60; run_min=30", {},
     [("20", PASS), ("19.9", FAIL)]),
    ("battery", "rest_h=24; temp_F=80; ocv_v={}", {"spec": {"chemistry": "flooded"}},
     [("12.42", PASS), ("12.41", LIMITS), ("12.2", LIMITS), ("12.19", FAIL)]),
    ("battery", "rest_h=24; temp_F=77; ocv_v={}", {}, [("12.6", PASS), ("12.59", LIMITS), ("12.4", LIMITS),
                                                       ("12.39", FAIL)]),
    ("battery", "rest_h={}; ocv_v=12.8", {}, [("8", PASS), ("7.9", LIMITS), ("4", LIMITS), ("3.9", VOID)]),
    ("battery", "rest_h=24; capacity_pct={}", {}, [("90", PASS), ("89.9", LIMITS), ("80", LIMITS), ("79.9", FAIL)]),
    ("generator", LOADED.replace("120", "{}"), {}, [("108", PASS), ("107.9", FAIL), ("132", PASS), ("132.1", FAIL)]),
    ("generator", LOADED.replace("Hz1=60", "Hz1={}"), {}, [("58", PASS), ("57.9", FAIL), ("62", PASS), ("62.1", FAIL)]),
    ("generator", LOADED.replace("=30", "={}"), {}, [("30", PASS), ("29.9", LIMITS), ("15", LIMITS), ("14.9", LIMITS)]),
    ("generator", LOADED.replace("2600", "{}"), {"spec": {"fuel": "diesel", "watts": 5000}},
     [("1500", PASS), ("1499", LIMITS)]),
    ("generator", LOADED + "; fuel_date={}", {"on": date(2026, 11, 20)},
     [("2026-05-20", PASS), ("2026-05-19", LIMITS), ("2025-11-20", LIMITS), ("2025-11-19", FAIL)]),
    ("generator", LOADED + "; fuel_date={}", {"on": date(2026, 11, 20), "spec": {"fuel": "diesel"}},
     [("2025-11-20", PASS), ("2025-11-19", LIMITS), ("2025-05-20", LIMITS), ("2025-05-19", FAIL)]),
    ("gfci", "ground_ohm={}", {"kind": "cord"}, [("1", PASS), ("1.01", FAIL)]),
    ("light", "lit={}; of=100", {}, [("100", PASS), ("99", LIMITS), ("90", LIMITS), ("89", FAIL)]),
    ("drypack", "wet_packed_h={}; mould=none", {}, [("24", PASS), ("24.1", LIMITS), ("48", LIMITS), ("48.1", FAIL)]),
    ("setup", "gust_mph={}", {}, [("15", PASS), ("15.1", LIMITS), ("25", LIMITS), ("25.1", FAIL)]),
    ("setup", "generator_ft={}", {"kind": "generator"}, [("20", PASS), ("19.9", FAIL)]),
    ("setup", "heater_ft={}", {}, [("10", PASS), ("9.9", FAIL)]),
    ("trailer", KEY, {}, [("300", PASS), ("301", LIMITS), ("600", LIMITS), ("601", FAIL)]),
]  # fmt: skip
EACH = [(check, text, told, number, verdict) for check, text, told, sides in BOUNDS for number, verdict in sides]


@pytest.mark.parametrize(("check", "text", "told", "number", "verdict"), EACH, ids=[f"{c[1]} {c[3]}" for c in EACH])
def test_a_reading_at_just_inside_and_just_outside_each_bound(check, text, told, number, verdict):
    readings = hold(**{text: number}) if check == "hold" else text.format(number)
    assert judged(check, readings, **told).outcome.value == verdict


@pytest.mark.parametrize("key", [key for key, limit in limits().items() if limit.judge(1e9) or limit.pass_low])
def test_every_bound_that_ships_belongs_to_the_better_side(key):
    limit = limits()[key]
    order = [limit.limits_low, limit.pass_low, limit.pass_high, limit.limits_high]
    told = [bound for bound in order if bound is not None]
    assert told == sorted(told)
    for bound, at in ((limit.pass_low, PASS), (limit.pass_high, PASS), (limit.limits_low, LIMITS),
                      (limit.limits_high, LIMITS)):  # fmt: skip
        if bound is not None:
            assert limit.judge(bound).value == at


@pytest.mark.parametrize("plate", [tenths / 10 for tenths in range(5, 90)])
def test_a_share_that_decimals_cannot_hold_is_still_at_its_bound(plate):
    """7.9 psi at nine tenths is 7.11 psi; as binary fractions the share may come out a hair under 0.9."""
    at = (round(plate * 0.9, 3), round(plate * 1.1, 3))
    for lift in at:
        verdict = judged("relief", f"lift_psi={lift}", spec={"relief_psi": plate})
        assert (verdict.outcome.value, modes(verdict)) == (PASS, {"RV1": "proven"})


@pytest.mark.parametrize(
    ("first", "last", "months"),
    [
        (date(2026, 5, 20), date(2026, 11, 20), 6),
        (date(2026, 1, 31), date(2026, 2, 28), 1),
        (date(2024, 2, 29), date(2025, 2, 28), 12),
        (date(2026, 5, 20), date(2026, 6, 4), 15 / 31),
        (date(2026, 5, 20), date(2026, 5, 19), -1 / 30),
    ],
)
def test_months_are_those_of_the_calendar(first, last, months):
    assert months_between(first, last) == pytest.approx(months)


# --- what the checks can see ------------------------------------------------------------------------------------

# The rating works these out itself for the mission asked.
NO_CHECK = {"LP4", "BL5"}
OTHER = {"kind": "radio"}
# mode -> (check, what shows it absent, what shows it there, what is known beforehand)
SEEN = {
    "SH1": ("hold", hold(), hold(p2="8.9"), {}),
    "SH2": ("hold", hold(), hold() + "; reached_set=no", {}),
    "SH3": ("look", "seam_lift_in=1", "seam_lift_in=1.1", {}),
    "SH4": ("drypack", "wet_packed_h=3; mould=none", "mould=seen", {}),
    "SH5": ("setup", "fabric_degF=20; fabric_least_degF=20", "fabric_degF=19; fabric_least_degF=20", {}),
    "SH6": ("setup", "head_gpm=3.2", "head_gpm=3.1", {"baseline": {"head_gpm": 4.0}}),
    "SH7": ("look", "curtains_ok=yes", "curtains_ok=no", {}),
    "SH8": ("look", "holes=none; droppings=none", "droppings=seen", {}),
    "SH9": ("drypack", "contamination=none", "contamination=confirmed", {}),
    "TP1": ("look", "holes=none", "holes=seen", {"kind": "tarp"}),
    "TP2": ("bladder", "hold_min=30; drop_in=0.2", "hold_min=30; drop_in=0.3", {"kind": "berm"}),
    "RV1": ("relief", "lift_psi=3.5", "lift_psi=4", {"spec": {"relief_psi": 3.5}}),
    "RV2": ("relief", "lift_psi=3.5; reseat_psi=3.2; bubbles=none", "lift_psi=3.5; reseat_psi=3.2; bubbles=seen", {}),
    "RV3": ("relief", "plate_psi=3.5", "plate_psi=3.0", {"spec": {"relief_psi": 3.5}}),
    "FV1": ("hold", hold() + "; soap_result=none", hold() + "; soap_result=fill valve", {}),
    "FV2": ("look", "caps=4; caps_of=4", "caps=3; caps_of=4", {}),
    "FV3": ("connect", "fits=yes", "fits=no", {"kind": "inflator"}),
    "DV1": ("hold", hold(), hold() + "; soap_result=deflate valve", {}),
    "DV2": ("look", "deflate_turns=yes", "deflate_turns=no", {}),
    "IN1": ("inflate", "starts=yes", "starts=no", {}),
    "IN2": ("inflate", "min_to_set=10", "min_to_set=13", {"baseline": {"inflate_s": 600}}),
    "IN3": ("inflate", "starts=yes; deflate_min=8", "deflates=no", {}),
    "IN4": ("gfci", "gfci_trips=no", "gfci_trips=yes", {"kind": "inflator"}),
    "CI1": ("cylinder_kit", "outlet_psi=5; outlet_after_psi=5", "outlet_psi=5; outlet_after_psi=6", {}),
    "CI2": ("cylinder_kit", "soap=none; hose_damage=none", "hose_damage=seen", {}),
    "CI3": ("connect", "fits=yes", "fits=no", {"kind": "inflation_kit"}),
    "AC1": ("cylinder", "psi=4500; temp_F=70", "psi=3000; temp_F=70", AIR),
    "AC2": ("cylinder", "outside=ok", "outside=ok", AIR | {"there": date(2028, 1, 1)}),
    "AC3": ("cylinder", "outside=ok", "outside=ok", AIR | {"there": date(2038, 1, 1)}),
    "AC4": ("cylinder", "outside=ok", "outside=gouge", AIR),
    "WH1": ("heat", "lit=yes", "lit=no", {}),
    "WH2": ("heat", "drained=yes; leaks=none", "lit=yes; leaks=seen", {}),
    "WH3": ("heat", RUN.format(80), RUN.format(70), HEAT),
    "WH4": ("heat", "lit=yes; head_F=97", "lit=yes; head_F=106", {}),
    "WH5": ("heat", "lit=yes; off_after_flow_s=2", "lit=yes; off_after_flow_s=6", {}),
    "WH6": ("heat", "co_ppm=2", "co_ppm=40", {}),
    "WH7": ("heat", "lit=yes; strainer=clean", "lit=yes; strainer=clogged", {}),
    "WH8": ("look", "tyres_ok=yes", "tyres_ok=no", {"kind": "heater"}),
    "LP1": ("propane", "gross_lb=168", "gross_lb=118", STAMPED),
    "LP2": ("propane", "gross_lb=168", "gross_lb=168", STAMPED | {"there": date(2031, 1, 1)}),
    "LP3": ("propane", "soap=none", "soap=seen", STAMPED),
    "LP5": ("propane", "soap=none; upright_outdoors=yes; plug=yes", "soap=none; plug=no", STAMPED),
    "SP1": ("sump", "starts=3; stops=3", "starts=2; stops=3", {}),
    "SP2": ("sump", "gpm=8; lift_ft=6", "runs=no", {}),
    "SP3": ("sump", "gpm=8; lift_ft=6", "gpm=5; lift_ft=6", {}),
    "SP4": ("sump", "runs=yes; refill_in=0.5", "runs=yes; refill_in=2", {}),
    "SP5": ("sump", "runs=yes; drained=yes", "runs=yes; drained=no", {"cold_season": True}),
    "BL1": ("bladder", "bubbles=none; hold_min=15", "bubbles=seen", {}),
    "BL2": ("bladder", "valves_turn=yes", "valves_turn=no", {}),
    "BL3": ("bladder", "vent_passes=yes", "vent_passes=no", {}),
    "BL4": ("setup", "bladder_level=yes", "bladder_level=no", {"kind": "bladder"}),
    "HO1": ("hose", "drips_min=0", "drips_min=5", {}),
    "HO2": ("hose", "supply_psi=55; hold_min=5; bulge=none", "bulge=burst", {}),
    "HO3": ("hose", "drained=yes", "drained=no", {"cold_season": True}),
    "HO4": ("connect", "hose_ft=66; layout_ft=55", "hose_ft=65; layout_ft=55", {}),
    "HO5": ("hose", "mark_legible=yes", "mark_legible=no", {}),
    "HO6": ("connect", "threads_mate=yes", "threads_mate=no", {}),
    "GR1": ("look", "damage=none", "damage=seen", {"kind": "grid"}),
    "GR2": ("setup", "egress_ok=yes", "egress_ok=no", {"kind": "mat"}),
    "IJ1": ("injector", "gpm=4; run_s=60; drawn_ml=47", "gpm=4; run_s=60; drawn_ml=0", {}),
    "IJ2": ("injector", "gpm=4; run_s=60; drawn_ml=47", "gpm=4; run_s=60; drawn_ml=100", {}),
    "IJ3": ("injector", "idle_rise_ml=0", "idle_rise_ml=1", {}),
    "BP1": ("sprayer", "hold_min=2", "hold_min=1.9", {}),
    "BP2": ("sprayer", "flow_ml_min=440; rated_ml_min=400", "flow_ml_min=441; rated_ml_min=400", {}),
    "BP3": ("look", "label_ok=yes", "label_ok=no", {"kind": "sprayer"}),
    "LT1": ("light", "lit=10; of=10", "lit=9; of=10", {}),
    "LT2": ("light", "psu_v=12", "psu_v=0", {"kind": "light_supply"}),
    "TD1": ("count", "counted=12", "counted=11", {"kind": "tie_down", "expected_units": 12}),
    "TD2": ("look", "damage=none", "damage=seen", {"kind": "tie_down"}),
    "BA1": ("battery", "rest_h=24; ocv_v=12.8", "rest_h=24; ocv_v=12.3", {}),
    "BA2": ("battery", "rest_h=24; capacity_pct=95", "rest_h=24; capacity_pct=70", {}),
    "GN1": ("generator", "start_tries=1", "started=no", {}),
    "GN2": ("generator", LOADED, LOADED.replace("120", "90"), {}),
    "GN3": ("setup", "generator_ft=25", "generator_ft=10", {"kind": "generator"}),
    "PW1": ("gfci", "test_trips=yes; reset=yes", "test_trips=no", {}),
    "PW2": ("gfci", "ground_ohm=0.5", "jacket=cut", {"kind": "cord"}),
    "CS1": ("count", "counted=12", "counted=11", {"kind": "suit", "expected_units": 12}),
    "TR1": ("trailer", KEY.format(120), KEY.format(900), {}),
    "PE1": ("setup", "qualified=8; lanes=2", "qualified=3; lanes=2", {"visible_modes": ("PE1",)}),
    "XX0": ("look", "works=yes", "works=no", OTHER),
}


@pytest.mark.parametrize("code", sorted(SEEN))
def test_each_mode_can_be_shown_absent_and_found_by_the_check_that_is_named_for_it(code):
    check, absent, there, told = SEEN[code]
    told = dict(told)
    later = {"on": told.pop("there")} if "there" in told else {}
    assert modes(judged(check, absent, **told)).get(code) == "proven"
    assert modes(judged(check, there, **told | later)).get(code) in ("failed", "limited")


def test_only_modes_that_the_rating_works_out_or_that_are_blind_spots_lack_a_check():
    with (CATALOGUE / "modes.csv").open(encoding="utf-8") as rows:
        codes = {row["code"] for row in csv.DictReader(rows)}
    assert len(codes) == 82  # the 81 of the trade, and the one of things without modes of their own
    assert codes - set(SEEN) == NO_CHECK
    scheduled = {code for kind in kinds().values() for seen in kind["checks"].values() for code in seen}
    assert codes - scheduled == NO_CHECK | {"PE1"}  # a drill of the whole line shows that


@pytest.mark.parametrize("strainer", ["clean", "clogged"])
@pytest.mark.parametrize("outlet", [108, 90])
def test_a_strainer_that_was_looked_at_counts_whatever_the_run_showed(outlet, strainer):
    verdict = judged("heat", f"{RUN.format(outlet)}; strainer={strainer}", **HEAT)
    assert modes(verdict)["WH7"] == ("proven" if strainer == "clean" else "limited")


def test_a_berm_whose_time_was_not_noted_is_claimed_where_it_held_and_limited_where_it_did_not():
    assert modes(judged("bladder", "drop_in=0.1", kind="berm")) == {"TP2": "claimed"}
    assert modes(judged("bladder", "drop_in=0.4", kind="berm")) == {"TP2": "limited"}
