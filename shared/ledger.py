"""The append-only rows that every fact of Holdair is kept in.

A ledger row carries two times: ``happened_at``, when it was true, and ``recorded_at``, when we learned it. It is
never edited or deleted; a correction is a new row that names the one it corrects. Database triggers hold the rule
against raw SQL too (``append_only``); the query set refuses politely before they must.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import Any, ClassVar, Self

from django.conf import settings
from django.db import migrations, models
from django.dispatch import Signal
from django.utils import timezone

# rows of one ledger and one department were written, still inside the transaction: department_id, pks.
rows_written = Signal()


class LedgerError(RuntimeError):
    """Somebody tried to edit or delete a ledger row."""


class LedgerQuerySet(models.QuerySet):
    """Rows as they stood at one instant, as known at another."""

    def as_of(self, at: datetime, known_at: datetime) -> Self:
        """Return rows that happened by ``at``, known by ``known_at``, less those a row known by then corrects."""
        known = self.filter(happened_at__lte=at, recorded_at__lte=known_at)
        corrected = self.model._base_manager.filter(corrects__isnull=False, recorded_at__lte=known_at).values(
            "corrects_id"
        )
        return known.exclude(pk__in=corrected)

    def bulk_create(self, objs: Iterable[models.Model], *args: Any, **kwargs: Any) -> list[Any]:
        made = super().bulk_create(objs, *args, **kwargs)
        of: dict[int, list[int]] = defaultdict(list)
        for row in made:
            of[row.department_id].append(row.pk)
        for department_id, pks in of.items():
            rows_written.send(sender=self.model, department_id=department_id, pks=pks)
        return made

    def update(self, **kwargs: object) -> int:
        raise LedgerError(f"{self.model._meta.verbose_name} rows are never edited; record a correction instead.")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise LedgerError(f"{self.model._meta.verbose_name} rows are never deleted; record a correction instead.")


class LedgerRow(models.Model):
    """A fact with two times, who learned it, and the sender's own id for it."""

    department = models.ForeignKey("shared.Department", on_delete=models.PROTECT, related_name="+")
    client_id = models.UUIDField(default=uuid.uuid4)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=120)  # as signed; paper records name people who have no sign-in
    corrects = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrections")

    sealed_apart: ClassVar[bool] = True  # False: a part of another record, sealed with it (shared.chain)

    objects = LedgerQuerySet.as_manager()

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(fields=["department", "client_id"], name="%(app_label)s_%(class)s_sent_once")
        ]
        indexes = [models.Index(fields=["department", "happened_at"], name="%(app_label)s_%(class)s_when")]

    def save(self, *args: object, **kwargs: object) -> None:
        if not self._state.adding:
            raise LedgerError(f"{self._meta.verbose_name} rows are never edited; record a correction instead.")
        super().save(*args, **kwargs)
        rows_written.send(sender=type(self), department_id=self.department_id, pks=[self.pk])

    def delete(self, *args: object, **kwargs: object) -> tuple[int, dict[str, int]]:
        raise LedgerError(f"{self._meta.verbose_name} rows are never deleted; record a correction instead.")


def append_only(*tables: str) -> list[migrations.RunPython]:
    """Return migration operations that make the database itself refuse UPDATE and DELETE on ``tables``.

    A migration that adds a column to a ledger names its table again: SQLite makes such a table anew, without triggers.
    """

    def make(apps: object, schema_editor: object) -> None:
        drop(apps, schema_editor)
        for table in tables:
            for statement in trigger_statements(table, schema_editor.connection.vendor):
                # No parameters at all: with an empty list, the % of the PostgreSQL function would be read as one.
                schema_editor.execute(statement, params=None)

    def drop(apps: object, schema_editor: object) -> None:
        on = "" if schema_editor.connection.vendor == "sqlite" else " ON {0}"
        for table in tables:
            for verb in ("update", "delete"):
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_no_{verb}" + on.format(table))

    return [migrations.RunPython(make, drop)]


def trigger_statements(table: str, vendor: str) -> list[str]:
    """Return the SQL that makes ``table`` refuse UPDATE and DELETE on the named database vendor."""
    if vendor == "sqlite":
        return [
            f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table} is a ledger: rows are never changed'); END"
            for verb in ("update", "delete")
        ]
    return [
        "CREATE OR REPLACE FUNCTION holdair_refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '% is a ledger: rows are never changed', TG_TABLE_NAME; END $$",
        *(
            f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION holdair_refuse_change()"
            for verb in ("update", "delete")
        ),
    ]
