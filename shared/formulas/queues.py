"""People who wait for a lane: random arrivals at steady state, and a burst that comes all at once."""

import math
from typing import NamedTuple

import numpy as np

from shared.formulas._ranges import Value, shaped, whole, within


class NoSteadyState(ValueError):
    """More people come than lanes can take: the queue grows without end and has no mean."""

    def __init__(self, load: float) -> None:
        super().__init__(
            f"arrivals over service must be below 1 (a ratio), got {load:g}: the queue has no steady state; "
            "ask what becomes of a burst (surge) instead"
        )
        self.load = load


class Queue(NamedTuple):
    """A queue at steady state.

    Share of the time that lanes are busy, chance that nobody is there and that one must wait [ratio], mean number
    waiting and there in all [people], mean wait and mean stay [in the unit of time given].
    """

    load: float
    empty: float
    waits: float
    waiting: float
    there: float
    wait: float
    stay: float


class Surge(NamedTuple):
    """What becomes of a burst: longest queue [people], when it is cleared after the first came, and longest wait."""

    longest: float
    cleared: float
    longest_wait: float


def load(arrivals: float, service: float, lanes: int) -> float:
    """Share of the time that lanes are busy at a steady rate of arrivals.

    Args:
        arrivals: people that come, > 0. [1/time]
        service: people that one lane takes, > 0. [1/time]
        lanes: lanes, 1 to 500. [-]

    Returns:
        Load; 1 and more has no steady state. [ratio]

    Raises:
        ValueError: an argument is out of range.

    Source: by definition, lambda / (c mu).
    """
    within("arrivals", arrivals, 0.0, unit="per unit of time", above=True)
    within("service", service, 0.0, unit="per unit of time", above=True)
    return arrivals / (whole("lanes", lanes, 1, 500) * service)


def random_service_queue(arrivals: float, service: float, lanes: int) -> Queue:
    """Queue of people who come at random for lanes whose time varies at random (M/M/c).

    Args:
        arrivals: people that come, > 0. [1/time]
        service: people that one lane takes, > 0. [1/time]
        lanes: lanes, 1 to 500. [-]

    Returns:
        The queue at steady state, times in the unit of the rates. [people, time]

    Raises:
        NoSteadyState: as many come as lanes can take, or more.
        ValueError: an argument is out of range.

    Source: Erlang's second formula (C), by the recursion of his first (B); Little's law.
    """
    busy = load(arrivals, service, lanes)
    if busy >= 1:
        raise NoSteadyState(busy)
    offered = arrivals / service
    # Chance that all lanes are taken where nobody may wait, one lane after the other; its inverse is the sum that
    # normalises the states, so that no factorial is formed.
    blocked, normal, term = 1.0, 1.0, 1.0
    for lane in range(1, int(lanes) + 1):
        blocked = offered * blocked / (lane + offered * blocked)
        term *= offered / lane
        normal += term
    waits = blocked / (1 - busy * (1 - blocked))
    empty = 1 / (normal + term * busy / (1 - busy))
    return _queue(busy, empty, waits, waits * busy / (1 - busy), arrivals, service)


def fixed_service_queue(arrivals: float, service_time: float, lanes: int) -> Queue:
    """Queue of people who come at random for lanes that all take the same time (M/D/c).

    Args:
        arrivals: people that come, > 0. [1/time]
        service_time: of each person, > 0. [time]
        lanes: lanes, 1 to 500. [-]

    Returns:
        The queue at steady state, exact, times in the unit of service_time. [people, time]

    Raises:
        NoSteadyState: as many come as lanes can take, or more.
        ValueError: an argument is out of range.

    Source: Crommelin (1932), from n(t + D) = max(n - c, 0) + Poisson(lambda D); derivation in DEVELOPERS.md, "Queues".
    """
    within("service_time", service_time, 0.0, unit="time", above=True)
    busy = load(arrivals, 1 / service_time, lanes)
    if busy >= 1:
        raise NoSteadyState(busy)
    from scipy.special import lambertw  # here, since most of Holdair never needs it

    turns = np.exp(2j * np.pi * np.arange(1, lanes) / lanes)
    roots = -lambertw(-busy * math.exp(-busy) * turns) / busy
    offered = arrivals * service_time
    spare = lanes - offered
    no_wait = float(spare * np.exp(-np.sum(np.log(1 - roots))).real)
    there = float(np.sum(1 / (1 - roots)).real) + lanes / (2 * spare) - spare / 2
    empty = no_wait * float(np.exp(np.sum(np.log(-roots))).real)
    # At a load of next to nothing rounding may leave a wait a hair below none.
    return _queue(busy, empty, max(1 - no_wait, 0.0), max(there - offered, 0.0), arrivals, 1 / service_time)


def surge(arrivals: Value, duration: Value | float, service: Value | float) -> Surge:
    """What becomes of a burst that comes at a steady rate and is taken at another.

    Args:
        arrivals: people that come, > 0. [1/time]
        duration: for how long they come, > 0. [time]
        service: people that all lanes take together, > 0. [1/time]

    Returns:
        Longest queue, when it is cleared and the longest wait; no queue where lanes keep up. [people, time]

    Raises:
        ValueError: an argument is out of range.

    Source: fluid queue of fixed rates (D/D/1); it grows by their difference and drains at the service.
    """
    within("arrivals", arrivals, 0.0, unit="per unit of time", above=True)
    within("duration", duration, 0.0, unit="time", above=True)
    within("service", service, 0.0, unit="per unit of time", above=True)
    longest = np.maximum(np.subtract(arrivals, service), 0.0) * duration
    parts = (longest, duration + longest / service, longest / service)
    return Surge(*(shaped(part, arrivals, duration, service) for part in parts))


def _queue(busy: float, empty: float, waits: float, waiting: float, arrivals: float, service: float) -> Queue:
    wait = waiting / arrivals
    return Queue(busy, empty, waits, waiting, waiting + arrivals / service, wait, wait + 1 / service)
