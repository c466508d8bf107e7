"""Worked case 1: two lanes, one heater of two, two half-full cylinders of four, 20 degF, 60 an hour for 3 h asked."""

from dataclasses import replace

import pytest

from readiness.rating.evidence import weigh
from readiness.rating.judge import Judge
from readiness.rating.needs_heat import Gas, regulator_basis
from readiness.rating.plan import Means
from readiness.rating.rate import rate, score
from shared.units import from_si, to_si
from tests.readiness.rating.builders import COLD_NIGHT, but, cylinder, heater, with_stock, worked_case

THIRTY = replace(COLD_NIGHT, people_per_hour=30)
TANKER = replace(COLD_NIGHT, tanker_at_min=100)


def limits(facts, mission=COLD_NIGHT):
    return {(x.function, x.resource): x for x in rate(facts, mission).limits}


def want(facts, mission, resource, lanes):
    judge = Judge(Means(facts, mission, weigh(facts)))
    wants = judge.plan(judge.ask(lanes))["heat"].ways[0].wants
    return next(w for w in wants if w.resource == resource)


def test_it_can_do_30_an_hour_for_3_hours_at_98_degrees():
    rating = rate(worked_case(), COLD_NIGHT)
    assert (rating.can_do.people_per_hour, rating.can_do.hours, rating.can_do.lanes) == (30, 3, 1)
    assert rating.can_do.head_degF == 98
    assert rating.can_do.asked_rate_hours == 0
    assert (rating.probability, rating.probability_low, rating.probability_high) == (0, 0, 0)
    assert 80 < rating.can_do.probability_low < rating.can_do.probability < rating.can_do.probability_high < 100


def test_the_limits_come_in_the_order_in_which_they_bite():
    rating = rate(worked_case(), COLD_NIGHT)
    said = [(x.function, x.resource, x.need, x.have, x.unit, x.lanes, x.bites_at_min) for x in rating.limits]
    assert said == [
        ("heat", "", 244_000, 155_800, "BTU/h", 1, 0),
        ("heat", "propane rate", 297_600, 188_000, "BTU/h", 1, 0),
        ("waste", "", 1080, 600, "gal", 1, 100),
        ("redress", "", 180, 150, "people", 1, 150),
    ]


def test_one_lane_needs_122000_out_of_the_heaters_and_148800_into_them():
    assert from_si(want(worked_case(), COLD_NIGHT, "", 1).need, "BTU/h") == pytest.approx(122_000, abs=1)
    assert from_si(want(worked_case(), COLD_NIGHT, "propane rate", 1).need, "BTU/h") == pytest.approx(148_800, abs=30)


def test_with_both_lanes_on_the_one_heater_the_heads_run_at_76_degrees():
    assert limits(worked_case())["heat", ""].head_degF_at_asked_rate == 76


def test_the_heat_limit_names_the_run_behind_it_and_the_heater_that_does_not_count():
    limit = limits(worked_case())["heat", ""]
    assert (limit.evidence.state, limit.evidence.item, limit.evidence.inspection) == ("proven", "WH-01", "run")
    assert limit.evidence.on.isoformat() == "2026-10-21"
    assert limit.not_counted == ("WH-02 out of service",)


def test_the_vapour_is_the_charts_where_the_regulator_is_recorded_to_need_nothing():
    assert limits(worked_case())["heat", "propane rate"].basis == "chart; regulator least inlet 0 psig"


def test_one_lane_uses_15_and_a_half_pounds_and_leaves_vapour_enough_at_the_end():
    stock, rate_want = (want(worked_case(), COLD_NIGHT, r, 1) for r in ("propane", "propane rate"))
    assert from_si(stock.need, "lb") == pytest.approx(15.5, abs=0.05)
    assert (100 - from_si(stock.need, "lb")) / 2 == pytest.approx(42.2, abs=0.05)
    assert from_si(rate_want.have, "BTU/h") == pytest.approx(164_700, abs=50)
    assert rate_want.met


def test_fuel_as_energy_is_no_limit_for_two_lanes():
    stock = want(worked_case(), COLD_NIGHT, "propane", 2)
    assert from_si(stock.need, "lb") == pytest.approx(31.1, abs=0.05)
    assert stock.met


def test_redress_names_the_towels():
    assert limits(worked_case())["redress", ""].item == "Towel, bath"


def test_at_30_an_hour_waste_would_last_200_minutes():
    judge = Judge(Means(worked_case(), THIRTY, weigh(worked_case())))
    waste = judge.plan(judge.asked)["waste"].ways[0].wants[0]
    assert waste.lasts_s / 60 == pytest.approx(200)


