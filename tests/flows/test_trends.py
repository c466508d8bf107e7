"""Readings over time on an item's page, on their own page, as CSV and over the API."""

import csv
import io
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inspections.models import Inspection
from shared.models import User
from tests.inspections.building import check, load, make_item
from tests.inspections.test_trends import HEAT, HOLD

NOW_DAYS = (210, 180, 150, 120, 90, 60, 30)


def ago(days):
    return timezone.now() - timedelta(days=days)


@pytest.fixture
def cache(department):
    return load(department)


@pytest.fixture
def leaking(cache):
    shelter = make_item(cache, "shelter", "SH-01")
    for number, days in enumerate(NOW_DAYS):
        check(shelter, "hold", HOLD.format(p2=f"{2.97 - 0.015 * number:.3f}", hold=60), at=ago(days))
    check(shelter, "hold", HOLD.format(p2="2.90", hold=10), at=ago(5))
    return shelter


@pytest.fixture
def as_quinn(client_of, quinn):
    return client_of(quinn)


def text_of(client, address):
    answer = client.get(address)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def trend_page(item, quantity="hold-loss"):
    return reverse("inspections:trend", args=[item.pk, quantity])


def of_api(item):
    return reverse("api:item-trends", args=[item.pk])


def test_an_items_page_draws_each_quantity_with_its_limit_and_what_is_foretold(as_quinn, leaking):
    page = text_of(as_quinn, reverse("inventory:item", args=[leaking.pk]))
    assert page.count('<svg class="plot"') == 2  # the loss, and how long it stands
    assert "At most 5 %" in page
    assert "At this rate it meets its limit about" in page
    assert "(90 % range)" in page
    assert "void: no value counts" in page
    assert trend_page(leaking) in page
    assert " style=" not in page


def test_every_mark_leads_to_its_record_by_hand_and_by_keyboard(as_quinn, leaking):
    page = text_of(as_quinn, trend_page(leaking))
    for ref in Inspection.objects.filter(item=leaking).values_list("client_id", flat=True):
        assert page.count(reverse("inspections:inspection", args=[ref])) == 2
    assert '<svg class="plot" role="figure"' in page
    assert re.search(r"<title>True loss in an hour, %: 7 readings</title><desc>At this rate", page)
    assert " style=" not in page


def test_the_page_of_a_trend_gives_the_numbers_of_its_fit_and_their_formulas(as_quinn, leaking):
    page = text_of(as_quinn, trend_page(leaking))
    assert "+6.09 % a year" in page  # half a percent each thirty days
    assert "Nothing is told beyond" in page
    for anchor in ("drift-forecast", "drift-prediction_range", "air-corrected_loss_pa"):
        assert f'{reverse("proof-book:verification")}#{anchor}"' in page


def test_a_quantity_never_read_says_what_reads_it_and_an_unknown_one_is_not_found(as_quinn, leaking):
    assert "never read on this item" in text_of(as_quinn, trend_page(leaking, "heat"))
    assert as_quinn.get(trend_page(leaking, "nothing")).status_code == 404
    assert as_quinn.get(reverse("inspections:trend-csv", args=[leaking.pk, "heat"])).status_code == 404


def test_an_item_without_readings_has_no_chart(as_quinn, cache):
    page = text_of(as_quinn, reverse("inventory:item", args=[make_item(cache, "shelter", "SH-09").pk]))
    assert "Measured over time" not in page


def test_the_readings_come_as_csv_for_whom_exports(as_quinn, leaking, client_of, casey):
    address = reverse("inspections:trend-csv", args=[leaking.pk, "hold-loss"])
    rows = list(csv.DictReader(io.StringIO(text_of(as_quinn, address))))
    assert [row["verdict"] for row in rows][-1] == "void"
    assert float(rows[0]["value"]) == pytest.approx(1.0)
    assert {row["unit"] for row in rows} == {"%"}
    assert client_of(casey).get(address).status_code == 403


def test_an_si_reader_sees_their_own_units(as_quinn, quinn, cache):
    heater = make_item(cache, "heater", "WH-01")
    for number, out in enumerate(("99", "97", "95", "93", "91")):
        check(heater, "heat", HEAT.format(out=out), at=ago(200 - 30 * number))
    address = trend_page(heater, "heat")
    assert "BTU/h" in text_of(as_quinn, address)
    User.objects.filter(pk=quinn.pk).update(uses_si=True)
    page = text_of(as_quinn, address)
    assert "BTU/h" not in page
    assert "kW" in page
    assert "°C" in text_of(as_quinn, trend_page(heater, "head"))


def test_another_departments_item_is_not_found(leaking, client_of, sam):
    stranger = client_of(sam)
    for name in ("trend", "trend-csv"):
        assert stranger.get(reverse(f"inspections:{name}", args=[leaking.pk, "hold-loss"])).status_code == 404
    assert stranger.get(of_api(leaking)).status_code == 404


def test_the_api_gives_points_limit_and_forecast_in_si(as_quinn, leaking):
    rows = {row["quantity"]: row for row in as_quinn.get(of_api(leaking)).json()}
    loss = rows["hold-loss"]
    assert (loss["unit"], loss["trend_outcome"], loss["towards"]) == ("ratio", "will cross", "high")
    assert loss["bounds"] == [{"side": "high", "limit": 0.05}]
    assert len(loss["points"]) == 7
    assert loss["earliest_on"] <= loss["crosses_on"]
    assert rows["stands"]["trend_outcome"] is None


def test_a_trend_costs_the_same_queries_however_many_readings(as_quinn, leaking, django_assert_max_num_queries):
    for address, most in ((trend_page(leaking), 20), (of_api(leaking), 12)):
        with django_assert_max_num_queries(most) as few:
            as_quinn.get(address)
        for days in (4, 3, 2):
            check(leaking, "hold", HOLD.format(p2="2.87", hold=60), at=ago(days))
        with django_assert_max_num_queries(len(few)):
            as_quinn.get(address)


def test_many_readings_are_paged(as_quinn, cache):
    heater = make_item(cache, "heater", "WH-01")
    for number in range(53):
        check(heater, "heat", HEAT.format(out="99"), at=ago(200 - number))
    page = text_of(as_quinn, trend_page(heater, "heat"))
    assert "Page 1 of 2" in page
    assert page.count('data-label="Value"') == 50
