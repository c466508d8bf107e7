"""The Bay: places, lines, items, lots, load lists, the crew, and the postings that change them."""

import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.models import Repair, Upkeep
from inventory.models import Award, Count, ItemKind, Posting, StateEvent
from inventory.queries import standing_of_items
from tests.flows.bays import (
    BAY,
    HOLD,
    ago,
    load,
    make_crew,
    make_item,
    make_line,
    make_lot,
    make_place,
    make_row,
    put_lot,
    record,
)

pytestmark = pytest.mark.django_db
FULL_GFCI = {"test_trips": "yes", "reset": "yes", "ground_ohm": "0.2", "jacket": "none"}


@pytest.fixture
def cache(department):
    load(department)
    make_line(department)
    return department


@pytest.fixture
def heater(cache):
    return make_item(cache, "heater", "WH-01", serial="TH-1", spec={"input_btu_h": 190_000})


@pytest.fixture
def as_quinn(quinn, client_of):
    return client_of(quinn)


def page_of(client, address, status=200):
    answer = client.get(address)
    assert answer.status_code == status
    return answer.content.decode()


def item_page(item):
    return reverse("inventory:item", args=[item.pk])


def state_of(item):
    now = timezone.now()
    return standing_of_items([item], now, now)[item.pk]


def post(client, name, item, prefix, **values):
    sent = {f"{prefix}-{key}": value for key, value in {"client_id": uuid.uuid4(), **values}.items()}
    return client.post(reverse(name, args=[item.pk]), sent)


# Places, lines and the search --------------------------------------------------------------------------------------


@pytest.mark.parametrize("address", ["/bay/", "/bay/items/", "/bay/lots/"])
def test_an_empty_cache_says_how_to_import(as_quinn, address):
    assert "import_cache REGISTER.xlsx --department" in page_of(as_quinn, address)


def test_an_empty_roster_says_what_that_means_and_how_to_fill_it(as_quinn):
    page = page_of(as_quinn, "/bay/crew/")
    assert "crew is not recorded" in page
    assert "import_cache" in page


def test_places_and_lines_say_what_stands_there_and_what_does_not_count(as_quinn, heater, cache):
    make_item(cache, "gfci", "GF-01")
    record(heater, "heat", {"lit": "no", "tries": "6"})
    page = page_of(as_quinn, "/bay/")
    assert BAY in page
    assert '<td class="num" data-label="Items">2</td>' in page
    assert "out of service</span></span> 1" in page
    assert reverse("inventory:load-list", args=[make_line(cache).pk]) in page


def test_what_has_no_place_is_named(as_quinn, cache):
    make_item(cache, "gfci", "GF-01", place=None, line=None)
    assert "1 item and 0 lots have no place on record" in page_of(as_quinn, "/bay/")


def test_what_is_on_a_line_and_posted_nowhere_stands_at_its_home(as_quinn, cache):
    make_item(cache, "gfci", "GF-01", place=None)
    assert "have no place on record" not in page_of(as_quinn, "/bay/")
    assert "GF-01" in page_of(as_quinn, reverse("inventory:place", args=[make_place(cache).pk]))


@pytest.mark.parametrize("words", ["wh-01", "Thing WH", "th-1", "thing th-1"])
def test_an_item_is_found_by_tag_name_or_serial(as_quinn, heater, cache, words):
    make_item(cache, "gfci", "GF-01")
    page = page_of(as_quinn, f"/bay/items/?q={words}")
    assert "1 item found" in page
    assert "WH-01" in page
    assert "GF-01" not in page


def test_nothing_found_says_so_and_what_was_asked_is_escaped(as_quinn, heater):
    page = page_of(as_quinn, "/bay/items/?q=<b>x</b>")
    assert "No item matches “&lt;b&gt;x&lt;/b&gt;”" in page


def test_items_can_be_asked_for_by_state(as_quinn, heater, cache):
    make_item(cache, "gfci", "GF-01")
    record(heater, "heat", {"lit": "no", "tries": "6"})
    page = page_of(as_quinn, "/bay/items/?state=out of service")
    assert "WH-01" in page
    assert "GF-01" not in page
    assert as_quinn.get("/bay/items/?state=splendid").status_code == 404


