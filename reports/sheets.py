"""What a document is made from: frozen sheets of plain values. A builder gets one and asks nothing else."""

from dataclasses import dataclass, field
from datetime import date, datetime

NOT_RECORDED = "not recorded"

CAUTIONS = (
    "Incident command decides. This paper records what was measured; it sends nobody and clears nothing.",
    "Status here is a record: isolate, lock or unplug before servicing.",
    "Local code and the maker's manual for the owned unit come first; so does licensed practice.",
)


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One value as entered, in the unit it was entered in."""

    label: str
    as_entered: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class FindingLine:
    """One number or stated observation that decided, beside its limit and where that limit comes from."""

    text: str
    verdict: str
    limit: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class ModeLine:
    """What the inspection showed of one failure mode."""

    code: str
    name: str
    grade: str  # I, C or N
    outcome: str  # proven, claimed, limited, failed, not shown
    note: str = ""


@dataclass(frozen=True, slots=True)
class FaultLine:
    """A fault found, with what was done about it and who put their name to it."""

    item: str
    code: str
    name: str
    grade: str
    text: str
    found_by: str
    found_at: datetime
    repairs: tuple[str, ...] = ()
    restoration: str = ""  # empty while the fault is open
    restored_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class InspectionSheet:
    """One inspection as it stands at ``as_of``; instants are UTC and shown in ``time_zone``."""

    department: str
    time_zone: str
    as_of: datetime
    record_id: str
    check: str
    subject: str  # tag and name of the item, number of the lot or name of the line
    serial: str
    kind: str
    place: str
    line: str
    procedure: str
    procedure_origin: str
    ended_at: datetime
    recorded_at: datetime
    inspector: str
    signed: str
    verdict: str
    started_at: datetime | None = None
    summary: str = ""
    remark: str = ""
    source: str = ""
    units_checked: int = 1
    corrects: str = ""
    corrected_by: str = ""
    readings: tuple[ReadingLine, ...] = ()
    findings: tuple[FindingLine, ...] = ()
    modes: tuple[ModeLine, ...] = ()
    seen_by_others: tuple[str, ...] = ()  # modes of this kind that another scheduled check sees
    blind_spots: tuple[str, ...] = ()  # modes of this kind that no scheduled check sees
    faults: tuple[FaultLine, ...] = ()
    disposition: str = ""
    next_due: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def left(self) -> str:
        """Return the state it is left in and since when; why stands on its own pages."""
        return self.disposition.partition(":")[0]


@dataclass(frozen=True, slots=True)
class WalkSheet:
    """One walk with every inspection of it."""

    department: str
    time_zone: str
    as_of: datetime
    record_id: str
    place: str
    started_at: datetime
    started_by: str
    signed_at: datetime | None
    signed_name: str
    note: str
    inspections: tuple[InspectionSheet, ...] = ()


@dataclass(frozen=True, slots=True)
class FunctionLine:
    """One function of a line's chain: what it must carry and what it can."""

    name: str
    need: str
    have: str
    margin: str
    sureness: str
    evidence: str


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One thing that limits the line, in the order of biting."""

    what: str
    have: str
    need: str
    bites: str
    evidence: str


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One item aboard, with the evidence behind it."""

    tag: str
    name: str
    quantity: int
    state: str
    evidence: str
    last: str


@dataclass(frozen=True, slots=True)
class LineSheet:
    """What one line can do, how sure that is, and on what evidence; from its stored rating."""

    department: str
    time_zone: str
    as_of: datetime
    record_id: str
    line: str
    home: str
    word: str
    reason: str
    can_do: str
    sureness: str
    asked: str
    rated_at: datetime | None
    medical: str = ""
    mission: tuple[tuple[str, str], ...] = ()
    functions: tuple[FunctionLine, ...] = ()
    limits: tuple[LimitLine, ...] = ()
    not_recorded: tuple[str, ...] = ()
    blind_spots: tuple[str, ...] = ()
    single_points: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()  # limits that travel with the line
    items: tuple[ItemLine, ...] = ()
    faults: tuple[FaultLine, ...] = ()
    cautions: tuple[str, ...] = field(default=CAUTIONS)


