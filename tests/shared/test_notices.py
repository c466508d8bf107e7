"""News is told once, mailed once, and mailed to nobody who does not want it: over real SMTP, to a real sink."""

from datetime import timedelta
from unittest.mock import patch

import pytest
from django.db import transaction
from django.utils import timezone

from shared import notices, outbox
from shared.models import Membership, Notice, OutboxRow
from tests.mail_sink import mail_sink, mail_through


@pytest.fixture
def sink(settings):
    with mail_sink() as taken:
        mail_through(settings, taken)
        yield taken


def tell(user, key="alert 1", **more):
    said = {"sort": notices.ALERT, "subject": "Line A: Whole to Down", "body": "The relief valve did not lift."}
    return notices.tell(department=user.department, user=user, key=key, **said | more)


def deliver_all():
    return [outbox.run(row_id=pk) for pk in OutboxRow.objects.filter(state="queued").values_list("pk", flat=True)]


def test_what_is_told_is_mailed_with_a_link_to_the_settings(hollis, sink):
    notice = tell(hollis)
    assert deliver_all() == ["done"]
    ((to, mail),) = sink.mails
    assert to == [hollis.email]
    assert mail["Subject"] == "Line A: Whole to Down"
    assert mail["Message-ID"] == notices.message_id(notice)
    assert mail["Message-ID"].endswith("@holdair.tarnhollow.invalid>")
    assert "The relief valve did not lift." in mail.get_content()
    assert "https://holdair.tarnhollow.invalid/settings/#mail" in mail.get_content()
    notice.refresh_from_db()
    assert notice.sent_at is not None


def test_the_same_thing_is_told_and_mailed_once(hollis, sink):
    assert tell(hollis) is not None
    assert tell(hollis) is None
    deliver_all()
    assert len(sink.mails) == Notice.objects.count() == OutboxRow.objects.count() == 1


def test_a_job_that_runs_again_after_the_mark_mails_nothing(hollis, sink):
    notice = tell(hollis)
    deliver_all()
    assert notices.deliver(notice_id=notice.pk, clock=timezone.now) is False
    assert len(sink.mails) == 1


def test_a_worker_that_dies_between_sending_and_marking_sends_under_the_same_id(hollis, sink):
    notice = tell(hollis)
    with (
        patch.object(notices.Notice.objects, "filter", side_effect=KeyboardInterrupt),
        pytest.raises(KeyboardInterrupt),
    ):
        notices.deliver(notice_id=notice.pk, clock=timezone.now)
    notices.deliver(notice_id=notice.pk, clock=timezone.now)
    assert len({mail["Message-ID"] for _, mail in sink.mails}) == 1
    assert len({mail["Date"] for _, mail in sink.mails}) == 1


def test_nothing_is_told_where_the_change_that_would_tell_it_is_rolled_back(hollis, sink):
    with transaction.atomic():
        tell(hollis)
        transaction.set_rollback(True)
    assert deliver_all() == []
    assert not Notice.objects.exists()


def test_a_server_that_asks_to_come_again_is_tried_again(hollis, sink):
    sink.answers = ["451 later, please"]
    notice = tell(hollis)
    assert deliver_all() == ["queued"]
    OutboxRow.objects.update(not_before=timezone.now())
    assert deliver_all() == ["done"]
    assert len(sink.mails) == 1
    notice.refresh_from_db()
    assert notice.sent_at is not None


def test_an_address_that_the_server_refuses_for_good_is_given_up_and_the_notice_stays(hollis, sink):
    sink.answers = ["550 nobody of that name"]
    tell(hollis)
    assert deliver_all() == ["failed"]
    assert Notice.objects.get().sent_at is None
    assert notices.retry_unsent(at=timezone.now()) == 0


def test_mail_given_up_while_the_server_was_away_is_asked_for_again_for_three_days(hollis, settings, sink):
    settings.EMAIL_PORT, port = 1, settings.EMAIL_PORT
    tell(hollis)
    for _ in range(outbox.MOST_ATTEMPTS):
        OutboxRow.objects.update(not_before=timezone.now())
        deliver_all()
    assert OutboxRow.objects.get().state == "failed"
    settings.EMAIL_PORT = port
    assert notices.retry_unsent(at=timezone.now() + timedelta(days=4)) == 0
    assert notices.retry_unsent(at=timezone.now()) == 1
    assert notices.retry_unsent(at=timezone.now()) == 0  # it is on its way
    deliver_all()
    assert len(sink.mails) == 1


def test_without_an_address_the_notice_stands_on_the_page_only(hollis, sink, client_of):
    hollis.email = ""
    hollis.save()
    tell(hollis)
    assert not OutboxRow.objects.exists()
    text = client_of(hollis).get("/settings/").content.decode()
    assert "Line A: Whole to Down" in text
    assert "not mailed" in text
    assert "No e-mail address is recorded" in text


def test_who_has_said_no_to_a_sort_is_not_mailed_it_even_where_it_was_queued(hollis, sink):
    tell(hollis)
    Membership.objects.filter(user=hollis).update(wants_alerts=False)
    deliver_all()
    tell(hollis, key="alert 2")
    assert sink.mails == []
    assert Notice.objects.count() == 2


def test_without_a_mail_server_nothing_is_queued(hollis, settings):
    settings.HOLDAIR_MAILS = False
    tell(hollis)
    assert not OutboxRow.objects.exists()


def test_a_line_break_in_a_subject_cannot_become_a_header(hollis, sink):
    tell(hollis, subject="Line A\r\nBcc: everybody@elsewhere.invalid")
    deliver_all()
    ((to, mail),) = sink.mails
    assert (to, mail["Bcc"]) == ([hollis.email], None)


def test_two_people_are_each_told(hollis, quinn, sink):
    tell(hollis)
    tell(quinn, sort=notices.REMINDER)
    deliver_all()
    assert sorted(to[0] for to, _ in sink.mails) == sorted([hollis.email, quinn.email])


def test_the_settings_page_changes_address_and_what_is_mailed(client_of, hollis, quinn):
    client = client_of(quinn)
    assert "wants_alerts" not in client.get("/settings/").content.decode()  # alerts are the head's
    said = {"display_name": "Quinn", "email": "quinn@new.invalid"}
    assert client.post("/settings/", said).status_code == 302
    assert client.post("/settings/mail/", {"wants_digest": "on"}).status_code == 302
    quinn.refresh_from_db()
    held = Membership.objects.get(user=quinn)
    assert quinn.email == "quinn@new.invalid"
    assert (held.wants_reminders, held.wants_digest, held.wants_alerts) == (False, True, True)
    assert client.post("/settings/", said | {"email": "no address"}).status_code == 422


def test_the_head_sets_the_step_of_alerts_within_its_range(client_of, hollis):
    client = client_of(hollis)
    assert client.post("/settings/alert-step/", {"alert_step": "15"}).status_code == 302
    hollis.department.refresh_from_db()
    assert hollis.department.alert_step == 15
    answer = client.post("/settings/alert-step/", {"alert_step": "0"})
    assert answer.status_code == 422
    assert "greater than or equal to 1" in answer.content.decode()
