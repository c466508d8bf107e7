"""The Bay: places, lines, items, lots, load lists and the crew, and the postings that change them."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from inventory import page_queries, services
from inventory.forms import CountForm, MoveForm, OnceForm, SealForm, StateForm
from inventory.models import Count, Item, Line, Lot, Place, Posting
from inventory.panels import panels_of
from inventory.queries import ItemStanding
from shared.api import AlreadySent, Conflict
from shared.walls import allowed, may

PER_PAGE = 50


@allowed("read")
@require_GET
def bay(request: HttpRequest) -> HttpResponse:
    """Show the places and lines with what stands there."""
    context = {"bay": page_queries.bay(request.department, timezone.now()), "state_words": page_queries.STATES}
    return render(request, "inventory/bay.html", context)


@allowed("read")
@require_GET
@vary_on_headers("HX-Request")
def item_list(request: HttpRequest) -> HttpResponse:
    """Find items by tag, name, serial or plate, in one state or in any."""
    words, state = request.GET.get("q", "").replace("\0", "").strip()[:80], request.GET.get("state", "")
    if state and state not in page_queries.STATES:
        raise Http404("no such state")
    now, items = timezone.now(), page_queries.search(request.department, words)
    # A state is derived, so only a filter by state has to derive it for every match.
    rows = [s for s in page_queries.standings(items, now) if s.state == state] if state else items
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    found = list(page) if state else page_queries.standings(page, now)
    context = {
        "page": page,
        "standings": found,
        "words": words,
        "state": state,
        "state_words": page_queries.STATES,
        "has_items": bool(page.paginator.count) or Item.objects.filter(department=request.department).exists(),
    }
    fragment = request.htmx and not request.htmx.history_restore_request
    return render(request, "inventory/_items.html" if fragment else "inventory/item_list.html", context)


@allowed("read")
@require_GET
def place(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one place with what stands in it; printed, it is the place's wall sheet."""
    return _place_page(request, _place(request, pk), SealForm())


def _place(request: HttpRequest, pk: int) -> Place:
    return get_object_or_404(Place.objects.select_related("within__within"), pk=pk, department=request.department)


def _place_page(request: HttpRequest, found: Place, form: SealForm, status: int = 200) -> HttpResponse:
    now = timezone.now()
    context = {"view": page_queries.place_view(request.department, found, now), "now": now, "seal_form": form}
    return render(request, "inventory/place.html", context, status=status)


