"""The Walk: what is due where, one round through a bay, and the signature that closes it."""

import re
import uuid

import pytest
from django.urls import reverse

from inspections.models import Inspection, Walk
from tests.flows.bays import BAY, HOLD, ago, load, make_item, make_line, make_lot, make_place, put_lot, record

pytestmark = pytest.mark.django_db


@pytest.fixture
def bay(department):
    load(department)
    make_line(department)
    return make_place(department)


@pytest.fixture
def shelter(bay, department):
    return make_item(department, "shelter", "SH-01")


@pytest.fixture
def as_casey(casey, client_of):
    return client_of(casey)


def open_walk(client, place, client_id=None):
    return client.post(reverse("inspections:open-walk"), {"place": place.pk, "client_id": client_id or uuid.uuid4()})


@pytest.fixture
def walk(as_casey, bay):
    open_walk(as_casey, bay)
    return Walk.objects.get()


def round_of(walk):
    return reverse("inspections:round", args=[walk.pk])


def text(client, address):
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def look(walk, item, **more):
    return record(item, "look", {"damage": "none"}, walk=walk, by_name="Casey", **more)


# Where to walk -----------------------------------------------------------------------------------------------------


def test_without_a_cache_the_page_says_how_to_import(as_casey):
    assert "import_cache REGISTER.xlsx --department" in text(as_casey, "/walk/")


def test_a_place_says_how_much_is_due_and_never_proven(as_casey, shelter):
    page = text(as_casey, "/walk/")
    assert BAY in page
    assert "never proven" in page
    assert "Start a walk" in page


def test_a_place_says_as_many_checks_due_as_its_walk_finds(as_casey, department, bay, shelter):
    make_item(department, "heater", "WH-01")
    make_lot(department, "towel")
    said = re.search(r"(\d+) checks due", text(as_casey, "/walk/"))[1]
    open_walk(as_casey, bay)
    page = text(as_casey, round_of(Walk.objects.get()))
    assert f"{said} checks still due" in page
    assert "Set-up drill" in page


def test_what_was_proven_lately_is_not_due(as_casey, department, bay):
    gfci = make_item(department, "gfci", "GF-01")
    assert "1 check due, never proven" in text(as_casey, "/walk/")
    record(gfci, "gfci", {"test_trips": "yes", "reset": "yes", "ground_ohm": "0.2", "jacket": "none"})
    assert "nothing due" in text(as_casey, "/walk/")


def test_an_old_proof_makes_its_place_overdue_since_its_day(as_casey, department, bay):
    gfci = make_item(department, "gfci", "GF-01")
    full = {"test_trips": "yes", "reset": "yes", "ground_ohm": "0.2", "jacket": "none"}
    record(gfci, "gfci", full, happened_at=ago(days=300))
    assert "longest overdue since" in text(as_casey, "/walk/")


def test_starting_a_walk_twice_with_one_press_opens_one(as_casey, bay, shelter):
    sent = uuid.uuid4()
    first, second = open_walk(as_casey, bay, sent), open_walk(as_casey, bay, sent)
    assert Walk.objects.count() == 1
    assert first.url == second.url == round_of(Walk.objects.get())


def test_an_open_walk_is_offered_to_whoever_opened_it_alone(as_casey, walk, avery, client_of):
    assert "Go on with" in text(as_casey, "/walk/")
    assert "Go on with" not in text(client_of(avery), "/walk/")


# One round ---------------------------------------------------------------------------------------------------------


def test_things_stand_in_bay_order_with_what_is_due_one_tap_away(as_casey, walk, shelter, department):
    heater = make_item(department, "heater", "WH-01")
    page = text(as_casey, round_of(walk))
    assert page.index("SH-01") < page.index("WH-01")
    assert f'href="/walk/check/item/{heater.pk}/heat/?walk={walk.pk}"' in page
    assert "0 of 2</b> reached" in page


def test_what_is_done_shows_its_verdict_and_counts_as_reached(as_casey, walk, shelter):
    done = record(shelter, "hold", HOLD, walk=walk)
    page = text(as_casey, round_of(walk))
    assert "1 of 1</b> reached" in page
    assert reverse("inspections:inspection", args=[done.client_id]) in page


def test_a_failed_check_leaves_the_thing_marked_out_of_service(as_casey, walk, department, bay):
    heater = make_item(department, "heater", "WH-01")
    record(heater, "heat", {"lit": "no", "tries": "6"}, walk=walk)
    assert "out of service" in text(as_casey, round_of(walk))


