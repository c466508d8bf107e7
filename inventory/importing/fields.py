"""What a column of a register can hold, in words, for whoever corrects the guess."""

from typing import Final

from inventory.importing.columns import BY_LINE, PLATE
from inventory.importing.headings import CREW_ROLES, ITEM_ROLES

WORDS: Final = {
    "tag": "tag", "name": "what it is", "serial": "serial", "quantity": "how many", "spec": "size or plate, in words",
    "maker": "maker and model", "line": "line", "place": "where it is kept", "acquired": "date acquired",
    "made": "date made", "cost": "unit cost", "total_cost": "cost of all", "share": "federal share, in percent",
    "federal_amount": "federal share, in dollars", "award": "award number", "funding": "source of money",
    "listing": "assistance listing", "condition": "condition", "note": "note", "custodian": "custodian",
    "title": "who holds title", "use": "use", "lot": "lot number", "expires": "expires", "par": "par",
    "per_person": "used per person", "uom": "unit of measure", "disposed_on": "date disposed",
    "disposition": "how disposed", "row_number": "row number, of no use", "person": "name of a person",
    "first_name": "first name", "last_name": "last name", "role": "role in the crew",
    "qualified": "qualified, since or until", "qualified_until": "qualified until", "qualified_on": "qualified on",
    BY_LINE: "how many the line over it has", PLATE: "a figure of the plate", "maker_serial": "maker and serial",
    "line_place": "line and place", "lot_expires": "lot and expiry", "expires_made": "made or expires",
    "serial_lot": "serial or lot", "condition_note": "condition and note",
}  # fmt: skip
_BOTH: Final = (
    BY_LINE, PLATE, "maker_serial", "line_place", "lot_expires", "expires_made", "serial_lot", "condition_note",
)  # fmt: skip
OF_CREW: Final = frozenset(CREW_ROLES)
OF_THINGS: Final = frozenset({*ITEM_ROLES, *_BOTH})


def choices(sort: str) -> list[tuple[str, str]]:
    """Return (field, words) of what a column of a sheet can hold; of a sheet that was not read, of any sort."""
    roles = {"crew": OF_CREW, "items": OF_THINGS, "lots": OF_THINGS}.get(sort, OF_CREW | OF_THINGS)
    return sorted(((role, WORDS[role]) for role in roles), key=lambda pair: pair[1])
