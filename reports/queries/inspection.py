"""The sheets of one inspection and of one walk."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from inspections import queries as evidence_queries
from inspections import schedule
from inspections.models import Deficiency, Inspection, Walk
from inspections.queries import EvidenceOfMode
from inspections.queries.ledgers import Rules, corrected_inspections
from inspections.shown import entered
from inventory.models import FailureMode, Item
from inventory.queries import ItemStanding, standing_of_items
from reports.queries.faults import fault_lines
from reports.sheets import NOT_RECORDED, FaultLine, FindingLine, InspectionSheet, ModeLine, ReadingLine, WalkSheet
from shared.models import Department

# How units are written on paper; the others read as they are named.
UNIT_SIGNS = {"degF": "\u00b0F", "ddegF": "\u00b0F", "percent": "%", "gpm": "gal/min", "ratio": ""}
SOURCES = {"page": "a page", "api": "the API", "register": "a paper register", "phone": "a phone"}


def inspection_sheet(inspection: Inspection, as_of: datetime) -> InspectionSheet:
    """Return one inspection with everything known of it at ``as_of``."""
    return _sheets(inspection.department, [inspection.pk], as_of)[0]


def walk_sheet(walk: Walk, as_of: datetime) -> WalkSheet:
    """Return one walk with its inspections known at ``as_of``, in the order they were done."""
    rows = Inspection.objects.as_of(as_of, as_of).filter(walk=walk).order_by("happened_at", "recorded_at", "pk")
    signed = walk.signed_at is not None and walk.signed_at <= as_of
    return WalkSheet(
        department=walk.department.name,
        time_zone=walk.department.time_zone,
        as_of=as_of,
        record_id=str(walk.client_id),
        place=walk.place.name,
        started_at=walk.started_at,
        started_by=walk.by.signed_name,
        signed_at=walk.signed_at if signed else None,
        signed_name=walk.signed_name if signed else "",
        note=walk.note,
        inspections=tuple(_sheets(walk.department, list(rows.values_list("pk", flat=True)), as_of)),
    )


def _sheets(department: Department, ids: Sequence[int], as_of: datetime) -> list[InspectionSheet]:
    found = (
        Inspection.objects.filter(department=department, pk__in=ids)
        .select_related("procedure", "walk__place", "item__kind", "lot__kind", "line", "corrects", "department")
        .prefetch_related("readings", "proofs", "corrections")
        .in_bulk()
    )
    rows = [found[pk] for pk in ids]
    if not rows:
        return []
    context = _Context(department, rows, as_of)
    return [context.sheet(row) for row in rows]


class _Context:
    """What the sheets of some inspections share, read once."""

    def __init__(self, department: Department, rows: Sequence[Inspection], as_of: datetime) -> None:
        self.department, self.as_of, self.zone = department, as_of, department.time_zone
        items = list({row.item.pk: row.item for row in rows if row.item}.values())
        self.then = standing_of_items(items, max(row.happened_at for row in rows), as_of)
        self.now = standing_of_items(items, as_of, as_of)
        self.evidence = evidence_queries.evidence(items, as_of, as_of) if items else {}
        self.rules = Rules(department, as_of.astimezone(ZoneInfo(self.zone)).date())
        self.modes = self.rules.modes
        self.faults = self._faults(items)

    def _faults(self, items: Sequence[Item]) -> dict[int, list[tuple[Deficiency, FaultLine]]]:
        corrected = corrected_inspections(self.department, self.as_of)
        rows = list(
            Deficiency.objects.as_of(self.as_of, self.as_of)
            .filter(department=self.department, item__in=items)
            .exclude(inspection__in=corrected)
            .select_related("item")
            .order_by("happened_at", "pk")
        )
        lines = fault_lines(rows, self.modes, self.as_of, self.zone)
        by_item: dict[int, list[tuple[Deficiency, FaultLine]]] = defaultdict(list)
        for row in rows:
            by_item[row.item_id].append((row, lines[row.pk]))
        return by_item

    def _of(self, row: Inspection) -> Iterator[FaultLine]:
        """The faults that this inspection found, restored, or found again while they stood open."""
        seen = {proof.mode_code for proof in row.proofs.all()}
        for fault, line in self.faults.get(row.item_id, ()):
            stood = line.found_at <= row.happened_at and (line.restored_at or row.happened_at) >= row.happened_at
            if fault.inspection_id == row.pk or (stood and fault.mode_code in seen):
                yield line

    def sheet(self, row: Inspection) -> InspectionSheet:
        subject, serial, kind = _subject(row)
        standing = self.then.get(row.item_id)
        procedure = row.procedure
        correction = next((c for c in row.corrections.all() if c.recorded_at <= self.as_of), None)
        return InspectionSheet(
            department=self.department.name,
            time_zone=self.zone,
            as_of=self.as_of,
            record_id=str(row.client_id),
            check=check_name(row),
            subject=subject,
            serial=serial,
            kind=kind,
            place=row.walk.place.name if row.walk else _name(standing and standing.place),
            line=row.line.name if row.line else _name(standing and standing.line),
            procedure=f"{procedure.name}, version {procedure.version}" if procedure else NOT_RECORDED,
            procedure_origin=(procedure.origin if procedure else "") or NOT_RECORDED,
            started_at=row.started_at,
            ended_at=row.happened_at,
            recorded_at=row.recorded_at,
            inspector=row.by_name,
            signed=self._signed(row),
            verdict=row.verdict,
            summary=row.summary,
            remark=row.remark,
            source=SOURCES.get(row.source, row.source),
            units_checked=row.units_checked,
            corrects=str(row.corrects.client_id) if row.corrects else "",
            corrected_by=str(correction.client_id) if correction else "",
            readings=_readings(row),
            findings=tuple(_finding(f) for f in row.findings),
            **self._modes(row),
            faults=tuple(self._of(row)),
            disposition=disposition(self.now.get(row.item_id), self.zone) if row.item else "not an item",
            next_due=self._next_due(row),
            cautions=_cautions(procedure.definition if procedure else {}),
        )

    def _signed(self, row: Inspection) -> str:
        if row.walk and row.walk.signed_at and row.walk.signed_at <= self.as_of:
            return f"{row.walk.signed_name}, with the walk, {self._day(row.walk.signed_at)}"
        if row.source == "register":
            return f"{row.by_name}, as the register names them"
        return f"{row.by_name}, on recording, {self._day(row.recorded_at)}"

    def _day(self, at: datetime) -> str:
        return f"{at.astimezone(ZoneInfo(self.zone)):%d %b %Y}"

    def _modes(self, row: Inspection) -> dict[str, Any]:
        shown = {p.mode_code: p for p in row.proofs.all()}
        kind = row.item.kind if row.item else row.lot.kind if row.lot else None
        visible = kind.checks.get(row.check_key, []) if kind else []
        codes = [*dict.fromkeys([*visible, *shown])]
        lines = []
        for code in codes:
            proof = shown.get(code)
            note = f"measured at {proof.ratio:.0%} of full" if proof and proof.ratio is not None else ""
            lines.append(ModeLine(code, *self._mode(code), proof.outcome if proof else "not shown", note))
        everything = kind.mode_codes if kind else []
        seen = kind.scheduled_modes if kind else set()
        return {
            "modes": tuple(lines),
            "seen_by_others": tuple(self._named(c) for c in everything if c in seen and c not in codes),
            "blind_spots": tuple(self._named(c) for c in everything if c not in seen),
        }

    def _mode(self, code: str) -> tuple[str, str]:
        row: FailureMode | None = self.modes.get(code)
        return (row.name, row.grade) if row else ("", "")

    def _named(self, code: str) -> str:
        return f"{code} {self._mode(code)[0]}".strip()

    def _next_due(self, row: Inspection) -> str:
        """When this check is next due, by the earliest mode it can see, and what asks for it."""
        if row.item is None:
            return "does not apply"
        known = self.evidence.get(row.item_id, {})
        asks = [
            self._asks(row, code, known[code]) for code in row.item.kind.checks.get(row.check_key, ()) if code in known
        ]
        asks = [ask for ask in asks if ask]
        if not asks:
            return "when an event asks for it: no calendar interval"
        today = self.as_of.astimezone(ZoneInfo(self.zone)).date()
        due, code, why = min(asks)
        late = ", overdue" if due < today else ""
        return f"{due:%d %b %Y}{late}: {why} ({code})"

    def _asks(self, row: Inspection, code: str, known: EvidenceOfMode) -> tuple[date, str, str] | None:
        zone = ZoneInfo(self.zone)
        today = self.as_of.astimezone(zone).date()
        rule = self.rules.rule(row.item.kind.key, code)
        if known.outcome in ("failed", "limited"):
            return today, code, "the same proof restores it"
        if known.reopened:
            return today, code, "reopened since by use, repair or a move"
        if known.proven_at is None:
            return (today, code, "never proven") if rule.months is not None else None
        due = schedule.due_on(known.proven_at.astimezone(zone), rule.months, today)
        return (due, code, "its interval ends") if due else None


def check_name(row: Inspection) -> str:
    """Return what the check is called where the record keeps its procedure, else its key."""
    return row.procedure.name if row.procedure else row.check_key.replace("_", " ").capitalize()


def _subject(row: Inspection) -> tuple[str, str, str]:
    if row.item:
        kind = row.item.kind.name if row.item.kind else NOT_RECORDED
        return f"{row.item.tag} {row.item.name}", row.item.serial or NOT_RECORDED, kind
    if row.lot:
        return f"Lot {row.lot.number}, {row.lot.name}", row.lot.number, row.lot.kind.name
    return f"{row.line.name} as a whole" if row.line else NOT_RECORDED, "does not apply", "line"


def _name(thing: object) -> str:
    return getattr(thing, "name", "") or NOT_RECORDED


def _readings(row: Inspection) -> tuple[ReadingLine, ...]:
    definition = row.procedure.definition if row.procedure else {}
    inputs = [*definition.get("inputs", ()), *definition.get("common_inputs", ())]
    labels = {entry["key"]: entry["label"] for entry in inputs}
    order = {key: number for number, key in enumerate(labels)}
    lines = []
    for reading in sorted(row.readings.all(), key=lambda r: (order.get(r.key, len(order)), r.pk)):
        label = labels.get(reading.key, reading.key.replace("_", " "))
        # On paper in the procedure's units; what was entered in others stands beside it.
        text, unit = entered(reading, uses_si=False)
        lines.append(ReadingLine(label, text, UNIT_SIGNS.get(unit, unit)))
    return tuple(lines)


def _finding(found: Mapping[str, Any]) -> FindingLine:
    def words(key: str) -> str:
        return str(found.get(key) or "").replace("degF", "\u00b0F")

    return FindingLine(words("text"), words("outcome"), words("limit_text"), words("origin"))


def _cautions(definition: Mapping[str, Any]) -> tuple[str, ...]:
    steps = [step.get("caution") or "" for step in definition.get("steps", ()) if isinstance(step, dict)]
    return tuple(dict.fromkeys(caution for caution in [*definition.get("cautions", ()), *steps] if caution))


def disposition(standing: ItemStanding | None, zone: str) -> str:
    """Return the state an item is left in, since when and why."""
    if standing is None:
        return NOT_RECORDED
    since = f" since {standing.state_since.astimezone(ZoneInfo(zone)):%d %b %Y}" if standing.state_since else ""
    why = f": {standing.state_reason}" if standing.state_reason else ""
    second = ", awaiting a second name" if standing.awaiting_second_name else ""
    return f"{standing.state}{since}{second}{why}"
