"""What electric power needs: running watts and the largest start, cords and GFCIs, and fuel for the hours."""

import math
from typing import Final

from readiness.rating import capacity
from readiness.rating.facts import Item
from readiness.rating.plan import Ask, Means, Want, adding
from shared.units import from_si, to_si

START_EXTRA: Final = 2.0  # a motor starts at 2 to 4 times its running power, common practice: twice more on top
BURN_GAL_H: Final = 0.75  # 5 kW gasoline set at half load, common practice; assumed where the plate does not say
MAINS_VOLTS: Final = 60.0  # an igniter above this is plugged in, one below runs on the battery
IGNITER_W: Final = 20.0  # fan and igniter of one plugged-in heater; common practice


def power_wants(means: Means, ask: Ask, strips: float) -> tuple[Want, ...]:
    """Return what the generators must give, and the fuel, for what the lanes have plugged in."""
    wants = []
    if means.is_recorded("generator"):
        wants.append(
            adding(
                "",
                load_w(means, ask.lanes, strips),
                "W",
                means.supplies("generator", capacity.generator),
                kind="generator",
            )
        )
    if means.is_recorded("fuel_can") or _tank_m3(means) > 0:
        wants.append(_fuel(means, ask))
    return tuple(wants)


def load_w(means: Means, lanes: int, strips: float) -> float:
    """Return the watts that run at once, with the start of the biggest motor on top. [W]

    One inflator runs; a pump a lane; the strips that light the path; igniters of plugged-in heaters.
    """
    working = {k: [s.item for s in means.evidenced.by_kind.get(k, ()) if s.counts] for k in ("inflator", "pump")}
    inflator = max((capacity.inflator_w(i) for i in working["inflator"]), default=0.0)
    pumps = sorted((capacity.pump_w(i) for i in working["pump"] for _ in range(i.quantity)), reverse=True)
    motors = [inflator, *pumps[: max(0, lanes)]]
    lights = strips * max((capacity.strip_w(i) for i in _items(means, "light_strip")), default=0.0)
    igniters = sum(
        IGNITER_W for item in _items(means, "heater") if (capacity.number(item, "volts") or 0.0) > MAINS_VOLTS
    )
    return sum(motors) + START_EXTRA * max(motors) + lights + igniters


def burn_m3_s(means: Means) -> tuple[float, bool]:
    """Return (fuel burned by one generator, whether assumed): its plate's full-load figure taken whole. [m3/s]"""
    plates = [capacity.number(item, "gph_full") for item in _items(means, "generator")]
    known = [p for p in plates if p is not None]
    return to_si(max(known, default=BURN_GAL_H), "gal/h"), not known


def _items(means: Means, kind: str) -> list[Item]:
    return [s.item for s in means.evidenced.by_kind.get(kind, ()) if s.counts]


def _tank_m3(means: Means) -> float:
    """Return the smallest tank among the generators: whichever of them runs has at least that, taken as full."""
    tanks = [to_si(capacity.number(item, "tank_gal") or 0.0, "gal") for item in _items(means, "generator")]
    return min(tanks, default=0.0)


def _fuel(means: Means, ask: Ask) -> Want:
    burn, assumed = burn_m3_s(means)
    tank = _tank_m3(means)
    cans = means.supplies("fuel_can", capacity.fuel_can)
    want = adding("fuel", burn * ask.seconds, "gal", cans, fixed=tank, kind="fuel_can")
    said = f"{from_si(burn, 'gal/h'):.2f} gal/h{' assumed, half load' if assumed else ', full load'}"
    have = want.have
    return Want(
        "fuel",
        want.need,
        have,
        "gal",
        cans,
        fixed=tank,
        lasting=lambda: have / burn if burn > 0 else math.inf,
        kind="fuel_can",
        basis=f"{said}; cans and tank taken as full",
    )
