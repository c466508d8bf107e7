"""Heat run: output by the water, and the safety of the flame."""

from inspections.verdicts.core import Outcome, Subject, Verdict
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown, si, us
from shared.formulas import heat

SET_POINT_MARGIN_F = 5.0  # the outlet must be pulled this far below set-point, or the run shows demand only
STILL_RISING_F = 3.0  # rise of the outlet over the last five minutes that says it has not settled; ours
PLATE_EFFICIENCY = 0.82  # taken of the plate's input where the unit has no baseline and no plate figure; ours


def judge(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a heat run. Inputs are degF, gpm, pounds of fuel, minutes, seconds and ppm."""
    j = Judgement(subject, readings, limits)
    if j.yes("lit") is False:
        j.note("lit", "It did not light.", Outcome.FAIL, False, limit_key="tries")
        j.present("WH1", "It did not light.")
    else:
        _lights(j)
        _output(j)
        j.stated("WH7", j.none_of("strainer"), "strainer", "Strainer clean.", "Strainer clogged.")
        _warming(j)
    _placed(j)
    _head(j)
    _flame(j)
    _monoxide(j)
    _drained(j)
    return j.verdict()


def _lights(j: Judgement) -> None:
    tries = j.number("tries")
    if tries is None:
        if j.yes("lit"):
            j.note("lit", "It lit.", Outcome.PASS, True)
            j.seen("WH1", "It lit.")
        return
    text = f"Lit in {shown(tries)} {'try' if tries == 1 else 'tries'}."
    j.settle("WH1", j.weigh("tries", "tries", tries, text), text, by_eye=True)
    if (volts := j.number("igniter_v")) is not None:
        j.note("igniter_v", f"Igniter at {shown(volts)} V.", value=volts, unit="V")


def _placed(j: Judgement) -> None:
    """Weigh how far the burner stands from an opening or from fabric; the monoxide reading settles the mode."""
    away = j.number("away_ft")
    if away is not None:
        j.weigh("away_ft", "heater_distance", away, f"Stood {shown(away)} ft from the nearest opening or fabric.")


def _warming(j: Judgement) -> None:
    """Remark an outlet that was still rising: the run was read before it had settled."""
    five, ten = j.number("outlet_5_degF"), j.number("outlet_degF")
    if five is not None and ten is not None and ten - five > STILL_RISING_F:
        j.quality.append(f"The outlet rose {shown(ten - five)} °F from 5 to 10 min: run longer before it is read.")


def _output(j: Judgement) -> None:
    inlet, outlet, gpm = j.number("inlet_degF"), j.number("outlet_degF"), j.number("gpm")
    gallons, seconds = j.number("bucket_gal"), j.number("fill_s")
    if gpm is None and gallons and seconds:
        gpm = 60 * gallons / seconds
    if inlet is None or outlet is None or gpm is None:
        return
    if outlet <= inlet or gpm <= 0:
        text = "The water left no warmer than it came in."
        j.note("outlet_degF", text, Outcome.FAIL, outlet, "degF")
        j.present("WH3", text, 0.0)
        return
    output_w = float(heat.heat_output_w(si(gpm, "gpm"), si(outlet - inlet, "ddegF")))
    set_point = j.number("set_degF") or j.plate("set_degF")
    # At set-point the heater only gave what was asked of it.
    at_set = set_point is not None and outlet > set_point - SET_POINT_MARGIN_F
    if set_point is None:
        j.note("set_degF", "No set-point recorded: the output counts as a lower bound.", Outcome.LIMITS)
        at_set = True
    if set_point is not None and outlet > set_point + 10:
        j.quality.append(
            f"The outlet reads {shown(outlet - set_point)} °F above set-point: check the thermometer and the set-point."
        )
    j.measure("heater_output_w", output_w, "W", at_least=at_set)
    _against_baseline(j, output_w, at_set)
    if not at_set:
        _efficiency(j, output_w)
        head = j.number("head_degF")
        if head is not None and outlet >= head:
            j.measure("hose_loss_k", si(outlet - head, "ddegF"), "K")


def _against_baseline(j: Judgement, output_w: float, at_set: bool) -> None:
    base_w, whence = _baseline(j)
    told = f"{us(output_w, 'BTU/h'):,.0f} BTU/h"
    if base_w is None:
        j.note(
            "outlet_degF", f"Output {'at least ' if at_set else ''}{told}; nothing to compare it with.", Outcome.PASS
        )
        if not at_set:
            j.proven("WH3", "Sets this unit's baseline, assumed.")
            j.proven("WH7", "The strainer let through the flow that loads it.")
        return
    ratio = output_w / base_w
    least = j.bound("heat_output", "pass_low")
    if at_set:
        text = f"Held at set-point: at least {told}, {ratio:.2f} of {whence}. It shows demand, not capability."
        j.note("outlet_degF", text, Outcome.PASS, us(output_w, "BTU/h"), "BTU/h", "heat_output")
        if least is not None and ratio >= least:
            j.proven("WH3", text)
        return
    text = f"Output {told}, {ratio:.2f} of {whence}."
    outcome = j.weigh("outlet_degF", "heat_output", ratio, text)
    j.settle("WH3", outcome, text, ratio)
    if outcome is Outcome.PASS:
        j.proven("WH7", "The strainer let through the flow that loads it.")


def _baseline(j: Judgement) -> tuple[float | None, str]:
    """Return what this unit is compared with [W], and how that is called."""
    base_w = j.subject.baseline.get("heater_output_w")
    if base_w is not None:
        assumed = " (first good run, assumed)" if j.subject.baseline_assumed else ""
        return base_w, f"its baseline {us(base_w, 'BTU/h'):,.0f} BTU/h{assumed}"
    plate = j.plate("input_btu_h")
    if plate is None:
        return None, ""
    efficiency = j.plate("efficiency") or PLATE_EFFICIENCY
    efficiency = efficiency / 100 if efficiency > 1.5 else efficiency
    return si(plate * efficiency, "BTU/h"), f"{efficiency:.2f} of its plate input (no baseline yet)"


def _efficiency(j: Judgement, output_w: float) -> None:
    fuel_lb, minutes = j.number("fuel_lb"), j.number("minutes")
    before, after = j.number("cyl_before_lb"), j.number("cyl_after_lb")
    if fuel_lb is None and before is not None and after is not None:
        fuel_lb = before - after
    if not fuel_lb or fuel_lb < 0 or not minutes:
        return
    efficiency = float(heat.heater_efficiency(output_w, si(fuel_lb, "lb"), 60 * minutes))
    if not 0.3 <= efficiency <= 1.0:
        j.quality.append(f"Heat over fuel comes to {100 * efficiency:.0f} percent: weigh the cylinder again.")
        return
    if fuel_lb < 2:
        j.quality.append("Less than 2 lb of fuel was weighed: run longer for a surer efficiency.")
    j.measure("heater_efficiency", efficiency, "ratio")
    j.note("fuel_lb", f"{100 * efficiency:.0f} percent of the fuel's heat reached the water.", value=efficiency)


def _head(j: Judgement) -> None:
    head = j.number("head_degF")
    if head is None:
        return
    text = f"{shown(head)} °F at the head."
    low, least, high = (j.bound("head_temp", side) for side in ("pass_low", "limits_low", "limits_high"))
    set_point, outlet = j.number("set_degF") or j.plate("set_degF"), j.number("outlet_degF")
    pulled = set_point is not None and outlet is not None and outlet <= set_point - SET_POINT_MARGIN_F
    if high is not None and head > high:
        text += " Stop: it scalds." if head > 110 else " Too hot for the lane."
        j.weigh("head_degF", "head_temp", head, text, u95=j.u95("therm_degF"))
        j.present("WH4", text)
        return
    if pulled and low is not None and head < low:
        # The flow was raised on purpose; a cool head at that flow is the measure's doing, not a fault.
        j.note(
            "head_degF",
            f"{text} Cool at this flow: one lane fewer will be warmer.",
            Outcome.LIMITS,
            head,
            "degF",
            "head_temp",
        )
    else:
        j.weigh("head_degF", "head_temp", head, text, u95=j.u95("therm_degF"))
        if least is not None and head < least:
            j.present("WH3", f"{text} Cold at the head.", None)
    j.proven("WH4", text)


def _flame(j: Judgement) -> None:
    seconds = j.number("off_after_flow_s")
    if seconds is None:
        return
    text = f"Flame off {shown(seconds)} s after flow stopped."
    outcome = j.weigh("off_after_flow_s", "flame_off", seconds, text)
    j.settle("WH5", outcome, text if outcome is Outcome.PASS else f"{text} Shut the cylinder valve.")


def _monoxide(j: Judgement) -> None:
    ppm = j.number("co_ppm")
    if ppm is None:
        return
    text = f"{shown(ppm)} ppm carbon monoxide at the shelter side."
    outcome = j.weigh("co_ppm", "co_entrance", ppm, text, u95=j.u95("co_ppm"))
    j.settle("WH6", outcome, text if outcome is not Outcome.FAIL else f"{text} Stop and move it downwind.")


def _drained(j: Judgement) -> None:
    """Drained and no leak, both stated, show that the exchanger is whole and will not freeze."""
    drained, tight = j.yes("drained"), j.none_of("leaks")
    if tight is False:
        j.note("leaks", f"Leaks: {j.word('leaks')}.", Outcome.FAIL, j.word("leaks"))
        j.present("WH2", "The exchanger or its joints leak.")
    elif drained and tight:
        j.note("drained", "Drained, no leak.", Outcome.PASS, True, limit_key="drained")
        j.seen("WH2", "Drained, no leak.")
    elif drained:
        j.note("drained", "Drained. Whether it leaks was not recorded.", Outcome.PASS, True, limit_key="drained")
        j.claimed("WH2", "Drained; leaks not recorded.")
    undrained(j, "WH2", drained)


def undrained(j: Judgement, code: str, drained: bool | None) -> None:
    """Water left in: a drain due now, and an impairment in the cold season."""
    if drained is not False:
        return
    if j.subject.cold_season:
        text = "Not drained in the cold season: out of service until drained and proven."
        j.note("drained", text, Outcome.FAIL, False, limit_key="drained")
        j.present(code, text)
    else:
        j.note("drained", "Not drained: drain it now.", Outcome.LIMITS, False, limit_key="drained")
