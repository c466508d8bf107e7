"""Tonight: the mission question, and every line against what it is rated for."""

from datetime import date

import pytest
from django.urls import reverse
from django.utils.html import escape

from inventory.services import load_catalogue
from readiness import page_words as words
from readiness.page_queries import Answer, best_first
from shared.templatetags.holdair import points
from tests.flows.ratings import (
    FUNCTIONS,
    HEAT,
    TOWELS,
    can_do,
    down,
    function_row,
    limit_row,
    make_line,
    rating,
    store,
    whole,
)

pytestmark = pytest.mark.django_db
TONIGHT = "/"


@pytest.fixture
def as_quinn(quinn, client_of):
    return client_of(quinn)


@pytest.fixture
def catalogue(department):
    load_catalogue(department=department, on=date(2024, 1, 1))


def page_of(client, query: str = "", **headers: str) -> str:
    answer = client.get(f"{TONIGHT}{query}", headers=headers)
    assert answer.status_code == 200
    return answer.content.decode()


def test_without_a_line_the_page_says_how_to_import(as_quinn):
    page = page_of(as_quinn)
    assert "No line is recorded yet" in page
    assert "import_cache REGISTER.xlsx --department" in page
    assert "People an hour" not in page


def test_a_line_never_rated_claims_nothing(as_quinn, department):
    make_line(department)
    page = page_of(as_quinn)
    assert "Line A is not rated yet." in page
    assert "Not rated yet" in page


def test_the_lead_says_what_the_best_line_can_do_and_what_holds_it(as_quinn, department):
    store(make_line(department), rating())
    page = page_of(as_quinn)
    assert "Line A can wash 30 people an hour tonight, not its rated 60." in page
    held = (
        "Heat and propane rate both hold it to one lane; "
        "at 60 an hour, waste would stop it at 1 h 40 min and redress at 2 h 30 min."
    )
    assert held in page
    assert "88 in 100</b> (likely 80 to 93)" in page
    assert "90 seconds wet, a local medical setting, for each person" in page


def test_each_limit_has_a_track_that_ends_where_it_bites(as_quinn, department):
    store(make_line(department), rating())
    page = page_of(as_quinn)
    assert '<rect width="55.56%"' in page
    assert "600 of 1,080 gal; full at 1 h 40 min" in page
    heat = "one lane: 155,800 of 244,000 BTU/h, measured 9 Nov 2026; at 60 an hour the heads run 76 °F"
    assert heat in page


def test_every_line_bears_its_word_mark_figure_and_when_it_was_rated(as_quinn, department):
    store(make_line(department, "Line A"), rating())
    store(make_line(department, "Line B"), whole())
    store(make_line(department, "Line C"), down())
    page = page_of(as_quinn)
    for word in ("Limited: short", ">Whole<", ">Down: inflation<"):
        assert word in page
    assert page.count("rated 20 Nov 2026, 13:00 EST") == 3
    assert "Line B can wash its rated 60 people an hour for 3 h." in page
    assert "inflation: at zero" in page


def test_a_line_whose_facts_moved_says_that_it_is_being_rated_again(as_quinn, department):
    store(make_line(department), rating(), stale=True)
    assert "being rated again" in page_of(as_quinn)


def test_what_is_not_recorded_is_named_first_and_every_figure_is_at_most(as_quinn, department):
    functions = [function_row(n) for n in FUNCTIONS if n != "light"]
    functions.append(function_row("light", need=1, have=0, probability=None, evidence="not recorded", items=[]))
    partly = whole(
        "Line A",
        word="Limited",
        reason="unproven",
        functions=functions,
        not_recorded=["light"],
        at_most=["probability", "light"],
    )
    store(make_line(department), partly)
    page = page_of(as_quinn)
    assert "Line A can wash at most its rated 60 people an hour for 3 h." in page
    assert "Not recorded: light. Every figure is at most what is said, until that is recorded." in page
    assert "Limited: unproven" in page
    assert 'class="unrecorded"' in page
    assert "at most 94 in 100" in page


