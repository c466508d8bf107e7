"""People through lanes: wet time and hand-over in turn, and which of the means ends it first."""

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from shared.formulas._ranges import Value, shaped, within
from shared.formulas.heat import HEAT_PER_VOLUME


class Binding(NamedTuple):
    """What holds a line back first, at how many people, and what would hold it back next (none where alone)."""

    by: str
    people: float
    next_by: str | None
    next_people: float


def cycle_min(wet_min: Value, handover_min: Value | float) -> Value:
    """Minutes from one person's start in a lane to the next one's.

    Args:
        wet_min: minutes under water, a local medical setting, scalar or shape (n,), > 0. [min]
        handover_min: minutes between one person and the next, >= 0. [min]

    Returns:
        The cycle. [min]

    Raises:
        ValueError: an argument is out of range.

    Source: one person to a lane, wet and hand-over one after the other; by definition.
    """
    within("wet_min", wet_min, 0.0, unit="min", above=True)
    within("handover_min", handover_min, 0.0, unit="min")
    return wet_min + handover_min


def throughput_per_hour(lanes: Value, cycle_min: Value | float, positions: float = 1.0) -> Value:
    """People per hour that lanes wash at steady state.

    Args:
        lanes: lanes in use, scalar or shape (n,), >= 0. [-]
        cycle_min: minutes wet and hand-over together, > 0. [min]
        positions: people washed side by side in each lane, > 0. [-]

    Returns:
        Steady rate. [1/h]

    Raises:
        ValueError: an argument is out of range.

    Source: Little's law, L = lambda W, with every lane always full.
    """
    within("lanes", lanes, 0.0, unit="lanes")
    within("cycle_min", cycle_min, 0.0, unit="min", above=True)
    within("positions", positions, 0.0, unit="positions", above=True)
    return 60.0 * positions * lanes / cycle_min


def lanes_for(people_per_hour: float, cycle_min: float) -> int:
    """Fewest whole lanes that wash people at a rate.

    Args:
        people_per_hour: rate asked, >= 0. [1/h]
        cycle_min: minutes wet and hand-over together, > 0. [min]

    Returns:
        Whole lanes, 0 where nobody is asked for. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: throughput_per_hour turned round and rounded up.
    """
    within("people_per_hour", people_per_hour, 0.0, unit="1/h")
    within("cycle_min", cycle_min, 0.0, unit="min", above=True)
    # A rate that is exactly n lanes may come out a rounding error above n; that is not another lane.
    return math.ceil(people_per_hour * cycle_min / 60.0 - 1e-9)


def mean_flow_share(wet_min: Value, handover_min: Value | float) -> Value:
    """Share of the time that a busy lane's water runs: average flow over peak flow.

    Args:
        wet_min: minutes under water, scalar or shape (n,), > 0. [min]
        handover_min: minutes between one person and the next, water off, >= 0. [min]

    Returns:
        Average over peak, 0 to 1. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, wet / (wet + hand-over).
    """
    return wet_min / cycle_min(wet_min, handover_min)


def party_per_hour(walking_share: Value, walking_per_hour: Value | float, carried_per_hour: Value | float) -> Value:
    """People per hour of a party in which some walk and some are carried, each through lanes of their own.

    Args:
        walking_share: share of the party that walks, scalar or shape (n,), 0 to 1. [ratio]
        walking_per_hour: rate of the lanes for those who walk, >= 0. [1/h]
        carried_per_hour: rate of the lanes for those who do not, with its own minutes, >= 0. [1/h]

    Returns:
        Rate of the whole party at which neither stage falls behind. [1/h]

    Raises:
        ValueError: an argument is out of range.

    Source: each stage passes its share, so R = min(walking / s, carried / (1 - s)).
    """
    within("walking_share", walking_share, 0.0, 1.0, unit="(a ratio)")
    within("walking_per_hour", walking_per_hour, 0.0, unit="1/h")
    within("carried_per_hour", carried_per_hour, 0.0, unit="1/h")
    # A stage that nobody goes through holds nobody back.
    share = np.asarray(walking_share, float)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        walking = np.where(share > 0, walking_per_hour / share, math.inf)
        carried = np.where(share < 1, carried_per_hour / (1 - share), math.inf)
    rate: Value = shaped(np.minimum(walking, carried), walking_share, walking_per_hour, carried_per_hour)
    return rate


