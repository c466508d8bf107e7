"""The head is told at once, once, with the reason, and never of what is hidden."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from inspections.models import Plant
from inspections.services import record_inspection
from inspections.signals import evidence_changed
from inventory.models import Item
from readiness import queries, services
from readiness.alerts import tell_change
from readiness.models import Alert, StoredRating
from shared.models import Notice, OutboxRow, User


@pytest.fixture(autouse=True)
def _mails(settings, demo):
    settings.HOLDAIR_MAILS = True
    User.objects.filter(username="hollis").update(email="hollis@tarnhollow.invalid")


def fail_heater(line, tag="WH-03"):
    return record_inspection(
        department=line.department,
        check_key="heat",
        item=Item.objects.get(department=line.department, tag=tag),
        values={"lit": "no", "tries": "6"},
        happened_at=timezone.now(),
        by_name="Casey",
        client_id=uuid4(),
    )


def rated(line, probability, minutes, word="Whole"):
    """Store a rating of a line by its numbers alone, and tell what it calls for."""
    line.refresh_from_db()
    standing = line.state.newest if hasattr(line, "state") else None
    row = StoredRating.objects.get(pk=standing.pk)
    row.pk, row.probability, row.word, row.reason = None, probability, word, ""
    row.at = row.known_at = timezone.now() + timedelta(minutes=minutes)
    row.save()
    line.state.newest = row
    line.state.save()
    return tell_change(
        standing=standing,
        after=row,
        rating=services.ask(line=line, mission=queries.rated_mission(line, row.at), at=row.at),
    )


def test_the_first_ratings_alert_nobody(demo):
    assert StoredRating.objects.filter(department=demo).count() >= 3
    assert not Alert.objects.filter(department=demo).exists()


def test_a_word_that_changes_is_told_with_item_check_name_and_limit(line_b, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        fail_heater(line_b)
    alert = Alert.objects.get(line=line_b)
    assert (alert.before.word, alert.after.word) == ("Whole", "Limited")
    for said in ("Whole to Limited (short)", "WH-03", "heat", "fail", "by Casey", "First limit:"):
        assert said.lower() in alert.text.lower(), alert.text
    notice = Notice.objects.get(key=f"alert {alert.after_id}")
    assert (notice.user.username, notice.address) == ("hollis", "hollis@tarnhollow.invalid")
    assert f"/lines/{line_b.pk}/" in notice.body
    assert OutboxRow.objects.filter(task="shared.mail_notice").count() == 1


def test_it_is_told_once_however_often_the_line_is_rated_again(line_b, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        fail_heater(line_b)
        evidence_changed.send(sender=None, department=line_b.department, line_ids=[line_b.pk])
        evidence_changed.send(sender=None, department=line_b.department, line_ids=[line_b.pk])
    services.rerate(line=line_b, at=timezone.now(), because="asked")
    assert StoredRating.objects.filter(line=line_b).count() >= 4
    assert Alert.objects.filter(line=line_b).count() == Notice.objects.count() == 1


def test_a_rating_that_is_not_stored_alerts_nobody(line_b, monkeypatch):
    monkeypatch.setattr("readiness.alerts._tell_heads", lambda *_: 1 / 0)
    fail_heater(line_b)
    before = StoredRating.objects.filter(line=line_b).count()
    with pytest.raises(ZeroDivisionError):
        services.rerate(line=line_b, at=timezone.now())
    assert not Alert.objects.exists()
    assert StoredRating.objects.filter(line=line_b).count() == before


def test_a_drop_by_the_step_is_told_and_one_below_it_is_not(line_b):
    assert rated(line_b, 90, 1) is None
    assert rated(line_b, 80.5, 2) is None
    alert = rated(line_b, 80, 3)
    assert "score 90 to 80" in alert.text


def test_a_slow_decline_is_told_when_it_adds_up_and_counted_anew_from_there(line_b):
    told = [rated(line_b, 92 - 2 * n, n + 1) is not None for n in range(12)]
    assert [n for n, one in enumerate(told) if one] == [5, 10]


def test_a_fall_after_a_rise_that_nobody_was_told_of_is_told(line_b):
    rated(line_b, 90, 1)
    assert rated(line_b, 50, 2) is not None
    assert rated(line_b, 85, 3) is None
    assert "score 85 to 70" in rated(line_b, 70, 4).text


def test_the_step_is_the_departments_own(line_b):
    line_b.department.alert_step = 30
    line_b.department.save()
    rated(line_b, 90, 1)
    assert rated(line_b, 65, 2) is None
    assert rated(line_b, 60, 3) is not None


def test_what_is_hidden_is_not_given_as_the_cause(line_b, demo, django_capture_on_commit_callbacks):
    quinn = User.objects.get(username="quinn")
    item = Item.objects.get(department=demo, tag="WH-03")
    with django_capture_on_commit_callbacks(execute=True):
        Plant.objects.create(
            department=demo, item=item, mode_code="WH1", check_key="heat", what="igniter lead off", by=quinn,
            by_name="Quinn", happened_at=timezone.now(), client_id=uuid4(),
        )  # fmt: skip
        evidence_changed.send(sender=Plant, department=demo, item_ids=[item.pk])
    for alert in Alert.objects.filter(line=line_b):
        told = alert.text + "".join(n.body for n in Notice.objects.all())
        assert "WH-03" not in told, told
        assert "igniter" not in told
        assert "What is recorded of it has changed" in told
    assert Alert.objects.filter(line=line_b).exists()


def test_tonight_and_the_line_show_alerts_and_only_the_head_marks_them(
    line_b, demo, client_of, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        fail_heater(line_b)
    alert = Alert.objects.get(line=line_b)
    head, officer = (client_of(User.objects.get(username=name)) for name in ("hollis", "quinn"))
    for address in ("/", f"/lines/{line_b.pk}/"):
        assert "Whole to Limited" in officer.get(address).content.decode()
    assert "Mark all as seen" not in officer.get("/").content.decode()
    assert "Not seen yet" in head.get("/").content.decode()
    assert officer.post("/alerts/seen", {"upto": alert.pk}).status_code == 403
    assert head.post("/alerts/seen", {"upto": alert.pk}).status_code == 302
    alert.refresh_from_db()
    assert alert.seen_at is not None
    assert "Not seen yet" not in head.get("/").content.decode()


def test_the_api_lists_alerts_of_ones_own_department(line_b, demo, client_of, sam, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        fail_heater(line_b)
    ours = client_of(User.objects.get(username="casey")).get("/api/v1/alerts").json()
    assert [row["word_after"] for row in ours["results"]] == ["Limited"]
    assert client_of(sam).get("/api/v1/alerts").json()["count"] == 0
    assert client_of(sam).get(f"/api/v1/alerts?line={line_b.pk}").status_code == 400
