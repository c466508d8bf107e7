"""The procedures that ship with the project, loaded as each department's own dated data."""

import json
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from django.db import transaction

from inspections.models import Procedure
from shared.models import Department

CATALOGUE = Path(__file__).resolve().parent.parent / "catalogue" / "procedures.json"


@cache
def shipped() -> dict[str, Any]:
    """Return the catalogue file as it ships; callers do not change it."""
    return json.loads(CATALOGUE.read_text(encoding="utf-8"))


@cache
def register_words() -> dict[str, str]:
    """Return the check key by every name that registers give a check, in lower case."""
    words: dict[str, str] = {}
    for procedure in shipped()["procedures"]:
        for name in (procedure["key"], procedure["name"], *procedure["register_names"]):
            words.setdefault(" ".join(name.casefold().replace("_", " ").replace("-", " ").split()), procedure["key"])
    return words


@transaction.atomic
def load_procedures(*, department: Department, on: date) -> None:
    """Load the shipped procedures; again changes nothing, a changed text becomes a new version from ``on``.

    A version that the department wrote itself (another origin) stands, and ours is not laid over it.
    """
    catalogue = shipped()
    newest: dict[str, Procedure] = {}
    for row in Procedure.objects.filter(department=department).order_by("version"):
        newest[row.check_key] = row
    rows = []
    for procedure in catalogue["procedures"]:
        held = newest.get(procedure["key"])
        definition = procedure | {"common_inputs": catalogue["common_inputs"]}
        if held and (held.definition == definition or held.origin != catalogue["origin"]):
            continue
        rows.append(
            Procedure(
                department=department,
                check_key=procedure["key"],
                version=held.version + 1 if held else 1,
                name=procedure["name"],
                definition=definition,
                effective_on=on if held else min(on, date.fromisoformat(catalogue["effective_on"])),
                origin=catalogue["origin"],
            )
        )
    Procedure.objects.bulk_create(rows)
