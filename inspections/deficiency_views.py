"""Deficiencies: the list, one of them with its history, opened and restored by hand, risks accepted, photos."""

import uuid
from collections.abc import Callable, Sequence
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.core.paginator import Paginator
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from inspections import deficiency_pages, page_records, services
from inspections.deficiency_forms import AcceptForm, FaultForm, FindItemForm, PhotosForm, RestoreForm, WithdrawForm
from inspections.deficiency_pages import GRADES, Asked
from inspections.forms import RepairForm
from inspections.models import Deficiency, Photo
from inspections.services.photos import add_photo
from inventory import queries as cache
from inventory.forms import OnceForm
from inventory.models import Item
from inventory.views import signed
from shared.api import AlreadySent, Conflict
from shared.walls import allowed, may

PER_PAGE = 25


def asked_for(request: HttpRequest) -> Asked:
    """Return what a list of deficiencies is asked for; what is no number or no grade asks for nothing."""
    given = request.GET

    def number(name: str) -> int | None:
        text = given.get(name, "")
        return int(text) if text.isdecimal() and len(text) < 19 else None

    grade = given.get("grade", "")
    return Asked(
        words=given.get("q", "").replace("\0", "").strip()[:80],
        grade=grade if grade in GRADES else "",
        place=number("place"),
        line=number("line"),
        kind=given.get("kind", "").replace("\0", "")[:40],
        closed=given.get("closed") == "1",
    )


@allowed("read")
@never_cache
@require_GET
@vary_on_headers("HX-Request")
def deficiency_list(request: HttpRequest) -> HttpResponse:
    """Show what is wrong with what, the gravest first; closed ones where asked."""
    asked = asked_for(request)
    found = deficiency_pages.deficiencies(request.department, asked, timezone.now())
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    context: dict[str, Any] = {"page": page, "asked": asked, "grades": GRADES}
    fragment = request.htmx and not request.htmx.history_restore_request
    if fragment:
        return render(request, "inspections/deficiencies/_list.html", context)
    context |= {
        "choices": deficiency_pages.choices(request.department),
        "counts": [(word, deficiency_pages.many_open(found, grade)) for grade, word in GRADES.items()],
    }
    return render(request, "inspections/deficiencies/list.html", context)


# Opened by hand ----------------------------------------------------------------------------------------------------


@allowed("walk")
@never_cache
@require_GET
def find_item(request: HttpRequest) -> HttpResponse:
    """Ask which item a fault is of, and go on to it."""
    form = FindItemForm(request.GET if "tag" in request.GET else None, department=request.department)
    if form.is_bound and form.is_valid():
        return redirect("deficiencies:new", pk=form.cleaned_data["tag"].pk)
    return render(request, "inspections/deficiencies/find.html", {"form": form}, status=422 if form.is_bound else 200)


@allowed("walk")
@never_cache
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a deficiency of an item by hand."""
    rows = Item.objects.select_related("kind", "department")
    item = get_object_or_404(rows, pk=pk, department=request.department)
    form = FaultForm(
        request.POST or None, kind=item.kind, modes=cache.modes_for(request.department, timezone.localdate())
    )
    if request.method == "POST":
        row = _done(request, form, services.open_deficiency_by_hand, item=item)
        if row is not None:
            gone = " It is out of service." if row.grade == "I" else ""
            messages.success(request, f"{item.tag}: deficiency opened.{gone} Print its tag and hang it on.")
            return redirect("deficiencies:deficiency", pk=row.pk)
    context = {"form": form, "item": item}
    return render(request, "inspections/deficiencies/new.html", context, status=422 if form.errors else 200)


def _done(request: HttpRequest, form: OnceForm, service: Callable[..., Any], **what: Any) -> Any:
    """Carry out what a form asks; None, and said on the form, where it cannot be."""
    if not form.is_valid():
        return None
    try:
        return service(happened_at=timezone.now(), **signed(request), **what, **form.cleaned_data)
    except AlreadySent:
        form.say_other()
    except Conflict as refused:
        field = refused.where if refused.where in form.fields else None
        form.add_error(field, f"{refused} {refused.mend}" if field is None else str(refused))
    return None


# One deficiency ----------------------------------------------------------------------------------------------------


def _row(request: HttpRequest, pk: int) -> Deficiency:
    row = deficiency_pages.deficiency_of(request.department, pk)
    if row is None:
        raise Http404("no such deficiency here")
    return row


@allowed("read")
@never_cache
@require_GET
def deficiency(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one fault from the day it was found, what restores it, and what lay in doubt."""
    return _page(request, _row(request, pk))


