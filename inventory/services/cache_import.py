"""A register taken into the cache: read whole, matched against what is held, stored in one transaction.

What is decided here, and why:

- A row is taken in once. It is known again by its tag, else its serial, else by its content (kind, name, plate, date,
  line), so the same file twice makes no row. Tags made for rows without one follow from that.
- A cell that has changed since a row was taken in changes nothing. Once Holdair runs the spreadsheet is the older of
  the two; overwriting would undo postings and counts made since. Each such cell is a finding that says what the
  register has, what the record has, and where to change it.
- A serial or tag that another row holds is a finding, and the second row is not taken in: two rows about one thing
  are neither merged nor counted twice.
- Postings happen on the day of acquisition, so that past days can be asked about; a thing without a date stands from
  the day of the import. The register's quantity is an opening figure: any count beats it (``queries.standing``).
- Acceptance is the acquisition date, marked assumed; boxed only where the register says so.
- A line without a load list gets the standard list for its largest shelter, marked assumed. Without a shelter the
  number of heaters tells the lanes, without either two lanes are assumed: the longer list, so that nothing is
  overstated.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from inventory.importing.drafts import ItemDraft, LotDraft
from inventory.importing.lines import settle_crew
from inventory.importing.moving import move_dates
from inventory.importing.notices import Notices
from inventory.importing.register import Register, catalogue_for_reading, read_register
from inventory.importing.report import ImportReport
from inventory.importing.told import NOTHING, Told
from inventory.models import ImportRun, ItemKind, Line
from inventory.queries import kinds_for, standing_of_department
from inventory.services.catalogue import load_catalogue
from inventory.services.lists import standard_load_list
from inventory.services.matching import match_crew, match_items, match_lots
from inventory.services.recalls import catch_recalled
from inventory.services.runs import keep_run
from inventory.services.storing import Stored, Storing
from inventory.signals import cache_changed
from shared.models import Department, User

_WORDS = {1: "one lane", 2: "two lanes", 3: "three lanes", 4: "four lanes"}


@transaction.atomic
def import_cache(
    *,
    department: Department,
    path: str | Path,
    by: User | None,
    at: datetime,
    dry_run: bool = False,
    days_later: int = 0,
    told: Told = NOTHING,
) -> ImportReport:
    """Take a register into a department's cache and return what was taken, refused and found.

    Args:
        department: whose cache; gets the catalogue where it has none.
        path: a workbook or a text table.
        by: who imports it, or None for the command line.
        at: the instant of the import.
        dry_run: report the same, change nothing.
        days_later: move every date of the register by so many days; for the demo.
        told: what somebody said of the file's columns and cells.

    Raises:
        Unreadable: the file is no register at all; nothing has changed.
    """
    on = at.astimezone(ZoneInfo(department.time_zone)).date()
    load_catalogue(department=department, on=on)
    kinds = kinds_for(department)
    register = read_register(
        path, kinds=catalogue_for_reading(kinds.values()), department=department.name, on=on, told=told
    )
    if days_later:
        move_dates(register, days_later)
    lines = dict.fromkeys(d.line for d in (*register.items, *register.lots) if d.line)
    known = [*Line.objects.filter(department=department).values_list("name", flat=True), *lines]
    register.crew = settle_crew(register.crew, known, register.notices)
    report = _store(department, register, kinds, by, at, on)
    if dry_run:
        report.dry_run = True
        transaction.set_rollback(True)
        return report
    report.run = keep_run(department=department, sort="cache", path=Path(path), by=by, at=at, report=report)
    return report


def _store(
    department: Department, register: Register, kinds: Mapping[str, ItemKind], by: User | None, at: datetime, on: date
) -> ImportReport:
    notices = register.notices
    items = match_items(department, register.items, notices)
    lots = match_lots(department, register.lots, kinds, notices)
    crew = match_crew(department, register.crew, notices)
    storing = Storing(department, kinds, by, at, on)
    storing.items(items.new)
    storing.lots(lots.new)
    storing.crew(crew.new)
    stored = storing.stored
    kept = [*items.kept, *lots.kept]
    listed = _give_load_lists(department, kept, kinds, (at, on), notices)
    _catch_recalled(department, stored, (at, by), notices)
    notices.close()
    if stored.any or listed:
        cache_changed.send(
            sender=ImportRun,
            department=department,
            item_ids=stored.item_ids,
            lot_ids=stored.lot_ids,
            line_ids=sorted({*stored.line_ids, *listed}),
        )
    taken = Counter(items=len(items.new), lots=len(lots.new), crew=len(crew.new))
    return ImportReport(
        taken=taken.total(),
        refused=notices.refused,
        findings=notices.findings,
        details={
            "taken_by_sort": dict(taken),
            "already_held": len(items.held) + len(lots.held) + len(crew.held),
            "refused_rows": len({(n.sheet, n.row) for n in notices.refused}),
            "sheets": register.sheets,
            "first_rows": register.first_rows,
            "kinds": register.kinds(),
            "lines": _lines_taken(kept, stored),
            "lots": taken["lots"],
            "crew": taken["crew"],
        },
    )


def _catch_recalled(
    department: Department, stored: Stored, when: tuple[datetime, User | None], notices: Notices
) -> None:
    """Take out at once what a recall on record means, and say so."""
    at, by = when
    name = by.signed_name if by else "register"
    caught = catch_recalled(
        department=department, item_ids=stored.item_ids, lot_ids=stored.lot_ids, at=at, by=by, by_name=name
    )
    for recall, thing in caught:
        mark = getattr(thing, "tag", "") or thing.number
        problem = f"{mark} is under {recall}: taken out of service until its remedy is recorded"
        notices.of_file("", problem, "see Bay, Recalls", value=mark)


def _lines_taken(kept: Sequence[ItemDraft | LotDraft], stored: Stored) -> list[dict[str, Any]]:
    return [
        {
            "line": line or "(on no line)",
            "items": sum(1 for d in kept if d.line == line and isinstance(d, ItemDraft)),
            "lots": sum(1 for d in kept if d.line == line and isinstance(d, LotDraft)),
            "new": line in stored.new_lines,
        }
        for line in dict.fromkeys(d.line for d in kept)
    ]


def _give_load_lists(
    department: Department,
    kept: Sequence[ItemDraft | LotDraft],
    kinds: Mapping[str, ItemKind],
    when: tuple[datetime, date],
    notices: Notices,
) -> list[int]:
    """Give every line of the register that has no load list the standard one; return the ids of those lines."""
    of_line: dict[str, list[ItemDraft | LotDraft]] = defaultdict(list)
    for draft in kept:
        of_line[draft.line].append(draft)
    without = list(Line.objects.filter(department=department, name__in=of_line, load_rows=None))
    if not without:
        return []
    at, on = when
    aboard = standing_of_department(department, at, at).items
    for line in without:
        items = [s.item for s in aboard if s.line and s.line.pk == line.pk]
        lanes, because = _lanes(items)
        par, per_person = _register_figures(of_line[line.name])
        first = min((i.acquired_on for i in items if i.acquired_on and i.acquired_on <= on), default=on)
        standard_load_list(line=line, lanes=lanes, on=first, kinds=kinds, par=par, per_person=per_person)
        notices.of_file(
            of_line[line.name][0].origin.sheet,
            f"{line.name} has no load list: the standard list for {_WORDS.get(lanes, f'{lanes} lanes')} stands in, "
            f"marked assumed ({because})",
            "write its own load list",
            value=line.name,
        )
    return [line.pk for line in without]


def _register_figures(drafts: Sequence[ItemDraft | LotDraft]) -> tuple[dict[str, int], dict[str, float]]:
    """Return (par by kind, uses per person by kind) as the register states them for one line."""
    par: dict[str, int] = {}
    per_person: dict[str, float] = {}
    for draft in drafts:
        if draft.par is not None:
            par[draft.kind] = max(draft.par, par.get(draft.kind, 0))
        if isinstance(draft, LotDraft) and draft.per_person:
            per_person[draft.kind] = draft.per_person
    return par, per_person


def _lanes(items: list[Any]) -> tuple[int, str]:
    shelters = [int(i.spec.get("lanes") or 0) for i in items if i.kind.key == "shelter"]
    if any(shelters):
        return max(shelters), "by its largest shelter"
    heaters = sum(1 for i in items if i.kind.key == "heater")
    if heaters:
        return (1 if heaters == 1 else 2), f"no shelter with lanes is recorded; by its {heaters} heaters"
    return 2, "neither a shelter with lanes nor a heater is recorded; two lanes is the longer list"
