"""What every template has: numbers with their unit, dates, and levels with their mark and word."""

import math
import re
from datetime import date, datetime, time
from typing import Any

from django import forms, template
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shared import charts, units
from shared.units import SI_FOR, SIGNS, to_reader

register = template.Library()

NOT_RECORDED = "not recorded"


def from_reader(value: float, unit: str, uses_si: bool) -> float:
    """Return a quantity that its reader wrote, in ``unit``; what was converted to be shown comes back as it was."""
    if not uses_si or unit not in SI_FOR:
        return value
    return round(float(units.from_si(units.to_si(value, SI_FOR[unit]), unit)), 2)


def plain_number(value: float | None, digits: int = 3) -> str:
    """Return a number to some significant figures with thousands set apart, whole ones without a point."""
    if value is None:
        return NOT_RECORDED
    if isinstance(value, float) and math.isinf(value):
        return "no end"
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def written(value: float | None, unit: str, uses_si: bool = False) -> str:
    """Return a quantity as people write it: ``155,800 BTU/h``, ``76 °F``, ``2 lanes``."""
    if value is None:
        return NOT_RECORDED
    value, unit = to_reader(value, unit, uses_si)
    if unit == "degC":
        # A temperature that was given in whole degrees Fahrenheit is known no finer.
        value = round(value, 1)
    sign = SIGNS.get(unit, unit)
    digits = 6 if abs(value) >= 1000 else 3
    if unit in ("lanes", "people", "items") and value == 1:
        sign = {"people": "person"}.get(unit, unit.removesuffix("s"))
    return f"{plain_number(value, digits)} {sign}".strip()


@register.filter
def num(value: float | None, digits: int = 3) -> str:
    return plain_number(value, int(digits))


def in_sentence(name: str) -> str:
    """Return a name as it stands inside a sentence; an abbreviation such as GFCI keeps its capitals."""
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


@register.filter
def points(value: float) -> str:
    """Write a chance in whole points of 100, but never as a certainty that it is not."""
    if 0 < value < 1:
        return "1"
    return "99" if 99 < value < 100 else f"{value:.0f}"


@register.simple_tag(takes_context=True)
def quantity(context: template.Context, value: float | None, unit: str = "") -> str:
    """Write a value with its unit, in SI for a reader who chose it."""
    request = context.get("request")
    return written(value, unit, bool(getattr(getattr(request, "user", None), "uses_si", False)))


@register.filter
def minutes(value: float | None) -> str:
    """Write minutes as people say them: ``40 min``, ``1 h 40 min``, ``3 h``."""
    if value is None:
        return NOT_RECORDED
    whole, left = divmod(round(value), 60)
    if not whole:
        return f"{left} min"
    return f"{whole} h {left} min" if left else f"{whole} h"


@register.filter
def hours(value: float | None) -> str:
    return NOT_RECORDED if value is None else minutes(value * 60)


@register.filter
def wet(value: float | None) -> str:
    """Write minutes wet: in seconds below two minutes, as showers are timed."""
    if value is None:
        return NOT_RECORDED
    return f"{value * 60:g} seconds" if value < 2 else f"{value:g} minutes"


def _moment(value: Any) -> datetime | date | None:
    if isinstance(value, str):
        value = parse_datetime(value) or parse_date(value)
    if isinstance(value, datetime) and timezone.is_aware(value):
        return timezone.localtime(value)
    return value


@register.filter
def day(value: Any) -> str:
    """Write an ISO string, a date or an instant as ``9 Nov 2026`` in the department's time zone."""
    moment = _moment(value)
    return f"{moment.day} {moment:%b %Y}" if moment else NOT_RECORDED


@register.filter
def instant(value: Any) -> str:
    """Write an instant as ``9 Nov 2026, 18:00 EST`` in the department's time zone."""
    moment = _moment(value)
    if not isinstance(moment, datetime) or moment.timetz() == time.min:
        return day(moment)
    return f"{moment.day} {moment:%b %Y, %H:%M %Z}".strip()


@register.simple_tag
def mark(level: str) -> SafeString:
    """Draw the mark of a level; its word stands beside it, so the drawing is hidden from screen readers."""
    return charts.mark(level)


@register.simple_tag
def level(level: str, word: str) -> SafeString:
    """Write a level as mark and word."""
    return format_html('<span class="level {}">{}<span>{}</span></span>', level, charts.mark(level), word)


@register.filter
def level_of(word: str) -> str:
    """Return the level whose mark a word bears: of lines, of evidence, of verdicts and of item states."""
    return charts.LEVELS.get(word.lower(), "limited") if word else "unrecorded"


@register.filter
def listed(values: Any, last: str = "and") -> str:
    """Join names as a sentence does: ``a, b and c``."""
    names = [str(value) for value in values or ()]
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


@register.filter
def lookup(mapping: Any, key: str) -> Any:
    return mapping.get(key, "") if hasattr(mapping, "get") else ""


@register.inclusion_tag("shared/_field.html")
def field(bound: forms.BoundField, width: str = "") -> dict[str, Any]:
    """Draw one form field: label, input, hint, and its errors beside it; ``long`` ones take more room in a row."""
    boolean = isinstance(bound.field.widget, forms.CheckboxInput)
    return {"field": bound, "boolean": boolean, "wide": width == "long"}


@register.simple_tag
def track(percent: float, level: str) -> SafeString:
    """Draw how far into the hours something carries; only what is proven is drawn plain."""
    return charts.track(percent, short=level != "whole", unproven=level == "unproven")


@register.simple_tag
def hour_marks(hours: float) -> SafeString:
    return charts.hour_marks(hours)


@register.simple_tag
def linked(text: str, url_name: str, to: Any) -> SafeString | str:
    """Link a name to its page; plain text where nothing is behind it.

    ``to`` is the page's argument, or a mapping from the text to it.
    """
    argument = to.get(text) if hasattr(to, "get") else to
    if not argument:
        return str(text)
    try:
        return format_html('<a href="{}">{}</a>', reverse(url_name, args=[argument]), text)
    except NoReverseMatch:
        return str(text)


@register.filter
def margin(value: float) -> str:
    """Write have over need, less one, in percent with its sign."""
    return f"{'+' if value >= 0 else '−'}{abs(value) * 100:.0f} %"


@register.filter
def lookup_last(mapping: Any, name: str) -> Any:
    """Look up the last word of a name such as ``WH-01 HT3``: the failure mode's code."""
    return lookup(mapping, str(name).split()[-1] if name else "")


@register.filter
def spoken(text: str) -> str:
    """Write a sentence of the pure core with the signs of a page."""
    plain = re.sub(r" d?deg([FC])\b", r" °\1", str(text))
    plain = re.sub(r"(?<!\w)'([^']+)'(?!\w)", r"‘\1’", plain).replace("'", "’")
    plain = re.sub(r"(?<=\d) percent\b", " %", plain)
    plain = re.sub(r"\bhose (hot|cold|waste)\b", r"\1 hose", plain).replace("hose whip", "whip hose")
    plain = re.sub(r"\b\d{4}-\d\d-\d\d\b", lambda found: day(found[0]), plain)
    return re.sub(r"\b(papr|gfci)\b", lambda found: found[0].upper(), plain)
