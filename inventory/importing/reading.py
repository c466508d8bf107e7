"""One row of a table as a draft: every typed cell parsed, or the row refused with each cell that cannot be."""

import re
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from dateutil.relativedelta import relativedelta

from inventory.importing import conditions
from inventory.importing.cells import (
    CellError,
    Day,
    is_nothing,
    parse_day,
    parse_factor,
    parse_money,
    parse_quantity,
    parse_serial,
    parse_share,
    text_of,
    writes_day_first,
)
from inventory.importing.columns import PLATE, Table
from inventory.importing.drafts import CrewDraft, Drafted, ItemDraft, LotDraft, Origin
from inventory.importing.findings import look_at_item, look_at_lot
from inventory.importing.kinds import Recognised, Recogniser
from inventory.importing.notices import Notices
from inventory.importing.sentences import person_in, quantity_in
from inventory.importing.specs import read_spec
from inventory.importing.walk import Row, line_named_in, places_named_in

T = TypeVar("T")
NO_LINE = frozenset(
    {
        "all", "both", "shared", "any", "spare", "spares", "reserve", "store", "stores", "pool", "common", "every",
        "all lines", "stock",
    }
)  # fmt: skip
_OF_A_THING = ("tag", "serial", "quantity", "lot", "cost", "acquired", "expires", "serial_lot", "made", "par")
_NOT_YET = re.compile(
    r"(?:not (?:yet|done|taken|qualified)|no|never|pending|in progress|scheduled|needs? \w+|in class)", re.I
)
_AWARD = re.compile(r"\b(?=[A-Za-z0-9./-]*\d{2})(?=[A-Za-z0-9./-]*[A-Za-z])[A-Za-z0-9]+(?:[-/.][A-Za-z0-9]+)+\b")
_PERCENT = re.compile(r"\d+(?:\.\d+)?\s*%")
_SERIAL_IN = re.compile(r"\bs\s*/?\s*n\b\s*[:#.]?\s*(\S+)|\bserial\b\s*(?:no\.?|number|#)?\s*[:#]?\s*(\S+)", re.I)
_BARE_PLACE = re.compile(r"^(?:\d{1,3}[A-Za-z]?|[A-Za-z])$")
_STATION = re.compile(r"\b(?:station|stn|sta|building|bldg|hq|headquarters|warehouse|hospital)\b", re.I)
_PLACE_HEADING = re.compile(r"\b(station|bay|room|building|shelf|rack|container|bin|compartment)\b", re.I)


class _Refused(Exception):
    """A cell was refused and noted; the row goes no further."""


