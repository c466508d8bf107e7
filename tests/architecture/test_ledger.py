"""Ledgers only grow: the database itself refuses, on a file made by the migrations and on PostgreSQL alike."""

import os
import sqlite3
import subprocess
import sys
import uuid
from pathlib import Path

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, models, transaction

from inspections.models import Reading
from shared.ledger import LedgerError, LedgerRow
from tests.conftest import NOON

ROOT = Path(__file__).resolve().parents[2]
LEDGERS = [model for model in apps.get_models() if issubclass(model, LedgerRow)]
by_ledger = pytest.mark.parametrize("model", LEDGERS, ids=lambda model: model._meta.db_table)
# An inspection's readings are as final as the inspection, though they carry no times of their own.
by_table = pytest.mark.parametrize("model", [*LEDGERS, Reading], ids=lambda model: model._meta.db_table)


@pytest.fixture(scope="module")
def migrated_file(tmp_path_factory):
    """A SQLite file as a deployment has it: made by ``manage.py migrate``, untouched by any test runner."""
    folder = tmp_path_factory.mktemp("migrated")
    environ = {**os.environ, "HOLDAIR_VAR": str(folder), "DJANGO_SETTINGS_MODULE": "readiness.settings"}
    environ.pop("DATABASE_URL", None)
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], env=environ, cwd=ROOT, check=True)
    return folder / "holdair.sqlite3"


@by_table
def test_a_migrated_sqlite_file_refuses_raw_sql(migrated_file, model):
    table = model._meta.db_table
    columns, values = bare_row(model)
    with sqlite3.connect(migrated_file, isolation_level=None) as file:
        file.execute("PRAGMA foreign_keys = OFF")
        file.execute("BEGIN")
        file.execute(f"INSERT INTO {table} ({columns}) VALUES ({', '.join('?' * len(values))})", adapted(values))
        for statement in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}"):
            with pytest.raises(sqlite3.IntegrityError, match=f"{table} is a ledger"):
                file.execute(statement)
        file.execute("ROLLBACK")


@by_table
@pytest.mark.django_db
def test_raw_sql_can_neither_change_nor_delete_a_ledger_row(model):
    table = model._meta.db_table
    columns, values = bare_row(model)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {table} ({columns}) VALUES ({', '.join(['%s'] * len(values))})",
            adapted(values) if connection.vendor == "sqlite" else values,
        )
        for statement in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}"):
            with pytest.raises(DatabaseError, match="is a ledger: rows are never changed"), transaction.atomic():
                cursor.execute(statement)
        cursor.execute(f"SELECT count(*) FROM {table}")
        assert cursor.fetchone() == (1,)
        # The row points at nothing; taken back before anybody checks its foreign keys.
        transaction.set_rollback(True)


@by_ledger
def test_the_query_set_refuses_politely(model):
    with pytest.raises(LedgerError, match="record a correction"):
        model.objects.all().update(by_name="Somebody else")
    with pytest.raises(LedgerError, match="record a correction"):
        model.objects.all().delete()


@by_ledger
def test_a_row_once_saved_can_neither_be_saved_again_nor_deleted(model):
    row = model(pk=1)
    row._state.adding = False  # as any row read from the database
    with pytest.raises(LedgerError, match="never edited"):
        row.save()
    with pytest.raises(LedgerError, match="never deleted"):
        row.delete()


def bare_row(model: type[models.Model]) -> tuple[str, list]:
    """Columns and values of a row that meets the table's own constraints, with foreign keys to nothing."""
    wanted = [
        field
        for field in model._meta.concrete_fields
        if not field.primary_key and (not field.null or field.name == "item")
    ]
    return ", ".join(f'"{field.column}"' for field in wanted), [plausible(field) for field in wanted]


def plausible(field: models.Field) -> object:
    by_type = {
        models.ForeignKey: 1,
        models.UUIDField: uuid.UUID(int=1),
        models.DateTimeField: NOON,
        models.DateField: NOON.date(),
        models.BooleanField: False,
        models.JSONField: "{}",
        models.IntegerField: 1,
        models.FloatField: 1.0,
        models.DecimalField: 1,
        models.CharField: "x",
        models.TextField: "x",
    }
    return next(by_type[kind] for kind in type(field).__mro__ if kind in by_type)


def adapted(values: list) -> list:
    """The same values as SQLite stores them."""
    return [
        value.hex if isinstance(value, uuid.UUID) else str(value) if hasattr(value, "isoformat") else value
        for value in values
    ]
