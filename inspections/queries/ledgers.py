"""The evidence ledgers of some items, read once, as known at an instant: what all queries of this room derive from."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet, Sum

from inspections import episodes, schedule
from inspections.models import Deficiency, Inspection, Proof, Repair, Restoration, Upkeep
from inspections.queries.plants import planted_checks
from inventory.models import FailureMode, Interval, Item, Posting, StateEvent
from inventory.queries import intervals_for, modes_for, stronger
from shared.models import Department


@dataclass(frozen=True, slots=True)
class ProofRow:
    """One proof as the derivations read it."""

    at: datetime
    outcome: str
    ratio: float | None
    inspection: str
    check_key: str
    by_name: str = ""
    units: int = 1
    planted_at: datetime | None = None  # a test fault decided it: when that was planted

    def of_row(self, quantity: int) -> "ProofRow":
        """Return the proof as it speaks for a row of several alike.

        A check on the row's tag shows one unit, unless it said how many or was a count: the rest is only claimed.
        """
        if quantity <= self.units or self.outcome != "proven" or self.check_key == "count":
            return self
        return replace(self, outcome="claimed")


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One deficiency with the instants it was restored at: alone, and under a second name."""

    at: datetime
    grade: str
    check_key: str
    inspection: str
    by_name: str
    restored: tuple[tuple[datetime, bool], ...] = ()

    def is_open(self, at: datetime) -> bool:
        """Return whether it stands at an instant, whatever awaits."""
        return episodes.stands(self, at)

    def is_awaiting(self, at: datetime) -> bool:
        """Return whether it is restored by then, but only ever alone."""
        return episodes.is_awaiting(self, at)


Proofs = Mapping[int, Mapping[str, Sequence[ProofRow]]]  # by item or line, and mode; oldest first


@dataclass(slots=True)
class Ledgers:
    """Rows by item: proofs and faults by mode, and what reopens."""

    proofs: dict[int, dict[str, list[ProofRow]]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(list)))
    faults: dict[int, dict[str, list[FaultRow]]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(list)))
    events: dict[int, list[tuple[datetime, str]]] = field(default_factory=lambda: defaultdict(list))


def corrected_inspections(department: Department, known_at: datetime) -> set[int]:
    """Return the inspections that a row known by then corrects."""
    rows = Inspection.objects.filter(department=department, corrects__isnull=False, recorded_at__lte=known_at)
    return set(rows.values_list("corrects_id", flat=True))


def read_proofs(
    department: Department, known_at: datetime, *, items: Collection[int] | None = None, lines: Collection[int] = ()
) -> dict[int, dict[str, list[ProofRow]]]:
    """Return proofs by item (or by line, where lines are given) and mode, oldest first, whenever they happened.

    Rows after the instant asked about are kept: a later failure casts doubt back to the last good proof.
    """
    corrected = corrected_inspections(department, known_at)
    planted = planted_checks(department, known_at)
    subject = "line_id" if lines else "item_id"
    rows = Proof.objects.filter(department=department, recorded_at__lte=known_at, **{f"{subject}__isnull": False})
    if lines:
        rows = rows.filter(line__in=lines)
    elif items is not None:
        rows = rows.filter(item__in=items)
    fields = (
        subject,
        "mode_code",
        "happened_at",
        "outcome",
        "ratio",
        "inspection__client_id",
        "inspection__check_key",
        "by_name",
        "units",
        "inspection_id",
    )
    found: dict[int, dict[str, list[ProofRow]]] = defaultdict(lambda: defaultdict(list))
    for of, code, at, outcome, ratio, ref, check, by, units, pk in rows.order_by("happened_at", "pk").values_list(
        *fields
    ):
        if pk not in corrected:
            test = planted.get(pk, {}).get(code)
            found[of][code].append(ProofRow(at, outcome, ratio, str(ref), check, by, units, test))
    return found


def read_ledgers(
    department: Department, items: Collection[int], known_at: datetime, proofs: Proofs | None = None
) -> Ledgers:
    """Return the evidence ledgers of some items, in a fixed number of queries; proofs that are in hand are not read."""
    ledgers = Ledgers()
    quantities = _quantities(department, items, known_at)
    if proofs is None:
        proofs = read_proofs(department, known_at, items=items)
    for item in items:
        for code, rows in proofs.get(item, {}).items():
            ledgers.proofs[item][code] = [row.of_row(quantities.get(item, 1)) for row in rows]
    _read_faults(ledgers, department, items, known_at)
    _read_events(ledgers, department, items, known_at)
    return ledgers


def _quantities(department: Department, items: Collection[int], known_at: datetime) -> dict[int, int]:
    """Return how many units each row of alike should hold: registered and received, less disposed of."""
    reasons = (Posting.Reason.REGISTERED, Posting.Reason.RECEIVED, Posting.Reason.DISPOSED)
    rows = Posting.objects.filter(
        department=department, item__in=items, reason__in=reasons, recorded_at__lte=known_at, corrections=None
    )
    return dict(rows.values("item_id").annotate(n=Sum("change")).values_list("item_id", "n"))


