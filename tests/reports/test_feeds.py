"""Calendar feeds: what real calendar programs read, by the letter of RFC 5545."""

import re
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
import vobject
from django.test import Client
from django.utils import timezone

from inventory.models import CrewMember, Item, Lot
from reports import feeds
from reports.models import CalendarEvent, CalendarFeed
from shared.models import Membership
from tests.inspections.building import check, load, make_item, make_line, make_lot

TRIPS, DEAD = "test_trips=yes; reset=yes; ground_ohm=0.2; jacket=none", "test_trips=no; reset=yes"
ODD = 'Käse, Größe; a\\b "q"\nBEGIN:VEVENT – ' + "sehr lang " * 12


@pytest.fixture
def cache(department):
    return load(department)


@pytest.fixture
def item(cache):
    return make_item(cache, "gfci", "GF-01")


def make_feed(user, line=None, lead_days=7):
    return feeds.make_feed(department=user.department, user=user, line=line, lead_days=lead_days, at=timezone.now())


def fetch(key, **headers):
    return Client().get(f"/reports/calendar/{key}.ics", headers=headers)


def events(key):
    """Return the feed's events by summary, after a strict parse."""
    calendar = icalendar.Calendar.from_ical(fetch(key).content)
    assert calendar.errors == []
    assert all(event.errors == [] for event in calendar.walk())
    return {str(event["SUMMARY"]): event for event in calendar.walk("VEVENT")}


def test_two_libraries_read_the_same_events(quinn, item):
    _, key = make_feed(quinn)
    content = fetch(key).content
    read = icalendar.Calendar.from_ical(content).walk("VEVENT")
    one = {str(e["UID"]): (str(e["SUMMARY"]), e.decoded("DTSTART")) for e in read}
    other = vobject.readOne(content.decode())
    two = {e.uid.value: (e.summary.value, e.dtstart.value) for e in other.vevent_list}
    assert one == two
    assert len(one) >= 2
    other.validate(raiseException=True)


def test_every_line_is_folded_at_75_octets_and_ends_in_carriage_return_and_line_feed(quinn, item):
    Item.objects.filter(pk=item.pk).update(name=ODD)
    content = fetch(make_feed(quinn)[1]).content
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert max(len(line) for line in content.split(b"\r\n")) <= 75
    content.decode()  # no character is cut in two within the whole
    for line in content.replace(b"\r\n ", b"").split(b"\r\n")[:-1]:
        assert re.match(rb"[A-Z-]+[;:]", line), line


def test_odd_names_come_back_as_they_were_and_make_no_event_of_their_own(quinn, item):
    before = len(events(make_feed(quinn)[1]))
    Item.objects.filter(pk=item.pk).update(name=ODD)
    content = fetch(make_feed(quinn)[1]).content
    assert any(ODD in str(e["SUMMARY"]) for e in icalendar.Calendar.from_ical(content).walk("VEVENT"))
    assert any(ODD in e.summary.value for e in vobject.readOne(content.decode()).vevent_list)
    assert len(events(make_feed(quinn)[1])) == before


def test_the_calendar_has_what_the_standard_asks_for_and_programs_show(quinn, item):
    calendar = icalendar.Calendar.from_ical(fetch(make_feed(quinn)[1]).content)
    assert (calendar["VERSION"], calendar["CALSCALE"]) == ("2.0", "GREGORIAN")
    assert calendar["PRODID"]
    assert str(calendar["X-WR-CALNAME"]) == str(calendar["NAME"]) == f"Quinn, due: {quinn.department}"
    assert calendar.to_ical().count(b"REFRESH-INTERVAL;VALUE=DURATION:PT6H") == 1


def test_every_event_is_a_whole_day_with_an_end_that_is_not_part_of_it_and_an_alarm(quinn, item):
    for event in events(make_feed(quinn, lead_days=3)[1]).values():
        start, end = event["DTSTART"], event["DTEND"]
        assert start.params["VALUE"] == end.params["VALUE"] == "DATE"
        assert type(start.dt) is date
        assert end.dt - start.dt == timedelta(days=1)
        assert event.decoded("DTSTAMP").tzinfo is not None
        assert event.to_ical().count(b"\r\nDTSTAMP:") == 1
        assert re.search(rb"LAST-MODIFIED:\d{8}T\d{6}Z", event.to_ical())
        (alarm,) = event.walk("VALARM")
        assert (str(alarm["ACTION"]), alarm["TRIGGER"].dt) == ("DISPLAY", timedelta(days=-3, hours=9))
        assert alarm["DESCRIPTION"]


