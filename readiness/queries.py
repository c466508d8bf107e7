"""What the rating is told, and what was answered: facts gathered as of any instant, and the stored ratings."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django.db.models import QuerySet

from inspections import queries as evidence_queries
from inspections.queries import plants as plant_queries
from inspections.queries import runs as drill_queries
from inventory import queries as cache
from inventory.models import ItemKind, Line, LoadListRow, SharedNode
from inventory.queries import ItemStanding, LotStanding
from readiness.models import LineState, RatedMission, StoredRating
from readiness.rating import facts as f
from readiness.rating.mission import RANGES, Mission, standard_mission
from shared.models import Department

DEFAULT_LANES = 2


def lines_of(department: Department) -> QuerySet[Line]:
    """Return the department's lines with their newest stored rating, in their order."""
    return (
        Line.objects.filter(department=department)
        .select_related("home", "state__newest", "department")
        .order_by("order", "name")
    )


def stored(line: Line) -> StoredRating | None:
    """Return the rating that stands for a line; None where it was never rated."""
    state = LineState.objects.filter(line=line).select_related("newest").first()
    return state.newest if state else None


def mission_row(line: Line, at: datetime, known_at: datetime | None = None) -> RatedMission | None:
    """Return the row a line's rated mission comes from; None where the standard one stands in."""
    return line.rated_missions.filter(effective_at__lte=at, recorded_at__lte=known_at or at).first()


def rated_mission(line: Line, at: datetime, known_at: datetime | None = None) -> Mission:
    """Return what a line is judged against: the newest row in force, else the standard mission of its shelter."""
    row = mission_row(line, at, known_at)
    handover_min = drill_queries.handovers([line], at, known_at or at).get(line.pk)
    if row is not None:
        return as_drilled(Mission.from_json(row.mission), handover_min)
    standing = cache.standing(line, at, known_at or at)
    return as_drilled(standard_mission(rated_lanes(standing.items)), handover_min)


def as_drilled(mission: Mission, handover_min: float | None) -> Mission:
    """Return a mission with the hand-over that the line's own drill measured, where it holds only the planning figure.

    What a mission states of its own stands. A figure beyond what any mission takes is cut to it.
    """
    if handover_min is None or mission.handover_min != Mission().handover_min:
        return mission
    least, most = RANGES["handover_min"]
    return replace(mission, handover_min=round(min(max(handover_min, least), most), 2))


def rated_lanes(items: Iterable[ItemStanding]) -> int:
    """Return the lanes of the largest shelter aboard: what the load list's numbers are stated for."""
    lanes = [int(s.item.spec.get("lanes") or 0) for s in items if s.item.kind.key == "shelter"]
    return max(lanes, default=0) or DEFAULT_LANES


def gather(line: Line, at: datetime, known_at: datetime) -> f.Facts:
    """Return everything the rating needs about a line at an instant, as known at another.

    ``gather(line, T, T)`` is what was believed at T; ``gather(line, T, now)`` is what is known of T since.
    """
    standing = cache.standing(line, at, known_at)
    return _facts_of([line], {line.pk: standing}, at, known_at)[line.pk]


def gather_department(department: Department, at: datetime, known_at: datetime) -> dict[int, f.Facts]:
    """Return by line id the facts of every line of a department, in a number of queries that lines do not add to."""
    lines = list(lines_of(department))
    whole = cache.standing_of_department(department, at, known_at)
    items: dict[int, list[ItemStanding]] = defaultdict(list)
    lots: dict[int, list[LotStanding]] = defaultdict(list)
    for standing in whole.items:
        if standing.line:
            items[standing.line.pk].append(standing)
    for standing in whole.lots:
        if standing.line:
            lots[standing.line.pk].append(standing)
    standings = {
        line.pk: cache.Standing(line, at, known_at, tuple(items[line.pk]), tuple(lots[line.pk])) for line in lines
    }
    return _facts_of(lines, standings, at, known_at)


