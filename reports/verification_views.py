"""The Proof book's page of verification: the formulas, their check values, and what the last run made of them."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from reports import verification
from reports.queries.verification import filtered, verification_sheet
from shared.walls import allowed


@allowed("read")
@never_cache
@require_GET
@vary_on_headers("HX-Request", "HX-Target")
def formulas(request: HttpRequest) -> HttpResponse:
    """Show the formulas with their check values; while a run is under way, how far it is."""
    pending = verification.pending()
    if request.htmx.target == "run":
        response = render(request, "reports/_verification_run.html", {"pending": pending})
        if pending is None:
            # What ran is done: the page is drawn anew with what came of it.
            response["HX-Refresh"] = "true"
        return response
    whole = verification_sheet(timezone.now())
    subjects = [one.name for one in whole.subjects]
    asked = {
        "failed": bool(request.GET.get("failed")),
        "subject": request.GET.get("subject", ""),
        "words": request.GET.get("q", "").replace("\0", "").strip()[:80],
    }
    if asked["subject"] not in ("", *subjects):
        raise Http404("no such subject")
    context = {
        "whole": whole,
        "sheet": filtered(whole, **asked),
        "asked": asked,
        "narrowed": any(asked.values()),
        "subjects": subjects,
        "pending": pending,
    }
    fragment = request.htmx and not request.htmx.history_restore_request
    template = "reports/_verification.html" if fragment else "reports/verification.html"
    return render(request, template, context)


@allowed("report")
@require_POST
def verify(request: HttpRequest) -> HttpResponse:
    """Ask for a run of the check values; one that is under way already is enough."""
    verification.ask_verification(by=request.user, department=request.department)
    messages.success(request, "The check values are being run.")
    return redirect("proof-book:verification")