def test_no_uid_stands_twice(quinn, cache):
    for n in range(5):
        make_item(cache, "heater", f"WH-{n}")
    uids = [str(e["UID"]) for e in events(make_feed(quinn)[1]).values()]
    assert len(uids) == len(set(uids)) > 5


def test_the_day_is_the_departments_own(quinn, item):
    # Half past eight in the evening of the 9th in New York is the 10th in Greenwich.
    done = datetime(2026, 11, 10, 1, 30, tzinfo=UTC)
    check(item, "gfci", TRIPS, at=done)
    days = {e.decoded("DTSTART") for s, e in events(make_feed(quinn)[1]).items() if "GF-01" in s}
    assert days == {date(2026, 12, 9)}


def test_a_proof_moves_the_event_and_raises_its_sequence(quinn, item):
    _, key = make_feed(quinn)
    (before,) = [e for s, e in events(key).items() if s.startswith("Overdue") and "GFCI" in s and "GF-01" in s]
    check(item, "gfci", TRIPS, at=timezone.now() - timedelta(minutes=5))
    (after,) = [e for s, e in events(key).items() if "GFCI" in s and "GF-01" in s]
    assert (after["UID"], before["SEQUENCE"], after["SEQUENCE"]) == (before["UID"], 0, 1)
    assert after.decoded("DTSTART") > date.today() > before.decoded("DTSTART")  # noqa: DTZ011
    assert after.decoded("LAST-MODIFIED") >= before.decoded("LAST-MODIFIED")


def test_a_new_name_is_a_change_and_no_new_sequence(quinn, item):
    _, key = make_feed(quinn)
    events(key)
    CalendarEvent.objects.update(changed_at=timezone.now() - timedelta(days=1))
    Item.objects.filter(pk=item.pk).update(name="by the door")
    (event,) = [e for s, e in events(key).items() if "GFCI" in s and "by the door" in s]
    assert event["SEQUENCE"] == 0
    assert event.decoded("LAST-MODIFIED") > timezone.now() - timedelta(hours=1)


def test_what_has_not_changed_is_not_sent_again(quinn, item):
    _, key = make_feed(quinn)
    first = fetch(key)
    again = fetch(key, if_none_match=first["ETag"])
    assert (first.status_code, again.status_code, again.content) == (200, 304, b"")
    assert fetch(key).content == first.content
    check(item, "gfci", TRIPS, at=timezone.now() - timedelta(minutes=5))
    assert fetch(key, if_none_match=first["ETag"]).status_code == 200


def test_a_feed_answers_as_a_calendar_that_no_cache_shares(quinn, item):
    answer = fetch(make_feed(quinn)[1])
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "private" in answer["Cache-Control"]
    assert "Set-Cookie" not in answer


def test_a_wrong_key_a_revoked_one_and_one_of_somebody_who_left_are_not_there(quinn, item):
    feed, key = make_feed(quinn)
    assert fetch(key).status_code == 200
    assert fetch(key[:-1]).status_code == 404
    assert key not in {f.digest for f in CalendarFeed.objects.all()}
    Membership.objects.filter(user=quinn).update(ends_on=date(2020, 1, 1))
    assert fetch(key).status_code == 404
    Membership.objects.filter(user=quinn).update(ends_on=None)
    assert feeds.revoke_feed(feed=feed, at=timezone.now()) is True
    assert feeds.revoke_feed(feed=feed, at=timezone.now()) is False
    assert fetch(key).status_code == 404


def test_a_lines_feed_names_checks_and_neither_faults_nor_people(quinn, casey, cache, item):
    line = make_line(cache)
    check(item, "gfci", DEAD, at=timezone.now() - timedelta(days=3))
    CrewMember.objects.create(department=cache, name="Avery", line=line, qualified_until=timezone.localdate())
    _, key = make_feed(quinn, line=line)
    text = fetch(key).content.decode().replace("\r\n ", "")
    assert "GFCI" in text
    for word in ("fault", "condition", "Avery", "does not trip", "restore", "failed"):
        assert word not in text, word


