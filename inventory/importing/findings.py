"""What a row taken in should still be looked at for: dates that disagree, doubts in notes, money without papers."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from inventory.importing.cells import Day, text_of
from inventory.importing.conditions import BORROWED
from inventory.importing.drafts import Drafted, ItemDraft, LotDraft
from inventory.importing.kinds import OTHER, SURE
from inventory.importing.notices import Notices


def look_at_item(drafted: ItemDraft, kind: Mapping[str, Any], notices: Notices, on: date) -> None:
    """Write the findings about one item's row."""
    _look_at_kind(drafted, notices)
    _look_at_dates(drafted, notices, on)
    _look_at_money(drafted, notices)
    if drafted.serial and drafted.quantity > 1:
        problem = f"one serial for {drafted.quantity} units: taken in as one row of {drafted.quantity}"
        notices.find(drafted.origin, "serial", problem, "give each unit a row with its own serial")
    if drafted.quantity == 0 and text_of(drafted.origin.cells.get("quantity")).startswith("0"):
        notices.find(drafted.origin, "quantity", "the register counts none: taken in as absent", "count again")
    if BORROWED.search(drafted.note) and drafted.event != "lent":
        problem = f"the note says {drafted.note!r}: it is taken in as here and in service"
        notices.find(drafted.origin, "note", problem, "see whether it is here; record who has it, or that it is back")
    if drafted.event:
        problem = f"the register says {drafted.event_reason!r}: taken in as {_state_word(drafted.event)}"
        role = _where_said(drafted)
        notices.find(drafted.origin, role, problem, "see whether that still holds")
    if kind["serialised"] and not drafted.serial and "serial" not in drafted.origin.cells:
        notices.blank(drafted.origin, "serial", "a serial though things of their kind have one", "read the plates")


def _where_said(drafted: ItemDraft) -> str:
    if drafted.event_on:
        return "disposed_on"
    if drafted.event_reason in drafted.condition_as_written:
        return "condition"
    if drafted.event_reason in drafted.note:
        return "note"
    return "place" if drafted.event_reason in text_of(drafted.origin.cells.get("place")) else "disposition"


def look_at_lot(drafted: LotDraft, notices: Notices, on: date) -> None:
    """Write the findings about one lot's row."""
    _look_at_kind(drafted, notices)
    if drafted.expires_on and drafted.expires_on <= on:
        problem = f"it expired on {drafted.expires_on}: it counts for nobody"
        notices.find(drafted.origin, "expires", problem, "replace it and record what was used")
    if drafted.on_hand == 0:
        notices.find(drafted.origin, "quantity", "none on hand", "count again, or buy")


def _look_at_kind(drafted: Drafted, notices: Notices) -> None:
    if drafted.kind == OTHER:
        near = " or ".join(drafted.nearest)
        problem = f"{drafted.name!r} is no kind of the catalogue: taken in as other, which serves no function"
        notices.find(drafted.origin, "name", problem, f"choose its kind{f', perhaps {near}' if near else ''}")
    elif drafted.sureness < SURE:
        also = ", ".join(k for k in drafted.nearest if k != drafted.kind)
        problem = f"taken for kind {drafted.kind}, sureness {drafted.sureness:.2f}"
        notices.find(drafted.origin, "name", problem, f"confirm the kind{f' or choose {also}' if also else ''}")


def _look_at_dates(drafted: ItemDraft, notices: Notices, on: date) -> None:
    origin, acquired, made = drafted.origin, drafted.acquired, drafted.made
    if acquired is None:
        mend = "find the papers: without the date nothing says when it was accepted"
        notices.blank(origin, "acquired", "when it was acquired", mend)
    for role, day in (("acquired", acquired), ("made", made)):
        if day and day.on > on:
            notices.find(origin, role, f"{day.on} is still to come on {on}", "read the papers again")
        if day and day.precision == "year":
            notices.blank(origin, role, "the month, only the year, taken as January", "find the month in the papers")
    plate = drafted.spec.get("made")
    if made and plate and _differ(made, plate):
        problem = f"made in {made.month} by this column, in {plate} by its plate ({drafted.spec_as_written!r})"
        notices.find(origin, "made", problem, "read the stamp; until then the plate's month decides its dates")
    made_month = plate or (made.month if made else "")
    if acquired and made_month and acquired.month < made_month:
        problem = f"acquired in {acquired.month}, before it was made in {made_month}"
        notices.find(origin, "acquired", problem, "read the stamp and the papers again")
    requal = drafted.spec.get("requal", "")
    if requal and made_month and requal < made_month:
        problem = f"requalified in {requal}, before it was made in {made_month}"
        notices.find(origin, "spec", problem, "read the stamp again; do not refill it until that is settled")
    if requal > f"{on:%Y-%m}":
        notices.find(origin, "spec", f"requalified in {requal}, which is still to come", "read the stamp again")


def _look_at_money(drafted: ItemDraft, notices: Notices) -> None:
    share, award = drafted.federal_share, drafted.award
    if share is None and not award:
        mend = "write the federal part, or local: an item no award paid for says so outright"
        notices.blank(drafted.origin, "share", "what part of the cost is federal", mend)
    elif share is None:
        notices.find(
            drafted.origin, "award", f"award {award} paid for it, but not which part", "write the federal part"
        )
    elif share > 0 and not award:
        notices.find(
            drafted.origin, "share", f"{share:.0%} is federal, but no award is named", "write the award's number"
        )
    elif share == 0 and award:
        problem = f"award {award} is named, but nothing of the cost is federal"
        notices.find(drafted.origin, "award", problem, "see which of the two is right")


def _differ(made: Day, plate: str) -> bool:
    return plate[:4] != made.month[:4] if made.precision == "year" else plate != made.month


def _state_word(event: str) -> str:
    return {"taken out": "out of service", "quarantined": "in quarantine"}.get(event, event)
