"""What a phone takes along into a bay without signal: a place with its checks, and each check's form as data.

The forms are those of the pages (``forms.CheckForm``), drawn as data instead of as a page: the same procedures, steps,
cautions, choices, units and limits. No reading of an earlier day is in it, so none can be copied.
"""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Final

from inspections import queries
from inspections.forms import Asked, CheckForm
from inspections.models import Inspection, Procedure, Walk
from inspections.page_limits import LIMIT_OF
from inspections.page_queries import (
    CheckRow,
    PlaceDue,
    WalkRow,
    check_name,
    done_on,
    place_rows,
    places_due,
    procedures,
)
from inventory import queries as cache
from inventory.models import Limit, Place
from shared.models import Department, User

COUNT_ON_A_LINE: Final = "count-on-a-line"
TIMED: Final = frozenset({"min", "s"})  # units of what a watch is held to


def overview(department: Department, by: User, at: datetime, on: date) -> dict[str, Any]:
    """Return who asks, the places with what is due there, and every walk that is open."""
    walks = list(queries.open_walks(department))
    return {
        "who": who(department, by),
        "made_at": at.isoformat(),
        "places": [_place_due(place) for place in places_due(department, at, on)],
        "walks": _walks(walks),
    }


def who(department: Department, by: User) -> dict[str, Any]:
    """Return whom a phone speaks for: its records are kept under both numbers, and sent under no others."""
    return {"user": by.pk, "name": by.signed_name, "department": department.pk, "department_name": department.name}


def pack(department: Department, by: User, place: Place, at: datetime, on: date) -> dict[str, Any]:
    """Return one place whole: what stands there in bay order, its containers with their seals, and every form."""
    named = procedures(department, on)
    drawer = _Forms(department, named, at, on)
    rows, lines = place_rows(department, place, at, on)
    seals = cache.seals(department, at, at)
    within = cache.place_ids_within(department, place)
    containers = Place.objects.filter(department=department, pk__in=within, sort=Place.Sort.CONTAINER)
    walks = list(queries.open_walks(department).filter(place=place))
    return {
        "who": who(department, by),
        "made_at": at.isoformat(),
        "place": {"pk": place.pk, "name": place.name},
        "rows": [_row(row, drawer) for row in rows],
        "lines": [_row(row, drawer) for row in lines],
        "containers": [_container(each, seals.get(each.pk)) for each in containers],
        "walks": _walks(walks),
        "forms": drawer.forms,
    }


def _place_due(place: PlaceDue) -> dict[str, Any]:
    return {"pk": place.place.pk, "name": place.place.name, "things": place.things, "words": place.words}


def _walks(walks: list[Walk]) -> list[dict[str, Any]]:
    done: dict[int, list[Inspection]] = defaultdict(list)
    for row in done_on(walks):
        done[row.walk_id].append(row)
    return [
        {
            "client_id": str(walk.client_id),
            "place": walk.place_id,
            "place_name": walk.place.name,
            "started_at": walk.started_at.isoformat(),
            "walker": walk.taken_by or walk.by_id,
            "walker_name": walk.taken_name or walk.by.signed_name,
            "done": [_done(row) for row in done[walk.pk]],
        }
        for walk in walks
    ]


def _done(row: Inspection) -> dict[str, Any]:
    of = "item" if row.item_id else "lot" if row.lot_id else "line"
    return {
        "of": of,
        "pk": getattr(row, f"{of}_id"),
        "key": row.check_key,
        "check": check_name(row.procedure, row.check_key),
        "client_id": str(row.client_id),
        "verdict": row.verdict,
        "by": row.by_name,
        "at": row.happened_at.isoformat(),
    }


def _container(place: Place, seal: cache.SealStanding | None) -> dict[str, Any]:
    held = seal or cache.SealStanding()
    return {
        "pk": place.pk,
        "name": place.name,
        "seal": held.number,
        "applied_at": held.applied_at.isoformat() if held.applied_at and held.number else "",
        "applied_by": held.applied_by,
        "doubt": held.doubt,
    }


def _row(row: WalkRow, drawer: "_Forms") -> dict[str, Any]:
    return {
        "of": row.of,
        "pk": row.pk,
        "tag": row.tag,
        "label": row.label,
        "name": row.name,
        "serial": getattr(row.subject, "serial", ""),
        "state": row.state,
        "where": row.where,
        "place": row.place.pk if row.place else None,
        "quantity": row.quantity,
        "awaiting": row.awaiting_second_name,
        "line": row.count_line,
        "checks": [_check(row, check, drawer) for check in row.checks],
    }


