import json
import threading
import uuid
from contextlib import contextmanager

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from inspections.models import Inspection, Reading, Walk
from inspections.services import open_walk, record_inspection, sign_walk
from inventory.models import Count, StateEvent
from inventory.services import record_count, record_state
from shared import chain
from shared.ledger import trigger_statements
from shared.models import ChainLink
from tests.conftest import NOON
from tests.inspections.building import load, make_item, make_place


@pytest.fixture
def committed(django_capture_on_commit_callbacks):
    """Run what is due at commit when the block ends, as a transaction of its own would."""

    @contextmanager
    def block():
        # Inside a test's one long transaction, what came before the block would still be waiting for its commit.
        connection.run_on_commit = []
        with django_capture_on_commit_callbacks(execute=True):
            yield

    return block


def weigh(item, quinn, pounds=38.0, **more):
    return record_inspection(
        department=item.department,
        check_key="propane",
        item=item,
        values={"gross_lb": 68 + pounds, "tare_lb": 68, "soap": "none", "upright_outdoors": "yes"},
        happened_at=NOON,
        by=quinn,
        by_name="Quinn",
        client_id=uuid.uuid4(),
        **more,
    )


def state(department):
    return chain.prove(department=department)


def force(table, sql, *values):
    """Change a ledger behind its back, as somebody with the database's password could."""
    with connection.cursor() as cursor:
        on = "" if connection.vendor == "sqlite" else f" ON {table}"
        for verb in ("update", "delete"):
            cursor.execute(f"DROP TRIGGER {table}_no_{verb}{on}")
        cursor.execute(sql, values)
        for statement in trigger_statements(table, connection.vendor):
            cursor.execute(statement, None)


@pytest.fixture
def weighed(cache, quinn, committed):
    """Five weighings of one cylinder, each sealed as it was committed."""
    with committed():
        item = make_item(cache, "propane", "LP-1")
    rows = []
    for pounds in (38.0, 37.0, 36.0, 35.0, 34.0):
        with committed():
            rows.append(weigh(item, quinn, pounds))
    return rows


def link_of(row):
    return ChainLink.objects.get(table=row._meta.db_table, row=row.pk)


def test_every_signed_record_is_sealed_when_it_is_committed(cache, weighed, quinn):
    found = state(cache)
    assert found.broken is None
    assert found.waiting == 0
    assert [link_of(row).number for row in weighed] == sorted(link_of(row).number for row in weighed)
    assert found.seal == ChainLink.objects.get(number=found.number).seal


@pytest.mark.django_db(transaction=True)
def test_what_is_rolled_back_is_neither_sealed_nor_waited_for(cache, quinn):
    item = make_item(cache, "propane", "LP-1")
    before = ChainLink.objects.count()
    with transaction.atomic():
        weigh(item, quinn)
        transaction.set_rollback(True)
    assert ChainLink.objects.count() == before
    with transaction.atomic():
        weigh(item, quinn)
        with transaction.atomic():
            record_count(department=cache, item=item, counted=1, happened_at=NOON, by_name="Quinn")
            transaction.set_rollback(True)
        record_state(department=cache, item=item, event="wet", happened_at=NOON, by_name="Quinn")
    found = state(cache)
    assert (found.broken, found.waiting) == (None, 0)
    assert link_of(Inspection.objects.get()).number < link_of(StateEvent.objects.get()).number


@pytest.mark.parametrize(
    ("sql", "what"),
    [
        ("UPDATE {t} SET verdict = 'void' WHERE id = %s", "no longer says what was sealed"),
        ("UPDATE {t} SET happened_at = recorded_at WHERE id = %s", "no longer says what was sealed"),
        ("UPDATE {t} SET by_name = 'Hollis' WHERE id = %s", "no longer says what was sealed"),
    ],
)
def test_a_changed_record_breaks_the_chain_where_it_stands(cache, weighed, quinn, sql, what):
    force("inspections_inspection", sql.format(t="inspections_inspection"), weighed[2].pk)
    found = state(cache)
    assert found.broken.number == link_of(weighed[2]).number
    assert (found.broken.table, found.broken.row) == ("inspections_inspection", weighed[2].pk)
    assert what in found.broken.what
    assert found.links == found.broken.number - 1


