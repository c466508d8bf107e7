"""From a shortage to a receipt, and a maker's recall: pages, services, and what the rating is told."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.services import record_inspection
from inventory import queries, services
from inventory.models import Award, Item, ItemKind, Lot, LotHold, Order, OrderEvent, Recall, StateEvent
from inventory.services import import_cache
from readiness.queries import gather
from readiness.rating.why import ordered
from shared.api import AlreadySent, Conflict
from tests.flows.bays import HOLD, ago, load, make_item, make_line, make_lot, make_place, make_row, record

pytestmark = pytest.mark.django_db


@pytest.fixture
def bay(quinn):
    department = load(quinn.department)
    line = make_line(department)
    make_lot(department, "towel", "T1", on_hand=40)
    make_row(line, "towel", quantity=100, needed=1, scales="person")
    return department


@pytest.fixture
def as_quinn(bay, quinn, client_of):
    return client_of(quinn)


def kind(department, key="towel"):
    return ItemKind.objects.get(department=department, key=key)


def order(department, key="towel", quantity=60, **more):
    said = {"line": make_line(department), "happened_at": ago(days=20), "by_name": "Quinn"} | more
    return services.place_order(department=department, kind=kind(department, key), quantity=quantity, **said)


def receive(of, quantity, **more):
    said = {"department": of.department, "place": make_place(of.department), "happened_at": ago(hours=3)}
    return services.receive_order(order=of, quantity=quantity, by_name="Quinn", **(said | more))


def standing(of):
    now = timezone.now()
    return next(s for s in queries.orders_of(of.department, now, now) if s.order.pk == of.pk)


def state(item):
    now = timezone.now()
    return queries.standing_of_items([item], now, now)[item.pk].state


def test_a_shortage_is_listed_ordered_received_and_gone(as_quinn, bay):
    page = as_quinn.get(reverse("orders:list")).content.decode()
    assert "60" in page
    sent = {"client_id": uuid.uuid4(), "kind": kind(bay).pk, "line": make_line(bay).pk, "quantity": "60",
            "unit_cost": "3.50", "expected_on": "2027-01-05"}  # fmt: skip
    for _ in range(2):
        answer = as_quinn.post(reverse("orders:new"), sent)
    assert Order.objects.count() == 1
    page = as_quinn.get(answer["Location"]).content.decode()
    assert "$210.00" in page
    came = {"receive-client_id": uuid.uuid4(), "receive-quantity": "60", "receive-place": make_place(bay).pk,
            "receive-lot_number": "T2", "receive-expires_on": ""}  # fmt: skip
    pk = Order.objects.get().pk
    for _ in range(2):
        assert as_quinn.post(reverse("orders:receive", args=[pk]), came).status_code == 302
    assert OrderEvent.objects.count() == 1
    assert Lot.objects.get(number="T2").name == "Towel"
    assert not standing(Order.objects.get()).is_open
    assert "Nothing is short." in as_quinn.get(reverse("orders:list")).content.decode()


def test_the_horizon_counts_what_expires_by_then_as_short(as_quinn, bay):
    Lot.objects.filter(number="T1").update(expires_on=timezone.localdate() + timedelta(days=30))
    later = timezone.localdate() + timedelta(days=60)
    page = as_quinn.get(reverse("orders:list"), {"on": later.isoformat()}).content.decode()
    assert "40 expired" in page
    table = as_quinn.get(reverse("orders:csv"), {"on": later.isoformat()}).content.decode()
    assert f"Line A,Towel,100,0,40,0,100,0,0,,,{later}" in table


def test_a_part_comes_a_date_slips_and_the_rest_is_cancelled(bay):
    of = order(bay, expected_on=timezone.localdate() - timedelta(days=5))
    assert standing(of).late
    receive(of, 20, lot_number="T2")
    assert (standing(of).word, standing(of).remaining) == ("late", 40)
    at = {"department": bay, "happened_at": ago(hours=1), "by_name": "Quinn"}
    services.date_order(order=of, expected_on=timezone.localdate() + timedelta(days=9), **at)
    assert standing(of).slipped
    assert standing(of).word == "part received"
    with pytest.raises(Conflict, match="40 of this order"):
        receive(of, 41, lot_number="T2")
    services.cancel_order(order=of, note="out of stock", **at)
    assert (standing(of).remaining, standing(of).word) == (0, "cancelled")
    with pytest.raises(Conflict, match="still to come"):
        services.date_order(order=of, expected_on=timezone.localdate(), **at)


def test_one_receipt_sent_twice_is_recorded_once_and_another_under_its_id_is_refused(bay):
    of, sent = order(bay, "heater", 3), uuid.uuid4()
    first = receive(of, 2, serials=["W-1", "W-2"], client_id=sent)
    assert receive(of, 2, serials=["W-1", "W-2"], client_id=sent) == first
    assert Item.objects.filter(serial__startswith="W-").count() == 2
    with pytest.raises(AlreadySent):
        receive(of, 1, client_id=sent)


def test_a_serial_that_is_taken_is_refused_and_nothing_is_half_received(bay):
    make_item(bay, "heater", "WH-01", serial="W-1")
    with pytest.raises(Conflict, match="WH-01"):
        receive(order(bay, "heater", 2), 2, serials=["W-9", "W-1"])
    assert not OrderEvent.objects.exists()
    assert Item.objects.count() == 1


def test_what_is_received_stands_boxed_until_its_acceptance_test_has_passed(bay):
    (came,) = receive(order(bay, "shelter", 1, unit_cost=Decimal("9000")), 1, serials=["S-1"])
    shelter = came.item
    assert (state(shelter), shelter.unit_cost) == ("boxed", Decimal("9000"))
    record(shelter, "hold", HOLD, happened_at=ago(hours=2))
    assert state(shelter) == "boxed"
    record(shelter, "hold", HOLD | {"acceptance": "yes", "p2_psi": "1.0", "t2_degF": "62"}, happened_at=ago(minutes=90))
    assert state(shelter) != "in service"


def test_an_acceptance_test_that_passed_unboxes_and_its_correction_boxes_again(bay):
    (came,) = receive(order(bay, "shelter", 1), 1)
    passed = record(came.item, "hold", HOLD | {"acceptance": "yes"}, happened_at=ago(hours=1))
    assert passed.verdict == "pass"
    assert state(came.item) == "in service"
    assert Item.objects.get(pk=came.item.pk).accepted_on == passed.happened_at.date()
    record_inspection(
        department=bay, check_key="hold", item=came.item, values=HOLD, happened_at=passed.happened_at, by_name="Avery",
        client_id=uuid.uuid4(), corrects=passed,
    )  # fmt: skip
    assert state(came.item) == "boxed"
    assert Item.objects.get(pk=came.item.pk).accepted_on is None


def test_a_late_order_is_named_beside_the_limit_it_would_mend_and_counts_for_nothing(bay):
    line, now = make_line(bay), timezone.now()
    before = gather(line, now, now)
    order(bay, expected_on=timezone.localdate() - timedelta(days=3))
    facts = gather(line, timezone.now(), timezone.now())
    assert facts.stocks == before.stocks
    (said,) = ordered(facts, "towel")
    assert said.startswith("60 towel ordered, expected ")
    assert said.endswith(", late")
    assert ordered(facts, "heater") == ()
    # Known by then: before it was ordered nobody knew of it.
    assert gather(line, ago(days=30), ago(days=30)).orders == ()


# Recalls -----------------------------------------------------------------------------------------------------------


def recall(department, **more):
    said = {"reference": "R-26", "what": "Seams part.", "happened_at": ago(hours=2), "by_name": "Quinn"} | more
    return services.record_recall(department=department, **said)


def release(of, by, **more):
    said = {"remedy": "seam welded", "remedy_by": "Casey", "happened_at": timezone.now(), "by": by}
    return services.release_recalled(department=of.department, recall=of, by_name=by.signed_name, **(said | more))


def test_a_recall_takes_out_what_it_means_and_nothing_else(bay):
    meant = make_item(bay, "shelter", "SH-01", serial="AB-123")
    other = make_item(bay, "shelter", "SH-02", serial="AC-123")
    blank = make_item(bay, "shelter", "SH-03")
    heater = make_item(bay, "heater", "WH-01", serial="AB-777")
    recall(bay, kind=kind(bay, "shelter"), serials=["ab1*"])
    assert [state(i) for i in (meant, other, blank, heater)] == [
        "out of service", "in service", "out of service", "in service",
    ]  # fmt: skip


def test_a_recalled_lot_is_on_hand_and_counts_for_nobody(bay):
    of = recall(bay, lots=["T1"])
    line, now = make_line(bay), timezone.now()
    (stock,) = [s for s in gather(line, now, now).stocks if s.lot == "T1"]
    assert (stock.on_hand, bool(stock.held)) == (40, True)
    assert not any(s.held for s in gather(line, ago(hours=5), now).stocks)
    assert of.holds.get().event == LotHold.Event.HELD


def test_a_recall_is_released_by_its_remedy_and_a_second_name(bay, quinn, casey, avery):
    item = make_item(bay, "shelter", "SH-01", serial="AB-1")
    of = recall(bay, serials=["AB-1"], lots=["T1"])
    for one in (quinn, casey):
        with pytest.raises(Conflict, match="second name"):
            release(of, one, item=item)
    with pytest.raises(Conflict, match="what was done"):
        release(of, avery, item=item, remedy=" ")
    release(of, avery, item=item)
    release(of, avery, lot=Lot.objects.get(number="T1"))
    assert state(item) == "in service"
    assert not any(s.held for s in gather(make_line(bay), timezone.now(), timezone.now()).stocks)
    with pytest.raises(Conflict, match="does not hold"):
        release(of, avery, item=item)


def test_two_recalls_of_one_lot_are_released_each_by_itself(bay, avery):
    lot, first = Lot.objects.get(number="T1"), recall(bay, lots=["T1"])
    recall(bay, lots=["T*1", "T1"], reference="R-27")
    release(first, avery, lot=lot)
    assert any(s.held for s in gather(make_line(bay), timezone.now(), timezone.now()).stocks)


def test_a_check_that_passes_does_not_lift_a_recall(bay):
    item = make_item(bay, "shelter", "SH-01", serial="AB-1")
    recall(bay, serials=["AB-1"])
    assert record(item, "hold", HOLD).verdict == "pass"
    assert state(item) == "out of service"


def test_what_comes_in_later_and_is_meant_goes_out_at_once(bay, quinn, tmp_path):
    recall(bay, kind=kind(bay, "shelter"), serials=["S-9*"])
    recall(bay, reference="R-27", lots=["T7"])
    receive(order(bay, "towel", 5), 5, lot_number="T7")
    (came,) = receive(order(bay, "shelter", 1), 1, serials=["S-900"])
    register = tmp_path / "new.csv"
    register.write_text("Item,Serial,Qty,Line\nShower shelter two lanes,S-901,1,Line A\n")
    report = import_cache(department=bay, path=register, by=quinn, at=timezone.now())
    assert any("R-26" in n.problem for n in report.findings)
    assert LotHold.objects.get().lot.number == "T7"
    events = StateEvent.objects.filter(event="taken out").values_list("item__serial", flat=True)
    assert set(events) == {"S-900", "S-901"}
    assert came.item.serial == "S-900"


@pytest.mark.parametrize("patterns", [["*"], ["a*"], ["-*"], [""]])
def test_a_recall_that_would_mean_everything_is_refused(bay, patterns):
    with pytest.raises(Conflict):
        recall(bay, serials=[p for p in patterns if p])
    assert not Recall.objects.exists()


def test_the_recall_page_looks_first_and_records_when_told(as_quinn, bay):
    item = make_item(bay, "shelter", "SH-01", serial="AB-1")
    sent = {"client_id": uuid.uuid4(), "reference": "R-1", "what": "Seams.", "serials": "AB-*\r\n", "lots": ""}
    page = as_quinn.post(reverse("inventory:new-recall"), sent | {"look": ""}).content.decode()
    assert "SH-01" in page
    assert not Recall.objects.exists()
    for _ in range(2):
        answer = as_quinn.post(reverse("inventory:new-recall"), sent | {"record": ""})
    assert Recall.objects.count() == 1
    assert "SH-01" in as_quinn.get(answer["Location"]).content.decode()
    assert state(item) == "out of service"
    address = reverse("inventory:release", args=[Recall.objects.get().pk])
    said = {"thing": f"item-{item.pk}", "remedy": "welded", "remedy_by": "Casey"}
    assert as_quinn.post(address, said).status_code == 422  # Quinn recorded it
    assert as_quinn.post(address, said | {"thing": "item-0 or 1"}).status_code == 422
    assert as_quinn.post(address, said | {"thing": "item-987654"}).status_code == 404


def test_nothing_of_another_department_is_ordered_received_or_recalled(as_quinn, bay, quinn, sam):
    theirs = load(sam.department)
    award = Award.objects.create(department=theirs, number="EX-1")
    mine = {"client_id": uuid.uuid4(), "kind": kind(bay).pk, "quantity": "1"}
    for name, pk in (("kind", kind(theirs).pk), ("line", make_line(theirs).pk), ("award", award.pk)):
        assert as_quinn.post(reverse("orders:new"), mine | {name: pk}).status_code == 422
    of = order(bay)
    came = {"receive-client_id": uuid.uuid4(), "receive-quantity": "1", "receive-lot_number": "X"}
    came["receive-place"] = make_place(theirs).pk
    assert as_quinn.post(reverse("orders:receive", args=[of.pk]), came).status_code == 422
    theirs_order = order(theirs)
    assert as_quinn.get(reverse("orders:order", args=[theirs_order.pk])).status_code == 404
    assert as_quinn.post(reverse("orders:cancel", args=[theirs_order.pk])).status_code == 404
    assert not OrderEvent.objects.exists()


def test_the_list_takes_a_number_of_queries_that_lines_and_orders_do_not_add_to(
    as_quinn, bay, django_assert_max_num_queries
):
    for n in range(6):
        line = make_line(bay, f"Line {n}")
        make_row(line, "towel", quantity=10, needed=1, scales="person")
        order(bay, line=line)
    with django_assert_max_num_queries(30):
        as_quinn.get(reverse("orders:list"))
