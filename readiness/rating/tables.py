"""Probabilities that depend on shared things: tables over their joint states, multiplied and summed out one by one.

A table has one axis for each shared thing it depends on and a last one for the draws. Summing a thing out as soon as
nothing else needs it keeps the tables small: twelve shared nodes are seldom twelve in one table.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

MOST_STATES = 4096  # joint states of shared things in one table


class TooManyStates(Exception):
    """Exact conditioning would need more joint states than ``MOST_STATES``."""


@dataclass(frozen=True, eq=False)
class Table:
    """Values over the joint states of some axes.

    Attributes:
        axes: numbers of the shared things, ascending.
        values: shape (states of axes[0], states of axes[1], ..., n).
    """

    axes: tuple[int, ...]
    values: NDArray[np.float64]

    def over(self, axes: tuple[int, ...]) -> NDArray[np.float64]:
        """The values with an axis of length 1 for each of ``axes`` that the table does not have."""
        if axes == self.axes:
            return self.values
        own = iter(self.values.shape)
        return self.values.reshape(*(next(own) if axis in self.axes else 1 for axis in axes), -1)

    def __mul__(self, other: "Table") -> "Table":
        if not self.axes or not other.axes:
            return Table(self.axes or other.axes, self.values * other.values)
        axes = tuple(sorted({*self.axes, *other.axes}))
        mine, others = self.over(axes), other.over(axes)
        check_states(max(a, b) for a, b in zip(mine.shape[:-1], others.shape[:-1], strict=True))
        return Table(axes, mine * others)

    def complement(self) -> "Table":
        """One less the values."""
        return Table(self.axes, 1.0 - self.values)

    def sum_out(self, axis: int, weights: NDArray[np.float64] | None) -> "Table":
        """Sum over the states of one axis, each times its probability, shape (states, n), or as they are."""
        at = self.axes.index(axis)
        before: tuple[Any, ...] = (slice(None),) * at
        states = [self.values[(*before, i)] for i in range(self.values.shape[at])]
        if weights is not None:
            states = [state * weight for state, weight in zip(states, weights, strict=True)]
        total = states[0]
        for state in states[1:]:
            total = total + state
        return Table(self.axes[:at] + self.axes[at + 1 :], total)


def check_states(sizes: Iterable[int]) -> None:
    """Raise TooManyStates where the product of sizes is too large for one table."""
    if math.prod(sizes) > MOST_STATES:
        raise TooManyStates


def total(tables: Iterable[Table], weights: Mapping[int, NDArray[np.float64] | None]) -> NDArray[np.float64]:
    """Expectation of the product of tables over all their axes, shape (n,).

    Args:
        tables: at least one.
        weights: probability of each state of each axis, shape (states, n); None where the tables bring it.
    Raises:
        TooManyStates: a product on the way would be too large.
    """
    pending = list(tables)
    while axes := {axis for table in pending for axis in table.axes}:
        # The axis whose neighbours make the smallest table goes first; its number settles a draw.
        axis = min(axes, key=lambda each: (_joint_states(pending, each), each))
        meeting = [table for table in pending if axis in table.axes]
        product = meeting[0]
        for table in meeting[1:]:
            product = product * table
        pending = [table for table in pending if axis not in table.axes] + [product.sum_out(axis, weights[axis])]
    answer = pending[0].values
    for table in pending[1:]:
        answer = answer * table.values
    return answer


def _joint_states(tables: list[Table], axis: int) -> int:
    """States of the table that summing an axis out would pass through."""
    sizes: dict[int, int] = {}
    for table in tables:
        if axis in table.axes:
            sizes.update(zip(table.axes, table.values.shape, strict=False))
    return math.prod(sizes.values())