def mixed_cycle_min(walking_share: Value, walking_min: Value | float, carried_min: Value | float) -> Value:
    """Mean cycle of a lane that takes those who walk and those who are carried as they come.

    Args:
        walking_share: share of the party that walks, scalar or shape (n,), 0 to 1. [ratio]
        walking_min: cycle of one who walks, > 0. [min]
        carried_min: cycle of one who is carried, > 0. [min]

    Returns:
        Mean cycle. [min]

    Raises:
        ValueError: an argument is out of range.

    Source: weighted mean.
    """
    within("walking_share", walking_share, 0.0, 1.0, unit="(a ratio)")
    within("walking_min", walking_min, 0.0, unit="min", above=True)
    within("carried_min", carried_min, 0.0, unit="min", above=True)
    return walking_share * walking_min + (1 - walking_share) * carried_min


def heat_per_person_j(water_m3: Value, rise_k: Value | float) -> Value:
    """Heat that one person's warm water takes.

    Args:
        water_m3: warm water used by each, scalar or shape (n,), >= 0. [m3]
        rise_k: from supply to head, >= 0. [K]

    Returns:
        Heat. [J]

    Raises:
        ValueError: an argument is out of range.

    Source: the trade's 500 rule, as heat.heat_output_w has it.
    """
    within("water_m3", water_m3, 0.0, unit="m3")
    within("rise_k", rise_k, 0.0, unit="K")
    return HEAT_PER_VOLUME * water_m3 * rise_k


def people_served(
    stock: Value,
    per_person: Value | float,
    rate_per_s: Value | float = 0.0,
    over_s: float = 0.0,
) -> Value:
    """People that a stock serves, and what is made or taken away meanwhile.

    Any one unit will do, as long as all are in it: soap in m3, fuel in J, room for waste in m3 with its pump-out.

    Args:
        stock: what there is at the start, scalar or shape (n,), >= 0. [any unit]
        per_person: what each takes, >= 0. [the same unit]
        rate_per_s: what is added to it, >= 0. [the same unit, per s]
        over_s: for how long, >= 0. [s]

    Returns:
        People, not rounded; without end (inf) where nobody takes anything. [-]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, (stock + rate x time) / per person.
    """
    within("stock", stock, 0.0, unit="(any unit)")
    within("per_person", per_person, 0.0, unit="(the unit of stock)")
    within("rate_per_s", rate_per_s, 0.0, unit="(the unit of stock) per s")
    within("over_s", over_s, 0.0, unit="s")
    each = np.asarray(per_person, float)
    taken = np.where(each > 0, each, 1.0)
    people = np.where(each > 0, (stock + np.multiply(rate_per_s, over_s)) / taken, math.inf)
    served: Value = shaped(people, stock, per_person, rate_per_s)
    return served


def binding(people: Mapping[str, float]) -> Binding:
    """Which of the means ends a mission first, and which would next.

    The figures are averages over the whole time: an upper bound, since a rate must also carry the peak in whole lanes.

    Args:
        people: by the name of each of the means, how many it serves in the time, >= 0; the first of equals binds. [-]

    Returns:
        The least, and the next. [people]

    Raises:
        ValueError: there is nothing to compare, or a figure is out of range.

    Source: a chain of stages passes what its narrowest stage passes.
    """
    if not people:
        raise ValueError("people must hold at least one of the means, got none")
    for name, served in people.items():
        if not served >= 0:
            raise ValueError(f"people[{name!r}] must be at least 0, got {served!r}")
    (by, least), *others = sorted(people.items(), key=lambda one: one[1])
    next_by, following = others[0] if others else (None, math.inf)
    return Binding(by, least, next_by, following)


def crew_for(lanes: int, table: Mapping[int, int], each_more: int = 2) -> int:
    """Crew that runs a number of lanes, by a department's own table.

    Args:
        lanes: lanes to be run, >= 0. [-]
        table: crew by number of lanes, at least one entry. [people]
        each_more: crew for each lane beyond the table, >= 0. [people]

    Returns:
        Crew; where the number is not in the table, of the next larger one that is. [people]

    Raises:
        ValueError: an argument is out of range.

    Source: local policy, as data; no standard gives a table.
    """
    within("lanes", lanes, 0, unit="lanes")
    within("each_more", each_more, 0, unit="people")
    if not table:
        raise ValueError("table must hold at least one number of lanes, got none")
    most = max(table)
    if lanes > most:
        return table[most] + each_more * (lanes - most)
    return table[min(listed for listed in table if listed >= lanes)]
