"""Writes one judged check: inspection, readings, proofs, deficiencies, what it takes out and what it restores.

Both ways in (one live check, a register of thousands) end here. Reading and proof rows, which nothing points at, may be
held back and written together.
"""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from inspections.entry import Entry
from inspections.models import Inspection, Proof, Reading
from inspections.services.book import Book, Fault, Past
from inspections.services.faults import close_fault, derived, grade_found, open_fault, resettle
from inspections.services.noticed import note_check, note_snap
from inspections.verdicts import judge
from inspections.verdicts.core import ModeOutcome, Verdict
from inventory.models import Count, Item, Lot
from inventory.services import accept_by_test, record_count
from shared.models import User

BATCH = 400


@dataclass(frozen=True, slots=True)
class Signed:
    """Who, when, and by which way it came."""

    happened_at: datetime
    recorded_at: datetime
    by_name: str
    by: User | None = None
    source: str = "page"


@dataclass(slots=True)
class Check:
    """One check as it is to be written. Exactly one of item, lot and line is given."""

    check_key: str
    procedure: Any
    entry: Entry
    signed: Signed
    client_id: uuid.UUID
    item: Item | None = None
    lot: Lot | None = None
    line: Any = None
    walk: Any = None
    started_at: datetime | None = None
    remark: str = ""
    corrects: Inspection | None = None


