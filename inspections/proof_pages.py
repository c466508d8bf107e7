"""What the Proof book shows: every record, the stretches in doubt, and what is proven of every item and line."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import reduce
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, QuerySet

from inspections import queries
from inspections.models import Inspection
from inspections.page_queries import check_name, procedures
from inspections.queries import EvidenceOfMode, QualityFlag, evidence_word
from inventory import queries as cache
from inventory.models import FailureMode, ImportRun, Item, Line, Place
from inventory.queries import ItemStanding
from shared.models import ChainLink, Department

DECIDING: Final = ("fail", "void", "pass with limits")
NOT_COUNTED: Final = frozenset({"disposed"})


@dataclass(frozen=True)
class Asked:
    """What the list of records was asked for; empty words ask for all."""

    words: str = ""
    check: str = ""
    item: str = ""
    line: int | None = None
    place: int | None = None
    person: str = ""
    verdict: str = ""
    since: date | None = None
    until: date | None = None

    @property
    def is_any(self) -> bool:
        return self != Asked()


def records(department: Department, asked: Asked, at: datetime) -> QuerySet[Inspection]:
    """Return the records asked for, newest first, each with ``is_corrected``."""
    rows = Inspection.objects.filter(department=department)
    zone = ZoneInfo(department.time_zone)
    if asked.words:
        rows = rows.filter(reduce(Q.__and__, (_said(word) for word in asked.words.split()), Q()))
    if asked.check:
        rows = rows.filter(check_key=asked.check)
    if asked.verdict:
        rows = rows.filter(verdict=asked.verdict)
    if asked.person:
        rows = rows.filter(by_name__icontains=asked.person)
    if asked.item:
        rows = rows.filter(Q(item__tag__iexact=asked.item) | Q(lot__number__iexact=asked.item))
    if asked.since:
        rows = rows.filter(happened_at__gte=datetime.combine(asked.since, time.min, tzinfo=zone))
    if asked.until:
        rows = rows.filter(happened_at__lt=datetime.combine(asked.until + timedelta(days=1), time.min, tzinfo=zone))
    if asked.line or asked.place:
        rows = rows.filter(_where(department, asked, at))
    newer = Inspection.objects.filter(corrects=OuterRef("pk"))
    rows = rows.select_related("procedure", "item", "lot__kind", "line", "walk").defer(
        "measured", "procedure__definition"
    )
    return rows.annotate(is_corrected=Exists(newer)).order_by("-happened_at", "-pk")


def _said(word: str) -> Q:
    fields = ("summary", "remark", "by_name", "item__tag", "item__name", "lot__name", "check_key", "procedure__name")
    return reduce(Q.__or__, (Q(**{f"{name}__icontains": word}) for name in fields))


def _where(department: Department, asked: Asked, at: datetime) -> Q:
    """Return what keeps records of the things that stand now where the reader asks."""
    whole = cache.standing_of_department(department, at, at)
    fits = [
        s
        for s in whole.items
        if (asked.line is None or (s.line and s.line.pk == asked.line))
        and (asked.place is None or (s.place and asked.place in (s.place.pk, s.place.within_id)))
    ]
    found = Q(item__in=[s.item.pk for s in fits])
    return found | Q(line=asked.line) if asked.line and asked.place is None else found


@dataclass(frozen=True)
class RecordShown:
    """One record as the Proof book lists it."""

    row: Inspection
    decided: str
    remarks: list[str]

    @property
    def check(self) -> str:
        return check_name(self.row.procedure, self.row.check_key)


def shown(rows: Sequence[Inspection]) -> list[RecordShown]:
    """Return one page of records with the number that decided each, and how well it was read."""
    flags = queries.quality_of_each(rows)
    return [RecordShown(row, _decided(row), _remarks(row, flags[row.pk])) for row in rows]


def _decided(row: Inspection) -> str:
    """Return the finding that the verdict rests on, with the limit it was held against."""
    findings = [found for found in row.findings if found.get("outcome") in DECIDING]
    if not findings:
        return row.summary
    gravest = min(findings, key=lambda found: DECIDING.index(found["outcome"]))
    limit = gravest.get("limit_text")
    return f"{gravest['text']} Limit: {limit}." if limit else gravest["text"]


def _remarks(row: Inspection, flags: Sequence[QualityFlag]) -> list[str]:
    return [found["text"] for found in row.findings if found.get("outcome") == "remark"] + [f.text for f in flags]


@dataclass(frozen=True)
class Choices:
    """What the list can be narrowed to."""

    checks: list[tuple[str, str]]
    lines: QuerySet[Line]
    places: QuerySet[Place]
    verdicts: list[str]


def choices(department: Department, on: date) -> Choices:
    named = procedures(department, on)
    return Choices(
        sorted(((key, row.name) for key, row in named.items()), key=lambda pair: pair[1]),
        Line.objects.filter(department=department).order_by("name"),
        Place.objects.filter(department=department).order_by("name"),
        list(Inspection.Verdict.values),
    )


def newest_link(department: Department) -> ChainLink | None:
    """Return the last link of the record chain."""
    return ChainLink.objects.filter(department=department).order_by("-number").first()


def imports(department: Department) -> QuerySet[ImportRun]:
    return ImportRun.objects.filter(department=department).select_related("by").order_by("-at", "-pk")


# Coverage ----------------------------------------------------------------------------------------------------------

WORDS: Final = ("proven", "stale", "in doubt", "found present", "claimed", "never proven")
# What a page counts together: reopened by use is as good as stale, and limits are a fault that is known.
AS: Final = {"reopened": "stale", "present, limits": "found present"}


@dataclass(frozen=True)
class Covered:
    """How many failure modes of one item, or of one line's items, are proven, and how many nothing scheduled sees."""

    name: str
    of: Item | Line | None
    counts: Mapping[str, int]
    blind: tuple[str, ...]
    weak: tuple[tuple[str, str], ...] = ()  # (mode, word) of what is not proven

    @property
    def seen(self) -> int:
        return sum(self.counts.values())

    @property
    def columns(self) -> list[tuple[str, int]]:
        return [(word, self.counts.get(word, 0)) for word in WORDS]


