"""Drift of a reading: the trend through it, and when it may cross its limit.

Times are in any one unit, counted from any one instant (days since the first reading, say); values in the unit of the
reading. Correct pressures for temperature, and capacities for the temperature of their test, before they come here;
break the series where the thing was repaired or replaced. A season is not drift.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shared.formulas._ranges import FloatArray, within

Direction = Literal["rises_above", "falls_below"]
Outcome = Literal[
    "no reading",
    "one reading",
    "too few",
    "holding",
    "moving away",
    "beyond the horizon",
    "will cross",
    "already possible",
    "past the limit",
]

LEAST_READINGS: Final = 4  # three define a line and its scatter with one degree of freedom: no basis for a date
HORIZON_SPANS: Final = 2.0  # how far ahead a date is told, in spans of the readings behind it
MOST_READINGS: Final = 2000  # of the median line, whose pairs grow with the square
_TIME_SLACK: Final = 1e-12
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Line:
    """A least-squares line and its scatter.

    Attributes:
        slope: [value/time]
        intercept: at time 0. [value]
        scatter: standard deviation of the readings about it, n - 2 degrees of freedom; None for two readings. [value]
        readings: n. [-]
        mean_time: [time]
        spread: sum of squared deviations of the times from their mean. [time2]
        mean_value: [value]
    """

    slope: float
    intercept: float
    scatter: float | None
    readings: int
    mean_time: float
    spread: float
    mean_value: float

    def at(self, times: ArrayLike) -> FloatArray:
        """The line at some times, shape as given. [value]"""
        return self.mean_value + self.slope * (np.asarray(times, dtype=np.float64) - self.mean_time)


class Range(NamedTuple):
    """Lower and upper end, each as the times they were asked for."""

    low: FloatArray
    high: FloatArray


class Crossing(NamedTuple):
    """When a trend meets a limit: the line itself, and the first edge of the band about it; None for never."""

    time: float | None
    earliest: float | None


class MedianLine(NamedTuple):
    """A line through the median of all pairwise slopes, and the range of its slope."""

    slope: float
    intercept: float
    slope_low: float
    slope_high: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """What readings say of a limit, or why they say nothing.

    Attributes:
        outcome: one of a few words.
        reason: a sentence for people.
        times: of the readings looked at, ascending. [time]
        values: of them. [value]
        limit: that may be crossed. [value]
        direction: which way.
        level: of the range about the trend. [share]
        line: least-squares line; None with fewer than four readings.
        slope_low: lower end of the slope's range at ``level``, None as the line. [value/time]
        slope_high: upper end. [value/time]
        robust: line of medians, None as the line.
        crossing: when the line meets the limit; None unless within the horizon. [time]
        earliest: when a single reading may first meet it; the last reading's time where it already may. [time]
        robust_crossing: when the line of medians meets it, None unless within the horizon. [time]
        horizon: last time of which anything is told, None where nothing is. [time]
        outlier_suspected: the two lines differ by more than the range of the median slope.
    """

    outcome: Outcome
    reason: str
    times: tuple[float, ...]
    values: tuple[float, ...]
    limit: float
    direction: Direction
    level: float
    line: Line | None = None
    slope_low: float | None = None
    slope_high: float | None = None
    robust: MedianLine | None = None
    crossing: float | None = None
    earliest: float | None = None
    robust_crossing: float | None = None
    horizon: float | None = None
    outlier_suspected: bool = False

    @property
    def enough(self) -> bool:
        """Whether there are enough readings for a trend."""
        return self.line is not None

    def line_at(self, times: ArrayLike) -> FloatArray:
        """The fitted line at some times, to be drawn; empty where there is none. [value]"""
        return np.empty(0) if self.line is None else self.line.at(times)

    def band_at(self, times: ArrayLike) -> Range:
        """The range in which a single reading is expected at some times; both empty where there is no line. [value]"""
        return Range(np.empty(0), np.empty(0)) if self.line is None else prediction_range(self.line, times, self.level)


def least_squares(times: ArrayLike, values: ArrayLike) -> Line:
    """Straight line through readings by least squares, about their mean time.

    Args:
        times: of the readings, shape (n,), n >= 2, at least two of them different. [time]
        values: of the readings, shape (n,). [value]

    Returns:
        Slope [value/time], intercept and scatter. [value]

    Raises:
        ValueError: an argument is out of range.

    Source: ordinary least squares, NIST/SEMATECH e-Handbook 4.4.3; digits held to the StRD Norris set.
    """
    x, y = _readings(times, values, 2)
    mean_time, mean_value = float(x.mean()), float(y.mean())
    # Centred before squaring: calendar years or seconds since 1970 would lose their digits.
    dx, dy = x - mean_time, y - mean_value
    spread = math.fsum(dx * dx)
    within("spread of times", spread, 0.0, unit="squared units of time", above=True)
    slope = math.fsum(dx * dy) / spread
    left = dy - slope * dx
    scatter = math.sqrt(math.fsum(left * left) / (x.size - 2)) if x.size > 2 else None
    return Line(slope, mean_value - slope * mean_time, scatter, x.size, mean_time, spread, mean_value)


def prediction_range(line: Line, times: ArrayLike, level: float) -> Range:
    """Range in which one further reading is expected, if the trend holds and scatter is normal.

    Args:
        line: through at least three readings. [value]
        times: at which, any shape. [time]
        level: probability that it holds the reading, above 0 and below 1. [share]

    Returns:
        Lower and upper end, shape of times. [value]

    Raises:
        ValueError: an argument is out of range, or the line has no scatter to go by.

    Source: fit +- t(n - 2) s sqrt(1 + 1/n + (x - mean)**2 / Sxx), NIST/SEMATECH e-Handbook 4.5.2.2 (form from memory).
    """
    at = np.asarray(times, dtype=np.float64)
    within("times", at, unit="units of time")
    half = _student(line, level) * _scatter(line) * _widening(line, at)
    fit = line.at(at)
    return Range(fit - half, fit + half)


def slope_range(line: Line, level: float) -> tuple[float, float]:
    """Range of the slope of a least-squares line.

    Args:
        line: through at least three readings. [value]
        level: confidence, above 0 and below 1. [share]

    Returns:
        Lower and upper end. [value/time]

    Raises:
        ValueError: the level is out of range, or the line has no scatter to go by.

    Source: slope +- t(n - 2) s / sqrt(Sxx), NIST/SEMATECH e-Handbook 4.4.3 (form from memory).
    """
    half = _student(line, level) * _scatter(line) / math.sqrt(line.spread)
    return line.slope - half, line.slope + half


def crossing(times: ArrayLike, values: ArrayLike, limit: float, direction: Direction, level: float) -> Crossing:
    """When the trend of some readings meets a limit, and when a single reading may first do so.

    Args:
        times: of the readings, shape (n,), n >= 2, at least two of them different. [time]
        values: of the readings, shape (n,). [value]
        limit: to be crossed. [value]
        direction: "rises_above" or "falls_below". [-]
        level: of the range about the trend, above 0 and below 1. [share]

    Returns:
        Time at which the line is at the limit, None where it does not move towards it; and the earliest time, not
        before the last reading, at which the range reaches the limit, None as the first or for two readings. [time]

    Raises:
        ValueError: an argument is out of range.

    Source: least_squares and prediction_range set equal to the limit, the latter by bracketing.
    """
    _limit(limit, direction)
    _level(level)
    line = least_squares(times, values)
    at = _meets(line.slope, line.at(line.mean_time).item(), line.mean_time, limit, direction)
    last = float(np.max(np.asarray(times, dtype=np.float64)))
    if at is None or line.scatter is None:
        return Crossing(at, None)
    return Crossing(at, _earliest(line, limit, direction, level, last, at))


def median_line(times: ArrayLike, values: ArrayLike, level: float) -> MedianLine:
    """Line through the median of all pairwise slopes, which a few wild readings do not move.

    Args:
        times: of the readings, shape (n,), 2 to 2000 of them, at least two different, shape (n,). [time]
        values: of the readings, shape (n,). [value]
        level: confidence of the slope's range, above 0 and below 1. [share]

    Returns:
        Slope and its range [value/time], intercept as the median value less the slope times the median time. [value]

    Raises:
        ValueError: an argument is out of range.

    Source: Theil (1950), Sen (1968), limits by the normal form of Kendall's test with ties; held beside
        ``scipy.stats.theilslopes``, which costs half a second to import.
    """
    from scipy.special import ndtri

    x, y = _readings(times, values, 2)
    within("number of readings", float(x.size), 2.0, MOST_READINGS, unit="readings")
    within("spread of times", float(np.ptp(x)), 0.0, unit="units of time", above=True)
    _level(level)
    apart = x[None, :] - x[:, None]
    slopes = np.sort((y[None, :] - y[:, None])[apart > 0] / apart[apart > 0])
    slope = float(np.median(slopes))
    # Kendall's score is about normal: how many slopes may lie on either side of the true one.
    half = float(ndtri((1.0 + level) / 2.0)) * math.sqrt(_kendall_variance(x, y))
    low = max(round((slopes.size - half) / 2.0) - 1, 0)
    high = min(round((slopes.size + half) / 2.0), slopes.size - 1)
    intercept = float(np.median(y)) - slope * float(np.median(x))
    return MedianLine(slope, intercept, float(slopes[low]), float(slopes[high]))


def forecast(
    times: Sequence[float],
    values: Sequence[float],
    limit: float,
    direction: Direction,
    level: float = 0.9,
    since: float | None = None,
) -> Forecast:
    """What a series of readings says of the day on which its limit is crossed, or why it says nothing.

    Args:
        times: of the readings, n >= 0, in any order. [time]
        values: of the readings, as many. [value]
        limit: to be crossed. [value]
        direction: "rises_above" or "falls_below". [-]
        level: of the range about the trend, above 0 and below 1. [share]
        since: of a repair or replacement: what was read before counts for nothing; None for all. [time]

    Returns:
        Lines with their ranges [value], crossings no farther ahead than twice the span of the readings [time], and
        the outcome in words.

    Raises:
        ValueError: an argument is out of range.

    Source: crossing on the least-squares line, median_line beside it as the check for outliers.
    """
    _limit(limit, direction)
    _level(level)
    if len(times) != len(values):
        raise ValueError(f"times and values must be equally many, got {len(times)} and {len(values)}")
    x, y = (np.array(given, dtype=np.float64) for given in (times, values))
    if x.size:
        within("times", x, unit="units of time")
        within("values", y, unit="of the reading")
    if since is not None:
        within("since", since, unit="units of time")
        x, y = x[x >= since], y[x >= since]
    order = np.argsort(x, kind="stable")
    x, y = x[order], y[order]
    told = _Told(tuple(x.tolist()), tuple(y.tolist()), limit, direction, level)
    lacking = _too_few(x)
    if lacking is not None:
        return told.without_trend(*lacking)
    return _with_trend(told, x, y)


def _kendall_variance(x: FloatArray, y: FloatArray) -> float:
    """Variance of Kendall's score of readings without a trend, ties in times and in values taken out."""

    def share(counts: NDArray[np.int64]) -> int:
        return int(np.sum(counts * (counts - 1) * (2 * counts + 5)))

    tied = sum(share(np.unique(each, return_counts=True)[1]) for each in (x, y))
    return max(0, share(np.array([x.size])) - tied) / 18.0


