"""Check values of batteries."""

import math

from shared.formulas import electric
from shared.units import from_si, to_si
from shared.verification.kinds.dates import needed
from shared.verification.registry import Case, kind, reaches, si


def temperature(case: Case, key: str) -> float:
    """Give a temperature of a case in kelvin, from whichever scale it is told in."""
    unit = next((unit for unit in ("degF", "degC", "K") if f"{key}_{unit}" in case), "degF")
    return si(case, f"{key}_{unit}", unit)


def _curve(case: Case) -> electric.RestCurve:
    """Give the rest curve of a case: its own table, at a temperature where it tells one, else its chemistry's."""
    if "table_v" not in case:
        return electric.BAND_CURVES[str(case["chemistry"]).lower()]
    rows = sorted(zip(case["table_v"], case["table_soc_pct"], strict=True))
    at_k = temperature(case, "table_t") if {"table_t_degF", "table_t_degC"} & set(case) else to_si(80.0, "degF")
    volts = tuple(float(row[0]) for row in rows)
    nominal = float(case.get("nominal_v", volts[-1]))
    return electric.RestCurve(
        volts, tuple(row[1] / 100 for row in rows), at_k, "the case's own table", 1.2e-3 * nominal / 12, nominal
    )


@kind(electric.charge_band, electric.charge_on_curve, electric.interpolate)
def ocv_soc(case: Case) -> Case:
    curve = _curve(case)
    at_k = temperature(case, "t") if {"t_degF", "t_degC"} & set(case) else curve.at_k
    nominal = float(case.get("nominal_v", curve.nominal_v))
    band = electric.charge_band(case["ocv_v"], case.get("meter_accuracy_v", 0.0), curve, at_k, nominal)
    return {
        "soc_pct": 100 * band.charge,
        "soc_low_pct": 100 * band.low,
        "soc_high_pct": 100 * band.high,
        "serves": band.serves,
        "why": band.why,
    }


@kind(electric.charge_from_rest_voltage, electric.rest_voltage_at_reference)
def battery_charge(case: Case) -> Case:
    given = (case["ocv_v"], case["chemistry"], temperature(case, "t"), case.get("nominal_v", 12.0))
    return {
        "soc_pct": 100 * electric.charge_from_rest_voltage(*given),
        "reference_v": electric.rest_voltage_at_reference(*given),
    }


@kind(electric.temperature_factor)
def temp_capacity(case: Case) -> Case:
    unit = "degF" if "table_t_degF" in case else "degC"
    rows = sorted(zip(case[f"table_t_{unit}"], case["table_kt"], strict=True))
    at_k = [to_si(float(row[0]), unit) for row in rows]
    t_k = temperature(case, "t")
    factor = electric.temperature_factor(t_k, at_k, [row[1] for row in rows])
    return {"available_ah": case["rated_ah"] / factor, "outside_table": not at_k[0] <= t_k <= at_k[-1]}


@kind(electric.cold_capacity_factor)
def cold_capacity(case: Case) -> Case:
    return {"share_pct": 100 * electric.cold_capacity_factor(temperature(case, "t"), case["chemistry"])}


@kind(electric.capacity_shown)
def capacity_test(case: Case) -> Case:
    times = (si(case, "actual_min", "min"), si(case, "rated_min", "min"))
    found = 100 * electric.capacity_shown(*times, float(case.get("kt", 1.0)))
    return {"capacity_pct": found, "replace": not reaches(found, case["replace_below_pct"])}


@kind(electric.peukert_time_s)
def peukert(case: Case) -> Case:
    rated = (si(case, "capacity_ah", "Ah"), si(case, "rated_hours", "h"), case["k"])
    return _lasting(electric.peukert_time_s(*rated, case["current_a"]), case)


@kind(electric.peukert_time_at_one_ampere_s)
def peukert_cp(case: Case) -> Case:
    return _lasting(electric.peukert_time_at_one_ampere_s(si(case, "cp_ah", "Ah"), case["k"], case["current_a"]), case)


def _lasting(lasts_s: float, case: Case) -> Case:
    hours = from_si(lasts_s, "h")
    return {"hours": hours, "delivered_ah": hours * case["current_a"]}


@kind(electric.peukert_exponent)
def peukert_exponent(case: Case) -> Case:
    one, other = (case["i1_a"], si(case, "t1_h", "h")), (case["i2_a"], si(case, "t2_h", "h"))
    return {"k": electric.peukert_exponent(*one, *other)}


@kind(electric.self_discharge_rate, electric.time_to_charge_s)
def self_discharge(case: Case) -> Case:
    rate = _loss(case)
    left = electric.time_to_charge_s(case["soc0_pct"] / 100, case["threshold_pct"] / 100, rate)
    days = from_si(left, "day") if math.isfinite(left) else None
    return {"rate_pct_per_month": 100 * rate * to_si(1.0, "month"), "days": days}


@kind(electric.charge_by, electric.self_discharge_rate)
def next_charge(case: Case) -> Case:
    by = electric.charge_by(
        needed(case, "charged_date"), case["soc0_pct"] / 100, case["threshold_pct"] / 100, _loss(case)
    )
    return {"charge_by": by}


def _loss(case: Case) -> float:
    """Give the loss at the temperature of a case, from the temperature that its rate's key names."""
    key = next(key for key in case if key.startswith("rate_pct_per_month"))
    told = key.removeprefix("rate_pct_per_month").strip("_")
    reference = to_si(float(told[:-1]), {"C": "degC", "F": "degF"}[told[-1]]) if told else to_si(20.0, "degC")
    doubling = case["doubling_degF"] * 5 / 9 if "doubling_degF" in case else case["doubling_degC"]
    rate = case[key] / 100 / to_si(1.0, "month")
    return electric.self_discharge_rate(rate, temperature(case, "t"), doubling, reference)


@kind(electric.run_time_s)
def runtime(case: Case) -> Case:
    usable, efficiency = (case.get(key, 100) / 100 for key in ("usable_pct", "efficiency_pct"))
    lasts = electric.run_time_s(si(case, "capacity_ah", "Ah"), case["volts"], case["load_w"], usable, efficiency)
    return {"hours": from_si(lasts, "h")}
