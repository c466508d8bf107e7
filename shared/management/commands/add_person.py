"""``manage.py add_person``: somebody who can sign in, with a role in one department."""

import sys
from argparse import ArgumentParser
from datetime import date
from getpass import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from shared.models import Department, Membership, User

Role = Membership.Role


class Command(BaseCommand):
    help = "Add somebody who can sign in, or give somebody who can another department or role."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--name", help="as signed on records; the username if absent")
        parser.add_argument("--role", required=True, choices=Role.values)
        parser.add_argument("--department", required=True)
        parser.add_argument("--until", type=date.fromisoformat, help="last day, YYYY-MM-DD; a visitor needs one")
        parser.add_argument("--password-stdin", action="store_true", help="read the password from standard input")

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        department = self._department(options["department"])
        if options["role"] == Role.VISITOR and options["until"] is None:
            raise CommandError("A visitor's pass has a last day: add --until YYYY-MM-DD.")
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            user = User(username=options["username"], display_name=options["name"] or options["username"])
            user.set_password(self._password(user, from_stdin=options["password_stdin"]))
            user.save()
        membership, _ = Membership.objects.update_or_create(
            department=department, user=user, defaults={"role": options["role"], "ends_on": options["until"]}
        )
        self.stdout.write(f"{membership}.")

    def _department(self, name: str) -> Department:
        found = Department.objects.filter(name__iexact=name).first()
        if found is None:
            known = ", ".join(Department.objects.values_list("name", flat=True)) or "none yet: import a register first"
            raise CommandError(f"No department is called {name!r}. Departments: {known}.")
        return found

    def _password(self, user: User, *, from_stdin: bool) -> str:
        password = sys.stdin.readline().rstrip("\n") if from_stdin else getpass("Password: ")
        if not from_stdin and password != getpass("Again: "):
            raise CommandError("The two passwords differ; nothing was added.")
        try:
            validate_password(password, user)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        return password
