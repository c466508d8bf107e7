"""A line sent out and received back: the run, its sheet, the hand receipts, and what follows on its return.

A stamp or a person put down wrongly is never edited: a newer row names it, with another time or as undone. Nothing here
takes a casualty's name or state: a person is a lane, an instant, and whether they walked.
"""

import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from inspections.models import HandReceipt, Inspection, Run, RunEvent, Upkeep
from inspections.queries.after_use import drains
from inspections.queries.runs import (
    RunSheet,
    drill_id,
    drill_of,
    expected_back,
    load_aboard,
    run_sheet,
    runs_out,
    seals_aboard,
)
from inspections.runs import BOUNDS, CLOSED, ENTRIES, EVENTS, MOST_LANES, ORDERED, PERSON, STAMPS, UNDONE
from inspections.services.deficiencies import open_deficiency_by_hand
from inspections.services.plants import may_leave
from inspections.services.record import announce, record_inspection, signature
from inspections.services.recorder import derived
from inspections.services.upkeep import record_upkeep
from inventory.models import Item, Line, Lot, Posting, StateEvent
from inventory.queries import crew_of, modes_for, standing, standing_of_items
from inventory.services import record_count, record_posting, record_state
from shared.api import Conflict, same_or_refuse
from shared.models import Department, User
from shared.people import name_key

CONTAMINATIONS = ("none", "suspected", "confirmed")
TAKES_PART = frozenset({"in service"})


# Sending -------------------------------------------------------------------------------------------------------------


@transaction.atomic
def send_line(
    *,
    department: Department,
    line: Line,
    sort: str,
    title: str,
    accepted_by: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    site: str = "",
    organisation: str = "",
    note: str = "",
    predicted: Mapping[str, Any] | None = None,
    plants_known: bool = False,
) -> Run:
    """Send a line out: open its run and sign it over, with the load and the seals as they are.

    On a loan everything in service aboard stands as lent until it is received back. ``predicted`` is what the rating
    said of the line beforehand; ``plants_known`` says that whoever sends it has been shown the test faults aboard, and
    sends it all the same.

    Raises:
        Conflict: the line is out already, or belongs to another department.
        PlantsAboard: planted faults are aboard that the sender has not been shown.
    """
    run = open_run(
        department=department, line=line, sort=sort, title=title, site=site, predicted=predicted or {},
        happened_at=happened_at, by=by, by_name=by_name, client_id=client_id,
    )  # fmt: skip
    may_leave(line=line, at=happened_at, by=by, by_name=by_name, known=plants_known)
    signed = {"department": department, "happened_at": happened_at, "by": by, "by_name": by_name}
    if sort == Run.Sort.LOAN:
        reason = f"Lent with {line}: {title}."[:240]
        for s in standing(line, happened_at, timezone.now()).items:
            if s.state in TAKES_PART:
                lent = derived(run.client_id, f"lent {s.item.pk}")
                record_state(**signed, item=s.item, event=StateEvent.Event.LENT, reason=reason, client_id=lent)
    hand_over(
        run=run, way=HandReceipt.Way.SENT, accepted_by=accepted_by, organisation=organisation, note=note,
        client_id=derived(run.client_id, "sent"), **signed,
    )  # fmt: skip
    return run


@transaction.atomic
def open_run(
    *,
    department: Department,
    line: Line,
    sort: str,
    title: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    site: str = "",
    predicted: Mapping[str, Any] | None = None,
) -> Run:
    """Open a run of a line from the instant it was ordered; the same client_id twice opens one.

    Raises:
        Conflict: the line is out already, the sort is none, or the run has no title.
    """
    if line.department_id != department.pk:
        raise Conflict("That line belongs to another department.")
    if sort not in Run.Sort.values:
        raise Conflict(f"{sort!r} is no sort of run; use one of {', '.join(Run.Sort.values)}.")
    if not (title := " ".join(title.split())[:160]):
        raise Conflict("Say what the run is for.", where="title")
    # Of two who send one line at one moment, the second sees that it is out.
    Line.objects.select_for_update().get(pk=line.pk)
    said = {"line": line, "sort": sort, "title": title, "site": site.strip()[:160]}
    sent = Run.objects.filter(department=department, client_id=client_id).first()
    if sent is not None:
        same_or_refuse(sent, said)
        return sent
    now = timezone.now()
    out = runs_out(department, now, now).get(line.pk)
    if out is not None:
        raise Conflict(f"{line} is out already: {out.title}. Receive it back first.")
    run = Run.objects.create(
        department=department, client_id=client_id, predicted=dict(predicted or {}),
        happened_at=happened_at, by=by, by_name=signature(by_name), **said,
    )  # fmt: skip
    announce(department, [], [line.pk])
    return run


