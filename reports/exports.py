"""The equipment status export: one header row, one row an item, streamed.

A cell that a spreadsheet would run as a formula gets an apostrophe before it; a real number never does, since -40 is
a temperature and not an attack. ``unguarded`` takes the apostrophe off again, so nothing is lost on the way.
A field that 2 CFR 200.313(d)(1) asks for is never blank: it says ``not recorded``, or why it does not apply.
"""

import csv
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime
from typing import Final

from reports.sheets import NOT_RECORDED, PropertyRecord

BOM: Final = "\ufeff"
ROWS_AT_ONCE: Final = 100
NOT_DISPOSED: Final = "not disposed"
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
# Apostrophes before the sign count too: a cell written as '=A1 must come back as '=A1.
_RUNS = re.compile(r"'*[=+\-@\t\r\n]")


def guarded(text: str) -> str:
    """Return a cell that no spreadsheet runs: text it would take for a formula gets an apostrophe before it."""
    return f"'{text}" if _RUNS.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(cell: str) -> str:
    """Return what ``guarded`` was given."""
    return cell[1:] if cell.startswith("'") and _RUNS.match(cell[1:]) else cell


Column = tuple[str, Callable[[PropertyRecord], object]]


def _asked_for(field: str) -> Callable[[PropertyRecord], object]:
    """A field of the rule: a missing value is named."""
    return lambda record: getattr(record, field) or NOT_RECORDED


def _of_disposed(field: str) -> Callable[[PropertyRecord], object]:
    return lambda record: (getattr(record, field) or NOT_RECORDED) if record.disposed_on else NOT_DISPOSED


def _plain(field: str) -> Callable[[PropertyRecord], object]:
    return lambda record: getattr(record, field)


def _fain(record: PropertyRecord) -> str:
    if record.award_number:
        return record.award_number
    return "none: no federal share" if record.federal_share_percent == "0" else NOT_RECORDED


def _location(record: PropertyRecord) -> str:
    return record.place or ("none: disposed" if record.disposed_on else NOT_RECORDED)


# The rule's own fields first, in the rule's order; then what a grant writer and a monitor ask next.
COLUMNS: Final[tuple[Column, ...]] = (
    ("description", _asked_for("description")),
    ("serial_or_other_id", lambda r: r.serial or r.tag),
    ("funding_source", _asked_for("funding_source")),
    ("award_fain", _fain),
    ("title_holder", _asked_for("title_holder")),
    ("acquisition_date", _asked_for("acquired_on")),
    ("cost_usd", lambda r: r.total_cost_usd or NOT_RECORDED),
    ("federal_participation_percent", _asked_for("federal_share_percent")),
    ("location", _location),
    ("use", _asked_for("use")),
    ("condition", _asked_for("condition")),
    ("disposition", _of_disposed("disposition")),
    ("disposition_date", _of_disposed("disposed_on")),
    ("sale_price_usd", _of_disposed("sale_price_usd")),
    ("tag", _plain("tag")),
    ("serial", _plain("serial")),
    ("plate", _plain("plate")),
    ("kind", _plain("kind")),
    ("line", _plain("line")),
    ("quantity", _plain("quantity")),
    ("unit_cost_usd", _plain("unit_cost_usd")),
    ("acquisition_day_known", lambda r: "" if r.acquired_on is None else "no" if r.acquired_month_only else "yes"),
    ("assistance_listing", _plain("assistance_listing")),
    ("award_equipment_threshold_usd", _plain("award_threshold_usd")),
    ("condition_as_written", _plain("condition_as_written")),
    ("custodian", _asked_for("custodian")),
    ("location_as_of", _plain("place_as_of")),
    ("last_sighted_on", _asked_for("sighted_on")),
    ("last_sighted_by", _asked_for("sighted_by")),
    ("accepted_on", _plain("accepted_on")),
    ("acceptance_assumed", lambda r: "yes" if r.acceptance_assumed else "no"),
    ("state", _plain("state")),
    ("state_since", _plain("state_since")),
    ("state_reason", _plain("state_reason")),
    ("last_proof_of_each_impairment_mode", _plain("last_proofs")),
    ("open_deficiencies", _plain("open_fault_count")),
    ("open_deficiencies_named", _plain("open_faults")),
    ("maintenance_spend_usd", _plain("maintenance_spend_usd")),
    ("federal_share_of_proceeds_usd", _plain("federal_share_of_proceeds_usd")),
    ("gaps", lambda r: "; ".join(r.gaps)),
)
HEADER: Final = (*(name for name, _ in COLUMNS), "data_as_of")


def status_csv(records: Iterable[PropertyRecord], *, as_of: datetime, bom: bool = False) -> Iterator[str]:
    """Yield the export as text, some rows at a time; the first piece carries the byte order mark where asked for."""
    buffer = _Buffer()
    writer = csv.writer(buffer, lineterminator="\r\n")
    stamp = as_of.astimezone(UTC).isoformat(timespec="minutes")
    writer.writerow(HEADER)
    yield (BOM if bom else "") + buffer.taken()
    for number, record in enumerate(records, start=1):
        writer.writerow([*(guarded(_text(value(record))) for _, value in COLUMNS), stamp])
        if number % ROWS_AT_ONCE == 0:
            yield buffer.taken()
    if rest := buffer.taken():
        yield rest


def _text(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="minutes")
    return value.isoformat() if isinstance(value, date) else "" if value is None else str(value)


class _Buffer:
    """Where the csv writer writes; emptied after each piece."""

    def __init__(self) -> None:
        self._pieces: list[str] = []

    def write(self, text: str) -> None:
        self._pieces.append(text)

    def taken(self) -> str:
        text, self._pieces = "".join(self._pieces), []
        return text
