"""Recognising a kind from free text: the words of one department and those of others."""

import pytest

from inventory.importing.kinds import SURE, SURE_ENOUGH, Recogniser
from inventory.services.catalogue import shipped_kinds

RECOGNISER = Recogniser(shipped_kinds())


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Cylinder inflation kit (regulator + whip)", "inflation_kit"),
        ("Propane manifold + regulator set", "regulator"),
        ("Pressure regulator + backflow preventer", "backflow"),
        ("Thermostatic mixing valve w/ thermometer", "mixing_valve"),
        ("Water heater, on-demand, propane, hand truck", "heater"),
        ("Hose 15ft GHT whip", "hose_whip"),
        ("Hose 25 ft GHT clean hot", "hose_hot"),
        ("Waste hose 50 ft, marked", "hose_waste"),
        ("Meter box: gauge, thermometer, CO alarm, scale, multimeter", "meters"),
        ("LED power supply, wet rated", "light_supply"),
        ("Tent, decon, 2-lane inflatable", "shelter"),
        ("Blower, electric 110V", "inflator"),
        ("LP tank, 100#", "propane"),
        ("Pump, sump, auto", "pump"),
        ("Tank, waste water, collapsible, 300gal", "bladder"),
        ("Proportioner, soap", "injector"),
        ("Genset, 5000W", "generator"),
        ("Bottle, air, SCBA", "air_cylinder"),
        ("Extension lead", "cord"),
        ("Genrator 5kw", "generator"),
        ("Watr heatr propane", "heater"),
        ("Undress/redress kit XL", "kit_xl"),
        ("Undress/redress kit child", "kit_child"),
    ],
)
def test_a_kind_is_known_by_its_words_in_any_order(name, kind):
    known = RECOGNISER.recognise(name)
    assert known.key == kind
    assert known.sureness >= SURE


def test_the_plate_tells_a_bare_cylinder():
    assert RECOGNISER.recognise("Cylinder", "TW 68 lb; mfr 03-2019").key == "propane"
    assert RECOGNISER.recognise("Cylinder", "88 cu ft; hydro 2022-01").key == "air_cylinder"


@pytest.mark.parametrize(
    "name",
    [
        "Wheelchair, shower", "Shower head, handheld", "Generator cover", "Propane tank wrench", "Trailer hitch pin",
        "Spare tire, trailer", "Sump float switch", "Charger, battery, 12V", "Paper towels", "Tent heater",
        "Air heater, shelter", "Space heater, diesel", "Battery, AA, pack of 24", "Water distribution manifold",
        "Oxygen cylinder, D", "Duct tape", "Bungee cords", "Leaf blower", "Propane hose", "First aid kit",
        "Bladder, potable water 1500 gal",
    ],
)  # fmt: skip
def test_a_part_of_a_thing_or_its_namesake_is_not_the_thing(name):
    assert RECOGNISER.recognise(name).key == "other"


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Redress pack, pediatric", "kit_child"),
        ("Redress pack, bariatric", "kit_xl"),
        ("Battery 12 V AGM + maintainer", "battery"),
        ("Fill valve cap", "fill_cap"),
        ("Trailer w/ spare tire and jack", "trailer"),
        ("Water heater on cart, propane", "heater"),
        ("Decon pool, inflatable", "berm"),
    ],
)
def test_a_thing_with_its_parts_is_the_thing(name, kind):
    assert RECOGNISER.recognise(name).key == kind


@pytest.mark.parametrize(
    "name", ["Shower shelter two lanes", "Shower tent 2-lane", "Sump pump 30 gpm", "Generator 5 kW gasoline"]
)
def test_a_size_behind_the_name_makes_no_doubt(name):
    assert RECOGNISER.recognise(name).sureness >= SURE


@pytest.mark.parametrize("name", ["Coffee urn", "Laptop", "Wheel chocks", "Pallet jack", "Fire extinguisher 20 lb ABC"])
def test_what_is_no_kind_is_other(name):
    known = RECOGNISER.recognise(name)
    assert known.key == "other"
    assert known.sureness < SURE_ENOUGH


def test_an_unsure_kind_names_what_else_it_may_be():
    known = RECOGNISER.recognise("Compressor hose")
    assert SURE_ENOUGH <= known.sureness < SURE
    assert known.nearest[0] == known.key == "hose_cold"


def test_a_misspelt_name_is_less_sure_than_a_spelt_one():
    assert RECOGNISER.recognise("Genrator").sureness < RECOGNISER.recognise("Generator").sureness