@transaction.atomic
def hand_over(
    *,
    department: Department,
    run: Run,
    way: str,
    accepted_by: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    organisation: str = "",
    handed_by: str = "",
    note: str = "",
) -> HandReceipt:
    """Write a hand receipt: who hands over, who accepts, the load and the seals as they are at that instant.

    Raises:
        Conflict: nobody accepts, or the line is received back already.
    """
    if run.department_id != department.pk:
        raise Conflict("That run belongs to another department.")
    if way not in HandReceipt.Way.values:
        raise Conflict(f"{way!r} is no way; use one of {', '.join(HandReceipt.Way.values)}.")
    said = {
        "run": run,
        "way": way,
        "accepted_by": signature(accepted_by),
        "organisation": organisation.strip()[:160],
        "handed_by": " ".join(handed_by.split())[:120],
        "note": note.strip()[:300],
    }
    known = HandReceipt.objects.filter(department=department, client_id=client_id).first()
    if known is not None:
        same_or_refuse(known, said)
        return known
    if run.receipts.filter(way=way, corrections=None).exists():
        raise Conflict(f"A receipt was signed for that already: {run.title} is {HandReceipt.Way(way).label.lower()}.")
    now = timezone.now()
    return HandReceipt.objects.create(
        department=department,
        client_id=client_id,
        load=load_aboard(run.line, happened_at, now),
        seals=seals_aboard(run.line, happened_at, now),
        happened_at=happened_at,
        by=by,
        by_name=signature(by_name),
        **said,
    )


# The sheet -----------------------------------------------------------------------------------------------------------


@transaction.atomic
def record_run_event(
    *,
    department: Department,
    run: Run,
    event: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    lane: int | None = None,
    walking: bool | None = None,
    item: Item | None = None,
    lot: Lot | None = None,
    number: float | None = None,
    unit: str = "",
    text: str = "",
    corrects: RunEvent | None = None,
) -> RunEvent:
    """Put one row on a run's sheet: a stamp, a person through a lane, a use, a fault; or correct one by name.

    A consumable used is posted as used as well; a fault of an item that names its failure mode opens a deficiency. On a
    run that is back, stamps and people may still be corrected; the drill that they were recorded as is then corrected
    with them.

    Raises:
        Conflict: the row lacks what its sort must say, a stamp stands already, or it corrects another run's row.
    """
    _may_stand(department, run, event, lane=lane, item=item, lot=lot, number=number, text=text)
    said = {
        "run": run, "event": event, "lane": lane, "walking": walking, "item": item, "lot": lot,
        "number": number, "unit": unit[:12], "text": text.strip()[:300],
    }  # fmt: skip
    # Under lock: of two that stamp or undo the same at one moment, the second sees the first.
    Run.objects.select_for_update().get(pk=run.pk)
    known = RunEvent.objects.filter(department=department, client_id=client_id).first()
    if known is not None:
        same_or_refuse(known, said | {"corrects": corrects})
        return known
    _may_correct(run, event, corrects)
    if event in (ORDERED, *STAMPS) and corrects is None and _standing(run).filter(event=event).exists():
        raise Conflict(f"{STAMPS.get(event, 'The order')} is stamped already; correct that stamp instead.")
    row = RunEvent.objects.create(
        department=department, client_id=client_id, corrects=corrects,
        happened_at=happened_at, by=by, by_name=signature(by_name), **said,
    )  # fmt: skip
    _post_used(row, corrects)
    _open_fault(row)
    if run.receipts.filter(way=HandReceipt.Way.RECEIVED, corrections=None).exists():
        _correct_drill(run, row)
    announce(department, [], [run.line_id])
    return row


