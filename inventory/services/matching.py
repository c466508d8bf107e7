"""Which rows of a register are held already, which are new, and which claim a tag or serial that is taken."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from inventory.importing.drafts import CrewDraft, ItemDraft, LotDraft
from inventory.importing.notices import Notices
from inventory.models import CrewMember, Item, ItemKind, Line, Lot, Posting
from shared.models import Department

D = TypeVar("D")
_MEND = "nothing was changed; if the register is right, change the record on the item's card"
_MEND_LEDGER = "nothing was changed; if the register is right, record a posting or a count"


@dataclass
class Matched(Generic[D]):
    """The drafts that are new (an item's with a tag, a lot's with a number), and those held already."""

    new: list[D] = field(default_factory=list)
    held: list[D] = field(default_factory=list)

    @property
    def kept(self) -> list[D]:
        """Return every draft but those that claim what another row holds."""
        return [*self.new, *self.held]


@dataclass(slots=True)
class _Held:
    """An item as the register that brought it said it: its card, and the line and quantity of its first posting."""

    item: Item
    line: str
    quantity: int | None


def match_items(department: Department, drafts: Sequence[ItemDraft], notices: Notices) -> Matched[ItemDraft]:
    """Return the drafts of items that are new, each with a tag; the others are held, or refused a second time."""
    held = _held_items(department)
    by_tag = {h.item.tag.casefold(): h for h in held}
    by_serial = {h.item.serial.casefold(): h for h in held if h.item.serial}
    matched: Matched[ItemDraft] = Matched()
    tags: dict[str, ItemDraft] = {}
    serials: dict[str, ItemDraft] = {}
    used: set[int] = set()
    unmarked: list[ItemDraft] = []
    for draft in drafts:
        if _claims_anothers(draft, tags, serials, by_tag, by_serial, notices):
            continue
        same = by_tag.get(draft.tag.casefold()) if draft.tag else by_serial.get(draft.serial.casefold())
        if same is not None:
            used.add(same.item.pk)
            matched.held.append(draft)
            _compare_item(draft, same, notices)
        elif draft.tag or draft.serial:
            matched.new.append(draft)
        else:
            unmarked.append(draft)
    left = [h for h in held if h.item.pk not in used and not h.item.serial]
    for draft, same in _by_content(unmarked, left):
        if same is None:
            matched.new.append(draft)
        else:
            matched.held.append(draft)
            _compare_item(draft, same, notices)
    place_in_file = {id(draft): n for n, draft in enumerate(drafts)}
    matched.new.sort(key=lambda d: place_in_file[id(d)])
    _give_tags(matched.new, {*by_tag, *tags}, department)
    return matched


def _held_items(department: Department) -> list[_Held]:
    first: dict[int, tuple[str | None, int]] = {}
    rows = Posting.objects.filter(department=department, item__isnull=False, reason=Posting.Reason.REGISTERED)
    for item_id, line, change in rows.order_by("recorded_at", "pk").values_list("item_id", "line__name", "change"):
        first.setdefault(item_id, (line, change))
    items = Item.objects.filter(department=department).select_related("kind", "award").order_by("order", "pk")
    return [_Held(i, first.get(i.pk, ("", None))[0] or "", first.get(i.pk, ("", None))[1]) for i in items]


def _claims_anothers(
    draft: ItemDraft,
    tags: dict[str, ItemDraft],
    serials: dict[str, ItemDraft],
    by_tag: Mapping[str, _Held],
    by_serial: Mapping[str, _Held],
    notices: Notices,
) -> bool:
    """Find a row that claims a tag or serial another row or item holds; remember those of a row that does not."""
    tag, serial = draft.tag.casefold(), draft.serial.casefold()
    if serial and (first := serials.get(serial)):
        problem = (
            f"serial {draft.serial} is already that of {first.tag or first.name} (row {first.origin.row}): "
            "this row is not taken in as a second item, nor merged with it"
        )
        notices.find(draft.origin, "serial", problem, "read both plates; correct the serial, or delete the copied row")
        return True
    if tag and (first := tags.get(tag)):
        problem = f"tag {draft.tag} is already used in row {first.origin.row}: this row is not taken in"
        notices.find(draft.origin, "tag", problem, "give one of the two a tag of its own and import again")
        return True
    holder = by_serial.get(serial) if serial else None
    if holder is not None and tag and holder.item.tag.casefold() != tag:
        problem = (
            f"serial {draft.serial} is held by {holder.item.tag}: "
            "this row is not taken in as a second item, nor merged with it"
        )
        notices.find(draft.origin, "serial", problem, "read both plates; correct the serial, or delete the copied row")
        return True
    if serial:
        serials[serial] = draft
    if tag:
        tags[tag] = draft
    return False


def _by_content(drafts: Sequence[ItemDraft], held: Sequence[_Held]) -> Iterable[tuple[ItemDraft, _Held | None]]:
    """Pair rows without tag and serial with items by content: exactly first, then by kind, name and line.

    The second pass takes a row whose date or plate was changed for the item it was, rather than for a new one.
    """
    remaining = list(held)
    pairs: dict[int, _Held] = {}
    keys: tuple[tuple[Callable[[ItemDraft], Hashable], Callable[[_Held], Hashable]], ...] = (
        (
            lambda d: (d.kind, d.name, d.spec_as_written, d.acquired.on if d.acquired else None, d.line),
            lambda h: (h.item.kind.key, h.item.name, h.item.spec_as_written, h.item.acquired_on, h.line),
        ),
        (lambda d: (d.kind, d.name, d.line), lambda h: (h.item.kind.key, h.item.name, h.line)),
    )
    for of_draft, of_held in keys:
        pool: dict[Hashable, list[_Held]] = defaultdict(list)
        for h in remaining:
            pool[of_held(h)].append(h)
        for n, draft in enumerate(drafts):
            if n not in pairs and pool[of_draft(draft)]:
                pairs[n] = pool[of_draft(draft)].pop(0)
        taken = {h.item.pk for h in pairs.values()}
        remaining = [h for h in remaining if h.item.pk not in taken]
    return [(draft, pairs.get(n)) for n, draft in enumerate(drafts)]


def _give_tags(drafts: Iterable[ItemDraft], used: set[str], department: Department) -> None:
    prefixes = dict(ItemKind.objects.filter(department=department).values_list("key", "prefix"))
    numbers: dict[str, int] = defaultdict(int)
    for draft in drafts:
        while not draft.tag:
            prefix = prefixes.get(draft.kind) or "OT"
            numbers[prefix] += 1
            tag = f"{prefix}-{numbers[prefix]:02d}"
            if tag.casefold() not in used:
                draft.tag = tag
                used.add(tag.casefold())


def _compare_item(draft: ItemDraft, same: _Held, notices: Notices) -> None:
    item = same.item
    card = (
        ("name", draft.name, item.name),
        ("serial", draft.serial, item.serial),
        ("spec", draft.spec_as_written, item.spec_as_written),
        ("acquired", draft.acquired and draft.acquired.on, item.acquired_on),
        ("made", draft.made and draft.made.on, item.manufactured_on),
        ("cost", draft.unit_cost, item.unit_cost),
        ("share", draft.federal_share, item.federal_share),
        ("award", draft.award, item.award.number if item.award else ""),
        ("condition", draft.condition_as_written, item.condition_as_written),
        ("note", draft.note, item.note),
    )
    ledger = (("line", draft.line, same.line), ("quantity", draft.quantity, same.quantity))
    for rows, mend in ((card, _MEND), (ledger, _MEND_LEDGER)):
        for role, now, then in rows:
            if now not in (None, "") and now != then:
                problem = f"{item.tag}: the register now says {now}, the record says {_said(then)}"
                notices.find(draft.origin, role, problem, mend)


def _said(value: Any) -> str:
    return "nothing" if value in (None, "") else str(value)


def match_lots(
    department: Department, drafts: Sequence[LotDraft], kinds: Mapping[str, ItemKind], notices: Notices
) -> Matched[LotDraft]:
    """Return the drafts of lots that are new on their line, each with a number."""
    rows = Posting.objects.filter(department=department, lot__isnull=False, reason=Posting.Reason.REGISTERED)
    posted: dict[tuple[int, str], int] = {}
    for lot_id, line, change in rows.order_by("recorded_at", "pk").values_list("lot_id", "line__name", "change"):
        posted.setdefault((lot_id, line or ""), change)
    held = {(lot.kind.key, lot.number): lot for lot in Lot.objects.filter(department=department).select_related("kind")}
    unnumbered: dict[Hashable, list[Lot]] = defaultdict(list)
    for lot in held.values():
        for line in (line for lot_id, line in posted if lot_id == lot.pk):
            unnumbered[lot.kind.key, lot.name, lot.expires_on, line].append(lot)
    matched: Matched[LotDraft] = Matched()
    seen: dict[tuple[str, str, str], LotDraft] = {}
    expiry: dict[tuple[str, str], Any] = {key: lot.expires_on for key, lot in held.items()}
    for draft in drafts:
        if not draft.number and (pool := unnumbered[draft.kind, draft.name, draft.expires_on, draft.line]):
            draft.number = pool.pop(0).number
        if not draft.number:
            matched.new.append(draft)
            continue
        key = (draft.kind, draft.number)
        if first := seen.get((*key, draft.line)):
            problem = f"lot {draft.number} is already in row {first.origin.row}: this row is not taken in"
            notices.find(draft.origin, "lot", problem, "add the two rows up, or correct the lot's number")
            continue
        seen[*key, draft.line] = draft
        lot = held.get(key)
        if lot is not None and (lot.pk, draft.line) in posted:
            matched.held.append(draft)
            _compare_lot(draft, lot, posted[lot.pk, draft.line], notices)
        elif draft.expires_on != expiry.setdefault(key, draft.expires_on):
            problem = f"lot {draft.number} expires on {_said(expiry[key])} elsewhere: this row is not taken in"
            notices.find(draft.origin, "expires", problem, "one lot expires on one day: read the boxes again")
        else:
            matched.new.append(draft)
    _give_numbers(matched.new, kinds, {number for _, number in held} | {d.number for d in drafts})
    return matched


def _give_numbers(drafts: Iterable[LotDraft], kinds: Mapping[str, ItemKind], used: set[str]) -> None:
    numbers: dict[str, int] = defaultdict(int)
    for draft in drafts:
        while not draft.number:
            prefix = kinds[draft.kind].prefix or "OT"
            numbers[prefix] += 1
            number = f"{prefix}-L{numbers[prefix]}"
            if number not in used:
                draft.number = number
                used.add(number)


def _compare_lot(draft: LotDraft, lot: Lot, on_hand: int, notices: Notices) -> None:
    for role, now, then in (
        ("quantity", draft.on_hand, on_hand),
        ("expires", draft.expires_on, lot.expires_on),
        ("cost", draft.unit_cost, lot.unit_cost),
    ):
        if now not in (None, "") and now != then:
            problem = f"lot {lot.number}: the register now says {now}, the record says {_said(then)}"
            notices.find(draft.origin, role, problem, _MEND_LEDGER)


def match_crew(department: Department, drafts: Sequence[CrewDraft], notices: Notices) -> Matched[CrewDraft]:
    """Return the drafts of people who are not on the roster yet."""
    held = {m.name.casefold(): m for m in CrewMember.objects.filter(department=department).select_related("line")}
    matched: Matched[CrewDraft] = Matched()
    seen: dict[str, CrewDraft] = {}
    for draft in drafts:
        name = draft.name.casefold()
        if first := seen.get(name):
            problem = f"{draft.name} is already in row {first.origin.row}: this row is not taken in"
            notices.find(draft.origin, "person", problem, "write the two names in full, or delete one row")
            continue
        seen[name] = draft
        member = held.get(name)
        if member is None:
            matched.new.append(draft)
            continue
        matched.held.append(draft)
        _compare_member(draft, member, notices)
    return matched


def _compare_member(draft: CrewDraft, member: CrewMember, notices: Notices) -> None:
    # a month to come when it was taken in may be gone by today: what the card says counts under either heading
    known = {member.qualified_on, member.qualified_until}
    if member.qualified_until is not None:
        known.add(member.qualified_until.replace(day=1))
    for now in (draft.qualified_on, draft.qualified_until):
        if now is not None and now not in known and now.replace(day=1) not in known:
            problem = f"{draft.name}: the register now says {now}, the record does not"
            notices.find(draft.origin, "qualified", problem, "nothing was changed; record the new qualification")
    line = member.line.name if isinstance(member.line, Line) else ""
    if draft.line != line:
        problem = f"{draft.name}: the register now says {draft.line or 'every line'}, the record {line or 'every line'}"
        notices.find(draft.origin, "line", problem, "nothing was changed; change the roster")
