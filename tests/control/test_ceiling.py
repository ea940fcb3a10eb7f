"""Too hot anywhere locks every heater out, and a person lets it back in."""

import pytest

from greenkeeper.control import fresh, make_plan
from greenkeeper.model import Fault, Request
from tests.control.houses import START, Player, codes, on, reason, settings, zone

STEP_K = 1 / 16
CLEAR = (Request("over-ceiling-bench"),)


def hot(temp_c=40.0 + STEP_K, **changes) -> Player:
    """A house taken up to a temperature slowly enough to be believed."""
    player = Player(make_plan(settings(zones=zone(**changes))))
    for step_c in range(4, int(temp_c), 3):
        player.bench(float(step_c))
    player.settle(temp_c, for_s=20.0)
    return player


def cooled(player: Player, temp_c: float) -> None:
    now_c = player.ticks[-1].zones[0].warmest_c
    assert now_c is not None
    while now_c - temp_c > 3.0:
        now_c -= 3.0
        player.bench(now_c)
    player.bench(temp_c)


def test_at_the_ceiling_nothing_happens_and_one_sensor_step_above_it_trips():
    assert not hot(40.0).memory.latches
    assert list(hot().memory.latches) == ["over-ceiling-bench"]


def test_a_trip_breaks_the_minimum_on_time():
    player = Player(make_plan(settings(zones=zone(ceiling_c=15.0))))
    player.settle(6.0)
    assert on(player.bench(4.9), "heater")
    for temp_c in (8.0, 11.0, 14.0):
        assert on(player.bench(temp_c), "heater")
    tick = player.bench(15.0 + STEP_K)
    assert not on(tick, "heater")
    tick = player.bench(15.0 + STEP_K)
    assert reason(tick, "heater").startswith("locked out: bench-left 15.1 °C went over 15.0 °C")
    assert ("over-ceiling", "raised") in codes(tick)


def test_one_reading_over_the_ceiling_holds_the_heat_off_and_latches_nothing():
    player = Player(make_plan(settings(zones=zone(ceiling_c=15.0))))
    player.settle(12.0)
    for temp_c in (9.0, 5.0):
        player.bench(temp_c)
    assert on(player.settle(4.9, for_s=60.0), "heater")
    for temp_c in (8.0, 12.0):
        assert on(player.tick({"bench-left": 4.9, "bench-right": 4.9, "ridge": temp_c}), "heater")
    tick = player.tick({"bench-left": 4.9, "bench-right": 4.9, "ridge": 15.5})
    assert not on(tick, "heater")
    assert reason(tick, "heater") == "held off: ridge 15.5 °C is over 15.0 °C"
    tick = player.tick({"bench-left": 4.9, "bench-right": 4.9, "ridge": 12.0})
    assert reason(tick, "heater").startswith("held off: 50 s of its minimum off time left")
    assert not player.memory.latches
    assert on(player.settle(4.9, for_s=60.0), "heater")


def test_readings_over_the_ceiling_that_are_not_in_a_row_latch_nothing():
    player = Player(make_plan(settings(zones=zone(ceiling_c=15.0))))
    player.settle(13.0)
    for temp_c in (15.5, 15.0, 15.5, 15.0, 15.5):
        player.bench(temp_c)
    assert not player.memory.latches


def test_two_probes_over_the_ceiling_once_each_are_not_yet_two_readings_in_a_row():
    player = Player(make_plan(settings(zones=zone(ceiling_c=15.0))))
    player.settle(14.0)
    player.tick({"bench-left": 15.5, "bench-right": 14.0})
    player.tick({"bench-left": 14.0, "bench-right": 15.5})
    assert not player.memory.latches
    player.tick({"bench-left": 14.0, "bench-right": 15.5})
    assert "bench-right 15.5 °C" in player.memory.latches["over-ceiling-bench"].text


def test_one_reading_looked_at_twice_is_still_one():
    player = Player(make_plan(settings(zones=zone(ceiling_c=15.0))))
    player.settle(14.0)
    player.bench(15.5)
    for _ in range(2):
        tick = player.bench(None)
        assert not on(tick, "heater")
    assert not player.memory.latches
    player.bench(Fault.CHECKSUM)
    player.bench(15.5)
    assert player.memory.latches


