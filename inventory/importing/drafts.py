"""What a register's rows become before anything is stored: plain values, each with the row it came from."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.importing.cells import Day


@dataclass(slots=True)
class Origin:
    """Where a draft comes from, and how its columns are headed, for notices about it."""

    sheet: str
    row: int  # as the spreadsheet numbers it, from 1
    headings: dict[str, str] = field(default_factory=dict)  # role -> heading as written
    cells: dict[str, Any] = field(default_factory=dict)  # role -> cell as it stands


@dataclass(slots=True)
class Drafted:
    """What items and lots have in common.

    Attributes:
        line: the line's name, "" for none; decided for the whole file at once (see ``lines``).
        line_cell: what the row itself says of its line; None where it says nothing.
        section: text of the section row above it, "" where none.
        places: from the outermost in: station, bay, container, shelf.
    """

    origin: Origin
    kind: str
    sureness: float
    nearest: tuple[str, ...]
    name: str
    line: str = ""
    line_cell: str | None = None
    section: str = ""
    places: tuple[str, ...] = ()
    unit_cost: Decimal | None = None
    par: int | None = None
    note: str = ""


@dataclass(slots=True)
class ItemDraft(Drafted):
    """One item, or a row of n alike."""

    tag: str = ""
    serial: str = ""
    plate: str = ""
    quantity: int = 1
    acquired: Day | None = None
    made: Day | None = None
    federal_share: Decimal | None = None
    award: str = ""
    listing: str = ""
    funding: str = ""
    condition: str = "unknown"
    condition_as_written: str = ""
    custodian: str = ""
    title_holder: str = ""
    use: str = ""
    spec: dict[str, Any] = field(default_factory=dict)
    spec_as_written: str = ""
    event: str = ""  # a state the register itself says, such as boxed; "" for in service
    event_reason: str = ""
    event_on: date | None = None  # the day the register gives for it

    def said(self) -> list[tuple[str, str]]:
        """Return what was understood, in words, less what the row does not say."""
        share = None if self.federal_share is None else f"{self.federal_share * 100:.0f} % federal"
        rows = (
            ("kind", f"{self.kind.replace('_', ' ')} ({self.sureness:.2f})"), ("name", self.name), ("tag", self.tag),
            ("serial", self.serial), ("how many", self.quantity), ("line", self.line),
            ("place", ", ".join(self.places)), ("acquired", self.acquired and self.acquired.on),
            ("unit cost", self.unit_cost), ("share", share), ("condition", self.condition), ("state", self.event),
        )  # fmt: skip
        return [(what, str(value)) for what, value in rows if value not in (None, "")]


@dataclass(slots=True)
class LotDraft(Drafted):
    """One lot of a consumable on one line."""

    number: str = ""
    on_hand: int = 0
    received: Day | None = None
    expires_on: date | None = None
    per_person: float | None = None

    def said(self) -> list[tuple[str, str]]:
        """Return what was understood, in words, less what the row does not say."""
        rows = (
            ("kind", f"{self.kind.replace('_', ' ')} ({self.sureness:.2f})"), ("name", self.name),
            ("lot", self.number), ("on hand", self.on_hand), ("line", self.line), ("expires", self.expires_on),
            ("per person", self.per_person), ("par", self.par),
        )  # fmt: skip
        return [(what, str(value)) for what, value in rows if value not in (None, "")]


@dataclass(slots=True)
class CrewDraft:
    """Somebody on the roster; line "" is every line."""

    origin: Origin
    name: str
    role: str = ""
    line: str = ""
    qualified_on: date | None = None
    qualified_until: date | None = None

    def said(self) -> list[tuple[str, str]]:
        """Return what was understood, in words, less what the row does not say."""
        rows = (
            ("name", self.name), ("role", self.role), ("line", self.line or "every line"),
            ("qualified on", self.qualified_on), ("until", self.qualified_until),
        )  # fmt: skip
        return [(what, str(value)) for what, value in rows if value not in (None, "")]
