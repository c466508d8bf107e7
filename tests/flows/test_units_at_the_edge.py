"""Numbers asked for, bounded, understood and shown in the units of whoever reads and writes them."""

import re
import uuid

import pytest
from django.urls import reverse

from inspections.models import Inspection
from reports.queries import inspection_sheet
from shared.models import User
from tests.flows.bays import HOLD, load, make_item, make_line, record
from tests.flows.ratings import rating, store
from tests.flows.test_walk_check import address, send, text

pytestmark = pytest.mark.django_db
SI_HOLD = HOLD | {"p1_psi": "20.7", "p2_psi": "20.0", "t1_degF": "15", "t2_degF": "14"}


@pytest.fixture
def shelter(department):
    load(department)
    make_line(department)
    return make_item(department, "shelter", "SH-01")


@pytest.fixture
def as_casey(casey, client_of):
    return client_of(casey)


@pytest.fixture
def metric(casey, client_of):
    """Casey, who chose metric units in the settings."""
    client = client_of(casey)
    answer = client.post(reverse("shared:settings"), {"display_name": "Casey", "uses_si": "on"})
    assert answer.status_code == 302
    assert User.objects.get(pk=casey.pk).uses_si
    return client


def readings(row: Inspection) -> dict[str, tuple[float, str, str]]:
    return {r.key: (r.number, r.unit, r.as_entered) for r in row.readings.all() if r.number is not None}


# Checks ------------------------------------------------------------------------------------------------------------


def test_a_number_may_be_typed_with_a_unit_and_is_kept_in_the_procedures_beside_what_was_typed(as_casey, shelter):
    assert send(as_casey, shelter, "hold", HOLD | {"p1_psi": "0.2 bar", "t1_degF": "15 °C"}).status_code == 302
    kept = readings(Inspection.objects.get())
    assert kept["p1_psi"] == (pytest.approx(2.9008, rel=1e-4), "psi", "0.2 bar")
    assert kept["t1_degF"] == (pytest.approx(59.0), "degF", "15 °C")
    page = text(as_casey.get(reverse("inspections:inspection", args=[Inspection.objects.get().client_id])))
    assert "2.901 psi (entered 0.2 bar)" in page
    assert "59 °F (entered 15 °C)" in page


def test_another_dimension_is_refused_beside_its_field_and_what_was_typed_stays(as_casey, shelter):
    page = text(send(as_casey, shelter, "hold", HOLD | {"p1_psi": "120 F"}), 422)
    assert "‘120 F’ is a temperature" in page.replace("&#x27;", "’").replace("’120 F’", "‘120 F’")
    assert 'value="120 F"' in page
    assert not Inspection.objects.exists()


def test_a_metric_reader_is_asked_and_bounded_in_metric_units(metric, shelter):
    page = text(metric.get(address(shelter, "hold")))
    assert 'id="id_p1_psi_unit">kPa<' in page
    assert 'id="id_t1_degF_unit">°C<' in page
    limits = re.findall(r'class="limit"[^>]*>(.*?)<', page)
    assert not any("°F" in one or "psi" in one for one in limits)
    page = text(send(metric, shelter, "hold", SI_HOLD | {"p1_psi": "300"}), 422)
    assert "outside 0.3447 to 206.8 kPa" in page
    assert 'value="300"' in page


def test_a_change_and_a_step_of_temperature_are_turned_as_differences(metric, shelter):
    page = text(metric.get(address(shelter, "hold")))
    assert "Temperature change between readings: at most 11.11 °C" in page
    page = text(send(metric, shelter, "hold", SI_HOLD | {"therm_step_degF": "9"}), 422)
    assert "outside 0.02778 to 5.556 °C" in page
    assert send(metric, shelter, "hold", SI_HOLD | {"therm_step_degF": "0.1"}).status_code == 302
    assert readings(Inspection.objects.get())["therm_step_degF"] == (pytest.approx(0.18), "ddegF", "0.1 °C")


def test_what_a_metric_reader_types_is_metric_and_kept_in_the_procedures_units(metric, shelter):
    assert send(metric, shelter, "hold", SI_HOLD).status_code == 302
    row = Inspection.objects.get()
    kept = readings(row)
    assert kept["p1_psi"] == (pytest.approx(3.00228, rel=1e-4), "psi", "20.7 kPa")
    assert kept["t1_degF"] == (pytest.approx(59.0), "degF", "15 °C")
    assert kept["hold_min"][1:] == ("min", HOLD["hold_min"])
    page = text(metric.get(reverse("inspections:inspection", args=[row.client_id])))
    assert re.search(r"20\.7\s+kPa</dd>", page)
    assert "entered" not in page[page.index("Readings, as entered") + 30 :]


