"""Postings, counts and states: sent once, announced, corrected by a new row, never for another department."""

import uuid
from datetime import UTC, datetime

import pytest

from inventory.models import Count, Posting, StateEvent
from inventory.services import amend_item, record_count, record_posting, record_state
from inventory.signals import cache_changed
from shared.api import Conflict
from shared.ledger import LedgerError
from shared.models import AuditEntry
from tests.inventory.registers import make_item, make_line, make_lot

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
ID = uuid.UUID(int=7)
pytestmark = pytest.mark.django_db


@pytest.fixture
def line(department):
    return make_line(department)


@pytest.fixture
def item(department, line):
    return make_item(department, line=line)


@pytest.fixture
def said(department, item):
    return {"department": department, "item": item, "happened_at": NOON, "by_name": "Quinn"}


@pytest.fixture
def news():
    heard = []

    def hear(**sent):
        heard.append(sent)

    cache_changed.connect(hear)
    yield heard
    cache_changed.disconnect(hear)


def test_sending_twice_with_one_client_id_records_once(said, news):
    for _ in range(2):
        record_posting(change=1, reason="received", client_id=ID, **said)
        record_count(counted=3, client_id=ID, **said)
        record_state(event="wet", client_id=ID, **said)
    assert Posting.objects.filter(client_id=ID).count() == 1
    assert Count.objects.filter(client_id=ID).count() == 1
    assert StateEvent.objects.filter(client_id=ID).count() == 1
    assert len(news) == 3


def test_the_news_names_what_moved(said, item, line, news):
    record_posting(change=0, reason="moved", line=line, **said)
    assert (news[0]["item_ids"], news[0]["line_ids"], news[0]["department"]) == ([item.pk], [line.pk], item.department)


def test_a_correction_speaks_of_the_same_thing_and_only_of_the_newest_row(department, said, line):
    first = record_count(counted=2, **said)
    other = make_item(department, tag="WH-02", line=line)
    with pytest.raises(Conflict, match="same item"):
        record_count(counted=3, corrects=first, **(said | {"item": other}))
    record_count(counted=3, corrects=first, **said)
    with pytest.raises(Conflict, match="corrected already"):
        record_count(counted=4, corrects=first, **said)


def test_rows_are_never_edited_or_deleted(said):
    row = record_count(counted=2, **said)
    row.counted = 3
    with pytest.raises(LedgerError):
        row.save()
    with pytest.raises(LedgerError):
        row.delete()


@pytest.mark.parametrize("counted", [-1, -100])
def test_less_than_none_cannot_be_counted(said, counted):
    with pytest.raises(Conflict):
        record_count(counted=counted, **said)


def test_reasons_and_events_are_those_of_the_ledger(said):
    with pytest.raises(Conflict, match="no reason"):
        record_posting(change=1, reason="borrowed", **said)
    with pytest.raises(Conflict, match="no state event"):
        record_state(event="broken", **said)


def test_what_belongs_to_another_department_is_refused(said, other_department):
    with pytest.raises(Conflict, match="another department"):
        record_count(counted=1, **(said | {"department": other_department}))


def test_a_row_is_about_one_thing(said, department, line):
    lot = make_lot(department, line=line)
    with pytest.raises(Conflict, match="one item or one lot"):
        record_count(counted=1, lot=lot, **said)


def test_a_lot_on_two_lines_must_say_which_was_counted(department, line):
    lot = make_lot(department, line=line)
    said = {"department": department, "lot": lot, "happened_at": NOON, "by_name": "Quinn"}
    record_posting(change=5, reason="received", line=make_line(department, "Line B"), **said)
    with pytest.raises(Conflict, match="several lines"):
        record_count(counted=1, **said)


def test_a_card_is_amended_with_a_trace_of_what_it_said(department, item, quinn, news):
    amend_item(department=department, item=item, by=quinn, changes={"serial": "TH1"})
    entry = AuditEntry.objects.get(did="amend item")
    assert entry.detail == {"serial": {"was": "", "is": "TH1"}}
    assert news[-1]["item_ids"] == [item.pk]


def test_what_a_ledger_holds_cannot_be_amended_on_the_card(department, item, quinn):
    with pytest.raises(Conflict, match="record a posting"):
        amend_item(department=department, item=item, by=quinn, changes={"tag": "WH-99"})
