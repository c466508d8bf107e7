"""What the evidence makes of each item: whether it counts, what limits it, what may be wrong, how far to trust it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Final

from readiness.rating.facts import Evidence, Facts, Item, Mode, ModeEvidence, Stock
from readiness.rating.words import EVIDENCE_ORDER
from shared.formulas.dates import add_months

YEARS_UNKNOWN: Final = 5.0  # exposure where nothing at all is dated; common practice, named in the answer
DAYS_A_YEAR: Final = 365.25

# The rating works these out itself from mission, contents and dates, so no check is ever asked for them.
COMPUTED: Final = frozenset({"BL5", "LP4"})
# Lapsed requalification stops the next fill, not this use (49 CFR 180.205(c)): told as a condition, never a capacity.
DATED: Final = frozenset({"LP2", "AC2"})
# Contents that are weighed or read are in the figures already: mode -> the reading that settles it.
SETTLED_BY_READING: Final = {"LP1": "propane_kg", "AC1": "air_pressure_pa"}
# What a count finds short is in the row's quantity already; GR1 with a share left is such a shortage.
SETTLED_BY_COUNT: Final = frozenset({"TD1", "CS1", "GR1"})

# limits.csv, generator run: age over which fuel fails. [calendar months]
FUEL_FAILS_MONTHS: Final = {"gasoline": 12, "diesel": 18}


@dataclass(frozen=True, slots=True)
class Doubt:
    """A failure mode that may be there unseen: absent with (1 - q) exp(-rate x exposure)."""

    mode: str
    code: str
    grade: str
    exposure_years: float
    fraction: float  # of capacity that is left where it is there; grade C
    limits: str  # the resource it scales; grade C


@dataclass(frozen=True, slots=True)
class KnownLimit:
    """A grade-C mode that the last proof found: capacity is scaled for certain."""

    code: str
    limits: str
    ratio: float
    inspection: str


@dataclass(frozen=True, eq=False, slots=True)
class Standing:
    """One item as the evidence leaves it.

    Attributes:
        zero: why it counts nothing, "" where it counts.
        known: limits found by proofs.
        doubts: grade-I and grade-C modes that may be there unseen.
        unsettled: codes of condition modes that no check has established, or that were reopened since.
        word: how far its grade-I evidence may be trusted.
        whole: its grade-I modes that some scheduled check sees are all proven and fresh, its contents were read.
        seen: some scheduled check can see some grade-I mode of it.
        blind: codes of its modes that no scheduled check sees.
        exposure_assumed: some exposure is not on record.
        behind: the newest proof on it.
    """

    item: Item
    zero: str
    known: tuple[KnownLimit, ...]
    doubts: tuple[Doubt, ...]
    unsettled: tuple[str, ...]
    word: Evidence
    whole: bool
    seen: bool
    blind: tuple[str, ...]
    exposure_assumed: bool
    behind: ModeEvidence | None

    @property
    def counts(self) -> bool:
        """Whether it counts at all."""
        return not self.zero and not self.item.withheld


@dataclass(frozen=True, slots=True)
class Evidenced:
    """All standings of a line, by tag and by kind in the order of the register; the line's own modes under ""."""

    by_tag: Mapping[str, Standing]
    by_kind: Mapping[str, tuple[Standing, ...]]
    stocks: Mapping[str, tuple[Stock, ...]]
    line: Standing | None
    kinds_recorded: frozenset[str] = field(default_factory=frozenset)


def weigh(facts: Facts) -> Evidenced:
    """Return what the evidence makes of every item of the line."""
    unknown_years = _oldest_years(facts)
    modes_of: dict[str, list[str]] = {}
    for key in sorted(facts.modes):
        modes_of.setdefault(key.split(":", 1)[0], []).append(key)
    standings = [standing(item, facts, modes_of.get(item.kind, []), unknown_years) for item in facts.items]
    standings = _without_their_nodes(standings, facts)
    by_kind: dict[str, list[Standing]] = {}
    for one in standings:
        by_kind.setdefault(one.item.kind, []).append(one)
    stocks: dict[str, list[Stock]] = {}
    for lot in facts.stocks:
        stocks.setdefault(lot.kind, []).append(lot)
    return Evidenced(
        by_tag={one.item.tag: one for one in standings},
        by_kind={kind: tuple(rows) for kind, rows in by_kind.items()},
        stocks={kind: tuple(lots) for kind, lots in stocks.items()},
        line=_line_standing(facts, modes_of.get("line", []), unknown_years),
        kinds_recorded=frozenset(by_kind) | frozenset(stocks),
    )


