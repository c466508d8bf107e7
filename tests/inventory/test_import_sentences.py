"""Registers in words: one thing or person to a row, numbers written out, crew with their dates behind their names."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.importing.number_words import digits
from inventory.importing.sentences import person_in, quantity_in, thing_in
from inventory.models import CrewMember, Item
from tests.inventory.registers import held, take, workbook

LIST = """Decon gear on trailer 2, typed by Hollis
1 shower tent two lane set 3.0 psi s/n 4471, bought 3/2019, $22,000, 75% federal
2 electric blowers 120 V 9 A
water heater 190,000 BTU/h on hand truck SN H-20 out of service
4 propane cylinders 100 lb; TW 68 lb; mfr 03-2019; requal 2023-06 E
6 hoses 50' GHT cold
sump pump 30 gpm s/n P1, kept in bay 2
twenty-four floor grids
two hundred towels, lot T-9, exp 12/2028
- 5 kW generator, s/n G1
"""


@pytest.mark.django_db
@pytest.mark.parametrize("quoted", [True, False])
def test_a_list_in_words_is_read_one_thing_to_a_line(department, tmp_path, quoted):
    path = tmp_path / "gear.csv"
    path.write_text("".join(f'"{row}"\n' if quoted else f"{row}\n" for row in LIST.splitlines()))
    report = take(department, path)
    assert (report.taken, report.refused) == (9, [])
    standing = held(department)
    assert {s.item.kind.key: s.quantity for s in standing.values()} == {
        "shelter": 1, "inflator": 2, "heater": 1, "propane": 4, "hose_cold": 6, "pump": 1, "grid": 24, "generator": 1,
    }  # fmt: skip
    shelter, heater, propane, pump = (standing[t] for t in ("SH-01", "WH-01", "LP-01", "SP-01"))
    assert (shelter.item.serial, shelter.item.unit_cost, shelter.item.acquired_on) == ("4471", 22_000, date(2019, 3, 1))
    assert (shelter.item.federal_share, shelter.item.spec) == (Decimal("0.75"), {"lanes": 2, "set_psi": 3.0})
    assert (heater.state, heater.item.name) == ("out of service", "water heater 190,000 BTU/h on hand truck")
    assert propane.item.spec == {
        "nominal_lb": 100.0, "tare_lb": 68.0, "made": "2019-03", "requal": "2023-06", "requal_suffix": "E",
    }  # fmt: skip
    assert (pump.place.name, pump.line.name) == ("bay 2", "Trailer 2")
    assert pump.item.note == "sump pump 30 gpm s/n P1, kept in bay 2"
    lot = department.lots.get()
    assert (lot.number, lot.expires_on) == ("T-9", date(2028, 12, 31))
    assert take(department, path).taken == 0


@pytest.mark.django_db
def test_crew_written_as_one_text_each_keep_role_and_date(department, tmp_path):
    tabs = {
        "Gear": [["Tag", "Item", "Qty", "Line"], ["SH-1", "Shower shelter two lanes", 1, "Line 1"]],
        "Crew": [["Marlow (Hazmat tech) exp 2027-05"], ["Reese (Hazmat ops) exp 2025-02"], ["Sage, line 1"], ["Blair"]],
    }
    report = take(department, workbook(tmp_path / "r.xlsx", tabs))
    assert report.refused == []
    crew = {m.name: m for m in CrewMember.objects.filter(department=department)}
    assert (crew["Marlow"].role, crew["Marlow"].qualified_until) == ("Hazmat tech", date(2027, 5, 31))
    assert (crew["Reese"].qualified_on, crew["Reese"].qualified_until) == (None, date(2025, 2, 28))
    assert crew["Sage"].line is None or crew["Sage"].line.name == "Line 1"
    assert sum("no date of qualification" in n.problem for n in report.findings) == 2


@pytest.mark.django_db
def test_an_expiry_gone_by_under_any_such_heading_is_an_end_and_not_a_beginning(department, tmp_path):
    gear = [["Tag", "Item", "Qty", "Line"], ["SH-1", "Shower shelter two lanes", 1, "Line 1"]]
    for n, heading in enumerate(["HazMat Ops exp.", "Cert good thru", "Training lapses", "Renewal due by"]):
        roster = [["Name", "Rank", heading], [f"Quinn {n}", "Capt", "3/1/2025"]]
        take(department, workbook(tmp_path / f"{n}.xlsx", {"Gear": gear, "Roster": roster}))
        member = CrewMember.objects.get(department=department, name=f"Quinn {n}")
        assert (member.qualified_on, member.qualified_until) == (None, date(2025, 3, 1)), heading


@pytest.mark.django_db
def test_somebody_not_yet_qualified_is_on_the_roster_without_a_date(department, tmp_path):
    tabs = {
        "Gear": [["Tag", "Item", "Qty", "Line"], ["SH-1", "Shower shelter two lanes", 1, "Line 1"]],
        "Roster": [["Name", "Rank", "Certified on"], ["Avery", "FF", "not yet"], ["Casey", "FF", "31/31/2024"]],
    }
    report = take(department, workbook(tmp_path / "r.xlsx", tabs))
    assert [m.name for m in CrewMember.objects.filter(department=department)] == ["Avery"]
    assert [(n.row, n.value) for n in report.refused] == [(3, "31/31/2024")]


@pytest.mark.django_db
def test_a_quantity_only_the_name_says_is_taken_and_found(department, tmp_path):
    rows = [["Gear", "Bay"], ["Hose, garden, 50 ft (6)", "2"], ["12 stakes and straps", "2"], ["Sump pump", "2"]]
    report = take(department, workbook(tmp_path / "r.xlsx", {"List": rows}))
    assert {i.item.kind.key: i.quantity for i in held(department).values()} == {
        "hose_cold": 6, "tie_down": 12, "pump": 1,
    }  # fmt: skip
    assert sum("taken from the name" in n.problem for n in report.findings) == 2
    assert Item.objects.filter(department=department).count() == 3


@pytest.mark.parametrize(
    ("text", "digits_of_it"),
    [
        ("two hundred", "200"), ("twenty-four", "24"), ("half a dozen", "6"), ("a dozen", "12"), ("a pair", "2"),
        ("one hundred ninety thousand BTU", "190000 BTU"), ("fifty feet", "50 feet"), ("one-lane", "1-lane"),
        ("one hundred and five", "105"), ("2 dozen", "2 dozen"), ("a few", "a few"), ("two or three", "2 or 3"),
    ],
)  # fmt: skip
def test_numbers_in_words_become_digits_and_nothing_else_does(text, digits_of_it):
    assert digits(text) == digits_of_it


@pytest.mark.parametrize(
    ("name", "many"),
    [
        ("6 hoses", 6), ("(2) sump pump", 2), ("2x blower", 2), ("Blower x2", 2), ("Hose, 50 ft - 6 ea", 6),
        ("4 100 lb propane cylinders", 4), ("two 300 gal bladders", 2), ("1. Shower shelter", None),
        ("Towels: 200", 200),
        ("5 kW generator", None), ("100 lb propane cylinder", None), ("2-lane shelter", None), ("12 V battery", None),
        ("50' hose", None), ("20x30 tarp", None), ("Inflator", None), ("300 gal bladder", None),
    ],
)  # fmt: skip
def test_a_number_of_units_is_told_from_a_size(name, many):
    assert quantity_in(name) == many


def test_what_is_left_of_a_sentence_is_the_name():
    said = thing_in("SH-04: 1 shower shelter, two lane, award TH-2019-HS-0041, s/n AB-12")
    assert (said["tag"], said["quantity"], said["name"]) == ("SH-04", 1, "shower shelter")
    assert (said["award"], said["serial"]) == ("TH-2019-HS-0041", "AB-12")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Marlow (Hazmat tech) exp 2027-05", {"person": "Marlow", "role": "Hazmat tech", "qualified_until": "2027-05"}),
        ("Casey - operator, since 3/14/2025", {"person": "Casey", "role": "operator", "qualified_on": "3/14/2025"}),
        ("Avery [FF] certified Mar 2025, Line B",
         {"person": "Avery", "role": "FF", "qualified_on": "Mar 2025", "line": "Line B"}),
        ("Quinn", {"person": "Quinn"}),
    ],
)  # fmt: skip
def test_a_person_in_a_text_is_taken_apart(text, said):
    assert person_in(text) == said
