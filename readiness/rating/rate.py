"""The rating of one line: frozen facts and a mission in, a frozen answer out. Pure: no clock, no database."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from readiness.rating import why
from readiness.rating.answer import CanDo, Limit, Rated, Rating, Reason, Word
from readiness.rating.chain import NO_CHANCE, Chance, Odds, chance, line_over_time, singles
from readiness.rating.evidence import DAYS_A_YEAR, Evidenced, Standing, fuel_lapsed_on, weigh
from readiness.rating.facts import Facts
from readiness.rating.judge import Judge, Possible, down_functions, evidence_words, possible
from readiness.rating.mission import MOST_HOURS, Mission, standard_mission
from readiness.rating.plan import MOST_LANES, Means
from readiness.rating.words import (
    CAUTION_COLD,
    CAUTION_NO_HEAT,
    CAUTION_SOME_HEAT,
    CAUTION_WITHOUT,
    EVIDENCE_ORDER,
)

MOVED = 0.01  # of the score: by so much it is worth looking again
LOOK_AGAIN_DAYS = 30


@dataclass(frozen=True, slots=True)
class Score:
    """The quick answer: probability of a mission with its range, in 100, and what stops it."""

    probability: float
    probability_low: float
    probability_high: float
    limits: tuple[Limit, ...]


def score(facts: Facts, mission: Mission) -> Score:
    """Return the probability that a line carries a mission, and the ordered list of limits, and nothing else."""
    judge = Judge(Means(facts, mission, weigh(facts)))
    limits = why.limits_of(judge, judge.asked)
    told = NO_CHANCE if judge.short(judge.asked) else chance(judge, Odds.of(facts), judge.asked)
    return Score(_in_100(told.mean), _in_100(told.low), _in_100(told.high), limits)


def rate(facts: Facts, mission: Mission) -> Rating:
    """Return what a line can do about a mission, how sure that is, the word for it, and why.

    The word is about the line's own rated mission, whatever mission is asked. The same facts and mission give the
    same answer to the last byte.

    Raises:
        MissionError: the line's rated mission in ``facts`` is none.
    """
    evidenced, odds = weigh(facts), Odds.of(facts)
    judge = Judge(Means(facts, mission, evidenced))
    # What is withheld counts nothing in any figure, and stands in every list as if nothing were.
    open_facts = facts.shown
    shown = evidenced if open_facts is facts else weigh(open_facts)
    shown_judge = judge if open_facts is facts else Judge(Means(open_facts, mission, shown))
    own = rated_mission(facts)
    rated_judge = judge if own == mission else Judge(Means(facts, own, evidenced))
    rated_chance = _carried_chance(rated_judge, odds)
    asked_chance = rated_chance if rated_judge is judge else _carried_chance(judge, odds)
    can = possible(judge)
    can_chance = _can_chance(judge, odds, can, asked_chance)
    word, reason, down = _word(rated_judge, rated_chance)
    short = frozenset(judge.short(judge.asked))
    function_chances = (chance(judge, odds, judge.asked, short) if short else asked_chance).functions
    grades = [Judge(Means(facts, mission, evidenced, g, by_word=True)) for g in range(len(EVIDENCE_ORDER) - 1)]
    stops = judge.asked if not short else can.ask
    return Rating(
        line=facts.line,
        at=facts.at,
        known_at=facts.known_at,
        mission=mission,
        word=word,
        reason=reason,
        probability=_in_100(asked_chance.mean),
        probability_low=_in_100(asked_chance.low),
        probability_high=_in_100(asked_chance.high),
        can_do=_can_do(judge, can, can_chance),
        limits=why.limits_of(judge, judge.asked),
        functions=why.function_rows(
            judge, odds, judge.asked, evidence_words(grades, judge.asked), function_chances, shown_judge
        ),
        not_recorded=_not_recorded(judge, rated_judge),
        blind_spots=why.blind_spots(shown),
        single_points=singles(judge, odds, stops, can.without if short else frozenset()),
        shared_nodes=why.shared_nodes(shown_judge, judge.asked),
        next_change_at=next_change_at(rated_judge, odds, rated_chance),
        at_most=why.at_most_figures(judge, judge.asked),
        rated=_rated(facts, own, rated_chance),
        next_limit=_next_limit(judge, can) if not short else None,
        down=down,
        cautions=_cautions(mission, can),
        conditions=why.conditions(open_facts, shown),
        in_doubt=why.in_doubt(shown),
        not_established=why.not_established(open_facts, shown),
        exposure_assumed=why.exposure_assumed(shown),
        exact=asked_chance.exact and can_chance.exact,
        error=max(asked_chance.error, can_chance.error),
    )


def rated_mission(facts: Facts) -> Mission:
    """Return the line's own rated mission; the standard one for its lanes where none is set."""
    return Mission.from_json(facts.rated_mission) if facts.rated_mission else standard_mission(facts.rated_lanes)


def _in_100(value: float) -> float:
    return why.tidy(value)


def _carried_chance(judge: Judge, odds: Odds) -> Chance:
    return NO_CHANCE if judge.short(judge.asked) else chance(judge, odds, judge.asked)


def _can_chance(judge: Judge, odds: Odds, can: Possible, asked: Chance) -> Chance:
    if can.ask.lanes == 0:
        return NO_CHANCE
    if can.ask == judge.asked and not can.without:
        return asked
    return chance(judge, odds, can.ask, can.without)


