"""What was measured over time: which limit belongs to what, what breaks a series, and the day its limit is met."""

import ast
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from inspections import queries
from inspections.quantities import BY_KEY, NO_TREND, NOT_DRAWN, QUANTITIES, Given
from inspections.services import record_repair, record_upkeep
from inspections.trending import Bound, Break, Point, Series, in_words, trend_of
from inventory.models import Limit
from shared.verification.catalogue import catalogue
from tests.inspections.building import check, day, make_item

ROOT = Path(__file__).resolve().parents[2]
ZONE = ZoneInfo("America/New_York")
HOLD = "P_set_psi=3.0; rest_min=60; P1_psi=3.00; T1_F=60.0; P2_psi={p2}; T2_F=60.0; hold_min={hold}; same_gauge=yes; "
HOLD += "direct_sun=no; relief_lifted=no"
HEAT = "inlet_F=40; outlet_F={out}; head_F=97; set_F=105; gpm=5.0; tries=1; off_after_flow_s=2; CO_ppm=2; drained=yes"
SIGNED = {"by_name": "Quinn"}


def held(item, number, p2, hold=60, **more):
    return check(item, "hold", HOLD.format(p2=p2, hold=hold), at=day(number), **more)


def found(item, key, number=900):
    at = day(number)
    return next((one for one in queries.trends(item, at, at) if one.quantity.key == key), None)


def worse(shelter, first=0, start=2.97, months=6):
    """Hold it once a month, each time a fiftieth of a psi worse: 0.67 percent of P1 an hour a month."""
    for number in range(months):
        held(shelter, first + 30 * number, f"{start - 0.02 * number:.3f}")


def repaired(item, number, client_id):
    return record_repair(
        department=item.department, item=item, what="Patched.", happened_at=day(number), client_id=client_id, **SIGNED
    )


# Which limit belongs to what ---------------------------------------------------------------------------------------


def measured_names():
    names = set()
    for path in (ROOT / "inspections" / "verdicts").glob("*.py"):
        for call in ast.walk(ast.parse(path.read_text())):
            if isinstance(call, ast.Call) and getattr(call.func, "attr", "") == "measure":
                first = call.args[0]
                names.add(first.value if isinstance(first, ast.Constant) else f"{path.name}: {ast.unparse(first)}")
    return names


def test_every_measured_quantity_is_drawn_or_says_why_not():
    drawn = {quantity.measured for quantity in QUANTITIES if quantity.measured}
    # The set-up clock names two of its own in a loop.
    names = measured_names() - {"setup.py: name"} | {"water_warm_s", "first_person_s"}
    assert len(names) > 20
    assert names == drawn | NOT_DRAWN.keys()
    assert not drawn & NOT_DRAWN.keys()


def test_every_quantity_has_a_limit_with_its_direction_or_says_why_not():
    for quantity in QUANTITIES:
        assert bool(quantity.limit) != bool(quantity.no_limit), quantity.key
        assert bool(quantity.limit) == bool(quantity.sides), quantity.key
        assert bool(quantity.measured) != bool(quantity.finding), quantity.key


def test_every_limit_of_the_catalogue_is_tied_or_says_why_not(cache):
    tied = {quantity.limit for quantity in QUANTITIES if quantity.limit}
    assert not tied & NO_TREND.keys()
    assert set(Limit.objects.filter(department=cache).values_list("key", flat=True)) == tied | NO_TREND.keys()


def test_a_limit_binds_on_the_sides_that_its_quantity_names(cache):
    rows = {row.key: row for row in Limit.objects.filter(department=cache, kind=None)}
    for quantity in QUANTITIES:
        for side in quantity.sides:
            row = rows[quantity.limit]
            assert (row.pass_low if side == "low" else row.pass_high) is not None, (quantity.key, side)


def test_formulas_named_are_formulas():
    assert {name for quantity in QUANTITIES for name in quantity.formulas} <= {one.name for one in catalogue()}


# Corrections -------------------------------------------------------------------------------------------------------


def test_a_loss_is_carried_to_one_hour_while_the_hours_limit_binds(shelter):
    held(shelter, 0, "2.94", hold=30)
    assert found(shelter, "hold-loss").series.points[0].value == pytest.approx(0.04)
    assert found(shelter, "hold-loss").series.bounds == (Bound("high", pytest.approx(0.05)),)