def _read_faults(ledgers: Ledgers, department: Department, items: Collection[int], known_at: datetime) -> None:
    restored = restorations(department, known_at, deficiency__item__in=items)
    fields = ("pk", "item_id", "mode_code", "happened_at", "grade", "check_key", "inspection__client_id", "by_name")
    rows = faults_known(department, known_at).filter(item__in=items).order_by("happened_at", "pk")
    found = (
        ((item, code), FaultRow(at, grade, check, str(ref or ""), by, tuple(restored[pk])))
        for pk, item, code, at, grade, check, ref, by in rows.values_list(*fields)
    )
    for (item, code), of in episodes.heads_of_each(found).items():
        ledgers.faults[item][code] = of


def faults_known(department: Department, known_at: datetime) -> QuerySet[Deficiency]:
    """Return every deficiency known by an instant that neither a correction nor a corrected inspection takes back."""
    known = Deficiency.objects.filter(department=department, recorded_at__lte=known_at)
    taken_back = known.filter(corrects__isnull=False).values("corrects_id")
    return known.exclude(pk__in=taken_back).exclude(inspection__in=corrected_inspections(department, known_at))


def restorations(
    department: Department, known_at: datetime, **of: Any
) -> defaultdict[int, list[tuple[datetime, bool]]]:
    """Return by deficiency when it was restored and whether alone, oldest first, as known at an instant."""
    known = Restoration.objects.filter(department=department, recorded_at__lte=known_at)
    taken_back = known.filter(corrects__isnull=False).values("corrects_id")
    rows = known.filter(**of).exclude(pk__in=taken_back)
    rows = rows.exclude(inspection__in=corrected_inspections(department, known_at)).order_by("happened_at", "pk")
    found: defaultdict[int, list[tuple[datetime, bool]]] = defaultdict(list)
    for deficiency, at, alone in rows.values_list("deficiency_id", "happened_at", "awaiting_second_name"):
        found[deficiency].append((at, alone))
    return found


def _read_events(ledgers: Ledgers, department: Department, items: Collection[int], known_at: datetime) -> None:
    def rows(model: type, **of: Any) -> Any:
        # A row that a known row corrects does not count.
        corrected = model.objects.filter(corrects__isnull=False, recorded_at__lte=known_at).values("corrects_id")
        known = model.objects.filter(department=department, item__in=items, recorded_at__lte=known_at, **of)
        return known.exclude(pk__in=corrected)

    used = Upkeep.Sort.USED
    for item, at, sort in rows(Upkeep).values_list("item_id", "happened_at", "sort"):
        ledgers.events[item].append((at, schedule.USE if sort == used else schedule.REFILL))
    for item, at in rows(Repair).values_list("item_id", "happened_at"):
        ledgers.events[item].append((at, schedule.REPAIR))
    for item, at in rows(Posting, reason=Posting.Reason.MOVED).values_list("item_id", "happened_at"):
        ledgers.events[item].append((at, schedule.MOVE))
    wet, back = StateEvent.Event.WET, StateEvent.Event.RETURNED
    for item, at, event in rows(StateEvent, event__in=(wet, back)).values_list("item_id", "happened_at", "event"):
        ledgers.events[item].append((at, schedule.USE))
        if event == back:
            ledgers.events[item].append((at, schedule.MOVE))


class Rules:
    """How long each mode of each kind is trusted on a day, and what reopens it."""

    def __init__(self, department: Department, on: date) -> None:
        self.modes: dict[str, FailureMode] = modes_for(department, on)
        self._intervals = intervals_for(department, on)
        self._rules: dict[tuple[str, str], schedule.Rule] = {}

    def rule(self, kind_key: str, code: str) -> schedule.Rule:
        """Return the rule of a mode on a kind: one set for the kind wins over one set for the mode."""
        key = (kind_key, code)
        if key not in self._rules:
            row = self.interval(kind_key, code)
            override = schedule.Override(row.months, row.grace_days, row.origin, row.source) if row else None
            mode = self.modes.get(code)
            self._rules[key] = schedule.rule_for(mode.intervals if mode else "", override)
        return self._rules[key]

    def interval(self, kind_key: str, code: str) -> Interval | None:
        """Return the interval said for a mode on a kind, whether or not the mode's own letters go before it."""
        return stronger(self._intervals.get((kind_key, code)), self._intervals.get(("", code)))

    def reopened_by(self, code: str) -> frozenset[str]:
        mode = self.modes.get(code)
        return schedule.reopened_by(code, mode.cls, mode.intervals) if mode else frozenset()


def accepted_at(item: Item, zone: ZoneInfo) -> datetime | None:
    """Return the start of the day an item was accepted on, or taken to be; None where nothing is recorded."""
    return day_began(item.accepted_on, zone)


def day_began(day: date | None, zone: ZoneInfo) -> datetime | None:
    """Return the start of a day where the department is; None for no day."""
    return datetime.combine(day, time.min, tzinfo=zone) if day else None
