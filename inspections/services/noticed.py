"""What a check just recorded means beyond its verdict: for a snap that called for it, for a hidden test fault."""

import uuid
from collections.abc import Iterable, Sequence

from django.utils import timezone

from inspections.models import Inspection, PlantEvent, Proof, SnapAnswer
from inspections.queries.plants import PlantState, live_rows, plants
from inspections.queries.snaps import open_snaps
from inspections.verdicts.core import ModeOutcome
from inventory.models import Item
from shared.models import Department

Event = PlantEvent.Event


def watched_items(department: Department) -> frozenset[int]:
    """Return the items whose next check means more: those with a live test fault, and those a snap has called."""
    now = timezone.now()
    called = open_snaps(department, now, now).values_list("item_id", flat=True)
    return frozenset((*live_rows(department, now, now).values_list("item_id", flat=True), *called))


def note_check(inspection: Inspection, items: Iterable[Item], modes: Sequence[ModeOutcome]) -> None:
    """Let a check that has just been recorded find, miss or prove away the test faults of what it saw.

    Before the fault was taken away, a check that shows its mode has found it, and one that does not has missed it;
    after that, one that proves the mode absent ends it.
    """
    shown = {mode.code: mode.outcome for mode in modes}
    now = timezone.now()
    live = live_rows(inspection.department, inspection.happened_at, now)
    wanted = {row.pk for row in live.filter(item__in=[i.pk for i in items], check_key=inspection.check_key)}
    for state in plants(inspection.department, inspection.happened_at, now, pk__in=wanted) if wanted else ():
        outcome = shown.get(state.plant.mode_code)
        if outcome is None:
            continue  # that mode was not looked at
        if (event := _what_became(state, outcome)) is None:
            continue
        PlantEvent.objects.create(
            department=inspection.department, plant=state.plant, event=event, inspection=inspection,
            client_id=uuid.uuid5(inspection.client_id, f"plant {state.plant.pk} {event}"),
            happened_at=inspection.happened_at, recorded_at=inspection.recorded_at, by=inspection.by,
            by_name=inspection.by_name,
        )  # fmt: skip


def _what_became(state: PlantState, outcome: str) -> str | None:
    sound = outcome not in (Proof.Outcome.FAILED, Proof.Outcome.LIMITED)
    if state.removed:
        return Event.PROVEN if outcome == Proof.Outcome.PROVEN else None
    if state.found:
        return None  # it is known by now: no trial of anybody
    return Event.MISSED if sound else Event.FOUND


def note_snap(inspection: Inspection) -> None:
    """Let a check that has just been recorded answer the snap that called for it."""
    now = timezone.now()
    called = open_snaps(inspection.department, inspection.happened_at, now)
    for snap in called.filter(item_id=inspection.item_id, check_key=inspection.check_key):
        works = inspection.verdict in (Inspection.Verdict.PASS, Inspection.Verdict.LIMITS)
        SnapAnswer.objects.create(
            department=inspection.department, snap=snap, inspection=inspection, in_hand_at=inspection.happened_at,
            working_at=inspection.happened_at if works else None, client_id=uuid.uuid5(inspection.client_id, "snap"),
            happened_at=inspection.happened_at, by=inspection.by, by_name=inspection.by_name,
        )  # fmt: skip
