"""Work that must not be lost: a row written with the change that asks for it, swept until it is done.

``enqueue`` writes the row in the caller's transaction and, once that is committed, nudges the broker with the row's
id alone. ``run`` claims the row by a conditional update, so of two workers one wins; it holds a lease that a thread
renews while the job works, and marks the row done only if the claim is still its own. ``sweep`` sends again what was
queued too long or whose lease ran out. So a lost message, a broker that is down or a worker killed outright costs
seconds, not work: a job runs at least once, and every job must be safe to run twice.

A job reports progress outside its own transaction only; inside one, nobody sees it before the commit.
"""

import json
import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID, uuid4

from celery import current_app
from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.module_loading import autodiscover_modules

from shared.models import Department, OutboxRow, User

log = logging.getLogger(__name__)

Report = Callable[[int, str], None]
Job = Callable[[OutboxRow, Report], dict[str, Any] | None]
State = OutboxRow.State

MOST_ATTEMPTS: Final = 5
BACK_OFF_S: Final = (2, 8, 30, 120)  # after the first, second, ... failed attempt
NUDGE_GRACE_S: Final = 5  # how long a first nudge may take before the sweep sends another
SWEEP_AT_MOST: Final = 50
# A nudge the sweep sent is worthless once later sweeps have passed; the worker then drops it unread.
NUDGE_EXPIRES_S: Final = 30
RUN_TASK: Final = "shared.tasks.run_outbox_row"

_jobs: dict[str, Job] = {}


class ClaimLost(RuntimeError):
    """The lease ran out and another worker may hold the row: whoever still works on it must stop."""


class GiveUp(RuntimeError):
    """Raised by a job that no later attempt could mend: the row fails at once, with this message."""


def job(name: str) -> Callable[[Job], Job]:
    """Register a function of (row, report) as the job called ``name``; it lives in its room's ``tasks.py``."""

    def register(function: Job) -> Job:
        if _jobs.setdefault(name, function) is not function:
            raise ValueError(f"two jobs are called {name!r}")
        return function

    return register


def job_called(name: str) -> Job:
    """Return a registered job, after reading every room's ``tasks.py`` where it is not known yet.

    Raises:
        LookupError: no job has that name.
    """
    if name not in _jobs:
        # A web process has had no reason to import the rooms' tasks.
        autodiscover_modules("tasks")
    if name not in _jobs:
        raise LookupError(f"no job is called {name!r}")
    return _jobs[name]


def enqueue(
    *, task: str, payload: dict[str, Any], department: Department | None, asked_by: User | None = None
) -> OutboxRow:
    """Write down work to be done by a worker once the surrounding transaction is committed.

    Raises:
        LookupError: no job is called ``task``.
        TypeError: the payload is not plain JSON.
    """
    job_called(task)
    json.dumps(payload)
    row = OutboxRow.objects.create(task=task, payload=payload, department=department, asked_by=asked_by)
    transaction.on_commit(lambda: nudge(row.pk))
    return row


def nudge(row_id: int, *, expires_s: float | None = None) -> None:
    """Tell the broker about a row; where it cannot be told, say so in the log and leave the row to the sweep."""
    try:
        current_app.send_task(RUN_TASK, [row_id], expires=expires_s, retry=False)
    except Exception:
        # Whatever a broker's client raises: the change that asked for the work is committed and must not look failed.
        log.warning("outbox row %s: the broker was not reached, the sweep will find it", row_id, exc_info=True)


def run(*, row_id: int, clock: Callable[[], datetime] = timezone.now) -> str:
    """Do one row's job if it is there to be claimed; return the state it was left in, or why nothing was done."""
    row = claim(row_id=row_id, at=clock())
    if row is None:
        return "not claimed"
    try:
        with _renewed(row, clock) as lost:
            result = job_called(row.task)(row, _reporter(row, lost))
            json.dumps(result)
    except ClaimLost:
        log.warning("outbox row %s (%s): another worker took it over", row.pk, row.task)
        return "claim lost"
    except Exception as problem:
        log.warning("outbox row %s (%s): attempt %s failed", row.pk, row.task, row.attempts, exc_info=True)
        return fail(row=row, problem=problem, at=clock())
    return finish(row=row, result=result, at=clock())


