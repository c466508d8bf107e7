"""Facts as of any instant, as known at another."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from inspections.services import record_inspection
from inventory.models import Item, Line
from inventory.queries import cylinder_dates
from inventory.services import record_state
from readiness import queries
from readiness.rating.mission import Mission
from readiness.rating.rate import rate
from tests.readiness.conftest import DEMO_DAY

EVENING = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)


def _now() -> datetime:
    return timezone.now()


def test_facts_hold_every_item_of_the_line_with_its_modes(line_b):
    facts = queries.gather(line_b, EVENING, _now())
    heater = next(i for i in facts.items if i.tag == "WH-03")
    assert len(facts.items) == 47
    assert {m.mode for m in heater.modes} >= {"heater:WH1", "heater:WH3", "heater:WH5"}
    assert heater.measured["heater_output_w"].value == pytest.approx(45_600, rel=0.01)


def test_one_line_and_the_whole_department_are_told_the_same(demo):
    at, known = EVENING, _now()
    together = queries.gather_department(demo, at, known)
    for line in Line.objects.filter(department=demo).select_related("department"):
        assert queries.gather(line, at, known) == together[line.pk]


def test_gathering_takes_the_same_number_of_queries_for_any_line(line_b, django_assert_max_num_queries):
    with django_assert_max_num_queries(44):
        queries.gather(line_b, EVENING, _now())


def test_a_past_instant_knows_nothing_of_what_came_later(line_b):
    then = datetime(2026, 6, 1, 12, tzinfo=UTC)
    facts = queries.gather(line_b, then, _now())
    newest = max(m.proven_at for i in facts.items for m in i.modes if m.proven_at)
    assert newest <= then


def test_what_was_learned_later_is_left_out_of_what_was_believed(line_b):
    before_loading = datetime(2026, 11, 1, tzinfo=UTC)
    believed = queries.gather(line_b, EVENING, before_loading)
    assert believed.items == ()
    assert queries.gather(line_b, EVENING, _now()).items


def test_an_outage_entered_late_is_known_since_and_was_not_believed_then(line_b, quinn):
    known_before = _now()
    heater = Item.objects.get(department=line_b.department, tag="WH-03")
    out_since = datetime.combine(DEMO_DAY, datetime.min.time(), tzinfo=UTC) - timedelta(days=3)
    record_state(
        department=line_b.department,
        item=heater,
        event="taken out",
        happened_at=out_since,
        by=None,
        by_name="Quinn",
        reason="split burner",
        mode_code="WH2",
        client_id=uuid4(),
    )
    at = out_since + timedelta(days=1)
    state = {
        k: next(i for i in queries.gather(line_b, at, k).items if i.tag == "WH-03").state
        for k in (known_before, _now())
    }
    assert list(state.values()) == ["in service", "out of service"]


def test_a_failed_check_puts_the_time_back_to_the_last_good_proof_in_doubt(line_b):
    record_inspection(
        department=line_b.department,
        check_key="relief",
        item=Item.objects.get(tag="SH-02"),
        values={"plate_psi": "3.5", "lift_psi": "4.4"},
        happened_at=EVENING,
        by_name="Casey",
        client_id=uuid4(),
    )
    facts = queries.gather(line_b, EVENING + timedelta(minutes=1), _now() + timedelta(days=9))
    rating = rate(facts, Mission.from_json(dict(facts.rated_mission)))
    assert rating.word == "Down"
    assert any(d.item == "SH-02" and d.mode == "RV1" and d.since.month == 11 for d in rating.in_doubt)


def test_cylinder_dates_that_contradict_each_other_say_nothing():
    assert cylinder_dates("propane", {"made": "2020-05", "requal": "2019-01"}) == (None, None)


def test_a_propane_cylinder_is_due_twelve_years_after_it_was_made():
    # 49 CFR 180.209(e): first requalification twelve years after manufacture, month precision
    due, removed = cylinder_dates("propane", {"made": "2014-06"})
    assert (due.year, due.month, removed) == (2026, 6, None)


def test_a_line_made_by_hand_before_any_catalogue_is_gathered_and_rated(department):
    line = Line.objects.create(department=department, name="New line")
    rating = rate(queries.gather(line, EVENING, EVENING), Mission())
    assert rating.word in ("Down", "Limited")
    assert "shelter" in rating.not_recorded


def test_a_lots_count_says_when_it_goes_stale(line_b):
    facts = queries.gather(line_b, EVENING, _now())
    for lot in facts.stocks:
        if lot.counted_on is None:
            assert lot.stale_at is None
        else:
            assert (lot.stale_at.date() - lot.counted_on).days == queries.COUNT_TRUSTED_DAYS + 1
            assert lot.stale == (lot.stale_at <= EVENING)
    assert any(lot.stale_at for lot in facts.stocks)


def test_a_line_that_was_never_drilled_has_its_training_not_established(line_b):
    then = datetime(2025, 1, 1, 12, tzinfo=UTC)
    assert "line PE1" in rate(queries.gather(line_b, then, _now()), Mission()).not_established
