"""The Proof book: all records, what lies in doubt, what is proven of what, how records are bound, what was taken in."""

from datetime import date

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from inspections import deficiency_pages, proof_pages
from inspections.deficiency_views import asked_for
from inspections.models import Inspection
from inspections.proof_pages import Asked
from inspections.queries.plants import detection
from shared import chain
from shared.walls import allowed

PER_PAGE = 50


def _asked(request: HttpRequest) -> Asked:
    """Return what the list is asked for; what cannot be meant asks for nothing."""
    said = asked_for(request)

    def text(name: str) -> str:
        return request.GET.get(name, "").replace("\0", "").strip()[:80]

    verdict = text("verdict")
    return Asked(
        words=said.words,
        check=text("check"),
        item=text("item"),
        line=said.line,
        place=said.place,
        person=text("person"),
        verdict=verdict if verdict in Inspection.Verdict.values else "",
        since=_day(text("since")),
        until=_day(text("until")),
    )


def _day(text: str) -> date | None:
    try:
        day = parse_date(text)
    except ValueError:
        return None
    return day if day and 1970 <= day.year < 2200 else None


@allowed("read")
@never_cache
@require_GET
@vary_on_headers("HX-Request")
def record_list(request: HttpRequest) -> HttpResponse:
    """Show every record, newest first, with the number that decided it."""
    asked, now = _asked(request), timezone.now()
    page = Paginator(proof_pages.records(request.department, asked, now), PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "rows": proof_pages.shown(list(page)), "asked": asked}
    if request.htmx and not request.htmx.history_restore_request:
        return render(request, "inspections/proofs/_records.html", context)
    context |= {
        "choices": proof_pages.choices(request.department, timezone.localdate()),
        "link": proof_pages.newest_link(request.department),
    }
    return render(request, "inspections/proofs/records.html", context)


@allowed("read")
@never_cache
@require_GET
def in_doubt(request: HttpRequest) -> HttpResponse:
    """Show the stretches in which a fault may have been there unseen, put right or not, newest first."""
    now = timezone.now()
    asked = deficiency_pages.Asked(closed=True)
    found = deficiency_pages.deficiencies(request.department, asked, now)
    found.sort(key=lambda fault: fault.row.happened_at, reverse=True)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "rows": deficiency_pages.in_doubt(list(page), now)}
    return render(request, "inspections/proofs/in_doubt.html", context)


@allowed("read")
@never_cache
@require_GET
def coverage(request: HttpRequest) -> HttpResponse:
    """Show what is proven, stale, in doubt and blind, by line and by item, the weakest first."""
    line, now = asked_for(request).line, timezone.now()
    found = proof_pages.coverage(request.department, now, line)
    page = Paginator(found.items, PER_PAGE).get_page(request.GET.get("page"))
    context = {"lines": found.lines, "page": page, "line": line, "words": proof_pages.WORDS}
    context["detection"] = detection(request.department, now, now)
    return render(request, "inspections/proofs/coverage.html", context)


@allowed("read")
@never_cache
@require_GET
def bound(request: HttpRequest) -> HttpResponse:
    """Show how far the record chain reaches, and which registers were taken in."""
    page = Paginator(proof_pages.imports(request.department), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "link": proof_pages.newest_link(request.department),
        "waiting": chain.unsealed(request.department),
        "page": page,
    }
    return render(request, "inspections/proofs/bound.html", context)
