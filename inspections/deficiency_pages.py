"""What the pages of deficiencies show, each in a fixed number of queries however many there are."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from inspections import queries
from inspections.models import AcceptedRisk, Deficiency, Photo, Procedure, Restoration, Run, Walk
from inspections.page_queries import check_name, procedures
from inspections.predictions import ratings_between
from inspections.queries import Episode, Proofs, RiskAccepted
from inspections.queries.faults import GRAVEST_FIRST
from inspections.queries.ledgers import accepted_at
from inventory import queries as cache
from inventory.models import FailureMode, Item, ItemKind, Line, Place
from inventory.queries import ItemStanding
from shared.models import Department

GRADES: Final = {"I": "impairment", "C": "critical deficiency", "N": "noncritical deficiency"}
MOST = 12  # of runs, walks and ratings that are named one by one


@dataclass(frozen=True)
class FaultShown:
    """One fault from the day it was found, as a list shows it."""

    episode: Episode
    mode: FailureMode | None
    standing: ItemStanding | None
    risk: RiskAccepted | None
    at: datetime

    @property
    def row(self) -> Deficiency:
        return self.episode.deficiency

    @property
    def word(self) -> str:
        return GRADES.get(self.row.grade, self.row.grade)

    @property
    def level(self) -> str:
        return "down" if self.row.grade == "I" else "limited"

    @property
    def mode_name(self) -> str:
        return self.mode.name if self.mode else ""

    @property
    def is_closed(self) -> bool:
        return self.episode.is_closed(self.at)

    @property
    def awaiting_second_name(self) -> bool:
        return self.episode.is_awaiting(self.at)

    @property
    def restored_at(self) -> datetime | None:
        """Return when it was put right, second name and all."""
        return next((when for when, alone in self.episode.restored if not alone), None)

    @property
    def days(self) -> int:
        """Return for how many days it has stood, or stood."""
        return ((self.restored_at or self.at) - self.row.happened_at).days


@dataclass(frozen=True)
class Asked:
    """What a list of deficiencies was asked for; empty words ask for all."""

    words: str = ""
    grade: str = ""
    place: int | None = None
    line: int | None = None
    kind: str = ""
    closed: bool = False

    @property
    def is_any(self) -> bool:
        return bool(self.words or self.grade or self.place or self.line or self.kind or self.closed)


def deficiencies(department: Department, asked: Asked, at: datetime) -> list[FaultShown]:
    """Return the faults asked for: open ones first, the gravest and then the oldest of them, closed ones newest first.

    What was found again while it stood is one fault.
    """
    episodes = queries.fault_episodes(department, at, at)
    if not asked.closed:
        episodes = [one for one in episodes if not one.is_closed(at)]
    shown = _shown(department, episodes, at)
    found = [one for one in shown if _matches(one, asked)]
    still = [one for one in found if not one.is_closed]
    over = sorted((one for one in found if one.is_closed), key=lambda one: one.restored_at, reverse=True)
    return sorted(still, key=lambda one: GRAVEST_FIRST.get(one.row.grade, 3)) + over


def many_open(found: Sequence[FaultShown], grade: str) -> int:
    return sum(one.row.grade == grade and not one.is_closed for one in found)


def _shown(department: Department, episodes: Sequence[Episode], at: datetime) -> list[FaultShown]:
    modes = cache.modes_for(department, at.astimezone(ZoneInfo(department.time_zone)).date())
    items = {one.deficiency.item_id: one.deficiency.item for one in episodes}
    for item in items.values():
        item.department = department
    standings = cache.standing_of_items(list(items.values()), at, at)
    risks = {risk.deficiency.pk: risk for risk in queries.accepted_risks(department, at)}
    return [
        FaultShown(
            one,
            modes.get(one.deficiency.mode_code),
            standings.get(one.deficiency.item_id),
            risks.get(one.deficiency.pk),
            at,
        )
        for one in episodes
    ]


def _matches(one: FaultShown, asked: Asked) -> bool:
    place = one.standing.place if one.standing else None
    line = one.standing.line if one.standing else None
    said = " ".join(
        (
            one.row.item.tag,
            one.row.item.name,
            one.row.text,
            one.row.mode_code,
            one.mode_name,
            one.row.by_name,
            *(f"{r.what} {r.cause} {r.parts} {r.vendor}" for r in one.episode.repairs),
        )
    ).casefold()
    return (
        asked.grade in ("", one.row.grade)
        and asked.kind in ("", one.row.item.kind.key)
        and (asked.place is None or (place is not None and asked.place in (place.pk, place.within_id)))
        and (asked.line is None or (line is not None and line.pk == asked.line))
        and all(word in said for word in asked.words.casefold().split())
    )


@dataclass(frozen=True)
class Choices:
    """What a list can be narrowed to."""

    places: QuerySet[Place]
    lines: QuerySet[Line]
    kinds: QuerySet[ItemKind]


def choices(department: Department) -> Choices:
    return Choices(
        Place.objects.filter(department=department).order_by("name"),
        Line.objects.filter(department=department).order_by("name"),
        ItemKind.objects.filter(department=department, items__deficiencies__isnull=False).distinct().order_by("name"),
    )


# One deficiency ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Doubt:
    """The stretch in which a fault may have been there unseen, and what lay in it.

    Attributes:
        since: the last good proof of the mode before it was found, else the day the item was accepted.
        proof: client id of that proof, empty where there was none.
    """

    since: datetime | None
    until: datetime
    proof: str = ""
    runs: list[Run] = field(default_factory=list)
    walks: list[Walk] = field(default_factory=list)
    ratings: list[tuple[datetime, str]] = field(default_factory=list)

    @property
    def days(self) -> int | None:
        return (self.until - self.since).days if self.since else None

    @property
    def more_ratings(self) -> int:
        return max(0, len(self.ratings) - MOST)

    @property
    def named_ratings(self) -> list[tuple[datetime, str]]:
        return self.ratings[-MOST:]


def doubt_of(row: Deficiency, proofs: Proofs) -> Doubt:
    """Return since when a fault may have been there, from the item's proofs."""
    rows = proofs.get(row.item_id, {}).get(row.mode_code, ())
    good = [one for one in rows if one.outcome == "proven" and one.at < row.happened_at]
    if good:
        return Doubt(good[-1].at, row.happened_at, good[-1].inspection)
    return Doubt(accepted_at(row.item, ZoneInfo(row.department.time_zone)), row.happened_at)