def test_long_lists_come_in_pages_of_fifty(as_quinn, cache):
    for number in range(51):
        make_item(cache, "gfci", f"GF-{number:03}")
    first, second = page_of(as_quinn, "/bay/items/"), page_of(as_quinn, "/bay/items/?page=2")
    assert "Page 1 of 2" in first
    assert "GF-050" not in first
    assert "GF-050" in second


def test_the_list_gives_htmx_its_fragment_only(as_quinn, heater):
    answer = as_quinn.get("/bay/items/?q=WH", headers={"HX-Request": "true"}).content.decode()
    assert answer.lstrip().startswith('<section id="items"')


@pytest.mark.parametrize(
    ("address", "most"), [("/bay/", 14), ("/bay/items/", 14), ("/bay/items/?state=in service", 13), ("/bay/lots/", 13)]
)
def test_the_number_of_queries_does_not_grow_with_the_cache(
    as_quinn, cache, address, most, django_assert_max_num_queries
):
    for number in range(15):
        make_item(cache, "gfci", f"GF-{number:03}", place=f"Shelf {number}", line=f"Line {number}")
        make_lot(cache, number=f"L{number}", line=f"Line {number}")
    with django_assert_max_num_queries(most):
        as_quinn.get(address)


def test_a_place_lists_what_stands_there_and_within(as_quinn, heater, cache):
    make_place(cache, "Shelf 1", within=make_place(cache), sort="shelf")
    make_item(cache, "gfci", "GF-01", place="Shelf 1")
    make_lot(cache, "towel", "L7757")
    page = page_of(as_quinn, reverse("inventory:place", args=[make_place(cache).pk]))
    for said in ("WH-01", "GF-01", "L7757", "Within it:", "Home of"):
        assert said in page


# One item ----------------------------------------------------------------------------------------------------------


def test_an_item_shows_its_card_plate_and_award_and_what_is_not_recorded(as_quinn, heater, cache):
    heater.award = Award.objects.create(department=cache, number="TH-2022-FG-0107")
    heater.unit_cost, heater.federal_share = "5500.00", "0.75"
    heater.save()
    page = page_of(as_quinn, item_page(heater))
    for said in ("TH-1", "190,000 BTU/h", "TH-2022-FG-0107", "$5,500.00", "75 %", "Station 4, trailer bay"):
        assert said in page
    assert "<dt>Custodian</dt><dd>not recorded</dd>" in page


def test_a_plate_that_says_nothing_is_filled_by_the_kinds_default_and_marked(as_quinn, cache):
    kind = ItemKind.objects.get(department=cache, key="heater")
    kind.spec_fields = [{"key": "volts", "label": "Igniter", "unit": "V", "type": "number", "default": 120}]
    kind.save()
    page = page_of(as_quinn, item_page(make_item(cache, "heater", "WH-02", spec={"colour": "tan"})))
    assert "120 V" in page
    assert "assumed: the plate is not recorded" in page
    assert "<dt>colour</dt><dd>tan" in page


def test_each_failure_mode_shows_what_is_known_of_it(as_quinn, cache):
    gfci = make_item(cache, "gfci", "GF-01")
    page = page_of(as_quinn, item_page(gfci))
    assert "never proven" in page
    assert "Nothing was ever read on it" in page
    done = record(gfci, "gfci", FULL_GFCI)
    page = page_of(as_quinn, item_page(gfci))
    assert ">proven<" in page
    assert reverse("inspections:inspection", args=[done.client_id]) in page


def test_a_mode_that_no_check_sees_is_called_a_blind_spot(as_quinn, cache):
    page = page_of(as_quinn, item_page(make_item(cache, "shelter", "SH-01")))
    codes = ItemKind.objects.get(department=cache, key="shelter")
    assert page.count("blind spot") == len(set(codes.mode_codes) - codes.scheduled_modes)


def test_readings_come_newest_first_with_links_and_in_pages(as_quinn, cache):
    gfci = make_item(cache, "gfci", "GF-01")
    for number in range(21):
        record(gfci, "gfci", FULL_GFCI | {"ground_ohm": f"0.{number + 10}"}, happened_at=ago(days=number))
    page = page_of(as_quinn, item_page(gfci))
    assert "21 records" in page
    assert page.index("0.10 ohm") < page.index("0.11 ohm")
    assert "0.30 ohm" not in page
    assert "0.30 ohm" in page_of(as_quinn, f"{item_page(gfci)}?page=3")


