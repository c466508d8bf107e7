"""The Walk: what is due where, one round through a place, a check step by step, its verdict, and the signature."""

import uuid
from functools import partial
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from inspections import page_queries, page_records, queries, services
from inspections.deficiency_forms import PhotosForm, wrong_with
from inspections.deficiency_pages import photos_of
from inspections.deficiency_views import keep_photos
from inspections.forms import CheckForm, OpenWalkForm, SeenForm, SignForm
from inspections.models import Inspection, Procedure, Walk
from inspections.queries.instruments import meters_of
from inspections.services.record import may_be_checked
from inspections.verdicts.core import ReadingError
from inventory.forms import OnceForm
from inventory.models import Item, Line, Lot, Place
from inventory.queries import limits_for
from inventory.queries.papers import manual_of
from inventory.views import signed
from shared.api import AlreadySent, Conflict
from shared.walls import allowed, may

SUBJECTS = {"item": Item, "lot": Lot, "line": Line}


@allowed("read")
@never_cache
@require_GET
def walks(request: HttpRequest) -> HttpResponse:
    """Show the places with what is due there, and the walks that are open."""
    places = page_queries.places_due(request.department, timezone.now(), timezone.localdate())
    mine, others = page_queries.open_walks(request.department, request.user)
    context = {
        "places": [(place, OpenWalkForm(initial={"place": place.place.pk})) for place in places],
        "mine": mine,
        "others": [(walk, OnceForm()) for walk in others],
        "signed": page_queries.signed_walks(request.department)[:5],
    }
    return render(request, "inspections/walks.html", context)


@allowed("walk")
@require_POST
def open_walk(request: HttpRequest) -> HttpResponse:
    """Open a walk of a place and go to it; pressed twice it opens one."""
    form = OpenWalkForm(request.POST)
    if not form.is_valid():
        return redirect("inspections:walk")
    place = get_object_or_404(Place, pk=form.cleaned_data["place"], department=request.department)
    walk = services.open_walk(
        department=request.department,
        place=place,
        by=request.user,
        started_at=timezone.now(),
        client_id=form.cleaned_data["client_id"],
    )
    return redirect("inspections:round", pk=walk.pk)


def _walk_view(request: HttpRequest, walk: Walk) -> page_queries.WalkView:
    return page_queries.walk_view(walk, timezone.now(), timezone.localdate())


def _walk_of(request: HttpRequest, pk: int) -> Walk:
    walk = page_queries.walk_of(request.department, pk)
    if walk is None:
        raise Http404("no such walk here")
    return walk


@allowed("read")
@never_cache
@require_GET
@vary_on_headers("HX-Request")
def walk(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one walk: everything in the place in bay order, with what is due and what is done."""
    view = _walk_view(request, _walk_of(request, pk))
    typed = request.GET.get("tag", "")[:80]
    found = view.matching(typed)
    context = {
        "view": view,
        "walk": view.walk,
        "typed": typed,
        "rows": [(row, SeenForm(initial={"item": row.pk})) for row in found],
        # A tag that means one thing is where somebody stands: what presses there comes next.
        "next": view.next_after(found[0].of, found[0].pk) if typed and len(found) == 1 else view.next_after(),
        "may_add": view.walk.signed_at is None,
        "walker": queries.walker(view.walk)[0],
        "take_up_form": OnceForm(),
        "containers": view.containers,
        "quality": queries.quality(view.walk) if view.walk.signed_at else [],
    }
    fragment = request.htmx and not request.htmx.history_restore_request
    return render(request, "inspections/_rows.html" if fragment else "inspections/walk.html", context)


@allowed("walk")
@require_POST
def seen(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that an item was seen in its place: a sighting, which claims nothing of its function."""
    walk, form = _walk_of(request, pk), SeenForm(request.POST)
    if not form.is_valid():
        return redirect("inspections:round", pk=pk)
    item = get_object_or_404(
        Item.objects.select_related("kind", "department"), pk=form.cleaned_data["item"], department=request.department
    )
    try:
        _once(
            request,
            form.cleaned_data["client_id"],
            check_key="look",
            item=item,
            walk=walk,
            values={"seen": "yes"},
            happened_at=timezone.now(),
        )
    except Conflict as refused:
        messages.error(request, str(refused))
    return redirect(f"{reverse('inspections:round', args=[pk])}#item-{item.pk}")


@allowed("walk")
@require_POST
def take_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Go on with a walk that somebody else began; pressed twice it is taken up once."""
    walk, form = _walk_of(request, pk), OnceForm(request.POST)
    if form.is_valid():
        try:
            services.take_up_walk(walk=walk, happened_at=timezone.now(), **signed(request), **form.cleaned_data)
        except Conflict as refused:
            messages.error(request, str(refused))
        else:
            messages.success(request, "It is yours now, and yours to sign.")
    return redirect("inspections:round", pk=pk)


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def sign(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what the walk came to, and take the signature that closes it."""
    walk = _walk_of(request, pk)
    form = SignForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.sign_walk(walk=walk, by=request.user, signed_at=timezone.now(), **form.cleaned_data)
        except Conflict as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, "Signed. Nothing is added to this walk any more.")
            return redirect("inspections:round", pk=pk)
    context = {"view": _walk_view(request, walk), "walk": walk, "form": form, "now": timezone.now()}
    return render(request, "inspections/sign.html", context, status=422 if form.errors else 200)


