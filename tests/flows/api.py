"""A client of the API, signed in by token as somebody."""

from typing import Any

from rest_framework.test import APIClient

from shared.models import User
from shared.tokens import make_token


def signed(user: User) -> APIClient:
    """Return a client that sends a token of this person."""
    client = APIClient()
    _, key = make_token(membership=user.membership, name="test")
    client.credentials(HTTP_AUTHORIZATION=f"Token {key}")
    return client


def at(address: str) -> str:
    return f"/api/v1/{address}"


def problem_of(response: Any) -> dict[str, Any]:
    """Return the body of an error, having checked that it has the one shape of errors."""
    body = response.json()
    assert set(body) == {"what", "where", "mend", "problems"}
    assert body["what"]
    assert body["mend"]
    for one in body["problems"]:
        assert set(one) == {"where", "what", "mend"}
    return body
