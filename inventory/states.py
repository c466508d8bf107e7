"""The state of an item as the outcome of what happened to it: plain Python over (event, mode code) in order.

An item that was taken out stays out until every impairment that took it out is restored, each by its own mode code;
an outage by hand carries no code and is restored without one. Weightier states hide lighter ones: a condemned
shelter that is also wet reads condemned.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

IN_SERVICE = "in service"
# event -> (what it opens, what it closes): one open condition of each sort at a time
_OPENS = {
    "boxed": "boxed",
    "quarantined": "quarantine",
    "wet": "wet",
    "drying": "drying",
    "lent": "lent",
    "condemned": "condemned",
    "disposed": "disposed",
}
_CLOSES = {
    "accepted": ("boxed",),
    "cleared": ("quarantine",),
    "wet": ("drying",),
    "drying": ("wet",),
    "packed": ("wet", "drying"),
    "returned": ("lent",),
}
# heaviest first
_ORDER = ("disposed", "condemned", "absent", "lent", "quarantine", "out of service", "boxed", "wet", "drying")


@dataclass(frozen=True, slots=True)
class Happening:
    """One row of an item's history."""

    event: str
    at: datetime
    reason: str = ""
    mode_code: str = ""


@dataclass(frozen=True, slots=True)
class StateOf:
    """The state an item is in, since when and why, and whether a restoration still lacks its second name."""

    state: str
    since: datetime | None
    reason: str
    awaiting_second_name: bool


def state_of(history: Sequence[Happening], *, absent_since: datetime | None = None) -> StateOf:
    """Return the state after a history in order of time.

    Args:
        history: everything that happened to the item, oldest first.
        absent_since: when it was counted or posted down to none; None while any are present.
    """
    open_since: dict[str, Happening] = {}
    outages: dict[str, Happening] = {}
    awaiting: dict[str, bool] = {}
    back: datetime | None = None
    for row in history:
        if row.event == "taken out":
            # the first outage of a code keeps its time until it is restored
            outages.setdefault(row.mode_code, row)
            awaiting.pop(row.mode_code, None)
        elif row.event in ("restored", "restored awaiting"):
            was_out = outages.pop(row.mode_code, None)
            # What is back already, second name and all, awaits none because somebody checked it again.
            if was_out or awaiting.get(row.mode_code):
                awaiting[row.mode_code] = row.event == "restored awaiting"
            back = row.at if was_out else back
        for sort in _CLOSES.get(row.event, ()):
            back = row.at if open_since.pop(sort, None) else back
        if row.event in _OPENS:
            open_since.setdefault(_OPENS[row.event], row)
    if outages:
        first = min(outages.values(), key=lambda r: r.at)
        reasons = "; ".join(dict.fromkeys(r.reason.rstrip(".") for r in outages.values() if r.reason))
        open_since["out of service"] = Happening("taken out", first.at, reasons)
    if absent_since is not None:
        open_since["absent"] = Happening("absent", absent_since, "none present by the newest count or posting")
    for sort in _ORDER:
        if sort in open_since:
            return StateOf(sort, open_since[sort].at, open_since[sort].reason, False)
    return StateOf(IN_SERVICE, back, "", any(awaiting.values()))
