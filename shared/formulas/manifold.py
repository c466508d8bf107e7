"""Cylinders on one manifold through a run: their vapour, when it or the fuel gives out, and how many a run takes."""

import math
from bisect import bisect_left
from collections.abc import Sequence
from functools import lru_cache
from typing import Final, Literal, NamedTuple

from shared.formulas import propane
from shared.formulas._ranges import temperature, within

EMPTY_KG: Final = 1e-6
# Halvings of the time to empty: 24 find an hour to a fifth of a millisecond.
_HALVINGS: Final = 24
_MOST_CYLINDERS: Final = 100_000
_ROUNDING: Final = 1e-9


class RunEnd(NamedTuple):
    """When a manifold can no longer feed a draw, and for which reason. [s, kg]"""

    vapour_s: float  # its vapour rate falls under the draw
    fuel_s: float  # the fuel is burned
    stranded_kg: float  # what is left in the cylinders at vapour_s
    binds: Literal["vapour rate", "fuel"]


class CylinderCount(NamedTuple):
    """Like cylinders that a run takes; None where the air is too cold for any number of them."""

    needed: int | None
    for_fuel: int  # if energy alone counted
    at_start: int | None  # if the vapour rate while they are at their fullest alone counted
    binds: Literal["vapour rate", "fuel"]


def manifold_rate_w(
    contents_kg: Sequence[float],
    nominal_kg: Sequence[float],
    t_air_k: float,
    factor: float = 1.0,
    burned_kg: float = 0.0,
) -> float:
    """Vapour that manifolded cylinders give, as fuel power.

    They start with their own contents; once they feed a burner, what is left is taken as equal in those that held gas.

    Args:
        contents_kg: propane in each cylinder at the start, >= 0, shape (n,). [kg]
        nominal_kg: what each holds when full, > 0, shape (n,). [kg]
        t_air_k: temperature of the air, 200 to 400. [K]
        factor: share of the chart that the regulator leaves, 0 to 1, see propane.regulator_factor. [ratio]
        burned_kg: burned of all of them together since the start, >= 0. [kg]

    Returns:
        Sustained rate; nothing where the gas is gone. [W]

    Raises:
        ValueError: an argument is out of range, or the cylinders do not pair.

    Source: sum of propane.vapour_rate_w; equal sharing by common pressure on the manifold.
    """
    _checked(contents_kg, nominal_kg, t_air_k, factor)
    within("burned_kg", burned_kg, 0.0, unit="kg")
    return _rate_w(tuple(contents_kg), tuple(nominal_kg), t_air_k, factor, burned_kg)


def manifold_end(
    contents_kg: Sequence[float],
    nominal_kg: Sequence[float],
    t_air_k: float,
    draw_w: float,
    burn_kg_s: float,
    factor: float = 1.0,
) -> RunEnd:
    """When manifolded cylinders stop feeding a burner: the vapour rate falls under the draw, or the fuel is gone.

    The rate falls with the contents and is nothing at empty, so vapour_s is never the later one; a manifold short at
    the start counts as short, though uneven cylinders may give more once they share. Fuel is said to bind where no more
    than a tenth of the nominal contents is left by then: that much is never counted on.

    Args:
        contents_kg: propane in each cylinder at the start, >= 0, shape (n,). [kg]
        nominal_kg: what each holds when full, > 0, shape (n,). [kg]
        t_air_k: temperature of the air, 200 to 400. [K]
        draw_w: burner input while water runs, > 0. [W]
        burn_kg_s: average burn, lower than the draw where water runs part of the time, >= 0. [kg/s]
        factor: share of the chart that the regulator leaves, 0 to 1. [ratio]

    Returns:
        Both times, math.inf where nothing is burned, and what is left by the first. [s, kg]

    Raises:
        ValueError: an argument is out of range, or the cylinders do not pair.

    Source: manifold_rate_w against the draw, by halving; energy balance.
    """
    _checked(contents_kg, nominal_kg, t_air_k, factor)
    within("draw_w", draw_w, 0.0, unit="W", above=True)
    within("burn_kg_s", burn_kg_s, 0.0, unit="kg/s")
    contents, nominal = tuple(contents_kg), tuple(nominal_kg)
    total = sum(contents)
    fuel_s = total / burn_kg_s if burn_kg_s > 0 else math.inf

    def holds(seconds: float) -> bool:
        return _rate_w(contents, nominal, t_air_k, factor, burn_kg_s * seconds) >= draw_w

    if not holds(0.0):
        vapour_s = 0.0
    elif burn_kg_s <= 0:
        vapour_s = math.inf
    else:
        vapour_s, high = 0.0, fuel_s
        for _ in range(_HALVINGS):
            middle = (vapour_s + high) / 2
            vapour_s, high = (middle, high) if holds(middle) else (vapour_s, middle)
    stranded = total - burn_kg_s * vapour_s if burn_kg_s > 0 else total
    usable = stranded > propane.LAST_SHARE * sum(nominal)
    return RunEnd(vapour_s, fuel_s, stranded, "vapour rate" if usable else "fuel")


