"""What hot water needs: heaters at peak flow, gas as a rate at start and end and as a stock, and what joins them."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

from readiness.rating import capacity
from readiness.rating.capacity import CLOSE, Supply
from readiness.rating.plan import Ask, Means, Want, adding
from shared.formulas import heat, manifold, propane
from shared.units import to_si

MOST_CYLINDERS: Final = 12  # each in two states is 2**12 combinations; further ones are spares, the fullest are used


def heat_wants(means: Means, ask: Ask) -> tuple[Want, ...]:
    """Return what heaters, mixing valves and gas must give for the lanes and the temperature asked.

    Nothing is needed where the supply is as warm as the showers, hose loss counted.
    """
    rise_k = max(0.0, ask.head_k - ask.mission.supply_k + means.facts.hose_loss_k)
    if ask.peak_m3_s <= 0.0 or rise_k <= 0.0 or not ask.lanes:
        return ()
    need_w = heat.heat_output_w(ask.peak_m3_s, rise_k)
    wants = [_heaters(means, ask, need_w)] if means.is_recorded("heater") else []
    in_use = heaters_in_use(means, need_w)
    if means.is_recorded("mixing_valve"):
        # Each heater's water is tempered before a head.
        valves = max(1, len(in_use))
        wants.append(
            adding(
                "mixing valve",
                valves,
                "count",
                means.supplies("mixing_valve", capacity.counted),
                kind="mixing_valve",
                basis=_why_mixed(in_use),
            )
        )
    if means.is_recorded("regulator"):
        wants.append(
            adding("regulator set", 1, "count", means.supplies("regulator", capacity.counted), kind="regulator")
        )
    if means.is_recorded("propane"):
        wants += _gas(means, ask, need_w, need_w * fuel_per_output(in_use))
    return tuple(wants)


def _why_mixed(in_use: Sequence[Supply]) -> str:
    """Say why no head may hang on the hottest setting recorded; nothing where none is recorded, or it may."""
    recorded = (capacity.number(row.standing.item, "set_degF") for row in in_use)
    hottest = max((set_f for set_f in recorded if set_f is not None and 32 <= set_f <= 212), default=None)
    if hottest is None:
        return ""
    found = heat.head_connection(to_si(hottest, "degF"))
    return "" if found.direct else found.why


def heaters_in_use(means: Means, need_w: float) -> tuple[Supply, ...]:
    """Return the fewest heaters that give so much, strongest first; all of them where they do not."""
    rows = sorted((row for row in means.supplies("heater", capacity.heater) if row.each > 0), key=lambda row: -row.each)
    used, given = [], 0.0
    for row in rows:
        for _ in range(row.units):
            if given >= need_w * CLOSE:
                break
            used.append(row)
            given += row.each
    return tuple(used)


def fuel_per_output(in_use: Sequence[Supply]) -> float:
    """Return watts of fuel for a watt of hot water, by the efficiency of the heaters in use."""
    given = sum(row.each for row in in_use)
    if given <= 0:
        return 1.0 / capacity.HEATER_EFFICIENCY
    return sum(row.each / capacity.heater_efficiency(row.standing.item)[0] for row in in_use) / given


def _heaters(means: Means, ask: Ask, need_w: float) -> Want:
    rows = means.supplies("heater", capacity.heater)
    have = sum(row.total for row in rows)
    measured = all(capacity.heater_efficiency(row.standing.item)[1] and not row.claimed for row in rows)
    return Want(
        "",
        need_w,
        have,
        "BTU/h",
        rows,
        kind="heater",
        basis="" if measured else "; ".join(dict.fromkeys(row.basis for row in rows)),
        head_k=head_reached_k(means, ask, have),
    )


def head_reached_k(means: Means, ask: Ask, output_w: float) -> float:
    """Return what the heads run at with all lanes on so much heat; never above what is wanted. [K]"""
    if not ask.lanes:
        return ask.head_k
    reached = heat.head_temperature_k(output_w, ask.peak_m3_s, ask.mission.supply_k, means.facts.hose_loss_k)
    return float(min(ask.head_k, reached))


# --- gas ---------------------------------------------------------------------------------------------------------


class Gas:
    """Manifolded cylinders under a burn: they start with their own contents and share what is left alike.

    Args:
        nominal_kg: of each cylinder. [kg]
        air_k: air temperature. [K]
        factor: of the regulator, to the chart. [-]
        rate_w: vapour needed while water runs. [W of fuel]
        burn_kg_s: average burn. [kg/s]
        seconds: how long. [s]
    """

    def __init__(
        self,
        nominal_kg: tuple[float, ...],
        air_k: float,
        factor: float,
        rate_w: float,
        burn_kg_s: float,
        seconds: float,
    ) -> None:
        self.nominal_kg, self.air_k, self.factor = nominal_kg, air_k, factor
        self.rate_w, self.burn_kg_s, self.seconds = rate_w, burn_kg_s, seconds

    def rate_at(self, contents_kg: tuple[float, ...], seconds: float) -> float:
        """Vapour of all cylinders after so long; nothing where the gas is gone. [W of fuel]"""
        return manifold.manifold_rate_w(
            contents_kg, self.nominal_kg, self.air_k, self.factor, max(0.0, self.burn_kg_s * seconds)
        )

    def carries(self, contents_kg: tuple[float, ...]) -> bool:
        """Whether these contents give the rate at the start and still at the end, and last."""
        if sum(contents_kg) < self.burn_kg_s * self.seconds * CLOSE:
            return False
        need = self.rate_w * CLOSE
        return self.rate_at(contents_kg, 0.0) >= need and self.rate_at(contents_kg, self.seconds) >= need

    def lasts_s(self, contents_kg: tuple[float, ...]) -> float:
        """Seconds until the rate falls short; no end where nothing is burned. [s]"""
        return manifold.manifold_end(
            contents_kg, self.nominal_kg, self.air_k, self.rate_w * CLOSE, self.burn_kg_s, self.factor
        ).vapour_s


@lru_cache(maxsize=256)
def _regulator(air_k: float, least_inlet_psig: float) -> float:
    return min(1.0, float(propane.regulator_factor(air_k, to_si(least_inlet_psig, "psig"))))


def regulator_basis(means: Means) -> tuple[float, str]:
    """Return (factor to the chart, how it was arrived at): the lower of chart and regulator, 10 psig where unknown."""
    air_k = means.mission.air_k
    rows = means.evidenced.by_kind.get("regulator", ())
    least = [_least_inlet(s.item.spec.get("min_inlet_psig")) for s in rows if s.counts] or [None]
    if any(value is None for value in least):
        return _regulator(air_k, capacity.REGULATOR_PSIG), "regulator least inlet not recorded, 10 psig assumed"
    worst = max(value for value in least if value is not None)
    if worst == 0:
        return 1.0, "chart; regulator least inlet 0 psig"
    return _regulator(air_k, worst), f"regulator least inlet {worst:g} psig"


def _least_inlet(value: object) -> float | None:
    """Return a recorded least inlet pressure; 0 is a record, a blank is none."""
    try:
        found = None if value in (None, "") else float(str(value))
    except ValueError:
        return None
    return found if found is not None and found >= 0 else None


def cylinders(means: Means) -> tuple[Supply, ...]:
    """Return the cylinders that hold gas, one unit each; the fullest, where there are more than can be told apart."""
    found = means.kept.get(("propane, each", 0.0))
    if found is None:
        rows = [row for row in means.supplies("propane", capacity.propane) if row.each > manifold.EMPTY_KG]
        single = [replace(row, units=1) for row in rows for _ in range(row.units)]
        if len(single) > MOST_CYLINDERS:
            single = sorted(single, key=lambda row: (-row.each, row.standing.item.tag))[:MOST_CYLINDERS]
        found = means.kept["propane, each", 0.0] = tuple(single)
    return found


def _gas(means: Means, ask: Ask, output_w: float, fuel_w: float) -> list[Want]:
    rows = cylinders(means)
    contents = tuple(row.each for row in rows)
    factor, basis = regulator_basis(means)
    gas = Gas(
        tuple(capacity.nominal_kg(row.standing.item) for row in rows),
        ask.mission.air_k,
        factor,
        fuel_w,
        propane.burn_kg(fuel_w * ask.wet_share, 1.0),
        ask.seconds,
    )
    start, end = gas.rate_at(contents, 0.0), gas.rate_at(contents, ask.seconds)
    have = start if start < fuel_w * CLOSE else end
    if any(row.claimed for row in rows):
        basis += "; not weighed, taken as full"
    rate = Want(
        "propane rate",
        fuel_w,
        have,
        "BTU/h",
        rows,
        lasting=lambda: gas.lasts_s(contents),
        carries=gas.carries,
        kind="propane",
        basis=basis,
        head_k=head_reached_k(means, ask, have * output_w / fuel_w),
    )
    total, burn = sum(contents), gas.burn_kg_s
    stock = Want(
        "propane",
        burn * ask.seconds,
        total,
        "lb",
        rows,
        lasting=lambda: total / burn if burn > 0 else math.inf,
        links=False,
        kind="propane",
    )
    return [rate, stock]