def test_a_line_of_which_nothing_is_recorded_claims_nothing_and_comes_last(as_quinn, catalogue, department):
    make_line(department, "Line A")
    store(make_line(department, "Line B"), whole("Line B"))
    page = page_of(as_quinn, f"?people_per_hour=45&line={department.lines.get(name='Line A').pk}")
    assert "Nothing is recorded of Line A, so nothing is claimed for it." in page
    assert "100 in 100" not in page


def test_a_function_of_which_some_is_missing_is_unproven_and_not_blank(department):
    functions = [function_row(n) for n in FUNCTIONS if n != "heat"]
    functions.append(function_row("heat", evidence="not recorded", at_most=True))
    partly = rating(functions=functions, limits=[], not_recorded=["heat: Propane cylinder"])
    heat = next(f for f in words.functions_of(partly) if f.name == "heat")
    assert (heat.level, heat.said) == ("unproven", "carries it, in part not recorded")


def test_an_unknown_vital_function_is_never_a_merit(department):
    functions = [function_row(n) for n in FUNCTIONS if n != "water"]
    unknown = Answer(make_line(department, "Line A"), whole(functions=functions, not_recorded=["water"]))
    known = Answer(make_line(department, "Line B"), rating())
    assert best_first([unknown, known]) == [known, unknown]


def test_a_line_that_washes_cold_says_so_with_the_commanders_caution(as_quinn, department):
    cold = rating(
        can_do=can_do(60, probability=(90, 80, 95), head_degF=55, cold=True),
        limits=[HEAT | {"lanes": 0, "have": 20_000}],
        cautions=["No lane reaches the least shower temperature: the decision is the commander's."],
    )
    store(make_line(department), cold)
    page = page_of(as_quinn)
    assert "Line A can wash its rated 60 people an hour for 3 h, cold." in page
    assert "the decision is the commander’s." in page
    assert "Heat gives no warm lane." in page
    assert "no lane: 20,000 of 244,000 BTU/h" in page


def test_doubt_conditions_and_blind_spots_stand_beside_the_number_by_name(as_quinn, catalogue, department):
    weak = whole(
        "Line A",
        blind_spots=["SH3", "shelter:SH3"],
        conditions=["LP-02: underfilled found, 35 % left"],
        in_doubt=[
            {"item": "LP-02", "mode": "LP1", "since": "2026-10-14T16:00:00Z"},
            {"item": "SP-01", "mode": "SP2", "since": "2026-10-14T16:00:00Z"},
        ],
    )
    store(make_line(department), weak)
    page = page_of(as_quinn)
    # What a condition tells already is not told twice.
    assert "<b>In doubt</b> SP-01: impeller jammed/seized." in page
    assert "<b>Travels with it</b> LP-02: underfilled found, 35 % left." in page
    assert "<b>Blind spots</b> seam delamination." in page


def test_the_question_starts_as_the_mission_of_the_line_that_is_shown(as_quinn, department):
    short, able = make_line(department, "Line A"), make_line(department, "Line B")
    store(short, rating())
    store(able, whole("Line B", mission=rating()["mission"] | {"hours": 2}))
    assert 'name="hours" value="2"' in page_of(as_quinn)
    assert 'name="hours" value="3"' in page_of(as_quinn, f"?line={short.pk}")


def test_a_line_can_be_brought_to_the_front(as_quinn, department):
    first, second = make_line(department, "Line A"), make_line(department, "Line B")
    store(first, rating())
    store(second, whole())
    assert "<b>Line B can wash" in page_of(as_quinn)
    assert "<b>Line A can wash" in page_of(as_quinn, f"?line={first.pk}")