class _Told(NamedTuple):
    """What was asked, as every forecast repeats it."""

    times: tuple[float, ...]
    values: tuple[float, ...]
    limit: float
    direction: Direction
    level: float

    def without_trend(self, outcome: Outcome, reason: str) -> Forecast:
        return Forecast(outcome, reason, *self)


def _too_few(x: FloatArray) -> tuple[Outcome, str] | None:
    if x.size == 0:
        return "no reading", "No reading yet: nothing can be said of a trend."
    if x.size == 1:
        return "one reading", "One reading shows a state, not a trend. No date can be told from it."
    if x.size == 2:
        return "too few", (
            "Two readings always lie on a line, so nothing shows how far to trust it. "
            f"A date needs {LEAST_READINGS} readings."
        )
    if x.size < LEAST_READINGS:
        return "too few", f"{x.size} readings are too few for a date: it needs {LEAST_READINGS}."
    if np.unique(x).size < 3:
        return "too few", "The readings are of fewer than three different days: they show scatter, not a trend."
    return None


def _with_trend(told: _Told, x: FloatArray, y: FloatArray) -> Forecast:
    line, robust = least_squares(x, y), median_line(x, y, told.level)
    slope_low, slope_high = slope_range(line, told.level)
    first, last = float(x[0]), float(x[-1])
    horizon = last + HORIZON_SPANS * (last - first)
    at, earliest = crossing(x, y, told.limit, told.direction, told.level)
    if _edge_short(line, told.limit, told.direction, told.level, last) <= 0:
        earliest = last  # whichever way the trend goes
    at_robust = _meets(robust.slope, robust.intercept, 0.0, told.limit, told.direction)
    allowed = robust.slope_high - robust.slope_low + _ROUNDING * max(abs(line.slope), abs(robust.slope))
    suspected = abs(line.slope - robust.slope) > allowed
    outcome, reason = _outcome(told, line, at, earliest, last, horizon)
    if suspected:
        reason += (
            " One reading or more pulls the line away from the others: look at the readings before trusting a date."
        )
    return Forecast(
        outcome,
        reason,
        *told,
        line=line,
        slope_low=slope_low,
        slope_high=slope_high,
        robust=robust,
        crossing=_told_of(at, first, horizon),
        earliest=_told_of(earliest, first, horizon),
        robust_crossing=_told_of(at_robust, first, horizon),
        horizon=horizon,
        outlier_suspected=suspected,
    )


