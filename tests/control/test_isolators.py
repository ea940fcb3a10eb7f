"""The second contact closes before the heat, opens after it, and at once on any trip."""

import pytest

from greenkeeper.model import Fault
from tests.control.geared import player, states
from tests.control.houses import Player, on, reason


def isolated(**changes) -> Player:
    """A house at 10 °C whose start-up hold is over."""
    house = player(outputs={"isolator": changes})
    house.settle(10.0)
    return house


def heating(**changes) -> Player:
    """The same, its heater on for a minute."""
    house = isolated(**changes)
    for temp_c in (7.5, *[4.9] * 12):
        tick = house.bench(temp_c)
    assert states(tick, "isolator", "heater") == (True, True)
    return house


def test_it_is_open_while_no_heat_is_wanted():
    house = isolated()
    assert not any(on(tick, "isolator") for tick in house.ticks)
    assert reason(house.ticks[-1], "isolator") == "open while no heat is on"


def test_it_closes_first_and_the_heater_follows_in_the_next_tick():
    house = isolated()
    house.bench(7.5)
    seen = [states(house.bench(4.9), "isolator", "heater") for _ in range(3)]
    assert seen == [(True, False), (True, True), (True, True)]
    assert reason(house.ticks[-3], "isolator") == "closed before heat comes on"
    assert reason(house.ticks[-3], "heater") == (
        "held off until isolator has closed (bench-left 4.9 °C is at or below 5.0 °C)"
    )


@pytest.mark.parametrize(("settle_s", "ticks"), [(10.0, 1), (10.1, 2), (30.0, 3), (31.0, 4)])
def test_the_heater_waits_until_it_has_been_closed_for_long_enough(settle_s, ticks):
    house = isolated(settle_s=settle_s)
    house.bench(7.5)
    seen = [on(house.bench(4.9), "heater") for _ in range(ticks + 1)]
    assert seen == [False] * ticks + [True]


def test_it_does_not_close_while_the_heater_has_to_rest_anyway():
    house = player(outputs={"isolator": {}})
    seen = [states(house.bench(4.0), "isolator", "heater") for _ in range(9)]
    first = seen.index((True, False))
    assert seen[:first] == [(False, False)] * first
    assert house.ticks[first].now.mono_s - 1000.0 == 60.0
    assert set(seen[first + 1 :]) == {(True, True)}


@pytest.mark.parametrize(("settle_s", "ticks"), [(1.0, 1), (10.0, 1), (10.1, 2), (20.0, 2)])
def test_it_opens_once_the_heater_has_been_off_for_long_enough(settle_s, ticks):
    house = heating(settle_s=settle_s)
    seen = [states(house.bench(5.6), "isolator", "heater") for _ in range(ticks + 2)]
    assert seen == [(True, False)] * ticks + [(False, False)] * 2


def test_a_ceiling_opens_it_with_the_heater_at_once():
    house = heating()
    cold = {"bench-left": 4.9, "bench-right": 4.9}
    for ridge_c in (10.0, 10.0, 14.0, 18.0, 22.0, 26.0, 30.0, 34.0, 38.0):
        tick = house.tick({**cold, "ridge": ridge_c})
    assert states(tick, "isolator", "heater") == (True, True)
    tick = house.tick({**cold, "ridge": 41.0})
    assert states(tick, "isolator", "heater") == (False, False)
    assert reason(tick, "isolator") == "held off: ridge 41.0 °C is over 40.0 °C"


def test_a_zone_that_goes_blind_opens_it_with_the_heater_at_once():
    house = heating()
    tick = house.bench(30.0)  # a jump: neither value is believed
    assert states(tick, "isolator", "heater") == (False, False)
    assert reason(tick, "isolator") == "no trusted probe in bench"


def test_it_lapses_with_its_heater():
    house = heating()
    tick = house.bench(4.9, after_s=31.0)
    assert states(tick, "isolator", "heater") == (False, False)
    seen = [states(house.bench(4.9), "isolator", "heater") for _ in range(8)]
    assert seen.index((True, True)) == seen.index((True, False)) + 1


def test_a_heater_that_has_lost_it_goes_off():
    house = heating()
    outputs = house.memory.outputs
    lost = outputs["isolator"]._replace(on=False, since_s=house.now.mono_s, until_s=None)
    house.memory = house.memory._replace(outputs={**outputs, "isolator": lost})
    tick = house.bench(4.9)
    assert not on(tick, "heater")
    assert reason(tick, "heater") == "held off: isolator is open"


TWO_HEATERS = {
    "bench": {"probes": ["bench-left"], "heat": {"output": "heater", "setpoint_c": 5.0}},
    "shelf": {"probes": ["ridge"], "heat": {"output": "stirrer", "setpoint_c": 5.0}},
}


def two_heaters(isolates) -> Player:
    outputs = {"isolator": {"isolates": isolates}, "stirrer": {}}
    house = player(outputs=outputs, zones=TWO_HEATERS, plants=[])
    for _ in range(12):
        house.tick({"bench-left": 7.0, "ridge": 7.0})
    return house


def test_it_stays_closed_while_another_heater_behind_it_runs():
    house = two_heaters([])
    for _ in range(8):
        tick = house.tick({"bench-left": 4.9, "ridge": 4.9})
    assert states(tick, "isolator", "heater", "stirrer") == (True, True, True)
    for _ in range(8):
        tick = house.tick({"bench-left": 6.0, "ridge": 4.9})
    assert states(tick, "isolator", "heater", "stirrer") == (True, False, True)


def test_one_blind_zone_does_not_open_it_for_a_heater_that_another_zone_sees():
    house = two_heaters([])
    for _ in range(8):
        house.tick({"bench-left": 4.9, "ridge": 4.9})
    for _ in range(8):
        tick = house.tick({"bench-left": 4.9, "ridge": Fault.MISSING})
    assert states(tick, "isolator", "heater", "stirrer") == (True, True, False)


def test_a_heater_it_does_not_isolate_does_not_wait_for_it():
    house = two_heaters(["stirrer"])
    tick = house.tick({"bench-left": 4.9, "ridge": 7.0})
    assert states(tick, "isolator", "heater", "stirrer") == (False, True, False)


def test_an_isolator_keeps_to_no_minimum_times():
    house = isolated(min_on_s=600.0, min_off_s=600.0)
    house.bench(7.5)
    assert [on(house.bench(4.9), "heater") for _ in range(2)] == [False, True]


def test_how_often_it_closed_is_counted():
    house = heating()
    for _ in range(12):
        house.bench(5.6)
    for _ in range(3):
        house.bench(4.9)
    assert house.memory.outputs["isolator"].operations == 2
