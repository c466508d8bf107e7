"""The state of an item as the outcome of its history."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.states import Happening, state_of

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)


def history(*events: tuple[str, str] | str) -> list[Happening]:
    """Return happenings an hour apart, each an event or (event, mode code)."""
    pairs = [(e, "") if isinstance(e, str) else e for e in events]
    return [Happening(e, NOON + timedelta(hours=n), f"because {n}", code) for n, (e, code) in enumerate(pairs)]


@pytest.mark.parametrize(
    ("events", "state"),
    [
        ((), "in service"),
        (("boxed",), "boxed"),
        (("boxed", "accepted"), "in service"),
        (("wet",), "wet"),
        (("wet", "drying"), "drying"),
        (("wet", "drying", "packed"), "in service"),
        (("drying", "wet"), "wet"),
        (("lent",), "lent"),
        (("lent", "returned"), "in service"),
        (("quarantined",), "quarantine"),
        (("quarantined", "cleared"), "in service"),
        (("condemned", "restored"), "condemned"),
        (("disposed",), "disposed"),
        (("wet", "quarantined"), "quarantine"),
        (("lent", "condemned"), "condemned"),
    ],
)
def test_a_history_comes_to_one_state(events, state):
    assert state_of(history(*events)).state == state


def test_an_item_stays_out_until_every_impairment_is_restored():
    out_twice = (("taken out", "WH1"), ("taken out", "WH5"), ("restored", "WH1"))
    still_out = state_of(history(*out_twice))
    assert (still_out.state, still_out.reason) == ("out of service", "because 1")
    assert state_of(history(*out_twice, ("restored", "WH5"))).state == "in service"


def test_restoring_another_mode_restores_nothing():
    assert state_of(history(("taken out", "WH1"), ("restored", "WH5"))).state == "out of service"
    assert state_of(history(("taken out", "WH1"), "restored")).state == "out of service"


def test_an_outage_keeps_the_time_it_began():
    again = state_of(history(("taken out", "WH1"), ("taken out", "WH1")))
    assert again.since == NOON


def test_a_restoration_alone_awaits_its_second_name_until_one_comes():
    alone = history(("taken out", "WH1"), ("restored awaiting", "WH1"))
    assert state_of(alone).state == "in service"
    assert state_of(alone).awaiting_second_name
    second = history(("taken out", "WH1"), ("restored awaiting", "WH1"), ("restored", "WH1"))
    assert not state_of(second).awaiting_second_name


def test_back_in_service_says_since_when():
    assert state_of(history(("taken out", "WH1"), ("restored", "WH1"))).since == NOON + timedelta(hours=1)


def test_what_is_not_there_is_absent_unless_it_is_gone_for_good():
    assert state_of([], absent_since=NOON).state == "absent"
    assert state_of(history("condemned"), absent_since=NOON).state == "condemned"
    assert state_of(history("lent"), absent_since=NOON).state == "absent"
