"""Pages of documents: ask, watch, fetch; and the equipment status as a stream."""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.text import slugify
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from inspections.models import Deficiency
from inventory.models import Place
from readiness.queries import lines_of
from reports import queries, services
from reports.exports import status_csv
from reports.forms import AskForm
from reports.models import Document
from shared.models import Department, OutboxRow, User
from shared.walls import allowed, may

TYPES = {"pdf": "application/pdf", "csv": "text/csv; charset=utf-8"}


@allowed("read")
@require_GET
def document_list(request: HttpRequest) -> HttpResponse:
    """Show the record file: what can be asked for, and the documents asked for so far."""
    return _list_page(request)


def _list_page(request: HttpRequest, form: AskForm | None = None) -> HttpResponse:
    page = Paginator(queries.documents(request.department), per_page=25).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "lines": lines_of(request.department),
        "walks": queries.recent_walks(request.department),
        "inspections": queries.recent_inspections(request.department),
        "form": form,
    }
    return render(request, "reports/document_list.html", context, status=400 if form else 200)


@allowed("report")
@require_POST
def ask(request: HttpRequest) -> HttpResponse:
    """Ask for a document and lead to the page that shows how far it is."""
    form = AskForm(request.POST, department=request.department)
    if not form.is_valid():
        return _list_page(request, form)
    _may_have(request, form.cleaned_data["sort"])
    document = services.ask_document(department=request.department, by=request.user, **form.cleaned_data)
    return redirect("reports:document", pk=document.pk)


@allowed("report")
@require_POST
def ask_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for a document anew, as of now."""
    old = queries.document(request.department, pk)
    _may_have(request, old.sort)
    document = services.ask_again(document=old, by=request.user)
    return redirect("reports:document", pk=document.pk)


@allowed("read")
@never_cache
@require_GET
@vary_on_headers("HX-Request")
def document(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how far a document is, and then where to fetch it; the fragment asks again by itself."""
    found = queries.document(request.department, pk)
    template = "reports/_document.html" if request.htmx else "reports/document.html"
    context = {
        "document": found,
        "may_fetch": found.sort != Document.Sort.STATUS or may(request.membership, "export"),
        "waiting": found.outbox.state in (OutboxRow.State.QUEUED, OutboxRow.State.CLAIMED),
    }
    return render(request, template, context)


@allowed("read")
@never_cache
@require_GET
def document_file(request: HttpRequest, pk: int) -> FileResponse:
    """Serve the file to those who may have it; a document that is not made yet has none."""
    return file_of(request, queries.document(request.department, pk))


def file_of(request: HttpRequest, found: Document) -> FileResponse:
    """Return a document's file as a download.

    Raises:
        PermissionDenied: the role does not carry exports.
        Http404: it is not made yet, or its file is gone.
    """
    _may_have(request, found.sort)
    path = Path(settings.MEDIA_ROOT) / found.path
    if found.outbox.state != OutboxRow.State.DONE or not found.path or not path.is_file():
        raise Http404("This document has no file yet; look at its page.")
    suffix = services.extension(found.sort)
    return FileResponse(
        path.open("rb"), as_attachment=True, filename=services.file_name(found), content_type=TYPES[suffix]
    )


@allowed("report")
@never_cache
@require_GET
def labels(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the labels of a place as a PDF, made while one waits: no record leaves with it."""
    place = get_object_or_404(Place.objects.select_related("department"), pk=pk, department=request.department)
    response = HttpResponse(services.labels_pdf(place=place, as_of=timezone.now()), content_type=TYPES["pdf"])
    response["Content-Disposition"] = f'inline; filename="labels-{slugify(place.name) or place.pk}.pdf"'
    return response


@allowed("report")
@never_cache
@require_GET
def tag(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the tag of one fault as a PDF, made while one waits."""
    rows = Deficiency.objects.select_related("item", "department")
    fault = get_object_or_404(rows, pk=pk, department=request.department)
    address = request.build_absolute_uri(reverse("inventory:item", args=[fault.item_id]))
    pdf = services.tag_pdf(fault=fault, as_of=timezone.now(), address=address)
    response = HttpResponse(pdf, content_type=TYPES["pdf"])
    response["Content-Disposition"] = f'inline; filename="tag-{fault.pk}.pdf"'
    return response


@allowed("export")
@never_cache
@require_GET
def status_export(request: HttpRequest) -> HttpResponse:
    """Stream the equipment status as CSV; ``bom`` for older spreadsheets, ``as_of`` for a past instant."""
    as_of = timezone.now()
    if given := request.GET.get("as_of"):
        as_of = _instant(given)
        if as_of is None:
            text = "as_of is an instant with its offset, such as 2026-11-20T18:00:00Z."
            return HttpResponse(text, status=400, content_type="text/plain")
    return status_stream(request.department, request.user, as_of, bom=bool(request.GET.get("bom")))


def status_stream(department: Department, by: User, as_of: datetime, *, bom: bool) -> StreamingHttpResponse:
    """Return the equipment status as a stream, having noted who took it."""
    services.note_export(department=department, by=by, as_of=as_of)
    pieces = status_csv(queries.property_records(department, as_of), as_of=as_of, bom=bom)
    response = StreamingHttpResponse((piece.encode() for piece in pieces), content_type=TYPES["csv"])
    on = as_of.astimezone(ZoneInfo(department.time_zone))
    name = f"equipment-status-{slugify(department.name)}-{on:%Y-%m-%d}.csv"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _instant(given: str) -> datetime | None:
    try:
        # A plus sign in a query string arrives as a space.
        at = parse_datetime(given.replace(" ", "+"))
    except ValueError:
        return None
    return at if at is not None and timezone.is_aware(at) else None


def _may_have(request: HttpRequest, sort: str) -> None:
    """Hold the wall of exports for the one sort of document that is one."""
    if sort == Document.Sort.STATUS and not may(request.membership, "export"):
        raise PermissionDenied("Your role does not carry 'export' here.")
