"""Why the answer is what it is: limits with their evidence, each function's figures, its items, and what they share."""

import math
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Final

from readiness.rating.answer import FunctionRow, InDoubt, ItemRow, Limit, LimitEvidence, SharedNode
from readiness.rating.capacity import Supply
from readiness.rating.chain import Odds
from readiness.rating.evidence import DATED, Evidenced, Standing, expired, stock_word
from readiness.rating.facts import Evidence, Facts, Stock
from readiness.rating.judge import Judge, best_way, lanes_carried
from readiness.rating.plan import Ask, FunctionPlan, Want, WayPlan
from readiness.rating.words import DOWN_WITHOUT, EVIDENCE_ORDER, FUNCTIONS, kind_words
from shared.units import from_si

SHOWN_TO: Final = {"BTU/h": 100.0, "gal": 1.0, "W": 10.0}  # others to a tenth
WHOLE: Final = frozenset({"people", "lanes", "count"})  # nobody is dressed by half a kit
CONVERTED: Final = frozenset({"BTU/h", "gal", "gpm", "lb", "psi", "W"})
PLUGGED_IN: Final = ("inflator", "pump", "light_strip", "light_supply")


def figure(value: float, unit: str, finer: int = 0) -> float:
    """Return a figure of a plan in the unit people read it in, rounded as they read it; to ``finer`` places more."""
    shown = from_si(value, unit) if unit in CONVERTED else value
    if unit in WHOLE:
        return math.floor(shown + 1e-6)
    step = SHOWN_TO.get(unit, 0.1) / 10**finer
    return tidy(math.floor(shown / step + 0.5) * step, 1 + finer)


def figures(want: Want) -> tuple[float, float]:
    """Return (need, have) as shown: never so rounded that what is short looks enough."""
    if want.unit in WHOLE:
        return math.ceil(want.need - 1e-6), figure(want.have, want.unit)
    # A few gallons of soap or fuel are read to a tenth.
    few = figure(want.need, want.unit) < 10 * SHOWN_TO.get(want.unit, 0.0)
    for finer in range(int(few), 6):
        need, have = figure(want.need, want.unit, finer), figure(want.have, want.unit, finer)
        if (have < need) != want.met:
            break
    return need, have


def tidy(value: float, places: int = 1) -> float:
    """Return a rounded number, whole where it is whole."""
    rounded = round(value, places)
    return int(rounded) if float(rounded).is_integer() else rounded


def degrees(kelvin: float) -> float:
    """Return a temperature as whole degrees Fahrenheit."""
    return int(math.floor(from_si(kelvin, "degF") + 0.5))


# --- limits -----------------------------------------------------------------------------------------------------


def limits_of(judge: Judge, ask: Ask) -> tuple[Limit, ...]:
    """Return what keeps the line from an ask, by when it bites, then in the order of the chain."""
    made = judge.plan(ask)
    found: list[Limit] = []
    for name in judge.short(ask):
        way = best_way(judge, ask, made[name])
        short = [want for want in way.wants if not want.met]
        found += [_limit(judge, ask, made[name], want) for want in short]
        # What only lacks what it relies on is no limit of its own, except where nobody can be washed without it.
        if not short and name in DOWN_WITHOUT:
            found.append(Limit(name, "", 1, 0, "count", 0, 0, basis="relies on " + ", ".join(way.relies_on)))
    order = {name: place for place, name in enumerate(FUNCTIONS)}
    return tuple(sorted(found, key=lambda limit: (limit.bites_at_min, order[limit.function])))


