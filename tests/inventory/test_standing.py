"""What stands where, as of any instant, as known at any other."""

from datetime import UTC, date, datetime, timedelta

import pytest

from inventory.models import Place, Posting
from inventory.queries import standing, standing_of_department, standing_of_items
from inventory.services import record_count, record_posting, record_state
from tests.inventory.registers import make_item, make_line, make_lot

JAN, FEB, MAR, APR = (datetime(2024, month, 1, 12, 0, tzinfo=UTC) for month in (1, 2, 3, 4))
NOW = datetime(2024, 6, 1, tzinfo=UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture
def line(department):
    return make_line(department)


def the_item(line, at=NOW, known_at=NOW):
    (found,) = standing(line, at, known_at).items
    return found


def test_an_item_stands_where_it_was_registered(department, line):
    item = make_item(department, line=line, quantity=6, since=JAN)
    found = the_item(line)
    assert (found.item, found.quantity, found.counted_on, found.state) == (item, 6, None, "in service")


def test_nothing_stands_before_it_came(department, line):
    make_item(department, line=line, since=FEB)
    assert standing(line, JAN, NOW).items == ()
    assert standing(line, NOW, JAN).items == ()


def test_the_newest_count_stands_and_later_postings_add_to_it(department, line):
    item = make_item(department, line=line, quantity=6, since=JAN)
    said = {"department": department, "item": item, "by_name": "Quinn"}
    record_count(counted=4, happened_at=FEB, recorded_at=FEB, **said)
    record_posting(change=1, reason="received", line=line, happened_at=MAR, recorded_at=MAR, **said)
    assert [the_item(line, at, NOW).quantity for at in (JAN, FEB, MAR)] == [6, 4, 5]
    assert the_item(line).counted_on == date(2024, 2, 1)


def test_a_count_older_than_the_register_beats_the_register(department, line):
    item = make_item(department, line=line, quantity=6, since=MAR)
    record_count(department=department, item=item, counted=4, happened_at=FEB, recorded_at=MAR, by_name="Quinn")
    assert the_item(line).quantity == 4


def test_a_count_of_none_makes_an_item_absent_since_the_count(department, line):
    item = make_item(department, line=line, since=JAN)
    record_count(department=department, item=item, counted=0, happened_at=FEB, recorded_at=FEB, by_name="Quinn")
    found = the_item(line)
    assert (found.state, found.state_since, found.quantity) == ("absent", FEB, 0)


def test_a_move_takes_an_item_to_another_line(department, line):
    other = make_line(department, "Line B")
    bay = Place.objects.create(department=department, name="Station 11, bay 2")
    item = make_item(department, line=line, since=JAN)
    record_posting(
        department=department, item=item, change=0, reason="moved", line=other, place=bay,
        happened_at=FEB, recorded_at=FEB, by_name="Quinn",
    )  # fmt: skip
    assert standing(line, NOW, NOW).items == ()
    assert the_item(other).place == bay
    assert the_item(line, JAN, NOW).item == item


def test_what_was_used_up_keeps_its_place(department, line):
    item = make_item(department, line=line, quantity=6, since=JAN)
    record_posting(
        department=department, item=item, change=-2, reason="used", happened_at=FEB, recorded_at=FEB, by_name="Quinn"
    )
    assert (the_item(line).quantity, the_item(line).line) == (4, line)


def test_a_correction_changes_what_is_known_since_not_what_was_known_then(department, line):
    item = make_item(department, line=line, quantity=6, since=JAN)
    said = {"department": department, "item": item, "by_name": "Quinn", "happened_at": FEB}
    wrong = record_count(counted=2, recorded_at=FEB, **said)
    record_count(counted=5, recorded_at=APR, corrects=wrong, **said)
    assert the_item(line, MAR, MAR).quantity == 2
    assert the_item(line, MAR, NOW).quantity == 5


def test_a_late_record_is_told_apart_from_an_early_one(department, line):
    item = make_item(department, line=line, since=JAN)
    record_state(
        department=department, item=item, event="taken out", mode_code="WH1", reason="will not light",
        happened_at=FEB, recorded_at=APR, by_name="Casey",
    )  # fmt: skip
    assert the_item(line, MAR, MAR).state == "in service"
    known_since = the_item(line, MAR, NOW)
    assert (known_since.state, known_since.state_since, known_since.state_reason) == (
        "out of service", FEB, "will not light",
    )  # fmt: skip


def test_a_disposed_item_is_listed_on_no_line(department, line):
    item = make_item(department, line=line, since=JAN)
    record_posting(
        department=department, item=item, change=-1, reason="disposed", happened_at=FEB, recorded_at=FEB, by_name="Gray"
    )
    assert standing(line, NOW, NOW).items == ()
    (found,) = standing_of_department(department, NOW, NOW).items
    assert (found.state, found.line) == ("disposed", None)


def test_a_lot_on_two_lines_is_counted_on_each(department, line):
    other = make_line(department, "Line B")
    lot = make_lot(department, line=line, on_hand=100)
    said = {"department": department, "lot": lot, "by_name": "Quinn", "happened_at": FEB, "recorded_at": FEB}
    record_posting(change=-30, reason="moved", line=line, **said)
    record_posting(change=30, reason="moved", line=other, **said)
    record_count(
        department=department, lot=lot, counted=25, line=other, happened_at=MAR, recorded_at=MAR, by_name="Quinn"
    )
    on_hand = {s.line.name: s.on_hand for s in standing_of_department(department, NOW, NOW).lots}
    assert on_hand == {"Line A": 70, "Line B": 25}
    assert [s.on_hand for s in standing(other, NOW, NOW).lots] == [25]


def test_a_count_of_a_lot_on_one_line_finds_that_line(department, line):
    lot = make_lot(department, line=line, on_hand=100)
    record_count(department=department, lot=lot, counted=90, happened_at=MAR, recorded_at=MAR, by_name="Quinn")
    assert [(s.on_hand, s.counted_on) for s in standing(line, NOW, NOW).lots] == [(90, date(2024, 3, 1))]


def test_another_departments_things_stand_nowhere_here(department, other_department, line):
    make_item(other_department, tag="X-1", line=make_line(other_department), since=JAN)
    assert standing_of_department(department, NOW, NOW).items == ()


@pytest.mark.parametrize("many", [1, 30])
def test_a_line_is_read_in_as_many_queries_however_much_it_carries(department, line, many, django_assert_num_queries):
    for n in range(many):
        item = make_item(department, tag=f"WH-{n}", line=line, since=JAN)
        make_lot(department, number=f"L{n}", line=line)
        record_count(department=department, item=item, counted=1, happened_at=FEB, recorded_at=FEB, by_name="Quinn")
    with django_assert_num_queries(9):
        found = standing(line, NOW, NOW)
    assert len(found.items) == len(found.lots) == many
    with django_assert_num_queries(9):
        [(s.item.kind.key, s.item.department.name, s.place, s.line.name) for s in standing(line, NOW, NOW).items]
    with django_assert_num_queries(9):
        standing_of_department(department, NOW, NOW)


def test_some_items_are_read_by_id(department, line):
    items = [make_item(department, tag=f"WH-{n}", line=line, since=JAN) for n in range(3)]
    found = standing_of_items(items[:2], NOW, NOW)
    assert set(found) == {i.pk for i in items[:2]}
    assert standing_of_items([], NOW, NOW) == {}


def test_a_past_day_is_not_changed_by_what_happened_after_it(department, line):
    item = make_item(department, line=line, quantity=6, since=JAN)
    before = the_item(line, FEB, FEB)
    record_posting(
        department=department, item=item, change=-6, reason=Posting.Reason.LOST, happened_at=MAR, recorded_at=MAR,
        by_name="Quinn",
    )  # fmt: skip
    assert the_item(line, FEB, FEB) == before
    assert the_item(line, MAR + timedelta(seconds=1), NOW).state == "absent"
