"""Attacks by content: bodies too large or too deep, forged addresses, other sites, markup and formulas in names."""

import csv
import io
import json
import uuid

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from inventory.models import Item, Posting
from inventory.services import amend_item
from readiness import views as answer_views
from reports import queries, services
from reports.exports import unguarded
from shared.api import Conflict
from shared.models import AuditEntry
from tests.conftest import PASSWORD
from tests.flows.api import at, problem_of, signed
from tests.flows.bays import ago, load, make_item, make_line, make_place, record

pytestmark = pytest.mark.django_db
SCRIPT = "<script>alert(1)</script>"
FORMULA = '=HYPERLINK("http://tarnhollow.invalid","x")'


@pytest.fixture(autouse=True)
def _no_memory_of_tries():
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def heater(quinn):
    load(quinn.department)
    return make_item(quinn.department, "heater", "WH-01", name=SCRIPT, serial=FORMULA, note="-1+1", use="@SUM(A1)")


def test_a_body_longer_than_a_record_can_be_is_refused_unread(quinn, settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    answer = signed(quinn).post(at("postings"), {"note": "x" * 2000}, format="json")
    assert answer.status_code == 413
    assert "One record at a time".lower() in problem_of(answer)["mend"].lower()


@pytest.mark.parametrize("body", ["[" * 50_000, "{" * 50_000, '{"item": NaN}', "\xff", ""])
def test_a_body_that_no_parser_should_be_fed_is_refused(body, quinn):
    answer = signed(quinn).post(at("postings"), body.encode("latin-1"), content_type="application/json")
    assert answer.status_code == 400
    problem_of(answer)


@pytest.mark.parametrize("content_type", ["application/x-www-form-urlencoded", "text/plain", "application/xml"])
def test_the_api_reads_json_and_nothing_a_form_of_another_site_can_send(content_type, quinn):
    answer = signed(quinn).post(at("postings"), "change=1", content_type=content_type)
    assert answer.status_code == 415
    assert "application/json" in problem_of(answer)["mend"]


def test_a_time_without_its_offset_is_refused_since_nobody_knows_which_instant_it_is(heater, quinn):
    sent = {"client_id": str(uuid.uuid4()), "item": heater.pk, "change": 0, "posting_reason": "moved"}
    answer = signed(quinn).post(at("postings"), sent | {"happened_at": "2026-11-20T18:00:00"}, format="json")
    assert answer.status_code == 400
    assert "-05:00" in problem_of(answer)["problems"][0]["mend"]


def test_a_forged_address_does_not_escape_the_limit_on_guessing(quinn):
    body = {"username": "quinn", "password": "wrong", "name": "x"}
    codes = [
        Client().post(
            at("token"), json.dumps(body | {"username": f"n{n}"}), "application/json",
            headers={"x-forwarded-for": f"10.0.0.{n}"},
        ).status_code
        for n in range(21)
    ]  # fmt: skip
    assert codes[-1] == 429


def test_the_api_answers_in_its_own_shape_where_there_is_nothing_and_where_it_broke(quinn, heater, monkeypatch):
    assert problem_of(signed(quinn).get(at("no-such-address")))["where"] == "/api/v1/no-such-address"

    def leaks(self, request):
        raise RuntimeError(f"secret of {PASSWORD}")

    monkeypatch.setattr("inventory.api.PlaceViewSet.get_queryset", leaks)
    client = signed(quinn)
    client.raise_request_exception = False
    answer = client.get(at("places"))
    assert answer.status_code == 500
    problem_of(answer)
    assert PASSWORD not in answer.content.decode()


def test_a_page_that_breaks_tells_nothing_of_what_broke(quinn, client_of, monkeypatch):
    def leaks(*args, **kwargs):
        raise RuntimeError(f"secret of {PASSWORD}")

    monkeypatch.setattr(answer_views.queries, "lines_of", leaks)
    client = client_of(quinn)
    client.raise_request_exception = False
    answer = client.get("/")
    assert answer.status_code == 500
    assert PASSWORD not in answer.content.decode()
    assert "Traceback" not in answer.content.decode()


@pytest.mark.parametrize(
    "onward", ["https://tarnhollow.invalid/", "//tarnhollow.invalid", "javascript:alert(1)", "/\\tarnhollow.invalid"]
)
def test_signing_in_or_choosing_a_department_leads_to_no_other_site(onward, client, quinn):
    sent = {"username": "quinn", "password": PASSWORD, "next": onward}
    assert client.post(reverse("shared:sign-in"), sent).url == "/"
    session = client.session
    session["onward"] = onward
    session.save()
    chosen = client.post(reverse("shared:department"), {"membership": quinn.membership.pk})
    assert chosen.url == "/"


def test_a_post_without_its_csrf_token_changes_nothing(quinn, heater):
    client = Client(enforce_csrf_checks=True)
    client.force_login(quinn, backend="django.contrib.auth.backends.ModelBackend")
    before = Posting.objects.count()
    place = make_place(quinn.department)
    sent = {"move-place": place.pk, "move-client_id": uuid.uuid4()}
    assert client.post(reverse("inventory:move", args=[heater.pk]), sent).status_code == 403
    assert Posting.objects.count() == before


@pytest.mark.parametrize("address", ["/bay/items/", "/bay/", "/walk/", "/", "/reports/"])
def test_markup_in_a_name_is_text_and_no_page_runs_scripts_of_its_own(address, quinn, heater, client_of):
    line = make_line(quinn.department, SCRIPT)
    assert line.name == SCRIPT
    answer = client_of(quinn).get(address)
    assert SCRIPT not in answer.content.decode()
    policy = answer.headers["Content-Security-Policy"]
    assert "unsafe-inline" not in policy
    assert "unsafe-eval" not in policy
    for held in ("object-src 'none'", "frame-ancestors 'none'", "base-uri 'self'", "form-action 'self'"):
        assert held in policy


def test_a_paper_shows_markup_as_text(heater, quinn):
    row = record(heater, "look", {"seen": "yes"}, remark=f"{SCRIPT}<b>&amp;", happened_at=ago(hours=1))
    content = services.pdf(as_of=row.recorded_at, inspection=row)
    assert content.startswith(b"%PDF")


def test_no_cell_of_the_export_runs_in_a_spreadsheet_and_all_come_back(heater, quinn):
    text = services.status_export(department=quinn.department, as_of=ago(hours=0)).decode()
    (row,) = csv.DictReader(io.StringIO(text, newline=""))
    assert row["serial"] == "'" + FORMULA
    assert unguarded(row["serial"]) == FORMULA
    assert not any(cell.startswith(("=", "@", "+", "\t", "\r")) for cell in row.values())


def test_an_id_is_a_number_and_no_path(quinn, client_of):
    for address in ("/reports/../../etc/passwd", "/reports/%2e%2e/file", "/reports/1%2f..%2f2/file"):
        assert client_of(quinn).get(address).status_code == 404
    assert not queries.documents(quinn.department).exists()


def test_a_cookie_is_read_by_no_script_and_sent_to_no_other_site(client, quinn):
    client.post(reverse("shared:sign-in"), {"username": "quinn", "password": PASSWORD})
    cookie = client.cookies["sessionid"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"


def test_neither_password_nor_token_is_written_to_the_log_or_the_audit(quinn, caplog):
    caplog.set_level("DEBUG")
    body = {"username": "quinn", "password": PASSWORD, "name": "tablet"}
    key = Client().post(at("token"), json.dumps(body), "application/json").json()["token"]
    Client().post(at("token"), json.dumps(body | {"password": "a wrong one entirely"}), "application/json")
    Client().get(at("me"), headers={"authorization": f"Token {key}x"})
    for secret in (PASSWORD, key, "a wrong one entirely"):
        assert secret not in caplog.text
        assert secret not in str(list(AuditEntry.objects.values()))


def test_a_card_takes_nothing_of_another_department(heater, quinn, sam):
    theirs = make_item(load(sam.department), "heater", "XX-01")
    with pytest.raises(Conflict, match="another department"):
        amend_item(department=quinn.department, item=heater, by=quinn, changes={"kind": theirs.kind})
    assert Item.objects.get(pk=heater.pk).kind == heater.kind