@pytest.mark.parametrize("to", [107.0, 0.0, None])
def test_a_changed_reading_breaks_the_chain_at_its_inspection(cache, weighed, quinn, to):
    reading = Reading.objects.get(inspection=weighed[1], key="gross_lb")
    force("inspections_reading", "UPDATE inspections_reading SET number = %s WHERE id = %s", to, reading.pk)
    assert state(cache).broken.row == weighed[1].pk


def test_a_changed_proof_breaks_the_chain_at_its_inspection(cache, weighed, quinn):
    proof = weighed[0].proofs.first()
    force("inspections_proof", "UPDATE inspections_proof SET ratio = 0.5 WHERE id = %s", proof.pk)
    assert state(cache).broken.row == weighed[0].pk


def test_a_record_that_is_gone_is_named(cache, quinn, committed):
    item = make_item(cache, "propane", "LP-1")
    with committed():
        row = record_state(department=cache, item=item, event="wet", happened_at=NOON, by_name="Quinn")
        record_state(department=cache, item=item, event="packed", happened_at=NOON, by_name="Quinn")
    force("inventory_stateevent", "DELETE FROM inventory_stateevent WHERE id = %s", row.pk)
    broken = state(cache).broken
    assert broken.what == "the record is gone"
    assert broken.row == row.pk


def test_a_link_that_is_gone_and_one_that_is_forged_are_named(cache, weighed, quinn):
    number = link_of(weighed[3]).number
    force("shared_chainlink", "UPDATE shared_chainlink SET content = %s WHERE number = %s", "f" * 64, number)
    assert state(cache).broken.number == number
    force("shared_chainlink", "DELETE FROM shared_chainlink WHERE number = %s", number)
    assert state(cache).broken.what == f"link {number} is missing"


def test_a_chain_cut_short_is_caught_by_a_seal_kept_on_paper(cache, weighed, quinn):
    whole = state(cache)
    force("shared_chainlink", "DELETE FROM shared_chainlink WHERE number = %s", whole.number)
    assert state(cache).broken is None
    noted = chain.prove(department=cache, seal_of={whole.number: whole.seal})
    assert "gone" in noted.broken.what
    other = chain.prove(department=cache, seal_of={1: "0" * 64})
    assert other.broken.number == 1


def test_what_a_dead_process_left_is_sealed_later_and_once(cache, quinn):
    item = make_item(cache, "propane", "LP-1")
    weigh(item, quinn)  # nothing runs at commit here
    waiting = state(cache).waiting
    assert waiting > 0
    assert chain.seal_new(department=cache) == waiting
    assert chain.seal_new(department=cache) == 0
    assert state(cache).waiting == 0


def test_a_record_that_comes_in_late_moves_no_other(cache, weighed, quinn, committed):
    before = list(ChainLink.objects.values_list("number", "seal"))
    with committed():
        record_inspection(
            department=cache,
            check_key="propane",
            item=weighed[0].item,
            values={"gross_lb": 106, "tare_lb": 68},
            happened_at=NOON.replace(year=NOON.year - 1),
            by=quinn,
            by_name="Quinn",
            client_id=uuid.uuid4(),
        )
    assert list(ChainLink.objects.values_list("number", "seal"))[: len(before)] == before
    assert state(cache).broken is None


def test_a_walk_is_sealed_when_it_is_signed_and_not_before(cache, quinn, committed):
    item = make_item(cache, "propane", "LP-1")
    with committed():
        walk = open_walk(department=cache, place=make_place(cache), by=quinn, started_at=NOON, client_id=uuid.uuid4())
        weigh(item, quinn, walk=walk)
    assert not ChainLink.objects.filter(table=Walk._meta.db_table).exists()
    with committed():
        sign_walk(walk=walk, by=quinn, signed_name="Quinn", signed_at=NOON)
    assert link_of(walk)
    Walk.objects.filter(pk=walk.pk).update(signed_name="Somebody")
    assert state(cache).broken.table == Walk._meta.db_table


