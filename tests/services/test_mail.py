"""A real worker killed while a real mail server has the mail: it arrives once, or twice under one id."""

import json

import pytest

from tests.mail_sink import mail_sink
from tests.servers import wait_for
from tests.services.deployment import Deployment, kill_outright

pytestmark = pytest.mark.services

TELL = """
import sys, django
django.setup()
from shared import notices
from shared.models import Department, Membership, User
from django.db import transaction
department, _ = Department.objects.get_or_create(name="Tarn Hollow", slug="tarn-hollow")
user, _ = User.objects.get_or_create(username="hollis", email="hollis@tarnhollow.invalid")
Membership.objects.get_or_create(department=department, user=user, role="head")
with transaction.atomic():
    for key in sys.argv[1].split(","):
        notices.tell(department=department, user=user, key=key, sort="alert", subject=key, body="Said once.")
"""
SENT = """
import json, django
django.setup()
from shared.models import Notice
print(json.dumps([n.sent_at is not None for n in Notice.objects.order_by("pk")]))
"""


@pytest.fixture
def sink():
    with mail_sink() as taken:
        yield taken


@pytest.fixture
def deployment(tmp_path, sink):
    made = Deployment(tmp_path, {"EMAIL_URL": f"smtp://127.0.0.1:{sink.port}"})
    made.migrate()
    return made


def sent(deployment):
    return json.loads(deployment.python("-c", SENT))


def test_a_worker_killed_before_the_server_took_the_mail_leaves_one_mail(deployment, sink):
    sink.pause_s = 30  # the server is slow to take it, and the worker dies waiting
    with deployment.worker() as first:
        deployment.python("-c", TELL, "alert 1")
        wait_for(lambda: sink.offered, within_s=40, what="the mail on its way")
        kill_outright(first)
    assert sent(deployment) == [False]
    assert sink.mails == []
    sink.pause_s = 0
    with deployment.worker():
        wait_for(lambda: all(sent(deployment)), within_s=60, what="the mail marked sent")
    assert [mail["Subject"] for _, mail in sink.mails] == ["alert 1"]


def test_a_worker_killed_among_many_mails_leaves_each_sent_and_none_under_a_second_id(deployment, sink):
    keys = [f"alert {n}" for n in range(12)]
    sink.pause_s = 0.2
    with deployment.worker() as first:
        deployment.python("-c", TELL, ",".join(keys))
        wait_for(lambda: len(sink.mails) >= 3, within_s=40, what="the first mails")
        kill_outright(first)
    with deployment.worker():
        wait_for(lambda: all(sent(deployment)), within_s=90, what="every mail marked sent")
    ids = {mail["Message-ID"]: mail["Subject"] for _, mail in sink.mails}
    assert sorted(ids.values()) == sorted(keys)
    # At most the one that the killed worker had handed over and not marked came twice, and under the same id.
    assert len(sink.mails) <= len(keys) + 1
