"""A department makes a procedure its own: another version from a day on, or a check that is wholly its own.

What our judges read cannot be taken away or renamed: the verdict is worked out from exactly these readings. Everything
said around them (steps, labels, help, ranges, cautions) is the department's to word, so is what it asks beside them.
A record keeps the version it was made under, so no edit reaches back.
"""

import math
import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from datetime import date
from typing import Any, Final

from django.db import transaction

from inspections.models import Procedure
from inspections.services.procedures import shipped
from inspections.verdicts.own import BOUNDS
from inventory.models import ItemKind
from inventory.services import set_checks
from inventory.services.catalogue import sensible_bounds
from shared.api import Conflict
from shared.models import AuditEntry, Department, User

OWN: Final = "own_"
SORTS: Final = ("number", "yes_no", "text")
FIXED: Final = ("key", "type", "unit", "choices", "aliases")  # of an input that our judge reads
WORDED: Final = ("name", "first", "restores", "void_when")
LONGEST: Final = 300


@transaction.atomic
def amend_procedure(
    *,
    department: Department,
    check_key: str,
    base: int,
    definition: Mapping[str, Any],
    effective_on: date,
    today: date,
    by: User,
    origin: str = "",
    reason: str = "",
) -> Procedure:
    """Put another version of a procedure in force from a day on; earlier records keep the version they have.

    Args:
        department: whose procedure.
        check_key: of which check.
        base: version that the change was made from.
        definition: the whole new definition; what our judge reads must be there unchanged.
        effective_on: first day of the new version, today or later.
        today: the department's own day.
        by: who changes it.
        origin: whose words these are; the department's where left out.
        reason: why, where a caution is taken away.

    Raises:
        Conflict: a later version than ``base`` stands, nothing differs, or the change cannot stand; says why.
    """
    # Under lock: of two changes at one moment the second sees the first.
    rows = list(
        Procedure.objects.select_for_update().filter(department=department, check_key=check_key).order_by("version")
    )
    if not rows:
        raise Conflict("There is no such check here.")
    held = rows[-1]
    if held.version != base:
        raise Conflict(
            f"Version {held.version} was made meanwhile.", mend="Read it, then make your change to it.", where="base"
        )
    if effective_on < today or effective_on < held.effective_on:
        raise Conflict(
            "A version holds from today on at the earliest, and not from before the one it follows.",
            where="effective_on",
            mend="Records that were made before keep the version they have.",
        )
    new = _written(held.definition, definition)
    if new == held.definition:
        raise Conflict("Nothing differs from the version in force.")
    taken = cautions_taken(held.definition, new)
    if taken and not reason.strip():
        raise Conflict(
            f"A caution is taken away: {taken[0]}",
            where="reason",
            mend="Say why nobody is endangered any more. It is kept with your name.",
        )
    row = Procedure.objects.create(
        department=department,
        check_key=check_key,
        version=held.version + 1,
        name=new["name"],
        definition=new,
        effective_on=effective_on,
        origin=(origin.strip() or f"{department.name}'s own wording")[:200],
    )
    detail = {"version": row.version, "from": effective_on.isoformat(), "reason": reason.strip(), "cautions": taken}
    _audit(department, by, "new version of a procedure", row, detail)
    return row


@transaction.atomic
def make_check(
    *,
    department: Department,
    name: str,
    steps: Sequence[Mapping[str, Any]],
    inputs: Sequence[Mapping[str, Any]],
    kind: ItemKind,
    mode_codes: Sequence[str],
    effective_on: date,
    today: date,
    by: User,
    restores: str = "",
    origin: str = "",
) -> Procedure:
    """Make a check of the department's own: judged by the bounds it gives, tied to the modes it names on one kind.

    Raises:
        Conflict: the name is taken, nothing is asked, or a mode is named and nothing is expected that could show it.
    """
    key = _own_key(department, name)
    if effective_on < today:
        raise Conflict("A check holds from today on at the earliest.", where="effective_on")
    if kind.department_id != department.pk:
        raise Conflict("That kind belongs to another department.")
    asked = _distinct([_own_input(one, {}) for one in inputs])
    if mode_codes and not any(expects(one) for one in asked):
        raise Conflict(
            "A failure mode is named, and nothing is expected that could show it.",
            where="inputs",
            mend="Give a bound to a number, or the right answer to a yes or no.",
        )
    for one in asked:
        one["modes"] = list(mode_codes) if expects(one) else []
    catalogue = shipped()
    definition = {
        "key": key,
        "name": " ".join(name.split())[:80],
        "register_names": [" ".join(name.casefold().split())],
        "per": "item",
        "own": True,
        "first": "Local code and the maker's manual for the unit you hold come before anything written here.",
        "void_when": [],
        "restores": restores.strip()[:LONGEST] or "Mend or swap, then this check.",
        "needs_one_of": [one["key"] for one in asked if one["type"] != "text"],
        "inputs": asked,
        "steps": _steps(steps, {one["key"] for one in asked}),
        "common_inputs": catalogue["common_inputs"],
    }
    row = Procedure.objects.create(
        department=department,
        check_key=key,
        version=1,
        name=definition["name"],
        definition=definition,
        effective_on=effective_on,
        origin=(origin.strip() or f"{department.name}'s own check")[:200],
    )
    _audit(department, by, "new check", row, {"modes": list(mode_codes)})
    set_checks(department=department, kind=kind, checks=kind.checks | {key: list(mode_codes)}, by=by)
    return row