def _facts_of(
    lines: list[Line], standings: Mapping[int, cache.Standing], at: datetime, known_at: datetime
) -> dict[int, f.Facts]:
    if not lines:
        return {}
    department = lines[0].department
    items = [s.item for standing in standings.values() for s in standing.items]
    # Every item's proofs once: what is known of the items aboard and what the whole department's own have shown.
    every = evidence_queries.read_proofs(department, known_at)
    proofs = evidence_queries.evidence(items, at, known_at, every)
    measured = evidence_queries.measured(items, at, known_at)
    modes = _modes(department, {i.kind_id: i.kind for i in items}.values(), at, known_at, every)
    missions = _mission_rows(lines, at, known_at)
    wanted = cache.load_lists(department, at.date()) if len(lines) > 1 else None
    nodes = _nodes(lines, at.date())
    rosters = cache.crews_of(lines, at.date())
    line_modes = evidence_queries.line_evidence(lines, at, known_at)
    handovers = drill_queries.handovers(lines, at, known_at)
    withheld = plant_queries.withheld(department, at, known_at)
    orders = cache.open_orders(department, at, known_at)
    return {
        line.pk: _facts(
            line,
            standings[line.pk],
            proofs=proofs,
            measured=measured,
            modes=modes,
            mission=missions.get(line.pk),
            wanted=wanted.get(line.pk, []) if wanted is not None else cache.load_list(line, at.date()),
            nodes=nodes.get(line.pk, ()),
            line_modes=line_modes.get(line.pk, {}),
            roster=rosters[line.pk],
            handover_min=handovers.get(line.pk),
            withheld=withheld,
            orders=tuple(_order(o) for o in orders if o.order.line_id in (None, line.pk)),
        )
        for line in lines
    }


def _facts(
    line: Line,
    standing: cache.Standing,
    *,
    proofs: Mapping[int, Mapping[str, Any]],
    measured: Mapping[int, Mapping[str, Any]],
    modes: Mapping[str, f.Mode],
    mission: RatedMission | None,
    wanted: list[LoadListRow],
    nodes: tuple[f.Node, ...],
    line_modes: Mapping[str, Any],
    roster: list[cache.CrewStanding] | None,
    handover_min: float | None,
    withheld: Collection[int],
    orders: tuple[f.OrderFact, ...] = (),
) -> f.Facts:
    lanes = rated_lanes(standing.items)
    rated = as_drilled(Mission.from_json(mission.mission) if mission else standard_mission(lanes), handover_min)
    kinds = {s.item.kind.key for s in standing.items} | {"line"}
    losses = [m["hose_loss_k"].value for s in standing.items if "hose_loss_k" in (m := measured.get(s.item.pk, {}))]
    facts = f.Facts(
        line=line.name,
        at=standing.at,
        known_at=standing.known_at,
        rated_lanes=lanes,
        items=tuple(
            replace(
                _item(s, proofs.get(s.item.pk, {}), measured.get(s.item.pk, {}), nodes), withheld=s.item.pk in withheld
            )
            for s in standing.items
        ),
        stocks=tuple(_stock(s, standing.at) for s in standing.lots),
        crew=_crew(roster),
        requirements=tuple(
            f.Requirement(r.function, r.kind.key, r.quantity, r.needed, r.scales, r.way, r.assumed) for r in wanted
        ),
        modes={key: mode for key, mode in modes.items() if key.split(":")[0] in kinds},
        line_modes=tuple(_mode_evidence(f"line:{code}", e) for code, e in line_modes.items()),
        nodes=nodes,
        rated_mission=rated.as_json(),
        target_score=line.department.target_score,
        load_list_assumed=any(r.assumed for r in wanted),
        mission_assumed=mission is None or mission.assumed,
        orders=orders,
    )
    # What heat runs measured between heater and head on this line beats the planning figure.
    return replace(facts, hose_loss_k=sum(losses) / len(losses)) if losses else facts


def _order(standing: cache.OrderStanding) -> f.OrderFact:
    kind = standing.order.kind
    return f.OrderFact(kind.key, kind.name.lower(), standing.remaining, standing.expected_on)


def _mission_rows(lines: list[Line], at: datetime, known_at: datetime) -> dict[int, RatedMission]:
    rows = RatedMission.objects.filter(
        department=lines[0].department, line__in=lines, effective_at__lte=at, recorded_at__lte=known_at
    ).order_by("effective_at", "pk")
    return {row.line_id: row for row in rows}


def _modes(
    department: Department,
    kinds: Iterable[ItemKind],
    at: datetime,
    known_at: datetime,
    proofs: "evidence_queries.Proofs",
) -> dict[str, f.Mode]:
    rows = cache.modes_for(department, at.date())
    histories = evidence_queries.histories(department, at, known_at, proofs)
    return {
        f"{kind.key}:{code}": _mode(rows[code], histories.get((kind.key, code)), code in kind.scheduled_modes)
        for kind in kinds
        for code in kind.mode_codes
        if code in rows
    } | ({"line:PE1": _mode(rows["PE1"], None, True)} if "PE1" in rows else {})


