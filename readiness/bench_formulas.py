"""What ``manage.py bench`` says of the formulas: each of a rating beside bare NumPy, and their share of a rating.

The bare expressions are written out here as somebody would who wants nothing but speed: the same range checks, the same
answer, no name and no message. What a formula takes beyond that is the price of those.
"""

import cProfile
import math
import pstats
from collections.abc import Callable
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from readiness.rating.facts import Facts
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from shared.formulas import electric, heat, hydraulics, people, propane, reliability
from shared.units import to_si

ELEMENTS: Final = 100_000
MOST: Final = 1.5  # times the bare expression
Array = NDArray[np.float64]


class Pair(NamedTuple):
    """One formula and its bare expression over the same arrays; both give the same."""

    name: str
    ours: Callable[[], Any]
    bare: Callable[[], Any]


def _check(value: Any, low: float = -math.inf, high: float = math.inf, *, above: bool = False) -> None:
    if not np.all(np.isfinite(value) & (value > low if above else value >= low) & (value <= high)):
        raise ValueError("out of range")


def pairs(elements: int = ELEMENTS) -> list[Pair]:
    """Return the formulas of a rating that take arrays, over arrays of so many elements."""
    rng = np.random.default_rng(1)

    def spread(low: float, high: float) -> Array:
        return rng.uniform(low, high, elements)

    flow, rise, air = spread(1e-5, 1e-3), spread(1.0, 60.0), spread(250.0, 300.0)
    output, supply, loss = spread(1e3, 1e5), spread(275.0, 295.0), spread(0.0, 5.0)
    minutes, handover, lanes = spread(1.0, 10.0), spread(0.0, 5.0), spread(0.0, 8.0)
    seconds, kilograms, pressure = spread(60.0, 1e5), spread(0.0, to_si(100.0, "lb")), spread(1e5, 9e5)
    height, hourly, hours = spread(-5.0, 10.0), spread(1e-6, 1e-3), spread(0.0, 1e4)
    chances = rng.uniform(0.0, 1.0, (10, elements // 10))
    bore, length, nominal = to_si(0.625, "in"), to_si(50.0, "ft"), to_si(100.0, "lb")
    return [
        Pair("heat.heat_output_w", lambda: heat.heat_output_w(flow, rise), lambda: _heat_output(flow, rise)),
        Pair(
            "heat.head_temperature_k",
            lambda: heat.head_temperature_k(output, flow, supply, loss),
            lambda: _head_temperature(output, flow, supply, loss),
        ),
        Pair(
            "hydraulics.hazen_williams_pa",
            lambda: hydraulics.hazen_williams_pa(flow, bore, length),
            lambda: _hazen_williams(flow, bore, length, 140.0),
        ),
        Pair(
            "hydraulics.elevation_pa",
            lambda: hydraulics.elevation_pa(height),
            lambda: _elevation(height, hydraulics.WATER_KG_M3),
        ),
        Pair("people.cycle_min", lambda: people.cycle_min(minutes, handover), lambda: _cycle(minutes, handover)),
        Pair(
            "people.throughput_per_hour",
            lambda: people.throughput_per_hour(lanes, minutes),
            lambda: _throughput(lanes, minutes),
        ),
        Pair("propane.burn_kg", lambda: propane.burn_kg(output, seconds), lambda: _burn(output, seconds)),
        Pair(
            "propane.vapour_rate_w",
            lambda: propane.vapour_rate_w(kilograms, air, nominal),
            lambda: _vapour_rate(kilograms, air, nominal),
        ),
        Pair(
            "propane.saturation_temperature_k",
            lambda: propane.saturation_temperature_k(pressure),
            lambda: _saturation_temperature(pressure),
        ),
        Pair(
            "electric.cold_capacity_factor",
            lambda: electric.cold_capacity_factor(air, "flooded"),
            lambda: _cold_capacity(air),
        ),
        Pair(
            "reliability.mode_absent",
            lambda: reliability.mode_absent(hourly, hours, 0.1),
            lambda: _absent(hourly, hours),
        ),
        Pair(
            "reliability.common_cause_probability",
            lambda: reliability.common_cause_probability(chances, np.ones(10), 0.1),
            lambda: _common_cause(chances, np.ones(10), 0.1),
        ),
    ]


def formula_share(facts: Facts) -> float:
    """Return which share of one rating's time is spent inside the formulas, as a profiler counts it."""
    mission = Mission.from_json(dict(facts.rated_mission))
    rate(facts, mission)  # what is computed once a process is not counted
    profile = cProfile.Profile()
    profile.runcall(rate, facts, mission)
    stats = pstats.Stats(profile).stats  # type: ignore[attr-defined]

    def is_formula(place: tuple[str, int, str]) -> bool:
        return "/shared/formulas/" in place[0].replace("\\", "/")

    inside = sum(
        called[3]
        for place, (_, _, _, _, callers) in stats.items()
        if is_formula(place)
        for caller, called in callers.items()
        if not is_formula(caller)
    )
    return inside / sum(own for _, _, own, _, _ in stats.values())


def _heat_output(flow: Array, rise: Array) -> Array:
    _check(flow, 0.0, above=True)
    _check(rise, 0.0)
    return heat.HEAT_PER_VOLUME * flow * rise


def _head_temperature(output: Array, flow: Array, supply: Array, loss: Array) -> Array:
    _check(output, 0.0)
    _check(flow, 0.0, above=True)
    _check(supply, 200.0, 400.0)
    _check(loss, 0.0)
    return output / (heat.HEAT_PER_VOLUME * flow) + supply - loss


def _hazen_williams(flow: Array, bore: float, length: float, c: float) -> Array:
    _check(flow, 0.0)
    scale = 4.52 * to_si(1.0, "psi") / to_si(1.0, "ft") / (c**1.85 * (bore / to_si(1.0, "in")) ** 4.87)
    return scale * length * (flow / to_si(1.0, "gpm")) ** 1.85


def _elevation(height: Array, density: float) -> Array:
    _check(height)
    return height * (density * hydraulics.GRAVITY_M_S2)


def _cycle(minutes: Array, handover: Array) -> Array:
    _check(minutes, 0.0, above=True)
    _check(handover, 0.0)
    return minutes + handover


def _throughput(lanes: Array, minutes: Array) -> Array:
    _check(lanes, 0.0)
    _check(minutes, 0.0, above=True)
    return 60.0 * lanes / minutes


def _burn(output: Array, seconds: Array) -> Array:
    _check(output, 0.0)
    _check(seconds, 0.0)
    return output * seconds / propane.HEATING_VALUE_J_KG


def _vapour_rate(contents: Array, air: Array, nominal: float) -> Array:
    _check(contents, 0.0)
    _check(air, 200.0, 400.0)
    rows, columns, chart = propane._CHART_KG, propane._CHART_K, propane._CHART_W
    capped = np.minimum(contents, nominal)
    held, warm = np.maximum(capped, 0.1 * nominal), np.minimum(air, columns[-1])
    on_chart = np.maximum(warm, columns[0])
    row = np.clip(np.searchsorted(rows, held, side="right") - 1, 0, rows.size - 2)
    column = np.clip(np.searchsorted(columns, on_chart, side="right") - 1, 0, columns.size - 2)
    down = (held - rows[row]) / (rows[row + 1] - rows[row])
    across = (on_chart - columns[column]) / (columns[column + 1] - columns[column])
    less = chart[row, column] * (1 - across) + chart[row, column + 1] * across
    more = chart[row + 1, column] * (1 - across) + chart[row + 1, column + 1] * across
    cold = np.clip((warm - propane._CHART_BOILING_K) / (columns[0] - propane._CHART_BOILING_K), 0.0, 1.0)
    return (less * (1 - down) + more * down) * cold * (capped / held)


def _saturation_temperature(pressure: Array) -> Array:
    low, high = propane._SATURATION_LOW_K, propane._SATURATION_HIGH_K
    _check(pressure, propane._SATURATION_LOW_PA, propane._SATURATION_HIGH_PA)
    wanted = np.log(pressure / propane._CRITICAL_PA)
    share = (wanted - propane._LOG_LOW) / (propane._LOG_HIGH - propane._LOG_LOW)
    t = 1.0 / (1.0 / low + share * (1.0 / high - 1.0 / low))
    for _ in range(20):
        left = 1.0 - t / propane._CRITICAL_K
        log = propane._CRITICAL_K / t * sum(n * left**power for n, power in propane._PSAT_TERMS)
        slope = -(log + sum(n * power * left ** (power - 1.0) for n, power in propane._PSAT_TERMS)) / t
        step = (log - wanted) / slope
        t = t - step
        if np.max(np.abs(step)) < 1e-9:
            break
    return t


def _cold_capacity(air: Array) -> Array:
    _check(air, 200.0, 400.0)
    at, factor = electric.COLD_FACTORS["flooded"]
    slope = (1 / factor[1] - 1 / factor[0]) / (at[1] - at[0])
    return np.clip(1 / np.interp(air, at, factor) + np.minimum(air - at[0], 0.0) * slope, 0.0, 1.0)


def _absent(hourly: Array, hours: Array) -> Array:
    _check(hourly, 0.0)
    _check(hours, 0.0)
    return (1.0 - 0.1) * np.exp(-hourly * hours)


def _common_cause(chances: Array, units: Array, beta: float) -> Array:
    _check(chances, 0.0, 1.0)
    _check(units, 0.0, above=True)
    return np.minimum(beta / units.sum() * (units @ chances), chances.min(axis=0))
