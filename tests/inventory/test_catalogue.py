"""The catalogue: loaded once, dated, the row in force on any day."""

import json
from datetime import date

import pytest

from inspections.queries.instruments import QUANTITIES
from inventory.models import FailureMode, Interval, ItemKind, Limit
from inventory.queries import intervals_for, kinds_for, limits_for, modes_for, stronger
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


# What a department may put in force -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pass_high": float("nan")}, "finite"),
        ({"pass_low": 6.0}, "lies above the most"),
        ({"limits_high": 4.0}, "ends below the most"),
        ({"pass_high": None}, "needs the bound that passes"),
        ({"limits_low": 1.0}, "needs the bound that passes"),
    ],
)
def test_bounds_that_contradict_each_other_are_refused_with_words(loaded, quinn, changes, said):
    with pytest.raises(Conflict, match=said):
        set_limit(department=loaded, key="hold_loss_1h", on=LATER, by=quinn, origin="policy", **changes)
    assert Limit.objects.filter(key="hold_loss_1h").count() == 1


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("propane_contents", {"limits_high": 1.05}),
        ("air_pressure", {"pass_low": 0.8}),
        ("propane_indoors", {"pass_high": 400.0}),
        ("propane_indoors", {"pass_high": None}),
    ],
)
@pytest.mark.parametrize("origin", ["policy", "maker", "law"])
def test_nobody_loosens_what_the_law_says_and_anybody_may_tighten_it(loaded, quinn, key, changes, origin):
    with pytest.raises(Conflict, match=r"The law sets this limit \((29|49) CFR"):
        set_limit(department=loaded, key=key, on=LATER, by=quinn, origin=origin, **changes)
    tight = set_limit(department=loaded, key="propane_indoors", on=LATER, by=quinn, origin=origin, pass_high=200.0)
    assert limits_for(loaded, None, LATER)["propane_indoors"] == tight


def test_a_figure_for_one_kind_does_not_loosen_the_law_for_it(loaded, quinn):
    kind = kinds_for(loaded)["propane"]
    with pytest.raises(Conflict, match="The law"):
        set_limit(
            department=loaded, key="propane_contents", on=LATER, by=quinn, origin="maker", kind=kind, pass_low=0.5
        )


def test_the_makers_figure_stands_against_a_looser_policy_and_the_maker_may_change_it(loaded, quinn):
    kind = kinds_for(loaded)["shelter"]
    of = {"department": loaded, "key": "hold_loss_1h", "by": quinn, "kind": kind}
    set_limit(**of, on=LATER, origin="maker", source="manual, page 9 (invented)", pass_high=3.0)
    with pytest.raises(Conflict, match="The maker sets this limit"):
        set_limit(**of, on=date(2026, 1, 1), origin="policy", pass_high=4.0)
    set_limit(**of, on=date(2026, 1, 1), origin="policy", pass_high=2.0)
    set_limit(**of, on=date(2026, 2, 1), origin="maker", pass_high=2.5)
    assert limits_for(loaded, kind, date(2026, 3, 1))["hold_loss_1h"].pass_high == 2.5
    assert limits_for(loaded, None, date(2026, 3, 1))["hold_loss_1h"].pass_high == 5


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"months": 0}, "1 to 180 months"),
        ({"months": 999}, "1 to 180 months"),
        ({"months": 3, "grace_days": 91}, "0 to 90 days"),
        ({"months": 3, "grace_days": 5}, "with no grace"),
        ({"months": 4}, "every 3 months"),
        ({"months": 3, "origin": "whim"}, "no origin of an interval"),
    ],
)
def test_an_interval_that_is_nonsense_or_looser_than_the_law_is_refused(loaded, quinn, said, words):
    given = {"origin": "own"} | said
    with pytest.raises(Conflict, match=words):
        set_interval(department=loaded, mode_code="PW2", on=LATER, by=quinn, **given)


def test_an_own_interval_governs_over_the_letters_and_never_past_the_maker(loaded, quinn):
    kind = kinds_for(loaded)["heater"]
    of = {"department": loaded, "mode_code": "WH3", "by": quinn, "kind": kind}
    set_interval(**of, months=6, on=LATER, origin="maker", source="manual, page 3 (invented)")
    with pytest.raises(Conflict, match="The maker asks for it every 6 months"):
        set_interval(**of, months=9, on=LATER, origin="own")
    set_interval(**of, months=2, on=date(2026, 1, 1), origin="own")
    assert intervals_for(loaded, date(2025, 12, 31))["heater", "WH3"].months == 6
    assert intervals_for(loaded, date(2026, 1, 1))["heater", "WH3"].months == 2


def test_a_kinds_own_interval_does_not_reach_past_a_law_for_every_kind(loaded, quinn):
    cord = kinds_for(loaded)["cord"]
    with pytest.raises(Conflict, match="The law"):
        set_interval(department=loaded, mode_code="PW2", months=12, on=LATER, by=quinn, origin="own", kind=cord)
    law = intervals_for(loaded, LATER)["", "PW2"]
    looser = Interval(mode_code="PW2", months=12, origin="own", kind=cord)
    assert stronger(looser, law) is law
    assert stronger(Interval(mode_code="PW2", months=1, origin="own", kind=cord), law).months == 1
    assert stronger(Interval(mode_code="PW2", months=1, origin="policy", kind=cord), law) is law
    assert stronger(None, law) is law


def test_an_interval_still_to_come_does_not_govern_today(loaded, quinn):
    set_interval(department=loaded, mode_code="WH1", months=1, on=LATER, by=quinn, origin="own")
    assert ("", "WH1") not in intervals_for(loaded, date(2025, 6, 30))
    assert intervals_for(loaded, LATER)["", "WH1"].months == 1


# The rules that ship --------------------------------------------------------------------------------------------------


def test_every_rule_that_ships_has_an_origin_and_something_real_that_holds_it(loaded):
    modes, limits = modes_for(loaded, START), limits_for(loaded, None, START)
    intervals = {(row["kind"], row["mode_code"]) for row in shipped_rows("intervals.csv")}
    checks = {key for kind in shipped_kinds() for key in kind["checks"]}
    rules = shipped_rows("rules.csv")
    assert len(rules) == 48
    for rule in rules:
        assert rule["origin"] in ("law", "law by analogy", "standard", "policy", "engineering"), rule
        assert rule["source"] or rule["origin"] == "policy", rule
        if rule["held_by"].startswith("elsewhere: "):
            assert len(rule["held_by"]) > 30
            continue
        for token in rule["held_by"].replace("carbon monoxide", "carbon-monoxide").split():
            sort, _, name = token.partition(":")
            if sort == "interval":
                assert tuple(name.split(":")) in intervals, rule
            else:
                known = {"mode": modes, "limit": limits, "check": checks, "mission": modes, "instrument": QUANTITIES}
                assert name.replace("-", " ") in known[sort], rule


def test_every_interval_that_ships_names_its_origin_and_its_source_and_a_mode_of_the_kind():
    codes = {row["code"] for row in shipped_rows("modes.csv")}
    kinds = {kind["key"]: kind for kind in shipped_kinds()}
    for row in shipped_rows("intervals.csv"):
        assert row["mode_code"] in codes
        assert not row["kind"] or row["mode_code"] in kinds[row["kind"]]["modes"], row
        assert row["origin"] in ("law", "standard", "policy")
        assert row["source"]
        assert (row["origin"] == "law") == (row["grace_days"] == "0"), row
