"""Hose, connect, set-up drill, trailer and dry-pack."""

from inspections.verdicts.core import Outcome, Subject, Verdict, reaches
from inspections.verdicts.heat import undrained
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown

REACH = 1.2  # hose over layout: a fifth to spare; ours
HOSE_HOLD_MIN = 5.0
CLASS_OF = {"hose_cold": "clean cold", "hose_hot": "clean hot", "hose_waste": "waste"}
CREW_FOR_LANES = {1: 6, 2: 8, 3: 10, 4: 12}  # qualified people a line takes; ours


def judge_hose(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge one length at supply pressure: spray, drip, bulge, mark, drained."""
    j = Judgement(subject, readings, limits)
    _coupling(j)
    bulge, psi, hold = j.none_of("bulge"), j.number("supply_psi"), j.number("hold_min")
    if bulge and (psi is None or hold is None or hold < HOSE_HOLD_MIN):
        j.note("bulge", "No bulge, but not held 5 min at a stated supply pressure.", Outcome.LIMITS, j.word("bulge"))
        j.claimed("HO2", "Not held at a stated pressure.")
    else:
        j.stated(
            "HO2",
            bulge,
            "bulge",
            f"No bulge in {shown(hold or 0)} min at {shown(psi or 0)} psi.",
            "It bulges or bursts: cut it up and discard it.",
        )
    _marked(j)
    if j.yes("drained"):
        j.note("drained", "Drained.", Outcome.PASS, True)
        j.seen("HO3", "Drained, nothing left to freeze.")
    undrained(j, "HO3", j.yes("drained"))
    return j.verdict()


def _marked(j: Judgement) -> None:
    """The mark must be there, and it must be that of the side the hose is kept for."""
    mark, kept_for = j.word("class"), CLASS_OF.get(j.subject.kind)
    if mark and kept_for and mark != kept_for:
        text = f"Marked {mark}, kept as {kept_for}: clean and waste never swap."
        j.note("class", text, Outcome.FAIL, mark)
        j.present("HO5", text)
        return
    j.stated(
        "HO5",
        j.yes("mark_legible"),
        "mark_legible",
        "Class mark legible.",
        "No legible mark: keep it off the clean side.",
    )


def _coupling(j: Judgement) -> None:
    spray, drips = j.none_of("spray"), j.number("drips_min")
    if j.yes("washers_ok") is False:
        text = "A washer is hard or missing: replace it."
        j.note("washers_ok", text, Outcome.LIMITS, False)
        j.present("HO1", text)
    if spray is False:
        text = "It sprays at the coupling: replace the washer."
        j.note("spray", text, Outcome.FAIL, j.word("spray"), limit_key="hose_drip")
        j.impaired("HO1", text)
    elif drips is not None:
        text = f"{shown(drips)} drips a minute after hand-tight."
        j.settle("HO1", j.weigh("drips_min", "hose_drip", drips, text), text, by_eye=True)
    elif spray:
        j.note("spray", "No spray.", Outcome.PASS, j.word("spray"))
        j.seen("HO1", "No spray.")


def judge_connect(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge whether the chain joins and reaches: every joint mates, each leg has a fifth to spare."""
    j = Judgement(subject, readings, limits)
    length, layout = j.number("hose_ft"), j.number("layout_ft")
    if length is not None and layout:
        text = f"{shown(length)} ft of hose for {shown(layout)} ft of layout; {shown(REACH * layout)} wanted."
        j.stated("HO4", reaches(length, REACH * layout), "hose_ft", text, text)
    mates = j.yes("threads_mate")
    missing = j.word("missing_adapter")
    if missing and not j.none_of("missing_adapter"):
        mates = False
    bad = f"A joint does not mate; missing: {missing or 'not named'}."
    j.stated("HO6", mates, "threads_mate", "Every joint mates.", bad)
    fits = j.yes("fits")
    for code, what in (("FV3", "The inflator's nozzle"), ("CI3", "The kit's fitting")):
        if code in subject.visible_modes:
            j.stated(code, fits, "fits", f"{what} fits.", f"{what} does not fit.")
    return j.verdict()


def judge_setup(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a set-up drill: only modes whose numbers were taken."""
    j = Judgement(subject, readings, limits)
    _people(j)
    _erect(j)
    _passage(j)
    _outside(j)
    if (co := j.number("co_ppm")) is not None:
        text = f"{shown(co)} ppm carbon monoxide at the entrance."
        j.settle("WH6", j.weigh("co_ppm", "co_entrance", co, text), text)
    if (away := j.number("generator_ft")) is not None:
        text = f"Generator {shown(away)} ft from the shelter."
        outcome = j.weigh("generator_ft", "generator_distance", away, text)
        upwind = j.yes("exhaust_downwind") is False
        if upwind:
            j.note("exhaust_downwind", "Its exhaust blows toward the shelter.", Outcome.FAIL, False)
        j.settle("GN3", Outcome.FAIL if upwind else outcome, text)
    if (away := j.number("heater_ft")) is not None:
        j.weigh("heater_ft", "heater_distance", away, f"Heater {shown(away)} ft from fabric.")
    _water(j)
    j.stated(
        "BL4",
        j.yes("bladder_level"),
        "bladder_level",
        "Bladder on level ground, bermed.",
        "Bladder on a slope: move it.",
    )
    j.stated(
        "GR2", j.yes("egress_ok"), "egress_ok", "Egress matted, ice melt on hand.", "Egress slick: mats and ice melt."
    )
    return j.verdict()


def _people(j: Judgement) -> None:
    qualified = j.number("qualified")
    if qualified is None:
        return
    lanes = int(j.number("lanes") or j.plate("lanes") or 1)
    wanted = CREW_FOR_LANES.get(lanes, 4 + 2 * lanes)
    text = f"{shown(qualified)} qualified people for {lanes} lane{'s' if lanes != 1 else ''}; {wanted} wanted."
    short = qualified < wanted
    outcome = Outcome.PASS if not short else Outcome.FAIL if qualified < CREW_FOR_LANES[1] else Outcome.LIMITS
    j.note("qualified", text, outcome, qualified, "people", origin="policy")
    if outcome is Outcome.FAIL:
        j.present("PE1", text)
    elif outcome is Outcome.PASS:
        j.seen("PE1", text)


def _erect(j: Judgement) -> None:
    minutes = j.number("erect_min")
    if minutes is None:
        return
    j.measure("setup_erect_s", 60 * minutes, "s")
    base = j.subject.baseline.get("setup_erect_s")
    if base:
        ratio = 60 * minutes / base
        text = f"Stood in {shown(minutes)} min, {ratio:.2f} of its baseline."
        slow = not reaches(1.25, ratio)
        j.note("erect_min", text, Outcome.LIMITS if slow else Outcome.PASS, minutes, "min", origin="policy")
    else:
        text = f"Stood in {shown(minutes)} min: the first recorded, its baseline from now (assumed)."
        j.note("erect_min", text, value=minutes, unit="min")
    reached = j.yes("reached_set")
    if reached is False:
        j.note("reached_set", "The beam did not reach its set pressure.", Outcome.FAIL, False)
        j.present("SH2", "The beam did not reach its set pressure.")
    elif reached:
        j.proven("SH2", text)


def _passage(j: Judgement) -> None:
    """Keep what the clock and the taps measured: they prove no mode, and are what throughput rests on."""
    for key, name, what in (
        ("water_min", "water_warm_s", "Water at temperature"),
        ("first_person_min", "first_person_s", "First person"),
    ):
        if (minutes := j.number(key)) is not None:
            j.measure(name, 60 * minutes, "s")
            j.note(key, f"{what} {shown(minutes)} min after the order.", value=minutes, unit="min")
    takt, low, high = (j.number(key) for key in ("takt_s", "takt_low_s", "takt_high_s"))
    if takt is not None:
        j.measure("takt_s", takt, "s")
        spread = f", the middle half {shown(low)} to {shown(high)} s" if low is not None and high is not None else ""
        j.note("takt_s", f"{shown(takt)} s between people in a lane{spread}.", value=takt, unit="s")
        _hand_over(j, takt)
    if (other := j.number("nonwalking_takt_s")) is not None:
        j.measure("nonwalking_takt_s", other, "s")
        j.note("nonwalking_takt_s", f"{shown(other)} s between people who do not walk.", value=other, unit="s")


def _hand_over(j: Judgement, takt: float) -> None:
    """Take the minutes wet off the takt: what is left is the hand-over between two people."""
    wet = j.number("wet_min")
    if wet is None:
        return
    left = takt - 60 * wet
    if left < 0:
        text = f"{shown(takt)} s between people is less than the {shown(wet)} min wet: no hand-over follows from it."
        j.note("wet_min", text, Outcome.LIMITS, wet, "min")
        return
    j.measure("handover_s", left, "s")
    j.note("wet_min", f"Hand-over {shown(left)} s, beside {shown(wet)} min wet.", value=wet, unit="min")


def _outside(j: Judgement) -> None:
    gust = j.number("gust_mph")
    if gust is not None:
        j.weigh("gust_mph", "wind_stop", gust, f"Gusts to {shown(gust)} mph.")
    fabric, least = j.number("fabric_degF"), j.number("fabric_least_degF")
    if fabric is not None and least is not None:
        text = f"Fabric at {shown(fabric)} °F; the maker's least is {shown(least)} °F."
        j.stated("SH5", fabric >= least, "fabric_degF", text, text)


def _water(j: Judgement) -> None:
    """Flow at each head against this shelter's first, and waste taken away as it came."""
    gpm = j.number("head_gpm")
    if gpm is not None:
        j.measure("head_gpm", gpm, "gpm")
        base = j.subject.baseline.get("head_gpm")
        ratio = gpm / base if base else 1.0
        told = f"{ratio:.2f} of its baseline" if base else "its baseline from now (assumed)"
        text = f"{shown(gpm)} gpm a head, {told}."
        good = reaches(ratio, 0.8) and reaches(1.2, ratio)
        j.note("head_gpm", text, Outcome.PASS if good else Outcome.LIMITS, gpm, "gpm", origin="policy")
        if good:
            j.proven("SH6", text)
        else:
            j.present("SH6", text, min(ratio, 1 / ratio) if ratio > 0 else 0.0)
    waste, inflow = j.number("waste_gpm"), j.number("inflow_gpm")
    if waste is not None and inflow:
        ratio = waste / inflow
        text = f"Pump took {shown(waste)} gpm of {shown(inflow)} gpm coming in, {ratio:.1f} times."
        least = j.bound("sump_flow", "pass_low") or 1.0
        j.settle("SP3", j.weigh("waste_gpm", "sump_flow", ratio, text), text, ratio / least)


def judge_trailer(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge whether the set can leave: road-worthy, bay clear, key at hand."""
    j = Judgement(subject, readings, limits)
    asked = ("tyres_ok", "lights_ok", "brakes_ok", "coupler_fits", "registered", "bay_clear")
    said = {key: j.yes(key) for key in asked}
    if j.yes("load_order_ok") is False:
        # Asked since later than the rest: records without it stand, a "no" counts like any other.
        said["load_order_ok"] = False
    bad = [key.replace("_", " ") for key, answer in said.items() if answer is False]
    for key, answer in said.items():
        if answer is False:
            j.note(key, f"No: {key.replace('_', ' ')}.", Outcome.FAIL, False)
    key_s, outcome = j.number("key_s"), None
    if key_s is not None:
        outcome = j.weigh("key_s", "key_time", key_s, f"{shown(key_s)} s from go to open door.")
    if bad or outcome is Outcome.FAIL:
        j.present("TR1", f"Cannot leave: {', '.join(bad) or 'key too far'}.")
    elif all(said.values()) and outcome is not None:
        j.note("bay_clear", "Road-worthy, bay clear.", Outcome.PASS, True)
        j.seen("TR1", "Road-worthy, bay clear, key at hand.")
    elif any(said.values()) or outcome is not None:
        j.claimed("TR1", "Looked at in part.")
    return j.verdict()


def judge_drypack(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a set packed after use: dry, sound, and clean or cleared by name."""
    j = Judgement(subject, readings, limits)
    hours, mould = j.number("wet_packed_h"), j.none_of("mould")
    outcome = None
    if hours is not None:
        text = f"Packed wet for {shown(hours)} h."
        outcome = j.weigh("wet_packed_h", "wet_packed", hours, text)
    if j.word("moisture") == "wet":
        j.stated("SH4", False, "moisture", "", "Still wet when packed: unroll it and dry it.")
    elif mould is False:
        j.stated("SH4", False, "mould", "", f"Mould or odour: {j.word('mould')}.")
    elif outcome is Outcome.FAIL:
        j.present("SH4", "Packed wet too long: unroll, clean, dry, hold test.")
    elif mould and hours is not None:
        j.settle("SH4", outcome, "Dry, no visible mould.", by_eye=True)
    elif mould:
        j.claimed("SH4", "No visible mould; hours packed wet not recorded.")
    for key, short in (("reloaded", "Not reloaded to par."), ("refuelled", "Not refuelled.")):
        if j.yes(key) is False:
            j.note(key, short, Outcome.LIMITS, False)
    _cleared(j)
    undrained(j, "SH4", j.yes("drained"))
    return j.verdict()


def _cleared(j: Judgement) -> None:
    """Suspected or confirmed contamination holds the set until a clearance names its method and who gave it."""
    contamination = j.word("contamination")
    if contamination is None:
        return
    if contamination in ("none", "clean drill", "clean"):
        j.note("contamination", "Clean drill, no contamination.", Outcome.PASS, contamination)
        j.seen("SH9", "No contamination.")
        return
    method, by = j.word("clearance_method"), j.word("cleared_by")
    if j.yes("cleared") and method and by:
        text = f"Cleared by {by}, {method}."
        j.note("cleared", text, Outcome.PASS, True)
        j.seen("SH9", text)
    else:
        text = f"Contamination {contamination}, not cleared: quarantine."
        j.note("contamination", text, Outcome.FAIL, contamination)
        j.present("SH9", text)
