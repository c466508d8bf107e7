"""The property record of each item, as 2 CFR 200.313(d)(1) asks for it, with every gap named."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

from inspections import queries as evidence_queries
from inspections.models import Inspection, Proof, Repair, Upkeep
from inspections.queries import OpenDeficiency
from inspections.queries.ledgers import corrected_inspections
from inventory.models import Count, FailureMode, Item, Posting, StateEvent
from inventory.queries import ItemStanding, modes_for, standing_of_department
from reports.models import Disposition
from reports.sheets import PropertyRecord
from shared.models import Department

AT_ONCE = 500  # items whose evidence is held in memory together
LOCAL = ("local", "none", "0")


@dataclass(slots=True)
class _Known:
    """What the ledgers say of one item."""

    sighted: tuple[datetime, str] | None = None
    proofs: dict[str, tuple[str, datetime]] = field(default_factory=dict)
    faults: list[OpenDeficiency] = field(default_factory=list)
    spend: Decimal | None = None
    disposition: Disposition | None = None
    disposed: StateEvent | None = None
    placed: datetime | None = None
    uses: int = 0
    hours: float = 0.0


def property_records(department: Department, as_of: datetime) -> Iterator[PropertyRecord]:
    """Yield the record of every item the department holds or ever held, as known at ``as_of``, in its order."""
    standings = standing_of_department(department, as_of, as_of).items
    modes = modes_for(department, as_of.date())
    faults: dict[int, list[OpenDeficiency]] = defaultdict(list)
    for fault in evidence_queries.open_deficiencies(department, as_of, as_of):
        faults[fault.deficiency.item_id].append(fault)
    for start in range(0, len(standings), AT_ONCE):
        some = standings[start : start + AT_ONCE]
        known = _known(department, [s.item.pk for s in some], as_of)
        for standing in some:
            known[standing.item.pk].faults = faults[standing.item.pk]
            yield _record(standing, known[standing.item.pk], modes, ZoneInfo(department.time_zone), as_of)


def _known(department: Department, ids: Sequence[int], as_of: datetime) -> Mapping[int, _Known]:
    known: dict[int, _Known] = defaultdict(_Known)

    def rows(model: type, **filters: object):  # noqa: ANN202 a query set of whichever ledger
        ledger = model.objects.as_of(as_of, as_of).filter(department=department, item__in=ids, **filters)
        return ledger.order_by("happened_at", "recorded_at", "pk")

    # A count and a check are both eyes on the thing itself; an edit of its card is not.
    for model in (Count, Inspection):
        for item, at, name in rows(model).values_list("item_id", "happened_at", "by_name"):
            if known[item].sighted is None or at >= known[item].sighted[0]:
                known[item].sighted = (at, name)
    proofs = rows(Proof).exclude(inspection__in=corrected_inspections(department, as_of))
    for item, code, outcome, at in proofs.values_list("item_id", "mode_code", "outcome", "happened_at"):
        known[item].proofs[code] = (outcome, at)
    for item, cost in rows(Repair, cost__isnull=False).values_list("item_id", "cost"):
        known[item].spend = (known[item].spend or Decimal(0)) + cost
    for item, hours in rows(Upkeep, sort=Upkeep.Sort.USED).values_list("item_id", "hours"):
        known[item].uses += 1
        known[item].hours += hours or 0.0
    for row in rows(Disposition):
        known[row.item_id].disposition = row
    for row in rows(StateEvent, event=StateEvent.Event.DISPOSED):
        known[row.item_id].disposed = row
    placing = (Posting.Reason.REGISTERED, Posting.Reason.RECEIVED, Posting.Reason.MOVED, Posting.Reason.FOUND)
    for item, at in rows(Posting, reason__in=placing).values_list("item_id", "happened_at"):
        known[item].placed = at
    return known


def _record(
    standing: ItemStanding, known: _Known, modes: Mapping[str, FailureMode], zone: ZoneInfo, as_of: datetime
) -> PropertyRecord:
    item, share = standing.item, standing.item.federal_share
    award = item.award
    ended = known.disposition
    disposed_at = ended.happened_at if ended else known.disposed.happened_at if known.disposed else None
    total = item.unit_cost * max(standing.quantity, 1) if item.unit_cost is not None else None
    values = {
        "tag": item.tag,
        "description": item.name,
        "kind": item.kind.name,
        "serial": item.serial,
        "plate": item.plate,
        "quantity": standing.quantity,
        "funding_source": item.funding_source or (award.title if award else "") or ("local" if share == 0 else ""),
        "award_number": award.number if award else "",
        "assistance_listing": award.assistance_listing if award else "",
        "award_threshold_usd": _money(award.threshold_usd) if award else "",
        "title_holder": item.title_holder,
        "acquired_on": item.acquired_on,
        "acquired_month_only": item.acquired_month_only,
        "unit_cost_usd": _money(item.unit_cost),
        "total_cost_usd": _money(total),
        "federal_share_percent": f"{(share * 100).normalize():f}" if share is not None else "",
        "place": standing.place.name if standing.place else "",
        "place_as_of": _day(known.placed, zone),
        "line": standing.line.name if standing.line else "",
        "use": _use(item, known),
        "condition": item.get_condition_display() if item.condition != Item.Condition.UNKNOWN else "",
        "condition_as_written": item.condition_as_written,
        "custodian": item.custodian,
        "accepted_on": item.accepted_on,
        "acceptance_assumed": item.acceptance_assumed,
        "state": "disposed" if disposed_at else standing.state,
        "state_since": standing.state_since,
        "state_reason": standing.state_reason,
        "sighted_on": _day(known.sighted[0], zone) if known.sighted else None,
        "sighted_by": known.sighted[1] if known.sighted else "",
        "last_proofs": _proofs(item, known, modes, zone),
        "open_faults": "; ".join(_fault(f, as_of) for f in known.faults),
        "open_fault_count": len(known.faults),
        "maintenance_spend_usd": _money(known.spend),
        "disposition": (ended.get_method_display() if ended else known.disposed.reason if disposed_at else ""),
        "disposed_on": _day(disposed_at, zone),
        "sale_price_usd": _money(ended.sale_price) if ended else "",
        "federal_share_of_proceeds_usd": _proceeds(ended, share),
    }
    return PropertyRecord(**values, gaps=tuple(_gaps(values, disposed=disposed_at is not None)))


def _use(item: Item, known: _Known) -> str:
    """What it is used for as its card says, and the uses on record; empty where neither is known."""
    hours = f", {known.hours:g} h" if known.hours else ""
    recorded = f"used {known.uses} {'time' if known.uses == 1 else 'times'} on record{hours}" if known.uses else ""
    return "; ".join(part for part in (item.use, recorded) if part)


def _money(amount: Decimal | None) -> str:
    return f"{amount:.2f}" if amount is not None else ""


def _day(at: datetime | None, zone: ZoneInfo) -> date | None:
    return at.astimezone(zone).date() if at else None


def _proofs(item: Item, known: _Known, modes: Mapping[str, FailureMode], zone: ZoneInfo) -> str:
    """The last thing shown of every grade-I mode of the kind; one that nothing ever showed is said so."""
    parts = []
    for code in item.kind.mode_codes:
        if code not in modes or modes[code].grade != FailureMode.Grade.IMPAIRMENT:
            continue
        outcome, at = known.proofs.get(code, ("no proof", None))
        parts.append(f"{code} {outcome} {_day(at, zone)}" if at else f"{code} {outcome}")
    return "; ".join(parts)


def _fault(fault: OpenDeficiency, as_of: datetime) -> str:
    row = fault.deficiency
    alone = ", restored by one name alone" if fault.awaiting_second_name else ""
    return f"{row.mode_code} ({row.grade}) {row.text}, open {(as_of - row.happened_at).days} days{alone}"


def _proceeds(ended: Disposition | None, share: Decimal | None) -> str:
    if ended is None or ended.sale_price is None or share is None:
        return ""
    return _money((ended.sale_price * share).quantize(Decimal("0.01"), ROUND_HALF_UP))


def _gaps(values: Mapping[str, object], *, disposed: bool) -> Iterator[str]:
    """Name each field that 2 CFR 200.313(d)(1) asks for and this record lacks."""
    local = values["federal_share_percent"] == "0" or str(values["funding_source"]).lower() in LOCAL
    wanted = ["description", "funding_source", "title_holder", "acquired_on", "unit_cost_usd", "federal_share_percent"]
    wanted += ["use", "condition"]
    wanted += [] if local else ["award_number"]
    wanted += ["disposition", "sale_price_usd"] if disposed else ["place"]
    names = {"acquired_on": "acquisition date", "unit_cost_usd": "cost", "sale_price_usd": "sale price"}
    names |= {"award_number": "FAIN", "federal_share_percent": "federal participation", "place": "location"}
    for key in wanted:
        if values[key] in ("", None):
            yield names.get(key, key.replace("_", " "))
    if not values["serial"]:
        yield "serial number (tag stands in)"
    if values["acquired_month_only"]:
        yield "day of acquisition"
    if not values["custodian"]:
        yield "custodian"
    if values["sighted_on"] is None:
        yield "physical sighting"
