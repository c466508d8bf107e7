"""Hidden test faults: which are live, who may know of them, and how many the checks find.

What is live is withheld from capacity and named to nobody who has not been shown it. No page or list reads ``Plant``
but through ``known_to``.
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, QuerySet

from inspections.models import Plant, PlantEvent
from inspections.planting import LONG_SECRET_H
from inventory.models import Line
from inventory.queries import standing
from shared.formulas.beliefs import Credible, probability_range
from shared.models import Department, Membership, User

Event = PlantEvent.Event
CREDIBILITY = 0.8
JEFFREYS = 0.5


@dataclass(frozen=True)
class PlantState:
    """One plant with what became of it; events of records that were corrected since do not count."""

    plant: Plant
    events: tuple[PlantEvent, ...]

    def first(self, *events: str) -> PlantEvent | None:
        return next((e for e in self.events if e.event in events), None)

    @property
    def found(self) -> PlantEvent | None:
        return self.first(Event.FOUND)

    @property
    def missed(self) -> list[PlantEvent]:
        return [e for e in self.events if e.event == Event.MISSED]

    @property
    def removed(self) -> PlantEvent | None:
        return self.first(Event.REMOVED)

    @property
    def proven(self) -> PlantEvent | None:
        return self.first(Event.PROVEN)

    @property
    def is_live(self) -> bool:
        """Whether its item still counts zero: only the same proof, passed after it was taken away, ends that."""
        return self.proven is None

    @property
    def word(self) -> str:
        if self.proven:
            return "proven sound"
        if self.removed:
            return "removed, awaiting its proof"
        return "found" if self.found else "missed" if self.missed else "hidden"

    def shown_to(self, user: User) -> bool:
        return any(e.event == Event.SHOWN and e.by_id == user.pk for e in self.events)


def plants(department: Department, at: datetime, known_at: datetime, **of: object) -> list[PlantState]:
    """Return every plant with what became of it by an instant, newest first."""
    rows = Plant.objects.as_of(at, known_at).filter(department=department, **of).select_related("item__kind")
    rows = list(rows.order_by("-happened_at", "-pk"))
    if not rows:
        return []
    found: dict[int, list[PlantEvent]] = defaultdict(list)
    events = PlantEvent.objects.as_of(at, known_at).filter(plant__in=rows)
    events = events.exclude(inspection__corrections__recorded_at__lte=known_at).select_related("inspection")
    for event in events.order_by("happened_at", "recorded_at", "pk"):
        found[event.plant_id].append(event)
    return [PlantState(row, tuple(found[row.pk])) for row in rows]


def live_rows(department: Department, at: datetime, known_at: datetime) -> QuerySet[Plant]:
    """Return the plants that still hold their item at zero, in one query."""
    proven = PlantEvent.objects.as_of(at, known_at).filter(plant=OuterRef("pk"), event=Event.PROVEN)
    proven = proven.exclude(inspection__corrections__recorded_at__lte=known_at)
    return Plant.objects.as_of(at, known_at).filter(department=department).exclude(Exists(proven))


def withheld(department: Department, at: datetime, known_at: datetime) -> frozenset[int]:
    """Return the ids of the items that count zero for a hidden test fault. Never for a page."""
    return frozenset(live_rows(department, at, known_at).values_list("item_id", flat=True))


def aboard(line: Line, at: datetime, known_at: datetime) -> list[PlantState]:
    """Return the live plants on a line's items."""
    items = [s.item.pk for s in standing(line, at, known_at).items]
    return [state for state in plants(line.department, at, known_at, item__in=items) if state.is_live]


def known_to(
    department: Department, user: User, role: str, at: datetime, item_ids: Collection[int] | None = None
) -> list[PlantState]:
    """Return the plants that somebody may know of.

    Whoever planted one, and whoever was shown it at a send. The head and the officers also know of one that is a day
    old, that was shown at a send, or that is over; the crew of one that a check found.
    """
    of = {} if item_ids is None else {"item__in": list(item_ids)}
    return [state for state in plants(department, at, at, **of) if _may_know(state, user, role, at)]


def _may_know(state: PlantState, user: User, role: str, at: datetime) -> bool:
    if state.plant.by_id == user.pk or state.shown_to(user):
        return True
    if role in (Membership.Role.HEAD, Membership.Role.OFFICER):
        old = at - state.plant.happened_at >= timedelta(hours=LONG_SECRET_H)
        return old or any(e.event != Event.MISSED for e in state.events)
    return role == Membership.Role.CREW and state.found is not None


@dataclass(frozen=True)
class Detection:
    """How many of the checks that could have found a planted fault did: the checks' own true rate.

    Attributes:
        found: checks that found it. [-]
        trials: checks that were made for it while it was there. [-]
        share: mean and 80 % range, None where nothing was tried.
    """

    found: int
    trials: int
    share: Credible | None

    @property
    def percent(self) -> tuple[int, int, int] | None:
        """Return (mean, low, high) in 100."""
        if self.share is None:
            return None
        return round(100 * self.share.mean), round(100 * self.share.low), round(100 * self.share.high)


def detection(department: Department, at: datetime, known_at: datetime) -> Detection:
    """Return the detection rate over all plants that are over: what is still hidden is told to nobody by a number."""
    over = [state for state in plants(department, at, known_at) if state.found or state.removed]
    found = sum(state.found is not None for state in over)
    trials = found + sum(len(state.missed) for state in over)
    share = probability_range(JEFFREYS, JEFFREYS, found, trials, CREDIBILITY) if trials else None
    return Detection(found, trials, share)


def planted_checks(department: Department, known_at: datetime) -> dict[int, dict[str, datetime]]:
    """Return by inspection id the modes that a planted fault decided there, with when it was planted.

    What a test fault showed is no failure of the equipment's own, and a check that missed one is no pass.
    """
    rows = PlantEvent.objects.filter(
        department=department,
        recorded_at__lte=known_at,
        event__in=(Event.FOUND, Event.MISSED),
        inspection__isnull=False,
    )
    found: dict[int, dict[str, datetime]] = defaultdict(dict)
    for inspection, code, at in rows.values_list("inspection_id", "plant__mode_code", "plant__happened_at"):
        found[inspection][code] = at
    return found
