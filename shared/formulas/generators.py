"""Generators and the cords behind them: running and starting load, fuel for the hours and its age, volts lost."""

import math
from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np

from shared.formulas._ranges import Value, temperature, within
from shared.formulas.dates import months_between

# A motor without a nameplate figure for its start: a public utility's guide takes three times its running watts, and
# says that some want five or six (read). Pumps and blowers 2 to 4 (from memory).
START_FACTOR: Final = 3.0


class Load(NamedTuple):
    """One thing plugged in: what it draws running, and for a moment as it starts."""

    name: str
    running_w: float
    starting_w: float


class LoadSum(NamedTuple):
    """What a set must give: steadily, and for a moment by the way in which its loads are started."""

    running_w: float
    # One after another in the order given here, the largest extra for its start first.
    peak_w: float
    order: tuple[str, ...]
    # One after another in the worst order there is: the usual rule, all that runs and the largest extra.
    any_order_w: float
    # All at one moment, as when the set is switched on with everything plugged in.
    together_w: float


class Burn(NamedTuple):
    """Fuel that a set burns; held where its load is lighter than its table, and the lightest row stands for it."""

    m3_s: float
    held: bool


class FuelLife(NamedTuple):
    """Months after which a stored fuel is doubtful, and after which it is not used; None where it does not age."""

    caution_months: int | None
    stop_months: int | None
    source: str


class FuelAge(NamedTuple):
    """Age of a fuel, and what follows: "fit", "caution" or "stop"."""

    months: float
    state: str
    source: str


# Stabilised gasoline and diesel turn where the catalogue's limits do (6 and 12 months, 12 and 18), which decide a check
# and are written for treated fuel. Untreated gasoline turns sooner here than they say; nothing here judges a check.
_TRADE: Final = "trade guides, 3 to 6 months untreated and about 12 stabilised (read); no government figure was found"
FUEL_LIVES: Final[Mapping[str, FuelLife]] = MappingProxyType(
    {
        "gasoline": FuelLife(3, 6, _TRADE),
        "stabilised gasoline": FuelLife(6, 12, _TRADE),
        "diesel": FuelLife(
            12, 18, "trade guides, 6 to 12 months kept clean and dry (read); 18 is policy, after a test"
        ),
        "propane": FuelLife(
            None, None, "propane does not degrade in its cylinder (read); the cylinder's dates do count"
        ),
    }
)

# Annealed copper of the international standard: 1/58 ohm mm2/m at 20 degC and 0.00393 per kelvin.
_COPPER_OHM_M: Final = 1 / 58e6
_COPPER_PER_K: Final = 0.00393
_COPPER_AT_K: Final = 293.15
# Strands lie along a helix, so that the wire is longer than its cord: 2 %, as the NEC's conductor table has between its
# solid and its stranded column (from memory; 0.491 over 0.481 for 6 AWG).
STRANDED: Final = 1.02


def starting_load_w(running_w: Value, factor: float = START_FACTOR) -> Value:
    """Watts that a motor asks for as it starts, where its nameplate does not say.

    Args:
        running_w: what it draws running, scalar or shape (n,), >= 0. [W]
        factor: starting over running, 1 to 8: 1 for heat and light, 3 for a motor, up to 6 for a hard start. [ratio]

    Returns:
        Starting load. [W]

    Raises:
        ValueError: an argument is out of range.

    Source: a public utility's guide to the size of a generator (read): three times the running watts.
    """
    within("running_w", running_w, 0.0, unit="W")
    within("factor", factor, 1.0, 8.0, unit="ratio")
    return running_w * factor


def load_sum(loads: Sequence[Load]) -> LoadSum:
    """Running load, and the peak by the way in which the loads are started.

    The peak is a check of its own: energy goes by the running load alone.

    Args:
        loads: at least one, each with running_w >= 0 and starting_w at least that. [W]

    Returns:
        Running load; peak and order where the largest extra starts first, which no other order betters; peak of the
        worst order; all at one moment. [W]

    Raises:
        ValueError: there are no loads, or one of them is out of range.

    Source: sums; the order by an exchange of neighbours (derivation in DEVELOPERS.md, "Order of starting").
    """
    if not loads:
        raise ValueError(f"loads must hold at least one load, got {loads!r}")
    for load in loads:
        within(f"running_w of {load.name}", load.running_w, 0.0, unit="W")
        within(f"starting_w of {load.name}", load.starting_w, load.running_w, unit="W")
    running = math.fsum(load.running_w for load in loads)
    order = sorted(loads, key=lambda load: load.running_w - load.starting_w)
    before, peak = 0.0, 0.0
    for load in order:
        peak = max(peak, before + load.starting_w)
        before += load.running_w
    extra = max(load.starting_w - load.running_w for load in loads)
    together = math.fsum(load.starting_w for load in loads)
    return LoadSum(running, max(peak, running), tuple(load.name for load in order), running + extra, together)