@transaction.atomic
def undo_run_event(
    *, department: Department, run: Run, row: RunEvent, happened_at: datetime, by: User | None = None, by_name: str,
    client_id: uuid.UUID,
) -> RunEvent:  # fmt: skip
    """Take back one row of a sheet by a row that says so."""
    return record_run_event(
        department=department, run=run, event=UNDONE, corrects=row, happened_at=happened_at, by=by, by_name=by_name,
        client_id=client_id,
    )  # fmt: skip


def _standing(run: Run) -> Any:
    return RunEvent.objects.filter(run=run, corrections=None).exclude(event=UNDONE)


def _may_stand(department: Department, run: Run, event: str, **said: Any) -> None:
    if run.department_id != department.pk:
        raise Conflict("That run belongs to another department.")
    if event not in EVENTS or event in (CLOSED, "lost"):
        raise Conflict(f"{event!r} is nothing that goes on a run sheet.")
    for thing in (said["item"], said["lot"]):
        if thing is not None and thing.department_id != department.pk:
            raise Conflict("That belongs to another department.")
    lane, number = said["lane"], said["number"]
    if event == PERSON and (lane is None or not 1 <= lane <= MOST_LANES):
        raise Conflict(f"Name the lane, 1 to {MOST_LANES}.", where="lane")
    name, must = ENTRIES.get(event, ("", frozenset()))
    for key in sorted(must):
        if said[key] in (None, ""):
            raise Conflict(f"{name}: say the {key}.", where=key)
    if number is not None and not 0 < number < 1e6:
        raise Conflict(f"{name}: {number:g} is no amount.", where="number")
    if event == "used" and number is not None and number != int(number):
        raise Conflict("A consumable is used in whole units.", where="number")


def _may_correct(run: Run, event: str, corrects: RunEvent | None) -> None:
    if corrects is None:
        if event == UNDONE:
            raise Conflict("Name the row that is undone.")
        return
    if corrects.run_id != run.pk or event not in (UNDONE, corrects.event):
        raise Conflict("A correction is of a row of the same sort on the same run.")
    if corrects.corrections.exists():
        raise Conflict("That row is corrected already; correct the newest one instead.")


def _open_fault(row: RunEvent) -> None:
    """Open a deficiency for a fault of one item that names its failure mode (in ``unit``), graded as that mode is."""
    if row.event != "fault" or row.item is None or not row.unit or row.corrects_id:
        return
    mode = modes_for(row.department, row.happened_at.date()).get(row.unit)
    open_deficiency_by_hand(
        department=row.department, item=row.item, mode_code=row.unit, grade=mode.grade if mode else "C",
        text=f"{row.text} (on the run {row.run.title})"[:300], happened_at=row.happened_at, by=row.by,
        by_name=row.by_name, client_id=derived(row.client_id, "fault"),
    )  # fmt: skip


def _post_used(row: RunEvent, corrects: RunEvent | None) -> None:
    """Keep the lot's ledger beside the sheet: what a corrected row took is given back, what this one says is taken."""
    if row.event not in ("used", UNDONE) or (row.event == UNDONE and (corrects is None or corrects.event != "used")):
        return
    of = {"department": row.department, "by": row.by, "by_name": row.by_name, "line": row.run.line}
    earlier = Posting.objects.filter(client_id=derived(corrects.client_id, "used")).first() if corrects else None
    taken = -int(row.number or 0) if row.event == "used" else 0
    lot = row.lot or (corrects.lot if corrects else None)
    record_posting(
        **of, lot=lot, change=taken, reason=Posting.Reason.USED, corrects=earlier,
        note=f"Used on {row.run.title}."[:240],
        happened_at=earlier.happened_at if earlier else row.happened_at, client_id=derived(row.client_id, "used"),
    )  # fmt: skip


# Receiving -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Return:
    """What is said of a line as it comes back.

    Attributes:
        unused: items that were aboard and not used.
        back: how many of an item or lot came back, where not all did; by id.
        water_ran: whether anything got wet.
        readings: what else was read for the set-up drill, by the inputs of that check.
    """

    contamination: str
    water_ran: bool
    unused: Collection[int] = ()
    items_back: Mapping[int, int] = field(default_factory=dict)
    lots_back: Mapping[int, int] = field(default_factory=dict)
    readings: Mapping[str, str] = field(default_factory=dict)