def test_what_was_measured_stands_as_a_trend_in_the_units_of_its_reader(as_quinn, quinn, cache):
    shelter = make_item(cache, "shelter", "SH-01")
    record(shelter, "hold", HOLD, happened_at=ago(days=90))
    record(shelter, "hold", HOLD | {"p2_psi": "2.45"}, happened_at=ago(days=1))
    assert "True loss in an hour" in page_of(as_quinn, item_page(shelter))
    cylinder = make_item(cache, "propane", "LP-01", spec={"nominal_lb": 100, "tare_lb": 68, "made": "2018-01"})
    record(cylinder, "propane", {"gross_lb": "160", "tare_lb": "68", "soap": "none"})
    assert "92 lb" in page_of(as_quinn, item_page(cylinder))
    quinn.uses_si = True
    quinn.save()
    assert "41.7 kg" in page_of(as_quinn, item_page(cylinder))


def test_a_corrected_record_is_struck_through_and_counts_no_more(as_quinn, cache):
    gfci = make_item(cache, "gfci", "GF-01")
    wrong = record(gfci, "gfci", {"test_trips": "no"})
    record(gfci, "gfci", FULL_GFCI, corrects=wrong, happened_at=wrong.happened_at, by_name="Avery")
    page = page_of(as_quinn, item_page(gfci))
    assert "<s>fail</s> corrected" in page
    assert "Out of service" not in page


def test_an_item_that_a_check_took_out_says_who_may_restore_it_and_by_which_check(as_quinn, heater):
    record(heater, "heat", {"lit": "no", "tries": "6"}, by_name="Casey")
    page = page_of(as_quinn, item_page(heater))
    assert "under a name that neither found the fault nor did the repair: not Casey" in page
    assert "Restore by heat run" in page


def test_an_item_awaiting_its_second_name_says_so(as_quinn, cache):
    gfci = make_item(cache, "gfci", "GF-01")
    record(gfci, "gfci", {"test_trips": "no"}, happened_at=ago(hours=2))
    record(gfci, "gfci", FULL_GFCI, happened_at=ago(hours=1))
    page = page_of(as_quinn, item_page(gfci))
    assert "Restored, awaiting second name" in page
    assert "awaiting second name" in page_of(as_quinn, "/bay/items/")


def test_the_number_of_queries_of_an_item_does_not_grow_with_its_past(as_quinn, cache, django_assert_max_num_queries):
    gfci = make_item(cache, "gfci", "GF-01")
    for number in range(12):
        record(gfci, "gfci", FULL_GFCI, happened_at=ago(days=number))
    with django_assert_max_num_queries(69):
        as_quinn.get(item_page(gfci))


# Postings ----------------------------------------------------------------------------------------------------------


def test_a_move_is_posted_once_however_often_it_is_pressed(as_quinn, heater, cache):
    other, line = make_place(cache, "Station 11, bay 2"), make_line(cache, "Line B")
    sent = uuid.uuid4()
    for _ in range(2):
        answer = post(as_quinn, "inventory:move", heater, "move", place=other.pk, line=line.pk, client_id=sent)
        assert answer.url == item_page(heater)
    assert Posting.objects.filter(reason="moved").count() == 1
    assert (state_of(heater).place, state_of(heater).line) == (other, line)


def test_a_move_sent_again_to_another_place_says_so_and_loses_nothing(as_quinn, heater, cache):
    first, other = make_place(cache, "Station 11, bay 2"), make_place(cache, "Station 11, bay 3")
    sent = uuid.uuid4()
    post(as_quinn, "inventory:move", heater, "move", place=first.pk, client_id=sent)
    answer = post(as_quinn, "inventory:move", heater, "move", place=other.pk, client_id=sent)
    assert answer.status_code == 422
    assert "Something else was recorded from this form already" in answer.content.decode()
    assert state_of(heater).place == first
    fresh = answer.context["move_form"]["client_id"].value()
    post(as_quinn, "inventory:move", heater, "move", place=other.pk, client_id=fresh)
    assert state_of(heater).place == other


def test_a_move_to_nowhere_or_to_another_departments_place_is_refused_on_the_page(as_quinn, heater, other_department):
    theirs = make_place(other_department, "Other bay")
    for place in ("", theirs.pk):
        answer = post(as_quinn, "inventory:move", heater, "move", place=place, note="kept words")
        assert answer.status_code == 422
        assert "kept words" in answer.content.decode()
    assert not Posting.objects.filter(reason="moved").exists()