def _check(row: WalkRow, check: CheckRow, drawer: "_Forms") -> dict[str, Any]:
    return {
        "key": check.key,
        "name": check.name,
        "words": check.words,
        "due": check.is_due,
        "pressing": check.is_pressing,
        "form": drawer.form_of(row, check.key),
    }


class _Forms:
    """Draws each form once, however many things of one kind it is asked for."""

    def __init__(self, department: Department, named: Mapping[str, Procedure], at: datetime, on: date) -> None:
        self.named, self.at = named, at
        self.limits_of = cache.limits_of_kinds(department, on)
        self.forms: dict[str, Any] = {}

    def form_of(self, row: WalkRow, check_key: str) -> str:
        """Return the key of the form that this check of this thing is done with; blank where there is none."""
        if row.count_line is not None:
            self.forms.setdefault(COUNT_ON_A_LINE, _COUNT_FORM)
            return COUNT_ON_A_LINE
        if check_key not in self.named:
            return ""
        kind = getattr(row.subject, "kind", None)
        # The plate's chemistry chooses a battery's limit; nothing else of a single thing changes its form.
        chemistry = str(row.subject.spec.get("chemistry", "")) if row.of == "item" else ""
        key = f"{row.of}|{check_key}|{kind.pk if kind else ''}|{chemistry.casefold()}"
        if key not in self.forms:
            limits = self.limits_of(kind.pk if kind else None)
            item = row.subject if row.of == "item" else None
            form = CheckForm(procedure=self.named[check_key], now=self.at, limits=limits, item=item)
            self.forms[key] = form_data(form, limits)
        return key


def form_data(form: CheckForm, limits: Mapping[str, Limit]) -> dict[str, Any]:
    """Return a check's form as data."""
    definition, check_key = form.procedure.definition, form.procedure.check_key
    steps = form.steps
    common = form.common
    asked = [one for step in steps for one in step.inputs] + common
    return {
        "check": check_key,
        "name": form.procedure.name,
        "version": form.procedure.version,
        "first": definition.get("first", ""),
        "steps": [
            {"text": step.text, "caution": step.caution, "inputs": [one.bound.name for one in step.inputs]}
            for step in steps
        ],
        "common": [one.bound.name for one in common],
        "inputs": {one.bound.name: _input(form, one, limits, definition.get("per", "item")) for one in asked},
        "one_of": list(definition.get("needs_one_of") or ()),
        "wants": form.wants,
        "void_when": list(definition.get("void_when") or ()),
    }


def _input(form: CheckForm, one: Asked, limits: Mapping[str, Limit], per: str) -> dict[str, Any]:
    asked = form.asked[one.bound.name]
    return {
        "label": one.bound.label,
        "sort": one.sort,
        "unit": one.unit,
        "required": one.required,
        "help": one.help,
        "limit": one.limit,
        "least": asked.get("least"),
        "most": asked.get("most"),
        "choices": [list(choice) for choice in one.bound.field.choices] if one.is_radio else [],
        "says": one.said.label if one.said else "",
        "timer": _timer(form.procedure.check_key, asked, limits) if per == "item" else None,
    }


def _timer(check_key: str, asked: Mapping[str, Any], limits: Mapping[str, Limit]) -> dict[str, Any] | None:
    """Return the watch for a reading that is a time: how long it should run by the limit, None where none says."""
    if asked.get("unit") not in TIMED:
        return None
    limit = limits.get(LIMIT_OF.get((check_key, asked["key"]), ""))
    goal = limit.pass_low if limit is not None and limit.unit == asked["unit"] else None
    return {"unit": asked["unit"], "goal": goal}


# A lot that stands on several lines is counted on each: a row of the counts ledger, not an inspection.
_COUNT_FORM: Final = {
    "check": "count",
    "name": "Count on one line",
    "version": 0,
    "first": "",
    "steps": [
        {
            "text": "Count what you see and touch on this line; leave out what is spoiled.",
            "caution": "Lift with the knees; boxes on high shelves come down with two.",
            "inputs": ["counted"],
        }
    ],
    "common": [],
    "inputs": {
        "counted": {
            "label": "Counted", "sort": "integer", "unit": "", "required": True, "help": "", "limit": "", "least": 0,
            "most": 1_000_000, "choices": [], "says": "", "timer": None,
        }
    },
    "one_of": [],
    "wants": [],
    "void_when": [],
}  # fmt: skip
