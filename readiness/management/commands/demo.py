"""``manage.py demo``: load the invented Tarn Hollow Fire District."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from readiness.demo import NAME, SIGN_INS, load_demo
from readiness.queries import lines_of
from shared import outbox
from shared.models import Department


class Command(BaseCommand):
    help = "Load the invented Tarn Hollow Fire District, dated as if written now."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--if-empty", action="store_true", help="do nothing where a department exists")

    def handle(self, *args: Any, **options: Any) -> None:
        if Department.objects.exists():
            if options["if_empty"]:
                return
            if Department.objects.filter(name=NAME).exists():
                raise CommandError(f"{NAME} is loaded already; ledgers are never deleted, so use an empty database.")
        department = load_demo(today=timezone.localdate())
        # By its name: what the job does belongs to a room further right.
        outbox.enqueue(task="reports.run_verification", payload={}, department=None)
        for line in lines_of(department):
            rating = line.state.newest
            self.stdout.write(f"{line.name}: {rating.word}{' (' + rating.reason + ')' if rating.reason else ''}")
        self.stdout.write("Sign in as " + ", ".join(f"{name} ({role.lower()})" for name, _, role in SIGN_INS))
        self.stdout.write(f"Password of each: {SIGN_INS[0][1]}")
