"""Is it working now: what proofs, looks, doubts, states and missing records do to an item and to the line."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from readiness.rating.capacity import heater as heater_supply
from readiness.rating.evidence import weigh
from readiness.rating.facts import ModeEvidence, Node
from readiness.rating.mission import standard_mission
from readiness.rating.rate import rate
from shared.units import to_si
from tests.readiness.rating.builders import (
    AT,
    but,
    generator,
    item,
    line,
    of,
    unproven,
    with_mode,
    with_stock,
)

RATED = standard_mission(2)


def row(rating, name):
    return next(f for f in rating.functions if f.function == name)


def limited(mode, ratio):
    return ModeEvidence(mode=mode, exposure_years=0.1, outcome="limited", ratio=ratio, inspection="run")


def item_row(rating, tag):
    return next(i for f in rating.functions for i in f.items if i.tag == tag)


@pytest.mark.parametrize(
    "state",
    ["boxed", "out of service", "quarantine", "wet", "drying", "lent", "condemned", "disposed", "absent"],
)
def test_an_item_in_any_state_but_in_service_counts_zero(state):
    facts = but(line(), replace(of(line(), "WH-02"), state=state))
    rating = rate(facts, RATED)
    assert rating.can_do.people_per_hour == 30
    assert item_row(rating, "WH-02").state == state
    assert item_row(rating, "WH-02").probability == 0


def test_a_row_of_which_none_is_there_counts_zero():
    rating = rate(but(line(), replace(of(line(), "TD-01"), quantity=0)), RATED)
    assert item_row(rating, "TD-01").state == "absent"
    assert row(rating, "anchoring").carried  # eight ballast bags hold it


def test_a_cylinder_past_its_life_is_out_and_one_only_past_requalifying_is_used_until_empty():
    lapsed = but(line(), replace(of(line(), "LP-01"), requalify_by=date(2026, 5, 31)))
    rating = rate(lapsed, RATED)
    assert item_row(rating, "LP-01").capacity == 100
    assert rating.conditions == ("LP-01 is past its requalify-by month 2026-05: use until empty, do not refill",)
    gone = but(line(), replace(of(line(), "AC-01"), remove_by=date(2026, 5, 31)))
    assert item_row(rate(gone, RATED), "AC-01").state == "past its life, 2026-05"


def test_stock_counts_all_the_day_before_it_expires_and_nothing_on_the_day():
    before = with_stock(line(), "soap", expires_on=AT.date() + timedelta(days=1))
    on_day = with_stock(line(), "soap", expires_on=AT.date())
    assert rate(before, RATED).limits == ()
    (limit,) = rate(on_day, RATED).limits
    assert (limit.function, limit.resource, limit.have) == ("wash", "soap", 0)


def test_fuel_older_than_a_year_counts_nothing():
    made = (AT.date() - timedelta(days=400)).toordinal()
    old = but(
        line(),
        item("FC-01", "fuel_can", 4, spec={"gal": 5}, measured={"fuel_made_on": made}),
        *(replace(generator(g), spec={"watts": 5000}) for g in ("GN-01", "GN-02")),
    )
    assert [(x.function, x.resource) for x in rate(old, RATED).limits] == [("power", "fuel")]


# --- the words of evidence --------------------------------------------------------------------------------------


def test_a_look_without_a_number_is_claimed():
    rating = rate(with_mode(line(), "SH-01", "SH2", outcome="claimed"), RATED)
    assert (row(rating, "shelter").evidence, item_row(rating, "SH-01").evidence) == ("claimed", "claimed")


def test_a_proof_past_its_interval_is_stale_and_still_counts_in_the_score():
    fresh, stale = (rate(f, RATED) for f in (line(), with_mode(line(), "SH-01", "SH2", stale_at=AT)))
    assert row(stale, "shelter").evidence == "stale"
    assert stale.probability == fresh.probability


def test_a_failure_not_put_right_is_in_doubt_since_the_last_good_proof_and_removes_the_item():
    since = AT - timedelta(days=71)
    rating = rate(with_mode(line(), "WH-02", "WH1", outcome="failed", in_doubt_since=since), RATED)
    assert [(d.item, d.mode, d.since) for d in rating.in_doubt] == [("WH-02", "WH1", since)]
    assert item_row(rating, "WH-02").state == "WH1 found"
    assert item_row(rating, "WH-02").evidence == "in doubt"
    assert rating.can_do.people_per_hour == 30


def test_a_function_is_as_good_as_the_evidence_that_alone_carries_it():
    one_stale = with_mode(line(), "IN-01", "IN1", stale_at=AT)
    both = with_mode(one_stale, "IN-02", "IN1", stale_at=AT)
    assert row(rate(one_stale, RATED), "inflation").evidence == "proven"
    assert row(rate(both, RATED), "inflation").evidence == "proven"  # the cylinder kit is proven by itself
    no_kit = but(both, replace(of(both, "CK-01"), state="lent"))
    assert row(rate(no_kit, RATED), "inflation").evidence == "stale"


# --- modes that limit -------------------------------------------------------------------------------------------


def test_a_known_limit_scales_the_plate_by_the_measured_ratio():
    plated = replace(of(line(), "WH-02"), measured={})
    facts = with_mode(but(line(), plated), "WH-02", "WH3", outcome="limited", ratio=0.7, inspection="heat run 7")
    supply = heater_supply(weigh(facts).by_tag["WH-02"])
    assert supply.each == pytest.approx(to_si(190_000 * 0.80 * 0.7, "BTU/h"))


def test_a_limit_found_by_the_run_that_measured_the_output_is_not_counted_twice():
    facts = with_mode(line(), "WH-02", "WH3", outcome="limited", ratio=0.7, inspection="run")
    assert heater_supply(weigh(facts).by_tag["WH-02"]).each == pytest.approx(to_si(155_800, "BTU/h"))


def test_a_limited_mode_without_a_ratio_takes_the_fraction_of_its_mode():
    facts = with_mode(line(), "WH-02", "WH7", outcome="limited", ratio=None, inspection="another")
    rating = rate(facts, RATED)
    assert item_row(rating, "WH-02").capacity == pytest.approx(155_800 * 0.8, abs=100)
    assert rating.conditions == ("WH-02: inlet strainer clogged found, 80 % left",)
    assert rating.can_do.people_per_hour == 60  # the two heaters give 280,000 of 244,000


def test_an_open_limiting_mode_enters_the_score_only_where_it_would_matter():
    tight = but(line(), *(replace(of(line(), h), measured={}) for h in ("WH-01", "WH-02")))
    aged = with_mode(tight, "WH-01", "WH7", exposure_years=4.0)
    # The two give 304,000, and 243,200 with both limited: enough for the 240,000 that water at 41 degF needs.
    warm, cold = replace(RATED, supply_degF=41), replace(RATED, supply_degF=32)
    assert rate(aged, warm).probability == rate(tight, warm).probability
    # 276,000 are needed at 32 degF, and one limited heater leaves 273,600.
    assert rate(aged, cold).probability < rate(tight, cold).probability


def test_a_limited_unit_is_a_unit_while_it_is_half_itself():
    half = with_mode(line(), "LT-01", "LT1", outcome="limited", ratio=0.5)
    less = with_mode(line(), "LT-01", "LT1", outcome="limited", ratio=0.49)
    assert item_row(rate(half, RATED), "LT-01").capacity == 1
    assert item_row(rate(less, RATED), "LT-01").capacity == 0


def test_a_count_found_short_is_in_the_quantity_and_takes_nothing_more():
    short = item("SU-01", "suit", 5, evidence={"CS1": limited("suit:CS1", 5 / 12)})
    assert row(rate(but(line(), short), RATED), "PPE").have == 5
    cracked = item("GR-01", "grid", 24, evidence={"GR1": limited("grid:GR1", None)})
    assert item_row(rate(but(line(), cracked), RATED), "GR-01").capacity == 24  # at 0.8 a panel is a panel


@pytest.mark.parametrize(("code", "left"), [("BA1", 1), ("BA2", 0)])
def test_only_a_limit_of_the_figure_that_was_read_is_in_the_reading(code, left):
    """A rested voltage shows the charge; that the battery holds less than half of it is another matter."""
    weak = limited(f"battery:{code}", 0.45)
    read = item("BA-01", "battery", measured={"battery_soc": 1.0}, evidence={code: weak})
    assert item_row(rate(but(line(), read), RATED), "BA-01").capacity == left


def test_a_shelter_that_sags_before_the_end_limits_by_its_standing_time():
    measured = {"stand_s": 170 * 60.0}
    facts = but(line(), item("SH-01", "shelter", spec={"lanes": 2}, measured=measured))
    (limit,) = rate(facts, RATED).limits
    assert (limit.function, limit.resource, limit.need, limit.have, limit.unit) == (
        "shelter",
        "standing time",
        180,
        170,
        "min",
    )
    can = rate(facts, RATED).can_do
    assert (can.people_per_hour, can.hours) == (60, 2.83)
    assert rate(facts, RATED).word == "Limited"


def test_a_slow_leak_scales_the_standing_time_and_not_the_lanes():
    base = item("SH-01", "shelter", spec={"lanes": 2}, measured={"stand_s": 4 * 3600.0})
    leaking = with_mode(but(line(), base), "SH-01", "SH1", outcome="limited", ratio=0.7)
    limit = rate(leaking, RATED).limits[0]
    assert (limit.resource, limit.have) == ("standing time", 168)
    blocked = with_mode(but(line(), base), "SH-01", "SH6", outcome="limited", ratio=0.5)
    limit = rate(blocked, RATED).limits[0]
    assert (limit.resource, limit.have, limit.unit) == ("", 1, "lanes")


# --- conditions -------------------------------------------------------------------------------------------------


def test_a_condition_established_good_counts_one_however_long_ago():
    old = with_mode(line(), "WH-01", "WH2", exposure_years=9.0)
    assert rate(old, RATED).probability == rate(line(), RATED).probability


def test_a_condition_found_bad_removes_the_item():
    facts = with_mode(line(), "WH-02", "WH2", outcome="failed")
    assert rate(facts, RATED).can_do.people_per_hour == 30


@pytest.mark.parametrize("change", [{"outcome": "none", "proven_at": None}, {"outcome": "claimed"}, {"reopened": True}])
def test_a_condition_not_established_or_reopened_is_left_out_named_and_makes_figures_at_most(change):
    facts = with_mode(line(), "WH-01", "WH2", **change)
    rating = rate(facts, RATED)
    assert rating.probability == rate(line(), RATED).probability
    assert "WH-01 WH2" in rating.not_established
    assert {"probability", "can_do.people_per_hour", "heat"} <= set(rating.at_most)
    assert item_row(rating, "WH-01").evidence == "claimed"
    assert (rating.word, rating.reason) == ("Limited", "unproven")


def test_what_the_rating_works_out_itself_is_never_asked_of_a_check():
    facts = replace(line(), modes={**line().modes, "bladder:BL5": replace(line().modes["bladder:BL4"], code="BL5")})
    assert rate(facts, RATED).not_established == ()


def test_contents_that_were_weighed_settle_whether_it_is_underfilled():
    weighed = with_mode(line(), "LP-01", "LP1", outcome="none", proven_at=None)
    assert rate(weighed, RATED).not_established == ()
    unweighed = but(weighed, replace(of(weighed, "LP-01"), measured={}))
    assert rate(unweighed, RATED).not_established == ("LP-01 LP1",)


def test_contents_used_or_filled_since_they_were_weighed_are_claimed_and_at_most():
    facts = line()
    for n in range(1, 5):
        facts = with_mode(facts, f"LP-0{n}", "LP1", reopened=True)
    rating = rate(facts, RATED)
    assert rating.not_established == ("LP-01 LP1", "LP-02 LP1", "LP-03 LP1", "LP-04 LP1")
    assert {"can_do.people_per_hour", "can_do.head_degF", "heat"} <= set(rating.at_most)
    assert (item_row(rating, "LP-01").evidence, row(rating, "heat").evidence) == ("claimed", "claimed")
    assert (rating.word, rating.reason) == ("Limited", "unproven")
    assert rate(with_mode(line(), "AC-01", "AC1", reopened=True), RATED).word == "Whole"  # two others hold


def test_a_cylinder_weighed_short_and_filled_since_holds_what_it_was_filled_to_unproven():
    filled = item(
        "LP-01", "propane", measured={"propane_kg": to_si(100, "lb")}, evidence={"LP1": limited("propane:LP1", 0.3)}
    )
    rating = rate(with_mode(but(line(), filled), "LP-01", "LP1", reopened=True), RATED)
    assert item_row(rating, "LP-01").capacity == 100
    assert rating.not_established == ("LP-01 LP1",)


def test_a_lesser_condition_not_established_makes_the_item_claimed_and_does_not_bar_whole():
    rating = rate(with_mode(line(), "SH-01", "SH5", outcome="none", proven_at=None), RATED)
    assert (item_row(rating, "SH-01").evidence, row(rating, "shelter").evidence) == ("claimed", "claimed")
    assert rating.word == "Whole"


# --- what hangs on what, and what came to light since -----------------------------------------------------------


def test_what_hangs_on_something_that_hangs_on_an_item_out_of_service_counts_nothing():
    pumps = ("SP-01", "SP-02", "SP-03")
    nodes = (Node("strip", pumps, "GF-01"), Node("set", ("GF-01",), "GN-01"))
    rating = rate(replace(but(line(), generator("GN-01", state="out of service")), nodes=nodes), RATED)
    assert [item_row(rating, tag).state for tag in ("GF-01", "SP-01")] == ["hangs on GN-01", "hangs on GF-01"]
    assert "waste" in {limit.function for limit in rating.limits}


def test_a_common_cause_that_is_not_aboard_and_has_no_probability_is_named_and_makes_figures_at_most():
    ghost = replace(line(), nodes=(Node("strip", ("SP-01", "SP-02"), "GF-99"),))
    rating = rate(ghost, RATED)
    assert rating.not_established == ("strip, shared",)
    assert rating.at_most == ("probability", "can_do.probability")
    known = replace(line(), nodes=(Node("strip", ("SP-01", "SP-02"), "GF-99", 0.5),))
    assert rate(known, RATED).at_most == ()


def test_a_proof_that_a_failure_is_known_to_have_overtaken_is_in_doubt():
    since = AT - timedelta(days=30)
    rating = rate(with_mode(line(), "SH-01", "SH2", in_doubt_since=since), RATED)
    assert [(d.item, d.mode, d.since) for d in rating.in_doubt] == [("SH-01", "SH2", since)]
    assert (row(rating, "shelter").evidence, rating.word, rating.reason) == ("in doubt", "Limited", "unproven")


# --- not recorded -----------------------------------------------------------------------------------------------


def without_kinds(facts, *kinds):
    return replace(
        facts,
        items=tuple(i for i in facts.items if i.kind not in kinds),
        stocks=tuple(s for s in facts.stocks if s.kind not in kinds),
    )


def test_a_function_with_nothing_recorded_is_named_left_out_and_makes_the_line_unproven():
    facts = without_kinds(line(), "radio", "signs")
    rating = rate(facts, RATED)
    assert rating.not_recorded == ("signs",)
    assert (rating.word, rating.reason) == ("Limited", "unproven")
    assert row(rating, "signs").probability is None
    assert row(rating, "signs").evidence == "not recorded"
    assert rating.probability >= rate(line(), RATED).probability
    assert rating.at_most[0] == "probability"
    assert "signs" in rating.at_most


def test_one_kind_missing_of_a_function_is_named_with_it():
    rating = rate(without_kinds(line(), "mixing_valve"), RATED)
    assert rating.not_recorded == ("heat: Thermostatic mixing valve",)
    assert row(rating, "heat").at_most
    assert row(rating, "heat").probability > 0


def test_no_roster_at_all_is_not_the_same_as_nobody_qualified():
    assert rate(line(crew=None), RATED).not_recorded == ("crew: Qualified people",)
    assert rate(line(crew=()), RATED).down == ("crew",)


def test_a_second_way_that_was_never_recorded_is_no_way_and_is_not_missed():
    rating = rate(without_kinds(line(), "inflation_kit", "air_cylinder"), RATED)
    assert rating.not_recorded == ()
    assert rating.word == "Whole"


def test_an_empty_register_names_every_function_and_can_claim_nothing():
    rating = rate(line(items=(), stocks=(), crew=None, line_modes=()), RATED)
    assert rating.not_recorded[:4] == ("shelter", "inflation", "anchoring", "water")
    assert (rating.word, rating.reason) == ("Limited", "unproven")
    assert {f.evidence for f in rating.functions} == {"not recorded"}


# --- exposure ---------------------------------------------------------------------------------------------------


def test_modes_never_proven_age_from_acceptance():
    never = but(line(), item("SH-01", "shelter", spec={"lanes": 2}, evidence={"SH2": None}))
    two_years = with_mode(line(), "SH-01", "SH2", exposure_years=2.0, outcome="none", proven_at=None)
    two_years = but(two_years, replace(of(two_years, "SH-01"), measured={}))
    assert item_row(rate(never, RATED), "SH-01").probability == item_row(rate(two_years, RATED), "SH-01").probability


def test_an_exposure_that_nothing_dates_is_taken_from_the_oldest_of_the_line_and_named():
    facts = but(
        line(),
        replace(
            item("SH-01", "shelter", spec={"lanes": 2}, evidence={"SH2": unproven("shelter:SH2", None)}),
            accepted_on=None,
        ),
        replace(of(line(), "TP-01"), accepted_on=date(2019, 11, 20)),
    )
    rating = rate(facts, RATED)
    assert rating.exposure_assumed == ("SH-01",)
    (doubt,) = (d for d in weigh(facts).by_tag["SH-01"].doubts if d.code == "SH2")
    assert doubt.exposure_years == pytest.approx(7.0, abs=0.01)


def test_with_nothing_dated_at_all_five_years_are_taken():
    facts = line(items=tuple(replace(i, accepted_on=None) for i in line().items))
    facts = with_mode(facts, "SH-01", "SH2", exposure_years=None, outcome="none")
    (doubt,) = (d for d in weigh(facts).by_tag["SH-01"].doubts if d.code == "SH2")
    assert doubt.exposure_years == 5.0
