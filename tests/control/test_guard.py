"""Permission, one rule at a time; test_invariants.py tries them all against chance."""

import pytest

from greenkeeper.control import make_plan
from greenkeeper.model import Fault
from tests.control.houses import Player, on, reason, settings, zone


def running(temp_c=4.0) -> Player:
    """A house whose heater has just come on."""
    player = Player()
    player.settle(10.0)
    tick = player.settle(temp_c, for_s=40.0)
    assert on(tick, "heater")
    return player


def test_every_output_is_held_off_for_its_minimum_off_time_after_the_start():
    player = Player()
    seen = [on(player.bench(4.0), "heater") for _ in range(7)]
    assert seen == [False] * 5 + [True, True]


def test_being_held_off_says_how_long_still_and_why_it_is_wanted():
    tick = Player().settle(4.0, for_s=20.0)
    assert reason(tick, "heater") == (
        "held off: 40 s of its minimum off time left (bench-left 4.0 °C is at or below 5.0 °C)"
    )


def test_heater_stays_on_until_its_minimum_on_time_has_passed():
    player = Player()
    player.settle(6.0)
    player.bench(4.9)
    seen = [on(player.bench(7.0), "heater") for _ in range(7)]
    assert seen == [True] * 5 + [False] * 2


def test_heater_stays_off_until_its_minimum_off_time_has_passed():
    player = Player()
    player.settle(6.0)
    player.settle(4.9, for_s=70.0)
    assert not on(player.bench(7.0), "heater")
    seen = [on(player.bench(4.9), "heater") for _ in range(7)]
    assert seen == [False] * 5 + [True] * 2


def test_every_on_expires_three_ticks_ahead_and_is_renewed_each_tick():
    player = running()
    command = player.bench(4.0).commands[0]
    assert command.until_s == player.now.mono_s + 30.0


def test_an_on_that_was_not_renewed_in_time_is_off_and_waits_its_minimum_off_time():
    player = running()
    tick = player.bench(4.0, after_s=31.0)
    assert not on(tick, "heater")
    assert ("tick-late", "raised") in {(e.code, e.phase.value) for e in tick.events}
    seen = [on(player.bench(4.0), "heater") for _ in range(6)]
    assert seen == [False] * 5 + [True]


def test_losing_every_probe_puts_the_heater_out_at_once_in_spite_of_its_minimum_on_time():
    player = Player()
    player.settle(6.0)
    assert on(player.bench(4.9), "heater")
    for _ in range(4):
        player.bench(Fault.MISSING)
    tick = player.bench(Fault.MISSING)
    assert not on(tick, "heater")
    assert reason(tick, "heater") == "no trusted probe in bench"


def test_a_jump_on_every_probe_puts_the_heater_out_in_the_same_tick():
    player = running()
    assert not on(player.bench(20.0), "heater")


def test_one_of_two_probes_is_enough_to_go_on():
    player = running()
    for _ in range(10):
        tick = player.tick({"bench-left": 4.0, "bench-right": Fault.MISSING})
    assert on(tick, "heater")


def test_heat_believes_the_coldest_and_cooling_the_warmest():
    player = Player()
    player.settle(10.0)
    tick = player.tick({"bench-left": 12.0, "bench-right": 6.5})
    assert (tick.zones[0].coldest_c, tick.zones[0].warmest_c) == (6.5, 12.0)
    assert (tick.zones[0].coldest_probe, tick.zones[0].warmest_probe) == (
        "bench-right",
        "bench-left",
    )


def test_cooling_makes_way_for_heat_and_heat_waits_until_it_has_stopped():
    far_apart = settings(zones=zone(probes=["bench-left", "bench-right"]))
    player = Player(make_plan(far_apart))
    player.settle(24.0)
    assert on(player.settle(27.0, for_s=20.0), "fan")
    # The left end of the bench freezes while the right end bakes.
    for left_c in (23.0, 19.0, 15.0, 11.0, 7.0, 3.5):
        tick = player.tick({"bench-left": left_c, "bench-right": 27.0})
    assert (on(tick, "heater"), on(tick, "fan")) == (False, False)
    assert "until cooling has stopped" in reason(tick, "heater")
    tick = player.tick({"bench-left": 3.5, "bench-right": 27.0})
    assert (on(tick, "heater"), on(tick, "fan")) == (True, False)
    for _ in range(3):
        tick = player.tick({"bench-left": 3.5, "bench-right": 27.0})
    assert (on(tick, "heater"), on(tick, "fan")) == (True, False)
    assert "while heat is wanted" in reason(tick, "fan")


TWO_ZONES = {
    "bench": {
        "probes": ["bench-left"],
        "heat": {"output": "heater", "setpoint_c": 5.0},
    },
    "shelf": {
        "probes": ["ridge"],
        "heat": {"output": "heater", "setpoint_c": 8.0},
    },
}


def test_of_two_zones_that_share_a_heater_the_worst_off_gives_the_reason():
    player = Player(make_plan(settings(zones=TWO_ZONES, plants=[])))
    for _ in range(12):
        tick = player.tick({"bench-left": 4.5, "ridge": 5.0})
    assert reason(tick, "heater") == "ridge 5.0 °C is at or below 8.0 °C"


def test_a_blind_zone_does_not_stop_the_heat_another_asks_for():
    player = Player(make_plan(settings(zones=TWO_ZONES, plants=[])))
    for _ in range(12):
        tick = player.tick({"bench-left": 4.5, "ridge": Fault.MISSING})
    assert on(tick, "heater")


def test_a_minimum_on_time_is_not_held_for_a_zone_that_has_gone_blind():
    player = Player(make_plan(settings(zones=TWO_ZONES, plants=[])))
    for _ in range(12):
        player.tick({"bench-left": 10.0, "ridge": 10.0})
    for ridge_c in (9.0, 7.9):
        tick = player.tick({"bench-left": 10.0, "ridge": ridge_c})
    assert on(tick, "heater")
    tick = player.tick({"bench-left": 10.0, "ridge": 20.0})  # a jump: blind
    assert not on(tick, "heater")


@pytest.mark.parametrize("temp_c", [4.0, 10.0, 30.0])
def test_outputs_that_no_zone_uses_are_never_commanded(temp_c):
    spare = settings(
        outputs={
            "heater": {"kind": "modelled", "drives": "heater"},
            "fan": {"kind": "modelled", "drives": "fan"},
            "spare": {"kind": "modelled", "drives": "fan"},
        }
    )
    tick = Player(make_plan(spare)).settle(temp_c)
    assert [command.output for command in tick.commands] == ["heater", "fan"]


def test_switchings_on_are_counted():
    player = running()
    player.settle(7.0, for_s=120.0)
    player.settle(4.9, for_s=30.0)
    assert player.memory.outputs["heater"].operations == 2
