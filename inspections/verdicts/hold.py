"""Inflation hold test: gauge loss corrected for temperature and barometer, beside its limit and its uncertainty."""

import math

from inspections.verdicts.core import Outcome, Subject, Verdict
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown, si, us
from shared.formulas import air

DAY_MIN = 24 * 60
SOAP_MODES = {"fill valve": "FV1", "deflate valve": "DV1"}


def judge(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a hold test. Inputs are psi gauge, degF of the beam, psi absolute of the barometer, and minutes."""
    j = Judgement(subject, readings, limits)
    _conditions(j)
    loss_pa, uncertainty_pa, fraction = _loss(j)
    _resolution(j, uncertainty_pa, fraction)
    _gain(j, loss_pa, uncertainty_pa, fraction)
    if j.is_void:
        return j.verdict()
    _weigh_loss(j, loss_pa, uncertainty_pa, fraction)
    _reached(j)
    _seams(j)
    _stand(j, loss_pa, uncertainty_pa)
    return j.verdict()


def _conditions(j: Judgement) -> None:
    """Void what was not a fair hold; note what the record leaves out."""
    hold_min, rest_min = j.number("hold_min") or 0.0, j.number("rest_min")
    change = abs((j.number("t2_degF") or 0.0) - (j.number("t1_degF") or 0.0))
    least_hold, most_change = j.bound("hold_time", "pass_low"), j.bound("hold_temp_change")
    if least_hold is not None and hold_min < least_hold:
        j.void(
            f"Held {shown(hold_min)} min, shorter than {shown(least_hold)} min.",
            "hold_min",
            hold_min,
            "hold_time",
        )
    if most_change is not None and change > most_change:
        j.void(
            f"The beam changed by {shown(change)} °F, more than {shown(most_change)} °F.",
            "t2_degF",
            change,
            "hold_temp_change",
        )
    for key, good, spoiled in (
        ("same_gauge", True, "The second reading was taken with another gauge."),
        ("direct_sun", False, "The beam stood in direct sun."),
        ("relief_lifted", False, "The relief valve lifted during the hold."),
    ):
        said = j.yes(key)
        if said is None:
            j.note(
                key, f"Not recorded: {key.replace('_', ' ')}. The hold stands with that reservation.", Outcome.LIMITS
            )
        elif said is not good:
            j.void(spoiled, key, said)
    _rest(j, rest_min)


def _rest(j: Judgement, rest_min: float | None) -> None:
    least = j.bound("hold_rest", "limits_low")
    if rest_min is None:
        j.note("rest_min", "Not recorded: how long the beam rested before reading 1.", Outcome.LIMITS)
    elif least is not None and rest_min < least:
        j.void(
            f"Rested {shown(rest_min)} min before reading 1: fabric still stretching.",
            "rest_min",
            rest_min,
            "hold_rest",
        )
    else:
        j.weigh("rest_min", "hold_rest", rest_min, f"Rested {shown(rest_min)} min before reading 1.")


def _loss(j: Judgement) -> tuple[float, float, float]:
    """Return the corrected loss [Pa], its U95 [Pa], and the loss limit for this hold as a share of P1."""
    baro = j.subject.station_pressure_psi
    p1, p2 = si(j.number("p1_psi") or 0.0, "psi"), si(j.number("p2_psi") or 0.0, "psi")
    t1, t2 = si(j.number("t1_degF") or 0.0, "degF"), si(j.number("t2_degF") or 0.0, "degF")
    b1, b2 = si(j.number("b1_psi") or baro, "psia"), si(j.number("b2_psi") or baro, "psia")
    loss_pa = float(air.corrected_loss_pa(p1, t1, b1, p2, t2, b2))
    gauge = (
        j.number("gauge_step_psi") or j.subject.instrument.get("gauge_psi") or j.step("p1_psi", "p2_psi", default=0.01)
    )
    therm = (
        j.number("therm_step_degF")
        or j.subject.instrument.get("therm_degF")
        or j.step("t1_degF", "t2_degF", default=0.1)
    )
    uncertainty = float(air.loss_uncertainty_pa(si(gauge, "psi"), si(therm, "ddegF"), p1, t1, b1))
    return loss_pa, uncertainty, _allowed(j)


def _allowed(j: Judgement, side: str = "pass_high") -> float:
    """Return the loss limit for this hold as a share of P1: the hourly figure scaled, never above the day's."""
    hold_min = j.number("hold_min") or 0.0
    hour, day = j.bound("hold_loss_1h", side), j.bound("hold_loss_24h", side)
    if hold_min >= DAY_MIN and day is not None:
        return day / 100 * hold_min / DAY_MIN
    scaled = (hour if hour is not None else math.inf) / 100 * hold_min / 60
    return min(scaled, day / 100) if day is not None else scaled


def _resolution(j: Judgement, uncertainty_pa: float, fraction: float) -> None:
    """Void a reading too coarse to decide: its expanded uncertainty is above the limit's share."""
    p1 = si(j.number("p1_psi") or 0.0, "psi")
    if p1 <= 0 or not math.isfinite(fraction) or fraction <= 0:
        return
    share = uncertainty_pa / (fraction * p1)
    text = f"The gauge and thermometer decide to ±{us(uncertainty_pa, 'psi'):.3f} psi, {share:.2f} of the limit."
    most = j.bound("hold_resolution", "limits_high")
    if most is not None and share > most:
        j.void(f"{text} Too coarse to decide: use a finer gauge or a longer hold.", "p2_psi", share, "hold_resolution")
    else:
        j.weigh("resolution", "hold_resolution", share, text)


def _gain(j: Judgement, loss_pa: float, u_pa: float, fraction: float) -> None:
    """Void a beam that gained more than it may lose: air was added, or a reading is wrong, and either hides a leak."""
    p1 = si(j.number("p1_psi") or 0.0, "psi")
    if p1 > 0 and -loss_pa - u_pa > fraction * p1:
        gained = us(-loss_pa, "psi")
        text = (
            f"The corrected pressure rose by {gained:.2f} psi, which a closed beam cannot do: read again, add no air."
        )
        j.void(text, "p2_psi", gained)


def _weigh_loss(j: Judgement, loss_pa: float, u_pa: float, fraction: float) -> None:
    """Pass if loss + U is inside the limit, fail if loss - U is outside the wider one; between them, limits."""
    p1 = si(j.number("p1_psi") or 0.0, "psi")
    wide = max(_allowed(j, "limits_high"), fraction)
    hold = shown(j.number("hold_min") or 0.0)
    text = (
        f"Corrected loss {us(loss_pa, 'psi'):.2f} psi in {hold} min, {100 * loss_pa / p1:.1f} percent of reading 1 "
        f"(±{us(u_pa, 'psi'):.3f} psi); at most {100 * fraction:.1f} percent for this hold."
    )
    key = "hold_loss_24h" if (j.number("hold_min") or 0.0) >= DAY_MIN else "hold_loss_1h"
    inside, surely_over = loss_pa + u_pa <= fraction * p1, loss_pa - u_pa > fraction * p1
    if inside:
        outcome = Outcome.PASS
    elif loss_pa - u_pa > wide * p1:
        outcome = Outcome.FAIL
    else:
        outcome = Outcome.LIMITS
        if not surely_over:
            text += " Too near the limit to call a pass: hold longer or use a finer gauge."
    j.note("loss", text, outcome, us(loss_pa, "psi"), "psi", key)
    j.measure("hold_loss_fraction", loss_pa / p1, "ratio")
    if inside:
        j.proven("SH1", text)
        j.proven("DV1", "The beam held with the deflate valve shut.")
    elif surely_over:
        j.present("SH1", text, fraction * p1 / loss_pa)


def _reached(j: Judgement) -> None:
    """Set pressure reached at the first reading shows that the beam can be filled."""
    p1 = j.number("p1_psi") or 0.0
    p_set = j.number("p_set_psi") or j.plate("set_psi")
    if j.yes("reached_set") is False:
        j.note("reached_set", "The beam did not reach its set pressure.", Outcome.FAIL, False)
        j.present("SH2", "The beam did not reach its set pressure.")
    elif p_set is None:
        j.claimed("SH2", "No set pressure is recorded to compare with.")
    elif p1 > 1.1 * p_set:
        j.note(
            "p1_psi", f"Filled to {shown(p1)} psi, over the set {shown(p_set)} psi: let air out.", Outcome.LIMITS, p1
        )
        j.proven("SH2", f"Reached {shown(p1)} of {shown(p_set)} psi.")
    elif p1 + 1e-9 >= p_set - j.step("p1_psi", default=0.01) / 2:
        j.proven("SH2", f"Reached {shown(p1)} of {shown(p_set)} psi.")
    else:
        j.note(
            "p1_psi", f"The hold began at {shown(p1)} psi, under the set {shown(p_set)} psi.", Outcome.LIMITS, p1, "psi"
        )


def _seams(j: Judgement) -> None:
    """Soap and seams settle what they name, and nothing else."""
    soap = j.word("soap_result")
    if soap is not None:
        if j.none_of("soap_result"):
            j.note("soap_result", "No bubbles at seams, caps and valve seats.", Outcome.PASS, soap)
            j.seen("FV1", "No bubbles at the fill valve.")
        else:
            j.note("soap_result", f"Bubbles at: {soap}.", Outcome.LIMITS, soap)
            j.present(SOAP_MODES.get(soap, "SH1"), f"Bubbles at: {soap}.")
    lift = j.number("seam_lift_in")
    if lift is not None:
        bad = lift > 1.0
        text = f"Longest seam lift {shown(lift)} in; over 1 in on a beam is out."
        j.note("seam_lift_in", text, Outcome.FAIL if bad else Outcome.PASS, lift, "in", origin="policy")
        if bad:
            j.present("SH3", text)
        else:
            j.proven("SH3", text)


def _stand(j: Judgement, loss_pa: float, u_pa: float) -> None:
    """Keep the time to the least supporting pressure, the shorter of a steady and a slackening leak."""
    p1 = si(j.number("p1_psi") or 0.0, "psi")
    p_set = j.number("p_set_psi") or j.plate("set_psi") or j.number("p1_psi") or 0.0
    least_psi = j.plate("least_psi")
    assumed = least_psi is None
    least_psi = 0.5 * p_set if least_psi is None else least_psi
    if p1 <= 0 or least_psi <= 0:
        return
    # A loss lost in the gauge's steps still bounds the standing time: it was no more than the uncertainty.
    bounded = loss_pa <= u_pa
    taken = min(max(loss_pa, u_pa) if bounded else loss_pa, p1)
    until = air.time_to_pressure_s(p1, p1 - taken, 60 * (j.number("hold_min") or 0.0), si(least_psi, "psi"))
    stand_s = min(until.linear_s, until.exponential_s)
    if not math.isfinite(stand_s):
        return
    j.measure("stand_s", stand_s, "s", at_least=bounded)
    told = "half the set pressure, assumed" if assumed else "from its plate"
    j.note(
        "stand",
        f"Stands {'at least ' if bounded else ''}{stand_s / 3600:.1f} h to {shown(least_psi)} psi ({told}).",
        value=stand_s / 3600,
        unit="h",
    )
