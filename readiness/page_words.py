"""A rating in sentences: what a line can do, what holds it, how sure that is, and how each function stands.

Reads the JSON of ``readiness.rating.as_json``, so that a stored rating and one just asked read alike. No query, no
clock; quantities are in the units of the mission's keys, or in SI for a reader who chose it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from readiness.page_formulas import FORMULAS_OF, formulas_of
from readiness.rating.words import DOWN_WITHOUT, FUNCTIONS
from shared.templatetags.holdair import (
    day,
    in_sentence,
    listed,
    minutes,
    plain_number,
    points,
    spoken,
    to_reader,
    wet,
    written,
)
from shared.verification.catalogue import Formula

Json = Mapping[str, Any]

SHORT: Final = {"inflation": "inflate", "anchoring": "anchor"}  # as they fit a fourteenth of the strip
COUNTS: Final = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
LEVEL_WORDS: Final = {
    "whole": "carries it, proven",
    "limited": "falls short",
    "down": "at zero",
    "unrecorded": "not recorded",
}
MOST_CONDITIONS: Final = 3  # that a line among others says in full


def count(number: int) -> str:
    return COUNTS[number] if 0 <= number < len(COUNTS) else str(number)


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def span(hours: float) -> str:
    return minutes(hours * 60)


def some(names: Sequence[str], most: int = 6) -> str:
    """Return names as a sentence lists them, cut where there are too many to read."""
    if len(names) <= most:
        return listed(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def brief(clauses: Sequence[str], most: int = 3) -> str:
    """Return clauses set apart by semicolons, cut where there are too many to read."""
    left = len(clauses) - most
    return "; ".join([*clauses[:most], *([f"{left} more"] if left > 0 else [])])


# One function ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class FunctionView:
    """One function of the chain as its strip and its row show it."""

    name: str
    level: str
    said: str  # what the level says in words
    short: str
    limits: tuple[Json, ...] = ()
    facts: Json = field(default_factory=dict)

    uses_si: bool = False

    @property
    def figure(self) -> str:
        return have_of_need(self.facts, self.uses_si)

    @property
    def items(self) -> list[Json]:
        return list(self.facts.get("items") or ())

    @property
    def formulas(self) -> list[Formula]:
        """Return the formulas that its figures rest on."""
        return formulas_of(FORMULAS_OF.get(self.name, ()))


def functions_of(rating: Json, uses_si: bool = False) -> list[FunctionView]:
    """Return all fourteen in chain order, one that the rating does not mention as not recorded."""
    by_name = {f["function"]: f for f in rating.get("functions") or ()}
    limits: dict[str, list[Json]] = {}
    for limit in own_limits(rating):
        limits.setdefault(limit["function"], []).append(limit)
    return [_function(name, by_name.get(name), tuple(limits.get(name, ())), rating, uses_si) for name in FUNCTIONS]


def _function(name: str, facts: Json | None, limits: tuple[Json, ...], rating: Json, uses_si: bool) -> FunctionView:
    level = _level(name, facts, limits, rating)
    said = f"carries it, {_weakness(facts or {})}" if level == "unproven" else LEVEL_WORDS[level]
    return FunctionView(name, level, said, SHORT.get(name, name), limits, facts or {}, uses_si)


def _weakness(facts: Json) -> str:
    evidence = facts.get("evidence") or "claimed"
    return {"proven": "in part not established", "not recorded": "in part not recorded"}.get(evidence, evidence)


def _level(name: str, facts: Json | None, limits: tuple[Json, ...], rating: Json) -> str:
    if name in (rating.get("down") or ()):
        return "down"
    # The list names a function whose record is empty, and "function: kind" where only some of it is missing.
    if facts is None or name in (rating.get("not_recorded") or ()):
        return "unrecorded"
    if limits or not facts.get("carried", True):
        return "down" if name in DOWN_WITHOUT and not facts.get("have") else "limited"
    return "whole" if facts.get("evidence") == "proven" and not facts.get("at_most") else "unproven"


# The answer --------------------------------------------------------------------------------------------------------


def lead(rating: Json, *, asked: bool, when: str = "tonight") -> str:
    """Return the sentence that answers: how many people an hour, for how long, and whether that is what was asked."""
    mission, can, line = rating["mission"], rating["can_do"], rating["line"]
    wanted, hours, people, lasts = mission["people_per_hour"], mission["hours"], can["people_per_hour"], can["hours"]
    if nothing_recorded(rating):
        return f"Nothing is recorded of {line}, so nothing is claimed for it."
    if people <= 0 or lasts <= 0:
        return f"{line} can wash nobody {when}."
    most = "at most " if rating.get("at_most") else ""
    washed = whole_people(people)
    how = ", cold" if is_cold(rating) else ""
    if without := [name for name in can.get("without") or () if name != "heat"]:
        how += f", without {listed(without)}"
    if people >= wanted and lasts >= hours:
        asks = f"the {plain_number(wanted)} people an hour asked,"
        rated = f"its rated {plain_number(wanted)} people an hour"
        return f"{line} can wash {most}{asks if asked else rated} for {span(hours)}{how}."
    long = f" for {span(lasts)}" if lasts < hours else ""
    missed = plain_number(wanted) if people < wanted else span(hours)
    instead = f"not the {missed} asked" if asked else f"not its rated {missed}"
    washes = f"{most}{washed} {'person' if washed == '1' else 'people'} an hour{long}"
    return f"{line} can wash {washes} {when}{how}, {instead}."


def whole_people(people: float) -> str:
    """Return people an hour in whole people, as nobody washes a part of one; less than one is told as it is."""
    return plain_number(math.floor(people + 1e-9) if people >= 1 else people, 4)


def nothing_recorded(rating: Json) -> bool:
    """Say whether nothing but people is on record: an empty chain carries anything, and may claim nothing."""
    return all(function.level == "unrecorded" for function in functions_of(rating) if function.name != "crew")


def unknown_vitals(rating: Json) -> int:
    """Return how many functions that nobody can be washed without are not recorded."""
    return sum(f.level == "unrecorded" and f.name in DOWN_WITHOUT for f in functions_of(rating))


def is_cold(rating: Json) -> bool:
    return bool(rating["can_do"].get("cold"))


def holds(rating: Json) -> str:
    """Return what holds the answer where it is: rate limits by the lanes they leave, stocks by when they run out."""
    limits = own_limits(rating)
    rates = [limit for limit in limits if not limit.get("bites_at_min")]
    stocks = [limit for limit in limits if limit.get("bites_at_min")]
    sentences = []
    if rates:
        # Of the rates, the tightest are what holds it; the table has the others.
        lanes = min(limit["lanes"] for limit in rates)
        names = _unique(_spoken_name(limit) for limit in rates if limit["lanes"] == lanes)
        sentences.append(f"{some(names, 4)} {_leaves(lanes, len(names), rating)}")
    if stocks:
        # The first of each function to run out is what stops it; the table has the rest.
        first: dict[str, str] = {}
        for limit in stocks:
            first.setdefault(_spoken_name(limit), minutes(limit["bites_at_min"]))
        runs = [f"{name} at {at}" for name, at in first.items()][:2]
        runs[0] = runs[0].replace(" at ", " would stop it at ", 1)
        sentences.append(f"at {plain_number(rating['mission']['people_per_hour'])} an hour, {listed(runs)}")
    return capital(f"{'; '.join(sentences)}.") if sentences else ""


def own_limits(rating: Json) -> list[Json]:
    """Return the limits in their order, less those that only follow from another function that is short itself."""
    limits = list(rating.get("limits") or ())
    short = {limit["function"] for limit in limits}
    return [limit for limit in limits if (limit.get("basis") or "").removeprefix("relies on ") not in short]


def _leaves(lanes: int, names: int, rating: Json) -> str:
    if lanes == 0 and is_cold(rating):
        return f"{'gives' if names == 1 else 'give'} no warm lane"
    verb = {1: "holds it", 2: "both hold it"}.get(names, "all hold it")
    return f"{verb} to {lane_words(lanes) if lanes else 'nothing'}"


def _spoken_name(limit: Json) -> str:
    return limit_name(limit) if limit["function"] == "heat" else limit["function"]


def lane_words(lanes: int) -> str:
    return "no lane" if lanes == 0 else f"{count(lanes)} lane{'' if lanes == 1 else 's'}"


def _unique(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def limit_name(limit: Json) -> str:
    """Return what limits, the function named where the resource alone would not say it."""
    resource, function = spoken(limit.get("resource") or ""), limit["function"]
    if not resource:
        return function
    return resource if function == "heat" else f"{function} ({resource})"


def cautions(rating: Json) -> list[str]:
    """Return what must be said beside the answer."""
    return [spoken(text) for text in rating.get("cautions") or ()]


def at_most_words(rating: Json) -> str:
    """Return why figures are upper bounds; empty where everything they rest on is recorded and established."""
    if not rating.get("at_most"):
        return ""
    missing = listed(rating.get("not_recorded"))
    said = f"Not recorded: {missing}. " if missing else ""
    # The list also names the figures concerned, by key; people are told the functions.
    rests = listed([name for name in rating["at_most"] if name in FUNCTIONS])
    verb = "are" if " and " in rests else "is"
    until = "that is recorded" if not rests or rests == missing else f"{rests} {verb} established"
    return f"{said}Every figure is at most what is said, until {until}."


def mission_words(mission: Json, uses_si: bool = False) -> str:
    """Return a mission in short: people an hour, hours, air, supply."""
    air, supply = (written(mission[key], "degF", uses_si) for key in ("air_degF", "supply_degF"))
    people = plain_number(mission["people_per_hour"])
    return f"{people} an hour for {span(mission['hours'])}, air {air}, supply water {supply}"


def wet_words(mission: Json) -> str:
    return f"{wet(mission['wet_min'])} wet, a local medical setting"


# Chances -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Chance:
    """A probability with its 80 % range, in whole points of 100; an upper bound where something is not established."""

    value: int
    low: int
    high: int
    at_most: bool = False

    @property
    def text(self) -> str:
        return f"{'at most ' if self.at_most else ''}{self.value} in 100"

    @property
    def range(self) -> str:
        return f"{self.low} to {self.high}"


def chance(holder: Json, *, at_most: bool = False) -> Chance:
    """Return probability and range of a rating or of its ``can_do``."""
    value, low, high = (int(points(holder[key])) for key in ("probability", "probability_low", "probability_high"))
    # Nothing is less than no chance at all.
    return Chance(value, low, high, at_most and value > 0)


# Limits over the hours ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class TrackRow:
    """One row of the track table: how far into the mission something carries it, and why no further."""

    level: str
    name: str
    percent: float
    text: str


def track_rows(rating: Json, uses_si: bool = False) -> list[TrackRow]:
    """Return the limits in the rating's order, then everything that carries the mission by its evidence."""
    limits = own_limits(rating)
    rows = [_limit_row(limit, rating, uses_si) for limit in limits]
    named = {limit["function"] for limit in limits}
    rest = [f for f in functions_of(rating) if f.name not in named]
    for level, title, percent in (
        ("down", "At zero", 0.0),
        ("limited", "Short", 0.0),
        ("unproven", "Unproven", 100.0),
        ("whole", "Proven", 100.0),
        ("unrecorded", "Not recorded", 0.0),
    ):
        if at_level := [f for f in rest if f.level == level]:
            rows.append(TrackRow(level, title, percent, ", ".join(map(_named, at_level))))
    return rows


