"""What the page of one record shows, and what this room adds to an item's page."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Prefetch, QuerySet

from inspections import queries
from inspections.models import Inspection, Procedure, Proof, Reading, Repair, Restoration, Upkeep
from inspections.page_queries import EVERYWHERE, LINE_CHECKS, CheckRow, check_name, names_of, procedures
from inspections.queries import WEAKEST_FIRST, DueCheck, EvidenceOfMode, OpenDeficiency, evidence_word
from inspections.shown import entered
from inventory import queries as cache
from inventory.models import FailureMode, Item, StateEvent
from inventory.queries import ItemStanding
from shared.models import Department

# One inspection ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ReadingRow:
    label: str
    entered: str
    unit: str


@dataclass(frozen=True)
class ModeShown:
    """What an inspection showed of one failure mode."""

    code: str
    name: str
    word: str
    note: str = ""


@dataclass(frozen=True)
class InspectionView:
    """One record as its page shows it."""

    row: Inspection
    title: str
    readings: list[ReadingRow]
    findings: list[Mapping[str, Any]]
    remarks: list[str]
    modes: list[ModeShown]
    blind: list[str]
    faults: list[OpenDeficiency]
    modes_by_code: Mapping[str, FailureMode]
    standing: ItemStanding | None
    restored: list[Restoration] = field(default_factory=list)
    quality: list[queries.QualityFlag] = field(default_factory=list)

    @property
    def proven(self) -> list[ModeShown]:
        return [mode for mode in self.modes if mode.word == "proven"]

    @property
    def is_superseded(self) -> bool:
        return bool(self.row.corrections.all())

    @property
    def impairments(self) -> list[OpenDeficiency]:
        return [fault for fault in self.faults if fault.deficiency.grade == "I"]

    @property
    def restores(self) -> str:
        """Return what restores the thing, in the procedure's words."""
        return (self.row.procedure.definition if self.row.procedure else {}).get("restores", "")

    @property
    def do_now(self) -> list[str]:
        rows = [self.modes_by_code.get(fault.deficiency.mode_code) for fault in self.faults]
        return list(dict.fromkeys(row.do_now for row in rows if row and row.do_now))

    @property
    def cautions(self) -> list[str]:
        rows = [self.modes_by_code.get(fault.deficiency.mode_code) for fault in self.faults]
        return list(dict.fromkeys(row.caution for row in rows if row and row.caution))

    @property
    def not_by(self) -> list[str]:
        """Return the names that may not restore it alone."""
        return list(dict.fromkeys(name for fault in self.impairments for name in fault.own_names))


OUTCOMES = {"proven": "proven", "claimed": "claimed", "limited": "present, limits", "failed": "found present"}


def inspection_of(department: Department, client_id: object) -> Inspection | None:
    """Return one of the department's records with all that its page draws on."""
    rows = Inspection.objects.filter(department=department, client_id=client_id).select_related(
        "procedure", "walk__place", "item__kind", "item__department", "lot__kind", "line", "corrects", "by"
    )
    proofs = Prefetch("proofs", Proof.objects.order_by("mode_code"))
    restorations = Prefetch("restorations", Restoration.objects.select_related("deficiency"))
    return rows.prefetch_related("readings", proofs, "corrections", restorations).first()


def inspection_view(row: Inspection, at: datetime, on: date, uses_si: bool = False) -> InspectionView:
    """Return one record with its findings, what it showed, and what stands open because of it."""
    modes = cache.modes_for(row.department, on)
    standing = cache.standing_of_items([row.item], at, at).get(row.item_id) if row.item else None
    faults = queries.open_deficiencies(row.department, at, at)
    return InspectionView(
        row=row,
        title=check_name(row.procedure, row.check_key),
        readings=_readings(row, uses_si),
        findings=[found for found in row.findings if found.get("outcome") != "remark"],
        remarks=[found["text"] for found in row.findings if found.get("outcome") == "remark"],
        modes=_modes_shown(row, modes),
        blind=_blind(row, modes),
        faults=[f for f in faults if _concerns(f, row)],
        modes_by_code=modes,
        standing=standing,
        restored=list(row.restorations.all()),
        quality=queries.quality_of(row),
    )


def _concerns(fault: OpenDeficiency, row: Inspection) -> bool:
    """Whether an open fault is this record's: found by it, or still open after it though it looked at the same mode."""
    if fault.deficiency.inspection_id == row.pk:
        return True
    codes = {proof.mode_code for proof in row.proofs.all() if proof.item_id == fault.deficiency.item_id}
    return fault.deficiency.mode_code in codes


def _readings(row: Inspection, uses_si: bool) -> list[ReadingRow]:
    definition = row.procedure.definition if row.procedure else {}
    asked = {
        a["key"]: (i, a) for i, a in enumerate((*definition.get("inputs", ()), *definition.get("common_inputs", ())))
    }
    ordered = sorted(row.readings.all(), key=lambda r: (asked[r.key][0] if r.key in asked else len(asked), r.pk))
    return [ReadingRow(_label(r, asked), *entered(r, uses_si)) for r in ordered]


def _label(reading: Reading, asked: Mapping[str, Any]) -> str:
    return asked[reading.key][1]["label"] if reading.key in asked else reading.key.replace("_", " ")


def _modes_shown(row: Inspection, modes: Mapping[str, FailureMode]) -> list[ModeShown]:
    shown: dict[str, ModeShown] = {}
    for proof in row.proofs.all():
        note = f"at {proof.ratio:.0%} of full" if proof.ratio is not None else ""
        shown[proof.mode_code] = ModeShown(
            proof.mode_code, _name(modes, proof.mode_code), OUTCOMES[proof.outcome], note
        )
    kind = row.item.kind if row.item else row.lot.kind if row.lot else None
    visible = kind.checks.get(row.check_key, ()) if kind else ()
    left = [ModeShown(code, _name(modes, code), "not shown") for code in visible if code not in shown]
    order = [*OUTCOMES.values()][::-1]
    return sorted(shown.values(), key=lambda m: (order.index(m.word), m.code)) + left


