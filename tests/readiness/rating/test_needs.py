"""What a mission needs of each function, and what the line has for it."""

from dataclasses import replace

import pytest

from readiness.rating.evidence import weigh
from readiness.rating.facts import Measured
from readiness.rating.judge import Judge
from readiness.rating.mission import Mission, standard_mission
from readiness.rating.needs_power import load_w
from readiness.rating.plan import Means
from readiness.rating.rate import rate
from shared.units import from_si, to_si
from tests.readiness.rating.builders import (
    AT,
    COLD_NIGHT,
    but,
    generator,
    heater,
    item,
    line,
    of,
    requirements,
    with_stock,
    worked_case,
)

RATED = standard_mission(2)


def judge(facts, mission=RATED):
    return Judge(Means(facts, mission, weigh(facts)))


def want(facts, function, resource="", mission=RATED, lanes=None, way=0):
    one = judge(facts, mission)
    ask = one.asked if lanes is None else one.ask(lanes)
    return next(w for w in one.plan(ask)[function].ways[way].wants if w.resource == resource)


def limits(facts, mission=RATED):
    return [(x.function, x.resource) for x in rate(facts, mission).limits]


# --- people and stocks ------------------------------------------------------------------------------------------


def test_168_towels_dress_84_people_and_towels_are_the_limit():
    rating = rate(with_stock(line(), "towel", on_hand=168), RATED)
    (limit,) = rating.limits
    assert (limit.function, limit.have, limit.item, limit.bites_at_min) == ("redress", 84, "Towel, bath", 84)


def test_90_dollars_of_towels_at_3_dollars_make_99_people_and_not_the_140_of_the_question_sheet():
    # The sheet's "84, towels; +$90 -> 140" does not hold with its own price list: 30 towels are 15 people. To dress
    # 140 takes 112 towels, $336.
    assert want(with_stock(line(), "towel", on_hand=168 + 90 / 3), "redress").have == 99
    assert want(with_stock(line(), "towel", on_hand=168 + 112), "redress").have == 140


def test_kits_are_counted_by_the_size_of_people():
    short = with_stock(line(), "kit_child", on_hand=18)
    (limit,) = rate(short, RATED).limits
    assert (limit.resource, limit.need, limit.have) == ("child kits", 180, 120)
    assert limits(short, replace(RATED, child_share=0.1)) == []


def test_blankets_are_needed_below_40_degrees_only():
    few = with_stock(line(), "blanket", on_hand=60)
    assert limits(few) == []
    assert limits(few, replace(RATED, air_degF=39)) == [("redress", "blankets")]


def test_two_lots_of_one_kind_add_up():
    facts = line()
    halves = [replace(s, on_hand=s.on_hand / 2) for s in facts.stocks]
    split = replace(facts, stocks=(*halves, *(replace(s, lot=f"{s.lot}, second") for s in halves)))
    assert want(split, "redress").have == want(facts, "redress").have == 200


def test_soap_follows_the_measured_ratio_then_the_plate_then_3_in_1000():
    assert from_si(want(line(), "wash", "soap").need, "gal") == pytest.approx(180 * 6 * 0.003)
    measured = but(line(), item("IJ-01", "injector", spec={"ratio_pct": 0.3}, measured={"injector_ratio": 0.005}))
    assert from_si(want(measured, "wash", "soap").need, "gal") == pytest.approx(180 * 6 * 0.005)
    assert limits(measured) == [("wash", "soap")]
    plain = but(line(), *(item(t, "injector") for t in ("IJ-01", "IJ-02")))
    assert want(plain, "wash", "soap").basis == "0.3 percent assumed"


# --- waste ------------------------------------------------------------------------------------------------------


def test_without_a_tanker_600_gallons_hold_100_minutes():
    no_tanker = replace(RATED, tanker_at_min=None)
    (limit,) = rate(line(), no_tanker).limits
    assert (limit.function, limit.need, limit.have, limit.bites_at_min) == ("waste", 1080, 600, 100)
    assert rate(line(), no_tanker).can_do.asked_rate_hours == pytest.approx(1.67)


def test_a_tanker_in_time_takes_all_and_one_too_late_is_too_late():
    assert limits(line(), replace(RATED, tanker_at_min=100)) == []
    assert limits(line(), replace(RATED, tanker_at_min=101)) == [("waste", "")]


def test_a_tanker_with_a_stated_load_adds_just_that():
    assert limits(line(), replace(RATED, tanker_at_min=60, tanker_gal=480)) == []
    (limit,) = rate(line(), replace(RATED, tanker_at_min=60, tanker_gal=400)).limits
    assert (limit.need, limit.have) == (680, 600)
    assert limit.bites_at_min == pytest.approx(1000 / 6, abs=0.1)


