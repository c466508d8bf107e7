"""The word for a line and its reason, against its own rated mission."""

from dataclasses import replace

import pytest

from readiness.rating.mission import Mission, standard_mission
from readiness.rating.rate import rate
from tests.readiness.rating.builders import (
    AT,
    COLD_NIGHT,
    but,
    line,
    of,
    proof,
    with_mode,
    with_stock,
    worked_case,
)

RATED = standard_mission(2)


def word(facts, mission=RATED):
    rating = rate(facts, mission)
    return rating.word, rating.reason


def test_a_line_with_all_proven_and_fresh_and_a_score_over_the_target_is_whole():
    rating = rate(line(), RATED)
    assert (rating.word, rating.reason) == ("Whole", "")
    assert rating.rated.probability == rating.probability >= 80
    assert {row.evidence for row in rating.functions} == {"proven"}


def test_a_line_that_cannot_carry_its_rated_mission_is_limited_short():
    assert word(worked_case()) == ("Limited", "short")


def test_a_score_below_the_target_makes_it_unsure():
    assert word(line(target_score=99)) == ("Limited", "unsure")


def test_short_comes_before_unproven_and_unproven_before_unsure():
    stale = with_mode(line(target_score=99), "SH-01", "SH2", stale_at=AT)
    assert word(stale) == ("Limited", "unproven")
    assert word(replace(with_mode(worked_case(), "SH-01", "SH2", stale_at=AT), target_score=99)) == ("Limited", "short")


def test_the_word_is_about_the_rated_mission_whatever_is_asked():
    asked = rate(line(), replace(RATED, people_per_hour=600))
    assert (asked.word, asked.reason) == ("Whole", "")
    assert asked.probability == 0
    assert asked.rated.probability == rate(line(), RATED).probability > 80


def test_a_line_rated_for_less_is_whole_with_less():
    facts = replace(worked_case(), rated_mission=Mission(people_per_hour=30, hours=3, air_degF=20).as_json())
    assert word(facts, COLD_NIGHT) == ("Whole", "")


@pytest.mark.parametrize(
    ("tag", "code"),
    [("SH-01", "SH2"), ("MV-01", "XX0"), ("WH-01", "WH1"), ("BL-01", "BL1"), ("TR-01", "TR1")],
)
def test_one_needed_item_with_a_stale_grade_one_proof_keeps_it_from_whole(tag, code):
    assert word(with_mode(line(), tag, code, stale_at=AT)) == ("Limited", "unproven")


def test_a_stale_spare_bars_nothing():
    stale_spare = with_mode(line(), "SP-03", "SP2", stale_at=AT)
    assert word(stale_spare) == ("Whole", "")


def test_a_stale_limiting_or_cosmetic_mode_bars_nothing():
    facts = with_mode(with_mode(line(), "SH-01", "SH6", stale_at=AT), "SH-01", "SH7", stale_at=AT)
    assert word(facts) == ("Whole", "")


def test_blind_spots_never_bar_whole_but_cost_score_and_are_listed():
    rating = rate(line(), RATED)
    assert rating.word == "Whole"
    assert "XX0" in rating.blind_spots
    aged = with_mode(line(), "MR-01", "XX0", exposure_years=8.0)
    assert rate(aged, RATED).probability < rating.probability


def test_stock_that_nobody_counted_is_claimed_and_unproven():
    assert word(with_stock(line(), "towel", counted=False)) == ("Limited", "unproven")


def test_an_item_restored_alone_counts_as_claimed():
    facts = but(line(), replace(of(line(), "SH-01"), awaiting_second_name=True))
    assert word(facts) == ("Limited", "unproven")
    shelter = rate(facts, RATED).functions[0]
    assert (shelter.evidence, shelter.carried) == ("claimed", True)


@pytest.mark.parametrize("record", [(), (proof("line:PE1", outcome="none", proven_at=None, stale_at=None),)])
def test_training_that_was_never_shown_is_unproven(record):
    rating = rate(line(line_modes=record), RATED)
    assert rating.not_established == ("line PE1",)
    assert (rating.word, rating.reason) == ("Limited", "unproven")
    assert "crew" in rating.at_most


@pytest.mark.parametrize(
    ("function", "gone"),
    [
        ("shelter", ["SH-01"]),
        ("anchoring", ["TD-01", "BG-01"]),
        ("water", ["RP-01"]),
        ("PPE", ["PA-01"]),
        ("crew", ["TR-01"]),
    ],
)
def test_without_what_washing_needs_the_line_is_down(function, gone):
    facts = but(line(), *(replace(of(line(), tag), state="out of service") for tag in gone))
    rating = rate(facts, RATED)
    assert (rating.word, rating.reason, rating.down) == ("Down", "", (function,))
    assert (rating.can_do.people_per_hour, rating.can_do.probability) == (0, 0)


def test_no_inflator_on_power_and_no_cylinder_kit_is_down():
    no_kit = but(line(), replace(of(line(), "CK-01"), state="lent"))
    no_power = but(no_kit, *(replace(of(line(), g), state="out of service") for g in ("GN-01", "GN-02")))
    assert word(no_kit) == ("Whole", "")
    rating = rate(no_power, RATED)
    assert (rating.word, rating.down) == ("Down", ("inflation",))
    assert ("inflation", "relies on power") in [(x.function, x.basis) for x in rating.limits]


def test_too_few_qualified_people_for_one_lane_is_down_and_for_two_is_short():
    assert word(line(crew=line().crew[:5])) == ("Down", "")
    rating = rate(line(crew=line().crew[:6]), RATED)
    assert (rating.word, rating.reason, rating.can_do.people_per_hour) == ("Limited", "short", 30)


@pytest.mark.parametrize(
    ("function", "gone"),
    [
        ("heat", ["WH-01", "WH-02"]),
        ("light", ["LT-01", "LT-02"]),
        ("waste", ["BL-01", "BL-02"]),
        ("wash", ["IJ-01", "IJ-02", "BP-01"]),
    ],
)
def test_no_heat_light_waste_room_or_wash_solution_limits_a_line_and_never_downs_it(function, gone):
    facts = but(line(), *(replace(of(line(), tag), state="out of service") for tag in gone))
    rating = rate(facts, RATED)
    assert (rating.word, rating.reason) == ("Limited", "short")
    assert rating.can_do.people_per_hour == 60
    assert rating.can_do.without == (function,)
    assert rating.can_do.probability > 50


def test_cold_water_is_said_with_dry_methods_first_and_the_head_it_reaches():
    facts = but(line(), *(replace(of(line(), tag), state="out of service") for tag in ("WH-01", "WH-02")))
    rating = rate(facts, RATED)
    assert rating.can_do.cold
    assert rating.can_do.head_degF == 37  # supply at 40 degF less 3 degF in the hose
    assert any("dry decontamination" in said for said in rating.cautions)