def test_the_line_of_another_department_is_not_found(as_quinn, other_department, department):
    make_line(department)
    theirs = make_line(other_department, "Line Z")
    store(theirs, whole("Line Z"))
    assert as_quinn.get(f"{TONIGHT}?line={theirs.pk}").status_code == 404
    assert "Line Z" not in page_of(as_quinn)


def test_a_visitor_reads_tonight(visitor, client_of, department):
    store(make_line(department), whole("Line A"))
    assert "Line A can wash" in page_of(client_of(visitor))


def test_nobody_reads_tonight_without_signing_in(client):
    assert client.get(TONIGHT).url == f"{reverse('shared:sign-in')}?next=/"


def test_a_reader_of_metric_units_sees_and_asks_in_them(quinn, as_quinn, department):
    quinn.uses_si = True
    quinn.save()
    store(make_line(department), rating())
    page = page_of(as_quinn)
    assert 'name="air_degC" value="-6.6667"' in page
    assert "45.7 of 71.5 kW" in page
    assert "heads run 24.4 °C" in page


# Asking ------------------------------------------------------------------------------------------------------------


def test_a_wrong_number_is_said_beside_its_field_and_what_was_typed_stays(as_quinn, department):
    store(make_line(department), rating())
    page = page_of(as_quinn, "?people_per_hour=sixty&hours=3&air_degF=20")
    assert 'value="sixty"' in page
    assert 'aria-invalid="true"' in page
    assert 'id="id_people_per_hour_error"' in page
    assert "Write a number, such as 60 or 1.5." in page
    assert "not its rated 60" in page


def test_a_number_out_of_range_says_the_range(as_quinn, department):
    store(make_line(department), rating())
    assert "Write 32 to 110 °F." in page_of(as_quinn, "?supply_degF=250")


def test_a_wrong_number_under_more_opens_it(as_quinn, department):
    store(make_line(department), rating())
    page = page_of(as_quinn, "?child_share=7")
    assert '<details class="more" open>' in page
    assert "Write 0 to 1." in page


def test_more_stays_closed_until_something_under_it_is_asked(as_quinn, catalogue, department):
    make_line(department)
    assert '<details class="more">' in page_of(as_quinn, "?people_per_hour=45&shower_degF=98")
    assert '<details class="more" open>' in page_of(as_quinn, "?people_per_hour=45&shower_degF=90")


def test_two_values_that_disagree_are_said_in_the_words_of_the_form(as_quinn, department):
    store(make_line(department), rating())
    page = page_of(as_quinn, "?shower_degF=70&least_shower_degF=80")
    assert "Least shower that counts is above shower wanted" in page


def test_the_answer_to_an_asked_mission_is_computed_for_every_line(as_quinn, catalogue, department):
    a, b = make_line(department, "Line A"), make_line(department, "Line B")
    page = page_of(as_quinn, "?people_per_hour=45&hours=2&air_degF=10")
    assert "This mission, line by line" in page
    assert 'name="people_per_hour" value="45"' in page
    assert "45 an hour for 2 h, air 10 °F, supply water 40 °F" in page
    for line in (a, b):
        assert f"people_per_hour=45&amp;hours=2&amp;air_degF=10&amp;line={line.pk}" in page


def test_an_ask_by_script_answers_with_the_fragment_alone(as_quinn, catalogue, department):
    make_line(department)
    page = page_of(as_quinn, "?people_per_hour=45", **{"HX-Request": "true"})
    assert page.strip().startswith('<div id="tonight">')
    assert "<html" not in page


def test_a_metric_question_is_the_same_question(quinn, as_quinn, catalogue, department):
    make_line(department)
    assert "air 14 °F" in page_of(as_quinn, "?air_degC=-10")


def test_reading_tonight_takes_a_fixed_number_of_queries(as_quinn, department, django_assert_max_num_queries):
    for n in range(8):
        store(make_line(department, f"Line {n}"), whole(f"Line {n}"))
    page_of(as_quinn)
    # session, user, membership with department, lines with their ratings, names of failure modes
    with django_assert_max_num_queries(8):
        page_of(as_quinn)