def standing(item: Item, facts: Facts, mode_keys: list[str], unknown_years: float) -> Standing:
    """Return one item as the evidence leaves it.

    A mode of its kind without a record of its own has been open since the item came.
    """
    rows = {row.mode: row for row in item.modes}
    fallback = _years_since(item.accepted_on, facts.at.date())
    evidence = [
        (facts.modes[key], rows.get(key) or ModeEvidence(mode=key, exposure_years=fallback))
        for key in dict.fromkeys([*(k for k in mode_keys), *(k for k in rows if k in facts.modes)])
    ]
    years = unknown_years if fallback is None else fallback
    doubts, known, unsettled, assumed = [], [], [], False
    for mode, row in evidence:
        if mode.grade == "N" or mode.code in COMPUTED or mode.code in DATED:
            continue
        if _found(row):
            if mode.grade == "C" and not _in_figures(mode, row, item):
                known.append(KnownLimit(mode.code, mode.limits, _ratio(mode, row), row.inspection))
            elif mode.code in SETTLED_BY_READING and row.reopened:
                unsettled.append(mode.code)
        elif mode.cls == "condition":
            if not _established(row) and not _settled(mode, row, item):
                unsettled.append(mode.code)
        else:
            assumed = assumed or row.exposure_years is None
            exposure = years if row.exposure_years is None else row.exposure_years
            doubts.append(Doubt(row.mode, mode.code, mode.grade, exposure, mode.limited_fraction, mode.limits))
    word, whole, seen = _trust(item, evidence, facts)
    if unsettled:
        word = worst([word, "claimed"])
    # Contents that nobody has read since they last changed are a stock that nobody counted.
    whole = whole and SETTLED_BY_READING.keys().isdisjoint(unsettled)
    return Standing(
        item=item,
        zero=_why_zero(item, evidence, facts.at.date()),
        known=tuple(known),
        doubts=tuple(doubts),
        unsettled=tuple(unsettled),
        word=word,
        whole=whole,
        seen=seen,
        blind=tuple(m.code for m, _ in evidence if not m.scheduled and m.code not in COMPUTED),
        exposure_assumed=assumed,
        behind=_newest(row for _, row in evidence),
    )


def expired(lot: Stock, on: date) -> bool:
    """Return whether a lot has come to its date: what expires today is not to be relied on for tonight."""
    return lot.expires_on is not None and lot.expires_on <= on


def stock_word(lots: tuple[Stock, ...]) -> Evidence:
    """Return how far a counted stock may be trusted: proven by a fresh count, claimed from the register alone."""
    words: list[Evidence] = ["claimed" if not lot.counted else "stale" if lot.stale else "proven" for lot in lots]
    return worst(words)


def worst(words: list[Evidence]) -> Evidence:
    """Return the least trustworthy of several; proven where there are none."""
    return max(words, key=EVIDENCE_ORDER.index, default="proven")


def fuel_lapsed_on(item: Item) -> date | None:
    """Return the first day on which dated fuel no longer counts; None where it bears no date."""
    made = item.measured.get("fuel_made_on")
    if made is None:
        return None
    months = FUEL_FAILS_MONTHS.get(str(item.spec.get("fuel") or "gasoline").lower(), FUEL_FAILS_MONTHS["gasoline"])
    return add_months(date.fromordinal(int(made.value)), months) + timedelta(days=1)


def _found(row: ModeEvidence) -> bool:
    return row.outcome in ("failed", "limited")


def _established(row: ModeEvidence) -> bool:
    return row.outcome == "proven" and not row.reopened


def _ratio(mode: Mode, row: ModeEvidence) -> float:
    return mode.limited_fraction if row.ratio is None else max(0.0, min(1.0, row.ratio))


def _settled(mode: Mode, row: ModeEvidence, item: Item) -> bool:
    """Whether a reading or a date in the figures already says what this condition would.

    Contents that were used or filled since they were read are no longer what was read.
    """
    if mode.code in SETTLED_BY_READING:
        return SETTLED_BY_READING[mode.code] in item.measured and not row.reopened
    return mode.code == "AC3" and item.remove_by is not None


def _in_figures(mode: Mode, row: ModeEvidence, item: Item) -> bool:
    """Whether a limit that was found is in the item's reading or its counted quantity already."""
    if mode.code in SETTLED_BY_READING:
        return SETTLED_BY_READING[mode.code] in item.measured
    return mode.code in SETTLED_BY_COUNT and row.ratio is not None


