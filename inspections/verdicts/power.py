"""Battery, generator, GFCI and cord, light."""

from datetime import date

from inspections.verdicts.core import Outcome, Subject, Verdict
from inspections.verdicts.judgement import Judgement, Limits, Readings, shown, si
from shared.formulas import electric
from shared.formulas.dates import months_between

SUSPECT_12V = 11.8  # below it a lead-acid battery is suspect, not merely low


def judge_battery(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a battery by its rested voltage or its pack's own gauge, and by capacity where it was tested."""
    j = Judgement(subject, readings, limits)
    chemistry = (j.word("chemistry") or str(subject.spec.get("chemistry") or "AGM")).casefold()
    _rested(j)
    capacity = j.number("capacity_pct")
    rated_ah, measured_ah = j.plate("ah"), j.number("capacity_ah")
    if capacity is None and rated_ah and measured_ah is not None:
        capacity = 100 * measured_ah / rated_ah
    if capacity is not None:
        text = f"Capacity {capacity:.0f} percent of rated."
        j.settle("BA2", j.weigh("capacity_pct", "battery_capacity", capacity, text), text, capacity / 100)
    _loaded_volts(j)
    if "primary" in chemistry:
        _primary(j)
    elif "li" in chemistry:
        _pack_gauge(j)
    else:
        _voltage(j, "flooded" if "flood" in chemistry or "wet" in chemistry else "agm")
    return j.verdict()


def _rested(j: Judgement) -> None:
    rest, least = j.number("rest_h"), j.bound("battery_rest", "limits_low")
    if j.yes("just_charged"):
        j.void("Read straight after charging: a surface charge reads high.", "just_charged", True, "battery_rest")
    elif j.word("chemistry") == "primary":
        return
    elif rest is None:
        j.note("rest_h", "Not recorded: how long it rested.", Outcome.LIMITS, limit_key="battery_rest")
    elif least is not None and rest < least:
        j.void(f"Rested {shown(rest)} h, under {shown(least)} h.", "rest_h", rest, "battery_rest")
    else:
        j.weigh("rest_h", "battery_rest", rest, f"Rested {shown(rest)} h.")


def _loaded_volts(j: Judgement) -> None:
    """Put down the voltage under load; it is the battery's own history that a second one is held against."""
    amps, volts = j.number("load_a"), j.number("load_v")
    if amps is not None and volts is not None:
        j.note("load_v", f"{shown(volts)} V after 60 s at {shown(amps)} A.", value=volts, unit="V")


def _primary(j: Judgement) -> None:
    """A cell that cannot be charged is good until the date printed on it."""
    said = j.readings.get("replace_by")
    if not isinstance(said, str):
        return
    until = date.fromisoformat(said)
    past = j.subject.on > until
    text = f"Replace by {until:%d %B %Y}{': it is past' if past else ''}."
    j.note("replace_by", text, Outcome.FAIL if past else Outcome.PASS, said, origin="maker, date printed on the cell")
    if past:
        j.present("BA1", text, 0.0)
    else:
        j.seen("BA1", text)


def _pack_gauge(j: Judgement) -> None:
    charge = j.number("charge_pct")
    if charge is None:
        j.note("ocv_v", "Voltage is no fuel gauge for a lithium pack: read its own gauge.", Outcome.LIMITS)
        j.claimed("BA1", "The pack's own gauge was not read.")
        return
    j.measure("battery_soc", charge / 100, "ratio")
    text = f"The pack's gauge reads {shown(charge)} percent."
    low = charge < 40
    j.note("charge_pct", text, Outcome.LIMITS if low else Outcome.PASS, charge, "percent", origin="policy")
    if low:
        j.present("BA1", text, charge / 100)
    else:
        j.proven("BA1", text)


def _voltage(j: Judgement, chemistry: str) -> None:
    volts, nominal = j.number("ocv_v"), j.plate("volts") or 12.0
    if volts is None:
        return
    temp = j.number("temp_degF")
    t_k = si(temp if temp is not None else 77.0, "degF")
    try:
        charge = float(electric.charge_from_rest_voltage(volts, chemistry, t_k, nominal))
        at_reference = float(electric.rest_voltage_at_reference(volts, chemistry, t_k, nominal))
    except ValueError:
        j.void(f"{shown(volts)} V cannot be read from a {shown(nominal)} V battery: measure again.", "ocv_v", volts)
        return
    j.measure("battery_soc", charge, "ratio")
    text = f"{volts:.2f} V rested, about {100 * charge:.0f} percent charged."
    # The flooded table is stated at 80 degF and corrected to it; the AGM figures of makers are taken as read.
    as_12 = (at_reference if chemistry == "flooded" else volts) * 12.0 / nominal
    if as_12 < SUSPECT_12V:
        text += " Suspect: charge, rest and test its capacity."
    outcome = j.weigh("ocv_v", f"battery_{chemistry}", as_12, text, shown_as=volts, u95=j.u95("volt_v"))
    j.settle("BA1", outcome, text, charge)


def judge_generator(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a loaded run. An idle start proves that it starts, and nothing else."""
    j = Judgement(subject, readings, limits)
    started = _starts(j)
    _fuel(j)
    _around(j)
    if started:
        _loaded(j)
    return j.verdict()


def _starts(j: Judgement) -> bool:
    tries = j.number("start_tries")
    if j.yes("started") is False:
        j.note("started", "It did not start.", Outcome.FAIL, False, limit_key="tries")
        j.present("GN1", "It did not start.")
        return False
    if tries is None:
        if j.yes("started"):
            j.note("started", "It started.", Outcome.PASS, True)
            j.seen("GN1", "It started.")
        return True
    text = f"Started in {shown(tries)} {'try' if tries == 1 else 'tries'}."
    j.settle("GN1", j.weigh("start_tries", "tries", tries, text), text, by_eye=True)
    return True


def _around(j: Judgement) -> None:
    """Weigh where it stood and what was said of oil and GFCI; the loaded run settles what it gives."""
    away = j.number("exhaust_ft")
    if away is not None:
        j.weigh("exhaust_ft", "generator_distance", away, f"Exhaust {shown(away)} ft from the shelter.")
    if j.yes("oil_ok") is False:
        j.note("oil_ok", "Oil is not right: put it right before it runs.", Outcome.LIMITS, False)
    if j.yes("gfci_trips"):
        text = "It trips the GFCI under load: find out which, and do not bypass."
        j.note("gfci_trips", text, Outcome.FAIL, True, limit_key="gfci")
        j.present("GN2", text)


def _fuel(j: Judgement) -> None:
    """Weigh the age of the fuel in the tank, in calendar months."""
    said = j.readings.get("fuel_date")
    if not isinstance(said, str):
        return
    made = date.fromisoformat(said)
    fuel = str(j.subject.spec.get("fuel") or "gasoline").casefold()
    months = months_between(made, j.subject.on)
    if months < 0:
        j.quality.append("The fuel is dated after the run: check the date.")
        return
    j.measure("fuel_made_on", float(made.toordinal()), "day")
    key = "fuel_age_diesel" if "diesel" in fuel else "fuel_age_gasoline"
    text = f"Fuel {months:.1f} months old{', not stabilised' if j.yes('stabilised') is False else ''}."
    if j.weigh("fuel_date", key, months, text) is Outcome.FAIL:
        j.present("GN1", f"{text} It is not to be trusted to start: change the fuel.")


def _loaded(j: Judgement) -> None:
    load, run = j.number("load_w"), j.number("run_min")
    volts, hertz = j.number("v1_v"), j.number("hz1_hz")
    if load is None or load <= 0:
        j.note("load_w", "Run without a measured load: it shows that it starts, no more.", Outcome.LIMITS)
        return
    results = []
    if volts is not None:
        results.append(j.weigh("v1_v", "generator_volts", volts, f"{shown(volts)} V under {shown(load)} W."))
    if (end := j.number("v_end_v")) is not None:
        results.append(j.weigh("v_end_v", "generator_volts", end, f"{shown(end)} V at the end of the run."))
    if hertz is not None:
        results.append(j.weigh("hz1_hz", "generator_hz", hertz, f"{shown(hertz)} Hz under load."))
    if Outcome.FAIL in results:
        j.present("GN2", "Volts or hertz out of range under load.")
        return
    enough = _enough_load(j, load)
    long_enough = False
    if run is not None:
        text = f"Ran {shown(run)} min under load."
        least = j.bound("generator_run", "limits_low")
        if least is not None and run < least:
            j.note(
                "run_min", f"{text} Too short to show more than a start.", Outcome.LIMITS, run, "min", "generator_run"
            )
        else:
            j.weigh("run_min", "generator_run", run, text)
            long_enough = True
    j.measure("generator_w", load, "W", at_least=True)
    if enough and long_enough and volts is not None and hertz is not None and None not in results:
        j.proven("GN2", f"Carried {shown(load)} W for {shown(run or 0)} min.")
    else:
        j.claimed("GN2", "The run was too short, too light or not fully measured.")


def _enough_load(j: Judgement, load: float) -> bool:
    """A diesel set must be loaded to its share; a spark-ignited one by the line's real load."""
    rated = j.plate("watts")
    if "diesel" not in str(j.subject.spec.get("fuel") or "").casefold() or not rated:
        return True
    least = j.bound("generator_load_diesel", "pass_low")
    enough = least is None or load / rated >= least
    text = f"Loaded to {load / rated:.2f} of its plate."
    if not enough:
        text += " Too light to show what it carries."
    j.note("load_w", text, Outcome.PASS if enough else Outcome.LIMITS, load / rated, "ratio", "generator_load_diesel")
    return enough


def judge_gfci(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a ground-fault device's own test, a cord's grounding conductor, or whether an inflator trips one."""
    j = Judgement(subject, readings, limits)
    trips, resets = j.yes("test_trips"), j.yes("reset")
    if trips is False or resets is False:
        text = "Does not trip on test." if trips is False else "Does not reset."
        j.note(
            "test_trips" if trips is False else "reset",
            f"{text} Destroy the device.",
            Outcome.FAIL,
            False,
            limit_key="gfci",
        )
        j.present("PW1", text)
    elif trips and resets:
        j.note("test_trips", "Trips and resets on test.", Outcome.PASS, True, limit_key="gfci")
        j.seen("PW1", "Trips and resets on test.")
    elif trips or resets:
        j.note("test_trips", "Only half of trips-and-resets was recorded.", Outcome.LIMITS, limit_key="gfci")
        j.claimed("PW1", "Half of the test recorded.")
    _ground(j)
    running = j.yes("gfci_trips")
    j.stated(
        "IN4",
        None if running is None else not running,
        "gfci_trips",
        "The GFCI held with it running.",
        "It trips the GFCI: do not bypass; dry it or swap it.",
    )
    return j.verdict()


def _ground(j: Judgement) -> None:
    ohm, jacket = j.number("ground_ohm"), j.none_of("jacket")
    if jacket is False:
        text = f"Jacket: {j.word('jacket')}. Tag it and cut off the plug."
        j.note("jacket", text, Outcome.FAIL, j.word("jacket"))
        j.present("PW2", text)
    if ohm is not None:
        text = f"Grounding conductor {shown(ohm)} ohm."
        j.settle("PW2", j.weigh("ground_ohm", "ground", ohm, text), text)
    elif jacket:
        j.note("jacket", "Jacket whole; the ground was not measured.", Outcome.PASS, j.word("jacket"))
        j.claimed("PW2", "Jacket whole; ground not measured.")


def judge_light(subject: Subject, readings: Readings, limits: Limits) -> Verdict:
    """Judge a light strip by its lit segments, or its power supply by its volts."""
    j = Judgement(subject, readings, limits)
    lit, total = j.number("lit"), j.number("of")
    if lit is not None and total:
        percent = 100 * lit / total
        text = f"{shown(lit)} of {shown(total)} segments lit."
        j.settle("LT1", j.weigh("lit", "light_path", percent, text), text, lit / total, by_eye=True)
    volts = j.number("psu_v")
    if volts is not None:
        # A nominal 12 V supply is alive within a tenth of it.
        alive = 10.8 <= volts <= 13.2 if "LT2" in subject.visible_modes else volts > 0
        text = f"Power supply {shown(volts)} V."
        j.note("psu_v", text, Outcome.PASS if alive else Outcome.FAIL, volts, "V", origin="policy")
        if alive:
            j.proven("LT2", text)
        else:
            j.present("LT2", text)
    zone = j.number("wet_zone_v")
    if zone is not None and zone > 12.5 and not j.yes("gfci"):
        text = f"{shown(zone)} V in the wet zone without a GFCI: switch it off."
        j.note("wet_zone_v", text, Outcome.FAIL, zone, "V", origin="policy")
        j.present("LT2" if "LT2" in subject.visible_modes else "LT1", text)
    if j.yes("seals_ok") is False:
        j.note("seals_ok", "A seal is open: water gets in.", Outcome.LIMITS, False)
    if j.number("run_min") is not None and (j.number("run_min") or 0) < 30:
        j.quality.append("Lit for less than 30 min.")
    return j.verdict()
