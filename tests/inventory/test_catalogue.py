"""The catalogue: loaded once, dated, the row in force on any day."""

import json
from datetime import date

import pytest

from inventory.models import FailureMode, Interval, ItemKind, Limit
from inventory.queries import intervals_for, kinds_for, limits_for, modes_for
from inventory.services import load_catalogue, set_failure_mode, set_interval, set_limit
from inventory.services.catalogue import shipped_kinds, shipped_lists, shipped_rows
from shared.api import Conflict
from shared.models import AuditEntry

START, LATER = date(2024, 1, 1), date(2025, 7, 1)
pytestmark = pytest.mark.django_db


@pytest.fixture
def loaded(department):
    load_catalogue(department=department, on=START)
    return department


def test_loading_gives_every_kind_mode_and_limit(loaded):
    assert len(kinds_for(loaded)) == len(shipped_kinds())
    assert len(modes_for(loaded, START)) == len(shipped_rows("modes.csv"))
    assert len(limits_for(loaded, None, START)) == len(shipped_rows("limits.csv"))
    assert kinds_for(loaded)["heater"].checks["heat"][0] == "WH1"


def test_loading_twice_changes_nothing_and_reads_little(loaded, django_assert_max_num_queries):
    before = [m.objects.count() for m in (ItemKind, FailureMode, Limit, Interval)]
    with django_assert_max_num_queries(10):
        load_catalogue(department=loaded, on=LATER)
    assert [m.objects.count() for m in (ItemKind, FailureMode, Limit, Interval)] == before


def test_a_department_is_given_its_own_rows(loaded, other_department):
    load_catalogue(department=other_department, on=START)
    assert kinds_for(other_department)["heater"].pk != kinds_for(loaded)["heater"].pk


def test_a_newer_limit_holds_from_its_day_and_the_old_one_before(loaded, hollis):
    set_limit(department=loaded, key="hold_loss_1h", on=LATER, by=hollis, origin="maker", pass_high=3.0)
    assert limits_for(loaded, None, date(2025, 6, 30))["hold_loss_1h"].pass_high == 5
    newer = limits_for(loaded, None, LATER)["hold_loss_1h"]
    assert (newer.pass_high, newer.limits_high, newer.origin) == (3.0, 10, "maker")
    assert AuditEntry.objects.get(did="set limit").by == hollis


def test_a_limit_of_a_kind_wins_over_the_general_one(loaded, hollis):
    kinds = kinds_for(loaded)
    set_limit(
        department=loaded, key="battery_rest", on=LATER, by=hollis, origin="maker", kind=kinds["battery"], pass_low=12.0
    )
    set_limit(department=loaded, key="battery_rest", on=date(2026, 1, 1), by=hollis, origin="policy", pass_low=9.0)
    on = date(2026, 6, 1)
    assert limits_for(loaded, kinds["battery"], on)["battery_rest"].pass_low == 12.0
    assert limits_for(loaded, kinds["generator"], on)["battery_rest"].pass_low == 9.0
    assert limits_for(loaded, kinds["battery"], START)["battery_rest"].pass_low == 8.0


def test_a_day_before_the_first_row_is_judged_by_the_first(loaded):
    assert limits_for(loaded, None, date(2001, 1, 1))["hold_time"].pass_low == 30
    assert "WH1" in modes_for(loaded, date(2001, 1, 1))


def test_setting_a_limit_twice_on_one_day_keeps_the_last(loaded, hollis):
    for most in (4.0, 3.0):
        set_limit(department=loaded, key="hold_loss_1h", on=LATER, by=hollis, origin="maker", pass_high=most)
    assert Limit.objects.filter(key="hold_loss_1h").count() == 2
    assert limits_for(loaded, None, LATER)["hold_loss_1h"].pass_high == 3.0


def test_a_mode_may_be_given_another_prior_from_a_day_on(loaded, hollis):
    set_failure_mode(department=loaded, code="WH1", on=LATER, by=hollis, origin="own history", rate_median=0.12)
    assert modes_for(loaded, START)["WH1"].rate_median == 0.06
    assert modes_for(loaded, LATER)["WH1"].rate_median == 0.12


def test_what_the_department_lacks_cannot_be_set(loaded, hollis):
    with pytest.raises(KeyError):
        set_limit(department=loaded, key="nonsense", on=LATER, by=hollis, origin="maker")
    with pytest.raises(KeyError):
        set_failure_mode(department=loaded, code="ZZ9", on=LATER, by=hollis, origin="maker")


def test_the_law_on_ground_tests_is_quarterly(loaded):
    row = intervals_for(loaded, START)["", "PW2"]
    assert (row.months, row.origin) == (3, "law")


@pytest.mark.parametrize("origin", ["maker", "own"])
def test_whoever_asks_for_more_than_the_law_is_followed_and_for_less_is_refused(loaded, hollis, origin):
    with pytest.raises(Conflict, match="The law asks for it every 3 months"):
        set_interval(department=loaded, mode_code="PW2", months=6, on=LATER, by=hollis, origin=origin)
    set_interval(department=loaded, mode_code="PW2", months=1, on=LATER, by=hollis, origin=origin)
    assert intervals_for(loaded, LATER)["", "PW2"].origin == origin
    assert intervals_for(loaded, date(2025, 6, 30))["", "PW2"].origin == "law"


def test_every_code_the_kinds_name_is_a_mode_and_every_list_names_kinds():
    codes, keys = {r["code"] for r in shipped_rows("modes.csv")}, {k["key"] for k in shipped_kinds()}
    named = {c for k in shipped_kinds() for c in k["modes"]} | {
        c for k in shipped_kinds() for seen in k["checks"].values() for c in seen
    }
    assert named <= codes
    assert {r["kind"] for listed in shipped_lists().values() for r in listed["rows"]} <= keys
    assert all(json.dumps(k) for k in shipped_kinds())
