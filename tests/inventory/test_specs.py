"""What a plate says, out of free text, kind by kind."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.importing.specs import read_spec
from inventory.services.catalogue import shipped_kinds

FIELDS = {kind["key"]: kind["spec"] for kind in shipped_kinds()}


@pytest.mark.parametrize(
    ("kind", "text", "spec"),
    [
        ("shelter", "2 lanes; set 3.0 psi; berm 120 gal", {"lanes": 2, "set_psi": 3.0, "berm_gal": 120.0}),
        ("shelter", "Shower shelter, air-beam, one lane", {"lanes": 1}),
        ("tarp", "20 ft x 30 ft", {"length_ft": 20.0, "width_ft": 30.0}),
        (
            "propane",
            "100 lb; TW 66.5 lb; mfr 12-2015; requal 2017-06 E",
            {"nominal_lb": 100.0, "tare_lb": 66.5, "made": "2015-12", "requal": "2017-06", "requal_suffix": "E"},
        ),
        ("propane", "TW 68 lb; mfr 03-2019", {"tare_lb": 68.0, "made": "2019-03"}),
        (
            "air_cylinder",
            "88 cu ft; mfr 02-2018; hydro 2022-01",
            {"free_air_ft3": 88.0, "made": "2018-02", "requal": "2022-01"},
        ),
        (
            "heater",
            "190,000 BTU/h in; set 105 F; 120 V igniter",
            {"input_btu_h": 190000.0, "set_degF": 105.0, "volts": 120.0},
        ),
        ("pump", "115V 1/3 HP, 30 gpm", {"gpm": 30.0, "volts": 115.0, "hp": 0.3333}),
        ("bladder", "300 gal; air release; 2 ball valves", {"gal": 300.0}),
        ("battery", "12 V 100 Ah", {"volts": 12.0, "ah": 100.0}),
        ("regulator", "min inlet 10 psig", {"min_inlet_psig": 10.0}),
        ("generator", "5 kW; 7 gal tank", {"watts": 5000.0, "tank_gal": 7.0}),
        (
            "meters",
            "gauge 0.01 psi; scale 0.1 lb; therm 0.5 F",
            {"gauge_psi": 0.01, "scale_lb": 0.1, "therm_degF": 0.5},
        ),
        ("hose_cold", "50'", {"length_ft": 50.0}),
        ("hose_waste", "50 ft 1.5in cam", {"length_ft": 50.0, "bore_in": 1.5, "thread": "cam"}),
        ("light_supply", "120 V in 12 V out", {"volts": 12.0}),
        ("inflation_kit", "4500 psi in; 5 psi out", {"inlet_psi": 4500.0, "outlet_psi": 5.0}),
        ("trailer", "GVWR 7,000 lb", {"gvwr_lb": 7000.0}),
        ("injector", "0.1-0.5 %", {}),
        ("mixing_valve", "set 98 F", {"set_degF": 98.0}),
    ],
)
def test_a_plate_is_read_into_the_kinds_own_fields(kind, text, spec):
    assert read_spec(kind, FIELDS[kind], text) == (spec, [])


def test_the_spec_cell_wins_over_the_name():
    spec, _ = read_spec("hose_cold", FIELDS["hose_cold"], "25 ft", "Hose 50 ft")
    assert spec == {"length_ft": 25.0}


def test_a_number_that_cannot_be_right_is_complained_about_and_not_kept():
    spec, wrong = read_spec("heater", FIELDS["heater"], "set 1050 F; 190,000 BTU/h")
    assert "set_degF" not in spec
    assert wrong == ["Set-point of 1050 degF"]


@given(kind=st.sampled_from(sorted(FIELDS)), text=st.text(max_size=80))
def test_no_text_crashes_the_reading_of_a_plate(kind, text):
    spec, _ = read_spec(kind, FIELDS[kind], text)
    assert set(spec) <= {field["key"] for field in FIELDS[kind]}
