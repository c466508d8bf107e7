"""What this room answers: evidence, measured quantities, histories, open faults, what is due."""

from inspections.queries.agenda import AgendaRow, Wanted, agenda
from inspections.queries.due import DueCheck, due
from inspections.queries.evidence import (
    WEAKEST_FIRST,
    DoubtInterval,
    EvidenceOfMode,
    doubt_intervals,
    doubt_intervals_of,
    evidence,
    evidence_word,
    line_evidence,
)
from inspections.queries.faults import (
    Episode,
    OpenDeficiency,
    RiskAccepted,
    accepted_risks,
    fault_episodes,
    open_deficiencies,
)
from inspections.queries.histories import histories
from inspections.queries.instruments import Meter, in_question, instrument_of, instruments
from inspections.queries.ledgers import Proofs, read_proofs
from inspections.queries.measured import MeasuredOf, measured
from inspections.queries.trends import trends
from inspections.queries.walks import QualityFlag, open_walks, quality, quality_of, quality_of_each, walker

__all__ = [
    "WEAKEST_FIRST",
    "AgendaRow",
    "DoubtInterval",
    "DueCheck",
    "Episode",
    "EvidenceOfMode",
    "Meter",
    "MeasuredOf",
    "OpenDeficiency",
    "Proofs",
    "QualityFlag",
    "Wanted",
    "agenda",
    "RiskAccepted",
    "accepted_risks",
    "doubt_intervals",
    "doubt_intervals_of",
    "due",
    "evidence",
    "evidence_word",
    "fault_episodes",
    "histories",
    "in_question",
    "instrument_of",
    "instruments",
    "line_evidence",
    "measured",
    "open_deficiencies",
    "open_walks",
    "quality",
    "quality_of",
    "quality_of_each",
    "read_proofs",
    "trends",
    "walker",
]