@pytest.mark.parametrize("first_c", [25.0, 41.0, 3.0])
def test_a_wrong_first_reading_neither_latches_a_ceiling_nor_starts_heat(first_c):
    """25 °C is what some clones say straight after power-up; any other value is as bad."""
    outputs = {"heater": {"kind": "modelled", "drives": "heater", "min_off_s": 0.0}}
    zones = {"bench": {**zone(ceiling_c=24.0)["bench"], "cool": None}}
    player = Player(make_plan(settings(zones=zones, outputs=outputs)))
    for temp_c in (first_c, 10.0, 10.0, 10.0):
        assert not on(player.bench(temp_c), "heater")
    assert not player.memory.latches
    assert player.ticks[-1].zones[0].coldest_c == 10.0


def test_a_probe_that_hangs_in_no_zone_trips_it_too_but_the_outdoor_one_does_not():
    player = Player()
    for temp_c in range(10, 47, 4):
        player.tick({"bench-left": 10.0, "bench-right": 10.0, "outdoors": float(temp_c)})
    assert not player.memory.latches
    for temp_c in range(10, 47, 4):
        player.tick({"bench-left": 10.0, "bench-right": 10.0, "ridge": float(temp_c)})
    assert "ridge" in player.memory.latches["over-ceiling-bench"].text


def test_cooling_goes_on_while_heat_is_locked_out():
    player = hot()
    tick = player.settle(40.0, for_s=60.0)
    assert on(tick, "fan")


def test_the_latch_outlasts_its_cause_until_a_person_clears_it():
    player = hot()
    cooled(player, 4.0)
    assert not on(player.settle(4.0), "heater")
    tick = player.bench(4.0, requests=CLEAR)
    assert ("latch-cleared", "noted") in codes(tick)
    assert on(player.settle(4.0), "heater")


def test_a_person_cannot_clear_it_while_it_is_still_hot():
    player = hot()
    cooled(player, 35.0 + STEP_K)
    tick = player.bench(35.0 + STEP_K, requests=CLEAR)
    assert ("latch-kept", "noted") in codes(tick)
    assert "it can be cleared at or below 35.0 °C" in tick.events[-1].text
    tick = player.bench(35.0, requests=CLEAR)
    assert ("latch-cleared", "noted") in codes(tick)


def test_a_person_cannot_clear_it_while_nobody_can_see_whether_it_has_cooled():
    player = hot()
    for _ in range(6):
        player.bench(Fault.MISSING)
    tick = player.bench(Fault.MISSING, requests=CLEAR)
    assert ("latch-kept", "noted") in codes(tick)


def test_an_unknown_latch_is_refused_by_name():
    tick = Player().bench(10.0, requests=(Request("over-ceiling-shelf"),))
    assert tick.events[-1].subject == "over-ceiling-shelf"
    assert tick.events[-1].text == "there is no such latch"


def test_it_clears_by_itself_five_kelvin_below_when_the_owner_chose_so():
    player = hot(ceiling_clears="by-itself")
    cooled(player, 35.0 + STEP_K)
    assert player.memory.latches
    player.bench(35.0)
    assert not player.memory.latches


def test_it_survives_a_restart():
    latches = hot().memory.latches
    player = Player(latches=latches)
    assert not on(player.settle(4.0), "heater")
    assert ("over-ceiling", "raised") in codes(player.ticks[0])


def test_a_latch_of_a_zone_that_is_gone_can_still_be_cleared():
    latches = hot().memory.latches
    shelf = {"shelf": zone()["bench"]}
    plan = make_plan(settings(zones=shelf, plants=[]))
    player = Player(plan)
    player.memory = fresh(plan, START, latches)
    assert not on(player.settle(4.0), "heater")
    tick = player.bench(4.0, requests=CLEAR)
    assert ("latch-cleared", "noted") in codes(tick)


@pytest.mark.parametrize("request_count", [1, 2])
def test_asking_twice_does_no_harm(request_count):
    player = hot()
    cooled(player, 10.0)
    tick = player.bench(10.0, requests=CLEAR * request_count)
    assert [e.code for e in tick.events if e.code.startswith("latch")] == ["latch-cleared"]
