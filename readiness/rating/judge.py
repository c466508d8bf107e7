"""What the capacities carry: lanes, hours and warmth, and the ordered list of what stops them. No probability here."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Final

from readiness.rating.evidence import stock_word, worst
from readiness.rating.facts import Evidence
from readiness.rating.mission import Mission
from readiness.rating.needs import plan
from readiness.rating.needs_heat import head_reached_k
from readiness.rating.plan import MOST_LANES, Ask, FunctionPlan, Means, Plan, Want, WayPlan, rank_by_word
from readiness.rating.words import DOWN_WITHOUT, EVIDENCE_ORDER, FUNCTIONS
from shared.formulas import people

LEAST_USEFUL_S: Final = 1800.0  # under half an hour a line is not worth starting; a choice of ours
HEAD_STEP_K: Final = 0.05


@dataclass(frozen=True, eq=False)
class Judge:
    """Plans of one line for one mission, each made once."""

    means: Means
    plans: dict[Ask, Plan] = field(default_factory=dict)
    carried: dict[tuple[Ask, str], bool] = field(default_factory=dict)

    def ask(self, lanes: int, *, head_k: float | None = None, seconds: float | None = None) -> Ask:
        """Return what so many lanes at full rate ask, at the mission's hours and warmth unless said."""
        mission = self.means.mission
        return Ask(
            mission,
            lanes,
            float(people.throughput_per_hour(lanes, mission.cycle_min)),
            mission.seconds if seconds is None else seconds,
            mission.shower_k if head_k is None else head_k,
        )

    @property
    def asked(self) -> Ask:
        """The mission itself."""
        mission = self.means.mission
        return Ask(mission, mission.lanes, mission.people_per_hour, mission.seconds, mission.shower_k)

    def plan(self, ask: Ask) -> Plan:
        """Return the plan of an ask."""
        found = self.plans.get(ask)
        if found is None:
            found = self.plans[ask] = plan(self.means, ask)
        return found

    def carries(self, ask: Ask, name: str) -> bool:
        """Return whether a function is carried with all it relies on; what is not recorded is left out."""
        found = self.carried.get((ask, name))
        if found is None:
            one = self.plan(ask)[name]
            found = not one.recorded or any(self.way_met(ask, way) for way in one.ways)
            self.carried[ask, name] = found
        return found

    def way_met(self, ask: Ask, way: WayPlan) -> bool:
        """Return whether one way is met with all it relies on."""
        return way.met and all(self.carries(ask, name) for name in way.relies_on)

    def short(self, ask: Ask) -> tuple[str, ...]:
        """Return the functions that are not carried, in the order of the chain."""
        return tuple(name for name in FUNCTIONS if not self.carries(ask, name))

    def lasts_s(self, ask: Ask, name: str) -> float:
        """Return for how long a function is carried at the asked rate. [s]"""
        one = self.plan(ask)[name]
        if not one.recorded:
            return math.inf
        return max(min([w.lasts_s, *(self.lasts_s(ask, r) for r in w.relies_on)]) for w in one.ways)

    def line_lasts_s(self, ask: Ask) -> float:
        """Return for how long everything is carried at the asked rate. [s]"""
        return min(self.lasts_s(ask, name) for name in FUNCTIONS)

    def lanes(self, without: frozenset[str] = frozenset(), **of_ask: float) -> int:
        """Return the largest whole lanes that all functions but those carry."""
        carried = 0
        for lanes in range(1, MOST_LANES + 1):
            if set(self.short(self.ask(lanes, **of_ask))) - without:
                break
            carried = lanes
        return carried


@dataclass(frozen=True, slots=True)
class Possible:
    """The largest thing the capacities carry. ``without``: functions it does without, heat among them when cold."""

    ask: Ask
    without: frozenset[str]
    head_k: float


def possible(judge: Judge) -> Possible:
    """Return what the line can do now: most lanes at the shower temperature; else at the warmest head; else cold.

    The mission itself, where it is carried, is never undercut by full lanes that stocks do not last for.
    """
    mission = judge.means.mission
    best = _most_at(judge, mission.shower_k)
    if best is None and _most_at(judge, mission.least_shower_k) is not None:
        best = _most_at(judge, _warmest_k(mission, lambda head_k: _most_at(judge, head_k) is not None))
    return _without(judge) if best is None else Possible(best, frozenset(), best.head_k)


def _most_at(judge: Judge, head_k: float) -> Ask | None:
    """Return the most that is carried for the hours asked with the heads at a temperature, None where nothing is."""
    best = judge.ask(judge.lanes(head_k=head_k), head_k=head_k)
    asked = replace(judge.asked, head_k=head_k)
    if asked.people_per_hour > best.people_per_hour and not judge.short(asked):
        best = asked
    return best if best.lanes else None