def _why_zero(item: Item, evidence: list[tuple[Mode, ModeEvidence]], on: date) -> str:
    if item.state != "in service":
        return item.state
    if item.quantity <= 0:
        return "absent"
    if item.remove_by is not None and item.remove_by < on:
        return f"past its life, {item.remove_by:%Y-%m}"
    lapsed = fuel_lapsed_on(item)
    if lapsed is not None and lapsed <= on:
        return "fuel too old"
    failed = [m.code for m, row in evidence if m.grade == "I" and _found(row)]
    return f"{failed[0]} found" if failed else ""


def _trust(item: Item, evidence: list[tuple[Mode, ModeEvidence]], facts: Facts) -> tuple[Evidence, bool, bool]:
    """Return (word, counts for Whole, some scheduled check sees some grade-I mode of it).

    An item that no scheduled check can see into rests on what was counted or looked at, and its blind spots are
    printed: it neither earns nor bars Whole.
    """
    visible = [(m, row) for m, row in evidence if m.scheduled and m.code not in COMPUTED | DATED]
    decisive = [(m, row) for m, row in visible if m.grade == "I" and not _settled(m, row, item)]
    seen = bool(decisive)
    rows = decisive or [(m, row) for m, row in visible if m.grade == "C" and not _settled(m, row, item)]
    words = [_mode_word(row, facts) for _, row in rows]
    word = worst(words) if words else ("claimed" if item.claimed else "proven")
    if item.awaiting_second_name:
        word = worst([word, "claimed"])
    return word, (word == "proven" if seen else not item.awaiting_second_name), seen


def _mode_word(row: ModeEvidence, facts: Facts) -> Evidence:
    # A proof that a later failure is known to have overtaken is in doubt as well, however fresh it was believed.
    if row.outcome == "failed" or row.in_doubt_since is not None:
        return "in doubt"
    if row.outcome in ("none", "claimed") or row.reopened:
        return "claimed"
    return "stale" if row.stale_at is not None and row.stale_at <= facts.at else "proven"


def _newest(rows: Iterable[ModeEvidence]) -> ModeEvidence | None:
    newest = None
    for row in rows:
        if row.proven_at is not None and (
            newest is None or newest.proven_at is None or row.proven_at > newest.proven_at
        ):
            newest = row
    return newest


def _line_standing(facts: Facts, mode_keys: list[str], unknown_years: float) -> Standing | None:
    if not mode_keys and not facts.line_modes:
        return None
    whole_line = Item(
        tag="",
        name=facts.line,
        kind="line",
        quantity=1,
        state="in service",
        modes=tuple(row for row in facts.line_modes if row.mode in facts.modes),
    )
    return standing(whole_line, facts, mode_keys, unknown_years)


def _without_their_nodes(standings: list[Standing], facts: Facts) -> list[Standing]:
    """Count nothing for items that hang on an item that itself counts nothing, however long the chain."""
    while (out := _without_direct_nodes(standings, facts)) != standings:
        standings = out
    return out


def _without_direct_nodes(standings: list[Standing], facts: Facts) -> list[Standing]:
    zero = {one.item.tag for one in standings if not one.counts}
    withheld = {one.item.tag for one in standings if one.item.withheld}
    down = {node.name: node.item for node in facts.nodes if node.item in zero}
    down_for = {tag: item for node in facts.nodes if (item := down.get(node.name)) for tag in node.members}
    out = []
    for one in standings:
        gone = next((down[name] for name in one.item.hangs_on if name in down), down_for.get(one.item.tag))
        if gone and one.counts and gone != one.item.tag:
            # What hangs on a thing withheld is withheld with it: to name the one would name the other.
            hidden = replace(one, item=replace(one.item, withheld=True))
            one = hidden if gone in withheld else replace(one, zero=f"hangs on {gone}")
        out.append(one)
    return out


def _oldest_years(facts: Facts) -> float:
    """Years for an exposure that nothing dates: as long as anything of the line has been in service."""
    years = [_years_since(item.accepted_on, facts.at.date()) for item in facts.items]
    return max((y for y in years if y is not None), default=YEARS_UNKNOWN)


def _years_since(day: date | None, on: date) -> float | None:
    return None if day is None else max(0.0, (on - day).days / DAYS_A_YEAR)