def _page(request: HttpRequest, row: Deficiency, forms: dict[str, Any] | None = None) -> HttpResponse:
    view = deficiency_pages.deficiency_view(row, timezone.now())
    if view is None:
        raise Http404("the record behind it was corrected")
    head = view.fault.row
    if head.pk != row.pk:
        return redirect("deficiencies:deficiency", pk=head.pk)
    forms = forms or {}
    context: dict[str, Any] = {"view": view, "fault": view.fault, "row": head, "item": view.item}
    if may(request.membership, "walk") and not view.fault.is_closed:
        context["repair_form"] = forms.get("repair") or RepairForm(item=view.item, faults=[head])
        context["restore_form"] = None if head.check_key else forms.get("restore") or RestoreForm()
        context["photos_form"] = forms.get("photos") or PhotosForm()
    if may(request.membership, "accept") and not view.fault.is_closed and head.grade != "I":
        context["accept_form"] = forms.get("accept") or AcceptForm()
        context["withdraw_form"] = forms.get("withdraw") or WithdrawForm()
    return render(request, "inspections/deficiencies/deficiency.html", context, status=422 if forms else 200)


def _post(
    request: HttpRequest, row: Deficiency, name: str, form: OnceForm, service: Callable[..., Any], said: str
) -> HttpResponse:
    if _done(request, form, service, deficiency=row) is None:
        return _page(request, row, {name: form})
    messages.success(request, said)
    return redirect("deficiencies:deficiency", pk=row.pk)


@allowed("walk")
@require_POST
def repair(request: HttpRequest, pk: int) -> HttpResponse:
    """Record work done on a fault."""
    row = _row(request, pk)
    form = RepairForm(request.POST, item=row.item, faults=[row])
    form.fields.pop("deficiency")

    def work(**what: Any) -> Any:
        return services.record_repair(item=row.item, **what)

    return _post(request, row, "repair", form, work, "Repair recorded. It proves nothing yet.")


@allowed("walk")
@require_POST
def restore(request: HttpRequest, pk: int) -> HttpResponse:
    """Put right by hand what no check can see."""
    row = _row(request, pk)
    return _post(request, row, "restore", RestoreForm(request.POST), services.restore_by_hand, "Stated, and on record.")


@allowed("accept")
@require_POST
def accept(request: HttpRequest, pk: int) -> HttpResponse:
    """Accept the risk of running with a fault until a day."""
    row, form = _row(request, pk), AcceptForm(request.POST)
    return _post(request, row, "accept", form, services.accept_risk, "Accepted, under your name. No number changes.")


@allowed("accept")
@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an acceptance back."""
    row, form = _row(request, pk), WithdrawForm(request.POST)
    return _post(request, row, "withdraw", form, services.withdraw_risk, "Withdrawn.")


# Photos ------------------------------------------------------------------------------------------------------------


@allowed("walk")
@require_POST
def photos(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep photos of a fault."""
    row, form = _row(request, pk), PhotosForm(request.POST, request.FILES)
    if not _kept(request, form, deficiency=row):
        return _page(request, row, {"photos": form})
    return redirect(f"{reverse('deficiencies:deficiency', args=[pk])}#photos")


@allowed("walk")
@require_POST
def photos_of_record(request: HttpRequest, client_id: uuid.UUID) -> HttpResponse:
    """Keep photos of a check that is on record."""
    row = page_records.inspection_of(request.department, client_id)
    if row is None:
        raise Http404("no such record here")
    form = PhotosForm(request.POST, request.FILES)
    if not _kept(request, form, inspection=row):
        for errors in form.errors.values():
            for error in errors:
                messages.error(request, error)
    return redirect(f"{reverse('inspections:inspection', args=[client_id])}#photos")


def _kept(request: HttpRequest, form: PhotosForm, **of: Any) -> bool:
    if not form.is_valid():
        return False
    try:
        keep_photos(request, form.sent, form.cleaned_data["client_id"], form.cleaned_data["note"], **of)
    except Conflict as refused:
        form.add_error(None, f"{refused} {refused.mend}")
        return False
    messages.success(request, f"{len(form.sent)} photo{'' if len(form.sent) == 1 else 's'} kept.")
    return True


@transaction.atomic
def keep_photos(
    request: HttpRequest, files: Sequence[UploadedFile], client_id: uuid.UUID, note: str = "", **of: Any
) -> list[Photo]:
    """Keep photos that came with one form, all or none; the same form sent again keeps them once.

    Raises:
        Conflict: one of them is no photo.
    """
    return [
        add_photo(
            content=file.read(),
            name=file.name,
            note=note,
            happened_at=timezone.now(),
            client_id=uuid.uuid5(client_id, f"photo {number}"),
            **of,
            **signed(request),
        )
        for number, file in enumerate(files)
    ]
