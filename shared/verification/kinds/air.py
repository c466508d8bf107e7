"""Check values of air in beams and cylinders."""

import math

import numpy as np

from shared.formulas import air
from shared.formulas._ranges import FloatArray
from shared.units import from_si, to_si
from shared.verification.registry import Case, kind, si

HOUR_S = to_si(1.0, "h")
PER_S_IN_PCT_PER_DAY = 100 * to_si(1.0, "day")


def readings(case: Case, key: str, unit: str) -> FloatArray:
    """Give a list of readings in SI."""
    return to_si(np.asarray(case[key], dtype=np.float64), unit)


@kind(air.pressure_at)
def gauge_temp_correct(case: Case) -> Case:
    found = air.pressure_at(
        si(case, "p1_psig", "psig"),
        si(case, "t1_degF", "degF"),
        si(case, "baro1_psia", "psia"),
        si(case, "t2_degF", "degF"),
        si(case, "baro2_psia", "psia"),
    )
    return {"p2_psig": from_si(found, "psig")}


@kind(air.air_lost, air.corrected_loss_pa, air.leak_standard_m3_s, air.loss_rate_pa_s)
def decay_two_point(case: Case) -> Case:
    first = si(case, "p1_psig", "psig"), si(case, "t1_degF", "degF"), si(case, "baro1_psia", "psia")
    second = si(case, "p2_psig", "psig"), si(case, "t2_degF", "degF"), si(case, "baro2_psia", "psia")
    lost = air.air_lost(*first, *second)
    # The published form carries the second reading back to the first one's conditions: the loss run the other way.
    loss = -air.corrected_loss_pa(*second, *first)
    leak = air.leak_standard_m3_s(
        si(case, "volume_ft3", "ft3"),
        lost,
        *first,
        si(case, "elapsed_h", "h"),
        si(case, "std_t_degF", "degF"),
        si(case, "std_p_psia", "psia"),
    )
    return {
        "p2_corrected_psig": from_si(first[0] - loss, "psi"),
        "loss_corrected_psi": from_si(loss, "psi"),
        "mass_loss_pct": 100 * lost,
        "leak_rate_psi_per_h": from_si(air.loss_rate_pa_s(loss, si(case, "elapsed_h", "h")), "psi") * HOUR_S,
        "leak_scfh": from_si(leak, "ft3") * HOUR_S,
    }


def hours(seconds: float) -> float | None:
    """Give hours, or null where there is no end, for which JSON has no number."""
    return from_si(seconds, "h") if math.isfinite(seconds) else None


@kind(air.time_to_pressure_s)
def time_to_limit(case: Case) -> Case:
    found = air.time_to_pressure_s(
        si(case, "p0_psig", "psig"),
        si(case, "p1_psig", "psig"),
        si(case, "elapsed_h", "h"),
        si(case, "p_limit_psig", "psig"),
    )
    return {"hours_linear": hours(found.linear_s), "hours_exponential": hours(found.exponential_s)}


@kind(air.loss_uncertainty_pa)
def resolution_unc(case: Case) -> Case:
    step = si(case, "resolution_psi", "psi")
    at = [si(case, key, unit) for key, unit in (("p_psig", "psig"), ("t_degF", "degF"), ("baro_psia", "psia"))]
    both = from_si(air.loss_uncertainty_pa(step, si(case, "t_resolution_degF", "ddegF"), *at), "psi")
    gauge_alone = from_si(air.loss_uncertainty_pa(step, 0.0, *at), "psi")
    return {
        "u_reading_psi": gauge_alone / (2 * math.sqrt(2)),
        "u_decay_psi": both / 2,
        "U95_decay_psi": both,
        "min_detectable_psi_per_h": from_si(air.loss_rate_pa_s(to_si(both, "psi"), si(case, "elapsed_h", "h")), "psi")
        * HOUR_S,
    }


