"""Readings as people and registers write them, turned into what a judge takes. Pure: no database, no clock.

A procedure's inputs say what is asked for; this module finds the input a written key means, reads its value in the
input's unit, and refuses what it cannot understand, every bad reading at once.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from inspections.verdicts.core import ReadingError
from inventory.importing.cells import CellError, parse_day
from shared.units import QuantityError, Typed, to_reader, typed

YES = frozenset({"yes", "y", "true", "1", "ok", "on", "x", "✓", "✔", "√", "☑"})
NO = frozenset({"no", "n", "false", "0", "off", "not"})
SAID_NONE = frozenset({"none", "no", "nil", "n", "0", "false", "nothing"})
# "no bubbles", "none seen", "nothing found": said outright that there was none
SAID_OF_NONE = re.compile(
    r"(?:no|none|nothing|nil|zero|without|free of)\b(?!.*\b(?:test|record|check|known)\w*\b).{0,40}", re.I
)
NOT_TAKEN = frozenset(
    {
        "n/a",
        "na",
        "n.a.",
        "-",
        "--",
        "?",
        "not done",
        "not tested",
        "not checked",
        "not taken",
        "not recorded",
        "skipped",
    }
)
SAID_SEEN = frozenset({"yes", "y", "true", "1", "some"})
OF = re.compile(r"^(\d+)\s*(?:of|/|out of)\s*\d+$", re.I)
DATE_FORMS = ("%Y-%m-%d", "%m/%d/%Y", "%m/%d/%y", "%m-%d-%Y", "%b %d, %Y", "%B %d, %Y", "%d %b %Y")
MONTH_FORMS = ("%b %Y", "%B %Y", "%m-%Y", "%m/%Y", "%Y-%m")

# Inputs that are set or read off a plate: alike every time, and rightly.
SETTINGS = frozenset(
    {
        "bucket_gal", "hold_min", "lanes", "lift_ft", "nominal_lb", "of", "p_set_psi", "planning_degF", "plate_psi",
        "rest_h", "rest_min", "run_min", "run_s", "set_degF", "set_pct", "set_psi", "tare_lb",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Read:
    """One reading as understood.

    Attributes:
        value: number, yes or no, or words; dates as ISO text.
        as_entered: as it was written.
        unit: of the input.
        step: the last digit as written, for numbers. [unit]
    """

    key: str
    value: float | bool | str
    as_entered: str
    unit: str = ""
    step: float | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """All readings of one check, understood."""

    reads: tuple[Read, ...] = ()
    values: Mapping[str, float | bool | str] = field(default_factory=dict)
    steps: Mapping[str, float] = field(default_factory=dict)


def folded(key: str) -> str:
    """Return a key as it is compared: lower case, one spelling of degrees, underscores."""
    key = re.sub(r"[\s\-]+", "_", str(key).strip().casefold())
    return re.sub(r"_(deg_?f|degrees_f)$", "_f", key)


def telling_numbers(check_key: str, values: Mapping[str, Any]) -> tuple[tuple[str, float], ...]:
    """Return what was measured, by key; nothing where that says too little for its repetition to mean anything."""
    numbers = tuple(sorted((k, v) for k, v in values.items() if isinstance(v, float) and k not in SETTINGS))
    told = [v for k, v in numbers if not (check_key == "bladder" and k == "psi")]
    # One small whole number, such as a count, is often the same and true.
    return () if not told or (len(told) == 1 and told[0].is_integer()) else numbers


def inputs_by_name(definition: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """Return a procedure's inputs under every name that finds them."""
    found: dict[str, Mapping[str, Any]] = {}
    for asked in (*definition["inputs"], *definition.get("common_inputs", ())):
        for name in (asked["key"], *asked.get("aliases", ())):
            found.setdefault(folded(name), asked)
    return found


def read_entry(
    definition: Mapping[str, Any],
    values: Mapping[str, Any],
    names: Mapping[str, Mapping[str, Any]] | None = None,
    today: date | None = None,
    si: bool = False,
) -> Entry:
    """Return the readings of one check, understood.

    Args:
        definition: of the procedure: inputs, needs_one_of.
        values: as written, by any name of an input; blank ones are taken as not given.
        names: ``inputs_by_name(definition)`` where the caller keeps it.
        today: day of the check; no reading is dated after it.
        si: whether refusals speak in metric units; what is written without a unit is in the input's own either way.

    Raises:
        ReadingError: something cannot be understood; ``every`` lists all of it.
    """
    names = inputs_by_name(definition) if names is None else names
    reads: dict[str, Read] = {}
    bad: list[ReadingError] = []
    for key, value in values.items():
        if value is None or (isinstance(value, str) and (not value.strip() or value.strip().casefold() in NOT_TAKEN)):
            continue
        asked = names.get(folded(key))
        if asked is None:
            known = ", ".join(sorted(asked["key"] for asked in definition["inputs"]))
            bad.append(ReadingError(key, value, "this check asks for no such reading", f"It asks for: {known}."))
            continue
        if asked["key"] in reads:
            bad.append(ReadingError(key, value, "this reading is given twice", "Keep one of the two."))
            continue
        try:
            reads[asked["key"]] = _read(asked, key, value, today, si)
        except ReadingError as problem:
            bad.append(problem)
    if not bad:
        bad = _missing(definition, reads, si)
    if bad:
        first = bad[0]
        raise ReadingError(first.key, first.value, first.problem, first.mend, tuple(bad[1:]))
    return Entry(
        reads=tuple(reads.values()),
        values={read.key: read.value for read in reads.values()},
        steps={read.key: read.step for read in reads.values() if read.step is not None},
    )


