"""`manage.py outbox`: how the outbox stands, and whether work waits too long."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from shared.models import OutboxRow


def shown(**options) -> str:
    out = StringIO()
    call_command("outbox", stdout=out, **options)
    return out.getvalue()


@pytest.mark.django_db
def test_rows_are_counted_by_state():
    for state in ("queued", "queued", "failed"):
        OutboxRow.objects.create(task="tests.any", state=state)
    assert [line.split()[-1] for line in shown().splitlines()] == ["2", "0", "0", "1"]


@pytest.mark.django_db
@pytest.mark.parametrize(("waits_s", "state"), [(10, "queued"), (900, "done"), (-900, "queued")])
def test_work_that_is_not_late_is_no_cause_for_alarm(waits_s, state):
    OutboxRow.objects.create(task="tests.any", state=state, not_before=timezone.now() - timedelta(seconds=waits_s))
    assert shown(stale_after=300)


@pytest.mark.django_db
def test_work_that_waits_too_long_fails_the_health_check():
    OutboxRow.objects.create(task="tests.any", not_before=timezone.now() - timedelta(seconds=301))
    with pytest.raises(CommandError, match="1 waiting too long"):
        shown(stale_after=300)
