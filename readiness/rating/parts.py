"""The words in which a line's structure is told: parts, demands, ways, functions, nodes and the chain of them all.

Every probability is an array over draws of the unknown failure rates, shape (n,); n is whatever the parts bring, as
long as it is the same everywhere, so that days or lines may be laid side by side with the draws and solved at once.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Part:
    """What one item, or ``units`` alike of one row, can give to one demand.

    A tag that appears in several demands is one item. Where its parts have equal weights, state i of the one is state
    i of the other; where they differ, the worse states of the one go with the worse states of the other.

    Attributes:
        tag: the item's tag.
        units: units of the row, each in a state of its own, >= 1. [-]
        levels: capacity of one unit in each state, in the demand's unit, >= 0, any order.
        weights: probability of each state of one unit, shape (len(levels), n); columns sum to 1. [-]
        hangs_on: names of the nodes that must be up, else the part gives nothing.
        alike: parts of one demand with the same key share a residual common cause; "" for none.
    """

    tag: str
    units: int
    levels: tuple[float, ...]
    weights: NDArray[np.float64]
    hangs_on: tuple[str, ...] = ()
    alike: str = ""


@dataclass(frozen=True, eq=False)
class Demand:
    """A need that the summed capacities of its parts meet, to 1 part in 10**9.

    Attributes:
        name: what is needed.
        need: how much, in the unit of the parts' levels; always met where 0 or less.
        parts: what can give it.
        carries: for capacities that do not add: told the level of each part (each of one unit), says whether the
            demand is met; ``need`` is then not looked at. It must be hashable and always answer the same.
    """

    name: str
    need: float
    parts: tuple[Part, ...]
    carries: Callable[[tuple[float, ...]], bool] | None = None


@dataclass(frozen=True, eq=False)
class Way:
    """One way to carry a function: all its demands are met and all functions that it relies on are carried."""

    demands: tuple[Demand, ...]
    relies_on: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Function:
    """A function of the chain, carried when any of its ways is."""

    name: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, eq=False)
class Node:
    """A common cause: the parts that name it in ``hangs_on`` give nothing while it is down.

    Attributes:
        name: what the parts call it.
        up: probability that it is up, shape (n,), independent of all else. [-]
        tag: set when the node is itself a part of the chain (the one generator): it is then up exactly when that
            part gives more than 0, and ``up`` is not looked at.
    """

    name: str
    up: NDArray[np.float64]
    tag: str = ""


@dataclass(frozen=True, eq=False)
class Chain:
    """All functions of a line, its shared nodes, and the residual beta factor of like items, 0 <= beta < 1. [-]"""

    functions: tuple[Function, ...]
    nodes: tuple[Node, ...] = ()
    beta: float = 0.05


@dataclass(frozen=True, eq=False)
class ChainAnswer:
    """The probability that the line, and each function, is carried, given the rates of each draw.

    Attributes:
        line: that all functions are carried together, shape (n,). [-]
        functions: by name, that the function is carried with all that it relies on, shape (n,). [-]
        exact: False where anything was sampled or lumped.
        error: standard error of the mean of ``line`` over the draws, 0 when exact. [-]
        shared: what was conditioned on: tags, nodes and like groups that more than one demand rests on.
    """

    line: NDArray[np.float64]
    functions: dict[str, NDArray[np.float64]]
    exact: bool
    error: float
    shared: tuple[str, ...]
