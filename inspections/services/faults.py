"""What a check does about faults: opens one, puts one right, and tells them anew where a record comes in late."""

import uuid
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from inspections.models import Deficiency, Inspection, Proof, Repair, Restoration
from inspections.services.book import Book
from inventory.models import Item, StateEvent
from inventory.services import record_state
from shared.people import name_key

Event = StateEvent.Event
Row = TypeVar("Row", Proof, Deficiency)


def derived(parent: uuid.UUID, what: str) -> uuid.UUID:
    """Return the id of a row that follows from another: the same parent makes the same row."""
    return uuid.uuid5(parent, what)


def grade_found(book: Book, code: str, outcome: str, at: datetime) -> str:
    """Return how grave a mode is as it was found: failed is an impairment, limits are what the mode says, or C."""
    if outcome == "failed":
        return "I"
    mode = book.modes(book.day(at)).get(code)
    return mode.grade if mode is not None and mode.grade != "I" else "C"


def open_fault(inspection: Inspection, item: Item, code: str, grade: str, text: str, **signed: Any) -> Deficiency:
    """Open a deficiency; an impairment takes the item out of service."""
    row = Deficiency.objects.create(
        **_signed(inspection, f"fault {code} {item.pk}") | signed,
        inspection=inspection,
        item=item,
        mode_code=code,
        grade=grade,
        check_key=inspection.check_key,
        text=text[:300],
    )
    if grade == "I":
        _record_state(inspection, item, Event.TAKEN_OUT, code, row.text, **signed)
    return row


def close_fault(inspection: Inspection, item: Item, fault: Deficiency, *, alone: bool, **signed: Any) -> None:
    """Put a deficiency right by a check that proved it gone, or leave it awaiting a second name."""
    standing = fault.restorations.filter(inspection=inspection, corrections=None).first()
    if standing is not None and standing.awaiting_second_name == alone:
        return
    row_id = f"restored {fault.pk}" + (f" after {standing.pk}" if standing else "")
    Restoration.objects.create(
        **_signed(inspection, row_id) | signed,
        deficiency=fault,
        inspection=inspection,
        awaiting_second_name=alone,
        corrects=standing,
    )
    if fault.grade == "I":
        event = Event.RESTORED_AWAITING if alone else Event.RESTORED
        _record_state(inspection, item, event, fault.mode_code, inspection.summary, **signed)


def _signed(inspection: Inspection, what: str) -> dict[str, Any]:
    return {
        "department": inspection.department,
        "client_id": derived(inspection.client_id, what),
        "happened_at": inspection.happened_at,
        "recorded_at": inspection.recorded_at,
        "by": inspection.by,
        "by_name": inspection.by_name,
    }


def _record_state(inspection: Inspection, item: Item, event: str, code: str, reason: str, **signed: Any) -> None:
    """Record what a check did to the item; where it was told otherwise before, the new row corrects that one."""
    told = {
        derived(inspection.client_id, f"state {other} {code} {item.pk}"): other
        for other in (Event.RESTORED, Event.RESTORED_AWAITING)
        if event in (Event.RESTORED, Event.RESTORED_AWAITING) and other != event
    }
    before = StateEvent.objects.filter(
        department=inspection.department, client_id__in=list(told), corrections=None
    ).first()
    record_state(
        **_signed(inspection, f"state {event} {code} {item.pk}") | signed,
        item=item,
        event=event,
        reason=reason[:240],
        mode_code=code,
        corrects=before,
    )


# Late records ------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Episode:
    row: Deficiency
    worked: set[str] = field(default_factory=set)
    awaiting: bool = False


def resettle(*, book: Book, item: Item, recorded_at: datetime, codes: Collection[str] | None = None) -> None:
    """Tell an item's faults anew in order of time, after a record came in late; only rows that are missing are added.

    What is there already stays. A fault that turns out to have been found before is told from its times to be the same
    one (``inspections.episodes``), and a restoration that turns out to lack its second name is corrected by a new row.
    """
    if codes is None:
        codes = set(
            Deficiency.objects.filter(department=book.department, item=item).values_list("mode_code", flat=True)
        )
    repairs = list(Repair.objects.filter(department=book.department, item=item, corrections=None))
    for code in sorted(codes):
        _Retelling(book, item, code, recorded_at, repairs).tell()
    book.forget_faults(item)


