"""Shortages, orders and what comes of them."""

import csv
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory import order_pages, queries, services
from inventory.forms import OnceForm
from inventory.models import Order
from inventory.order_forms import CancelForm, DateOrderForm, HorizonForm, OrderForm, ReceiveForm
from inventory.views import signed
from shared.api import AlreadySent, Conflict
from shared.walls import allowed, may

_UNSAFE = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: Any) -> Any:
    """Return a cell of a CSV file as no spreadsheet runs it: text that starts like a formula is quoted."""
    return f"'{value}" if isinstance(value, str) and value.startswith(_UNSAFE) else value


def refuse(form: OnceForm, problem: Conflict) -> None:
    """Say on a form what its service refused, at the field it is about."""
    if isinstance(problem, AlreadySent):
        form.say_other()
        return
    form.add_error(problem.where if problem.where in form.fields else None, f"{problem} {problem.mend}")


@allowed("read")
@require_GET
def shortage_list(request: HttpRequest) -> HttpResponse:
    """Show what is short on a day, line by line and in all, and the orders."""
    form = HorizonForm(request.GET if request.GET.get("on") else None)
    on = form.cleaned_data["on"] if form.is_bound and form.is_valid() else None
    view = order_pages.shortages(request.department, timezone.now(), on or timezone.localdate())
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "inventory/orders/list.html", {"view": view, "form": form}, status=status)


@allowed("read")
@require_GET
def shortage_csv(request: HttpRequest) -> HttpResponse:
    """Give the shortage list as a table."""
    form = HorizonForm(request.GET)
    on = (form.cleaned_data["on"] if form.is_valid() else None) or timezone.localdate()
    view = order_pages.shortages(request.department, timezone.now(), on)
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="shortages-{on}.csv"'
    csv.writer(response).writerows([safe_cell(cell) for cell in row] for row in view.rows())
    return response


@allowed("write")
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Record an order; a link from a shortage fills in what is short."""
    given = {name: request.GET[name] for name in ("kind", "line", "quantity") if request.GET.get(name, "").isdecimal()}
    form = OrderForm(request.POST or None, department=request.department, initial=given)
    if request.method == "POST" and form.is_valid():
        try:
            order = services.place_order(happened_at=timezone.now(), **signed(request), **form.cleaned_data)
        except Conflict as problem:
            refuse(form, problem)
        else:
            messages.success(request, f"{order.quantity} {order.kind.name.lower()} ordered.")
            return redirect("orders:order", pk=order.pk)
    return render(request, "inventory/orders/new.html", {"form": form}, status=422 if form.errors else 200)


def _order(request: HttpRequest, pk: int) -> Order:
    rows = Order.objects.select_related("kind", "line", "award", "department")
    return get_object_or_404(rows, pk=pk, department=request.department)


@allowed("read")
@require_GET
def order(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one order with what became of it."""
    return _page(request, _order(request, pk), {})


def _page(request: HttpRequest, found: Order, forms: dict[str, OnceForm], status: int = 200) -> HttpResponse:
    now = timezone.now()
    standing = next(s for s in queries.orders_of(request.department, now, now) if s.order.pk == found.pk)
    context = {"view": standing, "order": standing.order, "total": standing.cost}
    if standing.is_open and may(request.membership, "write"):
        left = {"quantity": standing.remaining}
        context["receive_form"] = forms.get("receive") or ReceiveForm(order=found, initial=left)
        context["dated_form"] = forms.get("dated") or DateOrderForm()
        context["cancel_form"] = forms.get("cancel") or CancelForm()
    return render(request, "inventory/orders/order.html", context, status=status)


def _carry_out(
    request: HttpRequest, pk: int, name: str, make: Callable[[Order], OnceForm], service: Callable[..., Any], said: str
) -> HttpResponse:
    found = _order(request, pk)
    form = make(found)
    if form.is_valid():
        try:
            service(order=found, happened_at=timezone.now(), **signed(request), **form.cleaned_data)
        except Conflict as problem:
            refuse(form, problem)
        else:
            messages.success(request, said)
            return redirect("orders:order", pk=pk)
    return _page(request, found, {name: form}, status=422)


@allowed("write")
@require_POST
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    """Record what came of an order."""
    said = "Received. Items stand boxed, and count for nothing, until their acceptance test has passed."
    make = lambda order: ReceiveForm(request.POST, order=order)  # noqa: E731
    return _carry_out(request, pk, "receive", make, services.receive_order, said)


@allowed("write")
@require_POST
def date(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the date now given."""
    return _carry_out(
        request,
        pk,
        "dated",
        lambda order: DateOrderForm(request.POST),
        services.date_order,
        "The date is recorded.",
    )


@allowed("write")
@require_POST
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that no more will come."""
    return _carry_out(
        request, pk, "cancel", lambda order: CancelForm(request.POST), services.cancel_order, "The order has ended."
    )