def test_a_tag_typed_or_scanned_leaves_that_thing_alone(as_casey, walk, shelter, department):
    make_item(department, "shelter", "SH-011")
    page = text(as_casey, f"{round_of(walk)}?tag=sh-01")
    assert "1 of 2 match" in page
    assert "SH-011" not in page


def test_a_scanned_tag_is_what_comes_next(as_casey, walk, shelter, department):
    make_item(department, "gfci", "GF-01")
    assert f"Next: {shelter.tag}," in text(as_casey, round_of(walk))
    assert "Next: GF-01, GFCI and cord" in text(as_casey, f"{round_of(walk)}?tag=gf-01")


def test_a_check_that_is_due_names_what_nobody_has_proven(as_casey, walk, department):
    make_item(department, "gfci", "GF-01")
    make_item(department, "heater", "WH-01")
    page = text(as_casey, round_of(walk))
    assert "never proven: GFCI " in page
    assert re.search(r"never proven: [a-z][a-z /]+ and \d more", page)
    assert not re.search(r"never proven: [A-Z]{2}\d", page)


def test_a_tag_that_stands_elsewhere_leads_to_the_bay(as_casey, walk, shelter):
    page = text(as_casey, f"{round_of(walk)}?tag=ZZ-99")
    assert "Nothing here bears “ZZ-99”" in page
    assert "/bay/items/?q=ZZ-99" in page


def test_the_filter_gives_htmx_its_fragment_only(as_casey, walk, shelter):
    answer = as_casey.get(f"{round_of(walk)}?tag=SH", headers={"HX-Request": "true"}).content.decode()
    assert answer.lstrip().startswith('<section id="rows"')


def test_a_walk_passes_what_stands_in_the_places_within_and_nothing_beside(as_casey, department, bay):
    shelf = make_place(department, "Shelf 1", within=bay, sort="shelf")
    make_item(department, "gfci", "GF-01", place=shelf.name)
    make_item(department, "gfci", "GF-02", place="Station 11, bay 2")
    open_walk(as_casey, bay)
    page = text(as_casey, round_of(Walk.objects.get()))
    assert "GF-01" in page
    assert "GF-02" not in page


def test_a_lot_on_a_line_is_counted_where_the_line_is_at_home(as_casey, walk, department):
    lot = make_lot(department)
    page = text(as_casey, round_of(walk))
    assert f"/walk/check/lot/{lot.pk}/count/?walk={walk.pk}" in page


def test_a_lot_on_two_lines_is_counted_on_each(as_casey, walk, department):
    lot = make_lot(department)
    put_lot(lot, 20, "Line B")
    line = make_line(department)
    assert f"/bay/lots/{lot.pk}/count?line={line.pk}" in text(as_casey, round_of(walk))


def test_checks_of_a_line_are_offered_where_it_is_at_home(as_casey, walk, shelter, department):
    line = make_line(department)
    page = text(as_casey, round_of(walk))
    assert f"/walk/check/line/{line.pk}/setup/?walk={walk.pk}" in page
    assert f"/walk/check/item/{shelter.pk}/setup/" not in page


def test_a_sighting_is_one_press_and_twice_records_once(as_casey, walk, department):
    valve = make_item(department, "relief_spare", "RV-01")
    record(valve, "count", {"counted": "1"})
    assert "Seen in its place" in text(as_casey, round_of(walk))
    sent = {"item": valve.pk, "client_id": uuid.uuid4()}
    for _ in range(2):
        answer = as_casey.post(reverse("inspections:seen", args=[walk.pk]), sent)
        assert answer.url == f"{round_of(walk)}#item-{valve.pk}"
    sighting = Inspection.objects.get(check_key="look")
    assert sighting.walk == walk
    assert not sighting.proofs.filter(outcome="proven").exists()


def test_the_number_of_queries_of_a_walk_does_not_grow_with_it(
    as_casey, walk, shelter, department, django_assert_max_num_queries
):
    for number in range(12):
        make_item(department, "gfci", f"GF-{number:02}")
    with django_assert_max_num_queries(36):
        as_casey.get(round_of(walk))


def test_the_number_of_queries_of_the_places_does_not_grow_with_them(
    as_casey, department, bay, django_assert_max_num_queries
):
    for number in range(8):
        make_item(department, "gfci", f"GF-{number:02}", place=f"Shelf {number}")
    with django_assert_max_num_queries(31):
        as_casey.get("/walk/")


# Signing -----------------------------------------------------------------------------------------------------------