class RowReader:
    """Turns the rows of one file into drafts, against the kinds of one catalogue, on one day."""

    def __init__(
        self, kinds: Mapping[str, Mapping[str, Any]], recogniser: Recogniser, notices: Notices, on: date
    ) -> None:
        self.kinds, self.recogniser, self.notices, self.on = kinds, recogniser, notices, on
        self._day_first: dict[tuple[str, int], bool] = {}

    def draft(self, table: Table, row: Row) -> ItemDraft | LotDraft | CrewDraft | None:
        """Return a row's draft; None where it was refused."""
        origin = _origin(table, row)
        cells = _Parsed(self, table, row, origin)
        if table.sort == "crew":
            drafted: Any = self._crew(cells)
        else:
            drafted = self._thing(table, cells)
        if cells.refused:
            return None
        if isinstance(drafted, ItemDraft):
            look_at_item(drafted, self.kinds[drafted.kind], self.notices, self.on)
        elif isinstance(drafted, LotDraft):
            look_at_lot(drafted, self.notices, self.on)
        return drafted

    def refuse_nameless(self, table: Table, row: Row) -> None:
        """Refuse a row that says something of a thing or a person it does not name; find one that says little."""
        origin = _origin(table, row)
        if table.sort == "crew":
            self.notices.refuse(origin, "person", "the row names nobody", "write the name, or clear the row")
        elif any(not is_nothing(row.first(r)) for r in _OF_A_THING):
            self.notices.refuse(origin, "name", "the row names no item", "write what it is, or clear the row")
        else:
            said = "; ".join(text_of(c) for pairs in row.cells.values() for _, c in pairs) or "cells without a heading"
            problem = f"the row names no item and was passed over: {said[:120]}"
            self.notices.find(origin, "name", problem, "write what it is about, or clear the row")

    def day_first(self, table: Table, index: int) -> bool:
        """Return whether a column writes the day before the month."""
        key = (table.sheet.name, index)
        if key not in self._day_first:
            rows = table.sheet.rows[table.first_row :]
            self._day_first[key] = writes_day_first([r[index] for r in rows if index < len(r)])
        return self._day_first[key]

    def _thing(self, table: Table, cells: "_Parsed") -> ItemDraft | LotDraft:
        name, plate = cells.name(), cells.plate()
        known = self.recogniser.recognise(name, plate)
        consumable = self.kinds[known.key]["consumable"] or (table.sort == "lots" and known.key == "other")
        return self._lot(cells, name, known) if consumable else self._item(cells, name, plate, known)

    def _item(self, cells: "_Parsed", name: str, plate: str, known: Recognised) -> ItemDraft:
        kind = self.kinds[known.key]
        maker, serial = cells.maker_and_serial()
        note, condition = cells.note(), cells.condition()
        # what is stamped on a cylinder often stands among the notes
        stamped = note if known.key in ("propane", "air_cylinder") else ""
        spec, wrong = read_spec(known.key, kind["spec"], plate, name, stamped)
        for complaint in wrong:
            self.notices.find(
                cells.origin, "spec", f"{complaint} cannot be right; not taken over", "read the plate again"
            )
        event, reason, event_on = cells.state(condition, note)
        share, award, funding = cells.funding()
        quantity = 0 if (gone := conditions.is_gone(condition, note)) else cells.quantity(kind)
        if gone:
            role = "condition" if conditions.is_gone(condition, "") else "note"
            problem = "the register says it is missing: taken in as absent"
            self.notices.find(cells.origin, role, problem, "count it when it is found")
        return ItemDraft(
            **cells.common(name, known, quantity),
            tag=cells.tag(),
            serial=serial,
            plate=maker,
            quantity=quantity,
            acquired=cells.day("acquired"),
            made=cells.day("made" if "made" in cells.row.cells else "expires_made"),
            federal_share=share,
            award=award,
            listing=cells.text("listing")[:20],
            funding=funding,
            condition=conditions.condition_of(condition),
            condition_as_written=condition[:60],
            custodian=cells.text("custodian")[:120],
            title_holder=cells.text("title")[:160],
            use=cells.text("use")[:200],
            spec=spec,
            spec_as_written=plate[:300],
            note=note,
            event=event,
            event_reason=reason,
            event_on=event_on,
        )

    def _lot(self, cells: "_Parsed", name: str, known: Recognised) -> LotDraft:
        number, expires = cells.lot_and_expiry()
        on_hand = cells.quantity(self.kinds[known.key])
        received = cells.day("acquired")
        if received and expires and expires <= received.on:
            cells.refuse(
                "expires", f"it expires on {expires}, before it came on {received.on}", "read both dates again"
            )
        return LotDraft(
            **cells.common(name, known, on_hand),
            number=number[:60],
            on_hand=on_hand,
            received=received,
            expires_on=expires,
            per_person=cells.parsed("per_person", parse_factor),
            note=cells.note(),
        )

    def _crew(self, cells: "_Parsed") -> CrewDraft:
        row, text = cells.row, cells.text("person")
        full = text or " ".join(t for t in (cells.text("first_name"), cells.text("last_name")) if t)
        cells.read_person(full)
        full = text_of(row.first("person")) if text else full
        since, until = cells.qualified("qualified_on"), cells.qualified("qualified_until")
        if (either := cells.qualified("qualified")) is not None:
            # "until/since": a day gone by is when it began, a day to come is when it ends
            if _end_of(either) >= self.on:
                until = until or either
            else:
                since = since or either
        if since is None and until is None and not cells.refused:
            role = next((r for r in ("qualified", "qualified_until", "qualified_on") if r in cells.origin.headings), "")
            self.notices.find(cells.origin, role, "no date of qualification: does not count as crew", "write the date")
        line = line_cell_of(row.first("line"))
        return CrewDraft(
            origin=cells.origin,
            name=full[:120],
            role=cells.text("role")[:40],
            line=line or "",
            qualified_on=since.on if since else None,
            qualified_until=_end_of(until) if until else None,
        )