def _named(function: FunctionView) -> str:
    return f"{function.name} ({_weakness(function.facts)})" if function.level == "unproven" else function.name


def _limit_row(limit: Json, rating: Json, uses_si: bool) -> TrackRow:
    level = "down" if limit["function"] in DOWN_WITHOUT and not limit.get("have") else "limited"
    return TrackRow(level, capital(limit_name(limit)), _reach(limit, rating), limit_words(limit, rating, uses_si))


def _reach(limit: Json, rating: Json) -> float:
    """Return how much of the hours asked a limit leaves: all of them at fewer lanes, or up to where it bites."""
    if bites := limit.get("bites_at_min"):
        return 100 * bites / (rating["mission"]["hours"] * 60)
    return 100.0 if limit["lanes"] else 0.0


def limit_words(limit: Json, rating: Json, uses_si: bool = False) -> str:
    """Return one limit in words: lanes left, have of need, where it was measured, when it bites."""
    # A limit counted in lanes says by itself how many are left.
    counted = limit.get("bites_at_min") or limit.get("unit") == "lanes"
    said = "" if counted else f"{lane_words(limit['lanes'])}: "
    said += have_of_need(limit, uses_si) + _evidence_words(limit.get("evidence") or {})
    if limit.get("bites_at_min"):
        said += f"; {'full at' if limit['function'] == 'waste' else 'ends at'} {minutes(limit['bites_at_min'])}"
    if (head := limit.get("head_degF_at_asked_rate")) is not None:
        rate = plain_number(rating["mission"]["people_per_hour"])
        said += f"; at {rate} an hour the heads run {written(head, 'degF', uses_si)}"
    return said