def test_holds_of_an_hour_of_some_hours_and_of_a_day_are_three_series(shelter):
    for number, hold in enumerate((60, 12 * 60, 48 * 60)):
        held(shelter, number, "2.94", hold=hold)
    values = {key: found(shelter, key).series.points for key in ("hold-loss", "hold-loss-between", "hold-loss-day")}
    assert {key: [round(p.value, 4) for p in points] for key, points in values.items()} == {
        "hold-loss": [0.02],
        "hold-loss-between": [0.02],
        "hold-loss-day": [0.01],
    }
    assert "not one series" in in_words(found(shelter, "hold-loss-between"), date(2026, 11, 1), ZONE)


@pytest.mark.parametrize(
    ("readings", "carried"),
    [
        ({"temp_degF": 77.0, "chemistry": "AGM"}, 0.8),
        ({"temp_degF": 32.0, "chemistry": "AGM"}, None),
        ({"temp_degF": 32.0, "capacity_pct": 80.0}, 0.8),
        ({"temp_degF": 32.0, "chemistry": "primary"}, 0.8),
        ({}, 0.8),
    ],
)
def test_a_capacity_is_carried_to_the_temperature_of_its_rating(readings, carried):
    value = BY_KEY["capacity"].correct(0.8, Given(readings))
    assert value == pytest.approx(carried) if carried else 0.9 < value < 1.2


# Limits that are a share of something ------------------------------------------------------------------------------


def test_heat_is_held_against_the_share_of_the_units_baseline(heater):
    for number, out in enumerate(("99", "95", "91")):
        check(heater, "heat", HEAT.format(out=out), at=day(30 * number))
    trend = found(heater, "heat")
    first, *_ = trend.series.points
    assert trend.series.reference == pytest.approx(first.value)
    assert trend.series.bounds[0].value == pytest.approx(0.85 * first.value)


def test_a_run_held_at_set_point_is_a_lower_bound_and_moves_no_line(heater):
    for number, out in enumerate(("99", "97", "104", "95", "93")):
        check(heater, "heat", HEAT.format(out=out), at=day(30 * number))
    trend = found(heater, "heat")
    assert [point.at_least for point in trend.series.points] == [False, False, True, False, False]
    assert trend.forecast.line.readings == 4
    assert "1 lower bound left out" in in_words(trend, date(2026, 11, 1), ZONE)


# What is foretold --------------------------------------------------------------------------------------------------


def test_an_item_that_gets_worse_meets_its_limit_near_the_day_on_its_line(shelter):
    worse(shelter)
    trend = found(shelter, "hold-loss")
    # 1 percent at first and two thirds more a month: 5 percent after six months.
    assert abs((trend.crosses_at - day(180)).total_seconds()) < 86400
    assert trend.earliest_at <= trend.crosses_at
    said = in_words(trend, date(2026, 11, 1), ZONE)
    assert said.startswith("At this rate it meets its limit about November 2026; a single reading may as early as")
    assert said.endswith("6 readings since 1 Jun 2026.")


def test_a_day_that_is_over_says_it_met_its_limit(shelter):
    worse(shelter)
    said = in_words(found(shelter, "hold-loss"), date(2027, 5, 1), ZONE)
    assert "met its limit about November 2026" in said
    assert "Read it again now." in said


def test_a_repair_begins_the_series_anew(shelter):
    worse(shelter)
    repaired(shelter, 160, "00000000-0000-0000-0000-000000000001")
    assert found(shelter, "hold-loss").forecast.outcome == "no reading"
    assert "since the repair" in in_words(found(shelter, "hold-loss"), date(2026, 12, 1), ZONE)
    for number in range(4):
        held(shelter, 170 + 30 * number, f"{2.97 - 0.002 * number:.3f}")
    trend = found(shelter, "hold-loss")
    assert trend.forecast.line.readings == 4
    assert len(trend.series.points) == 10
    assert trend.crosses_at is None
    assert in_words(trend, date(2027, 3, 1), ZONE).endswith("4 readings since the repair on 8 Nov 2026.")


def test_a_corrected_record_is_left_out_and_a_void_one_has_no_value(shelter):
    worse(shelter, months=4)
    wrong = held(shelter, 125, "2.60")
    held(shelter, 125, "2.89", corrects=wrong)
    held(shelter, 130, "2.90", hold=10)  # too short: void
    series = found(shelter, "hold-loss").series
    assert len(series.points) == 5
    assert [void.at for void in series.voids] == [day(130)]


