"""The cache over the API: read, search, move, count; walls and ids held."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.models import Count, Posting
from tests.conftest import ID_1
from tests.flows.api import at, problem_of, signed
from tests.reports.cache import make_item, make_line, make_lot

READ = ("lines", "places", "kinds", "items", "lots", "load-lists", "postings", "counts")


@pytest.fixture
def item(quinn):
    return make_item(quinn.department)


@pytest.mark.parametrize("address", READ)
def test_a_list_is_read_by_every_role_of_the_department_and_by_nobody_without_sign_in(address, item, quinn, casey):
    for person in (quinn, casey):
        assert signed(person).get(at(address)).status_code == 200
    assert APIClient().get(at(address)).status_code == 401


@pytest.mark.parametrize("address", READ)
def test_another_department_sees_nothing_of_it(address, item, quinn, sam):
    make_lot(quinn.department)
    assert signed(sam).get(at(address)).json()["count"] == 0


def test_a_row_of_another_department_is_not_found(item, quinn, sam):
    client = signed(sam)
    line = make_line(quinn.department)
    for address in (f"items/{item.pk}", f"lines/{line.pk}", f"places/{line.home_id}", f"items/{item.pk}/readings"):
        answer = client.get(at(address))
        assert answer.status_code == 404
        problem_of(answer)


def test_an_item_tells_its_card_and_where_it_stands(item, quinn):
    body = signed(quinn).get(at(f"items/{item.pk}")).json()
    assert (body["tag"], body["kind"], body["award"]) == ("SH-01", "shelter", "TH-2019-HS-0041")
    assert body["spec"]["set_psi"] == 3.0
    assert body["standing"]["line_name"] == "Line A"
    assert body["standing"]["state"] == "in service"
    assert body["standing"]["counted_on"] is None


@pytest.mark.parametrize(
    ("query", "tags"),
    [
        ("q=SH-01", ["SH-01"]),
        ("q=s-wh", ["WH-01"]),
        ("q=two+lane", ["SH-01"]),
        ("kind=heater", ["WH-01"]),
        ("function=shelter", ["SH-01"]),
        ("custodian=Quinn", ["SH-01", "WH-01"]),
        ("award=TH-0000", []),
        ("page_size=1&page=2", ["WH-01"]),
    ],
)
def test_items_are_searched_filtered_and_paged(query, tags, item, quinn):
    make_item(quinn.department, tag="WH-01", kind="heater", name="Water heater")
    body = signed(quinn).get(at(f"items?{query}")).json()
    assert [row["tag"] for row in body["results"]] == tags


def test_items_are_found_by_the_line_they_stand_on_now(item, quinn):
    first, second = make_line(quinn.department), make_line(quinn.department, "Line B")
    client = signed(quinn)
    moved = {"client_id": str(ID_1), "item": item.pk, "change": 0, "posting_reason": "moved", "line": second.pk}
    assert client.post(at("postings"), moved, format="json").status_code == 201
    assert client.get(at(f"items?line={first.pk}")).json()["count"] == 0
    assert client.get(at(f"items?line={second.pk}")).json()["count"] == 1


def test_a_list_of_items_costs_the_same_queries_however_long(item, quinn, django_assert_max_num_queries):
    for number in range(30):
        make_item(quinn.department, tag=f"SH-1{number:02}")
    client = signed(quinn)
    client.get(at("items"))
    with django_assert_max_num_queries(14):
        assert len(client.get(at("items")).json()["results"]) == 31


def test_a_kind_tells_its_modes_its_blind_spots_and_its_limits(item, quinn):
    body = signed(quinn).get(at("kinds/shelter")).json()
    modes = {mode["code"]: mode for mode in body["modes"]}
    assert modes["SH1"]["grade"] == "C"
    assert modes["SH1"]["scheduled"]
    assert {code for code, mode in modes.items() if not mode["scheduled"]} == set(body["mode_codes"]) - {
        code for codes in body["checks"].values() for code in codes
    }
    assert any(limit["key"] == "hold_loss_1h" and limit["origin"] for limit in body["limits"])


def test_a_posting_sent_twice_is_recorded_once_and_other_content_under_its_id_is_refused(quinn):
    lot = make_lot(quinn.department, on_hand=40)
    client = signed(quinn)
    sent = {"client_id": str(ID_1), "lot": lot.pk, "change": -10, "posting_reason": "used"}
    sent |= {"line": make_line(quinn.department).pk, "happened_at": timezone.now().isoformat()}
    first, again = (client.post(at("postings"), sent, format="json") for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    other = client.post(at("postings"), sent | {"change": -20}, format="json")
    assert other.status_code == 409
    assert "change" in problem_of(other)["what"]
    assert Posting.objects.filter(lot=lot).count() == 2
    assert client.get(at(f"lots/{lot.pk}")).json()["standing"][0]["on_hand"] == 30


def test_a_count_by_crew_stands_from_then_on(item, casey):
    client = signed(casey)
    sent = {"client_id": str(ID_1), "item": item.pk, "counted": 0}
    assert client.post(at("counts"), sent, format="json").status_code == 201
    assert Count.objects.get().by_name == "Casey"
    assert client.get(at(f"items/{item.pk}")).json()["standing"]["state"] == "absent"


def test_crew_move_nothing(item, casey):
    sent = {"client_id": str(ID_1), "item": item.pk, "change": -1, "posting_reason": "lost"}
    answer = signed(casey).post(at("postings"), sent, format="json")
    assert answer.status_code == 403
    problem_of(answer)
    assert Posting.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"change": "ten"}, "change"),
        ({"posting_reason": "eaten"}, "posting_reason"),
        ({"client_id": "7"}, "client_id"),
        ({"lot": 1}, "lot"),
        ({"item": 999_999}, "item"),
        ({"happened_at": "2999-01-01T00:00:00Z"}, "happened_at"),
    ],
)
def test_a_refused_value_says_which_what_and_how_to_mend_it(change, where, item, quinn):
    sent = {"client_id": str(uuid.uuid4()), "item": item.pk, "change": 1, "posting_reason": "found"} | change
    answer = signed(quinn).post(at("postings"), sent, format="json")
    assert answer.status_code == 400
    assert problem_of(answer)["problems"][0]["where"] == where
    assert Posting.objects.count() == 1


def test_ids_of_another_department_do_not_exist_in_a_body(item, sam):
    sent = {"client_id": str(ID_1), "item": item.pk, "change": 1, "posting_reason": "found"}
    answer = signed(sam).post(at("postings"), sent, format="json")
    assert answer.status_code == 400
    assert "does not exist" in problem_of(answer)["problems"][0]["what"]


def test_a_body_that_is_no_json_is_refused_in_the_same_shape(quinn):
    answer = signed(quinn).post(at("postings"), "{", content_type="application/json")
    assert answer.status_code == 400
    problem_of(answer)


def test_a_correction_is_a_new_row_that_names_the_old_one(item, quinn):
    client = signed(quinn)
    wrong = {"client_id": str(ID_1), "item": item.pk, "counted": 3, "happened_at": _ago(2)}
    number = client.post(at("counts"), wrong, format="json").json()["id"]
    right = wrong | {"client_id": str(uuid.uuid4()), "counted": 1, "corrects": number}
    assert client.post(at("counts"), right, format="json").status_code == 201
    assert client.get(at(f"items/{item.pk}")).json()["standing"]["quantity"] == 1
    assert client.get(at(f"counts?item={item.pk}")).json()["count"] == 2


def _ago(hours):
    return (timezone.now() - timedelta(hours=hours)).isoformat()