def test_a_state_is_recorded_and_one_that_the_next_reader_must_understand_needs_its_reason(as_quinn, heater):
    assert post(as_quinn, "inventory:change-state", heater, "state", event="wet").status_code == 302
    assert state_of(heater).state == "wet"
    bare = post(as_quinn, "inventory:change-state", heater, "state", event="condemned")
    assert bare.status_code == 422
    assert "Say why, and on whose word." in bare.content.decode()
    assert state_of(heater).state == "wet"


@pytest.mark.parametrize("event", ["taken out", "restored", "disposed", "nonsense", ""])
def test_what_a_check_or_its_papers_must_say_is_not_said_by_hand(as_quinn, heater, event):
    answer = post(as_quinn, "inventory:change-state", heater, "state", event=event, reason="because")
    assert answer.status_code == 422
    assert not StateEvent.objects.exists()


def test_an_item_taken_out_by_hand_is_out_for_its_reason_and_awaits_a_second_name_to_come_back(
    as_quinn, heater, hollis, client_of, casey
):
    taken = post(client_of(casey), "inspections:take-out", heater, "out", reason="Smells of gas")
    assert taken.status_code == 302
    page = page_of(as_quinn, item_page(heater))
    assert "Taken out by hand</b> by Casey" in page
    assert "Smells of gas" in page
    assert post(as_quinn, "inspections:bring-back", heater, "back", reason="Joint re-made").status_code == 302
    assert state_of(heater).state == "in service"
    assert not state_of(heater).awaiting_second_name


def test_whoever_took_it_out_brings_it_back_awaiting_a_second_name(as_quinn, heater):
    post(as_quinn, "inspections:take-out", heater, "out", reason="Smells of gas")
    post(as_quinn, "inspections:bring-back", heater, "back", reason="It was the mower")
    assert state_of(heater).awaiting_second_name
    assert "Brought back by Quinn alone" in page_of(as_quinn, item_page(heater))


def test_what_a_check_took_out_is_not_brought_back_by_hand(as_quinn, heater):
    record(heater, "heat", {"lit": "no", "tries": "6"})
    answer = post(as_quinn, "inspections:bring-back", heater, "back", reason="Looks fine")
    assert answer.status_code == 422
    assert state_of(heater).state == "out of service"


def test_taking_out_needs_a_reason(as_quinn, heater):
    answer = post(as_quinn, "inspections:take-out", heater, "out", reason="")
    assert answer.status_code == 422
    assert "Say why." in answer.content.decode()
    assert state_of(heater).state == "in service"


def test_taking_out_pressed_twice_is_recorded_once(as_quinn, heater):
    sent = uuid.uuid4()
    for _ in range(2):
        assert post(as_quinn, "inspections:take-out", heater, "out", reason="Gas", client_id=sent).status_code == 302
    assert StateEvent.objects.count() == 1


def test_taking_out_sent_again_for_another_reason_says_so(as_quinn, heater):
    sent = uuid.uuid4()
    post(as_quinn, "inspections:take-out", heater, "out", reason="Gas", client_id=sent)
    answer = post(as_quinn, "inspections:take-out", heater, "out", reason="Burner cracked", client_id=sent)
    assert answer.status_code == 422
    assert "Burner cracked" in answer.content.decode()
    assert StateEvent.objects.get().reason == "Gas"


def test_what_is_wrong_with_an_item_stands_before_its_papers(as_quinn, heater):
    page = page_of(as_quinn, item_page(heater))
    assert page.index('id="evidence"') < page.index('id="papers"')


def test_a_repair_of_nothing_is_refused_in_words(as_quinn, heater):
    answer = post(as_quinn, "inspections:repair", heater, "repair", what="")
    assert answer.status_code == 422
    assert "Say what was done to it." in answer.content.decode()


def test_a_repair_is_of_the_fault_named_and_proves_nothing(as_quinn, heater):
    failed = record(heater, "heat", {"lit": "no", "tries": "6"})
    fault = failed.deficiencies.get()
    answer = post(
        as_quinn, "inspections:repair", heater, "repair", what="New igniter", deficiency=fault.pk, cost="35.00"
    )
    assert answer.status_code == 302
    repair = Repair.objects.get()
    assert (repair.deficiency, repair.by_name, str(repair.cost)) == (fault, "Quinn", "35.00")
    assert state_of(heater).state == "out of service"
    assert "New igniter" in page_of(as_quinn, item_page(heater))