@transaction.atomic
def receive_line(
    *,
    department: Department,
    run: Run,
    came: Return,
    handed_by: str,
    happened_at: datetime,
    by: User | None = None,
    by_name: str,
    client_id: uuid.UUID,
    organisation: str = "",
    note: str = "",
) -> HandReceipt:
    """Receive a line back and let everything follow that does.

    Its times become a set-up drill, what was used is due for its after-use checks, what water stood in goes on the wet
    clock, what may be contaminated into quarantine, and what is missing is posted as lost.

    Raises:
        Conflict: it is back already, more came back than left, or nothing is said of contamination.
    """
    if came.contamination not in CONTAMINATIONS:
        raise Conflict(f"Say whether it is contaminated: {', '.join(CONTAMINATIONS)}.", where="contamination")
    Run.objects.select_for_update().get(pk=run.pk)
    said = {"handed_by": " ".join(handed_by.split())[:120], "organisation": organisation.strip()[:160]}
    known = HandReceipt.objects.filter(department=department, client_id=client_id).first()
    if known is not None:
        same_or_refuse(known, said | {"run": run})
        return known
    if run.receipts.filter(way=HandReceipt.Way.RECEIVED, corrections=None).exists():
        raise Conflict(f"{run.line} is received back from {run.title} already.")
    signed = {"department": department, "happened_at": happened_at, "by": by, "by_name": by_name}
    sheet = run_sheet(run, happened_at, timezone.now())
    _record_drill(sheet, came, signed)
    _settle_items(sheet, came, signed)
    _settle_lots(sheet, came, signed)
    _close(run, came, signed)
    receipt = hand_over(
        run=run, way=HandReceipt.Way.RECEIVED, accepted_by=by_name, note=note, client_id=client_id, **said, **signed
    )
    announce(department, [], [run.line_id])
    return receipt


def _close(run: Run, came: Return, signed: Mapping[str, Any]) -> None:
    RunEvent.objects.create(
        run=run, event=CLOSED, text=f"contamination {came.contamination}", client_id=derived(run.client_id, "closed"),
        **signed,
    )  # fmt: skip


def _settle_items(sheet: RunSheet, came: Return, signed: Mapping[str, Any]) -> None:
    run, rows = sheet.run, expected_back(sheet)[0]
    items = (
        Item.objects.filter(department=run.department)
        .select_related("kind", "department")
        .in_bulk([r["item"] for r in rows])
    )
    now = timezone.now()
    states = {pk: s.state for pk, s in standing_of_items(list(items.values()), signed["happened_at"], now).items()}
    hours: dict[int, float] = {}
    for event in sheet.of("hours"):
        hours[event.item_id] = hours.get(event.item_id, 0.0) + (event.number or 0.0)
    for row in rows:
        item, left = items[row["item"]], int(row["quantity"])
        back = came.items_back.get(item.pk, left)
        if back > left:
            raise Conflict(f"{item.tag}: {back} came back and {left} left. Count again.")
        if run.sort == Run.Sort.LOAN and states.get(item.pk) == "lent":
            _state(run, item, StateEvent.Event.RETURNED, f"Received back from {run.title}.", signed)
        if back < left:
            _lose(run, left - back, signed, item=item)
        if back and row["state"] in TAKES_PART and item.pk not in came.unused:
            _used(run, item, hours.get(item.pk), came, signed)


def _used(run: Run, item: Item, hours: float | None, came: Return, signed: Mapping[str, Any]) -> None:
    record_upkeep(
        **signed, item=item, sort=Upkeep.Sort.USED, hours=hours, note=f"{run.get_sort_display()}: {run.title}"[:240],
        client_id=derived(run.client_id, f"used {item.pk}"), announced=False,
    )  # fmt: skip
    if came.water_ran and drains(item.kind):
        _state(run, item, StateEvent.Event.WET, f"Back wet from {run.title}.", signed)
    if came.contamination != "none":
        reason = f"Contamination {came.contamination}, {run.title}: until it is cleared by name."
        _state(run, item, StateEvent.Event.QUARANTINED, reason, signed)