def have_of_need(row: Json, uses_si: bool = False) -> str:
    """Return "155,800 of 244,000 BTU/h" of a limit or a function."""
    have, unit = row.get("have") or 0.0, row.get("unit") or ""
    most = "at most " if row.get("at_most") else ""
    shown, _ = to_reader(have, unit, uses_si)
    if unit == "count":
        return f"{most}{plain_number(have)}, needs {plain_number(row['need'])}"
    return f"{most}{plain_number(shown, 6 if abs(shown) >= 1000 else 3)} of {written(row['need'], unit, uses_si)}"


def _evidence_words(evidence: Json) -> str:
    state, on = evidence.get("state", ""), evidence.get("on")
    if on:
        done = "measured" if evidence.get("inspection") else "counted"
        verb = {"proven": done, "stale": f"stale, {done}"}.get(state, f"{state}, looked at")
        return f", {verb} {day(on)}"
    return f", {state}" if state and state != "proven" else ""


def first_limit(rating: Json, uses_si: bool = False) -> str:
    """Return the first thing that would have to change, for a line among others."""
    limits = own_limits(rating)
    if limits:
        return f"{limit_name(limits[0])}, {limit_words(limits[0], rating, uses_si)}"
    if missing := rating.get("not_recorded"):
        return f"{missing[0]} is not recorded"
    after = next_limit(rating, uses_si)
    return f"with one lane more, {after}" if after else ""


