"""Take a register of past checks in: the same verdicts as for live ones, nothing half-taken, twice changes nothing."""

import uuid
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from inspections.entry import folded as input_name
from inspections.entry import read_entry, telling_numbers
from inspections.models import Inspection, Procedure, Repair, Upkeep
from inspections.queries.evidence import doubt_intervals_of
from inspections.register import Row, read_register
from inspections.register_words import OTHER_WORDS, check_named, reading_meant, upkeep_meant
from inspections.services.book import Book
from inspections.services.procedures import load_procedures, register_words, shipped
from inspections.services.record import announce, may_be_checked
from inspections.services.recorder import Check, Recorder, Signed
from inspections.services.upkeep import record_repair, record_upkeep
from inspections.verdicts.core import ReadingError
from inventory.importing.cells import is_nothing
from inventory.importing.register import FIRST_ROWS
from inventory.importing.report import ImportReport, Notice
from inventory.importing.sheets import hidden_tabs, read_sheets
from inventory.importing.told import NOTHING, Told
from inventory.models import Item, Line, Lot
from inventory.services.runs import keep_run
from shared.models import Department, User

ROWS = uuid.UUID("6d2c3b0e-6f0e-5a52-9a6e-3f0f3c1f9b11")  # namespace of the ids made from a row's content
RUN_OF_ALIKE = 3  # identical readings so many times running are worth a look


@dataclass(slots=True)
class _Run:
    """The same readings of one item, over and over."""

    numbers: tuple
    row: Row
    times: int = 1


@dataclass(slots=True)
class _Seen:
    """What one import keeps in mind between rows."""

    verdicts: Counter = field(default_factory=Counter)
    upkeep: Counter = field(default_factory=Counter)
    alike: dict[tuple[int, str], _Run] = field(default_factory=dict)
    already: int = 0
    failures: list[dict[str, Any]] = field(default_factory=list)
    voids: list[dict[str, Any]] = field(default_factory=list)


@transaction.atomic
def import_checks(
    *,
    department: Department,
    path: str | Path,
    by: User | None,
    at: datetime,
    dry_run: bool = False,
    told: Told = NOTHING,
) -> ImportReport:
    """Take in a register of past checks, in order of date, in one transaction.

    Rows that cannot be read are refused with their cell; all others are judged as live ones are, repairs, uses, refills
    and restorations included. The report's details count the verdicts.

    Raises:
        Unreadable: the file is no table.
    """
    path = Path(path)
    load_procedures(department=department, on=at.date())
    report = ImportReport(dry_run=dry_run)
    intake = _Intake(department, report, by, at)
    today = at.astimezone(ZoneInfo(department.time_zone)).date()
    register = read_register(told.mended(read_sheets(path)), intake.tags, today, told)
    report.refused, report.findings = register.refused, register.findings
    report.details["sheets"] = register.sheets
    report.details["first_rows"] = _first_rows(register.rows)
    _find_hidden(path, report)
    for number, row in enumerate(sorted(register.rows, key=lambda r: r.on)):
        intake.take(row, number)
    intake.finish()
    if dry_run:
        transaction.set_rollback(True)
    else:
        report.run = keep_run(department=department, sort="checks", path=path, by=by, at=at, report=report)
    return report


