"""What verdict tests lean on: the shipped limits and grades, and a subject that sees what a check sees on its kind."""

import csv
import json
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from inspections.entry import read_entry
from inspections.verdicts import judge
from inspections.verdicts.core import Limit, Subject, Verdict

CATALOGUE = Path(__file__).resolve().parents[2] / "inventory" / "catalogue"
PROCEDURES = Path(__file__).resolve().parents[2] / "inspections" / "catalogue" / "procedures.json"
WARM, COLD = date(2026, 6, 15), date(2026, 12, 15)


@cache
def limits() -> dict[str, Limit]:
    """Return the limits that ship."""
    bounds = ("pass_low", "pass_high", "limits_low", "limits_high")
    with (CATALOGUE / "limits.csv").open(encoding="utf-8") as rows:
        return {
            row["key"]: Limit(
                key=row["key"],
                quantity=row["quantity"],
                unit=row["unit"],
                basis=row["basis"],
                origin=row["origin"],
                source=row["source"],
                **{name: float(row[name]) if row[name] else None for name in bounds},
            )
            for row in csv.DictReader(rows)
        }


@cache
def grades() -> dict[str, str]:
    with (CATALOGUE / "modes.csv").open(encoding="utf-8") as rows:
        return {row["code"]: row["grade"] for row in csv.DictReader(rows)}


@cache
def kinds() -> dict[str, dict[str, Any]]:
    return {kind["key"]: kind for kind in json.loads((CATALOGUE / "kinds.json").read_text(encoding="utf-8"))}


@cache
def shipped() -> dict[str, Any]:
    """Return the procedures that ship."""
    return json.loads(PROCEDURES.read_text(encoding="utf-8"))


@cache
def procedure(check_key: str) -> dict[str, Any]:
    found = next(p for p in shipped()["procedures"] if p["key"] == check_key)
    return found | {"common_inputs": shipped()["common_inputs"]}


def readings_of(text: str) -> dict[str, str]:
    """Return readings written as a register writes them: ``psi=4400; temp_F=70``."""
    return {pair.split("=")[0].strip(): pair.split("=")[1].strip() for pair in text.split(";") if "=" in pair}


def judged(check_key: str, text: str, *, kind: str = "", on: date = WARM, **subject: Any) -> Verdict:
    """Judge readings written as a register writes them, on a kind that this check sees something of."""
    kind = kind or KIND_OF[check_key]
    entry = read_entry(procedure(check_key), readings_of(text))
    visible = subject.pop("visible_modes", None)
    if visible is None:
        visible = tuple(kinds()[kind]["checks"].get(check_key, ()) if kind in kinds() else ())
    told = Subject(kind=kind, on=on, visible_modes=visible, grades=grades(), steps=entry.steps, **subject)
    return judge(check_key, told, entry.values, limits())


def modes(verdict: Verdict) -> dict[str, str]:
    """Return outcome by mode code."""
    return {mode.code: mode.outcome for mode in verdict.modes}


KIND_OF = {
    "hold": "shelter",
    "relief": "shelter",
    "inflate": "inflator",
    "heat": "heater",
    "propane": "propane",
    "sump": "pump",
    "bladder": "bladder",
    "injector": "injector",
    "sprayer": "sprayer",
    "battery": "battery",
    "generator": "generator",
    "gfci": "gfci",
    "light": "light_strip",
    "count": "grid",
    "cylinder": "air_cylinder",
    "look": "shelter",
    "hose": "hose_cold",
    "connect": "hose_cold",
    "setup": "shelter",
    "trailer": "trailer",
    "cylinder_kit": "inflation_kit",
    "drypack": "shelter",
}
