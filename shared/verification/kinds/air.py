"""Check values of air in beams and cylinders."""

import math

from shared.formulas import air
from shared.units import from_si
from shared.verification.registry import Case, kind, si


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


@kind(air.air_lost, air.corrected_loss_pa, air.leak_standard_m3_s)
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
        "leak_rate_psi_per_h": from_si(loss, "psi") / case["elapsed_h"],
        "leak_scfh": from_si(leak, "ft3") * 3600,
    }


@kind(air.time_to_pressure_s)
def time_to_limit(case: Case) -> Case:
    found = air.time_to_pressure_s(
        si(case, "p0_psig", "psig"),
        si(case, "p1_psig", "psig"),
        si(case, "elapsed_h", "h"),
        si(case, "p_limit_psig", "psig"),
    )
    return {"hours_linear": from_si(found.linear_s, "h"), "hours_exponential": from_si(found.exponential_s, "h")}


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
        "min_detectable_psi_per_h": both / case["elapsed_h"],
    }


@kind(air.free_air_m3)
def inflate_time(case: Case) -> Case:
    volume = si(case, "volume_ft3", "ft3")
    free = air.free_air_m3(volume, si(case, "p_psig", "psig"), si(case, "baro_psia", "psia"))
    return {"minutes": from_si(free, "ft3") / case["free_air_cfm"]}
