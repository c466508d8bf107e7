"""The Proof book: every record with what decided it, stretches in doubt, coverage, the chain and what was taken in."""

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.models import Inspection
from tests.flows.bays import HOLD, ago, load, make_item, record

pytestmark = pytest.mark.django_db
LEAKS = HOLD | {"p2_psi": "1.0", "t2_degF": "62"}


@pytest.fixture
def shelter(department):
    return make_item(load(department), "shelter", "SH-01")


@pytest.fixture
def read(quinn, client_of):
    client = client_of(quinn)

    def get(name: str, **asked: str) -> str:
        answer = client.get(reverse(f"proofs:{name}"), asked)
        assert answer.status_code == 200
        return answer.content.decode()

    return get


def test_nothing_on_record_is_said_with_the_way_out(department, read):
    assert "Nothing was ever checked" in read("list")
    assert "No fault was ever found" in read("in-doubt")
    assert "Nothing that can fail" in read("coverage")
    assert "everything here was recorded here" in read("chain")


def test_records_stand_newest_first_each_with_the_number_that_decided_it(shelter, read):
    old = record(shelter, "hold", HOLD, happened_at=ago(days=9))
    new = record(shelter, "hold", LEAKS, happened_at=ago(days=1))
    shown = read("list")
    assert shown.index(str(new.client_id)) < shown.index(str(old.client_id))
    assert "Limit:" in shown


@pytest.mark.parametrize(
    ("asked", "there"),
    [
        ({"verdict": "pass"}, True),
        ({"verdict": "void"}, False),
        ({"check": "hold"}, True),
        ({"check": "relief"}, False),
        ({"item": "sh-01"}, True),
        ({"item": "SH-02"}, False),
        ({"person": "case"}, True),
        ({"person": "avery"}, False),
        ({"q": "hold casey"}, True),
        ({"q": "zebra"}, False),
        ({"since": "2001-01-01", "until": "2099-01-01"}, True),
        ({"until": "2001-01-01"}, False),
        ({"line": "999999"}, False),
        ({"place": "999999"}, False),
        ({"since": "yesterday", "until": "2026-02-31", "verdict": "?", "line": "x", "page": "zz"}, True),
    ],
)
def test_the_records_are_narrowed_by_what_is_asked(shelter, read, asked, there):
    row = record(shelter, "hold", HOLD)
    assert (str(row.client_id) in read("list", **asked)) is there


def test_records_of_a_line_are_those_of_what_stands_on_it(shelter, read):
    row = record(shelter, "hold", HOLD)
    line = shelter.postings.get().line
    assert str(row.client_id) in read("list", line=str(line.pk))


def test_a_corrected_record_says_so_and_a_quick_one_says_how_it_was_read(shelter, read):
    row = record(shelter, "hold", HOLD, happened_at=ago(hours=2), started_at=ago(hours=2, seconds=20))
    assert "Begun and ended within" in read("list")
    record(shelter, "hold", LEAKS, corrects=row, by_name="Avery", happened_at=ago(hours=2))
    assert "corrected" in read("list")


def test_voids_are_listed_with_their_reason(shelter, read):
    row = record(shelter, "hold", HOLD | {"same_gauge": "no"})
    assert row.verdict == "void"
    assert str(row.client_id) in read("list", verdict="void")


def test_a_stretch_in_doubt_goes_back_to_the_last_good_proof(shelter, read):
    good = record(shelter, "hold", HOLD, happened_at=ago(days=30))
    bad = record(shelter, "hold", LEAKS, happened_at=ago(days=2))
    shown = read("in-doubt")
    assert str(good.client_id) in shown
    assert str(bad.client_id) in shown
    assert "28 days" in shown


def test_coverage_counts_the_proven_and_names_the_rest_and_the_blind_spots(shelter, read):
    record(shelter, "hold", HOLD)
    make_item(shelter.department, "regulator", "MR-01")
    shown = read("coverage")
    assert "never proven" in shown
    assert "XX0" in shown
    assert "Line A" in shown


def test_the_list_takes_a_fixed_number_of_queries_however_many_records(
    shelter, quinn, client_of, django_assert_max_num_queries
):
    first = record(shelter, "hold", HOLD)
    Inspection.objects.bulk_create(
        Inspection(
            department=first.department,
            client_id=uuid.uuid4(),
            check_key="hold",
            procedure=first.procedure,
            item=shelter,
            verdict="pass",
            summary=f"held, {number}",
            happened_at=ago(days=1 + number % 300),
            recorded_at=timezone.now(),
            by_name="Casey",
        )
        for number in range(1500)
    )
    client = client_of(quinn)
    for page in ("1", "31"):
        with django_assert_max_num_queries(18):
            assert b"1501 records" in client.get(reverse("proofs:list"), {"page": page}).content


def test_the_chain_says_its_last_link_and_claims_no_proof(shelter, read):
    shown = read("chain")
    assert "check_records" in shown
    assert "This page proves nothing" in shown
