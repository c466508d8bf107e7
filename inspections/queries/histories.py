"""What the department's own items have shown of each mode of each kind: passes, exposures, failures."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from inspections.queries.evidence import YEAR_S
from inspections.queries.ledgers import ProofRow, Proofs, day_began, read_proofs
from inventory.models import Item
from shared.formulas.beliefs import ModeHistory
from shared.models import Department


def histories(
    department: Department, at: datetime, known_at: datetime, proofs: Proofs | None = None
) -> dict[tuple[str, str], ModeHistory]:
    """Return by (kind key, mode code) what proofs have shown by an instant, as known at another.

    An exposure runs from the proof before that can see the mode, else from acceptance; looks that only claim neither
    end nor start one. While a fault stands, further findings of it are the same fault, and the pass that puts it right
    starts the next exposure without counting one. ``proofs`` are all of the department's, where the caller has them.
    """
    zone = ZoneInfo(department.time_zone)
    # Columns, not rows of the model: a department has thousands of items, and only these two facts count here.
    columns = Item.objects.filter(department=department).values_list("pk", "kind__key", "accepted_on")
    items = {pk: (kind, day_began(day, zone)) for pk, kind, day in columns}
    passes: dict[tuple[str, str], int] = defaultdict(int)
    years: dict[tuple[str, str], float] = defaultdict(float)
    failures: dict[tuple[str, str], list[float]] = defaultdict(list)
    for pk, modes in (read_proofs(department, known_at) if proofs is None else proofs).items():
        kind, accepted = items[pk]
        for code, rows in modes.items():
            key = (kind, code)
            for exposure, absent in exposures(rows, at, accepted):
                if absent:
                    passes[key] += 1
                    years[key] += exposure
                else:
                    failures[key].append(exposure)
    return {key: ModeHistory(passes[key], years[key], tuple(failures[key])) for key in sorted({*passes, *failures})}


def exposures(rows: Sequence[ProofRow], at: datetime, accepted: datetime | None) -> list[tuple[float, bool]]:
    """Return each exposure of one item to one mode [year] and whether the mode was absent at its end. Pure."""
    found: list[tuple[float, bool]] = []
    since, faulty = accepted, False
    for row in rows:
        if row.at > at or row.outcome == "claimed" or row.planted_at is not None:
            continue  # a test fault, found or missed, is nothing that the equipment did
        absent = row.outcome == "proven"
        if since is not None and not faulty and row.at >= since:
            found.append(((row.at - since).total_seconds() / YEAR_S, absent))
        since, faulty = row.at, not absent
    return found