def _first_rows(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """Return the first rows of each sheet as they were understood."""
    shown: Counter[str] = Counter()
    said = []
    for row in rows:
        shown[row.sheet] += 1
        if shown[row.sheet] <= FIRST_ROWS:
            values = "; ".join(f"{name}={value}" for name, value in row.values.items())
            parts = (("date", row.on), ("tag", row.tag), ("check", row.check), ("by", row.by), ("readings", values),
                     ("remark", row.remark))  # fmt: skip
            said.append({"sheet": row.sheet, "row": row.row, "said": [(k, str(v)) for k, v in parts if v]})
    return said


def _find_hidden(path: Path, report: ImportReport) -> None:
    for name in hidden_tabs(path):
        problem = "this tab is hidden and was not read"
        report.findings.append(Notice(name, None, "", None, problem, "Show the tab and send the file again."))


class _Tags:
    """What a department calls its things and its checks, as the reading of a register asks for it."""

    def __init__(self, department: Department) -> None:
        items = list(Item.objects.filter(department=department).select_related("kind"))
        lots = list(Lot.objects.filter(department=department).select_related("kind"))
        shared = Counter(folded(lot.number) for lot in lots)
        self.items = {folded(item.tag): item for item in items}
        self.serials = {folded(item.serial): item for item in items if item.serial}
        # a number that two lots share names neither
        self.lots = {folded(lot.number): lot for lot in lots if shared[folded(lot.number)] == 1}
        self.lines = {folded(line.name): line for line in Line.objects.filter(department=department)}
        self.words = register_words()
        self.inputs = [
            asked
            for procedure in shipped()["procedures"]
            for asked in (*procedure["inputs"], *shipped()["common_inputs"])
        ]
        self._keys = {folded(key) for asked in self.inputs for key in (asked["key"], *asked.get("aliases", ()))}

    def subject(self, text: str) -> Item | Lot | Line | None:
        """Return what is called so: by tag, lot, line or serial; "SH-01 Shower shelter" by its first word."""
        for said in (text, text.split()[0] if text.split() else ""):
            tag = folded(said)
            if tag and (found := self.items.get(tag) or self.lots.get(tag) or self.lines.get(tag)):
                return found
        return self.serials.get(folded(text))

    def is_tag(self, text: str) -> bool:
        return self.subject(text) is not None

    def check(self, name: str, tag: str) -> str:
        subject = self.subject(tag) if tag else None
        own = subject.kind.checks if isinstance(subject, Item) else {}
        return check_named(name, self.words, tuple(own))

    def is_reading(self, heading: str) -> bool:
        if folded(heading) in self._keys or upkeep_meant(heading):
            return True
        return any(reading_meant(heading, [asked]) is not None for asked in self.inputs)

    def known_checks(self) -> str:
        return ", ".join(sorted({*self.words, *OTHER_WORDS} - {*self.words.values()}))


class _Intake:
    """Takes rows one by one into one department."""

    def __init__(self, department: Department, report: ImportReport, by: User | None, at: datetime) -> None:
        self.department, self.report, self.by, self.at = department, report, by, at
        self.book = Book(department)
        self.recorder = Recorder(self.book, hold_back=True)
        self.seen = _Seen()
        self.tags = _Tags(department)
        self.book.preload(self.tags.items.values())
        self.taken = {
            client_id
            for model in (Inspection, Repair, Upkeep)
            for client_id in model.objects.filter(department=department).values_list("client_id", flat=True)
        }
        self.written: dict[uuid.UUID, Row] = {}
        self.touched: set[int] = set()

    def take(self, row: Row, number: int) -> None:
        """Judge and write one row, or refuse it."""
        client_id = content_id(self.department, row)
        if client_id in self.written:
            self._find(
                row, row.tag, f"this row stands in the file twice (row {self.written[client_id].row})", "Delete one."
            )
            return
        if client_id in self.taken:
            self.seen.already += 1
            return
        subject = self.tags.subject(row.tag)
        if subject is None:
            problem = "no item, lot or line has this tag"
            self._refuse(row, "tag", row.tag, problem, "Take the cache in first, or correct the tag.")
            return
        try:
            with_id = {"client_id": client_id, "happened_at": self._instant(row, number), "by_name": row.by}
            if row.check in ("used", "refilled", "repair"):
                self._upkeep(row, subject, with_id)
            else:
                self._check(row, subject, with_id)
        except ReadingError as problem:
            for one in problem.every:
                self._refuse(row, one.key, one.value, one.problem, one.mend)
            return
        self.written[client_id] = row
        self.report.taken += 1

    def finish(self) -> None:
        """Write what was held back, say what was found, and tell the rooms on the right once."""
        self.recorder.flush()
        for run in self.seen.alike.values():
            self._end_run(run)
        verdicts = {verdict: self.seen.verdicts.get(verdict, 0) for verdict in Inspection.Verdict.values}
        self.report.details |= {"verdicts": verdicts, **self.seen.upkeep, "already_taken": self.seen.already}
        self.report.details |= {
            "failures": self.seen.failures,
            "voids": self.seen.voids,
            "in_doubt": self._in_doubt(),
        }
        touched = self.recorder.touched_items | self.touched
        if touched or self.recorder.touched_lines:
            announce(self.department, touched, self.recorder.touched_lines)

    def _instant(self, row: Row, number: int) -> datetime:
        """Return noon of the day, and the row's place in order behind it: a register knows days, not hours."""
        noon = datetime.combine(row.on, time(12), tzinfo=self.book.zone)
        return min(noon + timedelta(milliseconds=number), max(self.at, noon - timedelta(hours=12)))

    def _check(self, row: Row, subject: Item | Lot | Line, with_id: dict[str, Any]) -> None:
        of = {"item": None, "lot": None, "line": None, type(subject)._meta.model_name: subject}
        may_be_checked(row.check, of["item"], of["lot"], of["line"])
        procedure = self.book.procedure(row.check, row.on)
        names = self._names(procedure, row.values)
        entry = read_entry(procedure.definition, row.values, names, row.on)
        signed = Signed(with_id["happened_at"], self.at, row.by[:120], self.by, "register")
        check = Check(row.check, procedure, entry, signed, with_id["client_id"], **of, remark=row.remark)
        inspection = self.recorder.record(check)
        self.seen.verdicts[inspection.verdict] += 1
        self._name(row, inspection, procedure)
        if inspection.verdict == Inspection.Verdict.VOID:
            text = "; ".join(f"{key}={value}" for key, value in row.values.items())
            self._find(
                row,
                text,
                f"{row.tag}: void, it proves nothing: {inspection.summary.rstrip(chr(46))}",
                "Repeat the check.",
            )
        self._remember(row, subject.pk, entry.values)

    def _name(self, row: Row, inspection: Inspection, procedure: Procedure) -> None:
        """Keep each failure and each void for the report, with why."""
        lists = {Inspection.Verdict.FAIL: self.seen.failures, Inspection.Verdict.VOID: self.seen.voids}
        if inspection.verdict not in lists:
            return
        lists[Inspection.Verdict(inspection.verdict)].append(
            {
                "sheet": row.sheet,
                "row": row.row,
                "tag": row.tag,
                "check": procedure.name,
                "on": row.on.isoformat(),
                "by": inspection.by_name,
                "why": inspection.summary,
                "inspection": str(inspection.client_id),
            }
        )

    def _in_doubt(self) -> list[dict[str, Any]]:
        """Return each stretch in doubt that a record of this file ended: from the last good proof to the failure."""
        items = {item.pk: item for item in self.tags.items.values() if item.pk in self.recorder.touched_items}
        for item in items.values():
            item.department = self.department
        found = []
        for pk, intervals in doubt_intervals_of(list(items.values()), self.at).items():
            for one in intervals:
                row = self.written.get(uuid.UUID(one.inspection))
                if row is None:
                    continue
                mode = self.book.modes(row.on).get(one.mode_code)
                found.append(
                    {
                        "sheet": row.sheet,
                        "row": row.row,
                        "tag": items[pk].tag,
                        "mode": f"{one.mode_code} {mode.name}" if mode else one.mode_code,
                        "since": self._day(one.since),
                        "until": self._day(one.found_at),
                        "put_right": self._day(one.put_right_at),
                        "inspection": one.inspection,
                    }
                )
        return sorted(found, key=lambda one: (one["until"], one["tag"], one["mode"]))

    def _day(self, at: datetime | None) -> str | None:
        return self.book.day(at).isoformat() if at else None

    def _names(self, procedure: Procedure, values: Mapping[str, Any]) -> Mapping[str, Mapping[str, Any]]:
        """Return a procedure's inputs by name, with what the row's own headings mean among them."""
        names = self.book.input_names(procedure)
        strange = [name for name in values if input_name(name) not in names]
        meant = {input_name(name): reading_meant(name, procedure.definition["inputs"]) for name in strange}
        return {**names, **{name: asked for name, asked in meant.items() if asked}} if strange else names

    def _remember(self, row: Row, pk: int, values: dict[str, Any]) -> None:
        """Keep runs of identical measured numbers, alike to the last digit; what was set is alike every time."""
        numbers = telling_numbers(row.check, values)
        if not numbers:
            return
        run = self.seen.alike.get((pk, row.check))
        if run is not None and run.numbers == numbers:
            run.times, run.row = run.times + 1, row
            return
        self._end_run(run)
        self.seen.alike[pk, row.check] = _Run(numbers, row)

    def _end_run(self, run: _Run | None) -> None:
        if run is not None and run.times >= RUN_OF_ALIKE:
            problem = f"{run.row.tag}: the same readings {run.times} times running"
            text = "; ".join(f"{key}={value}" for key, value in run.row.values.items())
            self._find(run.row, text, problem, "Look whether they were read or copied.")

    def _upkeep(self, row: Row, subject: Item | Lot | Line, with_id: dict[str, Any]) -> None:
        if not isinstance(subject, Item):
            raise ReadingError("tag", row.tag, "this is not an item", "Name the item that was used or repaired.")
        values, rest = _upkeep_values(row)
        base = with_id | {
            "department": self.department,
            "item": subject,
            "by": self.by,
            "recorded_at": self.at,
            "announced": False,
        }
        self.touched.add(subject.pk)
        if row.check == "repair":
            self._repair(row, subject, values, rest, base)
        else:
            hours, to_lb = _amount(values, "hours"), _amount(values, "to_lb")
            overdue = [fault for fault in self.book.faults(subject) if fault.row.mode_code in ("LP2", "AC2")]
            if row.check == "refilled" and overdue:
                problem = f"{row.tag}: filled although it was past its requalify-by month"
                self._find(row, to_lb, problem, "Have it requalified before it is used or filled again.")
            record_upkeep(
                **base,
                sort=row.check,
                hours=hours,
                to_lb=to_lb,
                note="; ".join(t for t in (row.remark, rest) if t)[:240],
            )
        self.seen.upkeep[{"repair": "repairs", "used": "uses", "refilled": "refills"}[row.check]] += 1

    def _repair(self, row: Row, item: Item, values: dict[str, Any], rest: str, base: dict[str, Any]) -> None:
        said = (str(values.get("what", "")), rest, row.remark if not (values.get("what") or rest) else "")
        what = "; ".join(t.strip() for t in said if t.strip())[:300]
        if not what:
            raise ReadingError("what", "", "what was done is missing", "Write what was repaired.")
        cost = _amount(values, "cost")
        self.recorder.flush()
        told = {key: str(values.get(key, "")).strip() for key in ("cause", "parts", "vendor")}
        hours = _amount(values, "hours")
        record_repair(**base, what=what, cost=None if cost is None else Decimal(str(cost)), hours=hours, **told)
        self.book.forget_faults(item)

    def _refuse(self, row: Row, column: str, value: Any, problem: str, mend: str) -> None:
        letter = self._letter(row, column)
        heading = row.columns.get(column, column)
        self.report.refused.append(Notice(row.sheet, row.row, heading, value, problem, mend, letter))

    def _letter(self, row: Row, column: str) -> str:
        """Return the column of the file that a refused value stands in: its own, else that of all readings."""
        if known := row.letters.get(column):
            return known
        wanted = input_name(column)
        own = next((at for name, at in row.letters.items() if input_name(name) == wanted), "")
        return own or row.letters.get("readings", "")

    def _find(self, row: Row, value: Any, problem: str, mend: str) -> None:
        self.report.findings.append(Notice(row.sheet, row.row, row.columns.get("readings", ""), value, problem, mend))


def _upkeep_values(row: Row) -> tuple[dict[str, Any], str]:
    """Return what a use, refill or repair has fields for, and all else it says, in words."""
    values: dict[str, Any] = {}
    rest = []
    for name, value in row.values.items():
        if (key := upkeep_meant(name)) and key not in values:
            values[key] = value
        else:
            rest.append(name if value == "yes" else f"{name.strip()}={value}")
    return values, "; ".join(rest)


def _amount(values: dict[str, Any], key: str) -> float | None:
    text = str(values.get(key, "")).replace("$", "").replace(",", "").strip()
    if is_nothing(text):
        return None
    try:
        number = float(text.split()[0])
    except ValueError:
        raise ReadingError(key, values[key], "this is not a number", "Give a number.") from None
    if not 0 <= number < 1e8:
        raise ReadingError(key, values[key], "this is out of range", "Give a number from 0 on.")
    return number


def folded(tag: str) -> str:
    """Return a tag as it is compared: capitals, dashes and blanks do not tell items apart."""
    return "".join(ch for ch in str(tag).casefold() if ch.isalnum())


def content_id(department: Department, row: Row) -> uuid.UUID:
    """Return the id of a row, made from what it says, so that the same row taken in again is the same record."""
    values = ";".join(
        f"{k.strip().casefold()}={str(v).strip()}" for k, v in sorted(row.values.items(), key=lambda p: p[0])
    )
    parts = (department.pk, row.on.isoformat(), folded(row.tag), row.check, row.by.casefold(), values, row.remark)
    return uuid.uuid5(ROWS, "|".join(map(str, parts)))
