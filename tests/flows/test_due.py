"""The Due page and the agenda over the API."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import CrewMember, Line
from tests.inspections.building import check, load, make_item, make_line

GOOD = "test_trips=yes; reset=yes; ground_ohm=0.2; jacket=none"


@pytest.fixture
def cache(department):
    return load(department)


@pytest.fixture
def item(cache):
    return make_item(cache, "gfci", "GF-01", custodian="Avery")


def page(client, **asked):
    answer = client.get("/due/", asked)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def test_it_says_what_is_due_why_by_which_rule_and_leads_to_the_check(client_of, quinn, item):
    text = page(client_of(quinn))
    assert "never proven" in text
    assert "29 CFR 1926.404(b)(1)(iii)" in text or "standard or guidance" in text
    assert f"/walk/check/item/{item.pk}/gfci/" in text
    assert "Asked when a line is sent" in text


def test_a_visitor_reads_it_and_is_led_to_no_check(client_of, visitor, item):
    text = page(client_of(visitor))
    assert "GF-01" in text
    assert "/walk/check/" not in text


def test_periods_take_what_falls_in_them_and_months_group_it(client_of, quinn, item):
    check(item, "gfci", GOOD, at=timezone.now() - timedelta(days=1))
    client = client_of(quinn)
    assert "GF-01" not in page(client, when="overdue")
    assert "GF-01" not in page(client, when="7", check="gfci", sort="check")
    due = timezone.localdate() + timedelta(days=29)
    text = page(client, when="90", check="gfci")
    assert "GF-01" in text
    assert f"{due:%B}" in text or f"{due + timedelta(days=2):%B}" in text


def test_filters_narrow_it_and_a_filter_of_nothing_says_so(client_of, quinn, cache, item):
    make_item(cache, "shelter", "SH-01", line="Line B")
    client = client_of(quinn)
    line = make_line(cache, "Line B").pk
    text = page(client, line=line, when="180", sort="check")
    assert "SH-01" in text
    assert "GF-01" not in text
    text = page(client, person="Avery", when="180")
    assert "GF-01" in text
    assert "SH-01" not in text
    assert "Nothing of this falls due" in page(client, sort="order")


def test_what_is_not_here_cannot_be_asked_for(client_of, quinn, sam, cache, item):
    other = Line.objects.create(department=sam.department, name="Line Z")
    client = client_of(quinn)
    for asked in ({"line": other.pk}, {"when": "9999"}, {"check": "no-such"}, {"person": "Nobody"}, {"kind": "x"}):
        assert client.get("/due/", asked).status_code == 404, asked
    assert "GF-01" not in page(client_of(sam))


def test_a_long_list_comes_in_pages_and_whole_to_print(client_of, quinn, cache):
    for n in range(70):
        make_item(cache, "headlamp", f"HL-{n:02}")
    client = client_of(quinn)
    text = page(client, when="overdue")
    assert "Page 1 of 2" in text
    assert "HL-69" not in text
    assert "HL-69" in page(client, when="overdue", all="1")


def test_other_peoples_qualifications_are_the_heads_and_the_officers(client_of, quinn, casey, cache):
    CrewMember.objects.create(department=cache, name="Avery", qualified_until=timezone.localdate())
    assert "Qualification ends" in page(client_of(quinn))
    assert "Qualification ends" not in page(client_of(casey))


def test_the_page_asks_a_number_of_queries_that_items_do_not_add_to(
    client_of, quinn, cache, django_assert_max_num_queries
):
    client = client_of(quinn)
    make_item(cache, "gfci", "GF-00")
    make_item(cache, "heater", "WH-00")
    page(client)
    with django_assert_max_num_queries(75) as few:
        page(client)
    for n in range(1, 9):
        make_item(cache, "gfci", f"GF-0{n}")
        make_item(cache, "heater", f"WH-0{n}")
    with django_assert_max_num_queries(len(few)):
        page(client)


def test_the_api_lists_the_same_rows_soonest_first(client_of, quinn, item):
    answer = client_of(quinn).get("/api/v1/agenda?days=180").json()
    days = [row["due_on"] for row in answer["results"] if row["due_on"]]
    assert days == sorted(days)
    row = next(r for r in answer["results"] if r["item"] == item.pk and r["agenda_sort"] == "check")
    assert (row["check_key"], row["origin"] != "", row["months"] in (1, 3)) == ("gfci", True, True)
    assert row["link"] == f"/walk/check/item/{item.pk}/gfci/"


def test_the_api_refuses_another_departments_ids_and_odd_periods(client_of, quinn, sam, item):
    other = Line.objects.create(department=sam.department, name="Line Z")
    client = client_of(quinn)
    for asked in (f"line={other.pk}", "line=0", "days=-1", "days=99999", "agenda_sort=nonsense", "place=x"):
        answer = client.get(f"/api/v1/agenda?{asked}")
        assert answer.status_code == 400, asked
        assert answer.json()["problems"], asked
    assert client_of(sam).get("/api/v1/agenda?days=180").json()["results"] == []
