"""Inviting, changing and retiring the people of a department."""

import re

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shared.models import ApiToken, AuditEntry, Invitation, Membership, User
from tests.conftest import make_person
from tests.flows.api import at, signed

pytestmark = pytest.mark.django_db
NEW = {"display_name": "Marlow", "role": "crew", "email": ""}
PASSWORDS = {"username": "marlow", "password": "a long enough phrase", "again": "a long enough phrase"}


@pytest.fixture(autouse=True)
def _no_tries_yet():
    cache.clear()


@pytest.fixture
def as_head(hollis, client_of):
    return client_of(hollis)


def invite(client, **more):
    return client.post(reverse("shared:invite"), NEW | more)


def address_in(answer):
    return re.search(r'class="key">http://testserver([^<]+)<', answer.content.decode())[1]


def test_an_invitation_is_shown_once_and_makes_one_sign_in(as_head, department):
    answer = invite(as_head)
    assert answer.status_code == 201
    address = address_in(answer)
    assert address not in as_head.get(reverse("shared:people")).content.decode()
    assert address.split("/")[-2] not in Invitation.objects.get().digest
    newcomer = Client()
    assert "Marlow" in newcomer.get(address).content.decode()
    assert newcomer.post(address, PASSWORDS)["Location"] == reverse("readiness:tonight")
    assert Membership.objects.get(user__username="marlow").role == "crew"
    assert newcomer.get(reverse("readiness:tonight")).status_code == 200
    assert Client().post(address, PASSWORDS | {"username": "second"}).status_code == 404
    assert User.objects.filter(username="second").count() == 0
    assert {"invited", "accepted invitation"} <= set(AuditEntry.objects.values_list("did", flat=True))


def test_a_wrong_a_used_a_withdrawn_and_an_expired_address_are_answered_alike(as_head):
    expired = address_in(invite(as_head, display_name="One"))
    Invitation.objects.update(expires_at=timezone.now())
    withdrawn = address_in(invite(as_head, display_name="Two"))
    as_head.post(reverse("shared:withdraw", args=[Invitation.objects.get(display_name="Two").pk]))
    used = address_in(invite(as_head, display_name="Three"))
    Client().post(used, PASSWORDS)
    wrong = reverse("shared:accept", args=["no-such-key"])
    strip = lambda page: re.sub(r"(csrf|nonce|Token)[^>]*", "", page.content.decode())  # noqa: E731
    pages = [Client().get(address) for address in (expired, withdrawn, used, wrong)]
    assert {page.status_code for page in pages} == {404}
    assert len({strip(page) for page in pages}) == 1


def test_a_new_address_ends_the_old_one(as_head):
    old = address_in(invite(as_head))
    new = address_in(as_head.post(reverse("shared:invite-again", args=[Invitation.objects.get().pk])))
    assert Client().get(old).status_code == 404
    assert Client().get(new).status_code == 200


@pytest.mark.parametrize("bad", [{"password": "short", "again": "short"}, {"again": "another"}, {"username": "a b"}])
def test_a_weak_password_or_an_odd_name_is_refused_and_the_invitation_stands(as_head, bad):
    address = address_in(invite(as_head))
    assert Client().post(address, PASSWORDS | bad).status_code == 422
    assert Client().post(address, PASSWORDS).status_code == 302


def test_a_sign_in_name_that_is_taken_is_refused_in_any_case(as_head, quinn):
    address = address_in(invite(as_head))
    assert Client().post(address, PASSWORDS | {"username": "QUINN"}).status_code == 422


def test_too_many_tries_are_told_to_wait(db):
    answers = [Client().get(reverse("shared:accept", args=[f"guess-{n}"])).status_code for n in range(22)]
    assert answers[-1] == 429


def test_an_officer_makes_no_heads_and_changes_none(quinn, hollis, client_of):
    client = client_of(quinn)
    assert invite(client, role="head").status_code == 422
    crew = make_person("Casey", quinn.department, "crew")
    address = reverse("shared:change-member", args=[crew.membership.pk])
    assert client.post(address, {"role": "head"}).status_code == 422
    assert client.post(reverse("shared:retire-member", args=[hollis.membership.pk])).status_code == 422
    assert not Membership.objects.exclude(pk=hollis.membership.pk).filter(role="head").exists()
    assert not Invitation.objects.exists()


def test_nobody_changes_or_retires_himself_and_the_last_head_stays(as_head, hollis, quinn):
    for what, said in (("change-member", {"role": "officer"}), ("retire-member", {})):
        assert as_head.post(reverse(f"shared:{what}", args=[hollis.membership.pk]), said).status_code == 422
    other = make_person("Rowan", hollis.department, "head")
    assert as_head.post(reverse("shared:retire-member", args=[other.membership.pk])).status_code == 302
    hollis.membership.refresh_from_db()
    assert (hollis.membership.role, hollis.membership.ends_on) == ("head", None)


def test_who_is_retired_is_out_at_once_session_and_token_alike(as_head, casey, client_of):
    session, api = client_of(casey), signed(casey)
    assert session.get(reverse("readiness:tonight")).status_code == 200
    as_head.post(reverse("shared:retire-member", args=[casey.membership.pk]))
    assert session.get(reverse("readiness:tonight")).status_code in (302, 403)
    assert api.get(at("me")).status_code == 401
    assert ApiToken.objects.get().revoked_at is not None
    assert AuditEntry.objects.filter(did="retired", subject="casey").exists()


def test_a_visitor_needs_a_last_day_and_a_change_is_on_the_trail(as_head, casey):
    address = reverse("shared:change-member", args=[casey.membership.pk])
    assert as_head.post(address, {"role": "visitor"}).status_code == 422
    assert as_head.post(address, {"role": "visitor", "ends_on": "2027-01-31"}).status_code == 302
    detail = AuditEntry.objects.get(did="changed member").detail
    assert (detail["was"]["role"], detail["is"]["role"]) == ("crew", "visitor")


def test_people_of_another_department_are_not_there(as_head, sam, other_department):
    for what in ("change-member", "retire-member"):
        assert as_head.post(reverse(f"shared:{what}", args=[sam.membership.pk]), NEW).status_code == 404
    assert "Sam" not in as_head.get(reverse("shared:people")).content.decode()


def test_a_name_that_somebody_signs_with_is_not_given_twice(as_head, quinn):
    assert invite(as_head, display_name="  QUINN ").status_code == 422
