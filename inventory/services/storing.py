"""New rows of a register in bulk: places, lines and awards as they are named, then things and their postings."""

import uuid
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import Max

from inventory.importing.drafts import CrewDraft, Drafted, ItemDraft, LotDraft
from inventory.models import Award, CrewMember, Item, ItemKind, Line, Lot, Place, Posting, StateEvent
from shared.models import Department, User

_SORTS = (
    ("station", Place.Sort.STATION),
    ("hq", Place.Sort.STATION),
    ("headquarters", Place.Sort.STATION),
    ("building", Place.Sort.STATION),
    ("hospital", Place.Sort.STATION),
    ("warehouse", Place.Sort.STATION),
    ("shelf", Place.Sort.SHELF),
    ("rack", Place.Sort.SHELF),
    ("bin", Place.Sort.SHELF),
    ("bay", Place.Sort.BAY),
    ("container", Place.Sort.CONTAINER),
    ("conex", Place.Sort.CONTAINER),
    ("trailer", Place.Sort.CONTAINER),
    ("compartment", Place.Sort.CONTAINER),
    ("box", Place.Sort.CONTAINER),
)


@dataclass
class Stored:
    """What was written, for the news of it."""

    item_ids: list[int] = field(default_factory=list)
    lot_ids: list[int] = field(default_factory=list)
    line_ids: set[int] = field(default_factory=set)
    new_lines: set[str] = field(default_factory=set)
    crew: int = 0

    @property
    def any(self) -> bool:
        return bool(self.item_ids or self.lot_ids or self.crew)