def _limit(judge: Judge, ask: Ask, one: FunctionPlan, want: Want) -> Limit:
    standings = _standings(judge.means.evidenced, want)
    stands = want.unit == "lanes" and want.kind == "shelter" and want.lasts_s > 0
    need, have = figures(want)
    return Limit(
        function=one.name,
        resource="standing time" if stands else want.resource,
        need=tidy(ask.seconds / 60.0) if stands else need,
        have=tidy(want.lasts_s / 60.0) if stands else have,
        unit="min" if stands else want.unit,
        lanes=lanes_carried(judge, ask, one.name, want),
        bites_at_min=tidy(want.lasts_s / 60.0),
        head_degF_at_asked_rate=None if want.head_k is None else degrees(want.head_k),
        item=want.item,
        basis=want.basis,
        evidence=_behind(want),
        not_counted=tuple(f"{s.item.tag} {s.zero}" for s in standings if s.zero),
        at_most=is_at_most(want) or bool(one.missing),
        ordered=ordered(judge.means.facts, want.kind),
    )


def ordered(facts: Facts, kind: str) -> tuple[str, ...]:
    """Return what of a kind is ordered and not here: "60 Towel ordered, expected 2026-12-12, late"."""
    on = facts.at.date()
    return tuple(
        f"{o.quantity} {o.name} ordered, "
        + ("no date given" if o.expected_on is None else f"expected {o.expected_on}")
        + (", late" if o.expected_on is not None and o.expected_on < on else "")
        for o in facts.orders
        if kind and o.kind == kind
    )


def _behind(want: Want) -> LimitEvidence | None:
    """Return the weakest evidence among what is counted."""
    if want.lots:
        counted = [lot.counted_on for lot in want.lots if lot.counted_on is not None]
        return LimitEvidence(stock_word(want.lots), want.item, on=min(counted, default=None))
    rows = [row for row in want.supplies if row.each > 0]
    if not rows:
        return None
    weakest = max(rows, key=_trust)
    behind, item = weakest.standing.behind, weakest.standing.item
    proven_on = behind.proven_at.date() if behind is not None and behind.proven_at is not None else None
    return LimitEvidence(
        "claimed" if weakest.claimed and weakest.standing.word == "proven" else weakest.standing.word,
        item.tag,
        weakest.inspection or (behind.inspection if behind is not None else ""),
        weakest.on or proven_on,
    )


def _trust(row: Supply) -> tuple[int, bool]:
    return EVIDENCE_ORDER.index(row.standing.word), row.claimed


def _standings(evidenced: Evidenced, want: Want) -> tuple[Standing, ...]:
    if want.kind == "line":
        return () if evidenced.line is None else (evidenced.line,)
    return evidenced.by_kind.get(want.kind, ())


# --- at most ----------------------------------------------------------------------------------------------------


def is_at_most(want: Want) -> bool:
    """Return whether a figure rests on a condition that no check has established, or on a capacity nobody recorded."""
    return any(row.standing.unsettled or row.basis == "assumed" for row in want.supplies if row.each > 0)


def at_most_functions(judge: Judge, ask: Ask) -> tuple[str, ...]:
    """Return the functions of which some figure is at most what is said."""
    found = []
    for name, one in judge.plan(ask).items():
        if not one.recorded or one.missing or any(is_at_most(w) for way in one.ways for w in way.wants):
            found.append(name)
    return tuple(found)


def at_most_figures(judge: Judge, ask: Ask) -> tuple[str, ...]:
    """Return the figures of the answer that are at most what is said: the leading ones, then functions."""
    functions = at_most_functions(judge, ask)
    if functions:
        head = ("can_do.head_degF",) if "heat" in functions else ()
        return ("probability", "can_do.people_per_hour", "can_do.probability", *head, *functions)
    return ("probability", "can_do.probability") if unknown_causes(judge.means.facts) else ()


def not_recorded(judge: Judge, ask: Ask) -> tuple[str, ...]:
    """Return what is not on record: a function's name where all of it is missing, else the function and the kind."""
    said = []
    for name, one in judge.plan(ask).items():
        if not one.recorded:
            said.append(name)
        else:
            said += [f"{name}: {kind_words(kind)}" for kind in one.missing]
    return tuple(dict.fromkeys(said))


# --- functions and items ----------------------------------------------------------------------------------------