def _audit(department: Department, by: User, did: str, row: Procedure, detail: Mapping[str, Any]) -> None:
    subject = f"{row.name}, {row.check_key}"
    AuditEntry.objects.create(department=department, by=by, did=did, subject=subject, detail=dict(detail))


def expects(asked: Mapping[str, Any]) -> bool:
    """Return whether an own input says what is right."""
    return asked.get("expected") in ("yes", "no") or any(asked.get(bound) is not None for bound in BOUNDS)


def cautions_taken(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """Return the cautions that a change takes away; a caution put in other words is not taken away."""
    new = after["steps"]
    taken = []
    for number, step in enumerate(before["steps"]):
        caution = step.get("caution", "")
        if not caution or any(s.get("caution") == caution for s in new):
            continue
        # The same step by its readings, else by its place: own steps may have been put before it.
        same = next((s for s in new if step["inputs"] and set(step["inputs"]) <= set(s["inputs"])), None)
        same = same or next((s for s in new if s["text"] == step["text"]), None)
        same = same or (new[number] if number < len(new) else None)
        if same is None or not same.get("caution"):
            taken.append(caution)
    return taken


# What a definition must be -------------------------------------------------------------------------------------------


def _written(held: Mapping[str, Any], said: Mapping[str, Any]) -> dict[str, Any]:
    """Return the new definition: what is fixed comes from the version in force, the rest as said."""
    new = deepcopy(dict(held))
    for name in WORDED:
        if name in said:
            new[name] = _worded(name, said[name])
    new["inputs"] = _inputs(held, said.get("inputs", held["inputs"]))
    new["steps"] = _steps(said.get("steps", held["steps"]), {one["key"] for one in new["inputs"]})
    return new


def _worded(name: str, value: Any) -> Any:
    if name == "void_when":
        return [text for line in value if (text := " ".join(str(line).split())[:LONGEST])]
    text = " ".join(str(value).split())[: 80 if name == "name" else LONGEST]
    if not text and name in ("name", "first"):
        raise Conflict("This cannot be empty: it stands on every form.", where=name)
    return text


def _inputs(held: Mapping[str, Any], said: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    given = {one.get("key") or f"new {number}": one for number, one in enumerate(said)}
    kept = []
    for old in held["inputs"]:
        new = given.pop(old["key"], None)
        if new is None and old.get("own"):
            continue
        if new is None:
            raise Conflict(
                f"{old['label']} cannot be taken away: the verdict is worked out from it.",
                where=old["key"],
                mend="Leave it; where it need not be read every time, it is not marked as must be read.",
            )
        kept.append(_own_input(new, old) if old.get("own") else _ours(old, new))
    return _distinct([*kept, *(_own_input(one, {}) for one in given.values())])


def _distinct(asked: list[dict[str, Any]]) -> list[dict[str, Any]]:
    keys = [one["key"] for one in asked]
    if not keys:
        raise Conflict("Ask for one reading at least.", where="inputs")
    twice = next((one["label"] for one in asked if keys.count(one["key"]) > 1), "")
    if twice:
        raise Conflict(f"Two readings are called {twice}.", where="inputs", mend="Give one of them another name.")
    return asked


def _ours(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """Return one of our inputs as the department words it."""
    if any(name in new and new[name] != old.get(name) for name in FIXED):
        raise Conflict(
            f"{old['label']}: what it measures and in which unit is fixed, the verdict is worked out from it.",
            where=old["key"],
            mend="Ask for something else beside it as a reading of your own.",
        )
    if old.get("required") and not new.get("required", True):
        raise Conflict(
            f"{old['label']} must be read: without it there is no verdict.", where=old["key"], mend="Leave it marked."
        )
    row = dict(old) | _label(old, new) | {"required": bool(new.get("required", old.get("required")))}
    return row | _range(old["key"], old, new)


def _label(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    label = " ".join(str(new.get("label", old.get("label", ""))).split())[:120]
    if not label:
        raise Conflict("A reading needs a name.", where=str(old.get("key", "inputs")))
    shown = {"label": label}
    words = " ".join(str(new.get("help", old.get("help", ""))).split())[:LONGEST]
    return shown | ({"help": words} if words or "help" in old else {})


def _range(key: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """Return the range outside which a reading is refused as a slip of the pen."""
    if old.get("type") not in ("number", "integer"):
        return {}
    least, most = (_number(key, new.get(name, old.get(name))) for name in ("least", "most"))
    if least is None or most is None:
        raise Conflict(
            "A number needs a range outside which it is a slip of the pen.", where=key, mend="Give both ends."
        )
    if least >= most:
        raise Conflict("The range has no room: its low end is not below its high end.", where=key, mend="Swap the two.")
    return {"least": least, "most": most}


def _own_input(said: Mapping[str, Any], old: Mapping[str, Any]) -> dict[str, Any]:
    """Return a reading that the department asks for itself, with what it expects of it."""
    sort = old.get("type") or str(said.get("type", ""))
    if sort not in SORTS:
        raise Conflict("A reading of your own is a number, a yes or no, or words.", where="inputs")
    label = _label(old or {"key": "inputs"}, said)
    key = old.get("key") or key_of(label["label"])
    row: dict[str, Any] = {
        "key": key,
        "own": True,
        "type": sort,
        "unit": " ".join(str(said.get("unit", old.get("unit", ""))).split())[:12],
        "required": bool(said.get("required")),
        "aliases": list(old.get("aliases", ())),
        "modes": list(said.get("modes", old.get("modes", ()))),
        "origin": str(said.get("origin", old.get("origin", "")))[:80],
        "source": str(said.get("source", old.get("source", "")))[:200],
        **label,
    }
    if sort == "yes_no":
        expected = str(said.get("expected") or "")
        if expected not in ("", "yes", "no"):
            raise Conflict("Expected is yes, no, or nothing.", where=key)
        return row | {"expected": expected}
    if sort == "number":
        row |= {"least": -1e6, "most": 1e6} | {b: _number(key, said.get(b)) for b in BOUNDS}
        sensible_bounds(row)
    return row


def _number(key: str, value: Any) -> float | None:
    if value in (None, ""):
        return None
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise Conflict(f"{value!r} is not a number.", where=key, mend="Write it like 2 or 1.5.") from None
    if not math.isfinite(number):
        raise Conflict("That is not a finite number.", where=key)
    return number


def _steps(said: Sequence[Mapping[str, Any]], keys: set[str]) -> list[dict[str, Any]]:
    steps, seen = [], set()
    for step in said:
        text = " ".join(str(step.get("text", "")).split())[:LONGEST]
        caution = " ".join(str(step.get("caution", "")).split())[:LONGEST]
        named = [key for key in step.get("inputs", ()) if key in keys and key not in seen]
        seen |= set(named)
        if not text:
            if caution or named:
                raise Conflict("A step says what to do: its words are missing.", where="steps")
            continue
        steps.append({"text": text, **({"caution": caution} if caution else {}), "inputs": named})
    if not steps:
        raise Conflict("A check has one step at least.", where="steps")
    # A reading that no step names is asked for at the end; it belongs to the last step.
    steps[-1]["inputs"] += [key for key in sorted(keys) if key not in seen and key.startswith(OWN)]
    return steps


def key_of(label: str) -> str:
    """Return the key of a reading of the department's own, from what it is called."""
    return OWN + (re.sub(r"[^a-z0-9]+", "_", label.casefold()).strip("_")[:32] or "reading")


def _own_key(department: Department, name: str) -> str:
    slug = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:16].strip("-")
    if not slug:
        raise Conflict("Give the check a name.", where="name")
    key = f"own-{slug}"
    names = Procedure.objects.filter(department=department)
    if names.filter(check_key=key).exists() or names.filter(name__iexact=" ".join(name.split())).exists():
        raise Conflict(
            "There is a check of that name already.", where="name", mend="Give it another one, or change it."
        )
    return key
