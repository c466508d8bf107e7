"""How every judge weighs its readings: findings beside their limits, modes settled by them, the worst one decides."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from inspections.verdicts.core import (
    Finding,
    Limit,
    MeasuredValue,
    ModeOutcome,
    Outcome,
    Subject,
    Verdict,
)
from shared.units import from_si, to_si

Readings = Mapping[str, float | bool | str]
Limits = Mapping[str, Limit]

NONE_WORDS = frozenset({"none", "no", "nil", "ok", "clean", "clear", "good", "dry", "intact", "0", "false"})


def si(value: float, unit: str) -> float:
    """Return one number in SI; see ``shared.units``."""
    return float(to_si(value, unit))


def us(value: float, unit: str) -> float:
    """Return one SI number in a customary unit; see ``shared.units``."""
    return float(from_si(value, unit))


def shown(value: float) -> str:
    """Return a number as people read it: four significant digits at most, thousands grouped."""
    if abs(value) >= 1000:
        return f"{value:,.0f}"
    return f"{value:.4g}"


def origin_of(limit: Limit) -> str:
    """Return where a limit comes from: ``law, 49 CFR 180.205(c)`` or ``policy``."""
    return f"{limit.origin}, {limit.source}" if limit.source else limit.origin


def in_words(limit: Limit) -> str:
    """Return a limit as a phrase: ``at most 5 percent of P1, with limits to 10``."""
    unit = "" if limit.unit in ("", "ratio", "yes/no") else f" {limit.unit}"
    parts = []
    if limit.pass_low is not None and limit.pass_low == limit.pass_high:
        parts.append(f"exactly {shown(limit.pass_low)}{unit}")
    elif limit.pass_low is not None and limit.pass_high is not None:
        parts.append(f"{shown(limit.pass_low)} to {shown(limit.pass_high)}{unit}")
    elif limit.pass_low is not None:
        parts.append(f"at least {shown(limit.pass_low)}{unit}")
    elif limit.pass_high is not None:
        parts.append(f"at most {shown(limit.pass_high)}{unit}")
    if limit.basis:
        parts[-1:] = [f"{parts[-1]} ({limit.basis})"] if parts else [limit.basis]
    if limit.limits_low is not None:
        parts.append(f"with limits from {shown(limit.limits_low)}")
    if limit.limits_high is not None:
        parts.append(f"with limits to {shown(limit.limits_high)}")
    return ", ".join(parts)


class Judgement:
    """One check being judged. Judges call ``weigh`` and ``note`` for findings, then settle modes by them."""

    def __init__(self, subject: Subject, readings: Readings, limits: Limits) -> None:
        self.subject, self.readings, self.limits = subject, readings, limits
        self.findings: list[Finding] = []
        self.measured: dict[str, MeasuredValue] = {}
        self.quality: list[str] = []
        self._modes: dict[str, ModeOutcome] = {}
        self._voids: list[str] = []
        self._by_eye: set[str] = set()  # modes that a stated observation settled, whatever the meters were worth

    # Readings.

    def number(self, key: str) -> float | None:
        """Return a reading as a number, or None where it was not taken."""
        value = self.readings.get(key)
        return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None

    def yes(self, key: str) -> bool | None:
        """Return a yes-or-no reading, or None where nothing was said."""
        value = self.readings.get(key)
        return value if isinstance(value, bool) else None

    def word(self, key: str) -> str | None:
        """Return a stated word in lower case, or None."""
        value = self.readings.get(key)
        if isinstance(value, bool):
            return "yes" if value else "no"
        return str(value).strip().casefold() if value not in (None, "") else None

    def none_of(self, key: str) -> bool | None:
        """Return whether a stated observation says that nothing was seen (``bubbles=none``)."""
        said = self.word(key)
        return None if said is None else said in NONE_WORDS

    def plate(self, key: str) -> float | None:
        """Return a nameplate number."""
        value = self.subject.spec.get(key)
        if value in (None, ""):
            return None
        try:
            return float(value)
        except ValueError:
            return None

    def step(self, *keys: str, default: float) -> float:
        """Return the finest last digit among readings as they were written."""
        written = [self.subject.steps[key] for key in keys if key in self.subject.steps]
        return min(written) if written else default

    def u95(self, step_key: str, readings: int = 1) -> float | None:
        """Return the expanded uncertainty that a named meter's smallest step brings; None where it is not known.

        Rectangular within one step, coverage factor 2 (JCGM 100:2008, F.2.2.1).
        """
        step = self.subject.instrument.get(step_key)
        return 2 * math.sqrt(readings) * step / math.sqrt(12) if step else None

    # Findings.

    def weigh(
        self,
        key: str,
        limit_key: str,
        value: float,
        text: str,
        unit: str | None = None,
        shown_as: float | None = None,
        u95: float | None = None,
    ) -> Outcome | None:
        """Put a number beside its limit and return what that makes it; None where no limit is recorded.

        ``u95`` is the number's expanded uncertainty in the limit's unit: where that is more than the limit leaves
        between pass and fail, the reading cannot decide and the check is void.
        """
        limit = self.limits.get(limit_key)
        if limit is None:
            self.note(key, f"{text} No limit is recorded for it, so it decides nothing.", Outcome.LIMITS, value)
            return None
        outcome = limit.judge(value)
        share = (u95 or 0.0) / limit.margin(value)
        if share > (self.bound("hold_resolution", "limits_high") or 1.0):
            reason = f"{text} The meter decides to ±{shown(u95 or 0.0)}, too coarse for this limit: use a finer one."
            self.void(reason, key, value if shown_as is None else shown_as, limit_key)
            return Outcome.VOID
        self.findings.append(
            Finding(
                key=key,
                text=text,
                outcome=outcome,
                value=value if shown_as is None else shown_as,
                unit=limit.unit if unit is None else unit,
                limit_key=limit_key,
                limit_text=in_words(limit),
                origin=origin_of(limit),
            )
        )
        return outcome

    def note(
        self,
        key: str,
        text: str,
        outcome: Outcome = Outcome.PASS,
        value: float | str | bool | None = None,
        unit: str = "",
        limit_key: str = "",
        origin: str = "",
    ) -> None:
        """Put down a stated observation, or a number judged by more than one limit."""
        limit = self.limits.get(limit_key)
        self.findings.append(
            Finding(
                key=key,
                text=text,
                outcome=outcome,
                value=value,
                unit=unit,
                limit_key=limit_key,
                limit_text=in_words(limit) if limit else "",
                origin=origin or (origin_of(limit) if limit else ""),
            )
        )

    def bound(self, limit_key: str, side: str = "pass_high") -> float | None:
        """Return one bound of a limit, or None."""
        limit = self.limits.get(limit_key)
        value = getattr(limit, side) if limit else None
        return float(value) if value is not None else None

    def void(self, reason: str, key: str = "", value: float | str | bool | None = None, limit_key: str = "") -> None:
        """Spoil the check: it proves nothing and moves no clock."""
        self._voids.append(reason)
        self.note(key, reason, Outcome.VOID, value, limit_key=limit_key)

    @property
    def is_void(self) -> bool:
        return bool(self._voids)

    # Modes.

    def proven(self, code: str, text: str = "") -> None:
        """The mode was looked for by a number or a named observation, and is absent."""
        self._put(ModeOutcome(code, "proven", None, text))

    def seen(self, code: str, text: str = "") -> None:
        """The mode is absent by what somebody saw or did, with no meter in it."""
        self._by_eye.add(code)
        self.proven(code, text)

    def claimed(self, code: str, text: str = "") -> None:
        """The mode was looked at without a number."""
        self._put(ModeOutcome(code, "claimed", None, text))

    def present(self, code: str, text: str, ratio: float | None = None) -> None:
        """The mode is there: failed where it is an impairment, else limited by the measured ratio."""
        if self.grade(code) == "I":
            self._put(ModeOutcome(code, "failed", None, text))
        else:
            kept = None if ratio is None else min(1.0, max(0.0, ratio))
            self._put(ModeOutcome(code, "limited", kept, text))

    def impaired(self, code: str, text: str) -> None:
        """The item must not be used, whatever the grade of the mode that says so."""
        self._put(ModeOutcome(code, "failed", None, text))

    def settle(
        self, code: str, outcome: Outcome | None, text: str, ratio: float | None = None, by_eye: bool = False
    ) -> None:
        """Settle a mode by the outcome of the number that sees it.

        An impairment is there or not, so inside the wider limit it is absent; a lesser mode limits from there on.
        """
        if outcome is None or outcome is Outcome.VOID:
            self.claimed(code, text)
        elif outcome is Outcome.PASS or (outcome is Outcome.LIMITS and self.grade(code) == "I"):
            self.seen(code, text) if by_eye else self.proven(code, text)
        else:
            self.present(code, text, ratio)

    def stated(self, code: str, good: bool | None, key: str, text_good: str, text_bad: str) -> None:
        """Settle a mode by a stated observation; nothing said settles nothing."""
        if good is None:
            return
        if good:
            self.note(key, text_good, Outcome.PASS, self.readings.get(key))
            # A number that was compared is still a meter's; only a word or a yes is somebody's eyes.
            settle = self.seen if self.number(key) is None else self.proven
            settle(code, text_good)
        else:
            worst = Outcome.LIMITS if self.grade(code) == "N" else Outcome.FAIL
            self.note(key, text_bad, worst, self.readings.get(key))
            self.present(code, text_bad)

    def grade(self, code: str) -> str:
        return self.subject.grades.get(code, "I")

    def _put(self, outcome: ModeOutcome) -> None:
        rank = {"failed": 3, "limited": 2, "proven": 1, "claimed": 0}
        held = self._modes.get(outcome.code)
        if held is None or rank[outcome.outcome] > rank[held.outcome]:
            self._modes[outcome.code] = outcome

    # Results.

    def measure(self, name: str, value: float, unit: str, at_least: bool = False) -> None:
        """Keep a quantity that the rating rests on; SI."""
        self.measured[name] = MeasuredValue(value, unit, at_least)

    def verdict(self) -> Verdict:
        """Return the worst finding's verdict. Only modes that this check can see on this kind are kept."""
        self.quality += self.subject.meter_notes
        if self._voids:
            return Verdict(
                Outcome.VOID, tuple(self.findings), summary="; ".join(self._voids), quality=tuple(self.quality)
            )
        self._bare_result()
        if self.subject.meter_doubt:
            self._doubt_meter()
        seen = self.subject.visible_modes
        modes = tuple(self._modes[code] for code in seen if code in self._modes)
        outcome = worst(finding.outcome for finding in self.findings)
        decisive = [finding.text for finding in self.findings if finding.outcome is outcome]
        return Verdict(
            outcome,
            tuple(self.findings),
            modes,
            dict(self.measured),
            summary=" ".join(decisive[:3]) or "Looked at; no number taken.",
            quality=tuple(self.quality),
        )

    def _doubt_meter(self) -> None:
        """Take back what rests on a meter that is not trusted; a fault that it showed is believed all the same."""
        text = f"{self.subject.meter_doubt} What it read is recorded and proves nothing."
        self.note("instrument", text, Outcome.LIMITS)
        self.measured = {}
        for code, mode in self._modes.items():
            if mode.outcome == "proven" and code not in self._by_eye:
                self._modes[code] = replace(mode, outcome="claimed", text=f"{mode.text} {self.subject.meter_doubt}")

    def _bare_result(self) -> None:
        """Turn a result without numbers into claims: a tick is never a proof, and a cross is always believed."""
        result = self.word("result")
        if result == "fail":
            text = "Recorded as failed, with no number."
            self.note("result", text, Outcome.FAIL, "fail")
            if self.subject.visible_modes and not any(m.outcome in ("failed", "limited") for m in self._modes.values()):
                self._modes.pop(self.subject.visible_modes[0], None)
                self.present(self.subject.visible_modes[0], text)
        elif not self._modes and not self.findings:
            for code in self.subject.visible_modes:
                self.claimed(code, "Looked at; no number taken.")


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """Return the gravest of the outcomes, pass where there are none."""
    order = (Outcome.VOID, Outcome.FAIL, Outcome.LIMITS)
    held = set(outcomes)
    return next((outcome for outcome in order if outcome in held), Outcome.PASS)
