"""Making and ending calendar feeds, and the one address that a calendar program reads without signing in."""

import hashlib

from django import forms
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from inventory.models import Line
from reports import feeds
from reports.models import CalendarFeed
from shared.panels import Panel, panel
from shared.walls import allowed, may


class FeedForm(forms.Form):
    """How many days ahead the alarms of a new feed ring."""

    lead_days = forms.IntegerField(label="Alarm, days ahead", min_value=0, max_value=90, initial=7)


@panel("settings")
def own_feeds(request: HttpRequest) -> Panel | None:
    """Show somebody's own feeds on their settings page."""
    return _panel(request, None) if may(request.membership, "token") else None


@panel("line")
def line_feeds(request: HttpRequest, line: Line) -> Panel | None:
    """Show a line's feeds on its page."""
    return _panel(request, line) if may(request.membership, "token") else None


def _panel(request: HttpRequest, line: Line | None, form: FeedForm | None = None) -> Panel:
    rows = _within_reach(request).filter(line=line, revoked_at=None)
    return Panel("reports/_feeds.html", {"line": line, "feeds": rows, "form": form or FeedForm()})


def _within_reach(request: HttpRequest) -> QuerySet[CalendarFeed]:
    """Feeds that somebody may end: their own, and those of lines for whoever may invite and retire people."""
    rows = CalendarFeed.objects.filter(department=request.department).select_related("user", "line")
    own = rows.filter(user=request.user)
    return own | rows.filter(line__isnull=False) if may(request.membership, "people") else own


@allowed("token")
@never_cache
@require_POST
def make_feed(request: HttpRequest) -> HttpResponse:
    """Make a feed and show its address this once; a redirect would have to keep the key somewhere."""
    line, form = None, FeedForm(request.POST)
    if wanted := request.POST.get("line", ""):
        if not wanted.isdecimal() or len(wanted) > 18:
            raise Http404("no such line here")
        line = get_object_or_404(Line, pk=int(wanted), department=request.department)
    context: dict[str, object] = {"line": line, "form": form}
    if not form.is_valid():
        return render(request, "reports/feed_made.html", context, status=422)
    feed, key = feeds.make_feed(
        department=request.department,
        user=request.user,
        line=line,
        lead_days=form.cleaned_data["lead_days"],
        at=timezone.now(),
    )
    context |= {"feed": feed, "address": request.build_absolute_uri(reverse("reports:feed", args=[key]))}
    return render(request, "reports/feed_made.html", context, status=201)


@allowed("token")
@require_POST
def revoke_feed(request: HttpRequest, pk: int) -> HttpResponse:
    """End a feed: its address answers no more."""
    feed = get_object_or_404(_within_reach(request), pk=pk)
    feeds.revoke_feed(feed=feed, at=timezone.now())
    return redirect("readiness:line", pk=feed.line_id) if feed.line_id else redirect("shared:settings")


@allowed("public")
@require_safe
def feed(request: HttpRequest, key: str) -> HttpResponse:
    """Answer a calendar program; the key in the address is all that it shows, so a wrong one is simply not there."""
    now = timezone.now()
    found = feeds.feed_of(key, now)
    if found is None:
        raise Http404("no such feed")
    one, membership = found
    with timezone.override(one.department.time_zone):
        content = feeds.read_feed(feed=one, membership=membership, at=now)
    etag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["ETag"], response["Cache-Control"] = etag, "private, no-cache"
    response["Content-Disposition"] = 'inline; filename="holdair-due.ics"'
    response["Referrer-Policy"] = "no-referrer"
    return get_conditional_response(request, etag=etag, response=response)
