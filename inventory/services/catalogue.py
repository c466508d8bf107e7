"""The catalogue a department starts with, and the dated rows by which it makes the catalogue its own."""

import csv
import json
import math
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.db import transaction
from django.db.models import Q

from inventory.models import FailureMode, Interval, ItemKind, Limit, Line
from inventory.queries import in_force
from inventory.queries.catalogue import ORIGINS
from inventory.signals import cache_changed
from shared.api import Conflict
from shared.models import AuditEntry, Department, User

CATALOGUE = Path(__file__).resolve().parent.parent / "catalogue"
MOST_MONTHS: Final = 180
MOST_GRACE_DAYS: Final = 90
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
        Conflict: bounds that contradict each other, or that loosen what the law or the maker says.
    """
    rows = Limit.objects.filter(department=department, key=key)
    special = in_force(rows.filter(kind=kind), on, lambda r: r.key) if kind else {}
    before = special.get(key) or in_force(rows.filter(kind=None), on, lambda r: r.key).get(key)
    if before is None:
        raise KeyError(f"no limit {key!r}; the keys are those of the catalogue")
    values = _copied(before, ("check_name", "quantity", "unit", "basis", "note"), _NUMBERS[6:]) | changes
    sensible_bounds(values)
    general = in_force(rows.filter(kind=None), on, lambda r: r.key).get(key)
    for held in {row.pk: row for row in (before, general) if row is not None}.values():
        _no_looser(values, held, origin)
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
    """Put an interval in force from a day on, for one kind or for all, beside those of other origins.

    Raises:
        Conflict: nonsense, or longer than the law (or, of an own decision, the maker) allows.
    """
    if origin not in ORIGINS:
        raise Conflict(f"{origin!r} is no origin of an interval.", where="origin", mend=f"Use {', '.join(ORIGINS)}.")
    if not 1 <= months <= MOST_MONTHS:
        raise Conflict("An interval is 1 to 180 months.", where="months", mend="Give whole months.")
    if not 0 <= grace_days <= MOST_GRACE_DAYS:
        raise Conflict("Grace is 0 to 90 days.", where="grace_days", mend="Give whole days.")
    _within_law(department, mode_code, kind, on, origin, months, grace_days)
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


def sensible_bounds(values: Mapping[str, Any]) -> None:
    """Refuse bounds that contradict each other.

    Raises:
        Conflict: says which, and how they must stand.
    """
    bounds = {name: values.get(name) for name in _NUMBERS[6:]}
    if any(bound is not None and not math.isfinite(bound) for bound in bounds.values()):
        raise Conflict("A bound is a finite number.")
    low, high, wide_low, wide_high = (bounds[name] for name in _NUMBERS[6:])
    if low is not None and high is not None and low > high:
        raise Conflict("The least that passes lies above the most that passes.", where="pass_low", mend="Swap the two.")
    if wide_low is not None and low is not None and wide_low > low:
        raise Conflict(
            "Pass with limits begins above the least that passes.",
            where="limits_low",
            mend="It is the wider of the two: give a lower number, or leave it empty.",
        )
    if wide_high is not None and high is not None and wide_high < high:
        raise Conflict(
            "Pass with limits ends below the most that passes.",
            where="limits_high",
            mend="It is the wider of the two: give a higher number, or leave it empty.",
        )
    if (wide_low is not None and low is None) or (wide_high is not None and high is None):
        raise Conflict(
            "A wider bound needs the bound that passes on the same side.", mend="Give both, or neither of the two."
        )


def _no_looser(values: Mapping[str, Any], held: Limit, origin: str) -> None:
    """Refuse to loosen what the law or the maker says; a maker answers for its own figure, nobody for the law."""
    said = held.origin.split()[0] if held.origin else ""
    if said not in ("law", "maker") or (said == "maker" and origin == "maker"):
        return
    lower = any(_below(values.get(name), getattr(held, name)) for name in ("pass_low", "limits_low"))
    higher = any(_below(getattr(held, name), values.get(name), upper=True) for name in ("pass_high", "limits_high"))
    if lower or higher:
        whose = "The law" if said == "law" else "The maker"
        source = f" ({held.source})" if held.source else ""
        raise Conflict(
            f"{whose} sets this limit{source}: a looser one is not yours to set.",
            mend="A tighter one is. Where the figure itself is wrong, its source has to say so first.",
        )


def _below(value: float | None, bound: float | None, *, upper: bool = False) -> bool:
    """Return whether a lower bound went down or away, or (``upper``, with the two swapped) an upper one up or away."""
    if upper:
        return value is not None and (bound is None or bound > value)
    return bound is not None and (value is None or value < bound)


def _within_law(
    department: Department,
    mode_code: str,
    kind: ItemKind | None,
    on: date,
    origin: str,
    months: int,
    grace_days: int,
) -> None:
    """Refuse an interval longer than what the law asks, or than what the maker asks where the department decides."""
    of_kind = Q(kind=None) if kind is None else Q(kind=None) | Q(kind=kind)
    rows = Interval.objects.filter(of_kind, department=department, mode_code=mode_code, origin__in=("law", "maker"))
    for held in in_force(rows, on, lambda r: (r.kind_id, r.origin)).values():
        looser = months > held.months or (held.origin == "law" and months == held.months and grace_days > 0)
        if looser and (held.origin == "law" or origin == "own"):
            whose = "The law" if held.origin == "law" else "The maker"
            source = f" ({held.source})" if held.source else ""
            every = "month" if held.months == 1 else f"{held.months} months"
            raise Conflict(
                f"{whose} asks for it every {every}{source}, with no grace: a longer interval is not yours to set."
                if held.origin == "law"
                else f"{whose} asks for it every {every}{source}: a longer interval is not yours to set.",
                where="months",
                mend="A shorter one is.",
            )


@transaction.atomic
def set_checks(
    *, department: Department, kind: ItemKind, checks: Mapping[str, Sequence[str]], by: User, reason: str = ""
) -> ItemKind:
    """Say which checks a kind has, and which of its failure modes each of them can see.

    A mode that no check sees any more becomes a blind spot: that needs a reason, which is kept in the audit.

    Raises:
        Conflict: another department's kind, a mode that the kind does not have, or a new blind spot with no reason.
    """
    if kind.department_id != department.pk:
        raise Conflict("That kind belongs to another department.")
    kept = {key: list(dict.fromkeys(codes)) for key, codes in checks.items()}
    foreign = {code for codes in kept.values() for code in codes} - set(kind.mode_codes)
    if foreign:
        raise Conflict(f"{kind.name} has no failure mode {', '.join(sorted(foreign))}.", where="checks")
    before = dict(kind.checks)
    lost = kind.scheduled_modes - {code for codes in kept.values() for code in codes}
    if lost and not reason.strip():
        raise Conflict(
            f"No check would see {', '.join(sorted(lost))} any more: a new blind spot.",
            where="reason",
            mend="Say why, or leave one check that sees it.",
        )
    if kept == before:
        return kind
    kind.checks = kept
    kind.save(update_fields=["checks"])
    detail = {"before": before, "after": kept, "reason": reason.strip()}
    _announce(department, by, "set checks of a kind", kind.name, detail)
    return kind


def _copied(row: Any, texts: tuple[str, ...], numbers: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in (*texts, *numbers)}


def _announce(department: Department, by: User, did: str, subject: str, detail: dict[str, Any]) -> None:
    AuditEntry.objects.create(department=department, by=by, did=did, subject=subject, detail=detail)
    # a limit bears on every line that carries such items: all are marked, the rating decides what moved
    lines = list(Line.objects.filter(department=department).values_list("pk", flat=True))
    cache_changed.send(sender=Limit, department=department, item_ids=[], lot_ids=[], line_ids=lines)