def test_a_pump_that_does_not_reach_its_lanes_peak_is_no_pump():
    weak = {"pump_flow_m3_s": to_si(3.9, "gpm")}
    facts = but(line(), *(item(t, "pump", measured=weak) for t in ("SP-01", "SP-02")))
    (limit,) = rate(facts, RATED).limits
    assert (limit.function, limit.resource, limit.need, limit.have, limit.unit) == ("waste", "pump", 2, 1, "lanes")


def test_a_strong_pump_still_serves_one_lane():
    strong = {"pump_flow_m3_s": to_si(30, "gpm")}
    facts = but(
        line(),
        item("SP-01", "pump", measured=strong),
        *(replace(of(line(), t), state="lent") for t in ("SP-02", "SP-03")),
    )
    assert limits(facts) == [("waste", "pump")]


# --- heat -------------------------------------------------------------------------------------------------------


def test_warm_supply_needs_no_heaters():
    facts = but(line(), *(replace(of(line(), t), state="lent") for t in ("WH-01", "WH-02", "MR-01")))
    assert limits(facts, replace(RATED, supply_degF=101)) == []
    assert rate(facts, replace(RATED, supply_degF=101)).can_do.head_degF == 98


def test_every_heater_in_use_needs_a_mixing_valve_of_its_own():
    one_valve = but(line(), replace(of(line(), "MV-02"), state="lent"))
    assert limits(one_valve) == [("heat", "mixing valve")]
    strong = but(one_valve, heater("WH-01", 260_000))
    assert limits(strong) == []


def test_a_heater_set_to_120_insists_on_mixing_before_a_head_and_says_why():
    def valve_limit(set_degf):
        hot = [replace(of(line(), t), spec={"input_btu_h": 190_000, "set_degF": set_degf}) for t in ("WH-01", "WH-02")]
        facts = but(line(), *hot, *(replace(of(line(), t), state="lent") for t in ("MV-01", "MV-02")))
        return next(limit for limit in rate(facts, RATED).limits if limit.resource == "mixing valve")

    insists = valve_limit(120.0)
    assert (insists.need, insists.have) == (2, 0)
    assert "120 °F (49 °C) at its outlet" in insists.basis
    assert "mix it down before a head" in insists.basis
    assert valve_limit(100.0).basis == ""


def test_a_run_held_at_set_point_is_a_least_output_and_the_plate_stands_claimed():
    held = Measured(to_si(100_000, "BTU/h"), AT.date(), "held run", at_least=True)
    plate = item("WH-01", "heater", spec={"input_btu_h": 190_000}, measured={"heater_output_w": held})
    rows = {i.tag: i for f in rate(but(line(), plate), RATED).functions for i in f.items}
    assert (rows["WH-01"].capacity, rows["WH-01"].basis) == (152_000, "plate")
    beyond = replace(held, value=to_si(160_000, "BTU/h"))
    plate = item("WH-01", "heater", spec={"input_btu_h": 190_000}, measured={"heater_output_w": beyond})
    rows = {i.tag: i for f in rate(but(line(), plate), RATED).functions for i in f.items}
    assert (rows["WH-01"].capacity, rows["WH-01"].basis) == (160_000, "at least, measured 2026-11-20")


def test_a_heater_of_which_neither_plate_nor_run_is_known_gives_nothing():
    facts = but(line(), item("WH-02", "heater"))
    assert rate(facts, RATED).can_do.people_per_hour == 30


def test_efficiency_of_the_heaters_in_use_sets_the_gas_they_draw():
    assert from_si(want(line(), "heat", "propane rate").need, "BTU/h") == pytest.approx(244_000 / 0.82, abs=1)
    plain = but(
        line(), *(item(t, "heater", spec={"input_btu_h": 190_000, "efficiency": 85}) for t in ("WH-01", "WH-02"))
    )
    assert from_si(want(plain, "heat", "propane rate").need, "BTU/h") == pytest.approx(244_000 / 0.85, abs=1)


def test_gas_that_runs_short_before_the_end_bites_when_it_does():
    facts = but(line(), *(replace(of(line(), t), state="lent") for t in ("LP-03", "LP-04")))
    mission = replace(RATED, air_degF=20, hours=6)
    limit = next(x for x in rate(facts, mission).limits if x.resource == "propane rate")
    assert 0 < limit.bites_at_min < 360
    assert limit.have < limit.need
    assert rate(facts, replace(mission, hours=limit.bites_at_min / 60 - 0.02)).limits[:1] != (limit,)


def test_a_stock_of_gas_counts_what_is_burned_on_average():
    gas = want(line(), "heat", "propane")
    assert from_si(gas.need, "lb") == pytest.approx(31.1, abs=0.05)
    assert from_si(gas.have, "lb") == pytest.approx(400)


