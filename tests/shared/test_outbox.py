"""The outbox: work is written with its cause, done at least once, and finished by whoever holds it."""

import threading
from datetime import timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from shared import outbox
from shared.models import Department, OutboxRow
from tests.conftest import NOON

State = OutboxRow.State


@pytest.fixture(autouse=True)
def jobs():
    """Jobs of these tests alone: one that works, one that cannot, one that knows it never will."""
    outbox.job("tests.add")(lambda row, report: {"sum": row.payload["a"] + row.payload["b"]})

    @outbox.job("tests.break")
    def _break(row, report):
        raise RuntimeError("the printer is on fire")

    @outbox.job("tests.hopeless")
    def _hopeless(row, report):
        raise outbox.GiveUp("there is no such walk")

    yield
    for name in [name for name in outbox._jobs if name.startswith("tests.")]:
        del outbox._jobs[name]


@pytest.fixture
def sent(monkeypatch):
    """Ids that were sent to the broker."""
    ids = []
    monkeypatch.setattr(outbox, "nudge", lambda row_id, **how: ids.append(row_id))
    return ids


def make_row(department, task="tests.add", **fields):
    fields = {"payload": {"a": 40, "b": 2}, "asked_at": NOON, "not_before": NOON, **fields}
    return OutboxRow.objects.create(task=task, department=department, **fields)


