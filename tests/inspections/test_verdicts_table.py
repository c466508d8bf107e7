"""Every procedure in every verdict that its limits allow, and what each shows of each mode."""

import pytest

from inspections.verdicts import JUDGES
from tests.inspections.judging import COLD, judged, modes, procedure

HOLD = "P_set_psi=3.0; rest_min=60; P1_psi=3.00; T1_F=60.0; P2_psi={p2}; T2_F=60.0; hold_min=60; same_gauge=yes; "
HOLD += "direct_sun=no; relief_lifted=no"
HEAT = "inlet_F=40; outlet_F={out}; head_F=97; set_F=105; gpm=5.0; tries=1; off_after_flow_s=2; CO_ppm=2; drained=yes"
HEATER = {"spec": {"input_btu_h": 190000}, "baseline": {"heater_output_w": 42_500.0}}
COLLAR = {"spec": {"tare_lb": 68, "nominal_lb": 100, "made": "2018-01"}}
TRAILER = "tyres_ok=yes; lights_ok=yes; brakes_ok=yes; coupler_fits=yes; registered=yes; bay_clear=yes; key_s="
AIR = {"spec": {"rated_psi": 4500, "made": "2022-02", "spec_mark": "composite"}}

# check, readings, what is known beforehand, verdict, modes shown
CASES = [
    ("hold", HOLD.format(p2="2.95"), {}, "pass", {"SH1": "proven", "SH2": "proven", "DV1": "proven"}),
    ("hold", HOLD.format(p2="2.75"), {}, "pass with limits", {"SH1": "limited", "SH2": "proven"}),
    ("hold", HOLD.format(p2="2.50"), {}, "fail", {"SH1": "limited", "SH2": "proven"}),
    ("hold", HOLD.format(p2="2.95").replace("same_gauge=yes", "same_gauge=no"), {}, "void", {}),
    ("relief", "plate_psi=3.5; lift_psi=3.45; reseat_psi=3.2; bubbles=none", {"spec": {"relief_psi": 3.5}}, "pass",
     {"RV1": "proven", "RV2": "proven", "RV3": "proven"}),
    ("relief", "plate_psi=3.5; lift_psi=3.45; reseat_psi=2.8; bubbles=none", {}, "pass with limits",
     {"RV1": "proven", "RV2": "limited", "RV3": "claimed"}),
    ("relief", "plate_psi=3.5; lift_psi=4.0; reseat_psi=3.8; bubbles=none", {}, "fail",
     {"RV1": "failed", "RV2": "proven", "RV3": "claimed"}),
    ("relief", "lifted=no", {}, "fail", {"RV1": "failed"}),
    ("inflate", "min_to_set=6.5; set_psi=3.0", {"baseline": {"inflate_s": 360}}, "pass",
     {"IN1": "proven", "IN2": "proven"}),
    ("inflate", "min_to_set=8.4", {"baseline": {"inflate_s": 360}}, "pass with limits",
     {"IN1": "proven", "IN2": "limited"}),
    ("inflate", "min_to_set=12", {"baseline": {"inflate_s": 360}}, "fail", {"IN1": "proven", "IN2": "limited"}),
    ("inflate", "starts=no", {}, "fail", {"IN1": "failed"}),
    ("inflate", "min_to_set=6; gfci_trips=yes", {}, "fail", {"IN1": "proven", "IN2": "proven", "IN4": "failed"}),
    ("heat", HEAT.format(out="99") + "; leaks=none", HEATER, "pass",
     {"WH1": "proven", "WH2": "proven", "WH3": "proven", "WH4": "proven", "WH5": "proven", "WH6": "proven",
      "WH7": "proven"}),
    ("heat", HEAT.format(out="82"), HEATER, "pass with limits",
     {"WH1": "proven", "WH2": "claimed", "WH3": "limited", "WH4": "proven", "WH5": "proven", "WH6": "proven"}),
    ("heat", HEAT.format(out="70"), HEATER, "fail",
     {"WH1": "proven", "WH2": "claimed", "WH3": "limited", "WH4": "proven", "WH5": "proven", "WH6": "proven"}),
    ("heat", "lit=no", {}, "fail", {"WH1": "failed"}),
    ("heat", "tries=4", {}, "pass with limits", {"WH1": "proven"}),
    ("heat", "tries=6", {}, "fail", {"WH1": "failed"}),
    ("heat", "tries=1; head_F=108", {}, "fail", {"WH1": "proven", "WH4": "failed"}),
    ("heat", "tries=1; off_after_flow_s=9", {}, "fail", {"WH1": "proven", "WH5": "failed"}),
    ("heat", "tries=1; co_ppm=20", {}, "pass with limits", {"WH1": "proven", "WH6": "proven"}),
    ("heat", "tries=1; co_ppm=35", {}, "fail", {"WH1": "proven", "WH6": "failed"}),
    ("heat", "tries=1; leaks=seen", {}, "fail", {"WH1": "proven", "WH2": "failed"}),
    ("heat", "tries=1; drained=no", {}, "pass with limits", {"WH1": "proven"}),
    ("heat", "tries=1; drained=no", {"cold_season": True, "on": COLD}, "fail", {"WH1": "proven", "WH2": "failed"}),
    ("propane", "gross_lb=162.1; tare_lb=68.0; soap=none", COLLAR, "pass",
     {"LP1": "proven", "LP2": "proven", "LP3": "proven"}),
    ("propane", "gross_lb=118.0; soap=none", COLLAR, "pass with limits",
     {"LP1": "limited", "LP2": "proven", "LP3": "proven"}),
    ("propane", "gross_lb=80.0; soap=none", COLLAR, "fail", {"LP1": "limited", "LP2": "proven", "LP3": "proven"}),
    ("propane", "gross_lb=171.0; soap=none", COLLAR, "fail", {"LP1": "failed", "LP2": "proven", "LP3": "proven"}),
    ("propane", "gross_lb=162.0; soap=seen", COLLAR, "fail", {"LP1": "proven", "LP2": "proven", "LP3": "failed"}),
    ("propane", "gross_lb=40.0; soap=none", COLLAR, "void", {}),
    ("propane", "gross_lb=162; upright_outdoors=yes; plug=yes", COLLAR, "pass",
     {"LP1": "proven", "LP2": "proven", "LP5": "proven"}),
    ("propane", "gross_lb=162; upright_outdoors=no", COLLAR, "fail",
     {"LP1": "proven", "LP2": "proven", "LP5": "limited"}),
    ("propane", "empty_lb=60", COLLAR, "fail", {"LP2": "failed"}),
    ("sump", "bucket_gal=5; fill_s=12.3; starts=3; stops=3; refill_in=0.5; lift_ft=6; drained=yes", {}, "pass",
     {"SP1": "proven", "SP2": "proven", "SP3": "proven", "SP4": "proven", "SP5": "proven"}),
    ("sump", "bucket_gal=5; fill_s=60; starts=3; stops=3; refill_in=2; lift_ft=6", {}, "pass with limits",
     {"SP1": "proven", "SP2": "proven", "SP3": "limited", "SP4": "limited"}),
    ("sump", "bucket_gal=5; fill_s=120; starts=3; stops=3; lift_ft=6", {}, "fail",
     {"SP1": "proven", "SP2": "proven", "SP3": "limited"}),
    ("sump", "starts=2; stops=2", {}, "fail", {"SP1": "failed"}),
    ("sump", "runs=no", {}, "fail", {"SP2": "failed"}),
    ("bladder", "method=air; psi=1.0; hold_min=15; bubbles=none; valves_turn=yes; vent_passes=yes", {}, "pass",
     {"BL1": "proven", "BL2": "proven", "BL3": "proven"}),
    ("bladder", "method=air; psi=1.5; hold_min=15; bubbles=none", {}, "pass with limits", {"BL1": "proven"}),
    ("bladder", "hold_min=15; bubbles=seam", {}, "fail", {"BL1": "failed"}),
    ("bladder", "hold_min=10; bubbles=none", {}, "void", {}),
    ("bladder", "drop_in=0.2; hold_min=30", {"kind": "berm"}, "pass", {"TP2": "proven"}),
    ("bladder", "drop_in=0.4; hold_min=30", {"kind": "berm"}, "pass with limits", {"TP2": "limited"}),
    ("bladder", "drop_in=0.8; hold_min=30", {"kind": "berm"}, "fail", {"TP2": "limited"}),
    ("injector", "gpm=4.0; run_s=60; set_pct=0.3; drawn_mL=47; idle_rise_mL=0", {}, "pass",
     {"IJ1": "proven", "IJ2": "proven", "IJ3": "proven"}),
    ("injector", "gpm=4.0; run_s=60; set_pct=0.3; drawn_mL=60", {}, "pass with limits",
     {"IJ1": "proven", "IJ2": "limited"}),
    ("injector", "gpm=4.0; run_s=60; set_pct=0.3; drawn_mL=200", {}, "fail", {"IJ1": "proven", "IJ2": "limited"}),
    ("injector", "gpm=4.0; run_s=60; drawn_mL=0; idle_rise_mL=0", {}, "fail", {"IJ1": "limited", "IJ3": "proven"}),
    ("injector", "gpm=4.0; run_s=60; set_pct=0.3; drawn_mL=47; idle_rise_mL=3", {}, "fail",
     {"IJ1": "proven", "IJ2": "proven", "IJ3": "failed"}),
    ("sprayer", "hold_min=2; drawn_mL=380; run_s=60; rated_ml_min=400; label_ok=yes; residue=none", {}, "pass",
     {"BP1": "proven", "BP2": "proven", "BP3": "proven"}),
    ("sprayer", "hold_min=1.5", {}, "pass with limits", {"BP1": "limited"}),
    ("sprayer", "drawn_mL=220; run_s=30; rated_ml_min=400", {}, "pass", {"BP2": "proven"}),
    ("sprayer", "drawn_mL=350; run_s=60; rated_ml_min=400", {}, "fail", {"BP2": "limited"}),
    ("sprayer", "holds=no", {}, "fail", {"BP1": "limited"}),
    ("sprayer", "label_ok=yes; residue=smells of bleach", {}, "fail", {"BP3": "failed"}),
    ("sprayer", "flow_ml_min=400", {}, "pass with limits", {"BP2": "claimed"}),
    ("battery", "rest_h=24; temp_F=77; OCV_V=12.83", {}, "pass", {"BA1": "proven"}),
    ("battery", "rest_h=24; temp_F=77; OCV_V=12.50", {}, "pass with limits", {"BA1": "limited"}),
    ("battery", "rest_h=24; temp_F=77; OCV_V=12.20", {}, "fail", {"BA1": "limited"}),
    ("battery", "rest_h=3; temp_F=77; OCV_V=12.83", {}, "void", {}),
    ("battery", "rest_h=6; temp_F=77; OCV_V=12.83", {}, "pass with limits", {"BA1": "proven"}),
    ("battery", "rest_h=24; temp_F=80; OCV_V=12.45", {"spec": {"chemistry": "flooded"}}, "pass", {"BA1": "proven"}),
    ("battery", "rest_h=24; charge_pct=55", {"spec": {"chemistry": "lithium"}}, "pass", {"BA1": "proven"}),
    ("battery", "rest_h=24; ocv_v=13.2", {"spec": {"chemistry": "LiFePO4"}}, "pass with limits", {"BA1": "claimed"}),
    ("battery", "rest_h=24; OCV_V=12.8; capacity_pct=85", {}, "pass with limits", {"BA1": "proven", "BA2": "limited"}),
    ("battery", "rest_h=24; OCV_V=12.8; capacity_Ah=60", {"spec": {"ah": 100}}, "fail",
     {"BA1": "proven", "BA2": "limited"}),
    ("generator", "start_tries=2; load_W=2600; V1=121.4; Hz1=60.2; run_min=30", {}, "pass",
     {"GN1": "proven", "GN2": "proven"}),
    ("generator", "start_tries=2; load_W=2600; V1=121.4; Hz1=60.2; run_min=20", {}, "pass with limits",
     {"GN1": "proven", "GN2": "proven"}),
    ("generator", "start_tries=2; load_W=2600; V1=121.4; Hz1=60.2; run_min=5", {}, "pass with limits",
     {"GN1": "proven", "GN2": "claimed"}),
    ("generator", "start_tries=2; load_W=2600; V1=104; Hz1=60.2; run_min=30", {}, "fail",
     {"GN1": "proven", "GN2": "failed"}),
    ("generator", "start_tries=2", {}, "pass with limits", {"GN1": "proven"}),
    ("generator", "started=no", {}, "fail", {"GN1": "failed"}),
    ("generator", "start_tries=1; load_W=2600; V1=120; Hz1=60; run_min=30; fuel_date=2025-03-01", {}, "fail",
     {"GN1": "failed", "GN2": "proven"}),
    ("generator", "start_tries=1; load_W=900; V1=120; Hz1=60; run_min=30", {"spec": {"watts": 5000, "fuel": "diesel"}},
     "pass with limits", {"GN1": "proven", "GN2": "claimed"}),
    ("gfci", "test_trips=yes; reset=yes", {}, "pass", {"PW1": "proven"}),
    ("gfci", "test_trips=yes", {}, "pass with limits", {"PW1": "claimed"}),
    ("gfci", "test_trips=no; reset=yes", {}, "fail", {"PW1": "failed"}),
    ("gfci", "ground_ohm=0.4; jacket=none", {"kind": "cord"}, "pass", {"PW2": "proven"}),
    ("gfci", "ground_ohm=3", {"kind": "cord"}, "fail", {"PW2": "failed"}),
    ("light", "lit=10; of=10; psu_V=12.1; run_min=30", {}, "pass", {"LT1": "proven"}),
    ("light", "lit=19; of=20", {}, "pass with limits", {"LT1": "limited"}),
    ("light", "lit=8; of=10", {}, "fail", {"LT1": "limited"}),
    ("light", "psu_V=12.1", {"kind": "light_supply"}, "pass", {"LT2": "proven"}),
    ("light", "psu_V=6", {"kind": "light_supply"}, "fail", {"LT2": "failed"}),
    ("count", "counted=24", {"expected_units": 24}, "pass", {"GR1": "proven"}),
    ("count", "counted=22", {"expected_units": 24}, "pass with limits", {"GR1": "limited"}),
    ("count", "counted=0", {"expected_units": 24}, "fail", {"GR1": "limited"}),
    ("cylinder", "psi=4454; temp_F=45; outside=ok", AIR, "pass",
     {"AC1": "proven", "AC2": "proven", "AC3": "proven", "AC4": "proven"}),
    ("cylinder", "psi=3500; temp_F=70; outside=ok", AIR, "pass with limits",
     {"AC1": "limited", "AC2": "proven", "AC3": "proven", "AC4": "proven"}),
    ("cylinder", "psi=1500; temp_F=70; outside=ok", AIR, "fail",
     {"AC1": "limited", "AC2": "proven", "AC3": "proven", "AC4": "proven"}),
    ("cylinder", "psi=4454; temp_F=45; outside=gouge", AIR, "fail",
     {"AC1": "proven", "AC2": "proven", "AC3": "proven", "AC4": "failed"}),
    ("look", "seen=yes", {}, "pass",
     {"SH3": "claimed", "SH7": "claimed", "SH8": "claimed", "FV2": "claimed", "DV2": "claimed"}),
    ("look", "runs=yes", {"kind": "inflator"}, "pass", {"IN1": "proven"}),
    ("look", "runs=no", {"kind": "inflator"}, "fail", {"IN1": "failed"}),
    ("look", "works=yes", {"kind": "radio"}, "pass", {"XX0": "proven"}),
    ("look", "works=no", {"kind": "radio"}, "fail", {"XX0": "failed"}),
    ("look", "seen=yes", {"kind": "radio"}, "pass", {"XX0": "claimed"}),
    ("look", "damage=none", {"kind": "tie_down"}, "pass", {"TD2": "proven"}),
    ("look", "holes=torn corner", {"kind": "tarp"}, "pass with limits", {"TP1": "limited"}),
    ("look", "seen=no", {}, "fail", {}),
    ("hose", "supply_psi=55; hold_min=5; drips_min=1; bulge=none; mark_legible=yes; drained=yes", {}, "pass",
     {"HO1": "proven", "HO2": "proven", "HO3": "proven", "HO5": "proven"}),
    ("hose", "drips_min=5", {}, "pass with limits", {"HO1": "limited"}),
    ("hose", "bulge=burst", {}, "fail", {"HO2": "failed"}),
    ("hose", "bulge=none", {}, "pass with limits", {"HO2": "claimed"}),
    ("connect", "hose_ft=100; layout_ft=80; threads_mate=yes", {}, "pass", {"HO4": "proven", "HO6": "proven"}),
    ("connect", "hose_ft=90; layout_ft=80", {}, "fail", {"HO4": "failed"}),
    ("connect", "missing_adapter=2-1/2 to GHT", {}, "fail", {"HO6": "failed"}),
    ("connect", "fits=yes", {"kind": "inflator"}, "pass", {"FV3": "proven"}),
    ("setup", "erect_min=14; reached_set=yes; head_gpm=4; gust_mph=8; fabric_degF=60; fabric_least_degF=20", {}, "pass",
     {"SH2": "proven", "SH5": "proven", "SH6": "proven"}),
    ("setup", "gust_mph=20", {}, "pass with limits", {}),
    ("setup", "gust_mph=30", {}, "fail", {}),
    ("setup", "generator_ft=12", {"kind": "generator"}, "fail", {"GN3": "failed"}),
    ("setup", "generator_ft=25", {"kind": "generator"}, "pass", {"GN3": "proven"}),
    ("setup", "qualified=8; lanes=2", {"visible_modes": ("PE1",)}, "pass", {"PE1": "proven"}),
    ("setup", "qualified=3; lanes=2", {"visible_modes": ("PE1",)}, "fail", {"PE1": "failed"}),
    ("trailer", TRAILER + "120", {}, "pass", {"TR1": "proven"}),
    ("trailer", TRAILER + "400", {}, "pass with limits", {"TR1": "proven"}),
    ("trailer", "bay_clear=no", {}, "fail", {"TR1": "failed"}),
    ("cylinder_kit", "outlet_psi=5; outlet_after_psi=5.2; soap=none; hose_damage=none; fits=yes", {}, "pass",
     {"CI1": "proven", "CI2": "proven", "CI3": "proven"}),
    ("cylinder_kit", "outlet_psi=5; outlet_after_psi=6", {}, "fail", {"CI1": "failed"}),
    ("drypack", "contamination=clean drill; wet_packed_h=3; mould=none", {}, "pass",
     {"SH4": "proven", "SH9": "proven"}),
    ("drypack", "wet_packed_h=30; mould=none", {}, "pass with limits", {"SH4": "limited"}),
    ("drypack", "wet_packed_h=60", {}, "fail", {"SH4": "limited"}),
    ("drypack", "contamination=suspected", {}, "fail", {"SH9": "failed"}),
    ("drypack", "contamination=confirmed; cleared=yes; clearance_method=swab; cleared_by=Hollis", {}, "pass",
     {"SH9": "proven"}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("check", "readings", "known", "verdict", "shown"), CASES, ids=[f"{c[0]}: {c[1]}"[:90] for c in CASES]
)
def test_readings_make_the_verdict_and_show_the_modes(check, readings, known, verdict, shown):
    result = judged(check, readings, **known)
    assert (result.outcome.value, modes(result)) == (verdict, shown)


def test_every_procedure_is_judged_and_in_the_table():
    assert {case[0] for case in CASES} == set(JUDGES)


@pytest.mark.parametrize("check", sorted(JUDGES))
def test_every_procedure_says_once_that_local_code_comes_first_and_has_a_caution(check):
    told = procedure(check)
    assert "Local code and the maker's manual" in told["first"]
    assert any("caution" in step for step in told["steps"])


@pytest.mark.parametrize("check", sorted(JUDGES))
def test_a_bare_pass_is_a_claim_and_a_bare_fail_is_believed(check):
    passed = judged(check, "result=pass")
    assert passed.outcome.value == "pass"
    assert set(modes(passed).values()) <= {"claimed"}
    failed = judged(check, "result=fail")
    assert failed.outcome.value == "fail"
    assert set(modes(failed).values()) & {"failed", "limited"}


@pytest.mark.parametrize(
    ("check", "readings", "known", "verdict", "shown"), CASES, ids=[str(n) for n in range(len(CASES))]
)
def test_every_number_that_a_limit_decided_names_its_limit_and_origin(check, readings, known, verdict, shown):
    for finding in judged(check, readings, **known).findings:
        if finding.limit_key:
            assert finding.origin
            assert finding.text.endswith((".", "!"))
