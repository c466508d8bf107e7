"""The answer of the rating: frozen, in the units people read, ready to be stored."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from readiness.rating.facts import Evidence
from readiness.rating.mission import Mission

Word = Literal["Whole", "Limited", "Down"]
Reason = Literal["", "short", "unproven", "unsure"]


@dataclass(frozen=True, slots=True)
class LimitEvidence:
    """What a limit's figure rests on: the weakest of the items or lots that it counts."""

    state: Evidence
    item: str = ""
    inspection: str = ""
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """What keeps the line from the mission asked, or would next.

    Attributes:
        function: of the chain.
        resource: of the function, "" for its own figure.
        need, have: in ``unit``. [BTU/h, gal, gpm, lb, people, lanes, W, psi, min or count]
        lanes: whole lanes that this resource carries for the hours asked. [-]
        bites_at_min: minutes at the asked rate until it is short; 0 from the start. [min]
        head_degF_at_asked_rate: where heat limits, what the heads would run at. [degF]
        item: the item or lot that is scarcest, where one is.
        basis: how ``have`` was arrived at, where it is not plain.
        not_counted: items that would have counted, each with why it does not.
        at_most: the figure rests on something not established or not recorded.
        ordered: what is ordered that would mend it, with its date; it counts for nothing until it is here.
    """

    function: str
    resource: str
    need: float
    have: float
    unit: str
    lanes: int
    bites_at_min: float
    head_degF_at_asked_rate: float | None = None  # noqa: N815
    item: str = ""
    basis: str = ""
    evidence: LimitEvidence | None = None
    not_counted: tuple[str, ...] = ()
    at_most: bool = False
    ordered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CanDo:
    """What the line can do now.

    Attributes:
        people_per_hour, hours, lanes: the largest rate in whole lanes that the capacities carry, and for how long.
        probability, probability_low, probability_high: that it does it, with its 80 % range. [in 100]
        head_degF: at the shower heads. [degF]
        cold: no lane reaches the least shower temperature; dry methods first.
        without: functions it would do without.
        asked_rate_hours: for how long the asked rate can be carried. [h]
    """

    people_per_hour: float
    hours: float
    lanes: int
    probability: float
    probability_low: float
    probability_high: float
    head_degF: float  # noqa: N815
    cold: bool = False
    without: tuple[str, ...] = ()
    asked_rate_hours: float = 0.0


@dataclass(frozen=True, slots=True)
class Rated:
    """The line against its own rated mission: the readiness score. Probabilities in 100."""

    people_per_hour: float
    hours: float
    probability: float
    probability_low: float
    probability_high: float
    target: float
    mission_assumed: bool
    load_list_assumed: bool


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item of a function, and why it is worth what it is.

    Attributes:
        probability: that it works now, no grade-I mode being there. [in 100]
        mode: the failure mode that costs it most, "" where none is open.
        state: of the item, or why it counts nothing.
        capacity: of all its units, in ``unit``.
        basis: measured and when, plate, assumed or count.
        not_established: condition modes that no check has settled.
        blind_spots: its modes that no scheduled check sees.
    """

    tag: str
    name: str
    probability: float
    mode: str
    state: str
    evidence: Evidence
    capacity: float
    unit: str
    basis: str = ""
    not_established: tuple[str, ...] = ()
    blind_spots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FunctionRow:
    """One function of the chain at the mission asked: its tightest figure, its probability and its evidence.

    Attributes:
        margin: have over need, less 1; None where nothing is needed. [-]
        probability: that it is carried with all it relies on; None where not recorded. [in 100]
    """

    function: str
    need: float
    have: float
    unit: str
    probability: float | None
    evidence: Evidence
    margin: float | None = None
    resource: str = ""
    carried: bool = True
    at_most: bool = False
    items: tuple[ItemRow, ...] = ()


@dataclass(frozen=True, slots=True)
class SharedNode:
    """A common cause and what hangs on it."""

    node: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InDoubt:
    """A failure not yet put right, and the last good proof before it."""

    item: str
    mode: str
    since: datetime


@dataclass(frozen=True, slots=True)
class Rating:
    """What one line can do, how sure that is, the word for it, and why. Probabilities in 100."""

    line: str
    at: datetime
    known_at: datetime
    mission: Mission
    word: Word
    reason: Reason
    probability: float
    probability_low: float
    probability_high: float
    can_do: CanDo
    limits: tuple[Limit, ...]
    functions: tuple[FunctionRow, ...]
    not_recorded: tuple[str, ...]
    blind_spots: tuple[str, ...]
    single_points: tuple[str, ...]
    shared_nodes: tuple[SharedNode, ...]
    next_change_at: datetime
    at_most: tuple[str, ...]
    rated: Rated
    next_limit: Limit | None = None
    down: tuple[str, ...] = ()  # functions that make it Down
    cautions: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()  # limits that travel with the line, such as cylinders not to be refilled
    in_doubt: tuple[InDoubt, ...] = ()
    not_established: tuple[str, ...] = ()  # "tag code": condition modes that no check has settled
    exposure_assumed: tuple[str, ...] = ()  # tags whose exposure is not known
    exact: bool = True
    error: float = 0.0  # standard error of the probabilities where they were sampled [in 100]
    next_moves: None = None  # not worked out yet
    risk_accepted: tuple[str, ...] = ()
