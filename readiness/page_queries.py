"""What Tonight and Line show: the answers that stand, and the evidence behind one line."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from inspections import queries as evidence_queries
from inspections.queries import WEAKEST_FIRST, evidence_word
from inventory import queries as cache
from inventory.models import Item, ItemKind, Line
from readiness import page_words as words
from readiness.models import LineState
from readiness.page_formulas import HOW_SURE, PEOPLE_AN_HOUR, formulas_of
from readiness.page_words import Json
from readiness.rating.mission import Mission
from shared.models import Department
from shared.templatetags.holdair import listed
from shared.verification.catalogue import Formula


@dataclass(frozen=True)
class Answer:
    """One line with one rating as its page reads it; ``rating`` is None where the line was never rated."""

    line: Line
    rating: Json | None
    uses_si: bool = False
    asked: bool = False
    when: str = "tonight"
    rated_at: datetime | None = None
    stale: bool = False
    names: Mapping[str, str] = field(default_factory=dict)  # of failure modes, by code

    @property
    def level(self) -> str:
        return self.rating["word"].lower() if self.rating else "unrecorded"

    @property
    def word(self) -> str:
        if not self.rating:
            return "Not rated yet"
        # Down says which function is at zero; Limited says in what respect.
        reason = listed(self.rating.get("down")) or self.rating.get("reason")
        return f"{self.rating['word']}: {reason}" if reason else self.rating["word"]

    @cached_property
    def lead(self) -> str:
        return words.lead(self.rating, asked=self.asked, when=self.when)

    @cached_property
    def holds(self) -> str:
        return words.holds(self.rating)

    @cached_property
    def nothing(self) -> bool:
        return not self.rating or words.nothing_recorded(self.rating)

    @property
    def can(self) -> Json:
        return self.rating["can_do"]

    @property
    def people(self) -> str:
        return words.whole_people(self.can["people_per_hour"])

    @cached_property
    def sure(self) -> words.Chance:
        """Return the chance of what it can do."""
        return words.chance(self.can, at_most=bool(self.rating.get("at_most")))

    @cached_property
    def score(self) -> words.Chance:
        """Return the chance of the whole mission: of the rated one, the readiness score."""
        return words.chance(self.rating, at_most=bool(self.rating.get("at_most")))

    @property
    def does_all(self) -> bool:
        mission = self.rating["mission"]
        return self.can["people_per_hour"] >= mission["people_per_hour"] and self.can["hours"] >= mission["hours"]

    @cached_property
    def tracks(self) -> list[words.TrackRow]:
        return words.track_rows(self.rating, self.uses_si)

    @cached_property
    def functions(self) -> list[words.FunctionView]:
        return words.functions_of(self.rating, self.uses_si)

    @property
    def why_so_many(self) -> list[Formula]:
        """Return the formulas behind so many people an hour."""
        return formulas_of(PEOPLE_AN_HOUR)

    @property
    def why_so_sure(self) -> list[Formula]:
        """Return the formulas behind a chance."""
        return formulas_of(HOW_SURE)

    @property
    def first_limit(self) -> str:
        return words.first_limit(self.rating, self.uses_si)

    @property
    def next_limit(self) -> str:
        return words.next_limit(self.rating, self.uses_si)

    @property
    def remarks(self) -> list[tuple[str, str]]:
        return words.remarks(self.rating, self.names)

    @property
    def cautions(self) -> list[str]:
        return words.cautions(self.rating)

    @property
    def at_most(self) -> str:
        return words.at_most_words(self.rating)

    @property
    def mission(self) -> str:
        return words.mission_words(self.rating["mission"], self.uses_si)

    @property
    def wet(self) -> str:
        return words.wet_words(self.rating["mission"])

    @property
    def assumed(self) -> str:
        """Return what was assumed for want of a record: the rated mission, the load list, or both."""
        rated = self.rating.get("rated") or {}
        found = [name for name in ("mission", "load list") if rated.get(f"{name.replace(' ', '_')}_assumed")]
        return " and ".join("rated mission" if name == "mission" else name for name in found)

    @property
    def limits(self) -> list[tuple[str, str, Json]]:
        """Return (name, have of need, the limit) in the order they bite."""
        rows = words.own_limits(self.rating)
        return [(words.capital(words.limit_name(r)), words.have_of_need(r, self.uses_si), r) for r in rows]


def standing_answers(lines: Iterable[Line], uses_si: bool, names: Mapping[str, str]) -> list[Answer]:
    """Return for each line the rating that stands, in the lines' order; reads nothing beyond ``lines_of``."""
    return [standing_answer(line, uses_si, names) for line in lines]