def sign_of(walk):
    return reverse("inspections:sign", args=[walk.pk])


def test_the_done_screen_says_how_many_what_was_found_and_what_was_not_reached(as_casey, walk, shelter, department):
    heater = make_item(department, "heater", "WH-01")
    make_item(department, "gfci", "GF-01")
    record(shelter, "hold", HOLD, walk=walk)
    record(heater, "heat", {"lit": "no", "tries": "6"}, walk=walk)
    page = text(as_casey, sign_of(walk))
    assert "2 of 3 reached, 1 not passed" in page
    assert "WH-01, heat run" in page
    assert "Not reached: 1" in page
    assert "read these numbers myself" in page


def test_signing_locks_the_walk(as_casey, walk, shelter):
    look(walk, shelter)
    answer = as_casey.post(sign_of(walk), {"signed_name": "Casey", "note": "Cold bay."})
    assert answer.url == round_of(walk)
    walk.refresh_from_db()
    assert (walk.signed_name, walk.note) == ("Casey", "Cold bay.")
    page = text(as_casey, round_of(walk))
    assert "Make the PDF of this walk" in page
    assert "/walk/check/" not in page


def test_a_check_sent_to_a_signed_walk_is_refused_and_keeps_what_was_typed(as_casey, walk, shelter):
    look(walk, shelter)
    as_casey.post(sign_of(walk), {"signed_name": "Casey"})
    address = f"/walk/check/item/{shelter.pk}/hold/?walk={walk.pk}"
    answer = as_casey.post(address, HOLD | {"client_id": uuid.uuid4()})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "That walk is signed" in page
    assert 'value="2.50"' in page
    assert Inspection.objects.count() == 1


def test_a_sighting_on_a_signed_walk_is_refused_in_words(as_casey, walk, shelter):
    look(walk, shelter)
    as_casey.post(sign_of(walk), {"signed_name": "Casey"})
    sent = {"item": shelter.pk, "client_id": uuid.uuid4()}
    answer = as_casey.post(reverse("inspections:seen", args=[walk.pk]), sent, follow=True)
    assert "That walk is signed" in answer.content.decode()
    assert Inspection.objects.count() == 1


def test_a_signature_without_a_name_is_refused_beside_its_field(as_casey, walk, shelter):
    look(walk, shelter)
    answer = as_casey.post(sign_of(walk), {"signed_name": " ", "note": "kept"})
    assert answer.status_code == 422
    assert "Sign with your name." in answer.content.decode()
    assert "kept" in answer.content.decode()
    walk.refresh_from_db()
    assert walk.signed_at is None


def test_a_walk_on_which_nothing_was_checked_is_not_signed(as_casey, walk):
    answer = as_casey.post(sign_of(walk), {"signed_name": "Casey"})
    assert answer.status_code == 422
    assert "Nothing was checked" in answer.content.decode()


def test_nobody_signs_the_walk_of_another(walk, shelter, avery, client_of):
    look(walk, shelter)
    answer = client_of(avery).post(sign_of(walk), {"signed_name": "Avery"})
    assert answer.status_code == 422
    assert "signed by whoever walked it" in answer.content.decode()


# Walls -------------------------------------------------------------------------------------------------------------


def test_a_visitor_reads_a_walk_and_is_offered_nothing_to_do(visitor, client_of, walk, shelter):
    page = text(client_of(visitor), round_of(walk))
    assert "SH-01" in page
    assert "/walk/check/" not in page
    assert "Sign</a>" not in page


@pytest.mark.parametrize("who", ["visitor", "hollis", "gray"])
def test_only_officer_and_crew_walk(who, request, client_of, walk, shelter):
    client = client_of(request.getfixturevalue(who))
    seen = reverse("inspections:seen", args=[walk.pk])
    assert open_walk(client, walk.place).status_code == 403
    assert client.post(seen, {"item": shelter.pk, "client_id": uuid.uuid4()}).status_code == 403
    assert client.get(sign_of(walk)).status_code == 403
    assert Walk.objects.count() == 1


def test_another_departments_walk_and_place_are_not_found(sam, client_of, walk, shelter):
    client = client_of(sam)
    assert client.get(round_of(walk)).status_code == 404
    assert client.get(sign_of(walk)).status_code == 404
    assert open_walk(client, walk.place).status_code == 404
    sent = {"item": shelter.pk, "client_id": uuid.uuid4()}
    assert client.post(reverse("inspections:seen", args=[walk.pk]), sent).status_code == 404
    assert BAY not in text(client, "/walk/")