def _state(run: Run, item: Item, event: str, reason: str, signed: Mapping[str, Any]) -> None:
    client_id = derived(run.client_id, f"{event} {item.pk}")
    record_state(**signed, item=item, event=event, reason=reason[:240], client_id=client_id)


def _settle_lots(sheet: RunSheet, came: Return, signed: Mapping[str, Any]) -> None:
    """Post what did not come back of each lot; what was counted stands as counted."""
    run, rows = sheet.run, expected_back(sheet)[1]
    lots = Lot.objects.filter(department=run.department).in_bulk([row["lot"] for row in rows])
    for row in rows:
        lot = lots[row["lot"]]
        if lot.pk not in came.lots_back:
            continue
        back, expected = came.lots_back[lot.pk], row["expected"]
        if back < expected:
            _lose(run, expected - back, signed, lot=lot)
        record_count(
            **signed, lot=lot, line=run.line, counted=back, note=f"Back from {run.title}."[:240],
            client_id=derived(run.client_id, f"back {lot.pk}"),
        )  # fmt: skip


def _lose(run: Run, number: int, signed: Mapping[str, Any], item: Item | None = None, lot: Lot | None = None) -> None:
    key = f"item {item.pk}" if item else f"lot {lot.pk}"
    RunEvent.objects.create(
        run=run, event="lost", item=item, lot=lot, number=number, client_id=derived(run.client_id, f"lost {key}"),
        **signed,
    )  # fmt: skip
    record_posting(
        **signed, item=item, lot=lot, change=-number, reason=Posting.Reason.LOST, line=run.line if lot else None,
        note=f"Did not come back from {run.title}."[:240], client_id=derived(run.client_id, f"loss {key}"),
    )  # fmt: skip


# The times as a drill ------------------------------------------------------------------------------------------------


def _record_drill(sheet: RunSheet, came: Return, signed: Mapping[str, Any]) -> Inspection | None:
    """Record what the clock measured as a set-up drill of the line; a loan is set up by others and shows nothing."""
    values = {**sheet.values, **came.readings, **_people(sheet, signed["happened_at"])}
    if sheet.run.sort == Run.Sort.LOAN or not _says_anything(values):
        return None
    return record_inspection(
        **signed, check_key="setup", line=sheet.run.line, values=values, client_id=drill_id(sheet.run),
        started_at=sheet.ordered, remark=f"From the run sheet: {sheet.run.title}"[:300],
    )  # fmt: skip


def _says_anything(values: Mapping[str, str]) -> bool:
    """Return whether a number of the clock or a reading was taken; how many came through alone measures nothing."""
    return bool(values.keys() - {"people", "lanes", "wet_min", "takt_low_s", "takt_high_s"})


def _people(sheet: RunSheet, at: datetime) -> dict[str, str]:
    """Return how many operators were there, and how many of them the roster knows as qualified that day."""
    names = {name_key(name) for name in sheet.operators}
    if not names:
        return {}
    roster = crew_of(sheet.run.line, at.date()) or []
    qualified = sum(one.qualified and name_key(one.name) in names for one in roster)
    return {"crew": str(len(names)), "qualified": str(qualified)}


def _correct_drill(run: Run, row: RunEvent) -> None:
    """Correct the drill's record where a later row changed what the clock measured."""
    drill = drill_of(run)
    now = timezone.now()
    sheet = run_sheet(run, max(now, row.happened_at), now)
    taken = dict(drill.readings.values_list("key", "as_entered")) if drill else {}
    measured = sheet.values
    values = {key: value for key, value in taken.items() if key not in BOUNDS} | measured
    if values == taken or not _says_anything(values) or run.sort == Run.Sort.LOAN:
        return
    record_inspection(
        department=run.department, check_key="setup", line=run.line, values=values,
        happened_at=drill.happened_at if drill else sheet.received.happened_at,
        by=row.by, by_name=row.by_name, client_id=derived(row.client_id, "drill") if drill else drill_id(run),
        started_at=sheet.ordered, remark=f"From the run sheet, corrected: {run.title}"[:300], corrects=drill,
    )  # fmt: skip