@dataclass(frozen=True, slots=True)
class PropertyRecord:
    """One item as 2 CFR 200.313(d)(1) asks for it, and what else a grant writer needs. None: not recorded."""

    tag: str
    description: str
    kind: str
    serial: str
    plate: str
    quantity: int
    funding_source: str
    award_number: str
    assistance_listing: str
    award_threshold_usd: str
    title_holder: str
    acquired_on: date | None
    acquired_month_only: bool
    unit_cost_usd: str
    total_cost_usd: str
    federal_share_percent: str
    place: str
    place_as_of: date | None
    line: str
    use: str
    condition: str
    condition_as_written: str
    custodian: str
    accepted_on: date | None
    acceptance_assumed: bool
    state: str
    state_since: datetime | None
    state_reason: str
    sighted_on: date | None
    sighted_by: str
    last_proofs: str
    open_faults: str
    open_fault_count: int
    maintenance_spend_usd: str
    disposition: str
    disposed_on: date | None
    sale_price_usd: str
    federal_share_of_proceeds_usd: str
    gaps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One check value beside what came back for it in a run; ``word`` is pass, fail or not run."""

    id: str
    kind: str
    word: str
    expected: str
    got: str
    error: str
    source: str
    provenance: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class FormulaLine:
    """One public formula with where it comes from and the check values that exercise it."""

    name: str
    subject: str
    anchor: str
    sentence: str
    source: str
    cases: tuple[CaseLine, ...]

    @property
    def failed(self) -> int:
        return sum(case.word == "fail" for case in self.cases)

    @property
    def word(self) -> str:
        if not self.cases:
            return "no case"
        if self.failed:
            return f"{self.failed} of {len(self.cases)} fail{'s' if self.failed == 1 else ''}"
        unrun = sum(case.word == "not run" for case in self.cases)
        return "not run yet" if unrun else f"{len(self.cases)} pass{'es' if len(self.cases) == 1 else ''}"

    @property
    def level(self) -> str:
        """Return the level whose mark its word bears."""
        if self.failed:
            return "down"
        return "whole" if self.cases and all(case.word == "pass" for case in self.cases) else "unrecorded"


@dataclass(frozen=True, slots=True)
class SubjectSheet:
    """The formulas of one subject."""

    name: str
    about: str
    formulas: tuple[FormulaLine, ...]


@dataclass(frozen=True, slots=True)
class VerificationSheet:
    """Every public formula with its check values, and what the last run made of them."""

    as_of: datetime
    subjects: tuple[SubjectSheet, ...]
    astray: tuple[CaseLine, ...] = ()  # failed cases that belong to no formula: an unfit row, an unknown kind
    run_at: datetime | None = None  # None: not run on this machine by then
    record_id: str = ""
    passed: int = 0
    failed: int = 0
    asked_by: str = ""
    ran_on: str = ""  # machine and versions
    code: str = ""
    moved: bool = False  # formulas or cases are other ones now than those that were run
    problem: str = ""  # why no check values could be read

    @property
    def formulas(self) -> list[FormulaLine]:
        return [formula for subject in self.subjects for formula in subject.formulas]

    @property
    def without(self) -> list[str]:
        """Return the formulas that no check value exercises."""
        return [formula.name for formula in self.formulas if not formula.cases]


@dataclass(frozen=True, slots=True)
class Label:
    """One label: a tag, and what bears it."""

    tag: str
    name: str


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """Everything of one place that bears a tag, in bay order."""

    department: str
    place: str
    labels: tuple[Label, ...]


@dataclass(frozen=True, slots=True)
class TagSheet:
    """What is hung on a thing that is not sound."""

    department: str
    time_zone: str
    number: int
    tag: str
    name: str
    grade: str
    mode: str
    text: str
    caution: str
    found_by: str
    found_at: datetime
    restored_by: str
    printed_at: datetime
    address: str
