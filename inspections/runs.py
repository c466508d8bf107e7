"""What the run sheet makes of its rows: the set-up clock, the takt of each lane, and the numbers of a drill.

Instants and names in, numbers out. The takt is the time between two people in one lane; it belongs to the second of
them. The first person of a lane has none, and a row that was undone has been left out before it comes here.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median, quantiles
from typing import Final

ORDERED: Final = "ordered"
PERSON: Final = "person"
UNDONE: Final = "undone"
CLOSED: Final = "closed"
# The stamps of the set-up clock in the order in which a line is set up, worked and packed.
STAMPS: Final[dict[str, str]] = {
    "on scene": "On scene",
    "doors open": "Doors open",
    "erected": "Shelter erected",
    "water flowing": "Water flowing",
    "water warm": "Water at temperature",
    "waste proven": "Waste proven",
    "first person": "First person",
    "last person": "Last person",
    "packed": "Pack-out ended",
}
# What else is put on a sheet, and what each row must say: an item, a lot, a number, a text.
ENTRIES: Final[dict[str, tuple[str, frozenset[str]]]] = {
    "operator": ("Operator", frozenset({"text"})),
    "fuel": ("Fuel used", frozenset({"number"})),
    "hours": ("Hours run", frozenset({"item", "number"})),
    "used": ("Consumable used", frozenset({"lot", "number"})),
    "fault": ("Fault", frozenset({"text"})),
    "note": ("Note", frozenset({"text"})),
}
EVENTS: Final = frozenset({ORDERED, PERSON, UNDONE, CLOSED, "lost", *STAMPS, *ENTRIES})
MOST_LANES: Final = 12
LEAST_GAPS: Final = 3  # behind a takt that throughput rests on; ours
# What the clock gives the set-up check, in what that takes: a clock left running or two taps at once measure nothing.
_MINUTES, _SECONDS, _COUNT = (0.1, 600.0), (1.0, 7200.0), (1.0, 100_000.0)
BOUNDS: Final[dict[str, tuple[float, float]]] = {
    "doors_min": _MINUTES,
    "erect_min": _MINUTES,
    "water_min": _MINUTES,
    "waste_min": _MINUTES,
    "packed_min": (0.1, 2880.0),
    "first_person_min": _MINUTES,
    "people": _COUNT,
    "lanes": (1.0, MOST_LANES),
    "takt_s": _SECONDS,
    "takt_low_s": _SECONDS,
    "takt_high_s": _SECONDS,
    "nonwalking_takt_s": _SECONDS,
}


@dataclass(frozen=True, slots=True)
class Tap:
    """One person through a lane."""

    at: datetime
    lane: int
    walking: bool


@dataclass(frozen=True, slots=True)
class Takt:
    """Seconds between people: the median and, from four gaps on, the middle half.

    Attributes:
        gaps: how many times between two people were taken.
        low_s: lower quartile; the smallest where there are fewer than four. [s]
        high_s: upper quartile; the largest where there are fewer than four. [s]
    """

    people: int
    gaps: int
    median_s: float | None = None
    low_s: float | None = None
    high_s: float | None = None


def takt_of(gaps: Sequence[float], people: int) -> Takt:
    """Return the median and spread of some gaps. [s]"""
    if not gaps:
        return Takt(people, 0)
    low, _, high = quantiles(gaps, n=4, method="inclusive") if len(gaps) > 3 else (min(gaps), 0.0, max(gaps))
    return Takt(people, len(gaps), float(median(gaps)), float(low), float(high))


def gaps_of(taps: Iterable[Tap]) -> list[tuple[Tap, float]]:
    """Return each person who followed another in a lane, with the seconds between them."""
    last: dict[int, datetime] = {}
    found = []
    for tap in sorted(taps, key=lambda t: t.at):
        if tap.lane in last:
            found.append((tap, (tap.at - last[tap.lane]).total_seconds()))
        last[tap.lane] = tap.at
    return found


def takts(taps: Sequence[Tap]) -> dict[tuple[int, bool], Takt]:
    """Return by (lane, walking) the takt of everybody who came through."""
    gaps = gaps_of(taps)
    keys = sorted({(tap.lane, tap.walking) for tap in taps}, key=lambda key: (key[0], not key[1]))
    return {
        key: takt_of(
            [seconds for tap, seconds in gaps if (tap.lane, tap.walking) == key],
            sum((tap.lane, tap.walking) == key for tap in taps),
        )
        for key in keys
    }


def takt_over_lanes(taps: Sequence[Tap], *, walking: bool) -> Takt:
    """Return the takt of all lanes together, of those who walk or of those who do not."""
    gaps = [seconds for tap, seconds in gaps_of(taps) if tap.walking is walking]
    return takt_of(gaps, sum(tap.walking is walking for tap in taps))


def minutes_from(ordered: datetime, at: datetime | None) -> float | None:
    """Return minutes on the set-up clock, None where nothing was stamped. [min]"""
    return None if at is None else round((at - ordered).total_seconds() / 60.0, 2)


def out_of_order(ordered: datetime, stamps: Mapping[str, datetime]) -> list[str]:
    """Return the names of stamps that lie before one that comes earlier in the order; a slip to be corrected."""
    last, found = ordered, []
    for key, name in STAMPS.items():
        at = stamps.get(key)
        if at is None:
            continue
        if at < last:
            found.append(name)
        last = max(last, at)
    return found


def _told(takt: Takt) -> Takt:
    """Return a takt, less its figures where too few gaps stand behind it."""
    return takt if takt.gaps >= LEAST_GAPS else Takt(takt.people, takt.gaps)


def drill_values(ordered: datetime, stamps: Mapping[str, datetime], taps: Sequence[Tap]) -> dict[str, str]:
    """Return what a run measured of the set-up drill, by the inputs of that check; only what was taken is there."""
    first = stamps.get("first person") or min((tap.at for tap in taps), default=None)
    walking, other = (_told(takt_over_lanes(taps, walking=walks)) for walks in (True, False))
    measured = {
        "doors_min": minutes_from(ordered, stamps.get("doors open")),
        "erect_min": minutes_from(ordered, stamps.get("erected")),
        "water_min": minutes_from(ordered, stamps.get("water warm")),
        "waste_min": minutes_from(ordered, stamps.get("waste proven")),
        "packed_min": minutes_from(ordered, stamps.get("packed")),
        "first_person_min": minutes_from(ordered, first),
        "people": len(taps) or None,
        "lanes": len({tap.lane for tap in taps}) or None,
        "takt_s": walking.median_s,
        "takt_low_s": walking.low_s,
        "takt_high_s": walking.high_s,
        "nonwalking_takt_s": other.median_s,
    }
    return {key: f"{value:g}" for key, value in measured.items() if value and BOUNDS[key][0] <= value <= BOUNDS[key][1]}