def _with_what_lay_in_it(doubt: Doubt, item: Item, line: Line | None) -> Doubt:
    if doubt.since is None:
        return doubt
    between = {"happened_at__gte": doubt.since, "happened_at__lte": doubt.until}
    walks = Walk.objects.filter(
        department=item.department,
        inspections__item=item,
        started_at__gte=doubt.since,
        started_at__lte=doubt.until,
    )
    return Doubt(
        doubt.since,
        doubt.until,
        doubt.proof,
        list(Run.objects.filter(department=item.department, line=line, corrections=None, **between)) if line else [],
        list(walks.select_related("place", "by").distinct().order_by("started_at")[:MOST]),
        ratings_between(line, doubt.since, doubt.until) if line else [],
    )


@dataclass(frozen=True)
class DeficiencyView:
    """One fault with its whole history."""

    fault: FaultShown
    item: Item
    doubt: Doubt
    again: tuple[Deficiency, ...]
    restorations: list[Restoration]
    photos: list[Photo]
    earlier: list[Episode]
    acceptances: list[AcceptedRisk]
    check: str
    procedure: Procedure | None
    photos_found: list[Photo]

    @property
    def restores(self) -> str:
        return self.procedure.definition.get("restores", "") if self.procedure else ""

    @property
    def not_by(self) -> tuple[str, ...]:
        return self.fault.episode.own_names

    @property
    def times_before(self) -> int:
        return len(self.earlier)


def deficiency_of(department: Department, pk: int) -> Deficiency | None:
    rows = Deficiency.objects.filter(department=department, pk=pk)
    return rows.select_related("item__kind", "department", "inspection__procedure").first()


def head_of(row: Deficiency, episodes: Iterable[Episode]) -> Episode | None:
    """Return the fault that a deficiency opened, or found again."""
    return next((one for one in episodes if row in (one.deficiency, *one.again)), None)


def deficiency_view(row: Deficiency, at: datetime) -> DeficiencyView | None:
    """Return one fault with all that is known of it; None where a correction took it back."""
    item = row.item
    item.department = department = row.department
    episodes = queries.fault_episodes(department, at, at, [item.pk])
    episode = head_of(row, episodes)
    if episode is None:
        return None
    head = episode.deficiency
    head.department = department
    fault = _shown(department, [episode], at)[0]
    same = [one for one in episodes if one.deficiency.mode_code == head.mode_code and one.at < head.happened_at]
    restorations = Restoration.objects.as_of(at, at).filter(deficiency=head).select_related("inspection")
    names = procedures(department, at.astimezone(ZoneInfo(department.time_zone)).date())
    proofs = queries.read_proofs(department, at, items=[item.pk])
    line = fault.standing.line if fault.standing else None
    seen = [one.inspection_id for one in (head, *episode.again) if one.inspection_id]
    return DeficiencyView(
        fault=fault,
        item=item,
        doubt=_with_what_lay_in_it(doubt_of(head, proofs), item, line),
        again=episode.again,
        restorations=list(restorations.order_by("happened_at", "pk")),
        photos=photos_of(deficiency__in=[head, *episode.again]),
        earlier=same[::-1],
        acceptances=list(AcceptedRisk.objects.as_of(at, at).filter(deficiency=head).order_by("-happened_at", "-pk")),
        check=check_name(names.get(head.check_key), head.check_key) if head.check_key else "",
        procedure=names.get(head.check_key),
        photos_found=photos_of(inspection__in=seen),
    )


def photos_of(**of: object) -> list[Photo]:
    """Return the photos of a check, a fault or an item, oldest first."""
    rows = Photo.objects.filter(corrections=None, **of).select_related("file")
    return list(rows.order_by("happened_at", "pk"))


def modes_of(kind: ItemKind, modes: Mapping[str, FailureMode]) -> list[tuple[str, str, str]]:
    """Return (code, name, usual grade) of the ways a kind can fail."""
    return [
        (code, modes[code].name if code in modes else code, modes[code].grade if code in modes else "")
        for code in kind.mode_codes
    ]


def in_doubt(faults: Sequence[FaultShown], at: datetime) -> list[tuple[FaultShown, Doubt]]:
    """Return each fault with the stretch in which it may have been there unseen."""
    if not faults:
        return []
    department: Department = faults[0].row.department
    proofs = queries.read_proofs(department, at, items={one.row.item_id for one in faults})
    for one in faults:
        one.row.department = department
        one.row.item.department = department
    return [(one, doubt_of(one.row, proofs)) for one in faults]