def _mode(row: "cache.FailureMode", history: f.ModeHistory | None, scheduled: bool) -> f.Mode:
    return f.Mode(
        code=row.code,
        name=row.name,
        grade=row.grade,
        cls=row.cls,
        prior=f.Prior(
            rate_median=row.rate_median,
            rate_error_factor=row.rate_error_factor,
            demand_mean=row.demand_mean,
            demand_trials=row.demand_trials,
        ),
        history=history or f.ModeHistory(),
        limited_fraction=0.8 if row.limited_fraction is None else row.limited_fraction,
        limits=row.limits or "all",
        scheduled=scheduled,
    )


def _item(
    standing: ItemStanding,
    proofs: Mapping[str, "evidence_queries.EvidenceOfMode"],
    measured: Mapping[str, "evidence_queries.MeasuredOf"],
    nodes: tuple[f.Node, ...],
) -> f.Item:
    item = standing.item
    seen = tuple(
        _mode_evidence(f"{item.kind.key}:{code}", proofs[code]) for code in item.kind.mode_codes if code in proofs
    )
    requalify, remove = cache.cylinder_dates(item.kind.key, item.spec)
    return f.Item(
        tag=item.tag,
        name=item.name,
        kind=item.kind.key,
        quantity=standing.quantity,
        state=standing.state,
        modes=seen,
        accepted_on=item.accepted_on,
        acceptance_assumed=item.acceptance_assumed,
        claimed=standing.counted_on is None and not any(m.outcome in ("proven", "limited") for m in seen),
        awaiting_second_name=standing.awaiting_second_name,
        spec=cache.spec_of(item),
        measured={name: f.Measured(m.value, m.on, m.inspection, m.at_least, m.stale) for name, m in measured.items()},
        place=standing.place.name if standing.place else "",
        state_since=standing.state_since,
        state_reason=standing.state_reason,
        requalify_by=requalify,
        remove_by=remove,
        hangs_on=tuple(n.name for n in nodes if item.tag in n.members),
    )


def _mode_evidence(key: str, e: "evidence_queries.EvidenceOfMode") -> f.ModeEvidence:
    return f.ModeEvidence(
        mode=key,
        exposure_years=e.exposure_years,
        outcome=e.outcome,
        ratio=e.ratio,
        proven_at=e.proven_at,
        stale_at=e.stale_at,
        reopened=e.reopened,
        in_doubt_since=e.in_doubt_since,
        inspection=e.inspection,
    )


# A count is a monthly check (standard: consumables, count against par, monthly); 5 days of grace as for other walks.
COUNT_TRUSTED_DAYS = 36


def _stock(standing: LotStanding, at: datetime) -> f.Stock:
    lot, counted = standing.lot, standing.counted_on
    per_person = lot.per_person if lot.per_person is not None else lot.kind.per_person
    return f.Stock(
        lot=lot.number,
        name=lot.name,
        kind=lot.kind.key,
        on_hand=standing.on_hand,
        per_person=per_person,
        expires_on=lot.expires_on,
        counted_on=counted,
        counted=counted is not None,
        stale=counted is not None and (at.date() - counted).days > COUNT_TRUSTED_DAYS,
        stale_at=None if counted is None else _first_instant(counted + timedelta(days=COUNT_TRUSTED_DAYS + 1)),
        held=standing.held,
        spec={f["key"]: f["default"] for f in lot.kind.spec_fields if f.get("default") is not None},
    )


def _first_instant(day: date) -> datetime:
    """Return the start of a day in the clock that ``at`` is dated by."""
    return datetime.combine(day, time(), UTC)


def _crew(roster: list[cache.CrewStanding] | None) -> tuple[f.CrewFact, ...] | None:
    if roster is None:
        return None
    return tuple(f.CrewFact(c.name, c.qualified, c.until) for c in roster)


def _nodes(lines: list[Line], on: date) -> dict[int, tuple[f.Node, ...]]:
    rows = (
        SharedNode.objects.filter(department=lines[0].department, line__in=lines, effective_on__lte=on)
        .select_related("item")
        .prefetch_related("members")
        .order_by("pk")
    )
    found: dict[int, list[f.Node]] = defaultdict(list)
    for n in rows:
        tags = tuple(sorted(m.tag for m in n.members.all()))
        found[n.line_id].append(f.Node(n.name, tags, n.item.tag if n.item else None, n.probability))
    return {line: tuple(nodes) for line, nodes in found.items()}