# Checks ------------------------------------------------------------------------------------------------------------


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, of: str, pk: int, check_key: str) -> HttpResponse:
    """Do one check of one thing, step by step; on a walk, or alone."""
    subject = _subject(request, of, pk)
    return _check_page(request, of, subject, check_key, walk=_walk_named(request))


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, client_id: uuid.UUID) -> HttpResponse:
    """Correct a record: the same form with what was recorded, and a new record that names the one it corrects."""
    row = _inspection_of(request, client_id)
    newest = row.corrections.first()
    if newest is not None and request.method == "GET":
        messages.info(request, "That record is corrected already; this is the newest one.")
        return redirect("inspections:inspection", client_id=newest.client_id)
    of = "item" if row.item else "lot" if row.lot else "line"
    # A signed walk takes no more: the correction then stands beside it.
    walk = row.walk if row.walk and row.walk.signed_at is None else None
    return _check_page(request, of, getattr(row, of), row.check_key, walk=walk, corrects=row)


def _subject(request: HttpRequest, of: str, pk: int) -> Any:
    if of not in SUBJECTS:
        raise Http404("no such thing is checked")
    rows = SUBJECTS[of].objects.select_related("department", *(() if of == "line" else ("kind",)))
    return get_object_or_404(rows, pk=pk, department=request.department)


def _walk_named(request: HttpRequest) -> Walk | None:
    named = request.GET.get("walk", "")
    if not named:
        return None
    if not named.isdecimal() or len(named) > 18:
        raise Http404("no such walk here")
    return _walk_of(request, int(named))


def _procedure(request: HttpRequest, check_key: str) -> Procedure:
    today = timezone.localdate()
    found = page_queries.procedures(request.department, today)
    if not found:
        # A department that was made by hand has none yet; they are the same that an import loads.
        services.load_procedures(department=request.department, on=today)
        found = page_queries.procedures(request.department, today)
    if check_key not in found:
        raise Http404("no such check")
    return found[check_key]