def test_twenty_small_cylinders_are_rated_without_telling_every_combination_apart():
    row = item("LP-09", "propane", 20, spec={"nominal_lb": 20}, measured={"propane_kg": to_si(20, "lb")})
    none = [replace(of(line(), f"LP-{n:02}"), state="lent") for n in (1, 2, 3, 4)]
    assert rate(but(line(), row, *none), RATED).can_do.people_per_hour == 60


# --- water ------------------------------------------------------------------------------------------------------


def test_supply_flow_is_judged_at_the_peak_of_whole_lanes():
    assert limits(line(), replace(RATED, supply_gpm=8)) == []
    (limit,) = rate(line(), replace(RATED, supply_gpm=7.9)).limits
    assert (limit.function, limit.resource, limit.need, limit.have, limit.unit) == (
        "water",
        "supply flow",
        8,
        7.9,
        "gpm",
    )


def test_pressure_at_the_head_is_supply_less_rise_and_hose():
    # 4 gpm in 2 x 50 + 15 + 25 ft of 5/8 in: 8.4 psi (Hazen-Williams, C 140); 20 ft up: 8.7 psi.
    have = from_si(want(line(), "water", "head pressure").have, "psi")
    assert have == pytest.approx(55 - 8.4, abs=0.3)
    raised = from_si(want(line(), "water", "head pressure", replace(RATED, elevation_ft=20)).have, "psi")
    assert have - raised == pytest.approx(20 * 0.433, abs=0.02)
    assert limits(line(), replace(RATED, supply_psi=16)) == [("water", "head pressure")]


def test_the_pressure_regulator_and_the_injector_take_their_share():
    facts = but(
        line(), item("RP-01", "backflow", spec={"set_psi": 40}), item("IJ-01", "injector", spec={"psi_drop": 20})
    )
    base = from_si(want(line(), "water", "head pressure").have, "psi")
    assert from_si(want(facts, "water", "head pressure").have, "psi") == pytest.approx(base - 15 - 20)


# --- power ------------------------------------------------------------------------------------------------------


def test_running_watts_and_the_start_of_the_biggest_motor_are_asked_of_the_generators():
    means = Means(line(), RATED, weigh(line()))
    pump = 0.333 * 745.7 / 0.5
    assert load_w(means, 2, 1) == pytest.approx(3 * 1080 + 2 * pump + 40 + 2 * 20)
    facts = but(line(), *(replace(generator(t), spec={"watts": 4000, "tank_gal": 7}) for t in ("GN-01", "GN-02")))
    assert limits(facts) == []  # two of them together
    assert limits(but(facts, replace(of(facts, "GN-02"), state="lent")))[0] == ("power", "")


def test_a_loaded_run_proves_at_least_its_load():
    small = item("GN-01", "generator", spec={"watts": 2000}, measured={"generator_w": 4600.0})
    facts = but(line(), small, replace(of(line(), "GN-02"), state="lent"))
    assert limits(facts) == []


def test_fuel_lasts_by_the_plate_or_by_three_quarters_of_a_gallon_an_hour_assumed():
    fuel = want(line(), "power", "fuel")
    assert from_si(fuel.need, "gal") == pytest.approx(2.25)
    assert "assumed" in fuel.basis
    thirsty = but(line(), *(item(t, "generator", spec={"watts": 5000, "gph_full": 10}) for t in ("GN-01", "GN-02")))
    (limit,) = rate(thirsty, RATED).limits
    assert (limit.function, limit.need, limit.have, limit.bites_at_min) == ("power", 30, 20, 120)


def test_a_battery_counts_by_its_charge_in_the_cold():
    weak = [item(t, "battery", spec={"chemistry": "AGM"}, measured={"battery_soc": 0.55}) for t in ("BA-01", "BA-02")]
    assert limits(but(line(), *weak), replace(RATED, air_degF=77)) == []
    assert ("power", "battery") in limits(but(line(), *weak), replace(RATED, air_degF=20))


# --- light, list, crew, lanes -----------------------------------------------------------------------------------


def test_by_day_no_light_is_needed():
    dark = but(line(), *(replace(of(line(), t), state="lent") for t in ("LT-01", "LT-02")))
    assert limits(dark) == [("light", "")]
    assert limits(dark, replace(RATED, night=False)) == []


def test_a_litter_is_needed_only_where_people_cannot_walk():
    assert rate(line(), RATED).not_recorded == ()
    assert rate(line(), replace(RATED, non_walking_share=0.1)).not_recorded == ("shelter: Litter rollers and litters",)
    with_litter = but(line(), item("LI-01", "litter"))
    assert limits(with_litter, replace(RATED, non_walking_share=0.1)) == []


