"""Sign-in to the API by a named, expiring token of which only the hash is kept."""

import hashlib
import secrets
from datetime import timedelta

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from shared.models import ApiToken, Membership, User
from shared.walls import membership_of

LIFETIME = timedelta(days=90)


def digest_of(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def make_token(*, membership: Membership, name: str, lifetime: timedelta = LIFETIME) -> tuple[ApiToken, str]:
    """Return a new token of a membership with its key, which is shown this once."""
    key = secrets.token_urlsafe(32)
    token = ApiToken.objects.create(
        department=membership.department,
        user=membership.user,
        name=name,
        digest=digest_of(key),
        expires_at=timezone.now() + lifetime,
    )
    return token, key


class Signed:
    """What a request carries as ``auth``: the token and the membership it speaks for."""

    def __init__(self, token: ApiToken, membership: Membership) -> None:
        self.token, self.membership = token, membership


class TokenAuthentication(BaseAuthentication):
    keyword = b"token"

    def authenticate(self, request: Request) -> tuple[User, Signed] | None:
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != self.keyword:
            return None
        if len(words) != 2:
            raise AuthenticationFailed("Send one header: Authorization: Token KEY.")
        now = timezone.now()
        token = (
            ApiToken.objects.select_related("user", "department")
            .filter(digest=digest_of(words[1].decode(errors="replace")), revoked_at=None, expires_at__gt=now)
            .first()
        )
        if token is None or not token.user.is_active:
            raise AuthenticationFailed("This token is unknown, expired or revoked; sign in for a new one.")
        membership = membership_of(token.user)
        if membership is None or membership.department_id != token.department_id:
            membership = token.user.memberships.current(now.date()).filter(department=token.department).first()
        if membership is None:
            raise AuthenticationFailed("The person behind this token has left the department.")
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=now)
        return token.user, Signed(token, membership)

    def authenticate_header(self, request: Request) -> str:
        return "Token"