def test_readings_known_later_are_not_known_earlier(shelter):
    worse(shelter)
    assert len(queries.trends(shelter, day(900), day(45))[0].series.points) == 2
    assert queries.trends(shelter, day(-1), day(900)) == []


def test_what_a_cylinder_holds_is_drawn_and_not_foretold(cache):
    propane = make_item(cache, "propane", "LP-01")
    for number in range(5):
        check(propane, "propane", f"gross_lb={160 - 10 * number}; tare_lb=68", at=day(30 * number))
    trend = found(propane, "propane")
    assert trend.forecast is None
    assert "changes by use and filling" in in_words(trend, date(2026, 11, 1), ZONE)
    assert trend.series.bounds[0].value == pytest.approx(0.8 * trend.series.reference)


def test_a_cylinder_of_air_begins_anew_when_it_is_filled(cache):
    air = make_item(cache, "air_cylinder", "AC-01")
    for number in range(4):
        check(air, "cylinder", f"psi={4500 - 40 * number}; temp_F=70", at=day(30 * number))
    record_upkeep(
        department=cache,
        item=air,
        sort="refilled",
        happened_at=day(100),
        client_id="00000000-0000-0000-0000-000000000002",
        **SIGNED,
    )
    check(air, "cylinder", "psi=4500; temp_F=70", at=day(101))
    trend = found(air, "cylinder")
    assert trend.forecast.outcome == "one reading"
    assert "1 reading since the refill" in in_words(trend, date(2026, 12, 1), ZONE)


# The words, each outcome once --------------------------------------------------------------------------------------


MOST_5 = (Bound("high", 5.0),)


def told(key, values, *, bounds=MOST_5, breaks=(), step=30, **more):
    points = tuple(Point(day(step * n), v, "pass", str(n)) for n, v in enumerate(values))
    trend = trend_of(Series(BY_KEY[key], points, bounds=bounds, breaks=breaks, origin="policy", **more))
    return in_words(trend, date(2026, 7, 1), ZONE), trend


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ([1.0], "One reading shows a state"),
        ([1.0, 1.1], "Two readings always lie on a line"),
        ([1.0, 1.1, 1.2], "too few for a date"),
        ([2.0, 1.8, 1.6, 1.4, 1.2], "move away from the limit"),
        ([1.0, 1.0, 1.0, 1.0], "neither rise nor fall"),
        ([1.0, 1.001, 1.002, 1.003], "farther ahead than twice the time"),
        ([4.0, 4.5, 5.0, 5.5, 6.0], "at or past the limit already"),
        ([1.0, 4.0, 1.5, 4.5, 2.0], "the next one may be past the limit"),
        ([3.0, 3.5, 4.0, 4.4], "At this rate it meets its limit about"),
        ([1.0 + 0.01 * n for n in range(14)] + [3.0], "pulls the line away"),
    ],
)
def test_what_is_said_of_a_series(values, says):
    assert says in told("drips", values)[0]


def test_without_a_limit_nothing_is_foretold_and_it_says_why():
    assert "No limit is recorded" in told("drips", [1, 2, 3, 4], bounds=())[0]
    assert "share of this unit's baseline" in told("heat", [1, 2, 3, 4], bounds=())[0]
    assert "the mission's to say" in told("stands", [1, 2, 3, 4], bounds=())[0]


def test_of_two_limits_the_nearer_one_is_told():
    _, trend = told("volts", [120, 118, 116, 114], bounds=(Bound("low", 108.0), Bound("high", 132.0)))
    assert trend.bound.side == "low"
    _, trend = told("volts", [120, 123, 126, 129], bounds=(Bound("low", 108.0), Bound("high", 132.0)))
    assert trend.bound.side == "high"


def test_a_break_before_the_first_reading_breaks_nothing():
    _, trend = told("drips", [1, 2, 3, 4], breaks=(Break(day(-5), "repair"),))
    assert trend.series.since is None
    assert trend.forecast.line.readings == 4


def test_a_short_series_tells_a_day_and_a_long_one_a_month():
    assert "about 14 Jun 2026" in told("drips", [3.0, 3.5, 4.0, 4.4], step=3)[0]
