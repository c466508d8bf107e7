"""What a department asks for itself: judged by the bounds it wrote, with no code of ours behind it.

An own input carries ``own: true`` and what is expected of it: bounds as a limit has them for a number, ``expected`` for
a yes or no, and the failure ``modes`` that it speaks of. An input that expects nothing is kept and decides nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from inspections.verdicts.core import Finding, Limit, Outcome, Subject, Verdict
from inspections.verdicts.judgement import Judgement, Readings, in_words, origin_of, shown, worst

BOUNDS: Final = ("pass_low", "pass_high", "limits_low", "limits_high")


def judge(subject: Subject, readings: Readings, asked: Sequence[Mapping[str, Any]]) -> Verdict:
    """Judge a check that a department made: each input by its bounds, each mode by the inputs that name it."""
    j = Judgement(subject, readings, {})
    for one in asked:
        finding = _finding(one, readings)
        if finding is None:
            continue
        j.findings.append(finding)
        for code in one.get("modes", ()):
            j.settle(code, finding.outcome, finding.text, by_eye=one["type"] == "yes_no")
    return j.verdict()


def added(verdict: Verdict, readings: Readings, asked: Sequence[Mapping[str, Any]]) -> Verdict:
    """Return one of our verdicts with what a department's own inputs add: they weigh on it, and prove no mode."""
    found = [finding for one in asked if one.get("own") and (finding := _finding(one, readings))]
    if not found or verdict.outcome is Outcome.VOID:
        return verdict
    outcome = worst([verdict.outcome, *(finding.outcome for finding in found)])
    said = [finding.text for finding in found if finding.outcome is outcome]
    kept = [verdict.summary] if outcome is verdict.outcome else []
    return replace(
        verdict,
        outcome=outcome,
        findings=(*verdict.findings, *found),
        summary=" ".join([*kept, *said]) or verdict.summary,
    )


def limit_of(asked: Mapping[str, Any]) -> Limit | None:
    """Return the bounds of an own number as a limit, None where it has none."""
    if all(asked.get(name) is None for name in BOUNDS):
        return None
    return Limit(
        key=asked["key"],
        quantity=asked["label"],
        unit=asked.get("unit", ""),
        origin=asked.get("origin") or "local policy",
        source=asked.get("source", ""),
        pass_low=asked.get("pass_low"),
        pass_high=asked.get("pass_high"),
        limits_low=asked.get("limits_low"),
        limits_high=asked.get("limits_high"),
    )


def _finding(asked: Mapping[str, Any], readings: Readings) -> Finding | None:
    value, expected = readings.get(asked["key"]), asked.get("expected")
    if isinstance(value, bool) and expected in ("yes", "no"):
        good = value is (expected == "yes")
        text = f"{asked['label']}: {'yes' if value else 'no'}."
        origin = asked.get("origin") or "local policy"
        return Finding(
            asked["key"], text, Outcome.PASS if good else Outcome.FAIL, value, limit_text=expected, origin=origin
        )
    limit = limit_of(asked)
    if limit is None or isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return Finding(
        key=asked["key"],
        text=f"{asked['label']}: {shown(value)} {limit.unit}".rstrip() + ".",
        outcome=limit.judge(value),
        value=value,
        unit=limit.unit,
        limit_text=in_words(limit),
        origin=origin_of(limit),
    )
