"""What the rating is told: frozen facts about one line at one instant, as known at another.

All quantities are SI (W, kg, m3, m3/s, Pa, K for differences, s) unless a name says otherwise; ages are years of
365.25 days; probabilities are fractions. Nothing here knows Django, a clock or a database.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Literal

from shared.formulas.beliefs import ModeHistory as ModeHistory
from shared.formulas.beliefs import Prior as Prior

Evidence = Literal["proven", "claimed", "stale", "in doubt", "not recorded"]
State = Literal[
    "in service", "boxed", "out of service", "quarantine", "wet", "drying", "lent", "condemned", "disposed", "absent"
]


@dataclass(frozen=True, slots=True)
class Mode:
    """One failure mode of a kind, with what is believed of it."""

    code: str
    name: str
    grade: Literal["I", "C", "N"]
    cls: Literal["dormant", "demand", "both", "condition"]
    prior: Prior = Prior()
    history: ModeHistory = ModeHistory()
    limited_fraction: float = 0.8
    limits: str = "all"  # which resource a C mode scales: all, or a resource name such as stand, lanes
    scheduled: bool = True  # some check of the kind's schedule can see it; False: a blind spot


@dataclass(frozen=True, slots=True)
class ModeEvidence:
    """What is known of one mode on one item.

    Attributes:
        mode: key into Facts.modes, "kind:code".
        exposure_years: since the last proof that can see it, else since acceptance; None where neither is known.
        outcome: of the last proof: "proven", "claimed" (looked at, no number), "limited", "failed", or "none".
        ratio: measured ratio where outcome is "limited". [-]
        proven_at: instant of the last proof that found it absent by a number or stated observation.
        stale_at: when that proof passes its interval; None: no calendar interval.
        reopened: a use, repair, move or frost since has reopened it (condition modes; after-use modes).
        in_doubt_since: last good proof before a failure that is not yet put right.
        inspection: client id of the inspection behind the last proof, "" where none.
    """

    mode: str
    exposure_years: float | None
    outcome: Literal["proven", "claimed", "limited", "failed", "none"] = "none"
    ratio: float | None = None
    proven_at: datetime | None = None
    stale_at: datetime | None = None
    reopened: bool = False
    in_doubt_since: datetime | None = None
    inspection: str = ""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured quantity of an item that its capacity rests on.

    Attributes:
        value: SI, see Item.measured for the names and units.
        at_least: the test showed a lower bound only (a heat run held at set-point, a loaded run).
    """

    value: float
    on: date
    inspection: str = ""
    at_least: bool = False
    stale: bool = False


@dataclass(frozen=True, slots=True)
class Item:
    """One item, or a row of ``quantity`` alike.

    Attributes:
        kind: key of inventory's catalogue ("heater").
        role: what the rating takes it for; the kind's key unless mapped. [-]
        quantity: units present by the newest count, else by the register. [-]
        state: derived state; anything but "in service" counts zero.
        accepted_on: with acceptance_assumed where the acquisition date stands in for it.
        claimed: nothing but the register says that it works.
        awaiting_second_name: restored alone; counts as claimed.
        spec: nameplate, keys and units of the catalogue's spec_fields (US customary, as on the plate).
        measured: SI; names: heater_output_w, heater_efficiency, hose_loss_k, pump_flow_m3_s, propane_kg,
            stand_s (hold test: to the least supporting pressure), air_pressure_pa, battery_soc, generator_w,
            injector_ratio, fuel_made_on (ordinal day), vapour_limit_psig is never here: it is regulator spec.
    """

    tag: str
    name: str
    kind: str
    quantity: int
    state: State
    modes: tuple[ModeEvidence, ...]
    accepted_on: date | None = None
    acceptance_assumed: bool = False
    claimed: bool = True
    awaiting_second_name: bool = False
    spec: Mapping[str, float | str] = field(default_factory=dict)
    measured: Mapping[str, Measured] = field(default_factory=dict)
    place: str = ""
    state_since: datetime | None = None
    state_reason: str = ""
    requalify_by: date | None = None  # cylinders
    remove_by: date | None = None
    hangs_on: tuple[str, ...] = ()  # names of shared nodes
    withheld: bool = False  # counts nothing, for a reason that is told to nobody: shown as if nothing were


@dataclass(frozen=True, slots=True)
class Stock:
    """One lot of a consumable on the line.

    Attributes:
        stale_at: when its count is no longer trusted, None where there is none.
        held: why it is withheld and counts for nothing, "" where it is not.
    """

    lot: str
    name: str
    kind: str
    on_hand: float
    per_person: float | None
    expires_on: date | None = None
    counted_on: date | None = None
    counted: bool = False  # False: the register's figure only, claimed
    stale: bool = False
    spec: Mapping[str, float | str] = field(default_factory=dict)
    stale_at: datetime | None = None
    held: str = ""


@dataclass(frozen=True, slots=True)
class OrderFact:
    """Something ordered and not yet here. It counts for nothing; a limit that it would mend names it."""

    kind: str
    name: str
    quantity: int
    expected_on: date | None = None


@dataclass(frozen=True, slots=True)
class Requirement:
    """One row of the load list."""

    function: str
    kind: str
    quantity: int
    needed: float
    scales: Literal["line", "lane", "person"]
    way: str = "a"
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class CrewFact:
    name: str
    qualified: bool
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Node:
    """A recorded common cause that is not itself an item of the chain, or is one by tag."""

    name: str
    members: tuple[str, ...]
    item: str | None = None
    probability: float | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything ``rate`` needs, and nothing else."""

    line: str
    at: datetime
    known_at: datetime
    rated_lanes: int
    items: tuple[Item, ...]
    stocks: tuple[Stock, ...]
    crew: tuple[CrewFact, ...] | None  # None: no roster recorded
    requirements: tuple[Requirement, ...]
    modes: Mapping[str, Mode]  # "kind:code"
    line_modes: tuple[ModeEvidence, ...] = ()  # of the whole line: PE1
    nodes: tuple[Node, ...] = ()
    rated_mission: Mapping[str, object] = field(default_factory=dict)
    target_score: float = 80.0
    hose_loss_k: float = 3.0 / 1.8  # between heater and head; measured where a heat run recorded both
    beta: float = 0.05
    crew_needed: Mapping[int, int] = field(default_factory=lambda: {1: 6, 2: 8, 3: 10, 4: 12})  # by lanes
    load_list_assumed: bool = False
    mission_assumed: bool = False
    orders: tuple[OrderFact, ...] = ()

    @property
    def shown(self) -> "Facts":
        """Return the facts as anybody may read them: nothing of them is marked as withheld."""
        if not any(item.withheld for item in self.items):
            return self
        return replace(self, items=tuple(replace(item, withheld=False) for item in self.items))