def _outcome(
    told: _Told, line: Line, at: float | None, earliest: float | None, last: float, horizon: float
) -> tuple[Outcome, str]:
    sign = _sign(told.direction)
    if sign * (line.at(last).item() - told.limit) >= 0:
        return "past the limit", "The trend is at or past the limit already."
    if earliest is not None and earliest <= last:
        return "already possible", "Readings scatter so much that the next one may be past the limit already."
    if at is None:
        if sign * line.slope < 0:
            return "moving away", "The readings move away from the limit: no crossing."
        return "holding", "The readings neither rise nor fall: no crossing."
    if earliest is None or earliest > horizon:
        return "beyond the horizon", (
            "The limit is farther ahead than twice the time of the readings behind it: no date can be told."
        )
    if at > horizon:
        return "will cross", (
            "A reading may cross the limit within twice the time of the readings behind it; the trend itself later."
        )
    return "will cross", "The trend crosses the limit if it goes on as it is; a single reading may do so earlier."


def _told_of(at: float | None, first: float, horizon: float) -> float | None:
    """A time, where it is one that the readings can speak of."""
    return at if at is not None and first <= at <= horizon else None


def _meets(slope: float, value: float, time: float, limit: float, direction: Direction) -> float | None:
    """When a line through (time, value) is at the limit; None where it does not move towards it."""
    if _sign(direction) * slope <= 0:
        return None
    at = time + (limit - value) / slope
    return at if math.isfinite(at) else None