def function_rows(
    judge: Judge,
    odds: Odds,
    ask: Ask,
    evidence: Mapping[str, Evidence],
    chances: Mapping[str, float],
    shown: Judge | None = None,
) -> tuple[FunctionRow, ...]:
    """Return a row for each of the fourteen functions at an ask; its items are listed as ``shown`` sees them."""
    listed = shown or judge
    rows = []
    for name, one in judge.plan(ask).items():
        way = best_way(judge, ask, one)
        tight = _tightest(way)
        carried = judge.carries(ask, name)
        need, have = (0.0, 0.0) if tight is None else figures(tight)
        said: float | None = round(chances.get(name, 0.0), 1) if carried else 0.0
        rows.append(
            FunctionRow(
                function=name,
                need=tidy(need, 6),
                have=tidy(have, 6),
                unit="count" if tight is None else tight.unit,
                probability=said if one.recorded else None,
                evidence=evidence[name],
                margin=None if tight is None else round(tight.have / tight.need - 1.0, 2),
                resource="" if tight is None else tight.resource,
                carried=carried,
                at_most=not one.recorded or bool(one.missing) or any(is_at_most(w) for w in way.wants),
                items=_item_rows(listed, odds, listed.plan(ask)[name]),
            )
        )
    return tuple(rows)


def _tightest(way: WayPlan) -> Want | None:
    """Return the need with the least to spare; the function's own figure where several have as little."""
    asked = [want for want in way.wants if want.need > 0]
    return min(asked, key=lambda want: (round(want.have / want.need, 6), bool(want.resource)), default=None)


def _item_rows(judge: Judge, odds: Odds, one: FunctionPlan) -> tuple[ItemRow, ...]:
    rows: dict[str, ItemRow] = {}
    for way in one.ways:
        for want in way.wants:
            supplied: dict[str, float] = {}
            basis: dict[str, str] = {}
            for row in want.supplies:
                tag = row.standing.item.tag
                supplied[tag] = supplied.get(tag, 0.0) + row.total
                basis[tag] = row.basis
            for standing in _standings(judge.means.evidenced, want):
                tag = standing.item.tag
                unit = "lb" if want.kind == "propane" else want.unit
                given = figure(supplied.get(tag, 0.0), unit)
                rows.setdefault(tag, _item_row(standing, odds, given, unit, basis.get(tag, "")))
            for lot in judge.means.evidenced.stocks.get(want.kind, ()):
                rows.setdefault(lot.lot, _lot_row(lot, judge.means.facts.at.date()))
    return tuple(rows.values())


def _lot_row(lot: Stock, on: date) -> ItemRow:
    past, state = expired(lot, on), "on hand"
    if past or lot.held:
        state = f"expired {lot.expires_on}" if past else f"withheld: {lot.held}"
    return ItemRow(
        tag=lot.lot,
        name=lot.name,
        probability=0 if past or lot.held else 100,
        mode="",
        state=state,
        evidence=stock_word((lot,)),
        capacity=0 if past or lot.held else tidy(lot.on_hand),
        unit="count",
        basis="count" if lot.counted else "register",
    )


def _item_row(standing: Standing, odds: Odds, given: float, unit: str, basis: str) -> ItemRow:
    works = 0.0 if standing.zero else 100.0 * float(odds.alive(standing).mean())
    return ItemRow(
        tag=standing.item.tag,
        name=standing.item.name,
        probability=round(works, 1),
        mode=_dominant(standing, odds),
        state=standing.zero or standing.item.state,
        evidence=standing.word,
        capacity=0 if standing.zero else given,
        unit=unit,
        basis=basis,
        not_established=standing.unsettled,
        blind_spots=standing.blind,
    )


def _dominant(standing: Standing, odds: Odds) -> str:
    """Return the open mode most likely to be there; those that remove the item before those that limit it."""
    if standing.zero:
        return ""
    likely = [(d.grade == "I", 1.0 - float(odds.absent(d).mean()), d.code) for d in standing.doubts]
    return max(likely, key=lambda row: (row[0], row[1]), default=(False, 0.0, ""))[2]


