"""The fan that moves the air inside runs whenever the heater does."""

import pytest

from greenkeeper.model import Fault
from tests.control.geared import failing, player, states
from tests.control.houses import Player, on, reason


def stirred(outputs=None, **heat) -> Player:
    """A house at 10 °C whose start-up hold is over."""
    house = player(outputs={"stirrer": {}, **(outputs or {})}, heat={"with": "stirrer", **heat})
    house.settle(10.0, for_s=400.0)
    return house


def heating(outputs=None, **heat) -> Player:
    house = stirred(outputs, **heat)
    for temp_c in (7.5, *[4.9] * 8):
        tick = house.bench(temp_c)
    assert states(tick, "heater", "stirrer") == (True, True)
    return house


def test_it_starts_with_the_heater():
    house = stirred()
    seen = [states(house.bench(temp_c), "heater", "stirrer") for temp_c in (7.5, 4.9, 4.9)]
    assert seen == [(False, False), (True, True), (True, True)]
    assert reason(house.ticks[-1], "stirrer") == "runs with heater"


@pytest.mark.parametrize(("run_on_s", "ticks"), [(0.0, 0), (10.0, 1), (59.0, 6), (60.0, 6)])
def test_it_runs_on_after_the_heat(run_on_s, ticks):
    house = heating(run_on_s=run_on_s)
    seen = [states(house.bench(5.6), "heater", "stirrer") for _ in range(ticks + 2)]
    assert seen == [(False, True)] * ticks + [(False, False)] * 2


def test_it_says_how_long_it_runs_on():
    house = heating(run_on_s=60.0)
    house.bench(5.6)
    assert reason(house.ticks[-1], "stirrer") == "runs on after the heat: 60 s left"


def test_it_stays_on_for_its_minimum_on_time():
    house = heating({"stirrer": {"min_on_s": 600.0}}, run_on_s=0.0)
    tick = house.bench(5.6)
    assert states(tick, "heater", "stirrer") == (False, True)
    assert "of its minimum on time left" in reason(tick, "stirrer")


def test_heat_waits_for_its_minimum_off_time():
    house = heating({"stirrer": {"min_off_s": 300.0}}, run_on_s=0.0)
    house.bench(5.6)
    seen = [states(house.bench(4.9), "heater", "stirrer") for _ in range(31)]
    assert seen == [(False, False)] * 29 + [(True, True)] * 2
    assert "held off: stirrer may start in 10 s (" in reason(house.ticks[-3], "heater")


def test_it_goes_off_with_the_heater_when_nobody_can_see():
    house = heating(run_on_s=1800.0)
    tick = house.bench(30.0)  # a jump of both probes
    assert states(tick, "heater", "stirrer") == (False, False)
    assert reason(tick, "stirrer") == "no trusted probe in bench"


def test_it_runs_on_after_a_ceiling_has_put_the_heat_out():
    house = heating()
    cold = {"bench-left": 4.9, "bench-right": 4.9}
    for ridge_c in (10.0, 10.0, 14.0, 18.0, 22.0, 26.0, 30.0, 34.0, 38.0):
        house.tick({**cold, "ridge": ridge_c})
    tick = house.tick({**cold, "ridge": 41.0})
    assert states(tick, "heater", "stirrer") == (False, True)
    assert "runs on after the heat" in reason(tick, "stirrer")


def test_when_it_fails_the_heat_goes_on_without_it():
    house = stirred()
    house.bench(7.5)
    for _ in range(9):
        tick = house.bench(4.9, reports=failing("stirrer"))
    assert states(tick, "heater", "stirrer") == (True, True)


def test_when_it_fails_and_is_required_there_is_no_heat():
    house = heating(with_required=True)
    tick = house.bench(4.9, reports=failing("stirrer"))
    assert not on(tick, "heater")
    assert reason(tick, "heater") == "held off: stirrer cannot be switched"


def test_one_that_is_required_is_tried_again_and_the_heat_follows():
    house = heating(with_required=True)
    for _ in range(20):
        tick = house.bench(4.9, reports=failing("stirrer"))
        assert not on(tick, "heater")
    assert on(tick, "stirrer")
    assert reason(tick, "stirrer") == "tried again: heat waits for it"
    assert states(house.bench(4.9), "heater", "stirrer") == (True, True)


def test_it_is_tried_again_only_after_its_minimum_off_time():
    house = heating({"stirrer": {"min_off_s": 300.0}}, run_on_s=0.0, with_required=True)
    house.bench(5.6)
    off_s = house.now.mono_s
    while not on(house.bench(4.9, reports=failing("stirrer")), "stirrer"):
        pass
    assert house.now.mono_s == off_s + 300.0


def test_it_is_not_tried_for_ever_when_no_heat_is_wanted():
    house = heating(with_required=True)
    for _ in range(20):
        tick = house.bench(7.0, reports=failing("stirrer"))
    assert states(tick, "heater", "stirrer") == (False, False)


def test_other_outputs_may_fail():
    house = heating(with_required=True)
    assert on(house.bench(4.9, reports=failing("fan", "elsewhere")), "heater")


SHARED = {
    "bench": {
        "probes": ["bench-left"],
        "heat": {"output": "heater", "setpoint_c": 5.0, "with": "stirrer", "run_on_s": 20.0},
    },
    "shelf": {
        "probes": ["ridge"],
        "heat": {"output": "fan", "setpoint_c": 5.0, "with": "stirrer", "run_on_s": 100.0},
    },
}


def test_one_fan_serves_two_heaters_and_runs_on_for_the_longer_time():
    house = player(outputs={"stirrer": {"min_on_s": 0.0}}, zones=SHARED, plants=[])
    for _ in range(12):
        house.tick({"bench-left": 7.0, "ridge": 7.0})
    for _ in range(12):
        tick = house.tick({"bench-left": 4.9, "ridge": 7.0})
    assert states(tick, "heater", "fan", "stirrer") == (True, False, True)
    seen = [
        states(house.tick({"bench-left": 6.0, "ridge": 7.0}), "heater", "stirrer")
        for _ in range(12)
    ]
    assert seen == [(False, True)] * 10 + [(False, False)] * 2


def test_it_starts_together_with_the_heater_behind_an_isolator():
    house = player(outputs={"stirrer": {}, "isolator": {}}, heat={"with": "stirrer"})
    house.settle(10.0)
    house.bench(7.5)
    seen = [states(house.bench(4.9), "isolator", "stirrer", "heater") for _ in range(2)]
    assert seen == [(True, False, False), (True, True, True)]


def test_a_lost_bus_ends_what_it_does_for_nobody():
    house = heating(run_on_s=1800.0)
    for _ in range(3):
        house.bench(5.6)
    for _ in range(6):
        tick = house.bench(Fault.MISSING)
    assert states(tick, "heater", "stirrer") == (False, False)