def test_an_unrecorded_regulator_is_taken_to_need_10_psig_and_then_not_one_lane_has_98_degrees():
    facts = worked_case(least_inlet_psig=None)
    rating = rate(facts, THIRTY)
    (limit,) = rating.limits
    assert (limit.function, limit.resource, limit.need, limit.have) == ("heat", "propane rate", 148_800, 121_800)
    assert limit.basis == "regulator least inlet not recorded, 10 psig assumed"
    assert (limit.lanes, limit.bites_at_min, limit.head_degF_at_asked_rate) == (0, 0, 87)


def test_on_10_psig_it_still_washes_one_lane_at_the_warmest_head_it_can_hold_to_the_end():
    can = rate(worked_case(least_inlet_psig=None), THIRTY).can_do
    assert (can.people_per_hour, can.hours, can.lanes, can.cold) == (30, 3, 1, False)
    # The heads start at 87 degF and fall as the cylinders empty: what is held for all of 3 h lies below.
    assert 80 <= can.head_degF < 87


def test_a_regulator_recorded_at_10_psig_says_so_instead_of_assuming_it():
    limit = limits(worked_case(least_inlet_psig=10), THIRTY)["heat", "propane rate"]
    assert (limit.have, limit.basis) == (121_800, "regulator least inlet 10 psig")


@pytest.mark.parametrize("act", ["heater", "cylinder", "tanker", "towels"])
def test_no_single_act_adds_anything(act):
    facts, mission = worked_case(), COLD_NIGHT
    if act == "heater":
        facts = but(facts, heater("WH-02"))
    elif act == "cylinder":
        facts = but(facts, cylinder("LP-03", 100))
    elif act == "towels":
        facts = with_stock(facts, "towel", on_hand=360)
    else:
        mission = TANKER
    assert rate(facts, mission).can_do.people_per_hour == 30


def restored(least_inlet_psig, *cylinders):
    facts = but(worked_case(least_inlet_psig), heater("WH-02"), *cylinders)
    return with_stock(facts, "towel", on_hand=360)


def test_the_set_of_four_acts_gives_60_an_hour_for_3_hours():
    rating = rate(restored(0, cylinder("LP-03", 100)), TANKER)
    assert rating.limits == ()
    assert (rating.can_do.people_per_hour, rating.can_do.hours) == (60, 3)
    assert rating.probability == rating.can_do.probability > 60


def test_three_cylinders_on_the_chart_end_at_56_pounds_and_310400():
    gas = want(restored(0, cylinder("LP-03", 100)), TANKER, "propane rate", 2)
    assert (200 - from_si(want(restored(0, cylinder("LP-03", 100)), TANKER, "propane", 2).need, "lb")) / 3 == (
        pytest.approx(56.3, abs=0.05)
    )
    assert from_si(gas.have, "BTU/h") == pytest.approx(310_400, abs=100)


def test_on_10_psig_three_cylinders_are_not_enough_at_the_start_nor_with_201100_at_the_end():
    facts = restored(None, cylinder("LP-03", 100))
    assert not want(facts, TANKER, "propane rate", 2).met
    factor, _ = regulator_basis(Means(facts, TANKER, weigh(facts)))
    assert factor == pytest.approx(0.648, abs=0.0005)
    left = tuple(to_si((200 - 31.1) / 3, "lb") for _ in range(3))
    at_end = Gas(tuple([to_si(100, "lb")] * 3), TANKER.air_k, factor, 0.0, 0.0, 0.0).rate_at(left, 0.0)
    assert from_si(at_end, "BTU/h") == pytest.approx(201_100, abs=100)


def test_on_10_psig_four_cylinders_with_300_pounds_are_enough():
    facts = restored(None, cylinder("LP-03", 100), cylinder("LP-04", 100))
    gas = want(facts, TANKER, "propane rate", 2)
    assert gas.met
    assert from_si(gas.have, "BTU/h") == pytest.approx(306_900, abs=150)
    assert score(facts, TANKER).limits == ()


def test_below_40_degrees_without_space_heat_the_caution_stands_beside_the_answer():
    assert "dry methods first" in rate(worked_case(), COLD_NIGHT).cautions[0]
    assert "commander" in rate(worked_case(), COLD_NIGHT).cautions[0]
    assert rate(worked_case(), replace(COLD_NIGHT, space_heat=True)).cautions == ()