def _not_corrected(rows: Iterable[Row]) -> list[Row]:
    """Leave out what a corrected inspection showed. Asked by ids: joined in one query, a database may read them all."""
    rows = list(rows)
    inspections = {row.inspection_id for row in rows if row.inspection_id}
    corrected = set(Inspection.objects.filter(corrects__in=inspections).values_list("corrects_id", flat=True))
    return [row for row in rows if row.inspection_id not in corrected]


class _Retelling:
    """One mode of one item, told from its first row to its last."""

    def __init__(self, book: Book, item: Item, code: str, recorded_at: datetime, repairs: list[Repair]) -> None:
        self.book, self.item, self.code = book, item, code
        self.signed = {"recorded_at": recorded_at}
        self.repairs = repairs
        self.open: list[_Episode] = []
        found = Deficiency.objects.filter(department=book.department, item=item, mode_code=code, corrections=None)
        rows = _not_corrected(found)
        self.by_inspection = {row.inspection_id: row for row in rows if row.inspection_id}
        self.by_hand = [row for row in rows if row.inspection_id is None]
        unseen = [row.pk for row in self.by_hand if not row.check_key]
        looks = Restoration.objects.filter(deficiency__in=unseen, corrections=None, inspection__corrections=None)
        self.looks = list(looks.select_related("inspection__department"))

    def tell(self) -> None:
        proofs = (
            Proof.objects.filter(department=self.book.department, item=self.item, mode_code=self.code)
            .exclude(outcome=Proof.Outcome.CLAIMED)
            .select_related("inspection__department")
        )
        rows = (*_not_corrected(proofs), *self.by_hand, *self.repairs, *self.looks)
        told = [(row.happened_at, str(row.client_id), row) for row in rows]
        for _, _, row in sorted(told, key=lambda one: one[:2]):
            if isinstance(row, Repair):
                self._repaired(row)
            elif isinstance(row, Deficiency):
                self._found_by_hand(row)
            elif isinstance(row, Restoration):
                self._put_right([e for e in self.open if e.row.pk == row.deficiency_id], row.inspection)
            elif row.outcome == Proof.Outcome.PROVEN:
                check = row.inspection.check_key
                self._put_right([e for e in self.open if e.row.check_key == check], row.inspection)
            else:
                self._found(row)

    def _stands(self, grade: str) -> bool:
        return any((e.row.grade == "I" or grade != "I") and not e.awaiting for e in self.open)

    def _found_by_hand(self, row: Deficiency) -> None:
        if not self._stands(row.grade):
            self.open.append(_Episode(row))

    def _found(self, proof: Proof) -> None:
        grade = grade_found(self.book, self.code, proof.outcome, proof.happened_at)
        if self._stands(grade):
            return
        row = self.by_inspection.get(proof.inspection_id)
        if row is None:
            text = proof.inspection.summary
            row = open_fault(proof.inspection, self.item, self.code, grade, text, **self.signed)
        self.open.append(_Episode(row))

    def _repaired(self, repair: Repair) -> None:
        for episode in self.open:
            if repair.deficiency_id in (None, episode.row.pk):
                episode.worked.add(name_key(repair.by_name))

    def _put_right(self, faults: list[_Episode], inspection: Inspection) -> None:
        names = self.book.names_of(inspection.by, inspection.by_name, inspection.source)
        for episode in faults:
            own = {name_key(episode.row.by_name), *episode.worked}
            alone = episode.row.grade == "I" and not own.isdisjoint(names)
            if alone and episode.awaiting and not episode.row.restorations.filter(inspection=inspection).exists():
                continue
            close_fault(inspection, self.item, episode.row, alone=alone, **self.signed)
            episode.awaiting = alone
            if not alone:
                self.open.remove(episode)
