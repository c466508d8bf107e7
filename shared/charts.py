"""Drawings as SVG made of attributes alone, so that they pass a policy without inline styles.

Numbers in, markup out; no query, no clock. Widths are given in percent of the drawing, which stretches with its page.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

# Which mark a word bears. Anything else that is said of a thing bears the half-filled mark.
LEVELS = {
    "whole": "whole",
    "proven": "whole",
    "pass": "whole",
    "in service": "whole",
    "limited": "limited",
    "pass with limits": "limited",
    "claimed": "unproven",
    "stale": "unproven",
    "boxed": "unproven",
    "never proven": "unproven",
    "reopened": "unproven",
    "present, limits": "limited",
    "found present": "down",
    "in doubt": "limited",
    "not recorded": "unrecorded",
    "void": "unrecorded",
    "never rated": "unrecorded",
    "down": "down",
    "fail": "down",
    "out of service": "down",
    "condemned": "down",
    "disposed": "down",
}
_SHAPES = {
    "whole": '<circle cx="8" cy="8" r="7" fill="currentColor"/>',
    "limited": '<circle cx="8" cy="8" r="6.2" fill="none" stroke="currentColor" stroke-width="1.6"/>'
    '<path d="M8 1.8a6.2 6.2 0 0 1 0 12.4z" fill="currentColor"/>',
    "unproven": '<circle cx="8" cy="8" r="6.2" fill="none" stroke="currentColor" stroke-width="1.6"/>'
    '<circle cx="8" cy="8" r="2" fill="currentColor"/>',
    "unrecorded": '<circle cx="8" cy="8" r="6.2" fill="none" stroke="currentColor" stroke-width="1.6" '
    'stroke-dasharray="2.4 2.4"/>',
    "down": '<circle cx="8" cy="8" r="6.2" fill="none" stroke="currentColor" stroke-width="1.6"/>'
    '<path d="M1 15L15 1" stroke="currentColor" stroke-width="2.4"/>',
}


def mark(level: str) -> SafeString:
    """Draw the mark of a level: full, half, dotted, broken or struck through."""
    shape = mark_safe(_SHAPES.get(level, _SHAPES["limited"]))  # noqa: S308 constants of this module
    return format_html('<svg viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">{}</svg>', shape)


def track(percent: float, *, short: bool, unproven: bool = False) -> SafeString:
    """Draw how much of the hours asked something carries: hatched where it limits, with a mark at its end.

    Args:
        percent: share of the hours carried, cut to 0 .. 100. [percent]
        short: whether it falls short of what is asked, or may.
        unproven: whether only the proof is missing; dotted rather than hatched.
    """
    reach = f"{min(max(percent, 0.0), 100.0):.2f}".rstrip("0").rstrip(".")
    fill = ("url(#dots)" if unproven else "url(#hatch)") if short else "#dcebf0"
    return format_html(
        '<svg aria-hidden="true" focusable="false"><rect width="{r}%" height="100%" fill="{fill}"/>'
        '<line x1="{r}%" x2="{r}%" y1="0" y2="100%" stroke="{ink}" stroke-width="{w}"{dash}/></svg>',
        r=reach,
        fill=fill,
        ink="#17212b" if short else "#0b5c7a",
        # The stroke is centred on the edge: where the track ends at a side, half of it falls outside the drawing.
        w=6 if reach in ("0", "100") else 3,
        dash=mark_safe(' stroke-dasharray="3 3"' if unproven else ""),  # noqa: S308 a constant
    )


def hour_marks(hours: float) -> SafeString:
    """Write the hours along the top of the tracks: at most five marks, first and last at the edges.

    Args:
        hours: length of the mission, > 0. [h]
    """
    step = next((s for s in (0.25, 0.5, 1, 2, 3, 4, 6, 12, 24) if hours / s <= 4), hours)
    marks = [step * n for n in range(int(hours / step) + 1) if step * n < hours * 0.93] + [hours]
    rows = [
        (
            f"{100 * m / hours:.2f}",
            "start" if m == 0 else "end" if m == hours else "middle",
            "start" if m == 0 else f"{m:g} h",
        )
        for m in marks
    ]
    texts = format_html_join("", '<text x="{}%" y="14" text-anchor="{}">{}</text>', rows)
    return format_html('<svg class="hours" aria-hidden="true" focusable="false">{}</svg>', texts)


def curve(values: Sequence[float]) -> SafeString:
    """Draw values in their order, evenly spaced, from nought up, each with its figure; the table beside it says all.

    Args:
        values: at least two, >= 0; of any unit. [-]
    """
    top = max(values) * 1.25 or 1.0
    across = [f"{6 + 88 * number / (len(values) - 1):.2f}" for number in range(len(values))]
    down = [92 - 80 * value / top for value in values]
    places = list(zip(across, [f"{y:.2f}" for y in down], strict=True))
    lines = format_html_join(
        "",
        '<line x1="{}%" y1="{}%" x2="{}%" y2="{}%" stroke="#17212b" stroke-width="2"/>',
        [(*first, *second) for first, second in itertools.pairwise(places)],
    )
    dots = format_html_join("", '<circle cx="{}%" cy="{}%" r="4" fill="#0b5c7a"/>', places)
    figures = [(x, f"{y - 7:.2f}", f"{value:.0f}") for x, y, value in zip(across, down, values, strict=True)]
    texts = format_html_join("", '<text x="{}%" y="{}%" text-anchor="middle">{}</text>', figures)
    return format_html(
        '<svg class="curve" aria-hidden="true" focusable="false">'
        '<line x1="3%" y1="92%" x2="97%" y2="92%" stroke="#55606c" stroke-width="1"/>{}{}{}</svg>',
        lines,
        dots,
        texts,
    )


# Readings over time --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PlotMark:
    """One reading: when, how much (None: it has no value and stands at the foot), its level, and where it leads."""

    x: float
    y: float | None
    level: str
    href: str
    words: str


@dataclass(frozen=True, slots=True)
class PlotLine:
    """A level or a moment with its label, which stands over its line unless it is to stand under it."""

    at: float
    label: str
    under: bool = False


@dataclass(frozen=True, slots=True)
class Plot:
    """Readings over time with limits, trend and range, all in one unit and on one count of days.

    Attributes:
        title: what is drawn.
        words: what it shows, for who does not see it.
        marks: the readings.
        limits: lines across.
        breaks: lines down, where a series begins anew.
        days: labels along the foot.
        levels: labels up the side.
        trend: (time, value) along the fitted line.
        low: lower edge of the range about it.
        high: upper edge.
        newest: label of the last reading.
    """

    title: str
    words: str
    marks: Sequence[PlotMark]
    limits: Sequence[PlotLine]
    breaks: Sequence[PlotLine]
    days: Sequence[PlotLine]
    levels: Sequence[PlotLine]
    across: tuple[float, float]
    up: tuple[float, float]
    trend: Sequence[tuple[float, float]] = ()
    low: Sequence[tuple[float, float]] = ()
    high: Sequence[tuple[float, float]] = ()
    newest: str = ""


# In percent of the drawing; the room for the labels at its side is left by the style sheet.
_LEFT, _RIGHT, _TOP, _FOOT = 0.0, 100.0, 8.0, 86.0
_AT_LEAST = (
    '<path d="M8 2L14 13H2z" fill="#fffefb" stroke="currentColor" stroke-width="1.6"/>'  # an arrow head: or more
)


def time_plot(plot: Plot) -> SafeString:
    """Draw readings over time: marks that lead to their records, limits, and the trend with its dashed range."""
    title = format_html("<title>{}</title><desc>{}</desc>", plot.title, plot.words)
    parts = (_scales(plot), _range(plot), _limit_lines(plot), _break_lines(plot), _readings(plot))
    inside = format_html_join("", "{}", ((part,) for part in parts))
    return format_html('<svg class="plot" role="figure" focusable="false">{}{}</svg>', title, inside)


def _x(plot: Plot, at: float) -> float:
    first, last = plot.across
    return _LEFT + (_RIGHT - _LEFT) * (at - first) / (last - first)


def _y(plot: Plot, value: float) -> float:
    low, high = plot.up
    return _FOOT - (_FOOT - _TOP) * (value - low) / (high - low)


def _anchor(x: float) -> str:
    """Return which end of a label stands at a place, so that none runs out of the drawing."""
    return "end" if x > 85 else "start" if x < 10 else "middle"


def _scales(plot: Plot) -> SafeString:
    levels = format_html_join(
        "",
        '<line x1="{left}%" x2="{right}%" y1="{y}%" y2="{y}%" stroke="#ece8de"/>'
        '<text class="quiet" x="{edge}%" y="{y}%" dx="-6" dy="4" text-anchor="end">{label}</text>',
        (
            {"left": _LEFT, "right": _RIGHT, "edge": _LEFT, "y": f"{_y(plot, one.at):.2f}", "label": one.label}
            for one in plot.levels
        ),
    )
    days = format_html_join(
        "",
        '<line x1="{x}%" x2="{x}%" y1="{foot}%" y2="{tick}%" stroke="#55606c"/>'
        '<text class="quiet" x="{x}%" y="97%" text-anchor="{anchor}">{label}</text>',
        (
            {
                "x": f"{x:.2f}",
                "foot": _FOOT,
                "tick": _FOOT + 2,
                "label": one.label,
                "anchor": _anchor(x),
            }
            for one in plot.days
            for x in (_x(plot, one.at),)
        ),
    )
    return format_html(
        '{}<line x1="{}%" x2="{}%" y1="{}%" y2="{}%" stroke="#55606c"/>{}', levels, _LEFT, _RIGHT, _FOOT, _FOOT, days
    )


def _range(plot: Plot) -> SafeString:
    """Draw what stretches with the drawing in a box of its own, whose strokes keep their width."""
    if not plot.trend:
        return SafeString("")
    area = _path(plot, [*plot.low, *reversed(plot.high)])
    return format_html(
        '<svg x="{}%" y="{}%" width="{}%" height="{}%" viewBox="0 0 1000 1000" preserveAspectRatio="none">'
        '<path d="{}z" fill="#dcebf0" stroke="none"/>{}'
        '<path d="{}" fill="none" stroke="#17212b" stroke-width="1.5" vector-effect="non-scaling-stroke"/></svg>',
        _LEFT,
        _TOP,
        _RIGHT - _LEFT,
        _FOOT - _TOP,
        area,
        format_html_join(
            "",
            '<path d="{}" fill="none" stroke="#55606c" stroke-dasharray="5 4" vector-effect="non-scaling-stroke"/>',
            ((_path(plot, edge),) for edge in (plot.low, plot.high)),
        ),
        _path(plot, plot.trend),
    )


def _path(plot: Plot, points: Iterable[tuple[float, float]]) -> str:
    width, height = _RIGHT - _LEFT, _FOOT - _TOP
    places = [(1000 * (_x(plot, x) - _LEFT) / width, 1000 * (_y(plot, y) - _TOP) / height) for x, y in points]
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in places)


def _limit_lines(plot: Plot) -> SafeString:
    return format_html_join(
        "",
        '<line x1="{left}%" x2="{right}%" y1="{y}%" y2="{y}%" stroke="#17212b" stroke-width="2.5"/>'
        '<text class="limit" x="{right}%" y="{y}%" dy="{dy}" text-anchor="end">{label}</text>',
        (
            {
                "left": _LEFT,
                "right": _RIGHT,
                "y": f"{_y(plot, one.at):.2f}",
                "dy": 15 if one.under else -6,
                "label": one.label,
            }
            for one in plot.limits
        ),
    )


def _break_lines(plot: Plot) -> SafeString:
    return format_html_join(
        "",
        '<line x1="{x}%" x2="{x}%" y1="{top}%" y2="{foot}%" stroke="#17212b" stroke-dasharray="1 4" stroke-width="2"/>'
        '<text class="quiet" x="{x}%" y="{top}%" dy="-3" text-anchor="{anchor}">{label}</text>',
        (
            {
                "x": f"{x:.2f}",
                "top": _TOP,
                "foot": _FOOT,
                "label": one.label,
                "anchor": _anchor(x),
            }
            for one in plot.breaks
            for x in (_x(plot, one.at),)
        ),
    )


def _readings(plot: Plot) -> SafeString:
    # The table beside it leads to the same records by keyboard, so a hundred marks are no hundred stops.
    marks = format_html_join(
        "",
        '<a href="{href}" tabindex="-1" aria-hidden="true"><svg x="{x}%" y="{y}%" overflow="visible">'
        '<g transform="translate(-6 -6)"><title>{words}</title><circle cx="6" cy="6" r="11" fill="transparent"/>'
        '<circle cx="6" cy="6" r="5" fill="#fffefb"/><g transform="scale(.75)">{shape}</g></g></svg></a>',
        (
            {
                "href": one.href,
                "x": f"{_x(plot, one.x):.2f}",
                "y": f"{_FOOT if one.y is None else _y(plot, one.y):.2f}",
                "words": one.words,
                "shape": plot_shape(one.level),
            }
            for one in plot.marks
        ),
    )
    valued = [one for one in plot.marks if one.y is not None]
    if not valued or not plot.newest:
        return marks
    last = max(valued, key=lambda one: one.x)
    x, y = _x(plot, last.x), _y(plot, last.y or 0.0)
    label = format_html(
        '<text class="newest" x="{}%" y="{}%" dx="{}" dy="{}" text-anchor="{}">{}</text>',
        f"{x:.2f}",
        f"{y:.2f}",
        0,
        -10 if y > 24 else 20,
        _anchor(x),
        plot.newest,
    )
    return format_html("{}{}", marks, label)


def plot_shape(level: str) -> SafeString:
    """Return the shape of a reading's mark, in a box of 16: as the verdicts are marked, and a head for or more."""
    return mark_safe(_AT_LEAST if level == "at least" else _SHAPES.get(level, _SHAPES["limited"]))  # noqa: S308 ditto


def plot_key(level: str) -> SafeString:
    """Draw the mark of a reading for the words beside it."""
    return format_html('<svg viewBox="0 0 16 16" width="14" height="14" aria-hidden="true">{}</svg>', plot_shape(level))