@allowed("walk")
@require_POST
def seal(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that a container was sealed, or how its seal was found."""
    found, form = _place(request, pk), SealForm(request.POST)
    if form.is_valid():
        try:
            row = services.record_seal(place=found, happened_at=timezone.now(), **signed(request), **form.cleaned_data)
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{found}: seal {row.number}, {row.get_event_display().lower()}.")
            return redirect("inventory:place", pk=pk)
    return _place_page(request, found, form, status=422)


# Items -------------------------------------------------------------------------------------------------------------


def standing_of(request: HttpRequest, pk: int) -> ItemStanding:
    """Return how one of the department's items stands now; any other is not found."""
    rows = Item.objects.select_related("kind", "department", "award")
    found = get_object_or_404(rows, pk=pk, department=request.department)
    standings = page_queries.standings([found], timezone.now())
    if not standings:
        raise Http404("This item is not in the cache yet.")
    return standings[0]


@allowed("read")
@require_GET
def item(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one item: its card, where it stands, its evidence and its history."""
    return item_page(request, standing_of(request, pk))


def item_page(
    request: HttpRequest, standing: ItemStanding, *, forms: Mapping[str, Any] | None = None, status: int = 200
) -> HttpResponse:
    """Draw an item's page, with forms that came back with errors in their places."""
    forms = forms or {}
    context = {"view": page_queries.item_view(standing), "panels": panels_of(request, standing, forms)}
    if may(request.membership, "write"):
        where = {"place": standing.place, "line": standing.line}
        context["move_form"] = forms.get("move") or MoveForm(department=request.department, initial=where)
        context["state_form"] = forms.get("state") or StateForm()
    return render(request, "inventory/item.html", context, status=status)


def signed(request: HttpRequest) -> dict[str, Any]:
    """Return who writes, as services take it."""
    return {"department": request.department, "by": request.user, "by_name": request.user.signed_name}


def post_about(
    request: HttpRequest,
    standing: ItemStanding,
    name: str,
    form: OnceForm,
    service: Callable[..., Any],
    said: Callable[[Any], str],
) -> HttpResponse:
    """Carry out one posting about an item, or draw its page again with what is wrong beside the field.

    A form pressed twice records once; sent again with other content, it says so and loses nothing.
    """
    if form.is_valid():
        try:
            row = service(item=standing.item, happened_at=timezone.now(), **signed(request), **form.cleaned_data)
        except AlreadySent:
            form.say_other()
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{standing.item.tag}{said(row)}")
            return redirect("inventory:item", pk=standing.item.pk)
    return item_page(request, standing, forms={name: form}, status=422)


@allowed("write")
@require_POST
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Post an item to another place or line."""
    standing = standing_of(request, pk)
    form = MoveForm(request.POST, department=request.department)
    service = partial(services.record_posting, change=0, reason=Posting.Reason.MOVED)
    return post_about(request, standing, "move", form, service, lambda row: f" now stands at {row.place}.")


@allowed("write")
@require_POST
def change_state(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that something happened to an item's state."""
    standing = standing_of(request, pk)
    form, service = StateForm(request.POST), services.record_state
    return post_about(
        request, standing, "state", form, service, lambda row: f": {row.get_event_display().lower()}, recorded."
    )


# Lots, load lists --------------------------------------------------------------------------------------------


@allowed("read")
@require_GET
def lot_list(request: HttpRequest) -> HttpResponse:
    """Show the consumables by line: on hand, expiry, par and the people they serve."""
    stocks = page_queries.stocks(request.department, timezone.now(), timezone.localdate())
    return render(request, "inventory/lot_list.html", {"stocks": stocks})


@allowed("walk")
@require_http_methods(["GET", "POST"])
def count_lot(request: HttpRequest, pk: int) -> HttpResponse:
    """Count a lot on one line or in the store: from then on the count stands."""
    lot = get_object_or_404(Lot.objects.select_related("kind"), pk=pk, department=request.department)
    given = {"line": request.GET.get("line")}
    form = CountForm(request.POST or None, department=request.department, initial=given)
    if request.method == "POST" and form.is_valid() and _counted(request, lot, form):
        messages.success(request, f"{lot.name}, lot {lot.number}: {form.cleaned_data['counted']} counted.")
        return redirect("inventory:lot-list")
    context = {"lot": lot, "form": form, "line": _line_named(request, form)}
    return render(request, "inventory/count_lot.html", context, status=422 if form.errors else 200)


def _counted(request: HttpRequest, lot: Lot, form: CountForm) -> Count | None:
    try:
        return services.record_count(lot=lot, happened_at=timezone.now(), **signed(request), **form.cleaned_data)
    except AlreadySent:
        form.say_other()
    except Conflict as refused:
        form.add_error(None, str(refused))
    return None


def _line_named(request: HttpRequest, form: CountForm) -> Line | None:
    named = form["line"].value()
    if not named:
        return None
    if not str(named).isdecimal() or len(str(named)) > 18:
        raise Http404("no such line here")
    return get_object_or_404(Line, pk=named, department=request.department)


@allowed("read")
@require_GET
def load_list(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what must be aboard a line beside what is."""
    line = get_object_or_404(Line.objects.select_related("home", "department"), pk=pk, department=request.department)
    view = page_queries.load_list(line, timezone.now(), timezone.localdate())
    return render(request, "inventory/load_list.html", {"line": line, "view": view})