def test_a_metric_reader_may_type_the_other_units_too(metric, shelter):
    assert send(metric, shelter, "hold", SI_HOLD | {"p1_psi": "3.0 psi", "t1_degF": "59 F"}).status_code == 302
    kept = readings(Inspection.objects.get())
    assert kept["p1_psi"] == (3.0, "psi", "3.0 psi")
    assert kept["t1_degF"] == (59.0, "degF", "59 F")


def test_the_verdict_is_the_same_in_either_units(metric, shelter, department):
    record(shelter, "hold", HOLD)
    turned = {
        **{key: f"{float(HOLD[key]) * 6.894757:.3f}" for key in ("p_set_psi", "p1_psi", "p2_psi")},
        **{key: f"{(float(HOLD[key]) - 32) / 1.8:.3f}" for key in ("t1_degF", "t2_degF")},
    }
    assert send(metric, shelter, "hold", HOLD | turned).status_code == 302
    first, second = Inspection.objects.order_by("pk")
    assert first.verdict == second.verdict
    assert second.measured["hold_loss_fraction"]["value"] == pytest.approx(
        first.measured["hold_loss_fraction"]["value"], rel=1e-2
    )


def test_each_reader_reads_a_record_in_their_own_units(metric, shelter, quinn, client_of):
    row = record(shelter, "hold", HOLD)
    here = reverse("inspections:inspection", args=[row.client_id])
    assert re.search(rf"{HOLD['p1_psi']}\s+psi", text(client_of(quinn).get(here)))
    page = text(metric.get(here))
    assert f"(entered {HOLD['p1_psi']} psi)" in page
    assert re.search(r"[\d.]+ kPa \(entered", page)
    item = text(metric.get(reverse("inventory:item", args=[shelter.pk])))
    assert "kPa (entered" in item


def test_a_metric_reader_corrects_a_record_without_its_numbers_being_taken_for_metric(metric, shelter):
    row = record(shelter, "hold", HOLD)
    where = reverse("inspections:correct", args=[row.client_id])
    page = text(metric.get(where))
    assert f'value="{HOLD["p1_psi"]} psi"' in page
    sent = dict(re.findall(r'name="(\w+)" value="([^"]*)"', page))
    sent |= {key: value for key, value in HOLD.items() if key not in sent or not sent[key]}
    sent |= {"client_id": str(uuid.uuid4()), "remark": "misread", "p2_psi": "19"}
    assert metric.post(where, sent).status_code == 302
    kept = readings(Inspection.objects.get(corrects=row))
    assert kept["p1_psi"][0] == float(HOLD["p1_psi"])
    assert kept["p2_psi"] == (pytest.approx(2.7557, rel=1e-4), "psi", "19 kPa")


def test_paper_speaks_in_the_procedures_units_with_what_was_entered(metric, shelter):
    assert send(metric, shelter, "hold", SI_HOLD).status_code == 302
    row = Inspection.objects.get()
    lines = {line.label: (line.as_entered, line.unit) for line in inspection_sheet(row, row.recorded_at).readings}
    assert lines["Reading 1"] == ("3.002", "psi (entered 20.7 kPa)")


def test_the_api_stays_in_the_procedures_units(metric, shelter, casey, client_of):
    body = {"client_id": str(uuid.uuid4()), "item": shelter.pk, "check_key": "hold", "values": HOLD}
    answer = metric.post("/api/v1/inspections", body, content_type="application/json")
    assert answer.status_code == 201, answer.content
    assert readings(Inspection.objects.get())["p1_psi"][:2] == (float(HOLD["p1_psi"]), "psi")


# Missions ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def line(department):
    found = make_line(department)
    store(found, rating())
    return found


def tonight(client, query: str) -> str:
    return text(client.get(reverse("readiness:tonight") + query))


@pytest.mark.parametrize("air", ["-10 °C", "14 F", "14", "263.15 K"])
def test_a_mission_may_be_asked_with_units(as_casey, line, air):
    page = as_casey.get(reverse("readiness:tonight"), {"air_degF": air, "hours": "90 min"}).content.decode()
    assert "air 14 °F" in page
    assert "1 h 30 min" in page


def test_a_mission_in_another_dimension_is_refused_in_words(as_casey, line):
    page = as_casey.get(reverse("readiness:tonight"), {"air_degF": "20 psi"}).content.decode()
    assert "is a pressure, and a temperature is asked for. Give it in °F or °C." in page
    assert 'value="20 psi"' in page


def test_a_metric_mission_is_labelled_and_bounded_in_metric_units(metric, line):
    page = metric.get(reverse("readiness:tonight"), {"air_degC": "900", "lane_flow_gpm": "4"}).content.decode()
    bound = re.search(r"Write (-?[\d.]+) to (-?[\d.]+) °C\.", page)
    assert bound, page[page.index("air") :][:300]
    assert "air °C" in page
    assert "L/min" in page
    assert 'value="900"' in page
