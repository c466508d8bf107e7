"""The walk on a phone without signal: the app that is kept there, what it takes along, and what it sends back.

The app's page, its worker and its manifest hold nothing of anybody, so that a phone may keep them; everything else
asks who is there.
"""

import hashlib
import json
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_GET, require_POST
from rest_framework.exceptions import ValidationError

from inspections import pack as packs
from inspections import sync as syncs
from inventory.models import Place
from shared.api import InstantField, problem
from shared.files import MOST_BYTES
from shared.walls import allowed

APP: Final = "inspections/app.js"
MODULES: Final = tuple(
    f"inspections/{name}.js"
    for name in ("dom", "forms", "links", "pages", "pictures", "queue", "scan", "store", "timers")
)
SHEETS: Final = ("shared/holdair.css", "shared/walk.css", "inspections/offline.css")
MARKS: Final = ("whole", "unproven", "limited", "down", "unrecorded")
ICONS: Final = ("shared/icon-192.png", "shared/icon-512.png", "shared/icon-maskable-512.png", "shared/mark.svg")
TEMPLATES: Final = ("offline.html", "worker.js")
ANY_DAY: Final = timedelta(days=3650)  # a phone's clock further off than this tells nothing


@cache
def version() -> str:
    """Return a digest of all that a phone keeps of the app: another one makes it fetch everything anew."""
    digest = hashlib.sha256()
    for name in (APP, *MODULES, *SHEETS, *ICONS):
        digest.update(Path(finders.find(name)).read_bytes())
    for name in TEMPLATES:
        digest.update((Path(__file__).parent / "templates" / "inspections" / name).read_bytes())
    return digest.hexdigest()[:16]


@allowed("public")
@require_GET
def app(request: HttpRequest) -> HttpResponse:
    """Show the page that a phone keeps; without script it leads to the Walk's own pages."""
    response = render(request, "inspections/offline.html", {"version": version(), "app": static(APP), "marks": MARKS})
    response["Cache-Control"] = "no-cache"
    return response


@allowed("public")
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Give the service worker; it speaks for the whole site, so that a page without signal leads to the walk."""
    # Modules import each other by their plain names, whatever the storage calls the first of them.
    names = [static(name) for name in (APP, *SHEETS, *ICONS)] + [settings.STATIC_URL + name for name in MODULES]
    keep = [reverse("inspections:offline"), reverse("inspections:manifest"), *names]
    context = {"version": version(), "keep": json.dumps(keep), "page": reverse("inspections:offline")}
    response = render(request, "inspections/worker.js", context, content_type="text/javascript")
    response["Service-Worker-Allowed"] = "/"
    response["Cache-Control"] = "no-cache"
    return response


@allowed("public")
@require_GET
def manifest(request: HttpRequest) -> HttpResponse:
    """Give what a phone needs to install the walk."""
    sizes = {"shared/icon-192.png": "192x192"}
    icons = [
        {
            "src": static(name),
            "sizes": sizes.get(name, "512x512"),
            "type": "image/png",
            "purpose": "maskable" if "maskable" in name else "any",
        }
        for name in ICONS
        if name.endswith(".png")
    ]
    says = {
        "name": "Holdair: the Walk",
        "short_name": "Walk",
        "description": "Checks in bay order, with or without signal.",
        "id": "/walk",
        "start_url": reverse("inspections:offline"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#f7f5f0",
        "theme_color": "#0b5c7a",
        "icons": icons,
    }
    return JsonResponse(says, content_type="application/manifest+json")


@allowed("walk")
@never_cache
@ensure_csrf_cookie
@require_GET
def overview(request: HttpRequest) -> HttpResponse:
    """Give who is signed in, where to walk and which walks are open."""
    said = packs.overview(request.department, request.user, timezone.now(), timezone.localdate())
    return JsonResponse(said | {"version": version()})


@allowed("walk")
@never_cache
@require_GET
def pack(request: HttpRequest, pk: int) -> HttpResponse:
    """Give one place with everything that a walk of it needs."""
    place = get_object_or_404(Place, pk=pk, department=request.department)
    return JsonResponse(packs.pack(request.department, request.user, place, timezone.now(), timezone.localdate()))


# Sent back ---------------------------------------------------------------------------------------------------------


class _Unread(Exception):
    """A body that is no list of records; carries the answer."""

    def __init__(self, status: int, what: str, mend: str = "Load the page anew, then send again.") -> None:
        super().__init__(what)
        self.status, self.mend = status, mend


def _explained(request: HttpRequest, unread: _Unread) -> HttpResponse:
    return JsonResponse(problem(str(unread), request.path, unread.mend), status=unread.status)


@allowed("walk")
@never_cache
@require_POST
def sync(request: HttpRequest) -> HttpResponse:
    """Record what a phone sends, one after the other; each is answered on its own."""
    try:
        body = _body(request)
        sender = _sender(request, body)
        records = body.get("records")
        if not isinstance(records, list) or len(records) > syncs.MOST_RECORDS:
            raise _Unread(400, f"Send a list of at most {syncs.MOST_RECORDS} records.")
    except _Unread as unread:
        return _explained(request, unread)
    answers = [syncs.answer(sent, sender) for sent in records]
    return JsonResponse({"server_at": sender.now.isoformat(), "clock": sender.clock_words, "answers": answers})


@allowed("walk")
@never_cache
@require_POST
def sync_photo(request: HttpRequest) -> HttpResponse:
    """Record one photo of a check that was sent before it."""
    try:
        sender = _sender(request, request.POST)
        sent = request.FILES.get("file")
        if sent is None:
            raise _Unread(400, "There is no file in this.")
        if sent.size > MOST_BYTES:
            raise _Unread(413, "The file is larger than 15 MB.", "Take a smaller photo.")
    except _Unread as unread:
        return _explained(request, unread)
    words = {key: request.POST.get(key, "") for key in ("client_id", "happened_at", "inspection", "note")}
    answer = syncs.take_photo(words, sent.read(), sent.name, sender)
    return JsonResponse({"server_at": sender.now.isoformat(), "clock": sender.clock_words, "answers": [answer]})


def _body(request: HttpRequest) -> dict[str, Any]:
    try:
        body = json.loads(request.body)
    except RequestDataTooBig as refused:
        raise _Unread(413, "This is longer than any record.", "Send fewer records at once.") from refused
    except (ValueError, RecursionError) as refused:
        raise _Unread(400, "This is no JSON.") from refused
    if not isinstance(body, dict):
        raise _Unread(400, "This is no JSON object.")
    return body


def _sender(request: HttpRequest, said: Any) -> syncs.Sender:
    """Return who sends; what was kept on the phone under another name is sent under that name or not at all."""
    whose = (str(said.get("user", "")), str(said.get("department", "")))
    if whose != (str(request.user.pk), str(request.department.pk)):
        raise _Unread(409, "These records are somebody else’s.", "Sign in as whoever made them, then send.")
    now = timezone.now()
    return syncs.Sender(request, now, now - _sent_at(said, now))


def _sent_at(said: Any, now: datetime) -> datetime:
    try:
        at = InstantField().run_validation(said.get("sent_at"))
    except ValidationError as refused:
        raise _Unread(400, "This does not say when it was sent.") from refused
    return now + max(-ANY_DAY, min(at - now, ANY_DAY))
