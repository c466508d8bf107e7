"""The shape of a plan: for so many lanes, what each function needs, what there is, and for how long it lasts."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from readiness.rating import capacity
from readiness.rating.capacity import CLOSE, Supply
from readiness.rating.evidence import Evidenced, Standing, expired, stock_word
from readiness.rating.facts import Facts, Requirement, Stock
from readiness.rating.mission import Mission
from readiness.rating.words import EVIDENCE_ORDER

ANY_EVIDENCE: Final = len(EVIDENCE_ORDER)
MOST_LANES: Final = 8  # no line is asked for more; where nothing limits, this many are said


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing asked of a line: lanes in use, people an hour through them, for how long, how warm.

    Rates are judged on the peak flow of whole lanes, stocks on the average flow of the people.
    """

    mission: Mission = field(compare=False)
    lanes: int
    people_per_hour: float
    seconds: float
    head_k: float

    @property
    def people(self) -> float:
        """People washed by the end."""
        return self.people_per_hour * self.seconds / 3600.0

    @property
    def peak_m3_s(self) -> float:
        """Flow while somebody is wet in every lane. [m3/s]"""
        return self.lanes * self.mission.lane_flow_m3_s

    @property
    def average_m3_s(self) -> float:
        """Flow over the hours. [m3/s]"""
        return self.people_per_hour / 3600.0 * self.mission.person_m3

    @property
    def wet_share(self) -> float:
        """Average flow over peak flow: how much of the time heat is drawn. [-]"""
        return self.average_m3_s / self.peak_m3_s if self.lanes else 0.0


@dataclass(frozen=True, eq=False)
class Want:
    """One need of a function and what there is for it. SI, or lanes, people and counts.

    Attributes:
        resource: "" for the function's own figure.
        have: with known limits, everything else at full capacity; the figure that binds.
        supplies: items behind it; they make the parts of the chain.
        fixed: what stands beside them: lots, people, the supply's own water.
        lasting: seconds at the asked rate until it is short; where absent a need that is met holds for good.
        carries: for capacities that do not add, told the capacity of each unit of ``supplies``.
        links: takes part in the chain; False where another want of the same supplies already does.
        of_mission: rests on the mission alone, so it records nothing.
        head_k: where heat is the matter, what the heads would reach. [K]
    """

    resource: str
    need: float
    have: float
    unit: str
    supplies: tuple[Supply, ...] = ()
    fixed: float = 0.0
    lasting: Callable[[], float] | None = None
    carries: Callable[[tuple[float, ...]], bool] | None = None
    links: bool = True
    of_mission: bool = False
    item: str = ""
    basis: str = ""
    lots: tuple[Stock, ...] = ()
    head_k: float | None = None
    kind: str = ""

    @property
    def met(self) -> bool:
        """Whether there is enough for as long as is asked."""
        return self.have >= self.need * CLOSE

    @cached_property
    def lasts_s(self) -> float:
        """Seconds from the start until it is short at the asked rate; 0 from the start, inf never."""
        if self.lasting is not None:
            return self.lasting()
        return math.inf if self.met else 0.0


@dataclass(frozen=True, eq=False)
class WayPlan:
    """One way to carry a function; ``missing`` are the kinds it needs of which nothing is recorded."""

    wants: tuple[Want, ...]
    relies_on: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def met(self) -> bool:
        """Whether all its own needs are met."""
        return all(want.met for want in self.wants)

    @property
    def lasts_s(self) -> float:
        """Seconds until the first of its own needs is short."""
        return min((want.lasts_s for want in self.wants), default=math.inf)


@dataclass(frozen=True, eq=False)
class FunctionPlan:
    """A function with its ways. ``recorded`` is False where nothing of it is on record at all."""

    name: str
    ways: tuple[WayPlan, ...]
    missing: tuple[str, ...] = ()
    recorded: bool = True


Plan = dict[str, FunctionPlan]


@dataclass(frozen=True, eq=False)
class Means:
    """What a line has, as far as evidence of a grade or better goes (index into EVIDENCE_ORDER).

    Supplies do not depend on lanes, so they are made once for a mission and kept.

    Attributes:
        by_word: admits an item by its own evidence word; else, as for Whole, by its grade-I modes alone.
    """

    facts: Facts
    mission: Mission
    evidenced: Evidenced
    grade: int = ANY_EVIDENCE
    by_word: bool = False
    kept: dict[tuple[str, float], tuple[Supply, ...]] = field(default_factory=dict)
    rows: dict[str, tuple[Requirement, ...]] = field(default_factory=dict)

    def of(self, kind: str) -> tuple[Standing, ...]:
        """Return the items of a kind that count."""
        return tuple(s for s in self.evidenced.by_kind.get(kind, ()) if s.counts and self.admits(s))

    def admits(self, standing: Standing) -> bool:
        """Return whether an item's evidence is good enough."""
        return (rank_by_word(standing) if self.by_word else rank(standing)) <= self.grade

    def supplies(self, kind: str, make: Callable[[Standing], Supply], key: float = 0.0) -> tuple[Supply, ...]:
        """Return the supplies of a kind, made once for each ``key``."""
        found = self.kept.get((kind, key))
        if found is None:
            found = self.kept[kind, key] = tuple(make(s) for s in self.of(kind))
        return found

    def lots(self, kind: str) -> tuple[Stock, ...]:
        """Return the lots of a kind that are in date and not withheld."""
        on = self.facts.at.date()
        return tuple(
            lot
            for lot in self.evidenced.stocks.get(kind, ())
            if not lot.held and not expired(lot, on) and EVIDENCE_ORDER.index(stock_word((lot,))) <= self.grade
        )

    def is_recorded(self, kind: str) -> bool:
        """Return whether anything of a kind is on record, whatever its state."""
        return kind in self.evidenced.kinds_recorded


def rank(standing: Standing) -> int:
    """Return an item's place in the order of evidence; what no scheduled check can see bars nothing."""
    return 0 if standing.whole else EVIDENCE_ORDER.index(standing.word)


def rank_by_word(standing: Standing) -> int:
    """Return an item's place in the order of evidence, conditions that nobody has established counted too."""
    return EVIDENCE_ORDER.index(standing.word) if standing.unsettled else rank(standing)


def adding(
    resource: str,
    need: float,
    unit: str,
    supplies: Iterable[Supply] = (),
    *,
    fixed: float = 0.0,
    kind: str = "",
    basis: str = "",
    lots: tuple[Stock, ...] = (),
) -> Want:
    """Return a need that capacities add up to."""
    rows = tuple(supplies)
    have = fixed + sum(row.total for row in rows)
    return Want(resource, need, have, unit, rows, fixed, kind=kind, basis=basis, lots=lots)


def counting(means: Means, kind: str, need: float, resource: str, unit: str = "count") -> Want:
    """Return a need of so many units of a kind: items, and lots where it is a stock."""
    lots = means.lots(kind)
    return adding(
        resource,
        need,
        unit,
        means.supplies(kind, capacity.counted),
        fixed=sum(lot.on_hand for lot in lots),
        kind=kind,
        lots=lots,
    )
