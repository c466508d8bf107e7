"""Reminders and digests: each thing once, at the department's own hour, over real SMTP."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.models import CrewMember, Line
from reports import mailings
from reports.models import Reminded
from shared import outbox
from shared.models import Membership, Notice, OutboxRow
from tests.inspections.building import check, load, make_item
from tests.mail_sink import mail_sink, mail_through

GOOD = "test_trips=yes; reset=yes; ground_ohm=0.2; jacket=none"
WEDNESDAY = datetime(2026, 6, 3, 14, tzinfo=UTC)  # ten in the morning in New York
MONDAY = datetime(2026, 6, 8, 14, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def sink(settings):
    with mail_sink() as taken:
        mail_through(settings, taken)
        yield taken


@pytest.fixture
def item(department):
    made = make_item(load(department), "gfci", "GF-01")
    Line.objects.update(made_at=WEDNESDAY - 90 * DAY)
    return made


def mails(sink):
    """Deliver what is queued and return the mails taken, as (to, subject, text)."""
    for pk in OutboxRow.objects.filter(state="queued").values_list("pk", flat=True):
        outbox.run(row_id=pk)
    return [(to[0], mail["Subject"], mail.get_content()) for to, mail in sink.mails]


def test_who_walks_is_reminded_once_a_day_of_what_is_new(quinn, casey, hollis, gray, item, sink):
    assert mailings.remind(at=WEDNESDAY) == 2
    assert mailings.remind(at=WEDNESDAY + timedelta(hours=2)) == 0
    assert mailings.remind(at=WEDNESDAY + DAY) == 0  # nothing is new
    found = mails(sink)
    assert sorted(to for to, _, _ in found) == sorted([quinn.email, casey.email])
    text = found[0][2]
    assert "GFCI and cord, GF-01 (Line A); never proven" in text
    assert "https://holdair.tarnhollow.invalid/due/" in text


def test_a_thing_is_said_when_it_comes_near_and_again_when_it_is_overdue(quinn, item, sink):
    check(item, "gfci", GOOD, at=WEDNESDAY - DAY)  # due on 2 July
    mailings.remind(at=WEDNESDAY)
    for n in range(20, 40):
        mailings.remind(at=WEDNESDAY + n * DAY)
    said = Notice.objects.filter(sort="reminder", body__contains="GFCI and cord, GF-01").order_by("pk")
    assert [notice.key for notice in said] == ["reminder 2026-06-25", "reminder 2026-07-03"]
    assert ["Overdue:" in notice.body for notice in said] == [False, True]


def test_a_proof_ends_a_reminder_before_it_is_said(quinn, item, sink):
    check(item, "gfci", GOOD, at=WEDNESDAY - DAY)
    check(item, "gfci", GOOD, at=WEDNESDAY + 20 * DAY)
    for n in (22, 25, 30, 33):
        mailings.remind(at=WEDNESDAY + n * DAY)
    assert not Notice.objects.filter(body__contains="GFCI and cord, GF-01").exists()


def test_nobody_is_reminded_before_the_hour_of_the_departments_own_day(quinn, item, settings):
    settings.HOLDAIR_REMIND_HOUR = 6
    early = datetime(2026, 6, 3, 9, 59, tzinfo=UTC)  # one minute to six in New York
    assert mailings.remind(at=early) == 0
    assert mailings.remind(at=early + timedelta(minutes=1)) == 1
    assert Notice.objects.get().key == "reminder 2026-06-03"


def test_crew_are_not_told_of_other_peoples_qualifications(quinn, casey, item):
    CrewMember.objects.create(department=item.department, name="Avery", qualified_until=WEDNESDAY.date() + DAY)
    mailings.remind(at=WEDNESDAY)
    of = {notice.user: notice.body for notice in Notice.objects.all()}
    assert "Avery" in of[quinn]
    assert "Avery" not in of[casey]


def test_who_said_no_or_has_left_is_not_mailed(quinn, casey, avery, item, sink):
    Membership.objects.filter(user=quinn).update(wants_reminders=False)
    Membership.objects.filter(user=avery).update(ends_on=WEDNESDAY.date() - DAY)
    mailings.remind(at=WEDNESDAY)
    assert [to for to, _, _ in mails(sink)] == [casey.email]
    assert not Notice.objects.filter(user=avery).exists()


def test_a_long_list_names_the_first_and_counts_the_rest(quinn, item):
    for n in range(50):
        make_item(item.department, "headlamp", f"HL-{n:02}")
    mailings.remind(at=WEDNESDAY)
    body = Notice.objects.get().body
    assert "\n- and " in body
    assert body[body.index("Overdue:") :].count("\n- ") == mailings.LISTED + 1
    assert Reminded.objects.filter(user=quinn).count() > 50


def test_the_digest_comes_once_a_week_to_head_and_officer(quinn, hollis, casey, item, sink):
    Membership.objects.update(wants_reminders=False)
    check(item, "gfci", "test_trips=no; reset=yes", at=WEDNESDAY)
    for n in range(5):
        mailings.remind(at=MONDAY + n * DAY)
    found = [(to, subject, text) for to, subject, text in mails(sink) if "the week of" in subject]
    assert sorted(to for to, _, _ in found) == sorted([quinn.email, hollis.email])
    text = found[0][2]
    assert "Line A: not rated yet" in text
    assert "impairment: 1" in text
    assert "No alert in the last seven days." in text


def test_a_digest_missed_on_monday_comes_on_tuesday_and_no_later(hollis, item):
    mailings.remind(at=MONDAY + 2 * DAY)
    assert not Notice.objects.filter(sort="digest").exists()
    mailings.remind(at=MONDAY + 8 * DAY)
    assert Notice.objects.get(sort="digest").key == "digest 2026-06-15"


def test_one_departments_trouble_keeps_no_other_from_its_mail(quinn, sam, item, monkeypatch):
    load(sam.department)
    make_item(sam.department, "gfci", "GF-90")
    remind = mailings.remind_department

    def breaks(*, department, **how):
        if department == item.department:
            raise RuntimeError("broken register")
        return remind(department=department, **how)

    monkeypatch.setattr(mailings, "remind_department", breaks)
    assert mailings.remind(at=WEDNESDAY) == 1
    assert "GF-01" not in Notice.objects.get().body
