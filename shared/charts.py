"""Drawings as SVG made of attributes alone, so that they pass a policy without inline styles.

Numbers in, markup out; no query, no clock. Widths are given in percent of the drawing, which stretches with its page.
"""

import itertools
from collections.abc import Sequence

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