def standing_answer(line: Line, uses_si: bool, names: Mapping[str, str] | None = None) -> Answer:
    # A reverse one-to-one that is absent raises; a line that was only just imported has no state yet.
    state: LineState | None = getattr(line, "state", None)
    row = state.newest if state else None
    if row is None:
        return Answer(line, None, uses_si, stale=True)
    return Answer(line, row.rating, uses_si, rated_at=row.at, stale=bool(state.stale_since), names=names or {})


def best_first(answers: Iterable[Answer]) -> list[Answer]:
    """Return answers by what each can do: people an hour, then for how long, then how sure.

    What is not recorded is never a merit: a line whose water is unknown comes after any whose water is known, and one
    of which nothing is known comes last.
    """

    def worth(answer: Answer) -> tuple[float, ...]:
        if answer.nothing:
            return (-len(words.FUNCTIONS), 0.0, 0.0, 0.0)
        can = answer.can
        return (-words.unknown_vitals(answer.rating), can["people_per_hour"], can["hours"], can["probability"])

    return sorted(answers, key=worth, reverse=True)


def base_mission(answers: Iterable[Answer]) -> Mapping[str, object]:
    """Return the mission that an ask starts from: the first that a line is rated for, else the defaults."""
    return next((dict(a.rating["mission"]) for a in answers if a.rating), Mission().as_json())


# The evidence of one line ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ModeRow:
    """What is known of one failure mode of one item."""

    code: str
    name: str
    word: str
    proven_at: datetime | None
    stale_at: datetime | None
    last_at: datetime | None
    inspection: str
    blind: bool


@dataclass(frozen=True)
class ItemEvidence:
    """One item with what is known of each of its failure modes, weakest first."""

    item: Item
    state: str
    modes: list[ModeRow]

    @property
    def summary(self) -> str:
        tally: dict[str, int] = {}
        for mode in self.modes:
            tally[mode.word] = tally.get(mode.word, 0) + 1
        return ", ".join(f"{number} {word}" for word, number in tally.items()) or "no failure modes listed"

    @property
    def readings(self) -> str:
        return f"All readings of {self.item.tag}"

    @property
    def next_stale(self) -> datetime | None:
        return min((m.stale_at for m in self.modes if m.stale_at and m.word == "proven"), default=None)


@dataclass(frozen=True)
class FunctionEvidence:
    """The items that serve one function, with their evidence; the last group serves none by itself."""

    name: str
    items: list[ItemEvidence]

    @property
    def tags(self) -> str:
        return words.some([row.item.tag for row in self.items], most=5)

    @property
    def word(self) -> str:
        """Return the weakest evidence among the items that stand."""
        found = [mode.word for row in self.items if row.state == "in service" for mode in row.modes]
        return min(found, key=WEAKEST_FIRST.index, default="")

    @property
    def next_stale(self) -> datetime | None:
        return min((row.next_stale for row in self.items if row.next_stale), default=None)


def evidence_of(line: Line, at: datetime, known_at: datetime) -> list[FunctionEvidence]:
    """Return the items standing on a line with the evidence of each mode, as of an instant, in chain order."""
    standing = cache.standing(line, at, known_at)
    items = [s.item for s in standing.items]
    found = evidence_queries.evidence(items, at, known_at)
    modes = cache.modes_for(line.department, at.date())
    rows = [
        ItemEvidence(s.item, s.state, _mode_rows(s.item, found.get(s.item.pk, {}), modes, at)) for s in standing.items
    ]
    groups: dict[str, list[ItemEvidence]] = {name: [] for name in (*words.FUNCTIONS, "other")}
    for row in rows:
        groups[row.item.kind.function if row.item.kind.function in groups else "other"].append(row)
    return [FunctionEvidence(name, found) for name, found in groups.items() if found]