@kind(air.leak_fit)
def mass_point(case: Case) -> Case:
    """Readings one by one or, of the barometer, one for all; steps of the instruments may be named."""
    found = air.leak_fit(
        readings(case, "time_h", "h"),
        readings(case, "p_psig", "psig"),
        readings(case, "t_degF", "degF"),
        readings(case, "baro_psia", "psia"),
        to_si(float(case.get("resolution_psi", 0.0)), "psi"),
        to_si(float(case.get("t_resolution_degF", 0.0)), "ddegF"),
    )
    return {
        "leak_pct_per_day": PER_S_IN_PCT_PER_DAY * found.leak_per_s,
        "leak_se_pct_per_day": PER_S_IN_PCT_PER_DAY * found.scatter_per_s,
        "instrument_u_pct_per_day": PER_S_IN_PCT_PER_DAY * found.instrument_per_s,
        "ucl95_pct_per_day": PER_S_IN_PCT_PER_DAY * found.upper_per_s,
    }


@kind(air.free_air_m3, air.inflation_time_s)
def inflate_time(case: Case) -> Case:
    found = air.inflation_time_s(
        si(case, "volume_ft3", "ft3"),
        si(case, "p_psig", "psig"),
        si(case, "baro_psia", "psia"),
        si(case, "free_air_cfm", "ft3") / to_si(1.0, "min"),
    )
    return {"minutes": from_si(found, "min")}


def free_air_ft3(case: Case, *, ideal: bool) -> float:
    """Give the free air that a cylinder holds between two pressures."""
    found = air.cylinder_air_m3(
        si(case, "water_volume_ft3", "ft3"),
        si(case, "p_start_psig", "psig"),
        si(case, "p_end_psig", "psig"),
        si(case, "t_degF", "degF"),
        si(case, "baro_psia", "psia"),
        ideal=ideal,
    )
    return from_si(found, "ft3")


@kind(air.cylinder_air_m3)
def cylinder_air(case: Case) -> Case:
    return {"free_air_ideal_ft3": free_air_ft3(case, ideal=True)}


@kind(air.cylinder_air_m3, air.air_compressibility)
def cylinder_air_real(case: Case) -> Case:
    return {"free_air_ft3": free_air_ft3(case, ideal=False)}


@kind(air.air_compressibility)
def air_z(case: Case) -> Case:
    return {"z": air.air_compressibility(si(case, "p_psia", "psia"), si(case, "t_degF", "degF"))}


@kind(air.cylinder_fills)
def cylinder_fills(case: Case) -> Case:
    found = air.cylinder_fills(
        si(case, "water_volume_ft3", "ft3"),
        si(case, "p_start_psig", "psig"),
        si(case, "least_inlet_psig", "psig"),
        si(case, "t_degF", "degF"),
        si(case, "baro_psia", "psia"),
        si(case, "shelter_ft3", "ft3"),
        si(case, "p_fill_psig", "psig"),
    )
    return {"fills": found, "whole_shelters": math.floor(found)}


@kind(air.sun_load)
def sun_heating(case: Case) -> Case:
    found = air.sun_load(
        si(case, "p_fill_psig", "psig"),
        si(case, "t_fill_degF", "degF"),
        si(case, "baro_fill_psia", "psia"),
        si(case, "t_beam_degF", "degF"),
        si(case, "baro_psia", "psia"),
        si(case, "relief_psig", "psig"),
    )
    return {
        "p_beam_psig": from_si(found.gauge_pa, "psig"),
        "over_relief_psi": from_si(found.over_relief_pa, "psi"),
        "relief_lifts_at_degF": from_si(found.lifts_at_k, "degF"),
        "relief_lifts": found.lifts,
    }


@kind(air.station_pressure_pa)
def station_barometer(case: Case) -> Case:
    """Of the standard atmosphere where no sea-level pressure is given."""
    sea_level = si(case, "sea_level_psia", "psia") if "sea_level_psia" in case else air.STANDARD_ATMOSPHERE_PA
    return {"baro_psia": from_si(air.station_pressure_pa(si(case, "elevation_ft", "ft"), sea_level), "psia")}