class Storing:
    """Writes drafts into one department, at one instant, in one person's name."""

    def __init__(
        self, department: Department, kinds: Mapping[str, ItemKind], by: User | None, at: datetime, on: date
    ) -> None:
        self.department, self.kinds, self.by, self.at, self.on = department, kinds, by, at, on
        self.by_name = by.signed_name if by else "register"
        self.zone = ZoneInfo(department.time_zone)
        self.stored = Stored()
        self._lines = {line.name: line for line in Line.objects.filter(department=department)}
        self._places = {place.name: place for place in Place.objects.filter(department=department)}
        self._awards = {award.number: award for award in Award.objects.filter(department=department)}

    def items(self, drafts: Sequence[ItemDraft]) -> None:
        """Write items with their first posting and, where the register says so, their state."""
        if not drafts:
            return
        self._name_lines(drafts)
        first = (Item.objects.filter(department=self.department).aggregate(m=Max("order"))["m"] or 0) + 1
        made = Item.objects.bulk_create(self._item(d, first + n) for n, d in enumerate(drafts))
        pairs = list(zip(made, drafts, strict=True))
        Posting.objects.bulk_create(
            self._posting(draft, draft.quantity, draft.acquired.on if draft.acquired else None, item=item)
            for item, draft in pairs
        )
        StateEvent.objects.bulk_create(self._event(item, draft) for item, draft in pairs if draft.event)
        self.stored.item_ids += [item.pk for item in made]

    def lots(self, drafts: Sequence[LotDraft]) -> None:
        """Write lots and what is on hand of them on each line; a lot on two lines is one lot with two postings."""
        if not drafts:
            return
        self._name_lines(drafts)
        lots = {(lot.kind_id, lot.number): lot for lot in Lot.objects.filter(department=self.department)}
        new: dict[tuple[int, str], Lot] = {}
        for draft in drafts:
            key = (self.kinds[draft.kind].pk, draft.number)
            if key not in lots and key not in new:
                new[key] = self._lot(draft)
        lots |= {(lot.kind_id, lot.number): lot for lot in Lot.objects.bulk_create(new.values())}
        touched = [lots[self.kinds[d.kind].pk, d.number] for d in drafts]
        Posting.objects.bulk_create(
            self._posting(draft, draft.on_hand, draft.received.on if draft.received else None, lot=lot)
            for lot, draft in zip(touched, drafts, strict=True)
        )
        self.stored.lot_ids += [lot.pk for lot in touched]

    def crew(self, drafts: Sequence[CrewDraft]) -> None:
        """Write people on the roster."""
        made = CrewMember.objects.bulk_create(
            CrewMember(
                department=self.department,
                name=d.name,
                role=d.role,
                line=self._lines.get(d.line),
                qualified_on=d.qualified_on,
                qualified_until=d.qualified_until,
                made_at=self.at,
            )
            for d in drafts
        )
        self.stored.crew += len(made)
        of_all = any(d.line == "" for d in drafts)
        named = {d.line for d in drafts}
        self.stored.line_ids |= {line.pk for line in self._lines.values() if of_all or line.name in named}

    def _item(self, draft: ItemDraft, order: int) -> Item:
        here_on = draft.acquired.on if draft.acquired and draft.acquired.on <= self.on else None
        accepted = here_on if draft.event != "boxed" else None
        made_on = draft.made.on if draft.made else _month_start(draft.spec.get("made"))
        return Item(
            department=self.department,
            kind=self.kinds[draft.kind],
            tag=draft.tag,
            name=draft.name,
            serial=draft.serial,
            plate=draft.plate,
            acquired_on=draft.acquired.on if draft.acquired else None,
            acquired_month_only=bool(draft.acquired and draft.acquired.precision != "day"),
            accepted_on=accepted,
            acceptance_assumed=accepted is not None,
            manufactured_on=made_on,
            unit_cost=draft.unit_cost,
            federal_share=draft.federal_share,
            award=self._award(draft),
            funding_source=draft.funding,
            title_holder=draft.title_holder,
            use=draft.use,
            condition=draft.condition,
            condition_as_written=draft.condition_as_written,
            custodian=draft.custodian,
            spec=draft.spec,
            spec_as_written=draft.spec_as_written,
            note=draft.note,
            order=order,
            kind_sureness=draft.sureness,
            made_at=self.at,
        )

    def _lot(self, draft: LotDraft) -> Lot:
        return Lot(
            department=self.department,
            kind=self.kinds[draft.kind],
            number=draft.number,
            name=draft.name,
            received_on=draft.received.on if draft.received else None,
            expires_on=draft.expires_on,
            unit_cost=draft.unit_cost,
            per_person=draft.per_person,
            note=draft.note,
            made_at=self.at,
        )

    def _posting(
        self, draft: Drafted, change: int, since: date | None, *, item: Item | None = None, lot: Lot | None = None
    ) -> Posting:
        line = self._lines.get(draft.line)
        if line:
            self.stored.line_ids.add(line.pk)
        return Posting(
            department=self.department,
            client_id=uuid.uuid4(),
            item=item,
            lot=lot,
            change=change,
            place=self._place(draft.places),
            line=line,
            reason=Posting.Reason.REGISTERED,
            note=f"register, {draft.origin.sheet}, row {draft.origin.row}"[:240],
            happened_at=self._instant(since),
            recorded_at=self.at,
            by=self.by,
            by_name=self.by_name,
        )

    def _event(self, item: Item, draft: ItemDraft) -> StateEvent:
        since = draft.acquired.on if draft.event == "boxed" and draft.acquired else draft.event_on
        return StateEvent(
            department=self.department,
            item=item,
            event=draft.event,
            reason=f"the register says: {draft.event_reason}"[:240],
            happened_at=self._instant(since),
            recorded_at=self.at,
            by=self.by,
            by_name=self.by_name,
        )

    def _instant(self, day: date | None) -> datetime:
        """Return when a day began where the department is; else the import itself, as where it is to come."""
        began = datetime.combine(day, time.min, self.zone) if day else self.at
        return min(began, self.at)

    def _name_lines(self, drafts: Sequence[Drafted]) -> None:
        for name in dict.fromkeys(d.line for d in drafts if d.line and d.line not in self._lines):
            homes = Counter(d.places for d in drafts if d.line == name and d.places)
            home = self._place(homes.most_common(1)[0][0]) if homes else None
            self._lines[name] = Line.objects.create(
                department=self.department, name=name, home=home, order=len(self._lines), made_at=self.at
            )
            self.stored.new_lines.add(name)

    def _place(self, parts: Sequence[str]) -> Place | None:
        within: Place | None = None
        for depth in range(1, len(parts) + 1):
            name = ", ".join(parts[:depth])[:160]
            if name not in self._places:
                self._places[name] = Place.objects.create(
                    department=self.department,
                    name=name,
                    sort=_sort_of(parts[depth - 1], depth),
                    within=within,
                    order=len(self._places),
                )
            within = self._places[name]
        return within

    def _award(self, draft: ItemDraft) -> Award | None:
        if not draft.award:
            return None
        if draft.award not in self._awards:
            self._awards[draft.award] = Award.objects.create(
                department=self.department, number=draft.award, assistance_listing=draft.listing
            )
        return self._awards[draft.award]


def _sort_of(part: str, depth: int) -> str:
    words = part.lower()
    if "trailer bay" in words:
        return Place.Sort.BAY
    return next((sort for word, sort in _SORTS if word in words), Place.Sort.STATION if depth == 1 else Place.Sort.BAY)


def _month_start(month: object) -> date | None:
    if not month:
        return None
    year, number = str(month).split("-")
    return date(int(year), int(number), 1)
