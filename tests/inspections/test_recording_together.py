"""Two submissions at one moment."""

import uuid
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from inspections.models import Deficiency, Inspection, Restoration
from inspections.services import bring_back_by_hand, take_out_by_hand
from inventory.models import Count, StateEvent
from inventory.services import record_count
from shared.api import Conflict
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


def refused(call):
    """Run a call; return whether it was refused."""
    try:
        call()
    except Conflict:
        return True
    return False


@pytest.mark.django_db(transaction=True)
def test_two_who_bring_a_thing_back_at_one_moment_bring_it_back_once(department):
    gfci = make_item(load(department), "gfci", "GF-03")
    of = {"department": department, "item": gfci, "reason": "sound"}
    take_out_by_hand(**of, happened_at=day(0), by_name="Casey", client_id=uuid.uuid4())

    def bring_back(name):
        return lambda: refused(
            lambda: bring_back_by_hand(**of, happened_at=day(1), by_name=name, client_id=uuid.uuid4())
        )

    assert sorted(together(bring_back("Quinn"), bring_back("Avery"))) == [False, True]
    assert StateEvent.objects.count() == 2


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("ledger", ["count", "inspection"])
def test_of_two_corrections_at_one_moment_one_stands(department, ledger):
    gfci = make_item(load(department), "gfci", "GF-03")
    of = {"department": department, "item": gfci, "happened_at": day(0), "by_name": "Quinn"}
    if ledger == "count":
        wrong = record_count(**of, counted=3)
        calls = [lambda n=n: refused(lambda: record_count(**of, counted=n, corrects=wrong)) for n in (1, 2)]
    else:
        wrong = check(gfci, "gfci", "test_trips=no; reset=yes", at=day(0), by_name="Casey")
        calls = [
            lambda reset=reset: refused(
                lambda: check(gfci, "gfci", f"test_trips=no; reset={reset}", at=day(0), by_name="Quinn", corrects=wrong)
            )
            for reset in ("no", "yes")
        ]
    assert sorted(together(*calls)) == [False, True]
    model = Count if ledger == "count" else Inspection
    assert model.objects.filter(corrects=wrong).count() == 1
