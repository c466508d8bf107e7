"""Runs: a line sent and received, the run sheet on a phone, what follows after use, and the drills over time."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspections import page_queries, run_pages
from inspections.models import HandReceipt, Run, RunEvent
from inspections.predictions import prediction_of
from inspections.queries.runs import RunSheet, drills, load_aboard, run_sheet, runs_of, runs_out, seals_aboard
from inspections.run_forms import AmendForm, ClearForm, EntryForm, ItemsForm, PackForm, ReceiveForm, SendForm
from inspections.services.after_use import Packing, clear_items, pack_items, spread_to_dry
from inspections.services.plants import PlantsAboard, show_at_send
from inspections.services.runs import receive_line, record_run_event, send_line, undo_run_event
from inventory.forms import OnceForm
from inventory.models import Line
from inventory.views import signed
from shared.api import AlreadySent, Conflict
from shared.walls import allowed

RUNS_SHOWN = 50


@allowed("read")
@never_cache
@require_GET
def run_list(request: HttpRequest) -> HttpResponse:
    """Show the lines that can be sent, those that are out, and the runs there were."""
    now = timezone.now()
    out = runs_out(request.department, now, now)
    lines = list(Line.objects.filter(department=request.department).select_related("home"))
    context = {
        "lines": [(line, out.get(line.pk)) for line in lines],
        "runs": runs_of(request.department)[:RUNS_SHOWN],
        "waiting": run_pages.waiting(request.department, now),
    }
    return render(request, "inspections/runs/list.html", context)


def _line_of(request: HttpRequest, pk: int) -> Line:
    return get_object_or_404(Line.objects.select_related("home", "department"), pk=pk, department=request.department)


def _run_of(request: HttpRequest, pk: int) -> Run:
    rows = Run.objects.filter(department=request.department, corrections=None)
    return get_object_or_404(rows.select_related("line__department", "department"), pk=pk)


def _sheet_of(run: Run) -> RunSheet:
    now = timezone.now()
    return run_sheet(run, now, now)


# Send ----------------------------------------------------------------------------------------------------------------


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def send(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a line out, with what is aboard, what is missing and the seals, signed over to somebody by name."""
    line, now = _line_of(request, pk), timezone.now()
    form = SendForm(request.POST or None)
    planted: list[Any] = []
    if request.method == "POST" and form.is_valid():
        try:
            run = send_line(
                line=line, predicted=prediction_of(line, now), happened_at=now, **signed(request), **form.cleaned_data
            )
        except PlantsAboard as refused:
            show_at_send(line=line, states=refused.states, sender=request.user, at=now)
            planted = refused.states
            form.add_error("plants_known", "Whoever sends it must know what is planted aboard.")
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{line} is out. Print its hand receipt.")
            return redirect("runs:run", pk=run.pk)
    context = {
        "line": line,
        "form": form,
        "load": load_aboard(line, now, now),
        "seals": seals_aboard(line, now, now),
        "out": runs_out(request.department, now, now).get(line.pk),
        "planted": planted,
    }
    return render(request, "inspections/runs/send.html", context, status=422 if form.errors else 200)


@allowed("read")
@never_cache
@require_GET
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one hand receipt, made to be printed and signed on paper as well."""
    rows = HandReceipt.objects.filter(department=request.department).select_related("run__line")
    row = get_object_or_404(rows, pk=pk)
    return render(request, "inspections/runs/receipt.html", {"receipt": row, "run": row.run})


# The sheet -----------------------------------------------------------------------------------------------------------


@allowed("read")
@never_cache
@require_GET
def run(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one run: its clock, its lanes, and what was used and found."""
    return _sheet_page(request, _run_of(request, pk))


def _sheet_page(request: HttpRequest, row: Run, refused: EntryForm | None = None) -> HttpResponse:
    view = run_pages.sheet_view(_sheet_of(row), timezone.now(), refused)
    fragment = request.htmx and not request.htmx.history_restore_request
    template = "inspections/runs/_sheet.html" if fragment else "inspections/runs/run.html"
    return render(request, template, {"view": view, "run": row}, status=422 if refused else 200)


@allowed("walk")
@require_POST
def put(request: HttpRequest, pk: int) -> HttpResponse:
    """Put one row on the sheet: a stamp, a person through a lane, a use, a fault."""
    row = _run_of(request, pk)
    sheet = _sheet_of(row)
    modes = run_pages.modes_aboard(sheet)
    form = EntryForm(request.POST, run=row, rows=run_pages.load_of(sheet), modes=modes)
    if form.is_valid():
        try:
            _put_once(request, row, form)
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            return _sheet_page(request, row) if request.htmx else redirect("runs:run", pk=pk)
    return _sheet_page(request, row, form)


def _put_once(request: HttpRequest, row: Run, form: EntryForm) -> RunEvent:
    at = form.cleaned_data["at"] or timezone.now()
    if at > timezone.now():
        raise Conflict("This is still to come. Say when it was.")
    return record_run_event(
        run=row, happened_at=at, client_id=form.cleaned_data["client_id"], **signed(request), **form.said
    )


def _event_of(request: HttpRequest, row: Run, event: int) -> RunEvent:
    return get_object_or_404(RunEvent, pk=event, run=row, department=request.department)


