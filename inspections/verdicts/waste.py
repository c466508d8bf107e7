"""Sump bucket test, bladder and berm, injector, sprayer: the water that leaves and the soap that goes in."""

from inspections.verdicts.core import Outcome, Subject, Verdict, reaches
from inspections.verdicts.heat import undrained
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown, si

LANE_FLOW_GPM = 4.0  # peak of one lane while wet, where neither lanes nor flow were given; ours
LEAST_BUCKET_GAL = 5.0
ML_PER_GAL = 3785.411784


def judge_sump(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a bucket test: automatic starts and stops, flow at the real lift, water back after stop."""
    j = Judgement(subject, readings, limits)
    if j.yes("runs") is False:
        j.note("runs", "It does not run.", Outcome.FAIL, False)
        j.present("SP2", "It does not run.")
    _cycles(j)
    _flow(j)
    if j.yes("gfci_trips"):
        text = "It trips the GFCI: do not bypass; dry it or swap it."
        j.note("gfci_trips", text, Outcome.FAIL, True)
        j.impaired("SP2", text)
    back = j.number("refill_in")
    if back is not None:
        text = f"{shown(back)} in of water back after stop."
        j.settle("SP4", j.weigh("refill_in", "sump_refill", back, text), text, _share(j, "sump_refill", back))
    if j.yes("drained"):
        j.note("drained", "Drained after the test.", Outcome.PASS, True)
        j.seen("SP5", "Drained, nothing left to freeze.")
    undrained(j, "SP5", j.yes("drained"))
    return j.verdict()


def _cycles(j: Judgement) -> None:
    starts, stops = j.number("starts"), j.number("stops")
    if starts is None or stops is None:
        return
    done = min(starts, stops)
    text = f"Started itself {shown(starts)} and stopped itself {shown(stops)} times of three."
    j.settle("SP1", j.weigh("starts", "sump_cycles", done, text), text, by_eye=True)


def _flow(j: Judgement) -> None:
    gallons, seconds, gpm = j.number("bucket_gal"), j.number("fill_s"), j.number("gpm")
    if gpm is None and gallons and seconds:
        gpm = 60 * gallons / seconds
    if gpm is None:
        return
    if gpm <= 0:
        j.note("fill_s", "It moved no water.", Outcome.FAIL, gpm, "gpm")
        j.present("SP2", "It moved no water.")
        return
    j.proven("SP2", f"Runs and moves {shown(gpm)} gpm.")
    inflow = j.number("inflow_gpm")
    assumed = ""
    if inflow is None:
        lanes = j.number("lanes") or 1.0
        inflow = lanes * LANE_FLOW_GPM
        assumed = f" ({shown(lanes)} lane{'s' if lanes != 1 else ''} at 4 gpm, assumed)"
    lift = j.number("lift_ft")
    ratio = gpm / inflow
    at = f"at {shown(lift)} ft of lift" if lift is not None else "with its lift not recorded"
    text = f"{gpm:.1f} gpm {at}, {ratio:.1f} times the peak inflow of {shown(inflow)} gpm{assumed}."
    outcome = j.weigh("fill_s", "sump_flow", ratio, text)
    least = j.bound("sump_flow", "pass_low") or 1.0
    small = gallons is not None and gallons < LEAST_BUCKET_GAL
    if small:
        j.quality.append(f"A bucket of {shown(gallons or 0)} gal is too small to time: use 5 gal.")
    if (lift is None or small) and outcome is Outcome.PASS:
        j.claimed(
            "SP3", "The flow was not measured at a stated lift." if lift is None else "Timed on too little water."
        )
    else:
        j.settle("SP3", outcome, text, ratio / least)
        j.measure("pump_flow_m3_s", si(gpm, "gpm"), "m3/s")


def _share(j: Judgement, key: str, value: float) -> float | None:
    most = j.bound(key)
    return most / value if most and value > 0 else None


def judge_bladder(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a bladder's leak check, or a berm's level held."""
    j = Judgement(subject, readings, limits)
    if "TP2" in subject.visible_modes:
        _berm(j)
        return j.verdict()
    psi, hold, bubbles = j.number("psi"), j.number("hold_min"), j.none_of("bubbles")
    if j.yes("used_for_agent"):
        text = "It took run-off from an agent: a consumable, replace it."
        j.note("used_for_agent", text, Outcome.FAIL, True)
        j.impaired("BL1", text)
    if j.yes("inside_dry") is False:
        j.note("inside_dry", "Wet inside: dry it before it is folded.", Outcome.LIMITS, False)
    if psi is not None and psi > 1.0 and j.word("method") != "water":
        j.note("psi", f"Filled to {shown(psi)} psi: never over 1 psi of air.", Outcome.LIMITS, psi, "psi")
        j.quality.append("The bladder was filled over 1 psi.")
    least = j.bound("bladder_hold", "pass_low")
    if bubbles is False:
        text = f"Leaks: {j.word('bubbles')}."
        j.note("bubbles", text, Outcome.FAIL, j.word("bubbles"), limit_key="bladder_hold")
        j.present("BL1", text)
    elif hold is not None and least is not None and hold < least:
        j.void(f"Held {shown(hold)} min, shorter than {shown(least)} min.", "hold_min", hold, "bladder_hold")
    elif bubbles and hold is not None:
        text = f"No bubble or drop in {shown(hold)} min."
        j.weigh("hold_min", "bladder_hold", hold, text)
        j.proven("BL1", text)
    elif bubbles:
        j.claimed("BL1", "No bubbles; the hold time was not recorded.")
    j.stated("BL2", j.yes("valves_turn"), "valves_turn", "Valves turn by hand.", "A valve does not turn by hand.")
    j.stated("BL3", j.yes("vent_passes"), "vent_passes", "The air release passes air.", "The air release is blocked.")
    return j.verdict()


def _berm(j: Judgement) -> None:
    drop, hold = j.number("drop_in"), j.number("hold_min")
    if drop is None:
        return
    if hold is not None and hold < 30:
        j.void(f"Held {shown(hold)} min, shorter than 30 min.", "hold_min", hold)
        return
    in_30 = drop * 30 / hold if hold else drop
    text = f"Level fell {shown(in_30)} in over 30 min{'' if hold else ', the time not recorded'}."
    outcome = j.weigh("drop_in", "berm_hold", in_30, text)
    if hold is None and outcome is Outcome.PASS:
        j.claimed("TP2", text)
    else:
        j.settle("TP2", outcome, text, _share(j, "berm_hold", in_30))


def judge_injector(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a draw-down: detergent drawn by volume, and nothing siphoned back."""
    j = Judgement(subject, readings, limits)
    gpm, run_s, drawn = j.number("gpm"), j.number("run_s"), j.number("drawn_ml")
    start, end = j.number("start_ml"), j.number("end_ml")
    if drawn is None and start is not None and end is not None:
        drawn = start - end
    if j.word("solution") == "bleach":
        j.note("solution", "Bleach is not put on people: mild soap only.", Outcome.FAIL, "bleach")
    if gpm and run_s and drawn is not None:
        _drawn(j, 100 * drawn / (ML_PER_GAL * gpm * run_s / 60), drawn)
    rise = j.number("idle_rise_ml")
    if rise is not None:
        text = f"Level rose {shown(rise)} mL in 60 s idle."
        if rise > 0:
            text += " It siphons back: shut the supply."
        j.settle("IJ3", j.weigh("idle_rise_ml", "inject_backflow", rise, text), text)
    return j.verdict()


def _drawn(j: Judgement, percent: float, drawn: float) -> None:
    if drawn <= 0:
        j.note("drawn_ml", "It drew nothing.", Outcome.FAIL, drawn, "mL")
        j.present("IJ1", "It drew nothing.", 0.0)
        return
    j.proven("IJ1", f"Drew {shown(drawn)} mL.")
    j.measure("injector_ratio", percent / 100, "ratio")
    text = f"{percent:.2f} percent by volume."
    outcome = j.weigh("drawn_ml", "inject_ratio", percent, text)
    set_pct = j.number("set_pct") or j.plate("ratio_pct")
    if set_pct and outcome is Outcome.PASS and not reaches(0.2 * set_pct, abs(percent - set_pct)):
        outcome = Outcome.LIMITS
        text = f"{percent:.2f} percent drawn, set to {shown(set_pct)}: more than 20 percent off."
        j.note("set_pct", text, outcome, set_pct, "percent", "inject_ratio")
    target = set_pct or percent
    j.settle("IJ2", outcome, text, min(percent / target, target / percent))


def judge_sprayer(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a backpack sprayer: pressure held, flow of its nozzle, and soap and nothing else in it."""
    j = Judgement(subject, readings, limits)
    held = j.number("hold_min")
    if j.yes("holds") is False:
        j.note("holds", "It does not hold pressure.", Outcome.FAIL, False, limit_key="sprayer_hold")
        j.present("BP1", "It does not hold pressure.")
    elif held is not None:
        text = f"Held its pressure {shown(held)} min."
        j.settle("BP1", j.weigh("hold_min", "sprayer_hold", held, text), text, _of_least(j, held))
    _nozzle(j)
    _dedicated(j)
    return j.verdict()


def _of_least(j: Judgement, held: float) -> float | None:
    least = j.bound("sprayer_hold", "pass_low")
    return held / least if least else None


def _nozzle(j: Judgement) -> None:
    drawn, seconds, flow = j.number("drawn_ml"), j.number("run_s"), j.number("flow_ml_min")
    if flow is None and drawn is not None and seconds:
        flow = 60 * drawn / seconds
    rated = j.number("rated_ml_min") or j.plate("nozzle_ml_min")
    if flow is None:
        return
    if not rated:
        text = f"{shown(flow)} mL a minute; the nozzle's rating is not recorded, so it cannot be compared."
        j.note("flow_ml_min", text, Outcome.LIMITS, flow, "mL/min", "sprayer_nozzle")
        j.claimed("BP2", text)
        return
    ratio = flow / rated
    text = f"{shown(flow)} mL a minute, {ratio:.2f} of the nozzle's {shown(rated)}."
    outcome = j.weigh("flow_ml_min", "sprayer_nozzle", ratio, text)
    j.settle("BP2", outcome, text, min(ratio, 1 / ratio) if ratio > 0 else 0.0)


def _dedicated(j: Judgement) -> None:
    """Labelled for soap and empty of anything else, both said: either one alone is half of it."""
    label, residue = j.yes("label_ok"), j.none_of("residue")
    if label is False or residue is False:
        what = "It is not labelled for soap only." if label is False else f"Residue in it: {j.word('residue')}."
        text = f"{what} Not on people: triple rinse, dedicate and label it."
        j.note("label_ok" if label is False else "residue", text, Outcome.FAIL)
        j.present("BP3", text)
    elif label and residue:
        j.note("label_ok", "Labelled for soap only, nothing else in it.", Outcome.PASS, True)
        j.seen("BP3", "Labelled for soap only, nothing else in it.")
    elif label or residue:
        j.claimed("BP3", "Label and residue were looked at in part.")