def carries(load: LoadSum, rated_w: float, surge_w: float) -> tuple[bool, bool, bool]:
    """Whether a set carries a load steadily, started in the best order, and started in any order.

    Args:
        load: see load_sum. [W]
        rated_w: what the set gives hour after hour, > 0. [W]
        surge_w: what it gives for a moment, at least rated_w; rated_w where its plate does not say. [W]

    Returns:
        Steadily, in the best order, in any order. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: comparison of running with rated and of peak with surge watts.
    """
    within("rated_w", rated_w, 0.0, unit="W", above=True)
    within("surge_w", surge_w, rated_w, unit="W")
    steady = load.running_w <= rated_w
    return steady, steady and load.peak_w <= surge_w, steady and load.any_order_w <= surge_w


def fuel_burn(load_ratio: float, burn_table: Sequence[tuple[float, float]]) -> Burn:
    """Fuel that a set burns at a load, from its nameplate's table.

    Under the lightest load of the table it is taken to burn what it burns there: idling is never credited.

    Args:
        load_ratio: load over rated output, > 0 and at most the table's heaviest load. [ratio]
        burn_table: (load over rated output [ratio], fuel burned [m3/s]) with loads rising, at least one row. [-]

    Returns:
        Fuel flow, and whether the lightest row stood for a lighter load. [m3/s]

    Raises:
        ValueError: an argument is out of range, or the table's loads do not rise.

    Source: straight lines in the nameplate's fuel table.
    """
    loads, burns = [row[0] for row in burn_table], [row[1] for row in burn_table]
    if not loads or any(later <= earlier for earlier, later in zip(loads, loads[1:], strict=False)):
        raise ValueError(f"burn_table must have at least one row and rising loads, got {burn_table!r}")
    for burn in burns:
        within("burn_table fuel", burn, 0.0, unit="m3/s", above=True)
    within("load_ratio", load_ratio, 0.0, loads[-1], unit="ratio", above=True)
    return Burn(float(np.interp(load_ratio, loads, burns)), load_ratio < loads[0])


def fuel_hours(
    fuel_m3: float,
    load_ratio: float,
    burn_table: Sequence[tuple[float, float]],
    reserve: float = 0.0,
) -> float:
    """Hours that a tank runs a generator at a steady load.

    Under the lightest load of its table a set is taken to burn what it burns there, see fuel_burn.

    Args:
        fuel_m3: fuel aboard, >= 0. [m3]
        load_ratio: load over rated output, > 0 and at most the table's heaviest load. [ratio]
        burn_table: (load over rated output [ratio], fuel burned [m3/s]) with loads rising, at least one row. [-]
        reserve: share of the fuel not to be counted on, 0 to 1. [ratio]

    Returns:
        Running time. [h]

    Raises:
        ValueError: an argument is out of range, or the table's loads do not rise.

    Source: straight lines in the nameplate's fuel table.
    """
    within("fuel_m3", fuel_m3, 0.0, unit="m3")
    within("reserve", reserve, 0.0, 1.0, unit="ratio")
    burned = fuel_burn(load_ratio, burn_table).m3_s
    return fuel_m3 * (1.0 - reserve) / burned / 3600.0


def burn_from_efficiency_m3_s(load_w: Value, efficiency: float, heating_value_j_m3: float) -> Value:
    """Fuel that a generator burns at a load, where only its efficiency is known.

    Args:
        load_w: electric load, scalar or shape (n,), >= 0. [W]
        efficiency: electricity over heat in the fuel, 0 to 1; small gasoline sets 0.15 to 0.22. [ratio]
        heating_value_j_m3: of the fuel, on the basis of the efficiency, > 0. [J/m3]

    Returns:
        Fuel flow. [m3/s]

    Raises:
        ValueError: an argument is out of range.

    Source: energy balance.
    """
    within("load_w", load_w, 0.0, unit="W")
    within("efficiency", efficiency, 0.0, 1.0, unit="ratio", above=True)
    within("heating_value_j_m3", heating_value_j_m3, 0.0, unit="J/m3", above=True)
    return load_w / (efficiency * heating_value_j_m3)


