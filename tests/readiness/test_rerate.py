"""Ratings are kept, follow the facts, and come round by themselves."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from inspections.services import record_inspection
from inventory.models import Item, Line
from readiness import queries, services
from readiness.models import LineState, StoredRating
from readiness.rating.mission import Mission
from readiness.tasks import rerate_due

NOW = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)
SPLIT = {"lit": "no", "tries": "6"}


def _fail_heater(line: Line, **extra: object) -> None:
    record_inspection(
        department=line.department,
        check_key="heat",
        item=Item.objects.get(department=line.department, tag="WH-03"),
        values=SPLIT,
        happened_at=NOW,
        by_name="Casey",
        client_id=uuid4(),
        **extra,
    )


def test_the_newest_rating_is_the_one_that_stands(line_b):
    first = queries.stored(line_b)
    second = services.rerate(line=line_b, at=NOW, because="asked")
    assert queries.stored(line_b) == second != first
    assert StoredRating.objects.filter(pk=first.pk).exists()


def test_a_failed_check_marks_its_line_stale_in_the_same_transaction(line_b):
    LineState.objects.filter(line=line_b).update(stale_since=None)
    _fail_heater(line_b)
    assert LineState.objects.get(line=line_b).stale_since is not None


def test_a_failed_check_rates_its_line_again_when_it_is_committed(line_b, django_capture_on_commit_callbacks):
    assert queries.stored(line_b).word == "Whole"
    with django_capture_on_commit_callbacks(execute=True):
        _fail_heater(line_b)
    rating = queries.stored(line_b)
    assert (rating.word, rating.reason) == ("Limited", "short")
    assert LineState.objects.get(line=line_b).stale_since is None


def test_other_lines_are_left_as_they_were(demo, line_b, django_capture_on_commit_callbacks):
    other = Line.objects.get(department=demo, name="Line A")
    before = queries.stored(other)
    with django_capture_on_commit_callbacks(execute=True):
        _fail_heater(line_b)
    assert queries.stored(other) == before


def test_the_scheduler_rates_what_a_dead_process_left_stale(line_b):
    LineState.objects.filter(line__department=line_b.department).update(stale_since=None, rate_at=None)
    services.mark_stale(lines=[line_b], at=timezone.now())
    assert rerate_due() == 1
    assert rerate_due() == 0


def test_the_scheduler_rates_a_line_whose_instant_has_passed_and_no_other(line_b):
    LineState.objects.filter(line__department=line_b.department).update(stale_since=None, rate_at=None)
    LineState.objects.filter(line=line_b).update(rate_at=timezone.now() - timedelta(minutes=1))
    before = queries.stored(line_b)
    assert rerate_due() == 1
    assert queries.stored(line_b) != before


def test_a_change_that_comes_while_a_line_is_being_rated_stays_marked(line_b, monkeypatch):
    gather = queries.gather

    def gather_then_change(*args):
        facts = gather(*args)
        services.mark_stale(lines=[line_b], at=NOW + timedelta(seconds=1))
        return facts

    services.mark_stale(lines=[line_b], at=NOW)
    monkeypatch.setattr(queries, "gather", gather_then_change)
    services.rerate(line=line_b, at=NOW)
    assert LineState.objects.get(line=line_b).stale_since == NOW + timedelta(seconds=1)


def test_a_slow_rating_of_older_facts_does_not_take_the_place_of_a_newer_one(line_b, monkeypatch):
    gather, later = queries.gather, NOW + timedelta(days=400)
    newer = []

    def overtaken(line, at, known_at):
        facts = gather(line, at, known_at)
        monkeypatch.setattr(queries, "gather", gather)
        newer.append(services.rerate(line=line, at=later, because="the other one"))
        return facts

    monkeypatch.setattr(queries, "gather", overtaken)
    slow = services.rerate(line=line_b, at=NOW, because="slow")
    assert queries.stored(line_b) == newer[0] != slow


def test_a_rating_that_fails_does_not_make_what_was_recorded_look_refused(
    line_b, monkeypatch, django_capture_on_commit_callbacks, caplog
):
    monkeypatch.setattr(services, "rate", _broken)
    with django_capture_on_commit_callbacks(execute=True):
        _fail_heater(line_b)
    assert "no such line can be rated" in caplog.text
    assert LineState.objects.get(line=line_b).stale_since is not None


def test_a_line_that_cannot_be_rated_keeps_no_other_from_it(demo, line_b, monkeypatch):
    LineState.objects.filter(line__department=demo).update(stale_since=NOW)
    rate = services.rate
    monkeypatch.setattr(
        services, "rate", lambda facts, mission: (_broken if facts.line == "Line B" else rate)(facts, mission)
    )
    assert rerate_due() == 2
    left = LineState.objects.filter(stale_since__isnull=False).values_list("line__name", flat=True)
    assert list(left) == ["Line B"]


def _broken(facts, mission):
    raise ValueError("no such line can be rated")


def test_a_rating_says_when_it_must_be_looked_at_again(line_b):
    rating = services.rerate(line=line_b, at=NOW)
    assert NOW < rating.next_change_at <= NOW + timedelta(days=30)
    assert LineState.objects.get(line=line_b).rate_at == rating.next_change_at


def test_the_head_sets_what_a_line_is_judged_against(line_b, hollis, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        services.set_rated_mission(
            line=line_b, mission=Mission.from_json({"people_per_hour": 90}), by=hollis, at=timezone.now()
        )
    assert queries.stored(line_b).reason == "short"
    assert queries.rated_mission(line_b, timezone.now()).people_per_hour == 90


def test_an_asked_mission_stores_nothing(line_b):
    before = StoredRating.objects.count()
    rating = services.ask(line=line_b, mission=Mission.from_json({"people_per_hour": 30, "hours": 1}), at=NOW)
    assert rating.mission.people_per_hour == 30
    assert StoredRating.objects.count() == before


@pytest.mark.parametrize(
    ("name", "word", "reason"),
    [
        ("Line A", "Limited", "short"),
        ("Line B", "Whole", ""),
        ("Line C", "Down", ""),
    ],
)
def test_the_demo_shows_each_word_for_a_stated_reason(demo, name, word, reason):
    rating = queries.stored(Line.objects.get(department=demo, name=name))
    assert (rating.word, rating.reason) == (word, reason)
    if word != "Whole":
        assert rating.rating["limits"]
