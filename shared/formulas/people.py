"""People through lanes: one person to a lane, wet time and hand-over in turn."""

import math

from shared.formulas._ranges import Value, within


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


def throughput_per_hour(lanes: Value, cycle_min: Value | float) -> Value:
    """People per hour that lanes wash at steady state, one person to a lane.

    Args:
        lanes: lanes in use, scalar or shape (n,), >= 0. [-]
        cycle_min: minutes wet and hand-over together, > 0. [min]

    Returns:
        Steady rate. [1/h]

    Raises:
        ValueError: an argument is out of range.

    Source: Little's law, L = lambda W, with every lane always full.
    """
    within("lanes", lanes, 0.0, unit="lanes")
    within("cycle_min", cycle_min, 0.0, unit="min", above=True)
    return 60.0 * lanes / cycle_min


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
