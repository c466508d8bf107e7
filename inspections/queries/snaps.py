"""Snaps: who could be drawn with which weight, what was drawn, and what came of it.

The draw follows from its seed and from the evidence as it was known then, so that anybody can draw it again.
"""

import random
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from django.db.models import Exists, OuterRef, Q, QuerySet

from inspections.models import Inspection, Snap, SnapAnswer
from inspections.queries.evidence import EvidenceOfMode, evidence, evidence_word
from inspections.queries.runs import runs_out
from inventory.models import Item
from inventory.queries import ItemStanding, standing_of_department
from shared.models import Department

LOOK: Final = "look"
# What one person may do at once with bare hands, and within how many minutes. Nothing that burns gas, holds pressure,
# turns an engine or lifts a valve is done on a call: those want a set-up, and their items are fetched and looked at.
ON_CALL_MIN: Final[Mapping[str, float]] = {
    "gfci": 5, "light": 10, "inflate": 10, "battery": 10, "trailer": 10, "sprayer": 10, LOOK: 5,
}  # fmt: skip
NEVER_CALLED: Final = frozenset({"propane", "air_cylinder", "inflation_kit", "fuel_can"})  # not carried about on a call
# How strongly each word of the evidence draws: the less is known, the more. Ours.
DRAWS: Final[Mapping[str, float]] = {
    "never proven": 8, "in doubt": 6, "reopened": 5, "stale": 4, "claimed": 3, "present, limits": 1, "proven": 1,
}  # fmt: skip


@dataclass(frozen=True)
class Candidate:
    """One item that could be drawn: the check it would be drawn for, why, and its share of the draw."""

    standing: ItemStanding
    check_key: str
    word: str
    mode_code: str
    weight: float
    share: float = 0.0

    @property
    def item(self) -> Item:
        return self.standing.item

    @property
    def percent(self) -> float:
        return 100 * self.share


def candidates(department: Department, at: datetime, known_at: datetime) -> list[Candidate]:
    """Return everything that could be drawn at an instant, in the order of tags, with its share of the draw.

    What is out of service, out on a run, called already or not to be carried about is not drawn.
    """
    out = runs_out(department, at, known_at)
    called = set(open_snaps(department, at, known_at).values_list("item_id", flat=True))
    held = [
        s
        for s in standing_of_department(department, at, known_at).items
        if s.state == "in service"
        and s.item.kind.key not in NEVER_CALLED
        and s.item.pk not in called
        and not (s.line and s.line.pk in out)
    ]
    known = evidence([s.item for s in held], at, known_at)
    found = [_candidate(s, known[s.item.pk], at) for s in sorted(held, key=lambda s: (s.item.tag, s.item.pk))]
    total = sum(one.weight for one in found)
    return [replace(one, share=one.weight / total) for one in found]


def _candidate(s: ItemStanding, known: Mapping[str, EvidenceOfMode], at: datetime) -> Candidate:
    """Return an item with its weakest mode, and the check on call that sees the weakest that any such check can."""
    checks = s.item.kind.checks
    words = {code: evidence_word(known.get(code), at) for code in sorted(s.item.kind.scheduled_modes)}
    weights = {code: DRAWS.get(word, 1.0) for code, word in words.items()}
    weakest = max(weights, key=weights.__getitem__, default="")
    on_call = {
        key: max((weights[c] for c in codes), default=0.0) for key, codes in checks.items() if key in ON_CALL_MIN
    }
    check = max(on_call, key=lambda key: (on_call[key], key != LOOK), default=LOOK)
    return Candidate(s, check, words.get(weakest, "claimed"), weakest, weights.get(weakest, DRAWS["claimed"]))


def drawn(found: Sequence[Candidate], seed: str) -> Candidate:
    """Return what a seed draws from candidates; the same seed and candidates draw the same. Pure."""
    return random.Random(seed).choices(found, weights=[one.weight for one in found])[0]  # noqa: S311 reproducible by design


def redraw(snap: Snap) -> tuple[list[Candidate], Candidate | None]:
    """Draw a snap again from what was known before it was written; None where nothing stood in the draw."""
    found = candidates(snap.department, snap.happened_at, snap.recorded_at - timedelta(microseconds=1))
    return found, drawn(found, snap.seed) if found else None


# What came of them ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SnapState:
    """One snap with its answers laid over each other: the first instant of each, the check that answered it."""

    snap: Snap
    in_hand_at: datetime | None = None
    working_at: datetime | None = None
    inspection: Inspection | None = None
    found: bool = True
    by_name: str = ""

    @property
    def due_at(self) -> datetime:
        return self.snap.happened_at + timedelta(minutes=self.snap.allowed_min)

    @property
    def is_over(self) -> bool:
        return not self.found or self.inspection is not None

    def is_overdue(self, at: datetime) -> bool:
        """Whether the minutes are up and it neither works nor was looked for in vain."""
        return not self.is_over and self.working_at is None and at > self.due_at

    @property
    def in_hand_min(self) -> float | None:
        return _minutes(self.snap.happened_at, self.in_hand_at)

    @property
    def working_min(self) -> float | None:
        return _minutes(self.snap.happened_at, self.working_at)

    def word(self, at: datetime) -> str:
        """Return what came of it in a word or two."""
        if not self.found:
            return "not found"
        if self.inspection:
            return self.inspection.verdict
        if self.is_overdue(at):
            return "overdue"
        return "working, not read" if self.working_at else "in hand" if self.in_hand_at else "called"


def _minutes(since: datetime, at: datetime | None) -> float | None:
    return None if at is None else (at - since).total_seconds() / 60.0


def open_snaps(department: Department, at: datetime, known_at: datetime) -> QuerySet[Snap]:
    """Return the snaps that no check has answered, and that were not looked for in vain."""
    over = SnapAnswer.objects.as_of(at, known_at).filter(Q(found=False) | Q(inspection__isnull=False))
    rows = Snap.objects.as_of(at, known_at).filter(department=department)
    return rows.exclude(Exists(over.filter(snap=OuterRef("pk"))))


def snap_states(rows: Iterable[Snap], at: datetime, known_at: datetime) -> list[SnapState]:
    """Return some snaps with what came of them, in their order."""
    rows = list(rows)
    answers: dict[int, list[SnapAnswer]] = defaultdict(list)
    given = SnapAnswer.objects.as_of(at, known_at).filter(snap__in=rows).select_related("inspection")
    for answer in given.order_by("happened_at", "recorded_at", "pk"):
        answers[answer.snap_id].append(answer)
    return [_state(row, answers[row.pk]) for row in rows]


def _state(snap: Snap, answers: Sequence[SnapAnswer]) -> SnapState:
    return SnapState(
        snap=snap,
        in_hand_at=next((a.in_hand_at for a in answers if a.in_hand_at), None),
        working_at=next((a.working_at for a in answers if a.working_at), None),
        inspection=next((a.inspection for a in answers if a.inspection), None),
        found=all(a.found for a in answers),
        by_name=answers[0].by_name if answers else "",
    )
