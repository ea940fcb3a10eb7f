"""Outputs that must not meet: held back while the other may be on."""

from collections.abc import Iterator
from typing import Any

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Command, Condition
from greenkeeper.outputs import switchboard as module
from greenkeeper.outputs.recorder import RecorderDriver
from greenkeeper.outputs.rivals import Rivals, rivals_of
from greenkeeper.outputs.switchboard import Switchboard
from greenkeeper.settings.schema import Settings

HEAT_OR_FAN = Rivals(frozenset({"heater", "mat"}), frozenset({"fan"}), 30.0)
ROOF = Rivals(frozenset({"opens"}), frozenset({"closes"}), None)
NAMES = ("heater", "mat", "fan", "opens", "closes")


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=1.8e9, mono_s=100.0)


@pytest.fixture
def drivers(clock: HandClock) -> dict[str, RecorderDriver]:
    return {name: RecorderDriver(name, clock) for name in NAMES}


@pytest.fixture
def board(drivers: dict[str, RecorderDriver], clock: HandClock) -> Iterator[Switchboard]:
    board = Switchboard(drivers, clock, rivals=[HEAT_OR_FAN, ROOF])
    yield board
    for driver in drivers.values():
        driver.recover()
    board.close()


def turn(board: Switchboard, off: str, on: str, now_s: float = 100.0) -> list[Condition]:
    """One tick in which one goes and the other comes."""
    return list(board.apply([Command(off, False, None, ""), Command(on, True, now_s + 30.0, "")]))


def stuck(driver: RecorderDriver, board: Switchboard) -> None:
    """Let it come on, and never go off again."""
    board.apply([Command(driver.name, True, 130.0, "")])
    driver.fail_at(2, lasting=True)


@pytest.mark.parametrize(
    ("first", "second"),
    [("opens", "closes"), ("closes", "opens"), ("fan", "heater"), ("mat", "fan")],
)
def test_one_is_held_back_while_the_other_could_not_be_driven_off(
    board: Switchboard, drivers: dict[str, RecorderDriver], first: str, second: str
) -> None:
    stuck(drivers[first], board)
    told = turn(board, first, second)
    assert not drivers[second].on
    assert Condition("output-held", second, f"{second} waits: {first} may still be on") in told
    drivers[first].recover()
    assert turn(board, first, second) == []
    assert drivers[second].on


def test_heat_and_cooling_wait_for_each_other_no_longer_than_their_patience(
    board: Switchboard, drivers: dict[str, RecorderDriver], clock: HandClock
) -> None:
    stuck(drivers["fan"], board)
    seen = []
    for _ in range(5):
        turn(board, "fan", "heater", clock.mono_s())
        seen.append(drivers["heater"].on)
        clock.advance(10.0)
    assert seen == [False, False, False, True, True]


def test_the_relays_of_a_vent_wait_for_as_long_as_it_takes(
    board: Switchboard, drivers: dict[str, RecorderDriver], clock: HandClock
) -> None:
    stuck(drivers["opens"], board)
    for _ in range(100):
        turn(board, "opens", "closes", clock.mono_s())
        assert not drivers["closes"].on
        clock.advance(10.0)


def test_the_wait_begins_anew_when_it_was_not_wanted_in_between(
    board: Switchboard, drivers: dict[str, RecorderDriver], clock: HandClock
) -> None:
    stuck(drivers["fan"], board)
    for _ in range(3):
        turn(board, "fan", "heater", clock.mono_s())
        clock.advance(10.0)
    board.apply([Command("heater", False, None, ""), Command("fan", False, None, "")])
    turn(board, "fan", "heater", clock.mono_s())
    assert not drivers["heater"].on


def test_what_is_on_already_stays_on(
    board: Switchboard, drivers: dict[str, RecorderDriver]
) -> None:
    board.apply([Command("heater", True, 130.0, "")])
    drivers["fan"].fail_at(1, lasting=True)
    board.apply([Command("fan", True, 130.0, "")])  # held back, and its driver fails
    turn(board, "fan", "heater")
    assert drivers["heater"].on


def test_of_two_rivals_that_are_both_wanted_the_first_has_it(
    board: Switchboard, drivers: dict[str, RecorderDriver]
) -> None:
    board.apply([Command("closes", True, 130.0, ""), Command("opens", True, 130.0, "")])
    assert (drivers["opens"].on, drivers["closes"].on) == (True, False)


def test_others_are_not_held_back(board: Switchboard, drivers: dict[str, RecorderDriver]) -> None:
    stuck(drivers["opens"], board)
    turn(board, "opens", "heater")
    assert drivers["heater"].on


def test_new_rivals_hold_from_then_on(
    board: Switchboard, drivers: dict[str, RecorderDriver]
) -> None:
    stuck(drivers["opens"], board)
    board.keep_apart([Rivals(frozenset({"opens"}), frozenset({"fan"}), None)])
    turn(board, "opens", "closes")
    turn(board, "opens", "fan")
    assert (drivers["closes"].on, drivers["fan"].on) == (True, False)


def test_its_code_is_in_the_catalogue() -> None:
    assert module.HELD in CATALOGUE


# --- a planned end ---------------------------------------------------------------------------


def planned(until_s: float) -> Command:
    return Command("opens", True, until_s, "", planned=True)


def test_an_on_that_ends_where_it_should_is_driven_off_then_and_not_told_as_late(
    board: Switchboard, drivers: dict[str, RecorderDriver], clock: HandClock
) -> None:
    board.apply([planned(112.0)])
    clock.advance(12.5)
    board.lapse(clock.mono_s())
    assert not drivers["opens"].on
    assert board.apply([]) == ()


def test_one_whose_end_has_passed_before_it_is_applied_is_not_told_either(
    board: Switchboard, drivers: dict[str, RecorderDriver], clock: HandClock
) -> None:
    clock.advance(13.0)
    assert board.apply([planned(112.0)]) == ()
    assert not drivers["opens"].on


def test_the_plan_may_change_with_the_next_tick(board: Switchboard, clock: HandClock) -> None:
    board.apply([planned(112.0)])
    board.apply([Command("opens", True, 111.0, "")])
    clock.advance(12.0)
    board.lapse(clock.mono_s())
    assert [condition.code for condition in board.apply([])] == ["tick-late"]


# --- who they are ------------------------------------------------------------------------------


def settings(**changes: Any) -> Settings:
    names = ("heater", "mat", "fan", "circulation", "opens", "closes")
    house: dict[str, Any] = {
        "site": {"name": "lean-to"},
        "probes": {"bench": {"kind": "modelled", "place": "bench"}},
        "outputs": {name: {"kind": "modelled", "drives": "fan"} for name in names},
        "zones": {
            "bench": {
                "probes": ["bench"],
                "heat": {"output": "heater", "setpoint_c": 5.0, "with": "circulation"},
                "cool": {"output": "fan", "setpoint_c": 26.0},
            },
            "shelf": {
                "probes": ["bench"],
                "heat": {"output": "mat", "setpoint_c": 5.0},
                "cool": {"output": "roof", "setpoint_c": 26.0},
            },
        },
        "vents": {"roof": {"open": "opens", "close": "closes"}},
    }
    return Settings.model_validate({**house, **changes})


def test_they_follow_from_the_settings() -> None:
    assert rivals_of(settings()) == (ROOF, HEAT_OR_FAN)


def test_where_nothing_cools_there_are_none() -> None:
    zones = {"bench": {"probes": ["bench"], "heat": {"output": "heater", "setpoint_c": 5.0}}}
    assert rivals_of(settings(zones=zones, vents={})) == ()
