"""The catalogue as pages: how each check is done, what it is held against, how often, and what nothing sees."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspections import catalogue_pages as pages
from inspections import page_queries, services
from inspections.catalogue_forms import (
    ChecksForm,
    IntervalForm,
    LimitForm,
    OwnCheckForm,
    ProcedureForm,
    Refusable,
    plain,
)
from inspections.models import Procedure
from inspections.services.amending import amend_procedure, make_check
from inspections.verdicts.own import BOUNDS
from inventory.models import FailureMode, ItemKind, Limit
from inventory.queries import limits_for, modes_for
from inventory.services import set_checks, set_interval, set_limit
from shared.api import Conflict
from shared.walls import allowed, may


def _kinds(request: HttpRequest) -> Any:
    return ItemKind.objects.filter(department=request.department)


def _done(form: Refusable, write: Callable[[], Any]) -> bool:
    """Carry out what a form asks for; what is refused is said on the form."""
    if not form.is_valid():
        return False
    try:
        write()
    except Conflict as refused:
        form.refuse(refused)
        return False
    return True


# Procedures ----------------------------------------------------------------------------------------------------------


@allowed("read")
@require_GET
def procedure_list(request: HttpRequest) -> HttpResponse:
    """Show every check with its version in force."""
    today = timezone.localdate()
    if not Procedure.objects.filter(department=request.department).exists():
        # A department that was made by hand has none yet; they are the same that an import loads.
        services.load_procedures(department=request.department, on=today)
    context = {"rows": pages.procedure_rows(request.department, today), "today": today}
    return render(request, "inspections/catalogue/procedures.html", context)


def _view_of(request: HttpRequest, check_key: str) -> pages.ProcedureView:
    asked = request.GET.get("version", "")
    version = int(asked) if asked.isdecimal() and len(asked) < 6 else None
    view = pages.procedure_view(request.department, check_key, timezone.localdate(), version)
    if view is None:
        raise Http404("no such check here")
    return view


@allowed("read")
@require_GET
def procedure(request: HttpRequest, check_key: str) -> HttpResponse:
    """Show one check as a phone shows it, in the version in force or in an older one."""
    context = {"view": _view_of(request, check_key), "today": timezone.localdate()}
    return render(request, "inspections/catalogue/procedure.html", context)


@allowed("write")
@require_http_methods(["GET", "POST"])
def amend(request: HttpRequest, check_key: str) -> HttpResponse:
    """Put another version of a check in force."""
    view, today = _view_of(request, check_key), timezone.localdate()
    newest = view.newest
    form = ProcedureForm(request.POST or None, procedure=newest, today=today)

    def write() -> None:
        given = form.cleaned_data
        amend_procedure(
            department=request.department,
            check_key=check_key,
            base=given["base"],
            definition=form.definition,
            effective_on=given["effective_on"],
            today=today,
            by=request.user,
            origin=given["origin"],
            reason=given["reason"],
        )

    if request.method == "POST" and _done(form, write):
        messages.success(request, f"{newest.name}: version {newest.version + 1} is on record.")
        return redirect("catalogue:procedure", check_key=check_key)
    status = 422 if form.errors else 200
    return render(request, "inspections/catalogue/amend.html", {"form": form, "procedure": newest}, status=status)


@allowed("write")
@require_http_methods(["GET", "POST"])
def new_check(request: HttpRequest) -> HttpResponse:
    """Make a check of the department's own."""
    today = timezone.localdate()
    form = OwnCheckForm(request.POST or None, kinds=_kinds(request), today=today)
    made: list[Procedure] = []
    if request.method == "POST" and _done(
        form, lambda: made.append(make_check(department=request.department, today=today, by=request.user, **form.said))
    ):
        messages.success(request, f"{made[0].name} is a check of {form.cleaned_data['kind'].name.lower()} now.")
        return redirect("catalogue:procedure", check_key=made[0].check_key)
    context = {"form": form, "modes": modes_for(request.department, today)}
    return render(request, "inspections/catalogue/new_check.html", context, status=422 if form.errors else 200)


# Limits --------------------------------------------------------------------------------------------------------------


@allowed("read")
@require_GET
def limit_list(request: HttpRequest) -> HttpResponse:
    """Show every limit in force by the check it belongs to, and the propane of each place beside the law's figure."""
    today = timezone.localdate()
    context = {
        "groups": pages.limits_by_check(request.department, today),
        "stores": pages.stores(request.department, timezone.now(), today),
    }
    return render(request, "inspections/catalogue/limits.html", context)


def _limit_page(request: HttpRequest, key: str, form: LimitForm | None = None) -> HttpResponse:
    history = pages.limit_history(request.department, key)
    if not history:
        raise Http404("no such limit here")
    today = timezone.localdate()
    standing = limits_for(request.department, None, today)[key]
    if form is None and may(request.membership, "write"):
        bounds = {name: plain(getattr(standing, name)) for name in BOUNDS}
        form = LimitForm(kinds=_kinds(request), initial=bounds | {"on": today, "note": standing.note})
    context = {
        "limit": pages.LimitRow(standing, [], pages.limit_uses().get(key, "")),
        "history": [pages.LimitRow(row, [], "") for row in history],
        "form": form,
        "today": today,
    }
    return render(request, "inspections/catalogue/limit.html", context, status=422 if form and form.errors else 200)