# --- the whole line ---------------------------------------------------------------------------------------------


def shared_nodes(judge: Judge, ask: Ask) -> tuple[SharedNode, ...]:
    """Return the common causes: recorded nodes, and the generator that all plugged-in items hang on."""
    evidenced = judge.means.evidenced
    named = {node.item or node.name: set(node.members) for node in judge.means.facts.nodes}
    generators = [s.item.tag for s in evidenced.by_kind.get("generator", ()) if s.counts]
    plugged = {s.item.tag for kind in PLUGGED_IN for s in evidenced.by_kind.get(kind, ()) if s.counts}
    if plugged and judge.plan(ask)["power"].recorded:
        named.setdefault(generators[0] if len(generators) == 1 else "power", set()).update(plugged)
    return tuple(SharedNode(node, tuple(sorted(tags - {node}))) for node, tags in named.items() if tags - {node})


def blind_spots(evidenced: Evidenced) -> tuple[str, ...]:
    """Return the codes of failure modes on the line that no scheduled check sees."""
    codes = {code for s in _all(evidenced) if s.item.state not in ("disposed", "absent") for code in s.blind}
    return tuple(sorted(codes))


def in_doubt(evidenced: Evidenced) -> tuple[InDoubt, ...]:
    """Return failures not yet put right, or known to have come since, with the last good proof before each.

    A date that has passed is no fault that may have been there unseen: it is told among the conditions.
    """
    return tuple(
        InDoubt(s.item.tag, row.mode.split(":", 1)[-1], row.in_doubt_since)
        for s in _all(evidenced)
        for row in s.item.modes
        if row.in_doubt_since is not None
        if row.mode.split(":", 1)[-1] not in DATED
    )


def not_established(facts: Facts, evidenced: Evidenced) -> tuple[str, ...]:
    """Return "tag code" of each condition that no check has established, and shared causes whose chance is unknown."""
    unsettled = [f"{s.item.tag or 'line'} {code}" for s in _all(evidenced) if s.counts for code in s.unsettled]
    return (*unsettled, *(f"{name}, shared" for name in unknown_causes(facts)))


def unknown_causes(facts: Facts) -> tuple[str, ...]:
    """Return the common causes whose chance is unknown: no probability, and no item aboard. They are taken as up."""
    aboard = {item.tag for item in facts.items}
    return tuple(n.name for n in facts.nodes if n.probability is None and n.item not in aboard)


def conditions(facts: Facts, evidenced: Evidenced) -> tuple[str, ...]:
    """Return the limits that travel with the line: what its items still do, and how they may be used."""
    said = []
    on = facts.at.date()
    for s in evidenced.by_tag.values():
        item = s.item
        if s.counts and item.requalify_by is not None and item.requalify_by < on:
            said.append(
                f"{item.tag} is past its requalify-by month {item.requalify_by:%Y-%m}: use until empty, do not refill"
            )
        if s.counts:
            said += _limited(facts, s)
    return tuple(said)


def _limited(facts: Facts, s: Standing) -> Iterable[str]:
    for row in s.item.modes:
        mode = facts.modes.get(row.mode)
        if mode is None or mode.grade != "C" or mode.code in DATED or row.outcome not in ("failed", "limited"):
            continue
        left = mode.limited_fraction if row.ratio is None else row.ratio
        yield f"{s.item.tag}: {mode.name[0].lower()}{mode.name[1:]} found, {100 * left:.0f} % left"


def exposure_assumed(evidenced: Evidenced) -> tuple[str, ...]:
    """Return the items whose exposure is not on record."""
    return tuple(s.item.tag for s in _all(evidenced) if s.counts and s.exposure_assumed and s.item.tag)


def _all(evidenced: Evidenced) -> list[Standing]:
    line = [] if evidenced.line is None else [evidenced.line]
    return [*evidenced.by_tag.values(), *line]
