"""Relief valve, inflator, cylinder kit and air cylinder: what air pressure shows."""

from datetime import date

from inspections.verdicts.core import Outcome, Subject, Verdict, reaches
from inspections.verdicts.dates import month_of, requalification, stamped
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown, si, us
from shared.formulas import air, dates


def judge_relief(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a relief valve's lift, reseat and plate. A valve pulled by hand shows nothing that a number does."""
    j = Judgement(subject, readings, limits)
    plate, lift, reseat = j.number("plate_psi"), j.number("lift_psi"), j.number("reseat_psi")
    plate = plate if plate is not None else j.plate("relief_psi")
    if j.yes("lifted") is False:
        text = "The valve did not lift: the set is not to be inflated."
        j.note("lifted", text, Outcome.FAIL, False, limit_key="relief_lift")
        j.present("RV1", text)
    elif lift is not None and plate:
        _lift(j, lift, plate)
    elif j.yes("lifted") or j.word("source") == "pulled by hand":
        j.note("lifted", "It lifts; at which pressure was not read.", Outcome.PASS, True, limit_key="relief_lift")
        j.claimed("RV1", "It lifts; at which pressure was not read.")
    if j.yes("operator_clear") is False:
        j.quality.append("Somebody stood at the valve while it lifted: stand clear the next time.")
    if lift is not None and reseat is not None and lift > 0:
        outcome = j.weigh(
            "reseat_psi",
            "relief_reseat",
            reseat / lift,
            f"Reseated at {shown(reseat)} psi, {reseat / lift:.2f} of the lift.",
        )
        bubbles = j.none_of("bubbles")
        if outcome is not Outcome.PASS:
            j.settle("RV2", outcome, "Reseats low.", reseat / lift)
        elif bubbles:
            j.note("bubbles", "No bubbles after reseat.", Outcome.PASS, j.word("bubbles"))
            j.proven("RV2", "Reseats high enough, no bubbles.")
        elif bubbles is None:
            j.claimed("RV2", "Reseats high enough; bubbles were not looked for.")
    if j.none_of("bubbles") is False:
        j.note("bubbles", "Bubbles after reseat.", Outcome.LIMITS, j.word("bubbles"))
        j.present("RV2", "Bubbles after reseat.")
    _plate(j, j.number("plate_psi"))
    return j.verdict()


def _lift(j: Judgement, lift: float, plate: float) -> None:
    ratio = lift / plate
    text = f"Lifted at {shown(lift)} psi, {ratio:.2f} of its plate {shown(plate)} psi."
    outcome = j.weigh("lift_psi", "relief_lift", ratio, text, u95=_over(j.u95("gauge_psi"), plate))
    high = j.bound("relief_lift")
    if outcome is None:
        j.claimed("RV1")
    elif high is not None and not reaches(high, ratio):
        j.present("RV1", f"Lifts high, {shown(lift)} psi: the set is not to be inflated.")
    else:
        j.proven("RV1", "The valve lifts.")
        if outcome is not Outcome.PASS:
            j.present("RV2", f"Lifts low, {shown(lift)} psi.", ratio)


def _over(u95: float | None, whole: float) -> float | None:
    """Return an uncertainty as a share of what the reading is held against."""
    return u95 / whole if u95 else None


def _plate(j: Judgement, read: float | None) -> None:
    """Compare the plate that was read with the one recorded for this shelter, or with what it was first found with."""
    if read is None:
        return
    j.measure("relief_plate_pa", si(read, "psi"), "Pa")
    recorded = j.plate("relief_psi")
    whence = "the shelter's plate"
    if recorded is None and "relief_plate_pa" in j.subject.baseline:
        recorded = us(j.subject.baseline["relief_plate_pa"], "psi")
        whence = "the plate first read here (assumed right)"
    if recorded is None:
        j.note("plate_psi", f"Plate {shown(read)} psi; none is recorded to compare it with.", value=read, unit="psi")
        j.claimed("RV3", "No relief setting is recorded for this shelter; this one becomes it, assumed.")
    elif abs(read - recorded) <= 0.01 * recorded:
        j.note("plate_psi", f"Plate {shown(read)} psi is {whence}.", value=read, unit="psi")
        j.seen("RV3", f"Plate {shown(read)} psi is {whence}.")
    else:
        text = f"Plate reads {shown(read)} psi; {whence} says {shown(recorded)} psi."
        j.note("plate_psi", text, Outcome.FAIL, read, "psi")
        j.present("RV3", text)


def judge_inflate(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge an inflator by its time to set pressure against its own first time."""
    j = Judgement(subject, readings, limits)
    minutes = j.number("min_to_set")
    if j.yes("starts") is False:
        j.note("starts", "It does not start.", Outcome.FAIL, False)
        j.present("IN1", "It does not start.")
    elif minutes is not None and minutes > 0:
        _time_to_set(j, minutes)
    elif j.yes("starts"):
        j.note("starts", "It starts.", Outcome.PASS, True)
        j.seen("IN1", "It starts.")
    if j.yes("deflates") is False:
        j.stated("IN3", False, "deflates", "", "It does not draw down: no suction.")
    elif (deflate := j.number("deflate_min")) is not None:
        j.note("deflate_min", f"Drew down in {shown(deflate)} min.", value=deflate, unit="min")
        j.proven("IN3", f"Drew down in {shown(deflate)} min.")
    j.stated(
        "IN4",
        None if j.yes("gfci_trips") is None else not j.yes("gfci_trips"),
        "gfci_trips",
        "The GFCI held with it running.",
        "It trips the GFCI: do not bypass; dry it or swap it.",
    )
    return j.verdict()


def _time_to_set(j: Judgement, minutes: float) -> None:
    j.seen("IN1", "It ran.")
    j.measure("inflate_s", 60 * minutes, "s")
    base_s = j.subject.baseline.get("inflate_s")
    if base_s is None:
        j.note(
            "min_to_set",
            f"{shown(minutes)} min to set pressure: the first recorded, this unit's baseline from now (assumed).",
            value=minutes,
            unit="min",
            limit_key="inflate_time",
        )
        j.proven("IN2", "Sets the baseline, assumed.")
        return
    ratio = 60 * minutes / base_s
    assumed = ", assumed" if j.subject.baseline_assumed else ""
    text = f"{shown(minutes)} min to set pressure, {ratio:.2f} of its baseline {shown(base_s / 60)} min{assumed}."
    j.settle("IN2", j.weigh("min_to_set", "inflate_time", ratio, text), text, 1 / ratio)


def judge_cylinder_kit(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a regulator kit: static creep in 5 min, the whip, the fitting."""
    j = Judgement(subject, readings, limits)
    start, end = j.number("outlet_psi"), j.number("outlet_after_psi")
    if start and end is not None:
        creep = 100 * (end - start) / start
        text = f"Outlet went from {shown(start)} to {shown(end)} psi closed, {creep:.0f} percent."
        u95 = j.u95("gauge_psi", readings=2)
        u95 = 100 * u95 / start if u95 else None
        j.settle("CI1", j.weigh("outlet_after_psi", "kit_creep", creep, text, u95=u95), text)
    if (minutes := j.number("min_to_set")) is not None and minutes > 0:
        _kit_time(j, minutes)
    soap, hose = j.none_of("soap"), j.none_of("hose_damage")
    whip_good = None if soap is None and hose is None else soap is not False and hose is not False
    if whip_good and (soap is None or hose is None):
        j.claimed("CI2", "The whip was looked at in part.")
    else:
        j.stated(
            "CI2",
            whip_good,
            "soap" if soap is not None else "hose_damage",
            "Whip tight and undamaged.",
            "Whip leaks or is damaged.",
        )
    j.stated("CI3", j.yes("fits"), "fits", "Fitting mates with the cylinder on hand.", "Fitting does not mate.")
    return j.verdict()


def _kit_time(j: Judgement, minutes: float) -> None:
    """Weigh the kit's time to set pressure against its own first; no failure mode of the kit rests on it."""
    j.measure("inflate_s", 60 * minutes, "s")
    base_s = j.subject.baseline.get("inflate_s")
    if base_s is None:
        j.note("min_to_set", f"{shown(minutes)} min to set pressure: the kit's baseline from now (assumed).")
        return
    ratio = 60 * minutes / base_s
    text = f"{shown(minutes)} min to set pressure, {ratio:.2f} of its baseline {shown(base_s / 60)} min."
    j.weigh("min_to_set", "inflate_time", ratio, text)


def judge_cylinder(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge an air cylinder: pressure as it would read at 70 degF, requalification, service life, outside."""
    j = Judgement(subject, readings, limits)
    psi, rated = j.number("psi"), j.plate("rated_psi")
    if psi is not None:
        _contents(j, psi, rated)
    psi_left = psi is None or psi > 0.05 * (rated or psi or 1.0)
    requalification(j, "AC2", holds_gas=psi_left)
    made = month_of(stamped(j, "made"))
    mark = str(stamped(j, "spec_mark") or "")
    if made is not None and mark:
        _life(j, mark, made)
    j.stated("AC4", j.none_of("outside"), "outside", "Outside sound.", f"Outside: {j.word('outside')}. Do not fill.")
    return j.verdict()


def _contents(j: Judgement, psi: float, rated: float | None) -> None:
    temp = j.number("temp_degF")
    baro = si(j.subject.station_pressure_psi, "psia")
    at_70 = si(psi, "psi")
    if temp is not None:
        at_70 = float(air.pressure_at(at_70, si(temp, "degF"), baro, si(70.0, "degF"), baro))
    else:
        j.note("temp_degF", "Temperature was not taken: the pressure stands as read.", Outcome.LIMITS)
    j.measure("air_pressure_pa", at_70, "Pa")
    if not rated:
        j.note("psi", f"{shown(psi)} psi; no rated pressure is recorded.", Outcome.LIMITS, psi, "psi")
        j.claimed("AC1", "No rated pressure to compare with.")
        return
    ratio = us(at_70, "psi") / rated
    text = f"{shown(psi)} psi is {shown(us(at_70, 'psi'))} at 70 °F, {ratio:.2f} of rated {shown(rated)} psi."
    outcome = j.weigh("psi", "air_pressure", ratio, text, u95=_over(j.u95("gauge_psi"), rated))
    j.settle("AC1", outcome, text, ratio)


def _life(j: Judgement, mark: str, made: date) -> None:
    remove = dates.remove_by(mark, made)
    if remove is None:
        j.seen("AC3", f"{mark} has no end of service life.")
    elif j.subject.on > remove:
        text = f"Service life ended {remove:%B %Y}: remove it and render it unusable."
        j.note("made", text, Outcome.FAIL, remove.isoformat(), limit_key="cylinder_date")
        j.present("AC3", text)
    else:
        j.note("made", f"Remove by {remove:%B %Y}.", value=remove.isoformat(), limit_key="cylinder_date")
        j.seen("AC3", f"Remove by {remove:%B %Y}.")
