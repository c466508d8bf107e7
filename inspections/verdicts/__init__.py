"""Verdicts: pure judges, one for each check key. See ``core`` for what goes in and comes out."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from inspections.verdicts import heat, hold, look, own, power, pressure, propane, setup, waste
from inspections.verdicts.core import Subject, Verdict
from inspections.verdicts.judgement import Judgement, Limits, Readings

Judge = Callable[[Subject, Readings, Limits], Verdict]

JUDGES: Final[dict[str, Judge]] = {
    "hold": hold.judge,
    "relief": pressure.judge_relief,
    "inflate": pressure.judge_inflate,
    "heat": heat.judge,
    "propane": propane.judge,
    "sump": waste.judge_sump,
    "bladder": waste.judge_bladder,
    "injector": waste.judge_injector,
    "sprayer": waste.judge_sprayer,
    "battery": power.judge_battery,
    "generator": power.judge_generator,
    "gfci": power.judge_gfci,
    "light": power.judge_light,
    "count": look.judge_count,
    "cylinder": pressure.judge_cylinder,
    "look": look.judge_look,
    "hose": setup.judge_hose,
    "connect": setup.judge_connect,
    "setup": setup.judge_setup,
    "trailer": setup.judge_trailer,
    "cylinder_kit": pressure.judge_cylinder_kit,
    "drypack": setup.judge_drypack,
}

BARE: Final = frozenset(
    {"result", "ambient_degF", "units", "acceptance", "instrument", "note"}
)  # inputs that measure nothing


def judge(
    check_key: str,
    subject: Subject,
    readings: Readings,
    limits: Limits,
    asked: Sequence[Mapping[str, Any]] = (),
) -> Verdict:
    """Return the verdict of one check.

    Args:
        check_key: one of ours, or a department's own check.
        subject: what is known of the thing beforehand.
        readings: as understood, by input key.
        limits: in force, by key.
        asked: the procedure's inputs; those that the department wrote itself carry their own bounds.

    Raises:
        KeyError: the check is neither ours nor described by ``asked``.
    """
    if reason := str(readings.get("void_reason") or "").strip():
        j = Judgement(subject, readings, limits)
        j.void(f"Spoiled: {reason}. It proves nothing; do it again.", "void_reason", reason)
        return j.verdict()
    if "result" in readings and readings.keys() <= BARE:
        # A result without a number is nobody's to weigh: a claim, or a fault taken at its word.
        return Judgement(subject, readings, limits).verdict()
    if check_key not in JUDGES and asked:
        return own.judge(subject, readings, asked)
    return own.added(JUDGES[check_key](subject, readings, limits), readings, asked)