def _blind(row: Inspection, modes: Mapping[str, FailureMode]) -> list[str]:
    kind = row.item.kind if row.item else None
    if kind is None:
        return []
    seen = kind.scheduled_modes
    return [f"{code} {_name(modes, code)}".strip() for code in kind.mode_codes if code not in seen]


def _name(modes: Mapping[str, FailureMode], code: str) -> str:
    return modes[code].name if code in modes else ""


# An item's evidence --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ModeRow:
    """What is known of one failure mode of an item."""

    code: str
    name: str
    grade: str
    word: str
    known: EvidenceOfMode | None
    seen_by: list[str]

    @property
    def is_trusted(self) -> bool:
        """Whether a proof stands whose date says something, past it or not."""
        return self.word in ("proven", "stale")

    @property
    def is_blind_spot(self) -> bool:
        return not self.seen_by


@dataclass(frozen=True)
class ItemEvidence:
    """Everything this room knows of one item."""

    modes: list[ModeRow]
    checks: list[CheckRow]
    faults: list[OpenDeficiency]
    repairs: list[Repair]
    upkeep: list[Upkeep]
    modes_by_code: Mapping[str, FailureMode]
    by_hand: StateEvent | None = None  # out of service on somebody's word, or back on one name alone

    @property
    def impairments(self) -> list[OpenDeficiency]:
        return [fault for fault in self.faults if fault.deficiency.grade == "I"]

    @property
    def not_by(self) -> list[str]:
        return list(dict.fromkeys(name for fault in self.impairments for name in fault.own_names))

    @property
    def restoring(self) -> list[CheckRow]:
        """Return the checks that restore it: the same that found the faults."""
        wanted = {fault.deficiency.check_key for fault in self.impairments}
        return [check for check in self.checks if check.key in wanted]

    @property
    def due(self) -> list[CheckRow]:
        return [check for check in self.checks if check.is_pressing]

    @property
    def later(self) -> list[CheckRow]:
        return [check for check in self.checks if not check.is_pressing]


def item_evidence(item: Item, at: datetime, on: date) -> ItemEvidence:
    """Return the evidence of one item: each failure mode, what is due, faults and repairs."""
    modes, named = cache.modes_for(item.department, on), procedures(item.department, on)
    due = {check.check_key: check for check in queries.due([item], on)}
    known = queries.evidence([item], at, at).get(item.pk, {})
    return ItemEvidence(
        modes=_mode_rows(item, known, modes, named, at),
        checks=_item_checks(item, due, named, modes, on),
        faults=[f for f in queries.open_deficiencies(item.department, at, at) if f.deficiency.item_id == item.pk],
        repairs=list(
            item.repairs.filter(corrections=None).select_related("deficiency").order_by("-happened_at", "-pk")
        ),
        upkeep=list(item.upkeep.filter(corrections=None).order_by("-happened_at", "-pk")[:10]),
        modes_by_code=modes,
        by_hand=_by_hand(item, at),
    )


def _by_hand(item: Item, at: datetime) -> StateEvent | None:
    """Return the row that keeps an item out, or back on one name alone, where no check is behind it."""
    event = StateEvent.Event
    rows = StateEvent.objects.as_of(at, at).filter(
        item=item, mode_code="", event__in=(event.TAKEN_OUT, event.RESTORED, event.RESTORED_AWAITING)
    )
    newest = rows.order_by("-happened_at", "-pk").first()
    return newest if newest and newest.event != event.RESTORED else None


def _item_checks(
    item: Item,
    due: Mapping[str, DueCheck],
    named: Mapping[str, Procedure],
    modes: Mapping[str, FailureMode],
    on: date,
) -> list[CheckRow]:
    keys = [key for key in item.kind.checks if key not in LINE_CHECKS]
    keys += [EVERYWHERE] if EVERYWHERE not in keys else []
    rows = [
        CheckRow(
            key,
            check_name(named.get(key), key),
            due.get(key),
            due_on=due[key].due_on if key in due else None,
            why=due[key].why if key in due else "",
            on=on,
            shows=names_of(due.get(key), modes),
        )
        for key in keys
    ]
    return sorted(rows, key=lambda row: row.due_on or date.max)


def _mode_rows(
    item: Item,
    known: Mapping[str, EvidenceOfMode],
    modes: Mapping[str, FailureMode],
    named: Mapping[str, Procedure],
    at: datetime,
) -> list[ModeRow]:
    rows = []
    for code in dict.fromkeys((*item.kind.mode_codes, *known)):
        seen_by = [check_name(named.get(key), key) for key, codes in item.kind.checks.items() if code in codes]
        grade = modes[code].get_grade_display() if code in modes else ""
        of = known.get(code)
        rows.append(ModeRow(code, _name(modes, code), grade, evidence_word(of, at), of, seen_by))
    return sorted(rows, key=lambda row: (WEAKEST_FIRST.index(row.word), row.code))


def readings_of(item: Item) -> QuerySet[Inspection]:
    """Return an item's records, newest first, with their readings."""
    rows = item.inspections.select_related("procedure", "corrects").prefetch_related("readings", "corrections")
    return rows.order_by("-happened_at", "-pk")


@dataclass(frozen=True)
class RecordRow:
    """One record as an item's history lists it."""

    row: Inspection
    readings: list[ReadingRow]


def record_rows(rows: Iterable[Inspection], uses_si: bool) -> list[RecordRow]:
    return [RecordRow(row, _readings(row, uses_si)) for row in rows]