def test_a_row_is_sent_only_once_its_cause_is_committed(department, sent, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        row = outbox.enqueue(task="tests.add", payload={"a": 1, "b": 2}, department=department)
        assert sent == []
    assert sent == [row.pk]


@pytest.mark.django_db(transaction=True)
def test_a_change_that_is_rolled_back_leaves_no_work(sent):
    with transaction.atomic():
        outbox.enqueue(task="tests.add", payload={}, department=None)
        transaction.set_rollback(True)
    assert sent == []
    assert not OutboxRow.objects.exists()


def test_work_nobody_knows_how_to_do_is_refused_at_once(department):
    with pytest.raises(LookupError, match=r"tests\.unheard"):
        outbox.enqueue(task="tests.unheard", payload={}, department=department)


def test_a_payload_that_is_not_plain_json_is_refused(department):
    with pytest.raises(TypeError):
        outbox.enqueue(task="tests.add", payload={"at": NOON}, department=department)


def test_two_jobs_cannot_share_a_name():
    with pytest.raises(ValueError, match="two jobs"):
        outbox.job("tests.add")(lambda row, report: None)


def test_a_broker_that_is_away_is_logged_and_leaves_the_row_to_the_sweep(department, monkeypatch, caplog):
    row = make_row(department)

    def away(*args, **kwargs):
        raise ConnectionError("nobody there")

    monkeypatch.setattr(outbox.current_app, "send_task", away)
    outbox.nudge(row.pk)
    assert "the broker was not reached" in caplog.text


def test_a_job_is_done_and_its_result_kept(department):
    row = make_row(department)
    assert outbox.run(row_id=row.pk, clock=lambda: NOON) == "done"
    row.refresh_from_db()
    assert (row.state, row.result, row.progress, row.attempts) == (State.DONE, {"sum": 42}, 100, 1)
    assert (row.done_at, row.lease_until) == (NOON, None)


def test_a_row_done_is_not_done_again(department):
    row = make_row(department)
    outbox.run(row_id=row.pk, clock=lambda: NOON)
    assert outbox.run(row_id=row.pk, clock=lambda: NOON + timedelta(hours=1)) == "not claimed"


def test_a_row_held_by_another_is_left_alone_until_its_lease_runs_out(department, settings):
    settings.OUTBOX_LEASE_SECONDS = 30.0
    row = make_row(department)
    assert outbox.claim(row_id=row.pk, at=NOON)
    assert outbox.claim(row_id=row.pk, at=NOON + timedelta(seconds=29)) is None
    assert outbox.claim(row_id=row.pk, at=NOON + timedelta(seconds=31)).attempts == 2


def test_a_late_worker_can_neither_finish_nor_fail_what_another_took_over(department):
    row = make_row(department)
    late = outbox.claim(row_id=row.pk, at=NOON)
    outbox.claim(row_id=row.pk, at=NOON + timedelta(minutes=5))
    assert outbox.finish(row=late, result={}, at=NOON) == "claim lost"
    assert outbox.fail(row=late, problem=RuntimeError("late"), at=NOON) == "claim lost"
    row.refresh_from_db()
    assert (row.state, row.error) == (State.CLAIMED, "")


def test_a_job_that_reports_after_its_claim_was_lost_is_stopped(department):
    row = make_row(department, task="tests.slow")
    reached = []

    @outbox.job("tests.slow")
    def _slow(held, report):
        outbox.claim(row_id=held.pk, at=NOON + timedelta(minutes=5))  # another worker, after the lease
        report(50, "half way")
        reached.append("the end")

    assert outbox.run(row_id=row.pk, clock=lambda: NOON) == "claim lost"
    assert reached == []


def test_progress_is_shown_while_the_job_works(department):
    row = make_row(department, task="tests.report")
    seen = []

    @outbox.job("tests.report")
    def _report(held, report):
        report(140, "page 3 of 7, " + "x" * 200)
        seen.append(OutboxRow.objects.values_list("progress", "progress_note").get(pk=held.pk))

    outbox.run(row_id=row.pk, clock=lambda: NOON)
    assert seen[0][0] == 100
    assert seen[0][1].startswith("page 3 of 7")
    assert len(seen[0][1]) == 120


def test_a_failed_attempt_is_queued_again_later_each_time_and_given_up_after_five(department):
    row, at, waits = make_row(department, task="tests.break"), NOON, []
    for _ in range(4):
        assert outbox.run(row_id=row.pk, clock=lambda now=at: now) == "queued"
        row.refresh_from_db()
        waits.append((row.not_before - at).total_seconds())
        at = row.not_before
    assert waits == [2, 8, 30, 120]
    assert outbox.run(row_id=row.pk, clock=lambda: at) == "failed"
    row.refresh_from_db()
    assert row.error == "RuntimeError: the printer is on fire"


def test_what_no_attempt_can_mend_fails_at_once(department):
    row = make_row(department, task="tests.hopeless")
    assert outbox.run(row_id=row.pk, clock=lambda: NOON) == "failed"
    row.refresh_from_db()
    assert (row.attempts, row.error) == (1, "GiveUp: there is no such walk")


def test_a_result_that_is_not_plain_json_is_a_failure_not_a_crash(department):
    row = make_row(department, task="tests.odd")
    outbox.job("tests.odd")(lambda held, report: {"at": NOON})
    assert outbox.run(row_id=row.pk, clock=lambda: NOON) == "queued"


@pytest.mark.parametrize(
    ("fields", "after_s", "is_sent"),
    [
        ({}, 1, False),  # its own nudge is still on the way
        ({}, 6, True),
        ({"attempts": 1, "not_before": NOON + timedelta(seconds=8)}, 7, False),
        ({"attempts": 1, "not_before": NOON + timedelta(seconds=8)}, 9, True),
        ({"state": State.CLAIMED, "attempts": 1, "lease_until": NOON + timedelta(seconds=30)}, 29, False),
        ({"state": State.CLAIMED, "attempts": 1, "lease_until": NOON + timedelta(seconds=30)}, 31, True),
        ({"state": State.DONE}, 900, False),
        ({"state": State.FAILED}, 900, False),
    ],
)
def test_the_sweep_sends_what_waited_too_long_or_was_abandoned(department, sent, fields, after_s, is_sent):
    row = make_row(department, **fields)
    assert outbox.sweep(at=NOON + timedelta(seconds=after_s)) == int(is_sent)
    assert sent == [row.pk] * is_sent


def test_a_row_that_kills_its_worker_every_time_is_given_up_by_the_sweep(department, sent):
    row = make_row(department, state=State.CLAIMED, attempts=5, lease_until=NOON)
    outbox.sweep(at=NOON + timedelta(minutes=1))
    row.refresh_from_db()
    assert (row.state, sent) == (State.FAILED, [])
    assert "5 times" in row.error


def test_one_sweep_sends_no_more_than_fifty(department, sent):
    OutboxRow.objects.bulk_create(OutboxRow(task="tests.add", department=department) for _ in range(60))
    assert outbox.sweep(at=timezone.now() + timedelta(minutes=1)) == 50
    assert len(sent) == 50


@pytest.mark.django_db(transaction=True)
def test_the_lease_is_renewed_while_a_long_job_works(settings):
    settings.OUTBOX_LEASE_SECONDS = 0.6
    row, leases = make_row(None, task="tests.long"), []

    @outbox.job("tests.long")
    def _long(held, report):
        for _ in range(4):
            threading.Event().wait(0.3)
            leases.append(OutboxRow.objects.values_list("lease_until", flat=True).get(pk=held.pk))

    row.not_before = timezone.now()
    row.save()
    assert outbox.run(row_id=row.pk) == "done"
    assert len(set(leases)) >= 3
    assert OutboxRow.objects.get(pk=row.pk).attempts == 1


@pytest.mark.django_db(transaction=True)
def test_of_many_workers_that_claim_one_row_at_once_a_single_one_wins():
    department = Department.objects.create(name="Tarn Hollow Fire District", slug="tarn-hollow")
    row, gate, won = make_row(department), threading.Barrier(6), []

    def work():
        from django.db import connection

        gate.wait()
        won.append(outbox.claim(row_id=row.pk, at=NOON))
        connection.close()

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(one is not None for one in won) == 1
    assert OutboxRow.objects.get(pk=row.pk).attempts == 1
