"""Signing in and out, the person's settings and tokens, the choice of department, and the pages that say no."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shared.models import ApiToken, AuditEntry, Membership
from shared.tokens import make_token
from tests.conftest import PASSWORD, make_person

pytestmark = pytest.mark.django_db
Role = Membership.Role


@pytest.fixture
def as_quinn(quinn, client_of):
    return client_of(quinn)


def test_signing_in_leads_to_the_page_asked_for(client, quinn):
    asked = client.get("/settings/?from=a&to=b")
    assert asked.status_code == 302
    answer = client.post(asked.url, {"username": "quinn", "password": PASSWORD, "next": "/settings/?from=a&to=b"})
    assert answer.url == "/settings/?from=a&to=b"


def test_signing_in_with_nowhere_asked_leads_to_tonight(client, quinn):
    answer = client.post(reverse("shared:sign-in"), {"username": "quinn", "password": PASSWORD})
    assert answer.url == reverse("readiness:tonight")


def test_signing_in_never_leads_to_another_site(client, quinn):
    sent = {"username": "quinn", "password": PASSWORD, "next": "https://elsewhere.example/"}
    assert client.post(reverse("shared:sign-in"), sent).url == reverse("readiness:tonight")


def test_a_wrong_password_is_said_beside_the_form_and_keeps_the_name(client, quinn):
    answer = client.post(reverse("shared:sign-in"), {"username": "quinn", "password": "wrong"})
    page = answer.content.decode()
    assert "do not go together" in page
    assert 'value="quinn"' in page
    assert "wrong" not in page.replace("wrong tries", "")


def test_five_wrong_tries_lock_the_name_and_say_so(client, quinn, settings):
    settings.AXES_ENABLED = True
    for _ in range(5):
        answer = client.post(reverse("shared:sign-in"), {"username": "quinn", "password": "wrong"})
    assert answer.status_code == 429
    right = client.post(reverse("shared:sign-in"), {"username": "quinn", "password": PASSWORD})
    assert right.status_code == 429
    assert "Locked for a while" in right.content.decode()


def test_signing_out_ends_the_session(as_quinn):
    as_quinn.post(reverse("shared:sign-out"))
    assert as_quinn.get(reverse("shared:settings")).status_code == 302


def test_a_person_of_two_departments_chooses_one_before_going_on(client, avery, other_department):
    make_person("Avery", other_department, Role.HEAD)
    sent = {"username": "avery", "password": PASSWORD, "next": "/settings/"}
    assert client.post(reverse("shared:sign-in"), sent).url == reverse("shared:department")
    head = Membership.objects.get(role=Role.HEAD)
    onward = client.post(reverse("shared:department"), {"membership": head.pk})
    assert onward.url == "/settings/"
    assert "Department head of Other Ridge Rescue" in client.get("/settings/").content.decode()


def test_nobody_can_choose_a_department_that_is_not_theirs(as_quinn, sam):
    answer = as_quinn.post(reverse("shared:department"), {"membership": sam.membership.pk})
    assert answer.status_code == 200
    assert answer.wsgi_request.department.name == "Tarn Hollow Fire District"
    assert "errorlist" in answer.content.decode()


def test_a_lapsed_pass_leaves_no_department_and_the_page_says_so(visitor, client_of):
    visitor.memberships.update(ends_on=timezone.localdate() - timedelta(days=2), starts_on=None)
    answer = client_of(visitor).get(reverse("readiness:tonight"))
    assert answer.status_code == 403
    assert "You belong to no department today" in answer.content.decode()


def test_name_and_units_are_kept(as_quinn, quinn):
    as_quinn.post(reverse("shared:settings"), {"display_name": "Capt. Quinn", "uses_si": "on"})
    quinn.refresh_from_db()
    assert (quinn.signed_name, quinn.uses_si) == ("Capt. Quinn", True)


def test_an_empty_name_is_refused_beside_its_field(as_quinn, quinn):
    answer = as_quinn.post(reverse("shared:settings"), {"display_name": ""})
    assert answer.status_code == 422
    assert 'id="id_display_name_error"' in answer.content.decode()
    quinn.refresh_from_db()
    assert quinn.display_name == "Quinn"


def test_a_new_password_keeps_this_session_and_ends_the_others(as_quinn, quinn, client_of):
    elsewhere = client_of(quinn)
    new = "another-long-enough"
    sent = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    as_quinn.post(reverse("shared:change-password"), sent)
    assert as_quinn.get(reverse("shared:settings")).status_code == 200
    assert elsewhere.get(reverse("shared:settings")).status_code == 302


def test_a_new_password_ends_every_token_made_under_the_old_one(as_quinn, quinn):
    _, key = make_token(membership=quinn.membership, name="lost tablet")
    new = "another-long-enough"
    as_quinn.post(
        reverse("shared:change-password"), {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    )
    assert Client().get("/api/v1/me", headers={"authorization": f"Token {key}"}).status_code == 401


def test_a_changed_name_is_kept_on_record_and_nobody_takes_the_name_of_another(as_quinn, quinn, casey, sam):
    as_quinn.post(reverse("shared:settings"), {"display_name": "Capt. Quinn"})
    entry = AuditEntry.objects.get(by=quinn)
    assert (entry.did, entry.detail) == ("changed name", {"was": "Quinn", "is": "Capt. Quinn"})
    answer = as_quinn.post(reverse("shared:settings"), {"display_name": " cASEY"})
    assert answer.status_code == 422
    assert "Somebody else in your department signs with this name." in answer.content.decode()
    quinn.refresh_from_db()
    assert quinn.signed_name == "Capt. Quinn"


def test_a_short_password_is_refused_beside_its_field(as_quinn, quinn):
    sent = {"old_password": PASSWORD, "new_password1": "short", "new_password2": "short"}
    answer = as_quinn.post(reverse("shared:change-password"), sent)
    assert answer.status_code == 422
    quinn.refresh_from_db()
    assert quinn.check_password(PASSWORD)


def test_a_token_is_shown_once_and_only_its_hash_is_kept(as_quinn):
    made = as_quinn.post(reverse("shared:make-token"), {"name": "Bay tablet", "days": "30"})
    key = made.context["new_key"]
    assert made.status_code == 201
    assert key in made.content.decode()
    assert key not in as_quinn.get(reverse("shared:settings")).content.decode()
    assert not ApiToken.objects.filter(digest=key).exists()
    token = ApiToken.objects.get()
    assert timedelta(days=29) < token.expires_at - timezone.now() <= timedelta(days=30)


def test_a_revoked_token_keeps_the_first_time_it_was_revoked(as_quinn):
    as_quinn.post(reverse("shared:make-token"), {"name": "Bay tablet", "days": "30"})
    revoke = reverse("shared:revoke-token", args=[ApiToken.objects.get().pk])
    as_quinn.post(revoke)
    first = ApiToken.objects.get().revoked_at
    as_quinn.post(revoke)
    assert first is not None
    assert ApiToken.objects.get().revoked_at == first


def test_the_token_of_somebody_else_is_not_found(as_quinn, casey, client_of):
    as_quinn.post(reverse("shared:make-token"), {"name": "Bay tablet", "days": "30"})
    theirs = reverse("shared:revoke-token", args=[ApiToken.objects.get().pk])
    assert client_of(casey).post(theirs).status_code == 404


def test_a_visitor_is_offered_no_tokens_and_makes_none(visitor, client_of):
    client = client_of(visitor)
    assert "API tokens" not in client.get(reverse("shared:settings")).content.decode()
    assert client.post(reverse("shared:make-token"), {"name": "x", "days": "30"}).status_code == 403


def test_a_page_that_is_not_there_says_so_in_our_own_look(as_quinn):
    answer = as_quinn.get("/no/such/page/")
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_an_error_of_ours_says_that_nothing_is_half_recorded(as_quinn, monkeypatch):
    as_quinn.raise_request_exception = False
    monkeypatch.setattr("shared.views.timezone.localdate", lambda: 1 / 0)
    monkeypatch.setattr("shared.walls.membership_of", lambda *args, **kwargs: None)
    answer = as_quinn.get(reverse("shared:settings"))
    assert answer.status_code == 500
    assert "Nothing was half-recorded" in answer.content.decode()


def test_the_health_page_needs_no_sign_in_and_tells_nothing_else(client):
    answer = client.get(reverse("shared:healthz"))
    assert (answer.status_code, answer.json()) == (200, {"ok": True})


def test_no_page_carries_an_inline_style(as_quinn):
    for name in ("shared:settings", "shared:sign-in", "shared:department"):
        assert "style=" not in as_quinn.get(reverse(name), follow=True).content.decode()
