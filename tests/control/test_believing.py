"""What the judging of probes does to heat and cooling, through the whole of a tick."""

from typing import Any

import pytest

from greenkeeper.control import make_plan
from greenkeeper.model import Bad, Fault, Good
from tests.control.houses import ONE_ZONE, Player, on, reason, settings, zone

STEP_K = 1 / 16


def house(**probe: Any) -> Player:
    """The bench's left probe with some of its keys changed."""
    probes = {**ONE_ZONE["probes"]}
    probes["bench-left"] = {**probes["bench-left"], **probe}
    return Player(make_plan(settings(probes=probes)))


def both(player: Player, left_c: float | Fault, right_c: float | Fault, ticks: int = 1):
    for _ in range(ticks):
        tick = player.tick({"bench-left": left_c, "bench-right": right_c})
    return tick


@pytest.mark.parametrize(
    ("left_c", "believed"),
    [(2.0 + STEP_K, True), (2.0, True), (2.0 - STEP_K, False)],
)
def test_below_its_lowest_a_probe_no_longer_asks_for_heat(left_c, believed):
    player = house(lowest_c=2.0)
    both(player, 6.0, 6.0, ticks=12)
    both(player, 4.0, 6.0, ticks=2)
    tick = both(player, left_c, 6.0, ticks=8)
    assert on(tick, "heater") is believed
    assert (tick.zones[0].coldest_probe == "bench-left") is believed
    if not believed:
        assert tick.verdicts["bench-left"] == Bad(
            Fault.OUT_OF_RANGE, "reads 1.9 °C, beyond 2 to 60 °C"
        )


@pytest.mark.parametrize(
    ("left_c", "believed"),
    [(42.0 - STEP_K, True), (42.0, True), (42.0 + STEP_K, False)],
)
def test_above_its_highest_a_probe_trips_no_ceiling_and_asks_for_no_cooling(left_c, believed):
    """Settings refuse a highest_c that does not lie above the ceiling."""
    player = house(highest_c=42.0)
    both(player, 22.0, 22.0, ticks=12)
    tick = both(player, left_c, 22.0, ticks=10)
    assert ("over-ceiling-bench" in player.memory.latches) is believed
    assert on(tick, "fan") is believed


def test_a_range_is_of_the_temperature_with_its_offset():
    player = house(highest_c=42.0, offset_k=-1.0)
    tick = both(player, 43.0, 22.0, ticks=10)
    assert tick.verdicts["bench-left"] == Good(42.0, 0.0)
    tick = both(player, 43.0 + STEP_K, 22.0, ticks=10)
    assert isinstance(tick.verdicts["bench-left"], Bad)


def test_a_replugged_probe_is_believed_once_two_readings_agree():
    """What it says first may be its power-on value, or the last word of another winter."""
    player = Player()
    both(player, 6.0, 6.0, ticks=12)
    both(player, Fault.MISSING, 6.0, ticks=30)
    assert isinstance(both(player, 6.0, 6.0).verdicts["bench-left"], Bad)
    assert both(player, 6.0, 6.0).verdicts["bench-left"] == Good(6.0, 0.0)


@pytest.mark.parametrize("wrong_c", [25.0, -20.0, 39.9])
def test_a_replugged_probes_wrong_first_reading_does_nothing(wrong_c):
    player = Player()
    both(player, 6.0, 6.0, ticks=12)
    both(player, Fault.MISSING, 6.0, ticks=30)
    for left_c in (wrong_c, 6.0, 6.0, 6.0, 6.0, 6.0):
        tick = both(player, left_c, 6.0)
        assert not on(tick, "heater")
        assert not on(tick, "fan")
        assert tick.zones[0].coldest_c == tick.zones[0].warmest_c == 6.0
    assert tick.verdicts["bench-left"] == Good(6.0, 0.0)


def test_a_replugged_probe_far_from_where_it_was_is_believed_after_its_confirm_time():
    player = Player()
    both(player, 16.0, 6.0, ticks=12)
    both(player, Fault.MISSING, 6.0, ticks=30)
    verdicts = [both(player, 3.0, 6.0).verdicts["bench-left"] for _ in range(4)]
    assert [isinstance(verdict, Good) for verdict in verdicts] == [False, False, False, True]
    assert on(both(player, 3.0, 6.0, ticks=1), "heater")


def test_a_zone_whose_only_sight_returns_heats_again_in_the_second_tick():
    player = Player()
    player.settle(4.0, for_s=120.0)
    for _ in range(12):
        tick = player.bench(Fault.MISSING)
    assert not on(tick, "heater")
    assert not on(player.bench(4.0), "heater")
    assert on(player.bench(4.0), "heater")


def test_heat_goes_by_the_coldest_and_cooling_by_the_warmest_of_three():
    probes = {name: ONE_ZONE["probes"]["ridge"] for name in ("a", "b", "c", "outdoors")}
    plan = make_plan(settings(probes=probes, zones=zone(probes=["a", "b", "c"])))
    player = Player(plan)
    for _ in range(12):
        tick = player.tick({"a": 6.0, "b": 4.5, "c": 7.0})
    assert reason(tick, "heater") == "b 4.5 °C is at or below 5.0 °C"
    for warm_c in (9.0, 12.0, 15.0, 18.0, 21.0, 24.0, 26.5):
        for _ in range(3):
            tick = player.tick({"a": warm_c, "b": warm_c - 1.0, "c": warm_c - 2.0})
    assert reason(tick, "fan") == "a 26.5 °C is at or above 26.0 °C"
