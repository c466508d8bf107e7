"""What the pages of the catalogue show: procedures as a phone shows them, limits, intervals, kinds and blind spots."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from inspections import schedule
from inspections.models import Inspection, Procedure
from inspections.page_limits import LIMIT_OF, capital, in_words, limit_beside, origin_of, own_bounds
from inspections.page_queries import procedures
from inspections.queries.ledgers import Rules
from inspections.queries.stores import Store, propane_stores
from inspections.services.procedures import shipped
from inspections.verdicts import JUDGES
from inventory.models import FailureMode, Interval, ItemKind, Limit
from inventory.queries import in_force, kinds_for, limits_for, modes_for
from inventory.services.catalogue import shipped_kinds, shipped_rows
from shared.models import Department
from shared.templatetags.holdair import in_sentence
from shared.units import SIGNS

EVENT_WORDS: Final = {"U": "after use", "B": "before deployment"}
VERDICTS: Final = ("pass", "pass with limits", "fail", "void")
# Limits that no single reading is held against: what works them out instead.
WORKED_ELSEWHERE: Final[Mapping[str, str]] = {
    "hold_loss_24h": "the hold test, where it was held a day",
    "hold_resolution": "every reading of a meter whose smallest step is on record",
    "head_temp_least": "the plan of a mission: colder than this it says dry methods first",
    "propane_rate": "the propane weigh with a draw given, and every rating for the mission asked",
    "cylinder_date": "the stamps of cylinders, at their check and in every rating",
    "generator_load_diesel": "the loaded run of a diesel set, from its plate",
    "fuel_age_gasoline": "the loaded run, from the date of the fuel",
    "fuel_age_diesel": "the loaded run, from the date of the fuel",
    "battery_flooded": "the battery check of a flooded battery",
    "drained": "every check that ends with draining, by the cold season of the department",
    "gfci": "the test of a GFCI: it trips and resets, or it does not",
    "propane_indoors": "the sum of each room below, and the propane weigh of a cylinder that stands indoors",
    "inventory_age": "the physical inventory of the record file",
}


# Procedures ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ReadInput:
    """One reading as a phone shows it, with the limit beside it."""

    label: str
    sort: str
    unit: str
    help: str
    limit: str
    required: bool
    choices: Sequence[str]
    range: str
    own: bool


@dataclass(frozen=True)
class ReadStep:
    text: str
    caution: str
    inputs: list[ReadInput]


@dataclass(frozen=True)
class ProcedureView:
    """One version of a procedure, and the versions beside it."""

    procedure: Procedure
    steps: list[ReadStep]
    versions: list[Procedure]
    in_force: Procedure
    kinds: list[ItemKind]
    records: int
    never: list[tuple[str, str]]
    wants: list[str]

    @property
    def is_own(self) -> bool:
        return bool(self.procedure.definition.get("own"))

    @property
    def newest(self) -> Procedure:
        return self.versions[0]


SORTS: Final = {"yes_no": "yes or no", "choice": "one of", "integer": "a whole number", "number": "a number"}


def procedure_rows(department: Department, on: date) -> list[tuple[Procedure, Procedure | None, int]]:
    """Return each check: its version in force, one that is still to come, and how many kinds have it."""
    now = procedures(department, on)
    newest: dict[str, Procedure] = {}
    for row in Procedure.objects.filter(department=department).order_by("version"):
        newest[row.check_key] = row
    having: dict[str, int] = defaultdict(int)
    for kind in ItemKind.objects.filter(department=department):
        for key in kind.checks:
            having[key] += 1
    rows = sorted(now.values(), key=lambda row: row.name.casefold())
    return [
        (row, newest[row.check_key] if newest[row.check_key].pk != row.pk else None, having[row.check_key])
        for row in rows
    ]


def procedure_view(
    department: Department, check_key: str, on: date, version: int | None = None
) -> ProcedureView | None:
    """Return one version of a check, the one in force where none is named; None where there is no such."""
    versions = list(Procedure.objects.filter(department=department, check_key=check_key).order_by("-version"))
    if not versions:
        return None
    standing = next((row for row in versions if row.effective_on <= on), versions[-1])
    shown = next((row for row in versions if row.version == version), None) if version else standing
    if shown is None:
        return None
    told = shown.definition
    asked = {one["key"]: one for one in told["inputs"]}
    limits = limits_for(department, None, on)
    return ProcedureView(
        procedure=shown,
        steps=_read_steps(shown, limits),
        versions=versions,
        in_force=standing,
        kinds=[kind for kind in ItemKind.objects.filter(department=department) if check_key in kind.checks],
        records=Inspection.objects.filter(procedure=shown).count(),
        never=list(told.get("never", {}).items()),
        wants=[asked[key]["label"] for key in told.get("needs_one_of") or () if key in asked],
    )


def _read_steps(procedure: Procedure, limits: Mapping[str, Limit]) -> list[ReadStep]:
    told = procedure.definition
    asked = {one["key"]: one for one in told["inputs"]}
    named = {key for step in told["steps"] for key in step["inputs"]}
    steps = [
        ReadStep(
            step["text"],
            step.get("caution", ""),
            [_read_input(procedure.check_key, asked[key], limits) for key in step["inputs"] if key in asked],
        )
        for step in told["steps"]
    ]
    left = [_read_input(procedure.check_key, one, limits) for key, one in asked.items() if key not in named]
    return [*steps, ReadStep("Whatever else was read.", "", left)] if left else steps


def _read_input(check_key: str, asked: Mapping[str, Any], limits: Mapping[str, Limit]) -> ReadInput:
    least, most = asked.get("least"), asked.get("most")
    plain = asked["type"] in ("number", "integer") and not asked.get("own")
    return ReadInput(
        label=asked["label"],
        sort=SORTS.get(asked["type"], "words" if asked["type"] == "text" else f"a {asked['type']}"),
        unit=SIGNS.get(asked.get("unit", ""), asked.get("unit", "")),
        help=asked.get("help", ""),
        limit=own_bounds(asked) or limit_beside(check_key, asked["key"], limits, {}),
        required=bool(asked.get("required")),
        choices=asked.get("choices", ()),
        range=f"refused outside {least:g} to {most:g}" if plain and least is not None and most is not None else "",
        own=bool(asked.get("own")),
    )


# Limits --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LimitRow:
    """One limit as it stands, and the kinds that have a figure of their own."""

    limit: Limit
    kinds: list[tuple[ItemKind, str]]
    used_by: str

    @property
    def words(self) -> str:
        return capital(in_words(self.limit)) or "no number"

    @property
    def origin(self) -> str:
        return origin_of(self.limit)


def limits_by_check(department: Department, on: date) -> list[tuple[str, list[LimitRow]]]:
    """Return every limit in force by the check it belongs to, with the figures of single kinds beside it."""
    rows = list(Limit.objects.filter(department=department).select_related("kind"))
    general = in_force((r for r in rows if r.kind_id is None), on, lambda r: r.key)
    special = in_force((r for r in rows if r.kind_id and r.effective_on <= on), on, lambda r: (r.key, r.kind_id))
    used = limit_uses()
    groups: dict[str, list[LimitRow]] = defaultdict(list)
    for key, row in sorted(general.items(), key=lambda pair: pair[1].pk):
        of_kinds = sorted((r for (k, _), r in special.items() if k == key), key=lambda r: r.kind.name)
        told = [(r.kind, f"{capital(in_words(r))}. {capital(origin_of(r))}") for r in of_kinds]
        groups[row.check_name].append(LimitRow(row, told, used.get(key, "")))
    return list(groups.items())


def limit_uses() -> dict[str, str]:
    """Return by limit key what holds something against it, in words."""
    names = {row["key"]: in_sentence(row["name"]) for row in shipped()["procedures"]}
    labels: dict[str, list[str]] = defaultdict(list)
    for (check_key, _), key in LIMIT_OF.items():
        labels[key] += [] if names[check_key] in labels[key] else [names[check_key]]
    return {key: ", ".join(told) for key, told in labels.items()} | dict(WORKED_ELSEWHERE)


def limit_history(department: Department, key: str) -> list[Limit]:
    """Return every row of one limit, newest first, those of kinds among them."""
    rows = Limit.objects.filter(department=department, key=key).select_related("kind")
    return list(rows.order_by("-effective_on", "-pk"))


def stores(department: Department, at: datetime, on: date) -> list[tuple[Store, bool, float | None]]:
    """Return the propane of each place, whether it is over what the law allows a room, and that figure."""
    limit = limits_for(department, None, on).get("propane_indoors")
    most = limit.pass_high if limit else None
    found = propane_stores(department, at)
    return [(s, not s.is_outdoors and most is not None and s.nominal_lb > most, most) for s in found]


# Intervals -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class IntervalRow:
    """How often one failure mode is proven, on every kind or on one, and what else was said of it."""

    mode: FailureMode
    kind: ItemKind | None
    rule: schedule.Rule
    beside: list[Interval]

    @property
    def words(self) -> str:
        parts = [months(self.rule.months)] if self.rule.months else []
        parts += [EVENT_WORDS[letter] for letter in sorted(self.rule.events, reverse=True)]
        return ", ".join(parts) or "by no date: what its check shows stands until something changes it"

    @property
    def origin(self) -> str:
        if self.rule.origin == "modes":
            return "failure modes of the trade" if self.rule.months or self.rule.events else ""
        own = "the department's own decision" if self.rule.origin == "own" else self.rule.origin
        return f"{own}, {self.rule.source}" if self.rule.source else own


def months(count: int | None) -> str:
    """Return an interval as people say it."""
    named = {1: "every month", 3: "every quarter", 6: "twice a year", 12: "once a year"}
    return named.get(count or 0, f"every {count} months")


def interval_rows(department: Department, on: date, *, of_kinds: bool = False) -> list[IntervalRow]:
    """Return one row for each mode, and one for each kind that goes by another (``of_kinds``: that has its own)."""
    rules = Rules(department, on)
    rows = Interval.objects.filter(department=department).select_related("kind").order_by("-effective_on", "pk")
    said: dict[tuple[str, str], list[Interval]] = defaultdict(list)
    for row in rows:
        said[row.mode_code, row.kind.key if row.kind else ""].append(row)
    kinds = kinds_for(department)
    found = []
    for code, mode in sorted(rules.modes.items()):
        general = IntervalRow(mode, None, rules.rule("", code), said.get((code, ""), []))
        found.append(general)
        own = [
            IntervalRow(mode, kinds[key], rules.rule(key, code), said[code, key])
            for c, key in said
            if c == code and key
        ]
        # A kind whose own row changes nothing is shown on the mode's page, not in the list of all.
        found += [row for row in own if of_kinds or row.rule != general.rule]
    return found


@dataclass(frozen=True)
class StandardRule:
    """One rule that Holdair ships with, where it comes from, and what holds it."""

    subject: str
    check: str
    interval: str
    pass_value: str
    origin: str
    source: str
    held_by: list[str]


def standard_rules() -> list[StandardRule]:
    """Return the rules that ship, in the order of the catalogue."""
    return [
        StandardRule(**{k: v for k, v in row.items() if k != "held_by"}, held_by=_holders(row["held_by"]))
        for row in shipped_rows("rules.csv")
    ]


def _holders(text: str) -> list[str]:
    if text.startswith("elsewhere: "):
        return [text.removeprefix("elsewhere: ")]
    words = {
        "mode": "failure mode",
        "limit": "limit",
        "check": "check",
        "interval": "interval of",
        "instrument": "meters of",
    }
    words["mission"] = "worked out for the mission asked"
    told: dict[str, list[str]] = defaultdict(list)
    for token in text.split():
        sort, _, name = token.partition(":")
        told[sort].append(name.replace(":", " ").replace("_", " "))
    # "carbon monoxide" has a space of its own: what has no sort belongs to the word before it
    return [f"{words.get(sort, sort)} {', '.join(names)}".strip() for sort, names in told.items()]


# Kinds and blind spots -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class KindRow:
    """One kind: what checks it, and what none of them can see."""

    kind: ItemKind
    checks: list[tuple[str, str, list[str]]]  # key, name, modes it can see
    blind: list[tuple[str, str, str]]  # code, name, why nothing sees it


def kind_row(kind: ItemKind, modes: Mapping[str, FailureMode], named: Mapping[str, Procedure]) -> KindRow:
    """Return what checks one kind and what stays unseen."""
    checks = [
        (key, named[key].name if key in named else key.replace("_", " "), [_named(code, modes) for code in codes])
        for key, codes in kind.checks.items()
    ]
    seen = kind.scheduled_modes
    blind = [
        (code, modes[code].name if code in modes else "", blind_reason(kind.key, code))
        for code in kind.mode_codes
        if code not in seen
    ]
    return KindRow(kind, checks, blind)


def _named(code: str, modes: Mapping[str, FailureMode]) -> str:
    return f"{code} {modes[code].name}" if code in modes else code


def kind_rows(department: Department, on: date) -> list[KindRow]:
    """Return every kind of a department, by name."""
    modes, named = modes_for(department, on), procedures(department, on)
    return [kind_row(kind, modes, named) for kind in ItemKind.objects.filter(department=department)]


def blind_reason(kind_key: str, code: str) -> str:
    """Return why the catalogue leaves a mode of a kind unseen; the department's own blind spots give theirs."""
    shipped = next((row for row in shipped_kinds() if row["key"] == kind_key), {})
    return str(shipped.get("blind", {}).get(code, "")) or "no check of this kind is tied to it"


def unseen_modes(rows: Iterable[KindRow]) -> set[str]:
    """Return the modes that no scheduled check sees on any kind."""
    rows = list(rows)
    every = {code for row in rows for code in row.kind.mode_codes}
    return every - {code for row in rows for code in row.kind.scheduled_modes}


def is_ours(check_key: str) -> bool:
    """Return whether a check is judged by code of ours, not by a department's own bounds."""
    return check_key in JUDGES