@allowed("read")
@require_GET
def limit(request: HttpRequest, key: str) -> HttpResponse:
    """Show one limit with its history, and take another figure for it."""
    return _limit_page(request, key)


@allowed("write")
@require_POST
def put_limit(request: HttpRequest, key: str) -> HttpResponse:
    """Put another figure in force, for every kind or for one."""
    get_object_or_404(Limit.objects.filter(department=request.department, kind=None, key=key).order_by("pk")[:1])
    form = LimitForm(request.POST, kinds=_kinds(request))
    if _done(form, lambda: set_limit(department=request.department, key=key, by=request.user, **form.cleaned_data)):
        whose = form.cleaned_data["kind"] or "every kind"
        messages.success(request, f"The limit stands for {whose} from {form.cleaned_data['on']:%d %b %Y}.")
        return redirect("catalogue:limit", key=key)
    return _limit_page(request, key, form)


# Intervals -----------------------------------------------------------------------------------------------------------


@allowed("read")
@require_GET
def interval_list(request: HttpRequest) -> HttpResponse:
    """Show how often each failure mode is proven and who says so, and the rules that Holdair ships with."""
    context = {
        "rows": pages.interval_rows(request.department, timezone.localdate()),
        "rules": pages.standard_rules(),
    }
    return render(request, "inspections/catalogue/intervals.html", context)


def _interval_page(request: HttpRequest, code: str, form: IntervalForm | None = None) -> HttpResponse:
    today = timezone.localdate()
    mode = modes_for(request.department, today).get(code)
    if mode is None:
        raise Http404("no such failure mode here")
    rows = [row for row in pages.interval_rows(request.department, today, of_kinds=True) if row.mode.code == code]
    if form is None and may(request.membership, "write"):
        given = {"on": today, "months": rows[0].rule.months, "grace_days": rows[0].rule.grace_days}
        form = IntervalForm(kinds=_kinds(request), initial=given)
    context = {"mode": mode, "rows": rows, "form": form}
    return render(request, "inspections/catalogue/interval.html", context, status=422 if form and form.errors else 200)


@allowed("read")
@require_GET
def interval(request: HttpRequest, code: str) -> HttpResponse:
    """Show the interval of one failure mode, and take another one for it."""
    return _interval_page(request, code)


@allowed("write")
@require_POST
def put_interval(request: HttpRequest, code: str) -> HttpResponse:
    """Put another interval in force, for every kind or for one."""
    if not FailureMode.objects.filter(department=request.department, code=code).exists():
        raise Http404("no such failure mode here")
    form = IntervalForm(request.POST, kinds=_kinds(request))
    if _done(
        form, lambda: set_interval(department=request.department, mode_code=code, by=request.user, **form.cleaned_data)
    ):
        messages.success(request, f"{code}: proven {pages.months(form.cleaned_data['months'])} from that day on.")
        return redirect("catalogue:interval", code=code)
    return _interval_page(request, code, form)


# Kinds and blind spots -----------------------------------------------------------------------------------------------


@allowed("read")
@require_GET
def kind_list(request: HttpRequest) -> HttpResponse:
    """Show every kind with its checks and its blind spots."""
    rows = pages.kind_rows(request.department, timezone.localdate())
    context = {"rows": rows, "unseen": sorted(pages.unseen_modes(rows))}
    return render(request, "inspections/catalogue/kinds.html", context)


def _kind_page(request: HttpRequest, key: str, form: ChecksForm | None = None) -> HttpResponse:
    kind = get_object_or_404(ItemKind, department=request.department, key=key)
    today = timezone.localdate()
    modes, named = modes_for(request.department, today), page_queries.procedures(request.department, today)
    if form is None and may(request.membership, "write"):
        form = ChecksForm(kind=kind, procedures=named, modes=modes)
    context = {"row": pages.kind_row(kind, modes, named), "form": form}
    return render(request, "inspections/catalogue/kind.html", context, status=422 if form and form.errors else 200)


@allowed("read")
@require_GET
def kind(request: HttpRequest, key: str) -> HttpResponse:
    """Show what checks one kind, what none of them sees, and take another schedule for it."""
    return _kind_page(request, key)


@allowed("write")
@require_POST
def put_checks(request: HttpRequest, key: str) -> HttpResponse:
    """Say which checks a kind has and what each of them sees."""
    held = get_object_or_404(ItemKind, department=request.department, key=key)
    today = timezone.localdate()
    form = ChecksForm(
        request.POST,
        kind=held,
        procedures=page_queries.procedures(request.department, today),
        modes=modes_for(request.department, today),
    )
    if _done(
        form,
        lambda: set_checks(
            department=request.department,
            kind=held,
            checks=form.checks,
            by=request.user,
            reason=form.cleaned_data["reason"],
        ),
    ):
        messages.success(request, f"{held.name}: its checks are on record. Every line is rated anew.")
        return redirect("catalogue:kind", key=key)
    return _kind_page(request, key, form)
