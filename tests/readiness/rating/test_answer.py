"""The answer's form: the same bytes for the same facts, the settled keys, and when to look again."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from readiness.rating.as_json import as_json
from readiness.rating.mission import standard_mission
from readiness.rating.rate import rate, score
from readiness.rating.words import FUNCTIONS, minutes_words, summary_lines
from tests.readiness.rating.builders import AT, COLD_NIGHT, but, line, of, with_mode, with_stock, worked_case

RATED = standard_mission(2)
KEYS = [
    *("line", "at", "known_at", "mission", "word", "reason", "probability", "probability_low", "probability_high"),
    *("can_do", "people_per_hour", "hours", "limits", "functions", "not_recorded", "blind_spots", "single_points"),
    *("shared_nodes", "next_moves", "next_change_at", "at_most"),
]
CAN_DO = ["people_per_hour", "hours", "lanes", "probability", "probability_low", "probability_high", "head_degF"]


def told(facts, mission=RATED):
    return as_json(rate(facts, mission))


def test_the_same_facts_and_mission_give_the_same_bytes():
    first, second = (json.dumps(told(worked_case(), COLD_NIGHT)) for _ in range(2))
    assert first == second


def test_the_json_has_the_settled_keys_first_and_in_their_order():
    answer = told(worked_case(), COLD_NIGHT)
    assert list(answer)[: len(KEYS)] == KEYS
    assert list(answer["can_do"])[: len(CAN_DO)] == CAN_DO
    assert [f["function"] for f in answer["functions"]] == list(FUNCTIONS)
    assert list(answer["functions"][0])[:6] == ["function", "need", "have", "unit", "probability", "evidence"]
    assert (answer["at"], answer["next_moves"]) == ("2026-11-20T18:00:00Z", None)


def test_a_limit_in_json_reads_as_it_was_settled():
    heat, gas, waste, redress = told(worked_case(), COLD_NIGHT)["limits"]
    assert list(heat)[:8] == [
        *("function", "need", "have", "unit", "lanes", "bites_at_min", "head_degF_at_asked_rate", "evidence"),
    ]
    assert gas["resource"] == "propane rate"
    assert (waste["bites_at_min"], redress["item"]) == (100, "Towel, bath")
    assert "head_degF_at_asked_rate" not in waste


def test_every_number_can_be_written_as_json_and_none_is_endless():
    for facts in (line(), worked_case(), line(items=(), stocks=(), crew=None, line_modes=())):
        json.dumps(told(facts), allow_nan=False)


def test_the_quick_score_agrees_with_the_full_rating():
    for facts, mission in ((line(), RATED), (worked_case(), COLD_NIGHT)):
        quick, full = score(facts, mission), rate(facts, mission)
        assert (quick.probability, quick.limits) == (full.probability, full.limits)


def test_an_untroubled_line_still_names_its_next_limit():
    rating = rate(line(), RATED)
    assert rating.limits == ()
    assert (rating.next_limit.function, rating.next_limit.need, rating.next_limit.have) == ("shelter", 3, 2)


def test_the_functions_are_each_at_least_as_likely_as_the_whole_line():
    rating = rate(line(), RATED)
    assert all(f.probability >= rating.probability for f in rating.functions)
    assert rating.probability_low <= rating.probability <= rating.probability_high
    assert rating.exact


def test_the_summary_leads_with_what_the_line_can_do():
    lines = summary_lines(rate(worked_case(), COLD_NIGHT))
    assert lines[0].startswith("Line A: 30 people an hour for 3 h, 1 lane, heads at 98 degF (1.5 min wet each)")
    assert "Limit 3. waste: 600 of 1,080 gal from 1 h 40 min on." in lines
    heat = next(said for said in lines if said.startswith("Limit 1."))
    assert heat == (
        "Limit 1. heat: 155,800 of 244,000 BTU/h from the start; heads at 76 degF at the asked rate; "
        "not counted: WH-02 out of service."
    )


@pytest.mark.parametrize(("minutes", "said"), [(0, "0 min"), (59.6, "1 h"), (100, "1 h 40 min"), (180, "3 h")])
def test_minutes_are_said_in_hours(minutes, said):
    assert minutes_words(minutes) == said


# --- when to look again -----------------------------------------------------------------------------------------


def still(facts):
    """Return the line with no mode that grows with time, so that only dates can change it."""
    kept = {key: m for key, m in facts.modes.items() if m.cls == "condition"}
    return replace(facts, modes=kept)


def test_it_is_looked_at_again_when_the_first_proof_goes_stale():
    stale = AT + timedelta(days=3)
    assert rate(with_mode(still(line()), "WH-01", "WH2", stale_at=stale), RATED).next_change_at == stale


def test_a_cosmetic_proof_going_stale_changes_nothing():
    facts = with_mode(line(), "WH-01", "WH8", stale_at=AT + timedelta(hours=1))
    assert rate(facts, RATED).next_change_at > AT + timedelta(hours=1)


def test_it_is_looked_at_again_on_the_day_a_lot_expires_and_the_day_after_a_cylinder_lapses():
    lot = with_stock(still(line()), "soap", expires_on=date(2026, 11, 24))
    assert rate(lot, RATED).next_change_at == datetime(2026, 11, 24, tzinfo=UTC)
    cylinder = but(still(line()), replace(of(line(), "LP-01"), requalify_by=date(2026, 11, 30)))
    assert rate(cylinder, RATED).next_change_at == datetime(2026, 12, 1, tzinfo=UTC)


def test_it_is_looked_at_again_when_a_count_goes_stale():
    stale = AT + timedelta(days=5)
    lot = with_stock(still(line()), "towel", stale_at=stale)
    assert rate(lot, RATED).next_change_at == stale
    assert rate(with_stock(lot, "towel", stale=True), RATED).word == "Limited"


def test_it_is_looked_at_again_after_30_days_where_nothing_else_comes():
    assert rate(still(line()), RATED).next_change_at == AT + timedelta(days=30)


def test_it_is_looked_at_again_when_the_score_has_moved_by_1_in_100():
    again = rate(line(), RATED).next_change_at
    days = (again - AT).days
    assert 1 <= days < 30
    now, before, then = (score(aged(line(), d), RATED).probability for d in (0, days - 1, days))
    assert now - before < 1.05
    assert now - then >= 0.95


def aged(facts, days):
    """Return the line with every exposure so many days longer, and nothing else changed."""

    def older(item):
        return replace(
            item, modes=tuple(replace(m, exposure_years=(m.exposure_years or 0) + days / 365.25) for m in item.modes)
        )

    return replace(facts, items=tuple(older(i) for i in facts.items))


def test_a_short_line_is_looked_at_again_when_what_it_can_do_has_moved():
    again = rate(worked_case(), COLD_NIGHT).next_change_at
    assert AT < again < AT + timedelta(days=30)
