"""Snaps and hidden test faults: the draw and what came of it, planting, and who may know."""

import secrets
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspections.models import Plant, Snap
from inspections.page_queries import check_name, procedures
from inspections.planting import may_be_planted
from inspections.queries.plants import PlantState, detection, known_to
from inspections.queries.snaps import candidates, redraw, snap_states
from inspections.run_forms import AnswerForm, DrawForm, PlantForm, RemoveForm
from inspections.services.plants import plant_fault, remove_plant
from inspections.services.snaps import answer_snap, draw_snap, state_of_snap
from inventory.models import Item
from inventory.panels import Panel, item_panel
from inventory.queries import ItemStanding, modes_for
from inventory.views import signed
from shared.api import AlreadySent, Conflict
from shared.walls import allowed, may

SNAPS_SHOWN = 50
POOL_SHOWN = 40


@allowed("read")
@never_cache
@require_GET
def snaps(request: HttpRequest) -> HttpResponse:
    """Show the snaps, what could be drawn now and with which weight."""
    return _snaps_page(request)


def _snaps_page(request: HttpRequest, form: DrawForm | None = None) -> HttpResponse:
    now = timezone.now()
    rows = (
        Snap.objects.filter(department=request.department).select_related("item__kind").order_by("-happened_at", "-pk")
    )
    pool = sorted(candidates(request.department, now, now), key=lambda one: -one.share)
    context = {
        "states": [(state, state.word(now)) for state in snap_states(rows[:SNAPS_SHOWN], now, now)],
        "pool": pool[:POOL_SHOWN],
        "pool_size": len(pool),
        "form": form or DrawForm(),
        **_names(request),
    }
    return render(request, "inspections/runs/snaps.html", context, status=422 if form else 200)


def _names(request: HttpRequest) -> dict[str, Mapping[str, Any]]:
    """Give what the pool calls by key: checks and failure modes."""
    on = timezone.localdate()
    return {"names": procedures(request.department, on), "modes": modes_for(request.department, on)}


@allowed("write")
@require_POST
def draw(request: HttpRequest) -> HttpResponse:
    """Draw one item without notice."""
    form = DrawForm(request.POST)
    if form.is_valid():
        try:
            snap = draw_snap(
                seed=secrets.token_hex(8), happened_at=timezone.now(), client_id=form.cleaned_data["client_id"],
                **signed(request),
            )  # fmt: skip
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            return redirect("runs:snap", pk=snap.pk)
    return _snaps_page(request, form)


def _snap_of(request: HttpRequest, pk: int) -> Snap:
    rows = Snap.objects.filter(department=request.department).select_related(
        "item__kind", "item__department", "department"
    )
    return get_object_or_404(rows, pk=pk)


@allowed("read")
@never_cache
@require_GET
def snap(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one snap: what was drawn and why, and what came of it."""
    return _snap_page(request, _snap_of(request, pk))


def _snap_page(request: HttpRequest, row: Snap, form: AnswerForm | None = None) -> HttpResponse:
    now = timezone.now()
    state = state_of_snap(row)
    pool, again = redraw(row)
    names = _names(request)
    context = {
        "state": state,
        "snap": row,
        "word": state.word(now),
        "overdue": state.is_overdue(now),
        "check": check_name(names["names"].get(row.check_key), row.check_key),
        "pool": sorted(pool, key=lambda one: -one.share)[:POOL_SHOWN],
        "pool_size": len(pool),
        "percent": 100 * row.weight,
        "same": again is not None and again.item == row.item,
        "hand_form": AnswerForm(initial={"answer": "hand"}),
        "works_form": AnswerForm(initial={"answer": "works"}),
        "missing_form": form or AnswerForm(initial={"answer": "missing"}),
        **names,
    }
    return render(request, "inspections/runs/snap.html", context, status=422 if form else 200)


@allowed("walk")
@require_POST
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that the item is in hand, that it works, or that it is not where the record says."""
    row, form, now = _snap_of(request, pk), AnswerForm(request.POST), timezone.now()
    if form.is_valid():
        given = form.cleaned_data
        said: dict[str, Any] = {
            "hand": {"in_hand_at": now},
            "works": {"working_at": now},
            "missing": {"found": False, "note": given["note"]},
        }[given["answer"]]
        try:
            answer_snap(snap=row, happened_at=now, client_id=given["client_id"], **signed(request), **said)
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            return redirect("runs:snap", pk=pk)
    return _snap_page(request, row, form)


# Hidden test faults --------------------------------------------------------------------------------------------------


def _known(request: HttpRequest, **of: Any) -> list[PlantState]:
    return known_to(request.department, request.user, request.membership.role, timezone.now(), **of)


@allowed("plant")
@never_cache
@require_GET
def plants(request: HttpRequest) -> HttpResponse:
    """Show the test faults that one may know of, and how many of them the checks find."""
    now = timezone.now()
    context = {
        "states": [(state, RemoveForm()) for state in _known(request)],
        "detection": detection(request.department, now, now),
        "modes": modes_for(request.department, timezone.localdate()),
        "names": procedures(request.department, timezone.localdate()),
    }
    return render(request, "inspections/runs/plants.html", context)


@allowed("write")
@never_cache
@require_http_methods(["GET", "POST"])
def plant(request: HttpRequest, pk: int) -> HttpResponse:
    """Seal a hidden test fault on one item."""
    rows = Item.objects.select_related("kind", "department")
    item = get_object_or_404(rows, pk=pk, department=request.department)
    names = {key: row.name for key, row in procedures(request.department, timezone.localdate()).items()}
    form = PlantForm(
        request.POST or None, item=item, modes=modes_for(request.department, timezone.localdate()), names=names
    )
    if request.method == "POST" and form.is_valid():
        try:
            plant_fault(
                item=item, happened_at=timezone.now(), client_id=form.cleaned_data["client_id"], **signed(request),
                **form.said,
            )  # fmt: skip
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, "Sealed. It counts zero from now on, and nobody is told which it is.")
            return redirect("runs:plants")
    context = {"item": item, "form": form, "allowed_faults": may_be_planted(item.kind.key, item.kind.checks)}
    return render(request, "inspections/runs/plant.html", context, status=422 if form.errors else 200)


@allowed("walk")
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that a test fault was taken away. Who may not know of it finds none."""
    row = get_object_or_404(Plant.objects.select_related("department", "item"), pk=pk, department=request.department)
    if row.pk not in {state.plant.pk for state in _known(request, item_ids=[row.item_id])}:
        raise Http404("no such test fault here")
    form = RemoveForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            remove_plant(
                plant=row, happened_at=timezone.now(), by=request.user, by_name=request.user.signed_name, **given
            )
        except Conflict as refused:
            messages.error(request, str(refused))
        else:
            messages.success(
                request, f"{row.item.tag}: recorded as removed. It counts again when the same check passes."
            )
    return redirect("inventory:item", pk=row.item_id)


@item_panel
def plant_panel(request: HttpRequest, standing: ItemStanding, forms: Mapping[str, Any]) -> Panel:
    """Give the part of an item's page that tells of a test fault, to those who may know of it."""
    states = [state for state in _known(request, item_ids=[standing.item.pk]) if state.is_live]
    may_plant = may(request.membership, "write") and standing.state == "in service" and not states
    offered = may_plant and bool(may_be_planted(standing.item.kind.key, standing.item.kind.checks))
    return Panel(
        "inspections/runs/_plant_panel.html",
        {"states": [(state, RemoveForm()) for state in states], "item": standing.item, "may_plant": offered},
    )
