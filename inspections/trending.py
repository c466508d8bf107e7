"""A series of readings of one quantity, the line through it, and what is said of the day it meets its limit. Pure."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from inspections.quantities import Quantity, Side
from shared.formulas.drift import Direction, Forecast, forecast

LEVEL: Final = 0.9
DAY_S: Final = 86400.0
SHORT_DAYS: Final = 120  # readings over less than this tell a day, over more a month
WAY: Final[dict[Side, Direction]] = {"low": "falls_below", "high": "rises_above"}
# Of two limits the one that is nearest to be crossed is told.
GRAVEST: Final = (
    "past the limit",
    "already possible",
    "will cross",
    "beyond the horizon",
    "holding",
    "moving away",
    "too few",
    "one reading",
    "no reading",
)


@dataclass(frozen=True, slots=True)
class Point:
    """One reading, carried to the condition of its series; SI."""

    at: datetime
    value: float
    verdict: str
    ref: str  # client id of its record
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Void:
    """A check that was void: it has a day and no value."""

    at: datetime
    ref: str


@dataclass(frozen=True, slots=True)
class Break:
    """What begins a series anew."""

    at: datetime
    what: str  # repair, use, refill


@dataclass(frozen=True, slots=True)
class Bound:
    """One end of the limit in force; SI."""

    side: Side
    value: float


@dataclass(frozen=True, slots=True)
class Series:
    """What was read of one quantity, before anything is said of it.

    Attributes:
        points: with a value, oldest first.
        voids: checks of the same kind that were void.
        breaks: oldest first.
        bounds: of the limit in force; none where there is none, or what it is a share of is not known.
        reference: what the limit is a share of, SI; None where it is none, or nothing names it.
        origin: where the limit comes from: law, guidance, policy …
        source: with its source.
    """

    quantity: Quantity
    points: tuple[Point, ...]
    voids: tuple[Void, ...] = ()
    breaks: tuple[Break, ...] = ()
    bounds: tuple[Bound, ...] = ()
    reference: float | None = None
    origin: str = ""
    source: str = ""

    @property
    def start(self) -> datetime:
        """Return the instant that days are counted from."""
        return min(one.at for one in (*self.points, *self.voids))

    def days(self, at: datetime) -> float:
        return (at - self.start).total_seconds() / DAY_S

    def instant(self, days: float) -> datetime:
        return self.start + timedelta(days=days)

    @property
    def since(self) -> Break | None:
        """Return what began the series as it stands; None where nothing did after the first reading."""
        late = [one for one in self.breaks if one.at > self.start]
        return late[-1] if late else None


@dataclass(frozen=True, slots=True)
class Trend:
    """A series, with the forecast towards the nearest end of its limit, or why there is none."""

    series: Series
    forecast: Forecast | None = None
    bound: Bound | None = None
    why_not: str = ""

    @property
    def quantity(self) -> Quantity:
        return self.series.quantity

    @property
    def crosses_at(self) -> datetime | None:
        return self._instant(self.forecast.crossing if self.forecast else None)

    @property
    def earliest_at(self) -> datetime | None:
        return self._instant(self.forecast.earliest if self.forecast else None)

    def _instant(self, days: float | None) -> datetime | None:
        return None if days is None else self.series.instant(days)

    @property
    def counted(self) -> list[Point]:
        """Return the readings that the line is laid through: of this series, and not mere lower bounds."""
        since = self.series.since
        return [p for p in self.series.points if not p.at_least and (since is None or p.at >= since.at)]


def trend_of(series: Series) -> Trend:
    """Return what a series says of its limit."""
    why_not = _why_not(series)
    if why_not:
        return Trend(series, why_not=why_not)
    since = series.since
    read = [point for point in series.points if not point.at_least]
    times, values = [series.days(point.at) for point in read], [point.value for point in read]
    begun = series.days(since.at) if since else None
    told = [(forecast(times, values, bound.value, WAY[bound.side], LEVEL, begun), bound) for bound in series.bounds]
    nearest, bound = min(told, key=lambda one: _order(one[0]))
    return Trend(series, nearest, bound)


def _order(one: Forecast) -> tuple[int, float]:
    soonest = one.crossing if one.crossing is not None else one.earliest
    return GRAVEST.index(one.outcome), float("inf") if soonest is None else soonest


def _why_not(series: Series) -> str:
    quantity = series.quantity
    if quantity.no_limit or quantity.not_forecast:
        return quantity.no_limit or quantity.not_forecast
    if not series.bounds and quantity.is_share and series.origin:
        return f"Its limit is a share of {quantity.share_of}, which no reading names yet."
    return "" if series.bounds else "No limit is recorded for it here, so nothing is foretold."


# In words ------------------------------------------------------------------------------------------------------------


def in_words(trend: Trend, on: date, zone: ZoneInfo) -> str:
    """Return what is foretold, or why nothing is, and on how many readings that rests."""
    found = trend.forecast
    if found is None:
        return trend.why_not
    said = _outcome(trend, found, on, zone)
    if found.outlier_suspected and "pulls the line" not in said:
        said += " One reading or more pulls the line away from the others: look at them before trusting a date."
    return f"{said} {basis(trend, zone)}".strip()


def _outcome(trend: Trend, found: Forecast, on: date, zone: ZoneInfo) -> str:
    if found.outcome == "no reading":
        since = trend.series.since
        return f"No reading since the {since.what}: nothing can be said of a trend." if since else _bounds_only(trend)
    if found.outcome != "will cross":
        return found.reason
    crossing, earliest = (_when(trend, at, zone) for at in (trend.crosses_at, trend.earliest_at))
    if not crossing:
        return f"A single reading may meet the limit as early as {earliest} (90 % range), the trend itself later."
    met = trend.crosses_at is not None and trend.crosses_at.astimezone(zone).date() < on
    said = f"At this rate it {'met' if met else 'meets'} its limit about {crossing}"
    said += f"; a single reading may as early as {earliest} (90 % range)." if earliest else "."
    return f"{said} Read it again now." if met else said


def _bounds_only(trend: Trend) -> str:
    return (
        "Only lower bounds were read: they show no trend."
        if trend.series.points
        else "No reading yet: nothing can be said of a trend."
    )


def _when(trend: Trend, at: datetime | None, zone: ZoneInfo) -> str:
    if at is None:
        return ""
    found = trend.forecast
    span = found.times[-1] - found.times[0] if found else 0.0
    local = at.astimezone(zone)
    return f"{local:%B %Y}" if span > SHORT_DAYS else _day(local)


def _day(at: datetime) -> str:
    return f"{at.day} {at:%b %Y}"


def basis(trend: Trend, zone: ZoneInfo) -> str:
    """Return how many readings count, since when, and what was left out."""
    counted, since = trend.counted, trend.series.since
    bounds = sum(point.at_least for point in trend.series.points)
    many = f"{len(counted)} reading{'' if len(counted) == 1 else 's'}"
    if since is not None:
        said = f"{many} since the {since.what} on {_day(since.at.astimezone(zone))}"
    elif counted:
        said = f"{many} since {_day(counted[0].at.astimezone(zone))}"
    else:
        said = many
    left = f"; {bounds} lower bound{'' if bounds == 1 else 's'} left out" if bounds else ""
    return f"{said}{left}."