def claim(*, row_id: int, at: datetime) -> OutboxRow | None:
    """Win a queued or abandoned row for this worker, or return None where another holds it or it is not due."""
    mine = uuid4()
    free = Q(state=State.QUEUED, not_before__lte=at) | Q(state=State.CLAIMED, lease_until__lt=at)
    won = OutboxRow.objects.filter(free, pk=row_id, attempts__lt=MOST_ATTEMPTS).update(
        state=State.CLAIMED,
        claim=mine,
        lease_until=at + _lease(),
        attempts=F("attempts") + 1,
        progress=0,
        progress_note="",
    )
    return OutboxRow.objects.select_related("department", "asked_by").get(pk=row_id) if won else None


def finish(*, row: OutboxRow, result: dict[str, Any] | None, at: datetime) -> str:
    """Mark a claimed row done, unless another worker has claimed it since."""
    done = _held(row.pk, row.claim).update(
        state=State.DONE, result=result, progress=100, progress_note="", done_at=at, lease_until=None, error=""
    )
    return State.DONE.value if done else "claim lost"


def fail(*, row: OutboxRow, problem: Exception, at: datetime) -> str:
    """Queue a claimed row again, later each time, or give it up; the error is kept either way."""
    error = f"{type(problem).__name__}: {problem}"
    if isinstance(problem, GiveUp) or row.attempts >= MOST_ATTEMPTS:
        change: dict[str, Any] = {"state": State.FAILED, "done_at": at}
    else:
        change = {"state": State.QUEUED, "not_before": at + timedelta(seconds=BACK_OFF_S[row.attempts - 1])}
    kept = _held(row.pk, row.claim).update(error=error, lease_until=None, **change)
    return change["state"].value if kept else "claim lost"


def sweep(*, at: datetime) -> int:
    """Send again what was queued too long or abandoned; return how many rows were sent.

    Sending a row that is on its way already is harmless: only one claim wins. A backlog cannot flood the broker either,
    as the next sweep waits in the same queue behind what this one sent.
    """
    abandoned = Q(state=State.CLAIMED, lease_until__lt=at)
    OutboxRow.objects.filter(abandoned, attempts__gte=MOST_ATTEMPTS).update(
        state=State.FAILED,
        done_at=at,
        lease_until=None,
        error=f"Given up: the worker ended {MOST_ATTEMPTS} times while it did this.",
    )
    unheard = Q(state=State.QUEUED, attempts=0, not_before__lte=at - timedelta(seconds=NUDGE_GRACE_S))
    again = Q(state=State.QUEUED, attempts__gt=0, not_before__lte=at)
    waiting = OutboxRow.objects.filter(abandoned | unheard | again).order_by("not_before", "pk")
    row_ids = list(waiting.values_list("pk", flat=True)[:SWEEP_AT_MOST])
    for row_id in row_ids:
        nudge(row_id, expires_s=NUDGE_EXPIRES_S)
    return len(row_ids)


def _lease() -> timedelta:
    return timedelta(seconds=settings.OUTBOX_LEASE_SECONDS)


def _held(row_id: int, claim: UUID | None) -> Any:
    """The row, if it is still held under this claim: every later write goes through here."""
    return OutboxRow.objects.filter(pk=row_id, state=State.CLAIMED, claim=claim)


def _reporter(row: OutboxRow, lost: threading.Event) -> Report:
    def report(progress: int, note: str = "") -> None:
        """Show how far the job is, in 100; raise ClaimLost where it is no longer this worker's to do."""
        shown = {"progress": max(0, min(100, progress)), "progress_note": note[:120]}
        if lost.is_set() or not _held(row.pk, row.claim).update(**shown):
            raise ClaimLost

    return report


@contextmanager
def _renewed(row: OutboxRow, clock: Callable[[], datetime]) -> Iterator[threading.Event]:
    """Keep the lease from running out while the block runs; the event is set when the claim was lost all the same."""
    ended, lost = threading.Event(), threading.Event()
    renewing = threading.Thread(target=_renew, args=(row, clock, ended, lost), name=f"lease-{row.pk}", daemon=True)
    renewing.start()
    try:
        yield lost
    finally:
        ended.set()
        renewing.join()


def _renew(row: OutboxRow, clock: Callable[[], datetime], ended: threading.Event, lost: threading.Event) -> None:
    try:
        while not ended.wait(settings.OUTBOX_LEASE_SECONDS / 3):
            try:
                if not _held(row.pk, row.claim).update(lease_until=clock() + _lease()):
                    lost.set()
                    return
            except DatabaseError:
                # SQLite is busy, or the server is away for a moment; two more tries fit into the lease.
                log.warning("outbox row %s: the lease was not renewed, trying again", row.pk, exc_info=True)
    finally:
        connection.close()  # this thread's own
