"""The catalogue a department starts with, and the dated rows by which it makes the catalogue its own."""

import csv
import json
from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from django.db import transaction

from inventory.models import FailureMode, Interval, ItemKind, Limit, Line
from inventory.queries import in_force
from inventory.signals import cache_changed
from shared.models import AuditEntry, Department, User

CATALOGUE = Path(__file__).resolve().parent.parent / "catalogue"
_NUMBERS = (
    "rate_median",
    "rate_error_factor",
    "demand_mean",
    "demand_trials",
    "weight_item_years",
    "limited_fraction",
    "pass_low",
    "pass_high",
    "limits_low",
    "limits_high",
)


@transaction.atomic
def load_catalogue(*, department: Department, on: date) -> None:
    """Give a department the kinds, failure modes, limits and intervals that it lacks, dated ``on``.

    A row the department holds already, as shipped or as its own, is left alone: running this twice changes nothing,
    and a later version of the catalogue never overrules what a department has decided.
    """
    held = set(ItemKind.objects.filter(department=department).values_list("key", flat=True))
    ItemKind.objects.bulk_create(
        ItemKind(department=department, effective_on=on, **_kind_values(row))
        for row in shipped_kinds()
        if row["key"] not in held
    )
    held = set(FailureMode.objects.filter(department=department).values_list("code", flat=True))
    FailureMode.objects.bulk_create(
        FailureMode(department=department, effective_on=on, **_typed(row))
        for row in shipped_rows("modes.csv")
        if row["code"] not in held
    )
    held = set(Limit.objects.filter(department=department, kind=None).values_list("key", flat=True))
    Limit.objects.bulk_create(
        Limit(department=department, effective_on=on, **_limit_values(row))
        for row in shipped_rows("limits.csv")
        if row["key"] not in held
    )
    _load_intervals(department, on)


def _load_intervals(department: Department, on: date) -> None:
    kinds = dict(ItemKind.objects.filter(department=department).values_list("key", "pk"))
    held = set(Interval.objects.filter(department=department).values_list("kind__key", "mode_code", "origin"))
    Interval.objects.bulk_create(
        Interval(
            department=department,
            kind_id=kinds[row["kind"]] if row["kind"] else None,
            mode_code=row["mode_code"],
            months=int(row["months"]),
            grace_days=int(row["grace_days"] or 0),
            origin=row["origin"],
            source=row["source"],
            effective_on=on,
        )
        for row in shipped_rows("intervals.csv")
        if (row["kind"] or None, row["mode_code"], row["origin"]) not in held
    )


@cache
def shipped_kinds() -> tuple[dict[str, Any], ...]:
    """Return the kinds as shipped."""
    return tuple(json.loads((CATALOGUE / "kinds.json").read_text(encoding="utf-8")))


@cache
def shipped_rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of one shipped table as text."""
    with (CATALOGUE / name).open(encoding="utf-8", newline="") as table:
        return tuple(csv.DictReader(table))


@cache
def shipped_lists() -> dict[str, Any]:
    """Return the standard load lists: two_lanes and one_lane."""
    return json.loads((CATALOGUE / "standard_lists.json").read_text(encoding="utf-8"))


def _kind_values(row: Mapping[str, Any]) -> dict[str, Any]:
    values = {k: row[k] for k in ("key", "name", "function", "prefix", "serialised", "consumable", "per_person")}
    return values | {
        "spec_fields": row["spec"],
        "mode_codes": row["modes"],
        "checks": row["checks"],
        "words": row["words"],
        "origin": "catalogue as shipped",
    }


def _typed(row: Mapping[str, str]) -> dict[str, Any]:
    return {k: (float(v) if v else None) if k in _NUMBERS else v for k, v in row.items()}


def _limit_values(row: Mapping[str, str]) -> dict[str, Any]:
    values = _typed(row)
    values["check_name"] = values.pop("check")
    return values


@transaction.atomic
def set_limit(
    *,
    department: Department,
    key: str,
    on: date,
    by: User,
    origin: str,
    kind: ItemKind | None = None,
    source: str = "",
    **changes: Any,
) -> Limit:
    """Put a limit in force from a day on, for one kind or for all; the row before stays for the days before.

    ``origin`` says who says so: law, standard, maker, guidance, policy. ``changes`` are any of pass_low, pass_high,
    limits_low, limits_high, basis and note, in the limit's own unit; what is not named stays as it was.

    Raises:
        KeyError: the department holds no limit of that key.
    """
    rows = Limit.objects.filter(department=department, key=key)
    special = in_force(rows.filter(kind=kind), on, lambda r: r.key) if kind else {}
    before = special.get(key) or in_force(rows.filter(kind=None), on, lambda r: r.key).get(key)
    if before is None:
        raise KeyError(f"no limit {key!r}; the keys are those of the catalogue")
    values = _copied(before, ("check_name", "quantity", "unit", "basis", "note"), _NUMBERS[6:]) | changes
    row, _ = Limit.objects.update_or_create(
        department=department,
        kind=kind,
        key=key,
        effective_on=on,
        defaults=values | {"origin": origin, "source": source},
    )
    _announce(department, by, "set limit", f"{key} of {kind or 'every kind'} from {on}", changes | {"origin": origin})
    return row


@transaction.atomic
def set_failure_mode(
    *, department: Department, code: str, on: date, by: User, origin: str, **changes: Any
) -> FailureMode:
    """Put a failure mode's row in force from a day on: another prior, grade, interval or fraction.

    Raises:
        KeyError: the department holds no failure mode of that code.
    """
    before = in_force(FailureMode.objects.filter(department=department, code=code), on, lambda r: r.code).get(code)
    if before is None:
        raise KeyError(f"no failure mode {code!r}; the codes are those of the catalogue")
    fields = ("name", "grade", "cls", "limits", "intervals", "do_now", "caution", "effect")
    values = _copied(before, fields, _NUMBERS[:6]) | changes
    row, _ = FailureMode.objects.update_or_create(
        department=department, code=code, effective_on=on, defaults=values | {"origin": origin}
    )
    _announce(department, by, "set failure mode", f"{code} from {on}", changes | {"origin": origin})
    return row


@transaction.atomic
def set_interval(
    *,
    department: Department,
    mode_code: str,
    months: int,
    on: date,
    by: User,
    origin: str,
    kind: ItemKind | None = None,
    grace_days: int = 0,
    source: str = "",
) -> Interval:
    """Put an interval in force from a day on, for one kind or for all, beside those of other origins."""
    row, _ = Interval.objects.update_or_create(
        department=department,
        kind=kind,
        mode_code=mode_code,
        origin=origin,
        effective_on=on,
        defaults={"months": months, "grace_days": grace_days, "source": source},
    )
    detail = {"months": months, "grace_days": grace_days, "origin": origin}
    _announce(department, by, "set interval", f"{mode_code} of {kind or 'every kind'} from {on}", detail)
    return row


def _copied(row: Any, texts: tuple[str, ...], numbers: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*texts, *numbers)}


def _announce(department: Department, by: User, did: str, subject: str, detail: dict[str, Any]) -> None:
    AuditEntry.objects.create(department=department, by=by, did=did, subject=subject, detail=detail)
    # a limit bears on every line that carries such items: all are marked, the rating decides what moved
    lines = list(Line.objects.filter(department=department).values_list("pk", flat=True))
    cache_changed.send(sender=Limit, department=department, item_ids=[], lot_ids=[], line_ids=lines)
