"""One fault from the day it was found to the day it was put right: plain Python over its times.

Rows come in any order: a phone that was offline sends the older finding after the newer one. What opened an episode and
what merely found the same fault again is therefore told from when things happened, never from the order of receipt.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Protocol, TypeVar

Restored = tuple[datetime, bool]  # when, and whether under one name alone


class FaultLike(Protocol):
    """A deficiency as far as its times go."""

    @property
    def at(self) -> datetime: ...

    @property
    def grade(self) -> str: ...

    @property
    def restored(self) -> Sequence[Restored]: ...


Fault = TypeVar("Fault", bound=FaultLike)


def stands(fault: FaultLike, at: datetime) -> bool:
    """Return whether a fault stands at an instant, nothing having been done about it that counts."""
    return fault.at <= at and not any(when <= at for when, _ in fault.restored)


def is_closed(fault: FaultLike, at: datetime) -> bool:
    """Return whether a fault is put right by an instant, second name and all."""
    return any(when <= at and not alone for when, alone in fault.restored)


def is_awaiting(fault: FaultLike, at: datetime) -> bool:
    """Return whether a fault is put right by an instant, but only ever under one name alone."""
    return any(when <= at for when, _ in fault.restored) and not is_closed(fault, at)


def heads(faults: Iterable[Fault]) -> list[Fault]:
    """Return the faults of one mode of one item that opened an episode, from all of them, oldest first.

    What was found while one as grave stood is the same fault, found again.
    """
    found: list[Fault] = []
    for fault in faults:
        if not any((head.grade == "I" or fault.grade != "I") and stands(head, fault.at) for head in found):
            found.append(fault)
    return found


def heads_of_each(faults: Iterable[tuple[tuple[int, str], Fault]]) -> dict[tuple[int, str], list[Fault]]:
    """Return the episodes by item and mode, from pairs of these and a fault, oldest first."""
    of: dict[tuple[int, str], list[Fault]] = defaultdict(list)
    for key, fault in faults:
        of[key].append(fault)
    return {key: heads(rows) for key, rows in of.items()}


def stood_open(fault: FaultLike, at: datetime) -> bool:
    """Return whether a fault was found by an instant and not put right by then: work that names none was on it."""
    return fault.at <= at and not is_closed(fault, at)
