"""Signing in to the API and out of it, and what a token speaks for."""

from datetime import timedelta

import pytest
from django.core.cache import cache
from django.utils import timezone
from rest_framework.test import APIClient

from shared.models import ApiToken, Membership
from shared.tokens import make_token
from tests.conftest import PASSWORD
from tests.flows.api import at, problem_of, signed


@pytest.fixture(autouse=True)
def _no_memory_of_tries():
    cache.clear()
    yield
    cache.clear()


def sign_in(username, password=PASSWORD, **more):
    body = {"username": username, "password": password, "name": "bay tablet"} | more
    return APIClient().post(at("token"), body, format="json")


def test_a_password_gives_a_token_that_opens_the_api(quinn):
    answer = sign_in("quinn")
    assert answer.status_code == 201
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {answer.json()['token']}")
    me = client.get(at("me")).json()
    assert (me["name"], me["membership_role"], me["department"]) == ("Quinn", "officer", "Tarn Hollow Fire District")
    assert "write" in me["may"]
    assert "mission" not in me["may"]


def test_only_the_hash_of_a_token_is_kept(quinn):
    key = sign_in("quinn").json()["token"]
    token = ApiToken.objects.get(name="bay tablet")
    assert key not in (token.digest, token.name)
    assert len(token.digest) == 64


def test_a_wrong_password_is_refused_and_says_no_more(quinn):
    known, unknown = sign_in("quinn", "wrong-password-1"), sign_in("nobody", "wrong-password-1")
    assert (known.status_code, unknown.status_code) == (401, 401)
    assert problem_of(known) == problem_of(unknown)


def test_a_name_is_locked_after_five_wrong_passwords(quinn, settings):
    settings.AXES_ENABLED = True
    for _ in range(5):
        sign_in("quinn", "wrong-password-1")
    answer = sign_in("quinn")
    assert answer.status_code == 429
    assert problem_of(answer)["where"] == at("token")
    assert int(answer["Retry-After"]) == 900


def test_an_address_that_guesses_is_slowed_whichever_names_it_tries(quinn):
    codes = [sign_in(f"name{n}", "wrong-password-1").status_code for n in range(21)]
    assert codes[:20] == [401] * 20
    assert codes[20] == 429


def test_a_visitor_gets_no_token(visitor):
    assert sign_in("visitor").status_code == 403


def test_a_person_of_two_departments_names_one(quinn, other_department):
    Membership.objects.create(department=other_department, user=quinn, role="crew")
    unnamed = sign_in("quinn")
    assert unnamed.status_code == 400
    assert "tarn-hollow, other-ridge" in problem_of(unnamed)["problems"][0]["mend"]
    named = sign_in("quinn", department="other-ridge")
    assert named.json()["department"] == "Other Ridge Rescue"
    assert sign_in("quinn", department="elsewhere").status_code == 400


def test_a_revoked_token_opens_nothing(quinn):
    client = signed(quinn)
    assert client.get(at("me")).status_code == 200
    assert client.delete(at("token")).status_code == 204
    assert client.get(at("me")).status_code == 401


def test_an_expired_token_opens_nothing(quinn):
    _, key = make_token(membership=quinn.membership, name="old", lifetime=-timedelta(seconds=1))
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {key}")
    assert client.get(at("me")).status_code == 401


def test_a_token_of_somebody_who_left_opens_nothing(quinn):
    client = signed(quinn)
    Membership.objects.filter(pk=quinn.membership.pk).update(ends_on=timezone.localdate() - timedelta(days=1))
    assert client.get(at("me")).status_code == 401


@pytest.mark.parametrize("header", ["Token", "Token a b", "Token nonsense", "Bearer x"])
def test_a_header_that_is_no_token_is_refused(header, quinn):
    answer = APIClient().get(at("me"), headers={"Authorization": header})
    assert answer.status_code == 401
    assert "POST /api/v1/token" in problem_of(answer)["mend"]
    assert answer["WWW-Authenticate"] == "Token"


def test_a_session_of_the_pages_opens_the_api_but_writes_only_with_its_csrf_token(quinn):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(quinn, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(at("me")).status_code == 200
    assert client.post(at("postings"), {}, format="json").status_code == 403