def _check_page(
    request: HttpRequest,
    of: str,
    subject: Any,
    check_key: str,
    *,
    walk: Walk | None,
    corrects: Inspection | None = None,
) -> HttpResponse:
    procedure = corrects.procedure if corrects and corrects.procedure else _procedure(request, check_key)
    try:
        may_be_checked(check_key, **{name: subject if name == of else None for name in SUBJECTS})
    except ReadingError as refused:
        raise Http404(str(refused)) from refused
    form = CheckForm(
        request.POST or None,
        procedure=procedure,
        now=timezone.now(),
        limits=limits_for(request.department, getattr(subject, "kind", None), timezone.localdate()),
        item=subject if of == "item" else None,
        uses_si=request.user.uses_si,
        corrects=corrects,
    )
    photos = request.FILES.getlist("photos")
    for problem in wrong_with(photos):
        form.add_error(None, problem)
    if request.method == "POST" and form.is_valid():
        row = _record(request, form, check_key, {of: subject}, walk)
        if row is not None:
            return redirect("inspections:inspection", client_id=row.client_id)
    context = {
        "form": form,
        "of": of,
        "subject": subject,
        "title": _title(of, subject),
        "procedure": procedure,
        "meters": meters_of(request.department),
        "walk": walk,
        "corrects": corrects,
        "wants_photos": photos,
        "manual": manual_of(subject) if of == "item" else None,
    }
    return render(request, "inspections/check.html", context, status=422 if form.errors else 200)


def _title(of: str, subject: Any) -> str:
    if of == "item":
        return f"{subject.tag} {subject.name}"
    return f"{subject.name}, lot {subject.number}" if of == "lot" else subject.name


def _record(
    request: HttpRequest, form: CheckForm, check_key: str, subject: dict[str, Any], walk: Walk | None
) -> Inspection | None:
    """Record what the form says; what cannot stand is said on the form, and nothing of it is lost."""
    extra = {"corrects": form.corrects} if form.corrects else {}
    said = form.cleaned_data
    try:
        # A photo that is none takes the check back with it: both are sent again, and nothing is on record by halves.
        with transaction.atomic():
            row = _once(
                request,
                said["client_id"],
                check_key=check_key,
                walk=walk,
                values=form.values,
                happened_at=form.happened_at,
                started_at=form.started_at,
                remark=said["remark"],
                **subject,
                **extra,
            )
            keep_photos(request, request.FILES.getlist("photos"), said["client_id"], inspection=row)
        return row
    except ReadingError as refused:
        form.add_error(None, f"{refused.problem}. {refused.mend}")
    except AlreadySent:
        form.say_other()
    except Conflict as refused:
        form.add_error(None, str(refused))
    return None


def _once(request: HttpRequest, client_id: uuid.UUID, **what: Any) -> Inspection:
    """Record a check once: the same form sent again leads to the record that it made.

    The service holds a second sending to the same instant; a form pressed twice carries none, so the first one's
    stands. The other press may win in between: then it is found the second time.

    Raises:
        AlreadySent: the form recorded something else before.
    """
    record = partial(services.record_inspection, **signed(request), client_id=client_id, source="page")
    try:
        return record(**what | _first_said(request, client_id))
    except AlreadySent:
        return record(**what | _first_said(request, client_id))


def _first_said(request: HttpRequest, client_id: uuid.UUID) -> dict[str, Any]:
    sent = Inspection.objects.filter(department=request.department, client_id=client_id).first()
    return {"happened_at": sent.happened_at, "by_name": sent.by_name} if sent and sent.by_id == request.user.pk else {}


# Records -----------------------------------------------------------------------------------------------------------


def _inspection_of(request: HttpRequest, client_id: uuid.UUID) -> Inspection:
    row = page_records.inspection_of(request.department, client_id)
    if row is None:
        raise Http404("no such record here")
    return row


@allowed("read")
@never_cache
@require_GET
def inspection(request: HttpRequest, client_id: uuid.UUID) -> HttpResponse:
    """Show one record: its verdict, the numbers that decided it, what it proved, and what to do now."""
    row = _inspection_of(request, client_id)
    view = page_records.inspection_view(row, timezone.now(), timezone.localdate(), request.user.uses_si)
    context = {"view": view, "row": row, "onward": None, "photos": photos_of(inspection=row)}
    if may(request.membership, "walk"):
        context["photos_form"] = PhotosForm()
    if row.walk and row.walk.signed_at is None:
        around = _walk_view(request, row.walk)
        of = "item" if row.item_id else "lot" if row.lot_id else "line"
        context |= {"around": around, "onward": around.next_after(of, row.item_id or row.lot_id or row.line_id)}
    return render(request, "inspections/inspection.html", context)
