"""Look and count: a bare look is a claim; what it names by number or observation is a proof."""

from datetime import date

from inspections.verdicts.core import Outcome, Subject, Verdict
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown

SEAM_LIFT_IN = 1.0  # longest lift of a pressure seam that may stay; over it the beam is out
# What a stated observation shows, by mode: (reading, how good is said, words when good, words when bad).
YES = {
    "DV2": ("deflate_turns", "The deflate valve turns.", "The deflate valve is jammed."),
    "IN1": ("runs", "It runs.", "It does not run."),
    "XX0": ("works", "It works when asked.", "It does not work when asked."),
    "LT2": ("works", "It works when asked.", "It does not work when asked."),
    "BP3": ("label_ok", "Labelled for soap only.", "Its label or its residue is wrong: triple rinse before use."),
    "WH8": ("tyres_ok", "Tyres and straps sound.", "A tyre or strap needs work."),
    "SH7": ("curtains_ok", "Curtains and zips work.", "A curtain or zip is broken or missing."),
    "GR2": ("surface_ok", "The surface grips.", "The surface is slick."),
}
NONE = {
    "TP1": ("holes", "No holes.", "Holes"),
    "GR1": ("damage", "No crack on the panels.", "Damage"),
    "TD2": ("damage", "Webbing and ratchets sound.", "Damage"),
}


def judge_look(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a look. Seen, and nothing else said, is a claim about every mode that a look can see."""
    j = Judgement(subject, readings, limits)
    seen = j.yes("seen")
    if seen is False:
        j.note("seen", "Not found in its place.", Outcome.FAIL, False)
        return j.verdict()
    for code, (key, good, bad) in YES.items():
        if code in subject.visible_modes:
            j.stated(code, j.yes(key), key, good, bad)
    for code, (key, good, bad) in NONE.items():
        if code in subject.visible_modes:
            j.stated(code, j.none_of(key), key, good, f"{bad}: {j.word(key)}.")
    _fabric(j)
    _seams(j)
    _parts(j)
    _unplaced_damage(j)
    for code in subject.visible_modes:
        j.claimed(code, "Looked at; nothing named.")
    return j.verdict()


def _fabric(j: Judgement) -> None:
    """Rodent damage is absent when both holes and droppings were looked for."""
    holes, droppings = j.none_of("holes"), j.none_of("droppings")
    if "SH8" not in j.subject.visible_modes or (holes is None and droppings is None):
        return
    if holes is False or droppings is False:
        j.stated(
            "SH8", False, "holes" if holes is False else "droppings", "", "Holes or droppings: clean, patch, hold test."
        )
    elif holes and droppings:
        j.stated("SH8", True, "droppings", "No holes, no droppings.", "")


def _seams(j: Judgement) -> None:
    lift = j.number("seam_lift_in")
    if "SH3" not in j.subject.visible_modes or lift is None:
        return
    text = f"Longest seam lift {shown(lift)} in; over {shown(SEAM_LIFT_IN)} in on a beam is out."
    bad = lift > SEAM_LIFT_IN
    j.note("seam_lift_in", text, Outcome.FAIL if bad else Outcome.PASS, lift, "in", origin="policy")
    if bad:
        j.present("SH3", text)
    else:
        j.proven("SH3", text)


def _parts(j: Judgement) -> None:
    """Caps and gaskets counted against how many there should be."""
    caps, wanted = j.number("caps"), j.number("caps_of")
    if "FV2" not in j.subject.visible_modes or caps is None or not wanted:
        return
    text = f"{shown(caps)} of {shown(wanted)} fill caps and gaskets."
    short = caps < wanted
    j.note("caps", text, Outcome.LIMITS if short else Outcome.PASS, caps)
    if short:
        j.present("FV2", text, caps / wanted)
    else:
        j.proven("FV2", text)


def _unplaced_damage(j: Judgement) -> None:
    """Damage that no mode of the kind names is still believed."""
    if j.none_of("damage") is not False or {"GR1", "TD2"} & set(j.subject.visible_modes):
        return
    text = f"Damage: {j.word('damage')}."
    if "XX0" in j.subject.visible_modes and j.yes("works") is None:
        j.stated("XX0", False, "damage", "", text)
    else:
        j.note("damage", text, Outcome.LIMITS, j.word("damage"))


def judge_count(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a count against how many there should be, and a lot against its expiry.

    ``sound_units`` is what the count leaves for use: not what is spoiled, and nothing from behind a broken seal.
    """
    j = Judgement(subject, readings, limits)
    counted, expected = j.number("counted"), subject.expected_units
    if counted is None:
        return j.verdict()
    sealed = j.yes("seal_intact")
    cooked = j.yes("temp_abuse") is True
    usable = 0.0 if sealed is False or cooked else counted - min(counted, j.number("spoiled") or 0.0)
    j.measure("sound_units", usable, "count")
    if cooked:
        j.note("temp_abuse", "Frozen or overheated: nothing here counts until it is sorted.", Outcome.LIMITS, True)
    if sealed is False:
        j.note("seal_intact", "The seal is broken: nothing here counts as clean until sorted.", Outcome.LIMITS, False)
    due = _expiry(j)
    if due is not None and subject.on >= due:
        usable = 0.0
        j.note("expires", f"Expired {due:%d %B %Y}.", Outcome.FAIL, due.isoformat())
    _shortage(j, usable, counted, expected)
    return j.verdict()


def _expiry(j: Judgement) -> date | None:
    """Return the earlier of the date read on the box and the one recorded; a difference is remarked."""
    said, recorded = j.readings.get("expires"), j.subject.due
    read = date.fromisoformat(said) if isinstance(said, str) else None
    if read and recorded and read != recorded:
        j.quality.append(f"The box says {read:%d %B %Y}, the record {recorded:%d %B %Y}: the earlier date is used.")
    dates = [day for day in (read, recorded) if day is not None]
    return min(dates, default=None)


def _shortage(j: Judgement, usable: float, counted: float, expected: int) -> None:
    codes = [code for code in ("GR1", "TD1", "CS1") if code in j.subject.visible_modes]
    if expected <= 0:
        j.note("counted", f"{shown(counted)} counted, {shown(usable)} usable.", value=counted)
        return
    short = usable < expected
    outcome = Outcome.PASS if not short else Outcome.FAIL if usable <= 0 else Outcome.LIMITS
    text = f"{shown(usable)} usable of {expected}."
    j.note("counted", text if short else f"{shown(counted)} counted of {expected}.", outcome, counted)
    for code in codes:
        if short:
            j.present(code, text, usable / expected)
        else:
            j.proven(code, f"{shown(counted)} counted of {expected}.")
