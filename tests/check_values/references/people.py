"""Queues beside the stationary state of their own chain, solved as linear equations."""

import numpy as np
from numpy.typing import NDArray

from shared.formulas import queues
from tests.check_values.references import Reference

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]

# People an hour, minutes in a lane, lanes.
RANDOM = [(20.0, 2.4, 1), (50.0, 3.0, 3), (90.0, 2.0, 4), (10.0, 6.0, 2), (200.0, 2.5, 9)]
STATES = 700


def from_states(states: NDArray[np.float64], lanes: int) -> list[float]:
    """Give what a queue's states say: nobody there, one must wait, how many wait, how many are there."""
    count = np.arange(states.size)
    waiting = np.maximum(count - lanes, 0)
    return [float(states[0]), float(states[lanes:].sum()), float(waiting @ states), float(count @ states)]


def embedded_states(arrivals: float, service_time: float, lanes: int) -> NDArray[np.float64]:
    """Solve n(t + D) = max(n - c, 0) + Poisson(lambda D) for its stationary state, cut off where nothing is left."""
    from scipy.linalg import solve
    from scipy.stats import poisson

    comes = poisson.pmf(np.arange(STATES), arrivals * service_time)
    chain = np.zeros((STATES, STATES))
    for there in range(STATES):
        left = max(there - lanes, 0)
        chain[there, left:] = comes[: STATES - left]
    return _stationary(solve, chain.T - np.eye(STATES))


def birth_and_death_states(arrivals: float, service: float, lanes: int) -> NDArray[np.float64]:
    """Solve the balance of births and deaths for its stationary state, cut off where nothing is left."""
    from scipy.linalg import solve

    count = np.arange(STATES)
    deaths = np.minimum(count, lanes) * service
    births = np.where(count < STATES - 1, arrivals, 0.0)
    balance = np.diag(-(births + deaths)) + np.diag(births[:-1], -1) + np.diag(deaths[1:], 1)
    return _stationary(solve, balance)


def _stationary(solve, balance: NDArray[np.float64]) -> NDArray[np.float64]:
    # One equation says no more than the others: that the states sum to one stands in its place.
    balance[0], known = 1.0, np.zeros(STATES)
    known[0] = 1.0
    return solve(balance, known)


def _told(queue: queues.Queue) -> list[float]:
    return [queue.empty, queue.waits, queue.waiting, queue.there]


def _random() -> Pair:
    ours = [_told(queues.random_service_queue(come / 60, 1 / stay, lanes)) for come, stay, lanes in RANDOM]
    theirs = [from_states(birth_and_death_states(come / 60, 1 / stay, lanes), lanes) for come, stay, lanes in RANDOM]
    return np.array(ours), np.array(theirs)


def _fixed() -> Pair:
    ours = [_told(queues.fixed_service_queue(come / 60, stay, lanes)) for come, stay, lanes in RANDOM]
    theirs = [from_states(embedded_states(come / 60, stay, lanes), lanes) for come, stay, lanes in RANDOM]
    return np.array(ours), np.array(theirs)


def stepped_burst(arrivals: float, duration: float, service: float) -> list[float]:
    """Follow a burst in ten thousandths of its time: longest queue, when cleared, longest wait."""
    step = duration / 10_000
    times = np.arange(0.0, 10 * duration, step)
    came = arrivals * np.minimum(times, duration)
    gone = np.zeros_like(times)
    for index in range(1, times.size):
        gone[index] = min(gone[index - 1] + service * step, came[index])
    cleared = times[np.argmax(gone >= arrivals * duration * (1 - 1e-9))]
    # The wait of whoever comes as the n-th: when the n-th is gone, less when the n-th came.
    numbers = np.linspace(1e-6, arrivals * duration * (1 - 1e-6), 2001)
    waits = np.interp(numbers, gone, times) - numbers / arrivals
    return [float(np.max(came - gone)), float(cleared), float(np.max(waits))]


def _surge() -> Pair:
    bursts = [(60.0, 1.5, 36.0), (40.0, 1.0, 30.0), (120.0, 0.5, 44.0)]
    return np.array([list(queues.surge(*one)) for one in bursts]), np.array([stepped_burst(*one) for one in bursts])


REFERENCES = [
    Reference(
        "queues.random_service_queue", "scipy", "loads of 0.5 to 0.93, 1 to 9 lanes: balance equations", _random, 1e-6
    ),
    Reference(
        "queues.fixed_service_queue", "scipy", "loads of 0.5 to 0.93, 1 to 9 lanes: Crommelin's chain", _fixed, 1e-6
    ),
    Reference("queues.surge", "numpy", "three bursts in small steps", _surge, 2e-3),
]
