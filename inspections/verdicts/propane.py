"""Propane weigh: contents, tare, leak, dates; energy and cold vapour rate where a planning temperature is given."""

from inspections.verdicts.core import Outcome, Subject, Verdict, reaches
from inspections.verdicts.dates import requalification
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown, si, us
from shared.formulas import propane

DEFAULT_MARK = "4BA"  # a propane cylinder with no mark recorded is taken for the common welded one


def judge(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a weighing. Inputs are pounds on the scale and stated observations at the valve."""
    j = Judgement(subject, readings, limits)
    gross, tare = j.number("gross_lb"), _tare(j)
    held_lb = None
    if gross is not None and tare is not None:
        held_lb = gross - tare
        _contents(j, held_lb)
    soap = j.none_of("soap")
    j.stated(
        "LP3", soap, "soap", "No bubbles at the valve.", f"Bubbles at the valve: {j.word('soap')}. Outdoors, no flame."
    )
    _emptied(j)
    full_lb, _ = _full(j)
    requalification(j, "LP2", holds_gas=held_lb is None or held_lb > 0.05 * full_lb, default_mark=DEFAULT_MARK)
    _stored(j)
    return j.verdict()


def _tare(j: Judgement) -> float | None:
    """Return the tare to take off: the stamp rules, and a reading that differs from it is remarked."""
    stamped, read = j.plate("tare_lb"), j.number("tare_lb")
    if stamped is not None and read is not None and abs(stamped - read) > 0.25:
        text = f"Tare read as {shown(read)} lb, but {shown(stamped)} lb is recorded as stamped; the stamp is used."
        j.note("tare_lb", text, Outcome.LIMITS, read, "lb")
        j.quality.append(text)
    return stamped if stamped is not None else read


def _full(j: Judgement) -> tuple[float, str]:
    """Return what the cylinder may hold [lb], and by which rule."""
    water = j.plate("water_lb")
    if water:
        return propane.fill_limit_kg(water), f"0.42 of {shown(water)} lb water capacity"
    nominal = j.number("nominal_lb") or j.plate("nominal_lb") or 100.0
    return nominal, f"its nominal {shown(nominal)} lb"


def _contents(j: Judgement, held_lb: float) -> None:
    full_lb, rule = _full(j)
    ratio = held_lb / full_lb
    if held_lb < -1.0:
        j.void(f"The scale reads {shown(-held_lb)} lb under the tare: weigh again.", "gross_lb", held_lb)
        return
    text = f"{shown(held_lb)} lb of propane, {ratio:.2f} of {rule}."
    u95 = j.u95("scale_lb")
    outcome = j.weigh("gross_lb", "propane_contents", ratio, text, u95=u95 / full_lb if u95 else None)
    j.measure("propane_kg", max(0.0, si(held_lb, "lb")), "kg")
    most = j.bound("propane_contents", "limits_high")
    if most is not None and not reaches(most, ratio):
        j.impaired("LP1", f"Overfilled: {text} Do not move or heat it; have it bled by the supplier.")
    elif outcome is Outcome.LIMITS and ratio > 1:
        j.proven("LP1", text)
    else:
        j.settle("LP1", outcome, text, ratio)
    _rates(j, max(0.0, held_lb), full_lb)


def _rates(j: Judgement, held_lb: float, full_lb: float) -> None:
    """Say what the contents mean as heat, and as vapour at the planning temperature where one was given."""
    energy_btu = us(si(held_lb, "lb") * propane.HEATING_VALUE_J_KG, "BTU")
    draw = j.number("draw_btu_h")
    lasts = f" {energy_btu / draw:.1f} h at a draw of {draw:,.0f} BTU/h." if draw else ""
    j.note("energy", f"{energy_btu:,.0f} BTU as fuel.{lasts}", value=energy_btu, unit="BTU")
    planning = j.number("planning_degF")
    if planning is None or held_lb <= 0:
        return
    left = j.number("end_lb")
    held_lb = held_lb if left is None else min(left, held_lb)
    kg, nominal_kg = si(held_lb, "lb"), si(full_lb, "lb")
    try:
        rate_w = float(propane.vapour_rate_w(kg, si(planning, "degF"), nominal_kg))
    except ValueError:
        j.quality.append(f"No vapour rate is known at {shown(planning)} °F with {shown(held_lb)} lb in it.")
        return
    rate = us(rate_w, "BTU/h")
    if draw:
        _sustains(j, rate, draw, held_lb, planning)
        return
    j.note(
        "planning_degF",
        f"Gives up to {rate:,.0f} BTU/h of vapour at {shown(planning)} °F by the chart, "
        "less where the regulator needs inlet pressure.",
        value=rate,
        unit="BTU/h",
        limit_key="propane_rate",
    )


def _sustains(j: Judgement, rate: float, draw: float, held_lb: float, planning: float) -> None:
    """Weigh the vapour that all manifolded cylinders give at the end of the run against the burner's draw [BTU/h]."""
    bottles = j.number("manifolded") or 1.0
    ratio = bottles * rate / draw
    many = f"{shown(bottles)} cylinders give" if bottles > 1 else "It gives"
    text = (
        f"{many} {bottles * rate:,.0f} BTU/h of vapour at {shown(planning)} °F with {shown(held_lb)} lb in each, "
        f"{ratio:.2f} of the draw, by the chart; less where the regulator needs inlet pressure."
    )
    j.settle("LP4", j.weigh("planning_degF", "propane_rate", ratio, text), text, ratio)


def _emptied(j: Judgement) -> None:
    empty, stamped = j.number("empty_lb"), j.plate("tare_lb")
    if empty is None or not stamped:
        return
    ratio = empty / stamped
    text = f"Empty it weighs {shown(empty)} lb, {ratio:.3f} of its tare."
    if j.weigh("empty_lb", "propane_tare_loss", ratio, text) is Outcome.FAIL:
        j.impaired("LP2", f"{text} Requalify before refill.")


def _stored(j: Judgement) -> None:
    """Upright, outdoors, plugged: only what was said counts."""
    said = [j.yes(key) for key in ("upright_outdoors", "plug")]
    if said[0] is False and j.subject.room_lb is not None:
        room = j.subject.room_lb
        j.weigh("room_lb", "propane_indoors", room, f"{shown(room)} lb nominal stand in this place, empties as full.")
    if any(answer is False for answer in said):
        j.stated("LP5", False, "upright_outdoors", "", "Stored lying, indoors or without its plug: put it right now.")
    elif all(answer is True for answer in said):
        j.stated("LP5", True, "upright_outdoors", "Upright, outdoors, plugged.", "")
    elif any(said):
        j.claimed("LP5", "Stored right in part.")
