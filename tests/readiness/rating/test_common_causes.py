"""What items share: power, recorded nodes, and the arithmetic of a pair that is none."""

from dataclasses import replace

import pytest

from readiness.rating.facts import Mode, Node, Prior
from readiness.rating.mission import standard_mission
from readiness.rating.rate import rate
from tests.readiness.rating.builders import but, generator, line, of, unproven, with_mode

RATED = standard_mission(2)
ONE_IN_8_YEARS = Prior(rate_gamma=(1e9, 8e9))  # a rate known as well as one can wish


def only(facts, *keys):
    """Return the line with these failure modes alone, each one failure in 8 unit-years, nothing else ever wrong."""
    modes = {key: Mode(key.split(":")[1], key, "I", "dormant", ONE_IN_8_YEARS) for key in keys}
    return replace(facts, modes=modes, line_modes=(), beta=0.0)


def no_kit(facts):
    return replace(facts, items=tuple(i for i in facts.items if i.kind not in ("inflation_kit", "air_cylinder")))


def chance(facts, function):
    return next(f.probability for f in rate(facts, RATED).functions if f.function == function)


def test_an_item_last_proven_a_year_ago_with_one_failure_in_8_unit_years_is_dead_in_12_of_100():
    facts = with_mode(only(line(), "shelter:SH2"), "SH-01", "SH2", exposure_years=1.0)
    assert 100 - chance(facts, "shelter") == pytest.approx(12, abs=0.5)
    assert rate(facts, RATED).probability == pytest.approx(88.2, abs=0.1)


def test_and_a_month_ago_in_1_of_100():
    facts = with_mode(only(line(), "shelter:SH2"), "SH-01", "SH2", exposure_years=1 / 12)
    assert 100 - chance(facts, "shelter") == pytest.approx(1, abs=0.1)


def test_a_true_pair_at_a_year_is_dead_in_1_point_4_of_100():
    facts = only(no_kit(line()), "inflator:IN1")
    for tag in ("IN-01", "IN-02"):
        facts = with_mode(facts, tag, "IN1", exposure_years=1.0)
    assert 100 - chance(facts, "inflation") == pytest.approx(1.4, abs=0.05)


def test_two_inflators_on_one_generator_are_not_one_of_two():
    facts = only(no_kit(line()), "inflator:IN1", "generator:GN1")
    facts = but(facts, generator("GN-01"), replace(generator("GN-02"), state="lent"))
    for tag, code in (("IN-01", "IN1"), ("IN-02", "IN1"), ("GN-01", "GN1")):
        facts = with_mode(facts, tag, code, exposure_years=1.0)
    dead = 0.1175
    assert chance(facts, "inflation") == pytest.approx(100 * (1 - dead) * (1 - dead**2), abs=0.1)
    # Light, waste and power hang on it as well: the line needs it once, not four times.
    assert rate(facts, RATED).probability == pytest.approx(chance(facts, "inflation"), abs=0.1)


def test_the_only_generator_is_named_with_all_that_hangs_on_it():
    facts = but(line(), replace(of(line(), "GN-02"), state="lent"))
    (shared,) = rate(facts, RATED).shared_nodes
    assert shared.node == "GN-01"
    assert {"IN-01", "IN-02", "SP-01", "LT-01"} <= set(shared.items)
    assert "GN-01" in rate(facts, RATED).single_points


def test_a_cylinder_kit_carries_inflation_without_power():
    facts = but(line(), *(replace(of(line(), g), state="lent") for g in ("GN-01", "GN-02")))
    rating = rate(facts, RATED)
    assert chance(facts, "inflation") > 90
    assert (rating.word, rating.down) == ("Limited", ())
    assert set(rating.can_do.without) == {"waste", "light", "power"}


def test_a_recorded_node_that_is_an_item_takes_its_members_with_it():
    cord = Node("one cord", ("IN-01", "IN-02"), item="CD-01")
    facts = no_kit(replace(line(), nodes=(cord,)))
    assert chance(facts, "inflation") > 90
    gone = but(facts, replace(of(facts, "CD-01"), state="out of service"))
    assert chance(gone, "inflation") == 0
    inflators = [i for f in rate(gone, RATED).functions for i in f.items if i.tag.startswith("IN-")]
    assert {i.state for i in inflators} == {"hangs on CD-01"}


def test_a_recorded_node_with_a_probability_caps_the_pair():
    facts = no_kit(replace(only(line(), "inflator:IN1"), nodes=(Node("bay key", ("IN-01", "IN-02"), probability=0.9),)))
    for tag in ("IN-01", "IN-02"):
        facts = with_mode(facts, tag, "IN1", exposure_years=1.0)
    assert chance(facts, "inflation") == pytest.approx(90 * (1 - 0.1175**2), abs=0.1)
    assert [n.node for n in rate(facts, RATED).shared_nodes][0] == "bay key"
    assert "bay key" in rate(facts, RATED).single_points


def test_like_items_keep_a_residual_common_cause_of_5_in_100_unless_set():
    facts = only(no_kit(line()), "inflator:IN1")
    for tag in ("IN-01", "IN-02"):
        facts = with_mode(facts, tag, "IN1", exposure_years=1.0)
    with_beta = replace(facts, beta=0.05)
    assert chance(with_beta, "inflation") < chance(facts, "inflation")
    assert 100 - chance(with_beta, "inflation") == pytest.approx(1.84, abs=0.06)  # 1.25 by chance, 0.59 by cause


def test_a_single_point_is_one_unit_whose_loss_stops_the_line_and_a_spare_is_none():
    singles = rate(line(), RATED).single_points
    assert {"SH-01", "MR-01", "RP-01", "TR-01", "WH-01", "WH-02"} <= set(singles)
    assert not {"IN-01", "SP-01", "GN-01", "TD-01", "CD-01"} & set(singles)


def test_an_item_with_more_open_time_is_worth_less_and_says_which_mode_costs_it():
    facts = with_mode(line(), "WH-01", "WH1", exposure_years=3.0)
    rows = {i.tag: i for f in rate(facts, RATED).functions for i in f.items}
    assert rows["WH-01"].probability < rows["WH-02"].probability
    assert rows["WH-01"].mode == "WH1"
    never = but(line(), replace(of(line(), "MV-01"), modes=(unproven("mixing_valve:XX0", 20.0),)))
    assert {i.tag: i for f in rate(never, RATED).functions for i in f.items}["MV-01"].mode == "XX0"


def test_a_shared_cause_of_unknown_chance_is_named_and_makes_the_probability_at_most():
    facts = replace(line(), nodes=(Node("bay door", ("IN-01", "IN-02", "CK-01")),))
    rating = rate(facts, RATED)
    assert rating.probability == rate(line(), RATED).probability
    assert rating.at_most == ("probability", "can_do.probability")
    assert "bay door, shared" in rating.not_established