def _earliest(line: Line, limit: float, direction: Direction, level: float, last: float, at: float) -> float:
    """When the near edge of the range first meets the limit, not before the last reading."""
    from scipy.optimize import brentq

    def short(when: float) -> float:
        return _edge_short(line, limit, direction, level, when)

    if short(last) <= 0:
        return last
    if short(at) >= 0:  # no scatter: the edge is the line
        return at
    # The gap falls from the last reading on, so there is one root.
    return float(brentq(short, last, at, xtol=_TIME_SLACK * max(abs(last), abs(at)), rtol=1e-14))


def _edge_short(line: Line, limit: float, direction: Direction, level: float, when: float) -> float:
    """How far the near edge of the range about the line is short of the limit at a time."""
    low, high = prediction_range(line, when, level)
    return float(limit - high if direction == "rises_above" else low - limit)


def _student(line: Line, level: float) -> float:
    """Two-sided quantile of Student's t with the line's degrees of freedom."""
    from scipy.special import stdtrit

    _level(level)
    within("readings of the line", float(line.readings), 3.0, unit="readings")
    return float(stdtrit(line.readings - 2, (1.0 + level) / 2.0))


def _scatter(line: Line) -> float:
    assert line.scatter is not None  # at least three readings
    return line.scatter


def _widening(line: Line, at: FloatArray) -> FloatArray:
    return np.sqrt(1.0 + 1.0 / line.readings + (at - line.mean_time) ** 2 / line.spread)


def _readings(times: ArrayLike, values: ArrayLike, least: int) -> tuple[FloatArray, FloatArray]:
    x, y = (np.asarray(given, dtype=np.float64) for given in (times, values))
    if x.ndim != 1 or x.shape != y.shape:
        raise ValueError(f"times and values must be lists of one length, got shapes {x.shape} and {y.shape}")
    within("number of readings", float(x.size), least, unit="readings")
    within("times", x, unit="units of time")
    within("values", y, unit="of the reading")
    return x, y


def _sign(direction: Direction) -> float:
    return 1.0 if direction == "rises_above" else -1.0


def _limit(limit: float, direction: Direction) -> None:
    within("limit", limit, unit="of the reading")
    if direction not in ("rises_above", "falls_below"):
        raise ValueError(f"direction must be rises_above or falls_below, got {direction!r}")


def _level(level: float) -> None:
    within("level", level, 0.0, math.nextafter(1.0, 0.0), unit="(a share)", above=True)