def _mode_rows(item: Item, found: Mapping[str, object], modes: Mapping[str, object], at: datetime) -> list[ModeRow]:
    seen = item.kind.scheduled_modes
    rows = []
    for code in item.kind.mode_codes:
        known = found.get(code)
        rows.append(
            ModeRow(
                code=code,
                name=modes[code].name if code in modes else "",
                word=evidence_word(known, at),
                proven_at=getattr(known, "proven_at", None),
                stale_at=getattr(known, "stale_at", None),
                last_at=getattr(known, "last_at", None),
                inspection=getattr(known, "inspection", ""),
                blind=code not in seen,
            )
        )
    return sorted(rows, key=lambda row: WEAKEST_FIRST.index(row.word))


def item_links(department: Department, rating: Json) -> dict[str, int]:
    """Return by tag the items that a rating names, for links into the Bay."""
    tags = {i["tag"] for f in rating.get("functions") or () for i in f.get("items") or ()}
    tags |= set(rating.get("single_points") or ())
    return dict(Item.objects.filter(department=department, tag__in=tags).values_list("tag", "pk"))


def mode_names(department: Department, at: datetime) -> dict[str, str]:
    return {code: row.name for code, row in cache.modes_for(department, at.date()).items()}


def not_established(rating: Json, names: Mapping[str, str]) -> list[tuple[str, str, list[str]]]:
    """Return (code, name, tags of items) for each condition that no check has settled, most items first."""
    items: dict[str, list[str]] = {}
    for entry in rating.get("not_established") or ():
        tag, code = entry.rsplit(" ", 1)
        items.setdefault(code, []).append(tag)
    rows = [(code, names.get(code, ""), tags) for code, tags in items.items()]
    return sorted(rows, key=lambda row: -len(row[2]))


def blind_spots(
    rating: Json, names: Mapping[str, str], evidence: Iterable[FunctionEvidence] = ()
) -> list[tuple[str, str, list[ItemKind]]]:
    """Return (code as the rating gives it, name of the mode, kinds on the line) for what no scheduled check can see."""
    kinds: dict[str, dict[str, ItemKind]] = {}
    for row in (row for function in evidence for row in function.items):
        for mode in (mode for mode in row.modes if mode.blind and row.state not in ("disposed", "absent")):
            kinds.setdefault(mode.code, {})[row.item.kind.key] = row.item.kind
    return [
        (spot, names.get(code, ""), list(kinds.get(code, {}).values()))
        for spot in rating.get("blind_spots") or ()
        for code in [words.mode_code(spot)]
    ]


def single_points(rating: Json) -> list[tuple[str, str]]:
    """Return (tag, name) of every item whose loss alone stops the mission."""
    names = {i["tag"]: i.get("name", "") for f in rating.get("functions") or () for i in f.get("items") or ()}
    return [(tag, names.get(tag, "")) for tag in rating.get("single_points") or ()]


def risks_by_line(
    department: Department, at: datetime, known_at: datetime | None = None
) -> dict[int, list[evidence_queries.RiskAccepted]]:
    """Return by line the risks somebody accepted of what stands on it; they change no number."""
    risks = evidence_queries.accepted_risks(department, at, known_at)
    items = {risk.deficiency.item_id: risk.deficiency.item for risk in risks}
    for item in items.values():
        item.department = department
    standings = cache.standing_of_items(list(items.values()), at, known_at or at)
    found: dict[int, list[evidence_queries.RiskAccepted]] = {}
    for risk in risks:
        standing = standings.get(risk.deficiency.item_id)
        if standing and standing.line:
            found.setdefault(standing.line.pk, []).append(risk)
    return found