class _Parsed:
    """The cells of one row, parsed when asked for; a refusal is noted and remembered."""

    def __init__(self, reader: RowReader, table: Table, row: Row, origin: Origin) -> None:
        self.reader, self.table, self.row, self.origin = reader, table, row, origin
        self.notices, self.refused = reader.notices, False
        self._known: dict[str, Any] = {}  # cells parsed already, so that each is refused once

    def refuse(self, role: str, problem: str, mend: str) -> None:
        self.refused = True
        self.notices.refuse(self.origin, role, problem, mend)

    def parsed(self, role: str, parser: Callable[[Any], T]) -> T | None:
        if role not in self._known:
            self._known[role] = None
            try:
                self._known[role] = parser(self.row.first(role))
            except CellError as error:
                self.refuse(role, error.problem, error.mend)
        return self._known[role]

    def name(self) -> str:
        """Return what the row calls the thing, from one column or two that say it together."""
        said = dict.fromkeys(text_of(c) for _, c in self.row.cells.get("name", ()) if not is_nothing(c))
        parts = [p for p in said if re.search(r"[A-Za-z]", p)]
        return ", ".join(p for p in parts if not any(p != q and p.lower() in q.lower() for q in parts))[:160]

    def text(self, role: str) -> str:
        text = self.row.text(role)
        return "" if is_nothing(text) else text

    def day(self, role: str) -> Day | None:
        pairs = self.row.cells.get(role)
        if not pairs:
            return None
        day_first = self.reader.day_first(self.table, pairs[0][0].index)
        return self.parsed(role, lambda cell: parse_day(cell, day_first=day_first))

    def qualified(self, role: str) -> Day | None:
        """Return the day of a roster's column; "not yet" and "pending" are no day and nothing to mend."""
        return None if _NOT_YET.fullmatch(self.text(role)) else self.day(role)

    def read_person(self, text: str) -> None:
        """Take "Marlow (Hazmat tech) exp 2027-05" apart, where the row's other columns do not say the same."""
        said = person_in(text)
        if len(said) < 2 or "person" not in said or "person" not in self.row.cells:
            return
        column = self.row.cells["person"][0][0]
        for role, value in said.items():
            dated = role in ("qualified_on", "qualified_until") and "qualified" in self.row.cells
            if role == "person" or (role not in self.row.cells and not dated):
                self.row.cells[role] = [(column, value)]
                if role != "person":
                    self.origin.cells[role], self.origin.cells[f"{role} column"] = value, column.stands_at
                    self.origin.headings.setdefault(role, self.origin.headings.get("person", ""))

    def state(self, condition: str, note: str) -> tuple[str, str, date | None]:
        """Return (state event, the words that say so, the day given for it), from the row or what stands over it."""
        gone = self.parsed("disposed_on", parse_day) if "disposed_on" in self.row.cells else None
        if gone is not None:
            return "disposed", f"disposed {text_of(self.row.first('disposed_on'))}", gone.on
        for said in (
            conditions.state_said(condition, note),
            conditions.state_said(self.text("disposition"), ""),
            conditions.state_of_place(self.text("place")),
            conditions.state_of_heading(self.row.section),
            conditions.state_of_heading(self.origin.sheet),
        ):
            if said[0]:
                return *said, None
        return "", "", None

    def tag(self) -> str:
        tag = self.row.first("tag")
        return "" if is_nothing(tag) else text_of(tag)[:40]

    def quantity(self, kind: Mapping[str, Any]) -> int:
        many = self.parsed("quantity", parse_quantity)
        if many is None and not self.refused and (many := quantity_in(self.name())) is not None:
            problem = f"no column says how many: {many} taken from the name {self.name()!r}"
            self.notices.find(self.origin, "name", problem, "count them")
        if many is None and not self.refused and not kind["serialised"]:
            mend = "count them and write the number"
            self.notices.blank(self.origin, "quantity", "how many there are; each is taken as 1", mend)
        return 1 if many is None else many

    def note(self) -> str:
        return "; ".join(t for t in (self.row.text("note"), self.row.text("condition_note")) if t)

    def condition(self) -> str:
        return self.text("condition") or self.text("condition_note")

    def plate(self) -> str:
        """Return the spec cells and every plate figure that has a column of its own, as one text."""
        parts = [text_of(cell) for _, cell in self.row.cells.get("spec", ())]
        for column, cell in self.row.cells.get(PLATE, ()):
            if not is_nothing(cell):
                parts.append(_plate_figure(column.heading, cell))
        return "; ".join(p for p in parts if p and not is_nothing(p))

    def maker_and_serial(self) -> tuple[str, str]:
        maker = "; ".join(t for t in (self.text("maker"),) if t)
        role = next((r for r in ("serial", "maker_serial", "serial_lot") if r in self.row.cells), "serial")
        cell = self.row.first(role)
        if role == "maker_serial":
            maker, cell = _split_maker(text_of(cell))
        serial, instead = parse_serial(cell)
        if instead:
            self.notices.find(
                self.origin,
                role,
                f"the register gives {instead!r} for the serial: taken in without one",
                "read the plate, photograph it and enter the serial; where there is none, write none stamped",
            )
        return maker[:200], serial

    def funding(self) -> tuple[Decimal | None, str, str]:
        """Return (federal share, award number, source in words) from whichever columns say so."""
        share = self.parsed("share", parse_share)
        fraction, source = (share.fraction, share.source) if share else (None, "")
        award = self.text("award")
        if award and not re.search(r"\d", award):
            source, award = source or award, ""
        if fraction is None:
            fraction = self._federal_part()
        mixed = self.text("funding")
        if mixed:
            if match := _PERCENT.search(mixed):
                fraction = Decimal(match.group().rstrip("% ")) / 100 if fraction is None else fraction
            if found := _AWARD.search(mixed):
                award = award or found.group()
            rest = _AWARD.sub("", _PERCENT.sub("", mixed)).strip(" ,;/-()")
            source = source or rest
            if fraction is None and not award:
                fraction = _share_of_words(mixed)
        if fraction is not None and not 0 <= fraction <= 1:
            self.refuse("funding", f"{mixed!r} is not between 0 and 100 percent", "write the federal part, such as 75%")
        return fraction, award[:60], source[:120]

    def _federal_part(self) -> Decimal | None:
        """Return the federal share of a row that gives it in dollars beside the cost of one."""
        amount, cost = self.parsed("federal_amount", parse_money), self.parsed("cost", parse_money)
        if amount is None or not cost:
            return None
        if amount <= cost and (self.parsed("quantity", parse_quantity) or 1) == 1:
            return (amount / cost).quantize(Decimal("0.0001"))
        problem = f"{amount} of {cost} for one cannot be told as a share: not taken over"
        self.notices.find(self.origin, "federal_amount", problem, "write the federal part in percent")
        return None

    def lot_and_expiry(self) -> tuple[str, date | None]:
        number = self.text("lot") or self.text("serial_lot") or self.tag() or self.text("serial")
        expires = self.day("expires" if "expires" in self.row.cells else "expires_made")
        if both := self.text("lot_expires"):
            number, _, rest = re.sub(r"\b(?:exp\w*|lot)\b\.?:?", " ", both, flags=re.I).strip().partition(" ")
            try:
                expires = parse_day(rest.strip(" /,;-"))
            except CellError as error:
                self.refuse("lot_expires", error.problem, error.mend)
        return number, _end_of(expires) if expires else None

    def common(self, name: str, known: Recognised, quantity: int) -> dict[str, Any]:
        line_cell, places = self._line_and_places()
        return {
            "origin": self.origin,
            "kind": known.key,
            "sureness": known.sureness,
            "nearest": known.nearest,
            "name": name,
            "line": self.row.section_line,
            "line_cell": line_cell,
            "section": self.row.section,
            "places": places,
            "unit_cost": self._unit_cost(quantity),
            "par": self.parsed("par", parse_quantity),
        }

    def _unit_cost(self, quantity: int) -> Decimal | None:
        cost = self.parsed("cost", parse_money)
        total = self.parsed("total_cost", parse_money) if cost is None and "total_cost" in self.row.cells else None
        return (total / quantity).quantize(Decimal("0.01")) if total is not None and quantity > 0 else cost

    def _line_and_places(self) -> tuple[str | None, tuple[str, ...]]:
        line, places = line_cell_of(self.row.first("line")), []
        for column, cell in self.row.cells.get("place", ()):
            text = text_of(cell)
            if conditions.state_of_place(text)[0]:
                continue  # "Borrowed by Sam until 12/1" is no place of ours
            if _BARE_PLACE.match(text) and (word := _PLACE_HEADING.search(column.heading)):
                text = f"{word.group().capitalize()} {text}"
            places.extend(places_named_in(text))
        for _, cell in self.row.cells.get("line_place", ()):
            for part in places_named_in(text_of(cell)):
                if line is None and (said := line_named_in(part)):
                    line = said
                else:
                    places.append(part)
        above = self.row.section_places
        if above and not (places and _STATION.search(places[0])):
            # the section says the station, the row the bay in it
            places = [*above, *(p for p in places if p not in above)]
        return line, tuple(dict.fromkeys(places))


