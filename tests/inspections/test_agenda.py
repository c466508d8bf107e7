"""What falls due, and what moves its day: a proof, and nothing else."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from inspections import queries, services
from inspections.queries import Wanted, agenda
from inspections.queries.agenda import campaigns
from inventory.models import CrewMember, Lot, Order, OrderEvent, Posting
from shared.models import Department
from tests.inspections.building import check, day, load, make_item, make_line, make_place

GFCI = "test_trips=yes; reset=yes; ground_ohm=0.2; jacket=none"
HOLD = (
    "p_set_psi=3.0; rest_min=60; p1_psi=3.0; t1_degF=60; p2_psi=2.95; t2_degF=60; hold_min=60; same_gauge=yes; "
    "direct_sun=no; relief_lifted=no; reached_set=yes; soap_result=none"
)
HEAT = "lit=yes; leaks=none; drained=yes; blown_out=yes"
LONG = timedelta(days=400)


@pytest.fixture
def cache(department):
    return load(department)


def row_of(department, item, check_key, on, **wanted):
    rows = [r for r in agenda(department, on, on + LONG, **wanted) if r.item == item and r.check_key == check_key]
    assert len(rows) == 1, rows
    return rows[0]


def test_a_proof_puts_the_day_off_by_its_interval(cache):
    item = make_item(cache, "gfci", "GF-01")
    before = row_of(cache, item, "gfci", day(0).date())
    assert (before.due_on, before.why) == (date(2026, 1, 1), "never proven")
    check(item, "gfci", GFCI, at=day(1))
    after = row_of(cache, item, "gfci", day(2).date())
    assert (after.due_on, after.why) == (date(2026, 7, 2), "its interval")


def test_asking_on_another_day_moves_no_day(cache):
    item = make_item(cache, "gfci", "GF-01")
    check(item, "gfci", GFCI, at=day(1))
    check(item, "gfci", "test_trips=no; reset=no", at=day(9))
    days = {row_of(cache, item, "gfci", day(n).date()).due_on for n in (9, 20, 90)}
    assert days == {day(9).date()}
    assert "by condition" in row_of(cache, item, "gfci", day(20).date()).why


def test_a_void_check_moves_no_day(cache):
    item = make_item(cache, "shelter", "SH-01")
    before = row_of(cache, item, "hold", day(5).date())
    done = check(item, "hold", HOLD.replace("direct_sun=no", "direct_sun=yes"), at=day(4))
    assert done.verdict == "void"
    assert row_of(cache, item, "hold", day(5).date()) == before


def test_a_look_that_claims_moves_no_day_of_a_mode_that_it_cannot_see(cache):
    item = make_item(cache, "heater", "WH-01")
    before = row_of(cache, item, "heat", day(5).date())
    check(item, "look", "seen=yes; damage=none", at=day(4))
    assert row_of(cache, item, "heat", day(5).date()) == before


def use(item, at):
    services.record_upkeep(
        department=item.department, item=item, sort="used", happened_at=at, by_name="Casey", client_id=uuid.uuid4()
    )


def test_use_makes_what_it_reopens_due_on_the_day_of_use(cache):
    item = make_item(cache, "tarp", "TP-01")
    check(item, "look", "seen=yes; damage=none; holes=none", at=day(0))
    assert row_of(cache, item, "look", day(9).date()).due_on == date(2026, 7, 1)
    use(item, day(8))
    after = row_of(cache, item, "look", day(9).date())
    assert (after.due_on, after.why) == (day(8).date(), "after use")


def test_what_was_due_before_a_use_keeps_its_earlier_day_and_says_both(cache):
    item = make_item(cache, "shelter", "SH-01")
    check(item, "hold", HOLD, at=day(0))
    use(item, day(8))
    after = row_of(cache, item, "hold", day(9).date())
    assert (after.due_on, after.why) == (date(2026, 1, 1), "never proven; after use")


def test_each_check_names_its_rule_its_origin_and_its_source(cache):
    cord = make_item(cache, "cord", "CO-01")
    shelter = make_item(cache, "shelter", "SH-01")
    law, policy = row_of(cache, cord, "gfci", day(0).date()), row_of(cache, shelter, "hold", day(0).date())
    assert (law.origin, law.rule.months, law.grace_days) == ("law", 3, 0)
    assert "1926.404" in law.source
    assert (policy.origin, policy.grace_days) == ("local policy", 30)
    assert policy.source.startswith("local policy: inflate, hold")


def test_the_season_campaigns_stand_in_the_months_the_cold_season_starts_and_ends(cache):
    cache.cold_season_from, cache.cold_season_to = 11, 3
    found = campaigns(cache, date(2026, 6, 1), date(2027, 5, 1))
    assert [(name, last) for name, _, last in found] == [
        ("Spring proof", date(2026, 3, 31)),
        ("Cold-weather cut-over", date(2026, 11, 30)),
        ("Spring proof", date(2027, 3, 31)),
    ]


def test_a_campaign_leaves_when_every_check_that_sees_the_cold_has_passed_for_it(cache):
    item = make_item(cache, "heater", "WH-01")
    on = date(2026, 11, 20)
    (row,) = agenda(cache, on, on, wanted=Wanted(sort="season"))
    assert (row.what, row.due_on, row.is_overdue(on)) == ("Cold-weather cut-over", date(2026, 10, 31), True)
    assert [(one.tag, key) for one, key, _ in row.open_checks] == [("WH-01", "heat")]
    done = check(item, "heat", HEAT, at=datetime(2026, 10, 12, 15, tzinfo=UTC))
    assert done.verdict == "pass"
    assert agenda(cache, on, on, wanted=Wanted(sort="season")) == []


def test_what_is_asked_at_sending_has_no_day_and_comes_last(cache):
    make_item(cache, "gfci", "GF-01")
    rows = agenda(cache, day(0).date(), day(9).date())
    assert rows[-1].due_on is None
    assert (rows[-1].sort, rows[-1].what, rows[-1].subject) == ("sending", "GFCI and cord", "Line A")


def test_lots_cylinders_crew_orders_and_passes_have_their_days(cache, visitor, quinn):
    line, on = make_line(cache), datetime.now(UTC).date()
    cylinder = make_item(cache, "propane", "LP-01")
    kind = cache.kinds.get(key="soap")
    lot = Lot.objects.create(
        department=cache, kind=kind, number="L1", name="Soap", received_on=on, expires_on=on + timedelta(days=20)
    )
    said = {"department": cache, "by_name": "Quinn", "happened_at": datetime.now(UTC) - timedelta(hours=1)}
    Posting.objects.create(lot=lot, change=4, line=line, reason="received", client_id=uuid.uuid4(), **said)
    CrewMember.objects.create(department=cache, name="Avery", qualified_until=on + timedelta(days=11))
    order = Order.objects.create(
        kind=kind, quantity=9, expected_on=on + timedelta(days=5), client_id=uuid.uuid4(), **said
    )
    OrderEvent.objects.create(
        order=order, event="dated", expected_on=on + timedelta(days=15), client_id=uuid.uuid4(), **said
    )
    rows = agenda(cache, on, on + 5 * LONG, with_passes=True)
    of = {row.sort: row for row in rows if row.sort != "check"}
    assert of["expiry"].due_on == on + timedelta(days=20)
    assert of["crew"].due_on == on + timedelta(days=11)
    assert of["order"].due_on == on + timedelta(days=15)
    assert of["pass"].due_on == visitor.membership.ends_on
    assert (of["cylinder"].item, of["cylinder"].due_on) == (cylinder, date(2030, 1, 31))


def test_the_agenda_is_asked_by_line_place_kind_check_and_person(cache):
    make_item(cache, "gfci", "GF-01", custodian="Avery")
    make_item(cache, "shelter", "SH-01", line="Line B")
    on = day(0).date()

    def tags(**of):
        return {r.item.tag for r in agenda(cache, on, on + LONG, wanted=Wanted(**of)) if r.item}

    assert tags(line=make_line(cache, "Line B")) == {"SH-01"}
    assert tags(kind=cache.kinds.get(key="gfci")) == {"GF-01"}
    assert tags(person="Avery") == {"GF-01"}
    assert tags(check_key="hold") == {"SH-01"}
    assert tags(place=make_place(cache, "Nowhere")) == set()


def test_the_agenda_takes_a_number_of_queries_that_items_do_not_add_to(cache, django_assert_max_num_queries):
    on = day(0).date()
    make_item(cache, "gfci", "GF-00")
    make_item(cache, "heater", "WH-00")
    with django_assert_max_num_queries(60) as few:
        agenda(cache, on, on + LONG)
    for n in range(1, 9):
        make_item(cache, "gfci", f"GF-0{n}")
        make_item(cache, "heater", f"WH-0{n}")
    with django_assert_max_num_queries(len(few) + 1):
        agenda(Department.objects.get(pk=cache.pk), on, on + LONG)


def test_another_departments_dates_are_not_in_it(cache, other_department):
    make_item(cache, "gfci", "GF-01")
    load(other_department)
    on = day(0).date()
    assert [row for row in agenda(other_department, on, on + LONG) if row.item] == []
    assert queries.due([], on) == []