def test_departments_have_chains_of_their_own(cache, weighed, quinn, sam, committed):
    theirs = make_item(load(sam.department), "propane", "LP-9")
    with committed():
        weigh(theirs, sam)
    assert ChainLink.objects.filter(department=sam.department).earliest("number").number == 1
    force("inspections_inspection", "UPDATE inspections_inspection SET remark = 'x' WHERE id = %s", weighed[0].pk)
    assert state(cache).broken
    assert state(sam.department).broken is None


@pytest.mark.django_db(transaction=True)
def test_rows_written_together_are_sealed_together_and_in_order(cache):
    item = make_item(cache, "propane", "LP-1")
    Count.objects.bulk_create(
        Count(department=cache, item=item, counted=n, happened_at=NOON, by_name="Quinn") for n in range(7)
    )
    links = ChainLink.objects.filter(table=Count._meta.db_table).order_by("number")
    assert [Count.objects.get(pk=link.row).counted for link in links] == list(range(7))


@pytest.mark.django_db(transaction=True)
def test_many_who_record_at_once_make_one_chain(cache, quinn):
    item = make_item(cache, "propane", "LP-1")
    item_of = [make_item(cache, "propane", f"LP-{n}") for n in range(2, 8)]

    def record(one):
        try:
            for _ in range(3):
                record_count(department=cache, item=one, counted=1, happened_at=NOON, by_name="Quinn")
        finally:
            connection.close()

    threads = [threading.Thread(target=record, args=(one,)) for one in (item, *item_of)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    chain.seal_new(department=cache)
    found = state(cache)
    assert found.broken is None
    assert found.waiting == 0
    assert ChainLink.objects.filter(table=Count._meta.db_table).count() == Count.objects.count() == 21


def test_every_ledger_is_sealed_or_is_part_of_what_is():
    tables = {model._meta.db_table for model in chain.sealed_models()}
    assert {"inspections_inspection", "inventory_posting", "inspections_walk", "reports_disposition"} <= tables
    assert "inspections_proof" not in tables


# The command -------------------------------------------------------------------------------------------------------


def test_the_command_says_that_the_chain_holds_and_what_to_note(cache, weighed, quinn, capsys):
    call_command("check_records", "--department", cache.name)
    said = capsys.readouterr().out
    last = state(cache)
    assert "unbroken" in said
    assert f"{last.number}:{last.seal}" in said


def test_the_command_names_the_first_break_and_fails(cache, weighed, quinn, capsys):
    for row in (weighed[3], weighed[1]):
        force("inspections_inspection", "UPDATE inspections_inspection SET remark = 'x' WHERE id = %s", row.pk)
    with pytest.raises(CommandError) as failed:
        call_command("check_records", "--json")
    assert failed.value.returncode == 1
    ours = next(c for c in json.loads(capsys.readouterr().out) if c["department"] == cache.name)
    assert ours["broken"]["row"] == weighed[1].pk
    assert "LP-1" in ours["broken"]["record"]
    assert "Quinn" in ours["broken"]["record"]


@pytest.mark.parametrize(
    "options",
    [("--department", "Nowhere"), ("--noted", "3:aa"), ("--department", "Tarn Hollow Fire District", "--noted", "x")],
)
def test_a_wrong_option_is_said(quinn, options):
    with pytest.raises(CommandError) as failed:
        call_command("check_records", *options)
    assert failed.value.returncode == 2


def test_nothing_recorded_is_a_chain_that_holds(cache, quinn):
    StateEvent.objects.count()
    Inspection.objects.count()
    found = state(cache)
    assert (found.links, found.seal, found.broken) == (0, "", None)
