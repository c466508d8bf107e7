"""Somebody who can sign in is added from the command line."""

import io

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from shared.models import Membership

PASSWORD = "fourteen wet towels"


@pytest.fixture
def add(department, monkeypatch):
    def run(*words: str, password: str = PASSWORD, **options: object) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO(password + "\n"))
        out = io.StringIO()
        named = {"department": department.name, "role": "officer", "password_stdin": True} | options
        call_command("add_person", *words, stdout=out, **named)
        return out.getvalue()

    return run


def test_the_person_can_sign_in_with_the_role_given(add, department):
    assert "logistics officer" in add("nell", name="Nell")
    assert (
        Client().login(username="nell", password=PASSWORD)
        or Client().post("/sign-in/", {"username": "nell", "password": PASSWORD}).status_code == 302
    )
    assert Membership.objects.get(user__username="nell").department == department


def test_somebody_known_gets_the_new_role_and_keeps_the_password(add):
    add("nell")
    add("nell", role="crew", password="another quite different one")
    assert Membership.objects.get(user__username="nell").role == "crew"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"department": "Nowhere"}, "Departments: "),
        ({"role": "visitor"}, "--until"),
        ({"password": "short"}, "too short"),
    ],
)
def test_what_is_wrong_is_said_and_nobody_is_added(add, options, says):
    with pytest.raises(CommandError, match=says):
        add("nell", **options)
    assert not Membership.objects.filter(user__username="nell").exists()