def line_cell_of(cell: Any) -> str | None:
    """Return the line a cell names, "" where it says that it belongs to none in particular, None where it is blank."""
    text = text_of(cell).strip(" -*")
    if not text:
        return None
    if is_nothing(text) or text.lower() in NO_LINE:
        return ""
    if re.fullmatch(r"[A-Za-z0-9]{1,2}", text):
        return f"Line {text.upper()}"
    said = line_named_in(text)
    return said if said and len(said) >= len(text) - 8 and said.lower().split()[0] in text.lower() else text[:80]


def thing_of(drafted: Drafted) -> str:
    """Return how a notice names a draft."""
    return getattr(drafted, "tag", "") or getattr(drafted, "number", "") or drafted.name


def _origin(table: Table, row: Row) -> Origin:
    headings = {c.role: c.heading or f"column {c.letter}" for c in reversed(table.columns) if c.role}
    cells: dict[str, Any] = {}
    for role, pairs in row.cells.items():
        cells[role], cells[f"{role} column"] = pairs[0][1], pairs[0][0].stands_at
    for role in ("expires", "made") if "expires_made" in row.cells else ():
        headings.setdefault(role, headings["expires_made"])
        for part in ("", " column"):
            cells.setdefault(f"{role}{part}", cells[f"expires_made{part}"])
    return Origin(table.sheet.name, row.number, headings, cells)


