"""The wet clock: where each used item is between wet and packed, for how long, and what holds it."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from inventory.models import ItemKind, Line, StateEvent
from inventory.queries import ItemStanding, limits_for, standing_of_department
from shared.models import Department

Event = StateEvent.Event
# What water stands in after a run, besides what the dry-pack check is made for.
DRAINS: Final = frozenset(
    {
        "shelter", "tarp", "berm", "heater", "mixing_valve", "pump", "bladder", "hose_cold", "hose_hot", "hose_whip",
        "hose_waste", "fittings", "backflow", "injector", "sprayer", "grid", "mat",
    }
)  # fmt: skip
ON_THE_CLOCK: Final = frozenset({"wet", "drying", "quarantine"})
ALARM_H: Final = 24.0  # hours folded wet; local policy where the department set no limit of its own


@dataclass(frozen=True)
class Clock:
    """One item on its way from wet to packed.

    Attributes:
        wet_at: since when it is wet; None where it is in quarantine and was never wet.
        drying_at: when it was spread to dry, None while it lies packed wet.
        cleared_by: who cleared it since it was quarantined, blank where nobody has.
        packed_by: who packed it since, blank where nobody has.
        alarm_h: how long it may lie packed wet. [h]
    """

    standing: ItemStanding
    wet_at: datetime | None
    drying_at: datetime | None
    quarantined_at: datetime | None
    cleared_by: str
    packed_by: str
    hours_wet: float | None
    hours_here: float
    alarm_h: float

    @property
    def state(self) -> str:
        return self.standing.state

    @property
    def is_alarm(self) -> bool:
        """Whether it lies packed wet for longer than it may."""
        return self.drying_at is None and self.hours_wet is not None and self.hours_wet >= self.alarm_h


def drains(kind: ItemKind) -> bool:
    """Return whether water stands in a thing of this kind after a run."""
    return kind.key in DRAINS or "drypack" in kind.checks


def wet_clock(department: Department, at: datetime, known_at: datetime, line: Line | None = None) -> list[Clock]:
    """Return everything that is wet, drying or in quarantine, longest wet first; of one line, or of all."""
    whole = standing_of_department(department, at, known_at).items
    held = [s for s in whole if s.state in ON_THE_CLOCK and (line is None or (s.line and s.line.pk == line.pk))]
    return clocks(department, held, at, known_at)


def clocks(department: Department, held: Sequence[ItemStanding], at: datetime, known_at: datetime) -> list[Clock]:
    """Return the clock of some items, longest wet first."""
    rows = StateEvent.objects.as_of(at, known_at).filter(department=department, item__in=[s.item.pk for s in held])
    history: dict[int, list[StateEvent]] = defaultdict(list)
    for row in rows.order_by("happened_at", "recorded_at", "pk"):
        history[row.item_id].append(row)
    on = at.astimezone(ZoneInfo(department.time_zone)).date()
    alarms: dict[int, float] = {}
    for s in held:
        if s.item.kind_id not in alarms:
            limit = limits_for(department, s.item.kind, on).get("wet_packed")
            alarms[s.item.kind_id] = limit.pass_high if limit and limit.pass_high is not None else ALARM_H
    found = [_clock(s, history[s.item.pk], at, alarms) for s in held]
    return sorted(found, key=lambda c: (not c.is_alarm, -(c.hours_wet or 0), c.standing.item.order))


def _clock(s: ItemStanding, history: Sequence[StateEvent], at: datetime, alarms: Mapping[int, float]) -> Clock:
    wet = drying = quarantined = None
    cleared = packed = ""
    for row in history:
        if row.event == Event.WET:
            wet, drying, packed = (wet or row.happened_at), None, ""
        elif row.event == Event.DRYING:
            drying = row.happened_at
        elif row.event == Event.PACKED:
            wet, drying, packed = None, None, row.by_name
        elif row.event == Event.QUARANTINED:
            quarantined, cleared = row.happened_at, ""
        elif row.event == Event.CLEARED:
            quarantined, cleared = None, row.note or row.by_name
    began = [instant for instant in (wet, drying, quarantined) if instant] or [s.state_since or at]
    return Clock(
        standing=s,
        wet_at=wet,
        drying_at=drying,
        quarantined_at=quarantined,
        cleared_by=cleared,
        packed_by=packed,
        hours_wet=None if wet is None else ((drying or at) - wet).total_seconds() / 3600.0,
        hours_here=(at - max(began)).total_seconds() / 3600.0,
        alarm_h=alarms[s.item.kind_id],
    )