def _warmest_k(mission: Mission, holds: Callable[[float], bool]) -> float:
    """Return the warmest head that holds, by halving from one that does, the least that counts."""
    low, high = mission.least_shower_k, mission.shower_k
    while high - low > HEAD_STEP_K:
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _head_for_fewer_hours_k(judge: Judge) -> float:
    """Return the head temperature to go by where the hours asked cannot be had at any that counts.

    The shower temperature where heat lasts there for a useful time, or nowhere; else the warmest that one lane keeps
    for as long as everything else lasts.
    """
    mission = judge.means.mission

    def heat_s(head_k: float) -> float:
        return judge.lasts_s(judge.ask(1, head_k=head_k), "heat")

    least_s = heat_s(mission.least_shower_k)
    if heat_s(mission.shower_k) >= LEAST_USEFUL_S or least_s < LEAST_USEFUL_S:
        return mission.shower_k
    others = [judge.lasts_s(judge.ask(1), name) for name in FUNCTIONS if name != "heat"]
    wanted = min(mission.seconds, least_s, *(s for s in others if s >= LEAST_USEFUL_S))
    return _warmest_k(mission, lambda head_k: heat_s(head_k) >= wanted)


def _without(judge: Judge) -> Possible:
    """Return what is possible for fewer hours, or without a function that nobody needs to be washed at all."""
    head_k = _head_for_fewer_hours_k(judge)
    one = judge.ask(1, head_k=head_k)
    lasting = {name: judge.lasts_s(one, name) for name in judge.short(one)}
    gone = {name for name, lasts in lasting.items() if lasts < LEAST_USEFUL_S}
    if gone & DOWN_WITHOUT:
        # Nobody can be washed; the head is still told, as heat alone would make it in one lane.
        return Possible(judge.ask(0), frozenset(), min(_reached_k(judge, one), judge.means.mission.shower_k))
    without = frozenset(gone)
    seconds = min([judge.means.mission.seconds, *(s for name, s in lasting.items() if name not in without)])
    seconds = math.floor(seconds / 60.0) * 60.0
    ask = judge.ask(judge.lanes(without, seconds=seconds, head_k=head_k), seconds=seconds, head_k=head_k)
    return Possible(ask, without, _reached_k(judge, ask) if "heat" in without else ask.head_k)


def _reached_k(judge: Judge, ask: Ask) -> float:
    """Return what heaters and gas make of the heads, whichever gives less. [K]"""
    heads = [w.head_k for w in judge.plan(ask)["heat"].ways[0].wants if w.head_k is not None]
    return min(heads, default=head_reached_k(judge.means, ask, 0.0))


def down_functions(judge: Judge) -> tuple[str, ...]:
    """Return the functions at zero lanes without which nobody can be washed."""
    one = judge.ask(1)
    return tuple(
        name
        for name in FUNCTIONS
        if name in DOWN_WITHOUT and not judge.carries(one, name) and judge.lasts_s(one, name) < LEAST_USEFUL_S
    )


def best_way(judge: Judge, ask: Ask, one: FunctionPlan) -> WayPlan:
    """Return the way a function goes: one that is carried, else the one that lasts longest."""
    for way in one.ways:
        if judge.way_met(ask, way):
            return way
    return max(one.ways, key=lambda way: way.lasts_s)


def lanes_carried(judge: Judge, ask: Ask, name: str, want: Want) -> int:
    """Return the most lanes, under those asked, for which one resource is enough for the hours asked."""
    for lanes in range(ask.lanes - 1, 0, -1):
        fewer = judge.ask(lanes, head_k=ask.head_k, seconds=ask.seconds)
        same = [
            w
            for way in judge.plan(fewer)[name].ways
            for w in way.wants
            if (w.resource, w.kind) == (want.resource, want.kind)
        ]
        if all(w.met for w in same):
            return lanes
    return 0


def evidence_words(judges: list[Judge], ask: Ask) -> dict[str, Evidence]:
    """Return each function's evidence: the best grade of evidence that alone carries it, at the ask.

    Args:
        judges: of the same line, admitting evidence of each grade in turn, the best first.
        ask: the mission.
    """
    words: dict[str, Evidence] = {}
    for name in FUNCTIONS:
        one = judges[-1].plan(ask)[name]
        if not one.recorded or one.missing:
            words[name] = "not recorded"
            continue
        admitted = (grade for grade, judge in enumerate(judges) if judge.carries(ask, name))
        grade = next(admitted, None)
        words[name] = _worst_counted(one) if grade is None else EVIDENCE_ORDER[grade]
    return words


def _worst_counted(one: FunctionPlan) -> Evidence:
    """Return the worst evidence of all that a function counts: where even that is too little, it rests on all of it."""
    wants = [want for way in one.ways for want in way.wants]
    items = [EVIDENCE_ORDER[rank_by_word(row.standing)] for want in wants for row in want.supplies if row.each > 0]
    return worst(items + [stock_word((lot,)) for want in wants for lot in want.lots])
