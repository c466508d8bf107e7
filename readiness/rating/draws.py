"""The fixed set of draws from the joint posterior of all rates, over which probability and range are taken.

Each mode has a two-dimensional Sobol' net of its own (rate, demand probability), nested-scrambled and dealt out in an
order of its own, both from a hash of the mode's key: Latin supercube sampling. So a mode's draws do not change when
other modes come or go, and two modes move together no more than chance has it. One wide net with a dimension for each
mode would do neither: its late dimensions pair badly at 256 points, and a mode would need a fixed place in it. The
bits come from a hash function and not from a library's generator, so the same facts give the same bytes whatever is
installed.

Source: A. B. Owen, "Latin supercube sampling for very high-dimensional simulations", ACM Transactions on Modeling and
Computer Simulation 8 (1998) 71-102.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from readiness.rating.facts import Mode, ModeHistory, Prior
from readiness.rating.posterior import posterior
from shared.formulas.reliability import mode_absent

DRAWS = 256


@dataclass(frozen=True, eq=False)
class RateDraws:
    """Draws of every mode's rate and demand probability; draw i of all modes belongs together.

    Attributes:
        rate: by mode key, shape (n,). [1/item-year]
        demand: by mode key, shape (n,). [-]
    """

    rate: dict[str, NDArray[np.float64]]
    demand: dict[str, NDArray[np.float64]]


def draw_rates(modes: Mapping[str, Mode], n: int = DRAWS) -> RateDraws:
    """Draw the rates of all modes from their posteriors; the same modes give the same draws.

    Args:
        modes: by key, "kind:code"; one with neither rate nor demand probability is drawn as 0 and 0.
        n: draws, >= 1; powers of two are balanced. [-]
    Raises:
        ValueError: n < 1, or a prior is out of range.
    """
    if n < 1:
        raise ValueError(f"need n >= 1, got {n}")
    drawn = {key: _drawn(key, mode.prior, mode.history, n) for key, mode in sorted(modes.items())}
    return RateDraws({key: pair[0] for key, pair in drawn.items()}, {key: pair[1] for key, pair in drawn.items()})


def p_absent(draws: RateDraws, mode_key: str, exposure_years: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """Probability that a mode is absent, (1 - q) exp(-rate t), in each draw.

    Args:
        draws: from ``draw_rates``.
        mode_key: "kind:code".
        exposure_years: since the last proof that could see it, >= 0; scalar, or shape (k, 1) for k instants. [years]
    Returns:
        Shape (n,), or (k, n). [-]
    Raises:
        ValueError: a negative exposure.
    """
    return mode_absent(draws.rate[mode_key], exposure_years, draws.demand[mode_key])


@lru_cache(maxsize=4096)
def _drawn(key: str, prior: Prior, history: ModeHistory, n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    places = net(key, n)
    rate, demand = posterior(prior, history).quantiles(places[0], places[1])
    for array in (rate, demand):
        array.setflags(write=False)  # cached: shared by everyone who asks
    return rate, demand


def net(key: str, n: int) -> NDArray[np.float64]:
    """Points of the unit square that belong to a key: a scrambled Sobol' net in an order of its own.

    Returns:
        Shape (2, n), each strictly between 0 and 1. [-]
    """
    bits = max(1, (n - 1).bit_length())
    size = 1 << bits
    source = hashlib.shake_256(key.encode()).digest(8 * size + 2 * (size + 4 * size))
    order = np.argsort(np.frombuffer(source, "<u8", size), kind="stable")
    answer = np.empty((2, n))
    for axis, base in enumerate(_sobol(bits)):
        offset = 8 * size + axis * 5 * size
        flips = np.frombuffer(source, np.uint8, size, offset) & 1
        jitter = (np.frombuffer(source, "<u4", size, offset + size) + 0.5) / 2.0**32
        points = (_scrambled(base, flips.astype(np.int64), bits) + jitter) / size
        answer[axis] = points[order][order < n] if n < size else points[order]
    return answer


def _sobol(bits: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The first two dimensions of Sobol's sequence as whole numbers of ``bits`` bits, 2**bits points."""
    index = np.arange(1 << bits, dtype=np.int64)
    first, second = np.zeros_like(index), np.zeros_like(index)
    odd = 1  # direction numbers of the polynomial x + 1: 1, 3, 5, 15, 17, ...
    for j in range(bits):
        bit = index >> j & 1
        first ^= bit << (bits - 1 - j)
        second ^= bit * (odd << (bits - 1 - j))
        odd ^= odd << 1
    return first, second


def _scrambled(points: NDArray[np.int64], flips: NDArray[np.int64], bits: int) -> NDArray[np.int64]:
    """Owen's nested scrambling: each bit is flipped or not by a coin that belongs to the bits above it."""
    answer = np.zeros_like(points)
    for j in range(bits):
        above = points >> (bits - j)
        coin = flips[(1 << j) - 1 + above]
        answer = answer << 1 | ((points >> (bits - 1 - j) & 1) ^ coin)
    return answer
