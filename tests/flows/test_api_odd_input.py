"""Odd input never breaks the API: it is refused or finds nothing, and nothing is recorded."""

import pytest

from inspections.models import Inspection
from tests.flows.api import at, signed
from tests.reports.cache import make_item, make_line

HUGE = "9" * 40


@pytest.mark.parametrize(
    "address",
    [
        f"items?line={HUGE}",
        f"items?place={HUGE}",
        "items?q=%00",
        "items?page=0",
        f"items/{HUGE}",
        "items/abc",
        "kinds/%00",
        f"inspections?item={HUGE}",
        "inspections?since=yesterday",
        f"lines/{HUGE}/rating",
        "lines/{line}/rating?at=0001-01-01T00:00:00Z",
        "lines/{line}/rating?at=9999-12-31T23:59:59Z",
        "lots?expires_before=soon",
        f"documents/{HUGE}/file",
        "status-export?as_of=9",
    ],
)
def test_odd_addresses_are_answered_and_never_break(address, quinn):
    make_item(quinn.department)
    address = address.replace("{line}", str(make_line(quinn.department).pk))
    assert signed(quinn).get(at(address)).status_code in (200, 400, 404)


@pytest.mark.parametrize(
    "change",
    [
        {"item": HUGE},
        {"item": [1]},
        {"item": True},
        {"values": {"p1_psi": "\x00"}},
        {"values": {"x" * 500: 1}},
        {"values": {}},
        {"values": {"p1_psi": 1e308}},
        {"remark": "\x00"},
        {"remark": "x" * 301},
        {"check_key": "no-such"},
        {"client_id": None},
        {"happened_at": "0001-01-01T00:00:00Z"},
    ],
)
def test_odd_bodies_are_refused_and_nothing_is_recorded(change, quinn):
    item = make_item(quinn.department)
    sent = {"client_id": "00000000-0000-0000-0000-000000000001", "check_key": "hold", "item": item.pk}
    sent |= {"values": {"p1_psi": 3, "t1_degF": 62, "p2_psi": 2.5, "t2_degF": 49, "hold_min": 60}} | change
    answer = signed(quinn).post(at("inspections"), sent, format="json")
    assert answer.status_code in (400, 409), answer.content
    assert not Inspection.objects.exists()