def test_a_repair_of_another_items_fault_or_of_nothing_is_refused(as_quinn, heater, cache):
    other = make_item(cache, "heater", "WH-02")
    theirs = record(other, "heat", {"lit": "no", "tries": "6"}).deficiencies.get()
    record(heater, "heat", {"lit": "no", "tries": "6"})
    named = post(as_quinn, "inspections:repair", heater, "repair", what="x", deficiency=theirs.pk)
    empty = post(as_quinn, "inspections:repair", heater, "repair", what="", cost="-1")
    assert (named.status_code, empty.status_code) == (422, 422)
    assert not Repair.objects.exists()


def test_a_use_reopens_what_use_reopens(as_quinn, cache):
    shelter = make_item(cache, "shelter", "SH-01")
    record(shelter, "hold", HOLD)
    answer = post(as_quinn, "inspections:upkeep", shelter, "upkeep", sort="used", hours="2.5")
    assert answer.status_code == 302
    assert Upkeep.objects.get().hours == 2.5
    assert ">reopened<" in page_of(as_quinn, item_page(shelter))


# Lots, load lists, crew --------------------------------------------------------------------------------------------


def test_lots_are_told_in_people_and_what_is_expired_serves_nobody(as_quinn, cache):
    line = make_line(cache)
    make_row(line, "towel", quantity=150, needed=2, scales="person")
    today = timezone.now().date()
    make_lot(cache, number="L1", on_hand=100, expires_on=today + timedelta(days=40))
    make_lot(cache, number="L2", on_hand=30, expires_on=today - timedelta(days=3))
    page = page_of(as_quinn, "/bay/lots/")
    for said in ("50 people", "expired", "0 people", "par 150", "short 50", "days</b>"):
        assert said in page


def test_a_count_of_a_lot_stands_on_its_line(as_quinn, cache):
    lot = make_lot(cache)
    put_lot(lot, 20, "Line B")
    line = make_line(cache, "Line B")
    address = reverse("inventory:count-lot", args=[lot.pk])
    assert "on Line B" in page_of(as_quinn, f"{address}?line={line.pk}")
    sent = {"counted": "17", "line": line.pk, "client_id": uuid.uuid4()}
    for _ in range(2):
        assert as_quinn.post(address, sent).url == "/bay/lots/"
    assert (Count.objects.get().counted, Count.objects.get().line) == (17, line)


def test_a_count_that_is_no_number_or_names_no_line_of_several_is_refused(as_quinn, cache):
    lot = make_lot(cache)
    put_lot(lot, 20, "Line B")
    address = reverse("inventory:count-lot", args=[lot.pk])
    for counted, said in (
        ("many", "Write a whole number"),
        ("-1", "never less than 0"),
        ("5", "several lines"),
    ):
        answer = as_quinn.post(address, {"counted": counted, "client_id": uuid.uuid4()})
        assert answer.status_code == 422
        assert said in answer.content.decode()
    assert as_quinn.get(f"{address}?line=x").status_code == 404
    assert not Count.objects.exists()


def test_a_load_list_says_needed_of_carried_aboard_counting_and_short(as_quinn, cache):
    line = make_line(cache)
    make_row(line, "heater", quantity=3, needed=2, assumed=True)
    make_item(cache, "heater", "WH-01")
    failed = make_item(cache, "heater", "WH-02")
    make_item(cache, "meters", "ME-01")
    record(failed, "heat", {"lit": "no", "tries": "6"})
    page = page_of(as_quinn, reverse("inventory:load-list", args=[line.pk]))
    assert "2 of 3" in page
    assert 'data-label="Aboard">2</td><td class="num" data-label="Counts">1</td>' in page
    assert re.search(r"<b>Short:</b> [^.]+ 2 <b>\(below what the line needs\)</b>\.", page)
    assert "All of it is <b>assumed</b>" in page
    assert "WH-02</a> out of service" in page
    assert page.index("Aboard, and not on the list") < page.index("ME-01")