def _plate_figure(heading: str, cell: Any) -> str:
    unit = re.search(r"\(([^)]*)\)", heading)
    label = re.sub(r"\([^)]*\)", "", heading).strip()
    figure = f"{cell:%Y-%m}" if isinstance(cell, date) else text_of(cell)
    if isinstance(cell, int | float) or re.fullmatch(r"[\d.,]+", figure):
        # "GPM | 30" reads 30 GPM, "Tare (lb) | 68" reads Tare 68 lb
        figure = f"{figure} {unit.group(1) if unit else label}"
    return f"{label} {figure}"


def _split_maker(text: str) -> tuple[str, str]:
    if match := _SERIAL_IN.search(text):
        return text[: match.start()].strip(" ,;/|-"), match.group(1) or match.group(2)
    parts = [p.strip() for p in re.split(r"\s*[/|,;]\s*|\s+-\s+|\s{2,}", text) if p.strip()]
    codes = [p for p in parts if re.search(r"\d", p) and " " not in p]
    if len(parts) == 1 and " " in text and re.search(r"\d", text.split()[-1]):
        return text.rsplit(" ", 1)[0], text.split()[-1]
    serial = codes[-1] if codes else (parts[-1] if len(parts) > 1 else "")
    return "; ".join(p for p in parts if p != serial), serial


def _share_of_words(text: str) -> Decimal | None:
    try:
        share = parse_share(text)
    except CellError:
        return None  # "federal" or "grant" alone does not say which part
    return share.fraction if share else None


def _end_of(day: Day) -> date:
    """Return the last day a date can mean: good through December is good until the 31st."""
    if day.precision == "month":
        return day.on + relativedelta(months=1) - timedelta(days=1)
    return date(day.on.year, 12, 31) if day.precision == "year" else day.on
