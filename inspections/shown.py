"""Readings for one reader: in the units that this reader chose, with what was written kept beside it. Pure."""

from typing import Protocol

from shared.units import OWN_WORDS, SIGNS, to_reader, unit_in


class Recorded(Protocol):
    """A reading as it is kept."""

    number: float | None
    text: str
    unit: str
    as_entered: str


def with_unit(text: str, unit: str, uses_si: bool) -> str:
    """Return a number as its reader typed it, with the unit it was asked for in where that is not the input's own."""
    shown = to_reader(0.0, unit, uses_si)[1]
    return f"{text} {SIGNS.get(shown, shown)}" if text and shown != unit and not unit_in(text) else text


def foreign(as_entered: str, unit: str, uses_si: bool) -> str:
    """Return a number as it was written, with its unit where this reader would take it for one in another."""
    return with_own(as_entered, unit) if to_reader(0.0, unit, uses_si)[1] != unit else as_entered


def with_own(as_entered: str, unit: str) -> str:
    """Return a number as it was written, and the unit it was asked for in where it names none."""
    return as_entered if unit_in(as_entered) else f"{as_entered} {SIGNS.get(unit, unit)}".strip()


def entered(reading: Recorded, uses_si: bool) -> tuple[str, str]:
    """Return a reading and its unit for a reader: as it was entered, or turned, with what was entered behind it."""
    written = reading.as_entered or reading.text
    if reading.number is None:
        return written, ""
    value, unit = to_reader(reading.number, reading.unit, uses_si)
    word = unit_in(written).casefold() if written else ""
    is_own = word in OWN_WORDS.get(reading.unit, ()) or word == reading.unit.casefold()
    if unit == reading.unit and (not word or is_own):
        return (written[: len(written) - len(word)].strip() if word else written) or f"{value:g}", SIGNS.get(unit, unit)
    sign = SIGNS.get(unit, unit)
    if word == sign.casefold():
        return written[: len(written) - len(word)].strip(), sign
    return f"{value:.4g}", f"{sign} (entered {with_own(written, reading.unit)})"
