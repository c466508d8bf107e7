"""Who may do what: the one place that decides it, for pages, API, exports and files.

A request carries one membership. ``CAPABILITIES`` says what each role may do; a row of another department is not
found, whoever asks. Views are marked with ``allowed``, API views carry ``needs``; the test in tests/architecture walks
every route and fails for one that carries neither.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils import timezone
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from shared.models import Membership, User

Role = Membership.Role

# read: every page. walk: record inspections, runs and walks. write: all other writes of the cache and the evidence.
# mission: set a rated mission and department settings. accept: run with a fault until a date, under one's name.
# people: invite and retire users. property: award and property fields. export: what leaves.
# report: ask for a paper of what was recorded. plant: know of hidden test faults; planting one takes write as well.
CAPABILITIES: Final[dict[str, frozenset[str]]] = {
    "read": frozenset(Role.values),
    "walk": frozenset({Role.OFFICER, Role.CREW}),
    "write": frozenset({Role.OFFICER}),
    "mission": frozenset({Role.HEAD}),
    "accept": frozenset({Role.HEAD}),
    "people": frozenset({Role.HEAD, Role.OFFICER}),
    "property": frozenset({Role.OFFICER, Role.GRANTS}),
    "export": frozenset({Role.HEAD, Role.OFFICER, Role.GRANTS}),
    "report": frozenset({Role.HEAD, Role.OFFICER, Role.CREW, Role.GRANTS}),
    "plant": frozenset({Role.HEAD, Role.OFFICER}),
    "token": frozenset({Role.HEAD, Role.OFFICER, Role.CREW, Role.GRANTS}),
}
SESSION_KEY = "membership"


def may(membership: Membership | None, capability: str) -> bool:
    """Say whether a membership carries a capability; an unknown capability is an error, not a no."""
    roles = CAPABILITIES[capability]
    return membership is not None and membership.role in roles


def membership_of(user: User, *, chosen: int | None = None) -> Membership | None:
    """Return the membership in force today: the chosen one where it is the user's, else the first."""
    if not user.is_authenticated:
        return None
    current = user.memberships.current(timezone.localdate()).select_related("department").order_by("pk")
    if chosen is not None:
        current = sorted(current, key=lambda m: m.pk != chosen)
        return current[0] if current else None
    return current.first()


class MembershipMiddleware:
    """Puts ``request.membership`` and ``request.department`` beside ``request.user``, in the department's time zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.membership = membership_of(request.user, chosen=request.session.get(SESSION_KEY))
        request.department = request.membership.department if request.membership else None
        if request.department is None:
            return self.get_response(request)
        # Pages write and read times as the department's clocks show them; storage stays in UTC.
        with timezone.override(ZoneInfo(request.department.time_zone)):
            return self.get_response(request)


def allowed(capability: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Mark a page with the capability it needs: sign in first, 403 for a role without it.

    ``public`` marks a page that needs no sign-in, ``signed-in`` one that needs no membership.
    """
    if capability not in {*CAPABILITIES, "public", "signed-in"}:
        raise ValueError(f"no capability is called {capability!r}")

    def mark(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if capability != "public":
                if not request.user.is_authenticated:
                    return redirect_to_login(request.get_full_path(), resolve_url("shared:sign-in"))
                if capability != "signed-in" and not may(request.membership, capability):
                    raise PermissionDenied(f"Your role does not carry {capability!r} here.")
            return view(request, *args, **kwargs)

        guarded.capability = capability
        return guarded

    return mark


class Allowed(BasePermission):
    """API counterpart of ``allowed``: a view names ``needs`` (one capability, or one for each method or action)."""

    message = "Your role does not carry this here."

    def has_permission(self, request: Request, view: Any) -> bool:
        needs = getattr(view, "needs", None)
        if isinstance(needs, dict):
            needs = needs.get(getattr(view, "action", None) or request.method.lower(), needs.get("default"))
        if needs == "public":
            return True
        if not request.user or not request.user.is_authenticated:
            return False
        membership = getattr(request.auth, "membership", None) or getattr(request._request, "membership", None)
        request.membership = membership
        request.department = membership.department if membership else None
        if needs is None:
            return False
        return may(membership, needs)