@allowed("walk")
@require_POST
def undo(request: HttpRequest, pk: int, event: int) -> HttpResponse:
    """Take back one row of the sheet; it stays on record as undone."""
    row = _run_of(request, pk)
    form = OnceForm(request.POST)
    if form.is_valid():
        try:
            undo_run_event(
                run=row, row=_event_of(request, row, event), happened_at=timezone.now(), **signed(request),
                **form.cleaned_data,
            )  # fmt: skip
        except Conflict as refused:
            messages.error(request, str(refused))
    return _sheet_page(request, row) if request.htmx else redirect("runs:run", pk=pk)


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def amend(request: HttpRequest, pk: int, event: int) -> HttpResponse:
    """Correct when a stamp or a person was; the first row stays on record."""
    row = _run_of(request, pk)
    was = _event_of(request, row, event)
    form = AmendForm(request.POST or None, initial={"at": timezone.localtime(was.happened_at)})
    if request.method == "POST" and form.is_valid():
        kept = {key: getattr(was, key) for key in ("event", "lane", "walking", "item", "lot", "number", "unit", "text")}
        try:
            record_run_event(
                run=row, corrects=was, happened_at=form.cleaned_data["at"], client_id=form.cleaned_data["client_id"],
                **signed(request), **kept,
            )  # fmt: skip
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, "Corrected. The first entry stays on record.")
            return redirect("runs:run", pk=pk)
    context = {"run": row, "event": was, "name": run_pages.event_name(was), "form": form}
    return render(request, "inspections/runs/amend.html", context, status=422 if form.errors else 200)


# Receive -------------------------------------------------------------------------------------------------------------


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    """Receive a line back: what is missing, what was used, what is wet or may be contaminated."""
    row, now = _run_of(request, pk), timezone.now()
    sheet = _sheet_of(row)
    if sheet.is_back and request.method == "GET":
        return redirect("runs:run", pk=pk)
    setup = page_queries.procedures(request.department, timezone.localdate()).get("setup")
    form = ReceiveForm(request.POST or None, sheet=sheet, procedure=None if row.sort == Run.Sort.LOAN else setup)
    if request.method == "POST" and form.is_valid() and _received(request, row, form, now):
        messages.success(request, f"{row.line} is back. What follows after use stands here.")
        return redirect(f"{reverse('runs:after-use')}?line={row.line_id}")
    context = {"run": row, "sheet": sheet, "form": form}
    return render(request, "inspections/runs/receive.html", context, status=422 if form.errors else 200)


def _received(request: HttpRequest, row: Run, form: ReceiveForm, now: datetime) -> HandReceipt | None:
    said = {key: form.cleaned_data[key] for key in ("client_id", "handed_by", "organisation", "note")}
    try:
        return receive_line(run=row, came=form.came, happened_at=now, **signed(request), **said)
    except AlreadySent:
        form.say_other()
    except Conflict as refused:
        form.add_error(None, str(refused))
    return None


# After use -----------------------------------------------------------------------------------------------------------


@allowed("read")
@never_cache
@require_GET
def after_use(request: HttpRequest) -> HttpResponse:
    """Show where everything is between wet and packed, for how long, and which checks the use asks for."""
    return _after_use_page(request)


def _after_use_page(request: HttpRequest, **forms: OnceForm) -> HttpResponse:
    named = request.GET.get("line", "")
    if named and (not named.isdecimal() or len(named) > 18):
        raise Http404("no such line here")
    line = _line_of(request, int(named)) if named else None
    department = request.department
    context = {
        "line": line,
        "view": run_pages.after_use(department, timezone.now(), timezone.localdate(), line),
        "dry_form": forms.get("dry") or ItemsForm(department=department),
        "pack_form": forms.get("pack") or PackForm(department=department),
        "clear_form": forms.get("clear") or ClearForm(department=department),
    }
    return render(request, "inspections/runs/after_use.html", context, status=422 if forms else 200)


def _after(request: HttpRequest, name: str, form: OnceForm, service: Callable[..., list], said: str) -> HttpResponse:
    if form.is_valid():
        try:
            rows = service(happened_at=timezone.now(), **signed(request))
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            left = len(form.cleaned_data["items"]) - len(rows)
            kept = f" {left} stayed where they are: see what their check found." if left else ""
            messages.success(request, f"{len(rows)} {said}.{kept}")
            here = f"?line={request.GET['line']}" if request.GET.get("line", "").isdecimal() else ""
            return redirect(reverse("runs:after-use") + here)
    return _after_use_page(request, **{name: form})


@allowed("walk")
@require_POST
def dry(request: HttpRequest) -> HttpResponse:
    """Record that wet things are spread to dry."""
    form = ItemsForm(request.POST, department=request.department)
    return _after(request, "dry", form, lambda **by: spread_to_dry(**by, **form.cleaned_data), "spread to dry")


@allowed("walk")
@require_POST
def pack(request: HttpRequest) -> HttpResponse:
    """Record that dry things are packed, and sealed where they went into a container."""
    form = PackForm(request.POST, department=request.department)

    def service(**by: Any) -> list:
        given = form.cleaned_data
        packing = Packing(
            drained=given["drained"] == "yes", mould=given["mould"], rh_pct=given["rh_pct"], place=given["place"],
            seal=given["seal"],
        )  # fmt: skip
        return pack_items(items=given["items"], packing=packing, client_id=given["client_id"], **by)

    return _after(request, "pack", form, service, "dry and packed")


@allowed("write")
@require_POST
def clear(request: HttpRequest) -> HttpResponse:
    """Clear things from quarantine, by name."""
    form = ClearForm(request.POST, department=request.department)
    return _after(request, "clear", form, lambda **by: clear_items(**by, **form.cleaned_data), "cleared")


# Drills --------------------------------------------------------------------------------------------------------------


@allowed("read")
@require_GET
def drill_curve(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how the set-up times of a line went from drill to drill."""
    line, now = _line_of(request, pk), timezone.now()
    rows = drills(line, now, now)
    context = {"line": line, "rows": rows[::-1], "curves": run_pages.curves(rows)}
    return render(request, "inspections/runs/drills.html", context)
