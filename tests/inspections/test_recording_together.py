"""Two submissions at one moment."""

import uuid
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from inspections.models import Deficiency, Inspection, Restoration
from inventory.models import StateEvent
from tests.inspections.building import check, day, load, make_item


def together(*calls):
    """Run calls in threads that start at one moment; return what each returned."""
    barrier = Barrier(len(calls))

    def run(call):
        barrier.wait(10)
        try:
            return call()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))


@pytest.mark.django_db(transaction=True)
def test_one_check_sent_twice_at_one_moment_makes_one_record(department):
    gfci = make_item(load(department), "gfci", "GF-03")
    sent = uuid.uuid4()
    rows = together(*[lambda: check(gfci, "gfci", "test_trips=no; reset=yes", at=day(0), client_id=sent)] * 3)
    assert len({row.pk for row in rows}) == 1
    assert (Inspection.objects.count(), Deficiency.objects.count(), StateEvent.objects.count()) == (1, 1, 1)


@pytest.mark.django_db(transaction=True)
def test_two_names_that_pass_the_same_proof_at_one_moment_restore_it_once(department):
    gfci = make_item(load(department), "gfci", "GF-03")
    check(gfci, "gfci", "test_trips=no; reset=yes", at=day(0), by_name="Casey")
    together(
        lambda: check(gfci, "gfci", "test_trips=yes; reset=yes", at=day(1), by_name="Quinn"),
        lambda: check(gfci, "gfci", "test_trips=yes; reset=yes", at=day(1), by_name="Avery"),
    )
    assert Restoration.objects.count() == 1
    assert Inspection.objects.count() == 3