def fuel_age(fuel: str, bought_on: date, on: date) -> FuelAge:
    """Age of a stored fuel in calendar months, and whether it is still to be trusted.

    Args:
        fuel: gasoline, stabilised gasoline, diesel or propane, in any case; unless it is known to be stabilised,
            gasoline is not. [-]
        bought_on: day on which it was bought. [date]
        on: day to be judged, not before bought_on. [date]

    Returns:
        Months; "stop" past the last month, "caution" past the first one, else "fit"; the source. [month]

    Raises:
        ValueError: no life is known for the fuel, or on is before bought_on.

    Source: FUEL_LIVES, each with its own; the department's limits and the maker's manual come first.
    """
    life = FUEL_LIVES.get(" ".join(fuel.lower().split()))
    if life is None:
        raise ValueError(f"fuel must be one of {', '.join(FUEL_LIVES)}, got {fuel!r}")
    if on < bought_on:
        raise ValueError(f"on must not be before bought_on, got {on} and {bought_on}")
    months = months_between(bought_on, on)
    if life.stop_months is not None and months > life.stop_months:
        return FuelAge(months, "stop", life.source)
    late = life.caution_months is not None and months > life.caution_months
    return FuelAge(months, "caution" if late else "fit", life.source)


def wire_diameter_m(gauge: int) -> float:
    """Diameter of a wire of the American wire gauge.

    Args:
        gauge: -3 to 40; 0 is 1/0, -1 is 2/0, -2 is 3/0, -3 is 4/0. [-]

    Returns:
        Diameter of the solid wire, or of one solid wire of the strands' copper. [m]

    Raises:
        ValueError: gauge is out of range, or is no whole number.

    Source: ASTM B258, 0.46 in at 4/0 and 0.005 in at 36 with 39 equal ratios between (read in NBS Handbook 100).
    """
    within("gauge", gauge, -3, 40, unit="AWG")
    if gauge != int(gauge):
        raise ValueError(f"gauge must be a whole number from -3 to 40 AWG, got {gauge!r}")
    return float(0.000127 * 92.0 ** ((36 - gauge) / 39))


def wire_ohm_m(gauge: int, t_k: Value, lay: float = STRANDED) -> Value:
    """Resistance of a copper wire, one way, for each metre.

    Args:
        gauge: American wire gauge, see wire_diameter_m. [-]
        t_k: temperature of the copper, scalar or shape (n,), 200 to 400; a loaded cord is warmer than the air. [K]
        lay: length of the strands over that of the cord, 1 to 1.1; 1 is a solid wire. [ratio]

    Returns:
        Resistance. [ohm/m]

    Raises:
        ValueError: an argument is out of range.

    Source: International Annealed Copper Standard, 1/58 ohm mm2/m at 20 degC and 0.00393/K (NBS Handbook 100).
    """
    temperature("t_k", t_k)
    within("lay", lay, 1.0, 1.1, unit="ratio")
    cross_m2 = math.pi / 4 * wire_diameter_m(gauge) ** 2
    return (t_k - _COPPER_AT_K) * (_COPPER_PER_K * _COPPER_OHM_M * lay / cross_m2) + _COPPER_OHM_M * lay / cross_m2


def cord_drop_v(current_a: Value, gauge: int, length_m: float, t_k: float, lay: float = STRANDED) -> Value:
    """Volts lost in a two-wire cord, there and back.

    For a motor's start take its starting current: a pump that cannot start at the end of a cord is lost here.

    Args:
        current_a: drawn, scalar or shape (n,), >= 0. [A]
        gauge: American wire gauge of the cord, see wire_diameter_m. [-]
        length_m: of the cord, one way, >= 0. [m]
        t_k: temperature of the copper, 200 to 400. [K]
        lay: see wire_ohm_m. [ratio]

    Returns:
        Drop. [V]

    Raises:
        ValueError: an argument is out of range.

    Source: Ohm's law over both wires. Plugs and joints come on top; reactance is small up to 6 AWG (from memory).
    """
    within("current_a", current_a, 0.0, unit="A")
    within("length_m", length_m, 0.0, unit="m")
    return current_a * (2.0 * length_m * wire_ohm_m(gauge, t_k, lay))