def _missing(definition: Mapping[str, Any], reads: Mapping[str, Read], si: bool) -> list[ReadingError]:
    """Return what must be given and was not. A bare result is a claim, and a spoiled check void: neither needs more."""
    if "result" in reads or "void_reason" in reads:
        return []
    bad = [
        ReadingError(asked["key"], "", "this reading is missing", f"Give {asked['label'].lower()}{_in(asked, si)}.")
        for asked in definition["inputs"]
        if asked.get("required") and asked["key"] not in reads
    ]
    wanted = definition.get("needs_one_of") or []
    if not bad and wanted and not reads.keys() & set(wanted):
        bad.append(ReadingError(wanted[0], "", "nothing was read", f"Give at least one of: {', '.join(wanted)}."))
    return bad


def _in(asked: Mapping[str, Any], si: bool) -> str:
    unit = to_reader(0.0, asked.get("unit", ""), si)[1]
    return f" in {unit}" if unit else ""


def _read(asked: Mapping[str, Any], key: str, value: Any, today: date | None, si: bool) -> Read:
    sort, entered = asked["type"], str(value).strip()
    if sort in ("number", "integer"):
        return _number(asked, key, value, si)
    if sort == "yes_no":
        return Read(asked["key"], _yes_no(key, value, entered), entered)
    if sort == "choice":
        return Read(asked["key"], _choice(asked, key, entered), entered)
    if sort in ("date", "month"):
        return Read(asked["key"], _day(key, value, entered, today).isoformat(), entered)
    if len(entered) > 200:
        raise ReadingError(key, value, "this is longer than 200 letters", "Shorten it.")
    return Read(asked["key"], entered, entered)


def _number(asked: Mapping[str, Any], key: str, value: Any, si: bool) -> Read:
    unit, entered = asked.get("unit", ""), str(value).strip()
    found = _typed(asked, key, value, si)
    if not math.isfinite(found.value):
        raise ReadingError(key, value, "this is not a finite number", f"Give a number{_in(asked, si)}.")
    least, most = asked.get("least", -math.inf), asked.get("most", math.inf)
    if not least <= found.value <= most:
        (low, shown), (high, _) = to_reader(least, unit, si), to_reader(most, unit, si)
        said = f"this is outside {low:.4g} to {high:.4g} {shown}".rstrip()
        raise ReadingError(key, value, said, "Read it again, or check the unit.")
    if asked["type"] == "integer" and found.value != int(found.value):
        raise ReadingError(key, value, "this is not a whole number", "Give a whole number.")
    return Read(asked["key"], found.value, entered, unit, found.step)


def _typed(asked: Mapping[str, Any], key: str, value: Any, si: bool) -> Typed:
    """Return the number given and its step, in the input's own unit."""
    if isinstance(value, bool):
        raise ReadingError(key, value, "this is not a number", f"Give a number{_in(asked, si)}.")
    if isinstance(value, (int, float)):
        return Typed(float(value), 10.0 ** -len(repr(value).partition(".")[2].partition("e")[0]))
    entered = str(value).strip()
    out_of = OF.match(entered) if asked["type"] == "integer" else None  # "3/3" starts, "22 of 24" there
    try:
        return typed(out_of[1] if out_of else entered, asked.get("unit", ""))
    except QuantityError as refused:
        mend = f"Give it{_in(asked, si)}."
        if "not a number" in refused.problem:
            mend = f"Give a number{_in(asked, si)}, such as {_such(asked, si)}."
        raise ReadingError(key, value, refused.problem, mend) from None


def _such(asked: Mapping[str, Any], si: bool) -> str:
    least, most = asked.get("least", 0), asked.get("most", 100)
    return f"{to_reader((least + min(most, 100)) / 2, asked.get('unit', ''), si)[0]:.2g}"


def _yes_no(key: str, value: Any, entered: str) -> bool:
    if isinstance(value, bool):
        return value
    word = entered.casefold()
    if word in YES:
        return True
    if word in NO:
        return False
    raise ReadingError(key, value, "this is neither yes nor no", "Write yes or no.")


def _choice(asked: Mapping[str, Any], key: str, entered: str) -> str:
    """Return the choice meant. Where nothing-seen is a choice, any other word says what was seen."""
    word, choices = entered.casefold(), asked["choices"]
    for choice in choices:
        if word == choice.casefold():
            return str(choice)
    good = next((choice for choice in choices if choice in ("none", "ok", "clean")), None)
    if good is not None:
        if word in SAID_NONE or SAID_OF_NONE.fullmatch(word) or word in ("ok", "good", "clean"):
            return str(good)
        if word in SAID_SEEN:
            return "seen" if "seen" in choices else str(choices[1])
        if len(entered) <= 200:
            return entered
    raise ReadingError(key, entered, "this is not one of the answers", f"Write one of: {', '.join(choices)}.")


def _day(key: str, value: Any, entered: str, today: date | None) -> date:
    day = read_day(value)
    if day is None:
        raise ReadingError(key, value, "this is not a date", "Write it as 2025-03-14, 3/14/2025 or Mar 2025.")
    if today is not None and key.casefold() == "fuel_date" and day > today:
        raise ReadingError(key, value, "this day is after the check", "Read the date again.")
    return day


def read_day(value: Any) -> date | None:
    """Return the day that a date means, however it is written (the first of a month alone), or None."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    text = str(value).strip()
    for form in (*DATE_FORMS, *MONTH_FORMS):
        try:
            return datetime.strptime(text, form).date()  # noqa: DTZ007 - a day has no zone
        except ValueError:
            continue
    try:
        day = parse_day(text)
    except CellError:
        return None
    return day.on if day and day.precision != "year" else None