class Recorder:
    """Writes checks of one department inside the caller's transaction."""

    def __init__(self, book: Book, *, hold_back: bool = False) -> None:
        self.book, self.department, self.hold_back = book, book.department, hold_back
        self.touched_items: set[int] = set()
        self.touched_lines: set[int] = set()
        self._readings: list[Reading] = []
        self._proofs: list[Proof] = []
        self._counts: list[Count] = []

    def record(self, check: Check) -> Inspection:
        """Judge a check and write everything that follows from it."""
        items = self._items_seen(check)
        verdict = self._judge(check, items)
        inspection = self._write(check, verdict)
        self._write_readings(inspection, check.entry)
        self._write_proofs(inspection, check, verdict, items)
        for item in items:
            mine = [mode for mode in verdict.modes if self._concerns(check, item, mode)]
            self._settle(inspection, item, mine)
        if check.item is not None and verdict.measured:
            self.book.pasts(check.item).append(
                Past(
                    check.check_key,
                    inspection.happened_at,
                    check.entry.values.get("acceptance") is True,
                    inspection.measured,
                )
            )
        self._count(inspection, check)
        self._accept(inspection, check)
        if seen := [item for item in items if item.pk in self.book.watched]:
            note_check(inspection, seen, verdict.modes)
            note_snap(inspection)
        self.touched_items |= {item.pk for item in items}
        if check.line is not None:
            self.touched_lines.add(check.line.pk)
        if not self.hold_back:
            self.flush()
        return inspection

    def flush(self) -> None:
        """Write what was held back."""
        Reading.objects.bulk_create(self._readings, batch_size=BATCH)
        Proof.objects.bulk_create(self._proofs, batch_size=BATCH)
        Count.objects.bulk_create(self._counts, batch_size=BATCH)
        self._readings, self._proofs, self._counts = [], [], []

    # Judging.

    def _items_seen(self, check: Check) -> list[Item]:
        if check.item is not None:
            return [check.item]
        if check.line is not None:
            return self.book.items_of(check.line, check.check_key, check.signed.happened_at, check.signed.recorded_at)
        return []

    def _judge(self, check: Check, items: Sequence[Item]) -> Verdict:
        at, on = check.signed.happened_at, self.book.day(check.signed.happened_at)
        if check.item is not None:
            subject = self.book.subject(check.check_key, check.item, at, check.entry.steps)
            if check.check_key == "propane" and check.entry.values.get("upright_outdoors") is False:
                subject = replace(subject, room_lb=self.book.propane_beside(check.item, at))
            limits = self.book.limits(check.item.kind, on)
        elif check.lot is not None:
            subject = self.book.subject_of_lot(check.lot, at)
            limits = self.book.limits(check.lot.kind, on)
        else:
            subject = self.book.subject_of_line(check.check_key, check.line, items, at)
            limits = self.book.limits(None, on)
        if meters := str(check.entry.values.get("instrument") or ""):
            units = {read.unit for read in check.entry.reads if read.unit}
            subject = replace(subject, **self.book.meters_used(meters, at, units))
        asked = check.procedure.definition["inputs"]
        return judge(check.check_key, subject, check.entry.values, limits, asked)

    # Writing.

    def _base(self, signed: Signed, client_id: uuid.UUID) -> dict[str, Any]:
        return {
            "department": self.department,
            "client_id": client_id,
            "happened_at": signed.happened_at,
            "recorded_at": signed.recorded_at,
            "by": signed.by,
            "by_name": signed.by_name,
        }

    def _write(self, check: Check, verdict: Verdict) -> Inspection:
        return Inspection.objects.create(
            **self._base(check.signed, check.client_id),
            corrects=check.corrects,
            check_key=check.check_key,
            procedure=check.procedure,
            walk=check.walk,
            item=check.item,
            lot=check.lot,
            line=check.line,
            started_at=check.started_at,
            verdict=verdict.outcome.value,
            findings=[asdict(finding) for finding in verdict.findings]
            + [{"key": "", "text": text, "outcome": "remark"} for text in verdict.quality],
            measured={} if verdict.outcome == "void" else {k: asdict(m) for k, m in verdict.measured.items()},
            summary=verdict.summary[:300],
            units_checked=self._units(check),
            source=check.signed.source,
            remark=check.remark[:300],
        )

    def _units(self, check: Check) -> int:
        """A check on a row of several alike proves one unit, unless it says more or is a count."""
        said = check.entry.values.get("counted" if check.check_key == "count" else "units")
        return max(1, int(said)) if isinstance(said, (int, float)) else 1

    def _write_readings(self, inspection: Inspection, entry: Entry) -> None:
        for read in entry.reads:
            number = read.value if isinstance(read.value, float) else None
            text = ("yes" if read.value else "no") if isinstance(read.value, bool) else str(read.value)
            self._readings.append(
                Reading(
                    inspection=inspection,
                    key=read.key,
                    number=number,
                    text="" if number is not None else text[:200],
                    unit=read.unit,
                    as_entered=read.as_entered[:200],
                )
            )

    def _concerns(self, check: Check, item: Item, mode: ModeOutcome) -> bool:
        return check.line is None or mode.code in item.kind.checks.get(check.check_key, ())

    def _write_proofs(self, inspection: Inspection, check: Check, verdict: Verdict, items: Iterable[Item]) -> None:
        """One row for each mode and item; what no item of the line has is shown of the line itself."""
        items = list(items)
        for mode in verdict.modes:
            of = [item for item in items if self._concerns(check, item, mode)]
            for item in of:
                self._proofs.append(self._proof(inspection, mode, item=item))
            if not of and check.line is not None:
                self._proofs.append(self._proof(inspection, mode, line=check.line))

    def _proof(self, inspection: Inspection, mode: ModeOutcome, **of: Any) -> Proof:
        subject = next(iter(of.values()))
        return Proof(
            **self._base(_signed(inspection), derived(inspection.client_id, f"proof {mode.code} {subject.pk}")),
            inspection=inspection,
            mode_code=mode.code,
            outcome=mode.outcome,
            ratio=mode.ratio,
            # A check of the whole line speaks for every unit of a row of several alike.
            units=self.book.expected(subject) if inspection.line_id and "item" in of else inspection.units_checked,
            **of,
        )

    def _count(self, inspection: Inspection, check: Check) -> None:
        """A count is also a row of the counts ledger; so is a single thing that was looked for and not found.

        What is spoiled or behind a broken seal is seen and of no use: the ledger holds what is left for use.
        """
        sound = inspection.measured.get("sound_units") if check.check_key == "count" else None
        counted = None if sound is None else float(sound["value"])
        if check.check_key == "look" and check.entry.values.get("seen") is False and check.item is not None:
            counted = 0.0 if self.book.expected(check.item) <= 1 else None
        if not isinstance(counted, float) or check.line is not None:
            return
        corrected = None
        if check.corrects is not None:
            corrected = Count.objects.filter(
                department=self.department, inspection_ref=check.corrects.client_id, corrections=None
            ).first()
        of = {"item": check.item, "lot": check.lot, "counted": int(counted), "corrects": corrected}
        row_id = derived(inspection.client_id, "count")
        if self.hold_back and check.item is not None:
            base = self._base(_signed(inspection), row_id)
            self._counts.append(Count(**base, **of, inspection_ref=inspection.client_id))
        else:
            base = self._base(_signed(inspection), row_id)
            record_count(**base, **of, inspection_ref=inspection.client_id)

    def _accept(self, inspection: Inspection, check: Check) -> None:
        """Take what was delivered out of its box by an acceptance test that passed, and by no other verdict."""
        said = check.entry.values.get("acceptance") is True and inspection.verdict == Inspection.Verdict.PASS
        if check.item is not None and said:
            accept_by_test(
                item=check.item,
                at=inspection.happened_at,
                by=inspection.by,
                by_name=inspection.by_name,
                client_id=derived(inspection.client_id, "accepted"),
            )

    # Faults.

    def _settle(self, inspection: Inspection, item: Item, modes: Sequence[ModeOutcome]) -> None:
        if self.book.saw(item, inspection.happened_at):
            # It comes in late: what later records did about the same faults is told anew, in order of time.
            self.flush()
            codes = {mode.code for mode in modes}
            resettle(book=self.book, item=item, recorded_at=inspection.recorded_at, codes=codes)
            return
        for mode in modes:
            if mode.outcome in ("failed", "limited"):
                self._found(inspection, item, mode)
            elif mode.outcome == "proven":
                for fault in self.book.faults(item):
                    if fault.row.mode_code == mode.code:
                        self._restore(inspection, item, fault)

    def _found(self, inspection: Inspection, item: Item, mode: ModeOutcome) -> None:
        """Open a deficiency, unless one as grave stands already; an impairment takes the item out at once."""
        grade = grade_found(self.book, mode.code, mode.outcome, inspection.happened_at)
        standing = [f for f in self.book.faults(item) if f.row.mode_code == mode.code and not f.awaiting]
        if any(f.grade == "I" or grade != "I" for f in standing):
            return
        row = open_fault(inspection, item, mode.code, grade, mode.text or inspection.summary)
        self.book.episodes(item).append(Fault(row))

    def _restore(self, inspection: Inspection, item: Item, fault: Fault) -> None:
        """Put a fault right by the same proof; an impairment needs a name that neither found nor repaired it."""
        row = fault.row
        if inspection.check_key != row.check_key:
            return
        names = self.book.names_of(inspection.by, inspection.by_name, inspection.source)
        alone = row.grade == "I" and fault.is_own(names, inspection.happened_at)
        if alone and fault.awaiting:
            return
        close_fault(inspection, item, row, alone=alone)
        fault.restored.append((inspection.happened_at, alone))


def _signed(inspection: Inspection) -> Signed:
    return Signed(inspection.happened_at, inspection.recorded_at, inspection.by_name, inspection.by, inspection.source)
