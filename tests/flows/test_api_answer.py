"""The answer, the papers and the schema over the API."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from openapi_spec_validator import validate
from rest_framework.test import APIClient

from readiness.services import rerate
from reports.models import Document
from shared import outbox
from shared.models import AuditEntry
from tests.conftest import ID_1, NOON
from tests.flows.api import at, problem_of, signed
from tests.reports.cache import inspect, make_item, make_line


@pytest.fixture
def line(quinn):
    inspect(make_item(quinn.department), quinn)
    return make_line(quinn.department)


def test_a_line_tells_the_rating_that_stands(line, casey):
    client = signed(casey)
    assert client.get(at(f"lines/{line.pk}")).json()["rating"] is None
    stored = rerate(line=line, at=datetime.now(UTC))
    row = client.get(at("lines")).json()["results"][0]
    assert (row["word"], row["reason"], row["probability"]) == (stored.word, stored.reason, stored.probability)
    assert client.get(at(f"lines/{line.pk}")).json()["rating"] == stored.rating


def test_a_list_of_lines_computes_nothing_and_costs_the_same_queries(line, quinn, django_assert_max_num_queries):
    for number in range(8):
        rerate(line=make_line(quinn.department, f"Line {number}"), at=NOON)
    client = signed(quinn)
    with django_assert_max_num_queries(7):
        assert client.get(at("lines")).json()["count"] == 9


def test_a_mission_is_asked_and_nothing_is_stored(line, casey):
    answer = signed(casey).post(at(f"lines/{line.pk}/ask"), {"mission": {"people_per_hour": 20}}, format="json")
    assert answer.status_code == 200
    body = answer.json()
    assert body["mission"]["people_per_hour"] == 20
    assert body["word"] in ("Whole", "Limited", "Down")
    assert body["can_do"]["probability_low"] <= body["can_do"]["probability"] <= body["can_do"]["probability_high"]
    assert not line.ratings.exists()


@pytest.mark.parametrize(
    ("mission", "where"),
    [
        ({"people": 60}, "mission.people"),
        ({"hours": -1}, "mission.hours"),
        ({"night": "perhaps"}, "mission.night"),
        ([1], "mission"),
    ],
)
def test_a_mission_that_cannot_be_asked_is_refused_by_key(mission, where, line, casey):
    answer = signed(casey).post(at(f"lines/{line.pk}/ask"), {"mission": mission}, format="json")
    assert answer.status_code == 400
    assert [problem["where"] for problem in problem_of(answer)["problems"]] == [where]


def test_the_past_is_told_as_known_then_and_as_known_since(line, casey):
    client, address = signed(casey), at(f"lines/{line.pk}/rating")
    before = (NOON - timedelta(days=10)).isoformat()
    body = client.get(address, {"at": before}).json()
    assert body["at"] == body["known_at"] == "2026-11-14T12:00:00Z"
    since = client.get(address, {"at": before, "known_at": NOON.isoformat()}).json()
    assert since["known_at"] == "2026-11-24T12:00:00Z"
    assert client.get(address, {"at": "yesterday"}).status_code == 400


def test_a_paper_is_asked_for_watched_and_fetched(line, casey, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    client = signed(casey)
    asked = client.post(at("documents"), {"document_sort": "line", "line": line.pk}, format="json")
    assert asked.status_code == 202
    number = asked.json()["id"]
    assert (asked.json()["state"], asked.json()["file"]) == ("queued", None)
    assert client.get(at(f"documents/{number}/file")).status_code == 404
    outbox.run(row_id=Document.objects.get(pk=number).outbox_id)
    body = client.get(at(f"documents/{number}")).json()
    assert (body["state"], body["progress"]) == ("done", 100)
    file = client.get(body["file"])
    assert file["Content-Type"] == "application/pdf"
    assert b"".join(file.streaming_content).startswith(b"%PDF")


def test_a_paper_about_nothing_is_a_conflict(quinn):
    answer = signed(quinn).post(at("documents"), {"document_sort": "line"}, format="json")
    assert answer.status_code == 409
    problem_of(answer)


def test_crew_take_no_export_and_grants_do(line, casey, gray):
    refused = signed(casey).get(at("status-export"))
    assert refused.status_code == 403
    problem_of(refused)
    asked = signed(casey).post(at("documents"), {"document_sort": "status"}, format="json")
    assert asked.status_code == 403
    taken = signed(gray).get(at("status-export"), {"as_of": NOON.isoformat()})
    text = b"".join(taken.streaming_content).decode()
    assert [row["tag"] for row in csv.DictReader(io.StringIO(text, newline=""))] == ["SH-01"]
    assert AuditEntry.objects.get(did="export").by == gray


def test_grants_record_how_a_thing_left_and_crew_do_not(line, gray, casey):
    item = line.department.items.get()
    sent = {"client_id": str(ID_1), "item": item.pk, "method": "sold", "sale_price": "1000.00"}
    assert signed(casey).post(at("dispositions"), sent, format="json").status_code == 403
    client = signed(gray)
    assert [client.post(at("dispositions"), sent, format="json").status_code for _ in range(2)] == [201, 200]
    assert client.post(at("dispositions"), sent | {"sale_price": "1.00"}, format="json").status_code == 409
    assert client.get(at(f"items/{item.pk}")).json()["standing"]["state"] == "disposed"


def test_the_answer_and_the_papers_of_another_department_are_not_found(line, quinn, sam):
    number = signed(quinn).post(at("documents"), {"document_sort": "line", "line": line.pk}, format="json").json()["id"]
    client = signed(sam)
    for address in (f"lines/{line.pk}", f"lines/{line.pk}/rating", f"documents/{number}", f"documents/{number}/file"):
        assert client.get(at(address)).status_code == 404
    assert client.post(at(f"lines/{line.pk}/ask"), {"mission": {}}, format="json").status_code == 404
    answer = client.post(at("documents"), {"document_sort": "line", "line": line.pk}, format="json")
    assert answer.status_code == 400


@pytest.fixture(scope="module")
def schema():
    GENERATOR_STATS.reset()
    with GENERATOR_STATS.silence():
        drawn = SchemaGenerator(api_version="1").get_schema(request=None, public=True)
    complaints = [*GENERATOR_STATS._warn_cache, *GENERATOR_STATS._error_cache]
    return drawn, complaints


def test_the_schema_is_valid_openapi_31_and_drawn_without_a_complaint(schema):
    drawn, complaints = schema
    assert complaints == []
    assert drawn["openapi"].startswith("3.1")
    validate(drawn)


def test_the_schema_is_served_to_anybody(db):
    answer = APIClient().get("/api/v1/schema")
    assert answer.status_code == 200
    assert b"openapi: 3.1" in answer.content


def test_every_operation_names_its_errors_in_the_one_shape(schema):
    drawn, _ = schema
    for path, operations in drawn["paths"].items():
        for method, operation in operations.items():
            codes = set(operation["responses"])
            if path.endswith("/token") and method == "post":
                assert {"400", "401", "403"} <= codes
                continue
            assert {"401", "403"} <= codes, (path, method)
            assert "404" in codes or "{" not in path, (path, method)
            assert "409" in codes or method != "post", (path, method)
            for code in codes & {"400", "401", "403", "404", "409"}:
                shape = operation["responses"][code]["content"]["application/json"]["schema"]
                assert shape == {"$ref": "#/components/schemas/Problem"}


def test_every_address_of_the_api_is_in_the_schema(schema):
    drawn, _ = schema
    from django.urls import get_resolver

    named = {p.name for p in get_resolver("readiness.api_urls").url_patterns if getattr(p, "name", None)}
    assert {"token", "me", "line-list", "line-ask", "line-rating", "inspection-list", "walk-sign"} <= named
    for path in ("lines", "lines/{id}/ask", "walks/{id}/sign", "inspections", "documents/{id}/file", "status-export"):
        assert f"/api/v1/{path}" in drawn["paths"]
