"""Who counts as crew on a day."""

from datetime import date

import pytest

from inventory.crew_currency import currency
from inventory.models import CrewMember
from inventory.queries import crew_of
from tests.inventory.registers import make_line

ON = date(2026, 11, 24)


def test_a_printed_end_decides_alone_and_counts_on_its_last_day():
    assert currency(ON, qualified_on=None, qualified_until=ON).qualified
    assert not currency(ON, qualified_on=date(2026, 11, 1), qualified_until=date(2026, 11, 23)).qualified


@pytest.mark.parametrize(
    ("since", "qualified"),
    [(date(2024, 11, 24), True), (date(2024, 11, 23), False), (ON, True), (date(2026, 11, 25), False)],
)
def test_a_course_counts_for_two_years_from_its_day(since, qualified):
    assert currency(ON, qualified_on=since, qualified_until=None).qualified is qualified


def test_a_course_says_until_when_it_counts():
    assert currency(ON, qualified_on=date(2025, 2, 10), qualified_until=None).until == date(2027, 2, 10)


def test_nobody_counts_without_a_date():
    assert not currency(ON, qualified_on=None, qualified_until=None).qualified


def test_a_rule_of_no_months_is_no_rule():
    with pytest.raises(ValueError, match="months"):
        currency(ON, qualified_on=ON, qualified_until=None, months=0)


@pytest.mark.django_db
def test_a_line_has_its_own_crew_and_that_of_every_line(department):
    ours, theirs = make_line(department), make_line(department, "Line B")
    for name, line in (("Casey", ours), ("Avery", theirs), ("Quinn", None)):
        CrewMember.objects.create(department=department, name=name, line=line, qualified_on=date(2026, 1, 1))
    CrewMember.objects.create(department=department, name="Reese", left_on=date(2026, 6, 1))
    assert [(c.name, c.qualified) for c in crew_of(ours, ON)] == [("Casey", True), ("Quinn", True)]


@pytest.mark.django_db
def test_no_roster_is_not_the_same_as_nobody(department, other_department):
    line = make_line(department)
    assert crew_of(line, ON) is None
    CrewMember.objects.create(department=department, name="Casey", left_on=date(2020, 1, 1))
    assert crew_of(line, ON) == []