def _can_do(judge: Judge, can: Possible, told: Chance) -> CanDo:
    hours = can.ask.seconds / 3600.0 if can.ask.lanes else 0.0
    lasts_h = min(MOST_HOURS, judge.line_lasts_s(judge.asked) / 3600.0)
    return CanDo(
        people_per_hour=why.tidy(can.ask.people_per_hour),
        hours=why.tidy(hours, 2),
        lanes=can.ask.lanes,
        probability=_in_100(told.mean),
        probability_low=_in_100(told.low),
        probability_high=_in_100(told.high),
        head_degF=why.degrees(can.head_k),
        cold="heat" in can.without,
        without=tuple(name for name in judge.plan(can.ask) if name in can.without),
        asked_rate_hours=why.tidy(lasts_h, 2),
    )


def _rated(facts: Facts, own: Mission, told: Chance) -> Rated:
    return Rated(
        people_per_hour=own.people_per_hour,
        hours=own.hours,
        probability=_in_100(told.mean),
        probability_low=_in_100(told.low),
        probability_high=_in_100(told.high),
        target=facts.target_score,
        mission_assumed=facts.mission_assumed or not facts.rated_mission,
        load_list_assumed=facts.load_list_assumed,
    )


def _word(judge: Judge, told: Chance) -> tuple[Word, Reason, tuple[str, ...]]:
    """Return (word, reason, functions at zero) against the rated mission: short, then unproven, then unsure."""
    down = down_functions(judge)
    if down:
        return "Down", "", down
    if judge.short(judge.asked):
        return "Limited", "short", ()
    means = judge.means
    proven = Judge(Means(means.facts, means.mission, means.evidenced, grade=0))
    if proven.short(judge.asked) or why.not_recorded(judge, judge.asked):
        return "Limited", "unproven", ()
    if told.mean < means.facts.target_score:
        return "Limited", "unsure", ()
    return "Whole", "", ()


def _not_recorded(judge: Judge, rated_judge: Judge) -> tuple[str, ...]:
    asked = why.not_recorded(judge, judge.asked)
    return tuple(dict.fromkeys((*asked, *why.not_recorded(rated_judge, rated_judge.asked))))


def _next_limit(judge: Judge, can: Possible) -> Limit | None:
    """Return what would stop one lane more than the line can do."""
    if can.ask.lanes >= MOST_LANES:
        return None
    return next(iter(why.limits_of(judge, judge.ask(can.ask.lanes + 1))), None)


def _cautions(mission: Mission, can: Possible) -> tuple[str, ...]:
    said = [CAUTION_COLD] if mission.is_cold else []
    if "heat" in can.without:
        said.append(CAUTION_NO_HEAT)
    elif can.ask.lanes and can.head_k < mission.shower_k - 0.5:
        said.append(CAUTION_SOME_HEAT.format(head=why.degrees(can.head_k)))
    if can.without:
        said.append(CAUTION_WITHOUT.format(functions=", ".join(sorted(can.without))))
    return tuple(said)


# --- when to look again -----------------------------------------------------------------------------------------


def next_change_at(judge: Judge, odds: Odds, told: Chance) -> datetime:
    """Return the first instant after ``at`` at which the rating can change by itself, 30 days on at the latest.

    A proof goes stale, a lot expires, an order falls late, a cylinder lapses, somebody's qualification ends, or the
    score has moved by 1 in 100 because nothing was proven meanwhile.
    """
    facts = judge.means.facts
    latest = facts.at + timedelta(days=LOOK_AGAIN_DAYS)
    events = [latest, *(e for e in _events(facts, judge.means.evidenced) if facts.at < e < latest)]
    return min(events + _moved_at(judge, odds, min(events)))


def _events(facts: Facts, evidenced: Evidenced) -> list[datetime]:
    instants = [row.stale_at for row in facts.line_modes if row.stale_at is not None]
    instants += [lot.stale_at for lot in facts.stocks if lot.stale_at is not None]
    # What expires counts nothing from the start of its day on; all other dates hold to the end of theirs.
    instants += [datetime.combine(lot.expires_on, time(), UTC) for lot in facts.stocks if lot.expires_on is not None]
    days: list[date | None] = []
    days += [person.until for person in facts.crew or () if person.qualified]
    days += [order.expected_on for order in facts.orders]
    for standing in evidenced.by_tag.values():
        instants += _stale_instants(facts, standing)
        days += [standing.item.requalify_by, standing.item.remove_by]
        lapsed = fuel_lapsed_on(standing.item)
        days.append(None if lapsed is None else lapsed - timedelta(days=1))
    return instants + [datetime.combine(d + timedelta(days=1), time(), UTC) for d in days if d is not None]


def _stale_instants(facts: Facts, standing: Standing) -> list[datetime]:
    graded = (row for row in standing.item.modes if row.mode in facts.modes and facts.modes[row.mode].grade != "N")
    return [row.stale_at for row in graded if row.stale_at is not None and standing.counts]


def _moved_at(judge: Judge, odds: Odds, until: datetime) -> list[datetime]:
    """Return the day on which the score, or where the line is short what it can do, has moved by 1 in 100."""
    facts = judge.means.facts
    days = (until - facts.at).days
    can = None if not judge.short(judge.asked) else possible(judge)
    ask, without = (judge.asked, frozenset[str]()) if can is None else (can.ask, can.without)
    if days < 1 or ask.lanes == 0:
        return []
    years = tuple(day / DAYS_A_YEAR for day in range(days + 1))
    line = line_over_time(judge, odds, ask, without, years)
    moved = [day for day in range(1, days + 1) if abs(line[day] - line[0]) >= MOVED]
    return [facts.at + timedelta(days=moved[0])] if moved else []
