"""Line: what one line can do and why, now and at a past instant, and the mission it is rated against."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Item, ItemKind, Posting, StateEvent
from inventory.services import load_catalogue
from readiness.models import RatedMission
from tests.flows.ratings import FUNCTIONS, down, function_row, item_row, make_line, rating, store, whole

pytestmark = pytest.mark.django_db
LAST_YEAR = datetime(2025, 11, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def as_quinn(quinn, client_of):
    return client_of(quinn)


@pytest.fixture
def line(department):
    load_catalogue(department=department, on=date(2024, 1, 1))
    return make_line(department)


def address(line, query: str = "") -> str:
    return reverse("readiness:line", args=[line.pk]) + query


def page_of(client, line, query: str = "") -> str:
    answer = client.get(address(line, query))
    assert answer.status_code == 200
    return answer.content.decode()


def put_on(line, tag: str, kind: str, *, since: datetime = LAST_YEAR) -> Item:
    held = ItemKind.objects.get(department=line.department, key=kind)
    item = Item.objects.create(department=line.department, kind=held, tag=tag, name=held.name)
    Posting.objects.create(
        department=line.department,
        item=item,
        change=1,
        place=line.home,
        line=line,
        reason=Posting.Reason.REGISTERED,
        happened_at=since,
        recorded_at=since,
        by_name="Quinn",
    )
    return item


def test_the_heading_says_word_score_range_and_first_limit(as_quinn, line):
    store(line, rating())
    page = page_of(as_quinn, line)
    assert "Limited: short" in page
    assert "score 0 in 100" in page
    assert "(0 to 0)" in page
    assert "First limit: heat, one lane: 155,800 of 244,000 BTU/h, measured 9 Nov 2026" in page
    assert "Rated 20 Nov 2026, 13:00 EST" in page


def test_limits_say_have_need_when_they_bite_and_on_what_they_rest(as_quinn, line):
    store(line, rating())
    page = page_of(as_quinn, line)
    assert "188,000 of 297,600 BTU/h" in page
    assert "at 1 h 40 min" in page
    assert "from the start" in page
    assert "heads 76 °F at the full rate" in page


def test_all_fourteen_functions_are_listed_with_their_items(as_quinn, line):
    item = item_row(
        "WH-01", evidence="stale", mode="HT1", probability=91.3, basis="plate", capacity=155_800, unit="BTU/h"
    )
    functions = [function_row("heat", items=[item]), *(function_row(n) for n in FUNCTIONS if n != "heat")]
    store(line, rating(functions=functions))
    page = page_of(as_quinn, line)
    for name in FUNCTIONS:
        assert f'id="fn-{name}"' in page
    assert "91 in 100" in page
    assert "155,800 BTU/h" in page


def test_a_failure_mode_is_named_and_not_only_coded(as_quinn, line):
    store(line, whole("Line A", blind_spots=["SH3"], not_established=["SH-01 SH5"]))
    page = page_of(as_quinn, line)
    assert "SH3 Seam delamination" in page
    assert "SH5 Fabric cracks when unrolled cold: SH-01" in page


def test_a_line_never_rated_still_shows_what_is_recorded_of_its_items(as_quinn, line):
    put_on(line, "WH-01", "heater")
    page = page_of(as_quinn, line)
    assert "Line A is not rated yet." in page
    assert "WH-01" in page
    assert "never proven" in page


def test_a_line_that_is_down_says_which_function_is_at_zero(as_quinn, line):
    store(line, down("Line A"))
    page = page_of(as_quinn, line)
    assert "Down: inflation" in page
    assert "Line A can wash nobody tonight." in page
    assert "IN-03 out of service" in page


def test_a_line_that_nothing_holds_says_what_would_come_next(as_quinn, line):
    store(line, whole("Line A"))
    assert "Nothing holds it below its rated mission." in page_of(as_quinn, line)


def test_an_item_out_of_service_is_shown_with_its_state(as_quinn, line, quinn):
    item = put_on(line, "WH-02", "heater")
    StateEvent.objects.create(
        department=line.department, item=item, event="taken out", happened_at=LAST_YEAR, by_name="Quinn"
    )
    store(line, whole("Line A"))
    assert "out of service" in page_of(as_quinn, line)


def test_the_line_of_another_department_is_not_found(as_quinn, other_department):
    theirs = make_line(other_department, "Line Z")
    store(theirs, whole("Line Z"))
    assert as_quinn.get(address(theirs)).status_code == 404


def test_a_visitor_reads_a_line_and_is_offered_no_mission_to_set(visitor, client_of, line):
    store(line, whole("Line A"))
    page = page_of(client_of(visitor), line)
    assert "Rated mission" in page
    assert "Set another mission" not in page


def test_no_part_of_a_line_carries_an_inline_style(as_quinn, line):
    put_on(line, "WH-01", "heater")
    store(line, rating())
    assert "style=" not in page_of(as_quinn, line)


# The rated mission -------------------------------------------------------------------------------------------------


def test_a_mission_nobody_set_is_said_to_be_assumed(as_quinn, line):
    store(line, whole("Line A"))
    assert "Nobody has set one" in page_of(as_quinn, line)


def test_the_head_sets_a_mission_with_a_name_and_a_reason(hollis, client_of, line):
    client = client_of(hollis)
    sent = {"people_per_hour": "45", "hours": "2", "note": "One shelter is lent until May"}
    answer = client.post(reverse("readiness:set-mission", args=[line.pk]), sent)
    assert answer.url == address(line)
    row = RatedMission.objects.get(line=line)
    assert (row.mission["people_per_hour"], row.mission["hours"], row.set_by) == (45, 2, hollis)
    store(line, whole("Line A"))
    page = page_of(client, line)
    assert "Set by Hollis on" in page
    assert "One shelter is lent until May" in page


def test_a_mission_out_of_range_is_refused_beside_its_field(hollis, client_of, line):
    store(line, whole("Line A"))
    sent = {"people_per_hour": "45", "hours": "400"}
    answer = client_of(hollis).post(reverse("readiness:set-mission", args=[line.pk]), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Write 0.25 to 72." in page
    assert 'value="400"' in page
    assert not RatedMission.objects.exists()


def test_only_the_head_sets_a_mission(as_quinn, line):
    answer = as_quinn.post(reverse("readiness:set-mission", args=[line.pk]), {"people_per_hour": "45"})
    assert answer.status_code == 403
    assert not RatedMission.objects.exists()


def test_nobody_sets_the_mission_of_another_departments_line(hollis, client_of, other_department):
    theirs = make_line(other_department, "Line Z")
    answer = client_of(hollis).post(reverse("readiness:set-mission", args=[theirs.pk]), {"people_per_hour": "45"})
    assert answer.status_code == 404
    assert not RatedMission.objects.exists()


# Then --------------------------------------------------------------------------------------------------------------


def test_a_past_day_is_shown_in_two_voices_under_a_clear_banner(as_quinn, line):
    put_on(line, "WH-01", "heater")
    page = page_of(as_quinn, line, "?at=2026-01-10&known=now")
    assert "10 Jan 2026, 23:59 EST, as known since." in page
    assert "Not tonight’s answer." in page
    assert page.count("Line A can wash") >= 2
    assert 'href="?at=2026-01-10&amp;known=then"' in page


def test_what_was_recorded_late_is_known_since_and_not_then(as_quinn, line):
    happened, recorded = datetime(2026, 1, 5, tzinfo=UTC), datetime(2026, 3, 1, tzinfo=UTC)
    item = put_on(line, "WH-01", "heater")
    StateEvent.objects.create(
        department=line.department,
        item=item,
        event="taken out",
        happened_at=happened,
        recorded_at=recorded,
        by_name="Quinn",
    )
    # One occurrence is the mark's word beside the item in the evidence list.
    assert "<span>out of service</span>" not in page_of(as_quinn, line, "?at=2026-01-10&known=then")
    assert "<span>out of service</span>" in page_of(as_quinn, line, "?at=2026-01-10&known=now")


def test_a_day_that_has_not_come_is_refused_beside_its_field(as_quinn, line):
    store(line, whole("Line A"))
    later = (timezone.now() + timedelta(days=40)).date()
    page = page_of(as_quinn, line, f"?at={later}")
    assert "That day has not come." in page
    assert "Not tonight’s answer." not in page


def test_a_day_that_cannot_be_read_keeps_what_was_typed(as_quinn, line):
    store(line, whole("Line A"))
    page = page_of(as_quinn, line, "?at=last+tuesday")
    assert 'value="last tuesday"' in page
    assert "Write a day as 2026-11-20" in page


def test_today_means_today_as_far_as_it_has_gone(as_quinn, line):
    today = timezone.localdate()
    assert "as known then" in page_of(as_quinn, line, f"?at={today - timedelta(days=1)}")
    assert as_quinn.get(address(line, f"?at={today}")).status_code == 200


def test_a_line_page_reads_a_number_of_rows_that_does_not_grow_with_its_items(
    as_quinn, line, django_assert_max_num_queries
):
    store(line, rating())
    put_on(line, "WH-01", "heater")
    page_of(as_quinn, line)
    with django_assert_max_num_queries(34) as few:
        page_of(as_quinn, line)
    for n in range(2, 8):
        put_on(line, f"WH-0{n}", "heater")
    with django_assert_max_num_queries(34) as many:
        page_of(as_quinn, line)
    assert len(many) == len(few)


def test_the_paper_of_a_line_is_one_press_away_for_those_who_may_have_it(as_quinn, visitor, client_of, line):
    store(line, rating())
    assert "Make the PDF of this line" in page_of(as_quinn, line)
    assert "Make the PDF" not in page_of(client_of(visitor), line)
    response = as_quinn.post("/reports/ask", {"line": line.pk})
    assert response.status_code == 302
    assert response["Location"].startswith("/reports/")


def test_every_blind_spot_of_the_line_stands_with_the_kinds_that_have_it(as_quinn, line):
    for tag, kind in (("RG-01", "regulator"), ("PK-01", "patch_kit"), ("RD-01", "radio")):
        put_on(line, tag, kind)
    store(line, whole("Line A", blind_spots=["XX0"]))
    page = page_of(as_quinn, line)
    listed = page[page.index("No scheduled check can see these") :]
    listed = listed[: listed.index("</dd>")]
    assert 'href="/proof-book/kinds/regulator/"' in listed
    assert 'href="/proof-book/kinds/patch_kit/"' in listed
    assert 'href="/proof-book/kinds/radio/"' not in listed  # its look tries it