def next_limit(rating: Json, uses_si: bool = False) -> str:
    """Return what would stop one lane more than the line can do; empty where it is short already."""
    after = rating.get("next_limit")
    return f"{limit_name(after)}: {have_of_need(after, uses_si)}" if after else ""


# What to know beside the number ------------------------------------------------------------------------------------


def remarks(rating: Json, names: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return (heading, sentence) for what a reader of all lines must know of one; its own page has the rest.

    Args:
        rating: as its JSON.
        names: of failure modes, by code.
    """
    travels = [spoken(text) for text in rating.get("conditions") or ()]
    shown = travels[:MOST_CONDITIONS]
    doubts = [d for d in rating.get("in_doubt") or () if not _is_said(d, names, shown)]
    weak = len(weak_items(rating))
    blind = _unique(mode_words(spot, names) for spot in rating.get("blind_spots") or ())
    found = [
        ("Not recorded", listed(rating.get("not_recorded"))),
        ("In doubt", brief([f"{d['item']}: {mode_words(d['mode'], names)}" for d in doubts])),
        ("Travels with it", brief(travels, MOST_CONDITIONS)),
        ("No proof in force", f"for {weak} item{'' if weak == 1 else 's'} of its chain" if weak else ""),
        ("Blind spots", "; ".join(blind)),
    ]
    return [(heading, said) for heading, said in found if said]


def _is_said(doubt: Json, names: Mapping[str, str], conditions: Iterable[str]) -> bool:
    """Say whether a condition that travels with the line already tells of this doubt."""
    start = f"{doubt['item']}: {mode_words(doubt['mode'], names)}".casefold()
    return any(text.casefold().startswith(start) for text in conditions)


def mode_words(spot: str, names: Mapping[str, str]) -> str:
    """Return what a failure mode is called inside a sentence; its code where nobody named it."""
    name = names.get(mode_code(spot), "").partition(" (")[0]
    return in_sentence(name) or spot


def mode_code(spot: str) -> str:
    """Return the code of a mode that the rating names alone, after its item or after its kind."""
    return spot.split()[-1].split(":")[-1]


def weak_items(rating: Json) -> list[str]:
    """Return the tags of those items in the chain whose evidence is in doubt, claimed or stale."""
    weak = ("in doubt", "claimed", "stale")
    return _unique(i["tag"] for f in functions_of(rating) for i in f.items if i.get("evidence") in weak and stands(i))


def stands(item: Json) -> bool:
    """Say whether an item counts in the chain at all: one out of service needs a repair before a proof."""
    return item.get("state") in ("in service", "on hand")