def test_a_lines_feed_holds_that_line_only(quinn, cache, item):
    make_item(cache, "heater", "WH-09", line="Line B")
    text = fetch(make_feed(quinn, line=make_line(cache))[1]).content.decode()
    assert "GF-01" in text
    assert "WH-09" not in text


def test_somebodys_feed_says_what_their_role_may_know(quinn, casey, gray, cache, item):
    CrewMember.objects.create(department=cache, name="Avery", qualified_until=timezone.localdate())
    CrewMember.objects.create(department=cache, name="Casey", qualified_until=timezone.localdate())
    of = {user.username: "\n".join(events(make_feed(user)[1])) for user in (quinn, casey, gray)}
    assert "Avery" in of["quinn"]
    assert "Casey" in of["casey"]
    assert "Avery" not in of["casey"]
    assert "GF-01" not in of["gray"]


def test_a_lot_shows_the_day_it_expires(quinn, cache, item):
    lot = make_lot(cache, "soap", "L77")
    Lot.objects.filter(pk=lot.pk).update(expires_on=timezone.localdate() + timedelta(days=30))
    found = events(make_feed(quinn)[1])
    (event,) = [e for s, e in found.items() if "Lot expires" in s]
    assert event.decoded("DTSTART") == timezone.localdate() + timedelta(days=30)


# Making and ending them on the pages -------------------------------------------------------------------------------


def test_a_feed_is_made_on_the_settings_page_shown_once_and_ended_there(quinn, item, client_of):
    client = client_of(quinn)
    made = client.post("/reports/calendars/", {"lead_days": "2"})
    assert made.status_code == 201
    address = re.search(r"http://testserver(/reports/calendar/[^<]+\.ics)", made.content.decode()).group(1)
    assert Client().get(address).status_code == 200
    page = client.get("/settings/").content.decode()
    assert address not in page
    assert "2 days ahead" in page
    assert client.post(f"/reports/calendars/{CalendarFeed.objects.get().pk}/end").status_code == 302
    assert Client().get(address).status_code == 404


def test_a_lead_that_makes_no_sense_is_refused_where_it_was_typed(quinn, client_of):
    answer = client_of(quinn).post("/reports/calendars/", {"lead_days": "400"})
    assert answer.status_code == 422
    assert "90" in answer.content.decode()


def test_a_lines_feed_is_made_and_ended_on_its_page(quinn, hollis, cache, item, client_of):
    line = make_line(cache)
    made = client_of(quinn).post("/reports/calendars/", {"lead_days": "7", "line": line.pk})
    assert made.status_code == 201
    feed = CalendarFeed.objects.get()
    assert feed.line == line
    assert f"Calendar feeds of {line}" in client_of(hollis).get(f"/lines/{line.pk}/").content.decode()
    assert client_of(hollis).post(f"/reports/calendars/{feed.pk}/end").status_code == 302


def test_another_departments_line_and_feeds_are_not_there(quinn, sam, hollis, casey, cache, client_of):
    line = make_line(cache)
    feed, _ = make_feed(quinn)
    assert client_of(sam).post("/reports/calendars/", {"lead_days": "7", "line": line.pk}).status_code == 404
    assert client_of(sam).post(f"/reports/calendars/{feed.pk}/end").status_code == 404
    assert client_of(casey).post(f"/reports/calendars/{feed.pk}/end").status_code == 404
    assert client_of(quinn).post("/reports/calendars/", {"lead_days": "7", "line": "9" * 30}).status_code == 404


def test_a_visitor_takes_no_feed_away(visitor, cache, client_of):
    assert client_of(visitor).post("/reports/calendars/", {"lead_days": "7"}).status_code == 403


def test_a_second_reading_changes_nothing(quinn, item):
    feed, _ = make_feed(quinn)
    membership = Membership.objects.select_related("user", "department").get(user=quinn)
    now = timezone.now()
    first = feeds.read_feed(feed=feed, membership=membership, at=now)
    assert feeds.read_feed(feed=feed, membership=membership, at=now + timedelta(seconds=1)) == first