def cylinders_needed(
    nominal_kg: float,
    fill_kg: float,
    t_air_k: float,
    draw_w: float,
    burn_kg_s: float,
    run_s: float,
    factor: float = 1.0,
) -> CylinderCount:
    """Least number of like cylinders that feed a burner from the start to the end of a run.

    Args:
        nominal_kg: what each holds when full, > 0. [kg]
        fill_kg: what each holds at the start, above 0 to its nominal. [kg]
        t_air_k: temperature of the air, 200 to 400. [K]
        draw_w: burner input while water runs, > 0. [W]
        burn_kg_s: average burn, > 0. [kg/s]
        run_s: length of the run, > 0. [s]
        factor: share of the chart that the regulator leaves, 0 to 1. [ratio]

    Returns:
        The count, what either reason alone would take, and which binds; None where no number is enough. [cylinders]

    Raises:
        ValueError: an argument is out of range.

    Source: manifold_rate_w at the start and at the end of the run, and energy balance.
    """
    within("nominal_kg", nominal_kg, 0.0, unit="kg", above=True)
    within("fill_kg", fill_kg, 0.0, nominal_kg, unit="kg", above=True)
    _checked((fill_kg,), (nominal_kg,), t_air_k, factor)
    within("draw_w", draw_w, 0.0, unit="W", above=True)
    within("burn_kg_s", burn_kg_s, 0.0, unit="kg/s", above=True)
    within("run_s", run_s, 0.0, unit="s", above=True)
    for_fuel = math.ceil(burn_kg_s * run_s / fill_kg - _ROUNDING)
    each_w = factor * _cylinder_w(fill_kg, t_air_k, nominal_kg)
    if each_w * _MOST_CYLINDERS < draw_w or for_fuel > _MOST_CYLINDERS:
        return CylinderCount(None, for_fuel, None, "vapour rate" if for_fuel <= _MOST_CYLINDERS else "fuel")
    at_start = math.ceil(draw_w / each_w - _ROUNDING)

    def carries(count: int) -> bool:
        left = fill_kg - burn_kg_s * run_s / count
        at_end = count * factor * _cylinder_w(left, t_air_k, nominal_kg) if left >= 0 else 0.0
        return at_end >= draw_w * (1.0 - _ROUNDING)

    least = max(for_fuel, at_start)
    counts = range(least, 2 * _MOST_CYLINDERS)
    count = counts[bisect_left(counts, True, key=carries)]
    return CylinderCount(count, for_fuel, at_start, "vapour rate" if count > for_fuel else "fuel")


def _checked(contents_kg: Sequence[float], nominal_kg: Sequence[float], t_air_k: float, factor: float) -> None:
    if len(contents_kg) != len(nominal_kg):
        raise ValueError(
            f"contents_kg and nominal_kg must hold one value for each cylinder, got {len(contents_kg)} and "
            f"{len(nominal_kg)}"
        )
    # The rating asks this for every combination of cylinders: one look at all of them, and each only to name the wrong.
    if not (
        contents_kg and min(contents_kg) >= 0 < min(nominal_kg) and math.isfinite(sum(contents_kg, sum(nominal_kg)))
    ):
        for kg, nominal in zip(contents_kg, nominal_kg, strict=True):
            within("contents_kg", kg, 0.0, unit="kg")
            within("nominal_kg", nominal, 0.0, unit="kg", above=True)
    temperature("t_air_k", t_air_k)
    within("factor", factor, 0.0, 1.0, unit="ratio")


def _rate_w(
    contents_kg: tuple[float, ...], nominal_kg: tuple[float, ...], t_air_k: float, factor: float, burned_kg: float
) -> float:
    pairs = [(n, kg) for n, kg in zip(nominal_kg, contents_kg, strict=True) if kg > EMPTY_KG]
    if burned_kg <= 0:
        return factor * sum(_cylinder_w(kg, t_air_k, n) for n, kg in pairs)
    left = (sum(contents_kg) - burned_kg) / len(pairs) if pairs else -1.0
    return factor * sum(_cylinder_w(left, t_air_k, n) for n, _ in pairs) if left >= 0 else 0.0


@lru_cache(maxsize=8192)
def _cylinder_w(contents_kg: float, t_air_k: float, nominal_kg: float) -> float:
    return float(propane.vapour_rate_w(contents_kg, t_air_k, nominal_kg))
