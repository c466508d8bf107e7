"""Trends as a page shows them: in the units of its reader, with the chart, the limit and what is foretold in words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from django.urls import reverse
from django.utils.safestring import SafeString

from inspections.quantities import Quantity
from inspections.trending import Bound, Point, Trend, in_words
from shared.charts import LEVELS, Plot, PlotLine, PlotMark, plot_key, time_plot
from shared.templatetags.holdair import day, written
from shared.units import SIGNS, from_si, to_reader
from shared.verification.catalogue import Formula, catalogue

FEW: Final = 8  # readings in the table under a small chart
STEPS: Final = 40  # of the drawn range
DRIFT: Final = ("drift.forecast", "drift.least_squares", "drift.prediction_range", "drift.median_line")
TICK_MONTHS: Final = (1, 2, 3, 6, 12, 24, 60, 120)
MOST_TICKS: Final = 4
MARKS: Final = {
    "whole": "pass",
    "limited": "pass with limits",
    "down": "the check failed",
    "at least": "a lower bound",
    "unrecorded": "void: no value counts",
}


@dataclass(frozen=True)
class PointRow:
    """One reading in a table; a void check has no value."""

    at: datetime
    value: str
    verdict: str
    ref: str
    at_least: bool
    counts: str


@dataclass(frozen=True)
class TrendView:
    """One quantity as its page shows it."""

    trend: Trend
    words: str
    limit: str
    unit: str
    chart: SafeString
    rows: list[PointRow]  # newest first
    legend: list[tuple[SafeString, str]]
    has_range: bool

    @property
    def quantity(self) -> Quantity:
        return self.trend.quantity

    @property
    def few(self) -> list[PointRow]:
        return self.rows[:FEW]


@dataclass(frozen=True)
class _Reader:
    """Who reads: in which units, where, and when."""

    quantity: Quantity
    uses_si: bool
    zone: ZoneInfo

    def number(self, value_si: float) -> float:
        return to_reader(float(from_si(value_si, self.quantity.unit)), self.quantity.unit, self.uses_si)[0]

    def text(self, value_si: float) -> str:
        return written(float(from_si(value_si, self.quantity.unit)), self.quantity.unit, self.uses_si)

    @property
    def unit(self) -> str:
        unit = to_reader(0.0, self.quantity.unit, self.uses_si)[1]
        return SIGNS.get(unit, unit)


def trend_view(trend: Trend, *, on: date, zone: ZoneInfo, uses_si: bool) -> TrendView:
    """Return one trend for its reader."""
    reader = _Reader(trend.quantity, uses_si, zone)
    words = in_words(trend, on, zone)
    marks = _marks(trend, reader)
    levels = {mark.level for mark in marks}
    return TrendView(
        trend=trend,
        words=words,
        limit=_limit(trend, reader),
        unit=reader.unit,
        chart=time_plot(_plot(trend, reader, marks, words)),
        rows=_rows(trend, reader),
        legend=[(plot_key(level), said) for level, said in MARKS.items() if level in levels],
        has_range=bool(trend.forecast and trend.forecast.line),
    )


def _limit(trend: Trend, reader: _Reader) -> str:
    series = trend.series
    if not series.bounds:
        return ""
    said = " and ".join(_bound(one, reader) for one in series.bounds)
    if series.reference is not None:
        shares = " and ".join(f"{one.value / series.reference:.3g}" for one in series.bounds)
        said += f": {shares} of {trend.quantity.share_of} {reader.text(series.reference)}"
    source = ", ".join(part for part in (series.origin, series.source) if part)
    return f"{said[:1].upper()}{said[1:]}. {source[:1].upper()}{source[1:]}." if source else f"{said}."


def _bound(one: Bound, reader: _Reader) -> str:
    return f"at {'least' if one.side == 'low' else 'most'} {reader.text(one.value)}"


# The chart -----------------------------------------------------------------------------------------------------------


def _plot(trend: Trend, reader: _Reader, marks: Sequence[PlotMark], words: str) -> Plot:
    series, found = trend.series, trend.forecast
    values = [mark.y for mark in marks if mark.y is not None]
    # The words of a limit stand on the side that fails, where the fewest readings are.
    limits = [
        PlotLine(reader.number(one.value), _limit_label(trend, one, reader), under=one.side == "low")
        for one in series.bounds
    ]
    across, up = _across(trend), _up([*values, *(line.at for line in limits)])
    line, low, high = _fitted(trend, reader, across[1])
    unit = f", {reader.unit}" if reader.unit else ""
    return Plot(
        title=f"{trend.quantity.label}{unit}: {len(values)} reading{'' if len(values) == 1 else 's'}",
        words=f"{words} The readings stand in the table below.",
        marks=marks,
        limits=limits,
        breaks=[PlotLine(series.days(one.at), one.what) for one in series.breaks[-3:] if one.at > series.start],
        days=_days(trend, across, reader),
        levels=_levels(up),
        across=across,
        up=up,
        trend=line if found else (),
        low=low,
        high=high,
        newest=reader.text(series.points[-1].value),
    )


def _limit_label(trend: Trend, one: Bound, reader: _Reader) -> str:
    return f"{_bound(one, reader)}{f', {trend.series.origin}' if trend.series.origin else ''}"


def _marks(trend: Trend, reader: _Reader) -> list[PlotMark]:
    series = trend.series
    shown = [
        PlotMark(
            series.days(one.at),
            reader.number(one.value),
            "at least" if one.at_least else LEVELS.get(one.verdict, "limited"),
            reverse("inspections:inspection", args=[one.ref]),
            f"{day(one.at)}: {'at least ' if one.at_least else ''}{reader.text(one.value)}, {one.verdict}",
        )
        for one in series.points
    ]
    voids = [
        PlotMark(
            series.days(one.at),
            None,
            "unrecorded",
            reverse("inspections:inspection", args=[one.ref]),
            f"{day(one.at)}: void",
        )
        for one in series.voids
    ]
    return shown + voids


def _across(trend: Trend) -> tuple[float, float]:
    """Return the first and the last day drawn: as far ahead as something is foretold, and no farther."""
    series, found = trend.series, trend.forecast
    days = [series.days(one.at) for one in (*series.points, *series.voids)]
    first, last = min(days), max(days)
    if last - first < 1:
        return first - 15, last + 15
    edge = (last - first) * 0.04
    if found is None or found.line is None or found.horizon is None:
        return first - edge, last + edge
    told = [at for at in (found.crossing, found.earliest) if at is not None]
    ahead = max([*told, last + 0.25 * (found.times[-1] - found.times[0])])
    return first - edge, min(ahead * 1.04, max(found.horizon, last + edge))


def _up(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    pad = 0.18 * (high - low) or 0.1 * abs(high) or 1.0
    return (max(0.0, low - pad) if low >= 0 else low - pad), high + pad


def _fitted(trend: Trend, reader: _Reader, end: float) -> tuple[list[tuple[float, float]], ...]:
    found = trend.forecast
    if found is None or found.line is None:
        return [], [], []
    times = np.linspace(found.times[0], end, STEPS)
    edges = found.band_at(times)
    return tuple(
        [(float(at), reader.number(float(value))) for at, value in zip(times, values, strict=True)]
        for values in (found.line_at(times), edges.low, edges.high)
    )


def _levels(up: tuple[float, float]) -> list[PlotLine]:
    """Return three or four round numbers up the side."""
    low, high = up
    rough = (high - low) / 4
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * n for n in (1, 2, 2.5, 5, 10) if power * n >= rough)
    first = math.ceil(low / step)
    decimals = len(f"{step:.10f}".rstrip("0").partition(".")[2])
    levels = [step * n for n in range(first, math.floor(high / step) + 1)]
    return [PlotLine(level, f"{level:,.{decimals}f}") for level in levels]


def _days(trend: Trend, across: tuple[float, float], reader: _Reader) -> list[PlotLine]:
    """Return the beginnings of months along the foot, at most four; of a short stretch its two ends."""
    series = trend.series
    first, last = (series.instant(at).astimezone(reader.zone) for at in across)
    months = (last.year - first.year) * 12 + last.month - first.month
    if months < 2:
        return [PlotLine(at, day(series.instant(at))) for at in (across[0] + 0.1, across[1])]
    step = next((n for n in TICK_MONTHS if months // n <= MOST_TICKS - 1), TICK_MONTHS[-1])
    begins = [
        datetime(number // 12, number % 12 + 1, 1, tzinfo=reader.zone)
        for number in range(first.year * 12 + first.month, last.year * 12 + last.month)
        if number % step == 0
    ]
    return [PlotLine(series.days(at), f"{at:%b %Y}") for at in begins]


# Tables and numbers --------------------------------------------------------------------------------------------------


def _rows(trend: Trend, reader: _Reader) -> list[PointRow]:
    shown = [
        PointRow(one.at, reader.text(one.value), one.verdict, one.ref, one.at_least, _counts(trend, one))
        for one in trend.series.points
    ]
    voids = [PointRow(one.at, "", "void", one.ref, False, "void: proves nothing") for one in trend.series.voids]
    return sorted(shown + voids, key=lambda row: row.at, reverse=True)


def _counts(trend: Trend, one: Point) -> str:
    since = trend.series.since
    if trend.forecast is None:
        return "drawn, not foretold from"
    if one.at_least:
        return "a lower bound: left out of the line"
    if since is not None and one.at < since.at:
        return f"before the {since.what}: left out of the line"
    return "yes"


def fit_numbers(trend: Trend, *, zone: ZoneInfo, uses_si: bool) -> list[tuple[str, str]]:
    """Return the numbers of the fit, each with what it is called; empty where there is no line."""
    found = trend.forecast
    if found is None or found.line is None or found.robust is None:
        return []
    reader = _Reader(trend.quantity, uses_si, zone)
    scale = reader.number(1.0) - reader.number(0.0)
    year = 365.25 * scale

    def number(value: float) -> str:
        return f"{value:+.3g} {reader.unit}".strip() if value else f"0 {reader.unit}".strip()

    def ahead(at: datetime | None) -> str:
        return day(at) if at is not None else "none that can be told"

    scatter = found.line.scatter or 0.0
    return [
        ("Slope of the line", f"{number(found.line.slope * year)} a year"),
        (
            "90 % range of the slope",
            f"{number((found.slope_low or 0.0) * year)} to {number((found.slope_high or 0.0) * year)} a year",
        ),
        ("Slope of the line of medians", f"{number(found.robust.slope * year)} a year"),
        ("Scatter of the readings about the line", f"{scatter * abs(scale):.3g} {reader.unit}".strip()),
        ("Readings behind it", str(found.line.readings)),
        ("The line meets the limit", ahead(trend.crosses_at)),
        ("A single reading may, at the earliest", ahead(trend.earliest_at)),
        (
            "The line of medians meets it",
            ahead(_ahead(trend, found.robust_crossing)),
        ),
        ("Nothing is told beyond", ahead(_ahead(trend, found.horizon))),
    ]


def _ahead(trend: Trend, days: float | None) -> datetime | None:
    return None if days is None else trend.series.start + timedelta(days=days)


def formulas_behind(trend: Trend) -> list[Formula]:
    """Return the formulas that stand behind the readings and, where there is one, the forecast."""
    names = (*trend.quantity.formulas, *(DRIFT if trend.forecast else ()))
    known = {formula.name: formula for formula in catalogue()}
    return [known[name] for name in names]


def csv_rows(trend: Trend, *, uses_si: bool) -> list[tuple[object, ...]]:
    """Return every reading, oldest first, under a heading; void checks have no value."""
    reader = _Reader(trend.quantity, uses_si, ZoneInfo("UTC"))
    shown = [
        (one.at, f"{reader.number(one.value):.6g}", one.at_least, one.verdict, one.ref, _counts(trend, one))
        for one in trend.series.points
    ]
    voids = [(one.at, "", False, "void", one.ref, "void: proves nothing") for one in trend.series.voids]
    heading = ("happened_at", "value", "unit", "at_least", "verdict", "record", "counts")
    body = [
        (
            at.astimezone(ZoneInfo("UTC")).isoformat(timespec="seconds"),
            value,
            reader.unit,
            int(least),
            verdict,
            ref,
            said,
        )
        for at, value, least, verdict, ref, said in sorted(shown + voids)
    ]
    return [heading, *body]
