"""Signing in to the API, signing out of it, and who one is."""

from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate
from django.utils import timezone
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers, status
from rest_framework.exceptions import AuthenticationFailed, PermissionDenied, Throttled
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView

from shared.api import Asked, Mended
from shared.models import ApiToken, Membership, User
from shared.tokens import Signed, TokenAuthentication, make_token
from shared.walls import CAPABILITIES, may


class SignInSerializer(serializers.Serializer):
    username = serializers.CharField(max_length=150)
    password = serializers.CharField(max_length=256, trim_whitespace=False, style={"input_type": "password"})
    name = serializers.CharField(max_length=80, help_text="What this token is for, shown in the list of your tokens.")
    department = serializers.CharField(
        max_length=160, required=False, help_text="Name or slug; needed only by those who belong to several."
    )


class TokenSerializer(serializers.Serializer):
    token = serializers.CharField(help_text="The key, shown this once.")
    name = serializers.CharField()
    expires_at = serializers.DateTimeField()
    department = serializers.CharField(source="department.name")


class MeSerializer(serializers.Serializer):
    username = serializers.CharField()
    name = serializers.CharField()
    department = serializers.CharField()
    department_slug = serializers.CharField()
    time_zone = serializers.CharField()
    membership_role = serializers.ChoiceField(choices=Membership.Role.choices)
    may = serializers.ListField(child=serializers.CharField(), help_text="Capabilities of this role.")
    uses_si = serializers.BooleanField()


class SignInThrottle(SimpleRateThrottle):
    """Slows guessing from one address, whichever names are tried; axes locks one name besides."""

    rate = "20/min"
    scope = "sign-in"

    def get_cache_key(self, request: Request, view: APIView) -> str | None:
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}

    def allow_request(self, request: Request, view: APIView) -> bool:
        return request.method != "POST" or super().allow_request(request, view)


class TokenView(Asked, APIView):
    needs = {"post": "public", "delete": "token"}
    throttle_classes = [SignInThrottle]

    def get_authenticators(self) -> list[Any]:
        # Signing in takes no session and no old token; a stale one sent along must not stand in the way.
        return [] if self.request and self.request.method == "POST" else [TokenAuthentication()]

    def get_authenticate_header(self, request: Request) -> str:
        # Without an authenticator the framework would answer a wrong password with 403.
        return "Token"

    @extend_schema(
        operation_id="token_create",
        request=SignInSerializer,
        responses={
            201: TokenSerializer,
            429: OpenApiResponse(description="Too many tries; wait as long as Retry-After says."),
        },
        auth=[],
    )
    def post(self, request: Request) -> Response:
        """Sign in: give a username and a password, get a key. It is shown this once."""
        body = SignInSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        sent = body.validated_data
        user = authenticate(request=request._request, username=sent["username"], password=sent["password"])
        if user is None:
            if getattr(request._request, "axes_locked_out", False):
                # Else the middleware would put the page of the lock in place of this answer.
                request._request.axes_locked_out = False
                raise Throttled(settings.AXES_COOLOFF_TIME * 3600, "Too many wrong passwords for this name.")
            raise AuthenticationFailed("The username or the password is wrong.")
        membership = membership_for(user, sent.get("department", ""))
        token, key = make_token(membership=membership, name=sent["name"])
        answer = TokenSerializer(
            {"token": key, "name": token.name, "expires_at": token.expires_at, "department": token.department}
        )
        return Response(answer.data, status=status.HTTP_201_CREATED)

    @extend_schema(operation_id="token_destroy", request=None, responses={204: None})
    def delete(self, request: Request) -> Response:
        """Revoke the token this request was signed with."""
        if isinstance(request.auth, Signed):
            ApiToken.objects.filter(pk=request.auth.token.pk, revoked_at=None).update(revoked_at=timezone.now())
        return Response(status=status.HTTP_204_NO_CONTENT)


def membership_for(user: User, department: str) -> Membership:
    """Return the membership a new token speaks for.

    Raises:
        Mended: the user is of several departments and names none of them, or names another.
        PermissionDenied: the role carries no token.
    """
    current = list(user.memberships.current(timezone.localdate()).select_related("department").order_by("pk"))
    wanted = [m for m in current if department in (m.department.name, m.department.slug)] if department else current
    if not wanted and not department:
        raise PermissionDenied("This person is in no department today.")
    if len(wanted) != 1:
        names = ", ".join(m.department.slug for m in current)
        raise Mended("department", "This does not name one department of yours.", f"Send one of: {names}.")
    if not may(wanted[0], "token"):
        raise PermissionDenied("A visitor's pass carries no token.")
    return wanted[0]


class MeView(Asked, APIView):
    needs = "read"

    @extend_schema(operation_id="me_retrieve", responses=MeSerializer)
    def get(self, request: Request) -> Response:
        """Say who is signed in, for which department, and what they may do."""
        membership = request.membership
        answer = {
            "username": self.user.username,
            "name": self.user.signed_name,
            "department": self.department.name,
            "department_slug": self.department.slug,
            "time_zone": self.department.time_zone,
            "membership_role": membership.role,
            "may": [name for name in CAPABILITIES if may(membership, name)],
            "uses_si": self.user.uses_si,
        }
        return Response(MeSerializer(answer).data)
