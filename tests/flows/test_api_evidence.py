"""The evidence over the API: a walk from opening to signing, checks judged once, faults to restoration."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from inspections.models import Inspection
from tests.conftest import ID_1
from tests.flows.api import at, problem_of, signed
from tests.reports.cache import HOLD, make_item, make_line

LEAKS = HOLD | {"p2_psi": 0.6}


@pytest.fixture
def item(quinn):
    return make_item(quinn.department)


def ago(hours):
    return (timezone.now() - timedelta(hours=hours)).isoformat()


def check(item, values=HOLD, **more):
    sent = {"client_id": str(uuid.uuid4()), "check_key": "hold", "item": item.pk, "values": values}
    return sent | {"happened_at": ago(1)} | more


def test_a_procedure_tells_its_typed_inputs_with_their_units(item, quinn):
    client = signed(quinn)
    rows = client.get(at("procedures?check_key=hold")).json()["results"]
    assert len(rows) == 1
    inputs = {entry["key"]: entry for entry in rows[0]["definition"]["inputs"]}
    assert (inputs["p1_psi"]["type"], inputs["p1_psi"]["unit"]) == ("number", "psi")
    assert client.get(at(f"procedures/{rows[0]['id']}")).json()["name"] == "Inflation hold test"


def test_a_check_is_judged_and_recorded_with_its_readings_and_proofs(item, casey):
    client = signed(casey)
    answer = client.post(at("inspections"), check(item), format="json")
    assert answer.status_code == 201
    body = answer.json()
    assert body["verdict"].startswith("pass")
    assert body["by_name"] == "Casey"
    assert {"mode_code": "SH1", "proof_outcome": "proven", "ratio": None, "units": 1} in body["proofs"]
    assert any(reading["key"] == "p1_psi" and reading["unit"] == "psi" for reading in body["readings"])
    assert any(finding["limit_text"] and finding["origin"] for finding in body["findings"])
    readings = client.get(at(f"items/{item.pk}/readings")).json()
    assert readings["count"] == len(body["readings"])


def test_the_same_check_sent_twice_is_one_record_and_another_under_its_id_is_refused(item, casey):
    client, sent = signed(casey), check(item)
    first, again = (client.post(at("inspections"), sent, format="json") for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    for change in ({"values": HOLD | {"p2_psi": 2.4}}, {"remark": "zip sticky"}, {"happened_at": ago(3)}):
        other = client.post(at("inspections"), sent | change, format="json")
        assert other.status_code == 409
        problem_of(other)
    assert Inspection.objects.count() == 1


def test_a_check_sent_twice_without_its_time_is_one_record(item, casey):
    client, sent = signed(casey), check(item)
    del sent["happened_at"]
    codes = [client.post(at("inspections"), sent, format="json").status_code for _ in range(2)]
    assert codes == [201, 200]


def test_readings_that_cannot_be_understood_are_all_named_with_how_to_mend_each(item, casey):
    values = {"p1_psi": "three", "t1_degF": 62, "p2_psi": -4, "t2_degF": 49, "hold_min": 60}
    answer = signed(casey).post(at("inspections"), check(item, values), format="json")
    assert answer.status_code == 400
    places = {problem["where"] for problem in problem_of(answer)["problems"]}
    assert {"values.p1_psi", "values.p2_psi"} <= places
    assert not Inspection.objects.exists()


def test_a_check_the_kind_does_not_have_is_refused(item, casey):
    answer = signed(casey).post(at("inspections"), check(item, {"rest_v": 12.7}, check_key="battery"), format="json")
    assert answer.status_code == 400
    assert problem_of(answer)["problems"][0]["where"] == "check_key"


@pytest.mark.parametrize("change", [{"item": None}, {"line": 1}, {"values": [1]}, {"values": {"p1_psi": {"deep": 1}}}])
def test_a_body_of_another_shape_is_refused(change, item, casey):
    answer = signed(casey).post(at("inspections"), check(item) | change, format="json")
    assert answer.status_code == 400
    problem_of(answer)


def test_inspections_are_filtered_by_item_verdict_and_time(item, casey, quinn):
    client = signed(casey)
    other = make_item(quinn.department, tag="SH-02")
    client.post(at("inspections"), check(item, happened_at=ago(30)), format="json")
    client.post(at("inspections"), check(other, LEAKS), format="json")
    assert client.get(at(f"inspections?item={item.pk}")).json()["count"] == 1
    assert client.get(at("inspections?verdict=fail")).json()["results"][0]["item"] == other.pk
    recent = client.get(at("inspections"), {"since": ago(10)}).json()["results"]
    assert [row["item"] for row in recent] == [other.pk]


def test_a_list_of_inspections_costs_the_same_queries_however_long(item, casey, django_assert_max_num_queries):
    client = signed(casey)
    for hours in range(1, 12):
        client.post(at("inspections"), check(item, happened_at=ago(hours)), format="json")
    with django_assert_max_num_queries(8):
        assert client.get(at("inspections")).json()["count"] == 11


def test_a_walk_is_opened_once_walked_signed_and_then_closed(item, casey):
    client = signed(casey)
    place = make_line(casey.department).home
    sent = {"client_id": str(ID_1), "place": place.pk}
    opened, again = (client.post(at("walks"), sent, format="json") for _ in range(2))
    assert (opened.status_code, again.status_code) == (201, 200)
    number = opened.json()["id"]
    assert client.post(at(f"walks/{number}/sign"), {}, format="json").status_code == 409, "nothing was checked"
    assert client.post(at("inspections"), check(item, walk=number), format="json").status_code == 201
    signed_walk = client.post(at(f"walks/{number}/sign"), {"note": "all dry"}, format="json").json()
    assert signed_walk["signed_name"] == "Casey"
    assert signed_walk["signed_at"]
    late = client.post(at("inspections"), check(item, walk=number), format="json")
    assert late.status_code == 409
    assert client.get(at("walks?signed_at__isnull=true")).json()["count"] == 0


def test_a_fault_goes_from_finding_to_repair_to_a_second_name(item, casey, avery, quinn):
    client = signed(casey)
    client.post(at("inspections"), check(item, LEAKS, happened_at=ago(9)), format="json")
    fault = client.get(at("deficiencies?is_open=true")).json()["results"][0]
    assert (fault["item_tag"], fault["found_by"]) == ("SH-01", "Casey")
    repair = {"client_id": str(ID_1), "item": item.pk, "deficiency": fault["id"], "what": "patched", "cost": "12.00"}
    repair |= {"happened_at": ago(8)}
    codes = [signed(avery).post(at("repairs"), repair, format="json").status_code for _ in range(2)]
    assert codes == [201, 200]
    assert client.get(at(f"deficiencies/{fault['id']}")).json()["is_open"], "a repair proves nothing"
    signed(quinn).post(at("inspections"), check(item), format="json")
    after = client.get(at(f"deficiencies/{fault['id']}")).json()
    assert (after["is_open"], after["awaiting_second_name"]) == (False, False)


def test_use_is_recorded_once(item, casey):
    client = signed(casey)
    sent = {"client_id": str(ID_1), "item": item.pk, "upkeep_sort": "used", "hours": 2.5}
    assert [client.post(at("upkeep"), sent, format="json").status_code for _ in range(2)] == [201, 200]
    assert client.post(at("upkeep"), sent | {"hours": 3}, format="json").status_code == 409
    assert client.get(at(f"upkeep?item={item.pk}")).json()["count"] == 1


def test_an_item_is_taken_out_by_crew_and_brought_back_by_an_officer(item, casey, quinn):
    sent = {"client_id": str(ID_1), "reason": "burn on beam 2", "happened_at": ago(3)}
    address = at(f"items/{item.pk}")
    assert signed(casey).post(f"{address}/take-out", sent, format="json").status_code == 201
    assert signed(casey).get(address).json()["standing"]["state"] == "out of service"
    back = {"client_id": str(uuid.uuid4()), "reason": "only soot"}
    assert signed(casey).post(f"{address}/bring-back", back, format="json").status_code == 403
    assert signed(quinn).post(f"{address}/bring-back", back, format="json").status_code == 201
    standing = signed(casey).get(address).json()["standing"]
    assert (standing["state"], standing["awaiting_second_name"]) == ("in service", False)


@pytest.mark.parametrize("address", ["inspections", "walks", "repairs", "upkeep"])
def test_who_only_reads_or_is_not_of_the_house_records_nothing(address, item, hollis, gray, sam):
    for person in (hollis, gray):
        assert signed(person).post(at(address), check(item), format="json").status_code == 403
    assert signed(sam).post(at(address), check(item) | {"place": 1, "what": "x"}, format="json").status_code == 400
    assert not Inspection.objects.exists()


def test_evidence_of_another_department_is_not_there(item, casey, sam):
    number = signed(casey).post(at("inspections"), check(item, LEAKS), format="json").json()["id"]
    client = signed(sam)
    assert client.get(at(f"inspections/{number}")).status_code == 404
    for address in ("inspections", "deficiencies", "walks", "procedures", "repairs", "upkeep"):
        assert client.get(at(address)).json()["count"] == 0
