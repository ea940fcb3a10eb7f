"""A calm tick is the last one again, and calm ends as soon as anything could change.

Every tick played here is also worked out in full (houses.decided): what these tests add is
that calm is reached at all, and left at the right moment.
"""

import pytest

from greenkeeper.control import carried_over, make_plan
from greenkeeper.model import Condition, Fault, Now, Request
from tests.control import houses
from tests.control.houses import Player

MILD = {"bench-left": 12.0, "bench-right": 12.5, "ridge": 13.0, "outdoors": 9.0}


def calm_house() -> Player:
    player = Player()
    for _ in range(20):
        player.tick(MILD)
    assert player.memory.calm is not None
    return player


def test_a_mild_day_grows_calm_and_stays_so() -> None:
    player = calm_house()
    first = player.tick(MILD)
    later = [player.tick(MILD) for _ in range(300)]
    assert {tick.commands for tick in later} == {first.commands}
    assert all(tick.memory.calm is not None for tick in later)


def test_a_reading_that_moves_by_one_step_is_looked_at_in_full() -> None:
    player = calm_house()
    tick = player.tick({**MILD, "bench-left": 11.9375})
    assert tick.zones[0].coldest_c == 11.9375


def test_outdoor_air_may_move_in_it() -> None:
    player = calm_house()
    views = player.memory.views
    for step in range(60):
        tick = player.tick({**MILD, "outdoors": 9.0 - step / 16.0})
        assert tick.memory.views is views
        assert tick.memory.probes["outdoors"].good_c == 9.0 - step / 16.0


@pytest.mark.parametrize(
    "reading", [5.0, Fault.CHECKSUM, Fault.MISSING, float("nan"), 60.0], ids=str
)
def test_a_reading_that_is_wrong_ends_it(reading: float | Fault) -> None:
    player = calm_house()
    player.tick({**MILD, "bench-left": reading})
    assert player.memory.calm is None or player.memory.probes["bench-left"].failures is not None


def test_silence_ends_it_when_the_readings_are_stale() -> None:
    player = calm_house()
    for _ in range(20):
        tick = player.tick({})
    assert ("zone-blind", "raised") in {c for t in player.ticks for c in houses.codes(t)}
    assert player.memory.calm is None
    assert not any(command.on for command in tick.commands)


def test_cold_ends_it_in_the_same_tick() -> None:
    player = calm_house()
    temps = dict(MILD)
    while temps["bench-left"] > 5.0:
        temps = {name: temp - 0.5 for name, temp in temps.items()}
        tick = player.tick(temps)
    assert houses.on(tick, "heater")


def test_night_begins_in_it() -> None:
    plan = make_plan(
        houses.settings(zones=houses.zone(heat={**HEAT, "night_setpoint_c": 12.0}), plants=[])
    )
    evening = Now(1000.0, 1_800_000_000.0 - 1_800_000_000.0 % 86400 + 19.5 * 3600, True)
    player = Player(plan, start=evening)
    while not (player.ticks and houses.on(player.ticks[-1], "heater")):
        player.tick(MILD)
        assert player.now.utc_s < evening.utc_s + 3600.0, "the night never came"
    assert player.ticks[-1].zones[0].period == "night"
    assert player.ticks[-2].zones[0].period == "day"
    assert player.ticks[-2].memory.calm is not None


HEAT = {"output": "heater", "setpoint_c": 5.0, "hysteresis_k": 0.5}


def test_a_probe_that_stands_still_while_another_moves_is_found_as_soon() -> None:
    player = calm_house()
    for _ in range(int(3 * 3600 / 10)):
        tick = player.tick({**MILD, "ridge": 16.0, "bench-right": 15.0})
    assert ("probe-frozen", "raised") in {c for t in player.ticks for c in houses.codes(t)}
    assert tick.memory.calm is None


def test_a_clock_that_jumps_is_told_of() -> None:
    player = calm_house()
    player.now = player.now._replace(utc_s=player.now.utc_s + 5000.0)
    assert ("clock-jumped", "noted") in houses.codes(player.tick(MILD))


def test_a_person_is_answered_in_it() -> None:
    player = calm_house()
    tick = player.tick(MILD, requests=(Request(clear="nothing-of-that-name"),))
    assert ("latch-kept", "noted") in houses.codes(tick)


def test_a_report_of_the_shell_is_heard_in_it() -> None:
    player = calm_house()
    tick = player.tick(MILD, reports=(Condition("broker-lost", "broker", "gone"),))
    assert ("broker-lost", "broker") in tick.memory.alarms


def test_new_settings_end_it() -> None:
    player = calm_house()
    player.memory = carried_over(player.memory, player.plan, player.now)
    assert player.memory.calm is None