def test_no_part_of_tonight_carries_an_inline_style(as_quinn, department):
    store(make_line(department), rating())
    assert "style=" not in page_of(as_quinn)


# Sentences ---------------------------------------------------------------------------------------------------------


def test_a_line_that_lasts_less_than_asked_says_for_how_long(department):
    tired = rating(can_do=can_do(60, hours=100 / 60, probability=(90, 80, 95)), limits=[])
    said = words.lead(tired, asked=True)
    assert said == "Line A can wash 60 people an hour for 1 h 40 min tonight, not the 3 h asked."


def test_what_runs_out_is_told_by_function_in_the_order_it_bites(department):
    cloths = limit_row("wash", 180, 152, "people", resource="wash cloths", bites_at_min=152)
    kits = limit_row("redress", 180, 149, "people", resource="adult kits", bites_at_min=149)
    said = words.holds(rating(limits=[kits, TOWELS, cloths]))
    assert said == "At 60 an hour, redress would stop it at 2 h 29 min and wash at 2 h 32 min."


def test_of_rates_the_tightest_and_of_stocks_the_first_two_are_told(department):
    wide = limit_row("PPE", 16, 12, "count", lanes=3)
    tight = limit_row("water", 8, 4, "count", lanes=2)
    stocks = [limit_row(n, 9, 1, "people", bites_at_min=at) for n, at in (("waste", 50), ("redress", 72), ("wash", 99))]
    said = words.holds(rating(limits=[wide, tight, *stocks]))
    assert (
        said == "Water holds it to two lanes; at 60 an hour, waste would stop it at 50 min and redress at 1 h 12 min."
    )


def test_what_only_follows_from_another_limit_is_not_told_as_one(department):
    power = limit_row("power", 4, 2, "count", resource="gfci", lanes=2)
    follows = limit_row("inflation", 1, 0, "count", lanes=0, basis="relies on power")
    both = rating(limits=[follows, power])
    assert words.holds(both) == "Power holds it to two lanes."
    assert words.first_limit(both).startswith("power (GFCI)")
    assert words.holds(rating(limits=[follows])) == "Inflation holds it to nothing."


def test_people_are_whole(department):
    slow = rating(can_do=can_do(21.8, probability=(90, 80, 95)), limits=[])
    assert words.lead(slow, asked=True) == "Line A can wash 21 people an hour tonight, not the 60 asked."


def test_a_line_of_which_only_people_are_recorded_claims_nothing(department):
    unknown = [name for name in FUNCTIONS if name != "crew"]
    crew = rating(
        can_do=can_do(60, probability=(100, 100, 100)),
        functions=[function_row("crew")],
        not_recorded=[*unknown, "crew: Trailer"],
    )
    assert words.lead(crew, asked=False) == "Nothing is recorded of Line A, so nothing is claimed for it."


def test_a_line_that_is_down_washes_nobody(department):
    assert words.lead(down(), asked=True) == "Line C can wash nobody tonight."
    assert words.holds(down()) == "Inflation holds it to nothing."


def test_a_near_certainty_is_never_rounded_to_one(department):
    assert [points(value) for value in (0.0, 0.2, 99.6, 100.0)] == ["0", "1", "99", "100"]


def test_names_from_the_register_are_escaped(as_quinn, department):
    name = 'Line <b>"A"</b>'
    store(make_line(department, name), whole(name))
    page = page_of(as_quinn)
    assert name not in page
    assert escape(name) in page


def test_a_limit_without_a_have_is_shown_at_zero(department):
    row = words.track_rows(rating(limits=[limit_row("crew", 8, 0, "people", lanes=0)]))[0]
    assert (row.level, row.percent, row.text) == ("down", 0.0, "no lane: 0 of 8 people")
