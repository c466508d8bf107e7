"""What holds of every rating, over many made-up lines and missions: some whole, most not."""

import json
import os
import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from readiness.rating.as_json import as_json
from readiness.rating.mission import RANGES, Mission, MissionError
from readiness.rating.rate import rate
from readiness.rating.words import summary_lines
from tests.readiness.rating.builders import AT, line, proof, worked_case

STATES = ["in service"] * 12 + ["boxed", "out of service", "wet", "lent", "quarantine"]
OUTCOMES = ["proven"] * 14 + ["none", "claimed", "limited", "failed"]


def some_mission(chance: random.Random) -> Mission:
    """Return a mission with a few keys anywhere in their range."""
    while True:
        keys = chance.sample(sorted(RANGES), 4)
        body = {key: chance.choice([*RANGES[key], chance.uniform(*RANGES[key])]) for key in keys}
        try:
            return Mission.from_json(body | {"night": chance.random() < 0.5})
        except MissionError:
            continue


def some_line(chance: random.Random):
    """Return a line with things missing, lent, failed, limited, never proven and unmeasured, here and there."""

    def shaken(item):
        modes = tuple(
            replace(
                m,
                outcome=chance.choice(OUTCOMES),
                ratio=chance.choice([None, 0.4, 0.7]),
                exposure_years=chance.choice([None, 0.0, 0.3, 4.0]),
                reopened=chance.random() < 0.05,
                stale_at=chance.choice([None, AT, m.stale_at]),
            )
            if chance.random() < 0.3
            else m
            for m in item.modes
        )
        spec = dict(item.spec) if chance.random() < 0.8 else {}
        measured = dict(item.measured) if chance.random() < 0.8 else {}
        return replace(item, modes=modes, spec=spec, measured=measured, state=chance.choice(STATES))

    base = chance.choice([line(), worked_case(), worked_case(None)])
    items = tuple(shaken(i) for i in base.items if chance.random() < 0.93)
    stocks = tuple(
        replace(s, on_hand=s.on_hand * chance.choice([0, 0.5, 1])) for s in base.stocks if chance.random() < 0.9
    )
    return replace(base, items=items, stocks=stocks, crew=chance.choice([base.crew, base.crew[:6], None]))


@pytest.mark.parametrize("seed", range(40))
def test_every_line_and_mission_gets_an_answer_that_keeps_its_own_rules(seed):
    chance = random.Random(seed)
    facts, mission = some_line(chance), some_mission(chance)
    rating = rate(facts, mission)
    json.dumps(as_json(rating), allow_nan=False)
    assert summary_lines(rating)
    can = rating.can_do
    for low, mean, high in (
        (rating.probability_low, rating.probability, rating.probability_high),
        (can.probability_low, can.probability, can.probability_high),
    ):
        assert 0 <= low <= high <= 100
        assert 0 <= mean <= 100
    # Short of the mission is a probability of 0, and only that.
    assert (rating.probability == 0) == bool(rating.limits) or rating.probability < 0.05
    assert all(limit.have < limit.need for limit in rating.limits)
    assert [x.bites_at_min for x in rating.limits] == sorted(x.bites_at_min for x in rating.limits)
    if not rating.limits:
        assert can.people_per_hour >= mission.people_per_hour - 1e-9
    assert (rating.word == "Down") == bool(rating.down)
    assert rating.word != "Whole" or not rating.not_recorded
    assert rating.next_change_at > facts.at


@pytest.mark.parametrize("seed", range(40, 52))
def test_one_item_more_never_makes_a_line_worth_less(seed):
    chance = random.Random(seed)
    facts = some_line(chance)
    mission = Mission(tanker_at_min=60)
    # The worst regulator, backflow preventer or shelter aboard may hold the others back: those are judged elsewhere.
    one = chance.choice([i for i in facts.items if i.kind not in ("regulator", "backflow", "shelter")])

    def with_it(state):
        return replace(facts, items=tuple(replace(i, state=state) if i is one else i for i in facts.items))

    before, after = rate(with_it("out of service"), mission), rate(with_it("in service"), mission)
    assert after.can_do.people_per_hour >= before.can_do.people_per_hour


@pytest.mark.parametrize(
    "harder",
    [
        lambda m: replace(m, air_degF=m.air_degF - 25),
        lambda m: replace(m, hours=m.hours * 2),
        lambda m: replace(m, people_per_hour=m.people_per_hour + 15),
        lambda m: replace(m, supply_degF=m.supply_degF - 5),
    ],
    ids=["colder air", "longer", "more people", "colder water"],
)
@pytest.mark.parametrize("seed", range(60, 68))
def test_a_harder_mission_is_never_likelier(seed, harder):
    chance = random.Random(seed)
    facts = some_line(chance)
    mission = Mission(people_per_hour=chance.choice([10, 30, 45]), hours=chance.choice([0.5, 1, 3]), air_degF=45)
    before, after = rate(facts, mission), rate(facts, harder(mission))
    assert after.probability <= before.probability + 0.1  # each is rounded to a tenth
    assert after.can_do.asked_rate_hours <= before.can_do.asked_rate_hours + 0.01


@pytest.mark.parametrize("seed", range(70, 86))
def test_proving_an_item_never_makes_a_line_worth_less(seed):
    chance = random.Random(seed)
    facts, mission = some_line(chance), Mission(people_per_hour=30, hours=1)
    one = chance.choice(facts.items)
    rows = tuple(m if m.outcome in ("failed", "limited") else proof(m.mode, 0) for m in one.modes)
    proven = tuple(replace(i, modes=rows) if i is one else i for i in facts.items)
    before, after = rate(facts, mission), rate(replace(facts, items=proven), mission)
    assert after.probability >= before.probability - 0.1
    assert after.can_do.people_per_hour >= before.can_do.people_per_hour
    words = ["Down", "Limited", "Whole"]
    assert words.index(after.word) >= words.index(before.word)
    assert set(after.not_established) <= set(before.not_established)


def test_the_same_facts_give_the_same_bytes_in_any_process():
    script = (
        "import json; from readiness.rating.as_json import as_json; from readiness.rating.rate import rate; "
        "from tests.readiness.rating import builders as b; "
        "print(json.dumps([as_json(rate(f, b.COLD_NIGHT)) for f in (b.line(), b.worked_case(None))]))"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            cwd=Path(__file__).parents[3],
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(told) == 1
    assert json.loads(told.pop())[0]["line"] == "Line A"
