"""How long a proof is trusted, and what reopens it."""

from datetime import UTC, date, datetime, timedelta

import pytest

from inspections import schedule
from inspections.schedule import Override, Rule, rule_for

AT = datetime(2026, 1, 31, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("letters", "months", "grace"),
    [
        ("M", 1, 5),
        ("Q", 3, 10),
        ("A", 12, 30),
        ("W", 12, 30),
        ("D", 6, 30),
        ("A U", 12, 30),
        ("A D", 6, 30),
        ("M B", 1, 5),
        ("Q W", 3, 10),
        ("M Q", 1, 5),
    ],
)
def test_the_shortest_calendar_interval_governs(letters, months, grace):
    rule = rule_for(letters)
    assert (rule.months, rule.grace_days) == (months, grace)


def test_after_use_and_before_deployment_are_events_and_no_calendar():
    assert rule_for("U") == Rule(None, 0, frozenset("U"))
    assert rule_for("A U").events == frozenset("U")
    assert rule_for("") == Rule(None)


def test_the_law_wins_over_the_maker_and_the_maker_over_the_letters():
    assert rule_for("M", Override(6, 9, "maker")).months == 6
    assert rule_for("M", Override(24, 9, "law", "2 CFR 200.313(d)(2)")) == Rule(
        24, 0, frozenset(), "law", "2 CFR 200.313(d)(2)"
    )
    assert rule_for("M", Override(6, 9, "standard")).months == 1
    assert rule_for("", Override(6, 9, "policy")).months == 6


def test_a_proof_is_due_on_the_same_day_of_the_month_or_its_last():
    assert schedule.due_at(AT, 1) == datetime(2026, 2, 28, 12, tzinfo=UTC)
    assert schedule.due_at(AT, None) is None


def test_evidence_is_stale_when_the_grace_is_over_and_never_where_no_calendar_asks():
    assert schedule.stale_at(AT, 1, 5) == datetime(2026, 2, 28, 12, tzinfo=UTC) + timedelta(days=5)
    assert schedule.stale_at(AT, None, 5) is None


def test_what_was_never_proven_is_due_at_once():
    assert schedule.due_on(None, 1, date(2026, 1, 1)) == date(2026, 1, 1)
    assert schedule.due_on(None, None, date(2026, 1, 1)) is None


def test_use_reopens_what_is_proven_after_use_and_what_was_filled():
    assert schedule.USE in schedule.reopened_by("SH1", "dormant", "A U")
    assert schedule.USE not in schedule.reopened_by("RV1", "dormant", "A")
    assert schedule.reopened_by("LP1", "condition", "M") == {schedule.USE, schedule.REFILL}
    assert schedule.MOVE in schedule.reopened_by("HO6", "condition", "M B")


def test_a_stamped_date_is_reopened_by_nothing():
    assert schedule.reopened_by("LP2", "condition", "M") == frozenset()