def test_another_way_that_carries_the_line_makes_a_shortage_no_need(as_quinn, cache):
    line = make_line(cache)
    make_row(line, "tie_down", quantity=12, needed=10)
    make_row(line, "ballast", quantity=8, needed=8, way="b")
    make_item(cache, "tie_down", "TD-01", quantity=12)
    page = page_of(as_quinn, reverse("inventory:load-list", args=[line.pk]))
    assert "below what the line needs" not in page
    assert "the other way carries it" in page


def test_a_line_without_a_list_says_how_it_gets_one(as_quinn, cache):
    page = page_of(as_quinn, reverse("inventory:load-list", args=[make_line(cache).pk]))
    assert "No load list is recorded" in page


def test_the_roster_says_who_is_qualified_until_when(as_quinn, cache):
    today = timezone.now().date()
    make_crew(cache, "Avery", qualified_on=today - timedelta(days=30))
    make_crew(cache, "Casey", qualified_until=today - timedelta(days=3))
    make_crew(cache, "Drew")
    make_crew(cache, "Ellis", qualified_on=today - timedelta(days=9), left_on=today - timedelta(days=3))
    page = page_of(as_quinn, "/bay/crew/")
    assert page.index("Avery") < page.index("Casey") < page.index("Drew")
    for said in ("<span>qualified</span>", "<span>lapsed</span>", "<span>not recorded</span>"):
        assert said in page
    assert page.index('id="left"') < page.index("Ellis")


# Walls -------------------------------------------------------------------------------------------------------------


def test_a_visitor_reads_the_bay_and_is_offered_no_form(visitor, client_of, heater):
    page = page_of(client_of(visitor), item_page(heater))
    assert "WH-01" in page
    for offered in ("Post the move", "Record repair", "Take out of service", "/walk/check/"):
        assert offered not in page


def test_crew_records_work_and_moves_nothing(casey, client_of, heater, cache):
    client = client_of(casey)
    assert "Record repair" in page_of(client, item_page(heater))
    assert post(client, "inventory:move", heater, "move", place=make_place(cache).pk).status_code == 403
    assert post(client, "inventory:change-state", heater, "state", event="wet").status_code == 403
    assert post(client, "inspections:bring-back", heater, "back", reason="x").status_code == 403


@pytest.mark.parametrize("who", ["visitor", "hollis", "gray"])
def test_only_officer_and_crew_record_work_and_counts(who, request, client_of, heater, cache):
    client = client_of(request.getfixturevalue(who))
    lot = make_lot(cache)
    for name, prefix in (
        ("inspections:repair", "repair"),
        ("inspections:upkeep", "upkeep"),
        ("inspections:take-out", "out"),
    ):
        assert post(client, name, heater, prefix, what="x", sort="used", reason="x").status_code == 403
    counted = {"counted": "1", "client_id": uuid.uuid4()}
    assert client.post(reverse("inventory:count-lot", args=[lot.pk]), counted).status_code == 403
    assert [model.objects.count() for model in (Repair, Upkeep, Count)] == [0, 0, 0]


def test_another_departments_rows_are_not_found(sam, client_of, heater, cache):
    client, lot, line = client_of(sam), make_lot(cache), make_line(cache)
    addresses = [
        item_page(heater),
        reverse("inventory:place", args=[make_place(cache).pk]),
        reverse("inventory:load-list", args=[line.pk]),
        reverse("inventory:count-lot", args=[lot.pk]),
    ]
    assert [client.get(address).status_code for address in addresses] == [404] * 4
    for name, prefix in (
        ("inventory:move", "move"),
        ("inventory:change-state", "state"),
        ("inspections:repair", "repair"),
        ("inspections:upkeep", "upkeep"),
        ("inspections:take-out", "out"),
        ("inspections:bring-back", "back"),
    ):
        assert post(client, name, heater, prefix, reason="x").status_code == 404
    for address in ("/bay/", "/bay/items/", "/bay/items/?q=WH", "/bay/lots/"):
        assert "WH-01" not in page_of(client, address)


def test_nobody_reads_the_bay_without_signing_in(client, heater):
    assert client.get(item_page(heater)).url.startswith(reverse("shared:sign-in"))


def test_names_from_the_register_are_escaped(as_quinn, cache):
    item = make_item(cache, "heater", "WH-09", name="<b>Heater</b>", note="<script>x</script>")
    page = page_of(as_quinn, item_page(item)) + page_of(as_quinn, "/bay/items/")
    assert "<b>Heater</b>" not in page
    assert "<script>x" not in page