def test_numbers_that_scale_with_lanes_are_taken_for_the_lanes_asked():
    assert want(line(), "footing", lanes=1).need == 10
    assert want(line(), "PPE", "papr", lanes=1).need == 3
    assert want(line(), "signs", "radio", lanes=1).need == 4


def test_rows_that_are_only_carried_are_not_required():
    assert rate(line(), RATED).not_recorded == ()
    assert "patch_kit" in {r.kind for r in requirements()}


def test_without_any_load_list_the_least_that_carries_a_lane_is_asked():
    rating = rate(line(requirements=()), RATED)
    assert (rating.word, rating.not_recorded) == ("Whole", ())
    few = but(line(requirements=()), replace(of(line(), "GR-01"), quantity=19))
    assert limits(few) == [("footing", "")]


def test_crew_is_the_qualified_on_that_day():
    lapsed = tuple(replace(c, until=AT.date().replace(day=19)) for c in line().crew[:3])
    (limit,) = rate(line(crew=lapsed + line().crew[3:]), RATED).limits
    assert (limit.function, limit.need, limit.have, limit.unit, limit.lanes) == ("crew", 8, 7, "people", 1)


def test_three_lanes_are_carried_where_everything_is_there_for_three():
    facts = replace(line(), rated_lanes=2)
    shelter = item("SH-02", "shelter", spec={"lanes": 2}, measured={"stand_s": 6 * 3600.0})
    rating = rate(but(facts, shelter), replace(RATED, people_per_hour=90))
    assert "shelter" not in {x.function for x in rating.limits}
    assert rating.can_do.lanes == 2


def test_45_an_hour_is_carried_where_stocks_last_for_45_and_not_for_60():
    facts = with_stock(line(), "towel", on_hand=280)
    rating = rate(facts, replace(RATED, people_per_hour=45))
    assert rating.limits == ()
    assert rating.can_do.people_per_hour == 45


def test_a_single_lane_line_is_rated_for_30_an_hour():
    facts = line(requirements=requirements("one_lane"), rated_lanes=1, rated_mission={})
    facts = but(facts, item("SH-01", "shelter", spec={"lanes": 1}, measured={"stand_s": 6 * 3600.0}))
    rating = rate(facts, standard_mission(1))
    assert (rating.rated.people_per_hour, rating.rated.mission_assumed) == (30, True)
    assert (rating.word, rating.can_do.people_per_hour) == ("Whole", 30)


def test_hours_beyond_what_stocks_last_are_given_as_fewer_hours_not_as_nothing():
    mission = Mission(people_per_hour=30, hours=12, air_degF=40)
    rating = rate(line(), mission)
    assert rating.can_do.people_per_hour == 30
    assert rating.can_do.hours == pytest.approx(200 / 60, abs=0.01)
    assert rating.can_do.without == ()


def test_what_is_short_never_looks_enough_by_rounding():
    low = with_stock(line(), "soap", on_hand=0.4)
    (limit,) = rate(low, replace(RATED, hours=0.5)).limits
    assert (limit.resource, limit.need, limit.have) == ("soap", 0.5, 0.4)
    nearly = with_stock(line(), "towel", on_hand=359)
    (limit,) = rate(nearly, RATED).limits
    assert (limit.need, limit.have) == (180, 179)


def test_a_smaller_mission_that_is_carried_is_what_it_can_do_where_a_full_lane_is_not():
    facts = with_stock(line(), "towel", on_hand=80)  # 40 people: 10 an hour for 3 h are 30, a full lane washes 90
    can = rate(facts, Mission(people_per_hour=10, hours=3)).can_do
    assert (can.people_per_hour, can.hours, can.lanes, can.head_degF) == (10, 3, 1, 98)
    assert can.probability > 80


def test_where_stocks_end_early_and_heat_is_low_the_warmest_head_counts_and_is_not_called_cold():
    full, short = worked_case(None), with_stock(worked_case(None), "towel", on_hand=90)
    whole, part = (rate(f, COLD_NIGHT).can_do for f in (full, short))
    assert (whole.people_per_hour, whole.hours, whole.cold) == (30, 3, False)
    # 45 people are an hour and a half: a warmer head can be kept for that than for three hours.
    assert (part.people_per_hour, part.hours, part.cold, part.without) == (30, 1.5, False, ())
    assert 80 <= whole.head_degF < part.head_degF < 98


def test_the_head_is_at_most_what_is_said_where_nothing_of_heat_is_recorded():
    gone = [i.tag for i in line().items if i.kind in ("heater", "propane", "regulator", "mixing_valve")]
    rating = rate(but(line(), without=gone), RATED)
    assert rating.can_do.head_degF == 98
    assert "can_do.head_degF" in rating.at_most
