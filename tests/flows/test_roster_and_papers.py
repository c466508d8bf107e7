"""The roster as it is changed by hand, and the papers kept with an item."""

import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from inventory.models import CrewMember, ItemFile
from inventory.queries.papers import manual_of
from inventory.services.crew import put_crew
from inventory.signals import cache_changed
from readiness.queries import gather
from shared.models import AuditEntry
from tests.flows.bays import load, make_crew, make_item, make_line

pytestmark = pytest.mark.django_db
PAPER = b"%PDF-1.4\n%%EOF\n"


@pytest.fixture
def as_quinn(quinn, client_of):
    load(quinn.department)
    make_line(quinn.department)
    return client_of(quinn)


def put(client, address=None, **said):
    return client.post(address or reverse("inventory:add-crew"), {"name": "Marlow"} | said)


def qualified(department):
    now = timezone.now()
    return [c.name for c in gather(make_line(department), now, now).crew or () if c.qualified]


def test_somebody_is_added_qualified_lapses_and_leaves_and_the_lines_know(as_quinn, quinn):
    heard = []
    cache_changed.connect(lambda sender, line_ids, **_: heard.append(line_ids), weak=False, dispatch_uid="test")
    today = timezone.localdate()
    assert put(as_quinn, qualified_on=today.isoformat()).status_code == 302
    assert qualified(quinn.department) == ["Marlow"]
    change = reverse("inventory:change-crew", args=[CrewMember.objects.get().pk])
    put(as_quinn, change, qualified_until=(today - timedelta(days=1)).isoformat())
    assert qualified(quinn.department) == []
    put(as_quinn, change, qualified_on=today.isoformat(), left_on=today.isoformat())
    assert qualified(quinn.department) == []
    assert "Left the roster" in as_quinn.get(reverse("inventory:crew")).content.decode()
    assert heard == [[make_line(quinn.department).pk]] * 3
    cache_changed.disconnect(dispatch_uid="test")
    assert AuditEntry.objects.filter(did__endswith="crew").count() == 3


def test_the_same_name_twice_and_days_that_contradict_are_refused(as_quinn):
    put(as_quinn)
    assert put(as_quinn, name=" MARLOW ").status_code == 422
    assert put(as_quinn, name="Rowan", qualified_on="2026-05-01", qualified_until="2026-04-01").status_code == 422
    assert put(as_quinn, name="Rowan", qualified_on="0001-01-01").status_code == 422
    assert CrewMember.objects.count() == 1


def test_a_line_or_a_person_of_another_department_is_refused(as_quinn, sam):
    load(sam.department)
    assert put(as_quinn, line=make_line(sam.department).pk).status_code == 422
    assert put(as_quinn, user=sam.pk).status_code == 422
    theirs = make_crew(sam.department, "Theirs")
    assert put(as_quinn, reverse("inventory:change-crew", args=[theirs.pk])).status_code == 404
    assert not CrewMember.objects.filter(name="Marlow").exists()


def test_a_long_roster_is_paged_takes_few_queries_and_comes_as_a_table(as_quinn, quinn, django_assert_max_num_queries):
    for n in range(130):
        make_crew(quinn.department, f"Member {n:03d}", qualified_on=timezone.localdate())
    make_crew(quinn.department, "=HYPERLINK(1)")
    with django_assert_max_num_queries(12):
        page = as_quinn.get(reverse("inventory:crew")).content.decode()
    assert "Page 1 of 2" in page
    table = as_quinn.get(reverse("inventory:crew-csv")).content.decode()
    assert table.count("\n") == 132
    assert "'=HYPERLINK(1)" in table


def send(client, item, **more):
    said = {"client_id": uuid.uuid4(), "sort": "manual", "file": SimpleUploadedFile("manual.pdf", PAPER)} | more
    kind = {"kind": said.pop("kind")} if "kind" in said else {}
    sent = {f"paper-{key}": value for key, value in said.items()} | kind
    return client.post(reverse("inventory:add-paper", args=[item.pk]), sent)


def test_a_manual_of_a_kind_serves_every_item_of_it_until_one_has_its_own(as_quinn, quinn):
    one, two = (make_item(quinn.department, "shelter", tag) for tag in ("SH-01", "SH-02"))
    assert send(as_quinn, one, kind="").status_code == 302
    assert manual_of(two) is not None
    assert "of every" in as_quinn.get(reverse("inventory:item", args=[two.pk])).content.decode()
    send(as_quinn, one, file=SimpleUploadedFile("own.pdf", PAPER + b"2"))
    assert manual_of(one).file.name == "own.pdf"
    assert manual_of(two).file.name == "manual.pdf"


def test_a_newer_certificate_stands_before_the_older_one_which_stays(as_quinn, quinn):
    item = make_item(quinn.department, "shelter", "SH-01")
    sent = {"sort": "certificate", "valid_until": "2020-01-31", "client_id": uuid.uuid4()}
    for _ in range(2):
        answer = send(as_quinn, item, **sent)
        sent["file"] = SimpleUploadedFile("manual.pdf", PAPER)
    assert answer.status_code == 302
    assert ItemFile.objects.count() == 1
    assert "lapsed" in as_quinn.get(reverse("inventory:item", args=[item.pk])).content.decode()
    send(as_quinn, item, sort="certificate", file=SimpleUploadedFile("new.pdf", PAPER + b"x"))
    page = as_quinn.get(reverse("inventory:item", args=[item.pk])).content.decode()
    assert "replaced by a newer one" in page


@pytest.mark.parametrize(
    "bad", [{"file": SimpleUploadedFile("x.pdf", b"<html>")}, {"sort": "nonsense"}, {"valid_until": "soon"}]
)
def test_what_is_no_paper_is_refused_beside_the_field(as_quinn, quinn, bad):
    item = make_item(quinn.department, "shelter", "SH-01")
    assert send(as_quinn, item, **bad).status_code == 422
    assert not ItemFile.objects.exists()


def test_another_departments_item_gets_no_paper(as_quinn, sam):
    assert send(as_quinn, make_item(load(sam.department), "shelter", "SH-09")).status_code == 404


def test_nothing_said_anew_leaves_no_trace(quinn, department):
    load(department)
    member = put_crew(department=department, by=quinn, name="Marlow")
    put_crew(department=department, by=quinn, member=member, name="Marlow")
    assert AuditEntry.objects.count() == 1