@dataclass(frozen=True)
class Coverage:
    lines: list[Covered]
    items: list[Covered]


def coverage(department: Department, at: datetime, line: int | None = None) -> Coverage:
    """Return what is proven of every line and every item (of one line, where asked), in a fixed number of queries."""
    held = [s for s in cache.standing_of_department(department, at, at).items if s.state not in NOT_COUNTED]
    items = [s.item for s in held]
    for item in items:
        item.department = department
    known = queries.evidence(items, at, at)
    modes = cache.modes_for(department, at.astimezone(ZoneInfo(department.time_zone)).date())
    each = [(s, _covered(s, known.get(s.item.pk, {}), modes, at)) for s in held if s.item.kind.mode_codes]
    by_line = {s.line.pk: s.line for s, _ in each if s.line}
    rows = [_together(one, [c for s, c in each if s.line and s.line.pk == pk]) for pk, one in by_line.items()]
    loose = [c for s, c in each if not s.line]
    if loose:
        rows.append(_together(None, loose))
    found = [c for s, c in each if line is None or (s.line and s.line.pk == line)]
    return Coverage(
        sorted(rows, key=lambda row: (row.of is None, row.name)),
        sorted(found, key=lambda row: (row.counts.get("proven", 0) - row.seen, row.name)),
    )


def _covered(
    standing: ItemStanding, known: Mapping[str, EvidenceOfMode], modes: Mapping[str, FailureMode], at: datetime
) -> Covered:
    kind = standing.item.kind
    visible = kind.scheduled_modes

    def named(code: str) -> str:
        return f"{code} {modes[code].name}" if code in modes else code

    words = {code: evidence_word(known.get(code), at) for code in kind.mode_codes if code in visible}
    counts = Counter(AS.get(word, word) for word in words.values())
    weak = tuple((named(code), word) for code, word in words.items() if word != "proven")
    blind = tuple(named(code) for code in kind.mode_codes if code not in visible)
    return Covered(f"{standing.item.tag} {standing.item.name}", standing.item, counts, blind, weak)


def _together(line: Line | None, rows: Sequence[Covered]) -> Covered:
    counts: Counter[str] = Counter()
    for row in rows:
        counts.update(row.counts)
    blind = tuple(dict.fromkeys(code for row in rows for code in row.blind))
    return Covered(line.name if line else "On no line", line, counts, blind)
