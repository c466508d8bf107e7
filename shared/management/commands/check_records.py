"""Prove the chain of signed records, or name the first place where it breaks."""

import json
from typing import Any

from django.apps import apps
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import models

from shared import chain
from shared.ledger import LedgerRow
from shared.models import ChainLink, Department

NOTED = "NUMBER:SEAL"


class Command(BaseCommand):
    """Reads only; every signed record is hashed again and held against its seal."""

    help = (
        "Prove each department's chain of signed records. Exit 0: it holds. Exit 1: it breaks, and where first. "
        "Exit 2: an option is wrong."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--department", help="its name; all of them without it")
        parser.add_argument(
            "--noted",
            action="append",
            default=[],
            metavar=NOTED,
            help="a number and its seal as noted on paper before; with --department",
        )
        parser.add_argument("--json", action="store_true", help="print a list of what each chain came to")

    def handle(self, *args: Any, **options: Any) -> None:
        departments = self._departments(options["department"])
        noted = self._noted(options["noted"], options["department"])
        results = [(d, chain.prove(department=d, seal_of=noted)) for d in departments]
        if options["json"]:
            self.stdout.write(json.dumps([self._as_json(d, state) for d, state in results], indent=2))
        else:
            for department, state in results:
                self._tell(department, state)
        if any(state.broken for _, state in results):
            raise CommandError("A chain of records is broken.", returncode=1)

    def _departments(self, name: str | None) -> list[Department]:
        if name is None:
            return list(Department.objects.order_by("name"))
        found = Department.objects.filter(name__iexact=" ".join(name.split())).first()
        if found is None:
            known = ", ".join(Department.objects.values_list("name", flat=True)) or "none yet"
            raise CommandError(f"No department is called {name!r}. Departments: {known}.", returncode=2)
        return [found]

    def _noted(self, given: list[str], department: str | None) -> dict[int, str]:
        if given and department is None:
            raise CommandError("A seal belongs to one department: name it with --department.", returncode=2)
        noted = {}
        for text in given:
            number, _, seal = text.partition(":")
            if not number.isdecimal() or not seal:
                raise CommandError(f"--noted takes {NOTED}, not {text!r}.", returncode=2)
            noted[int(number)] = seal.strip().lower()
        return noted

    def _tell(self, department: Department, state: chain.ChainState) -> None:
        self.stdout.write(f"{department.name}: {state.links} signed records in unbroken order.")
        if state.number:
            self.stdout.write(f"  Last sealed: {state.number}:{state.seal}")
        if state.waiting:
            self.stdout.write(f"  {state.waiting} not sealed yet; the scheduler seals them within ten minutes.")
        if state.broken:
            self.stdout.write(f"  Breaks at link {state.broken.number}: {state.broken.what}. {_words(state.broken)}")

    def _as_json(self, department: Department, state: chain.ChainState) -> dict[str, Any]:
        broken = state.broken
        return {
            "department": department.name,
            "links": state.links,
            "last": {"number": state.number, "seal": state.seal},
            "waiting": state.waiting,
            "broken": broken
            and {
                "number": broken.number,
                "table": broken.table,
                "row": broken.row,
                "what": broken.what,
                "record": _words(broken),
            },
        }


def _words(broken: chain.Break) -> str:
    """Say which record it is, so that somebody can go and look."""
    model = next((m for m in apps.get_models() if m._meta.db_table == broken.table), None)
    if model is None:
        return ""
    row = model._base_manager.filter(pk=broken.row).first()
    if row is None:
        sealed = ChainLink.objects.filter(table=broken.table, row=broken.row).first()
        when = f", sealed {sealed.made_at:%F %T} UTC" if sealed else ""
        return f"{model._meta.verbose_name} {broken.row}{when}."
    return f"{model._meta.verbose_name} {broken.row}{_signed(row)}."


def _signed(row: models.Model) -> str:
    if not isinstance(row, LedgerRow):
        return ""
    of = getattr(row, "item", None) or getattr(row, "lot", None) or getattr(row, "line", None)
    return f"{f' of {of}' if of else ''}, signed {row.by_name}, received {row.recorded_at:%F %T} UTC"
