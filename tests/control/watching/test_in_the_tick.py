"""What follows from a verdict in the whole tick: latches, isolators, and nothing that flaps."""

from collections.abc import Iterable, Mapping
from typing import Any

import pytest

from greenkeeper.control import alarms, carried_over, make_plan
from greenkeeper.model import AlarmMemory, Condition, Now, Phase, Request, Tick
from tests.control.geared import OUTPUTS
from tests.control.houses import ONE_ZONE, Player, codes, on, reason, settings
from tests.control.watching.watchman import MIDNIGHT_UTC_S, SITE

CLEAR = Request(clear="stuck-on-heater")


def night(**changes: Any) -> Player:
    plan = make_plan(settings(site=SITE, **changes))
    return Player(plan, Now(1000.0, MIDNIGHT_UTC_S - 4.0 * 3600.0, True))


def minutes(
    player: Player, bench_c: Iterable[float], *, requests: tuple[Request, ...] = ()
) -> Tick:
    for temp_c in bench_c:
        for _ in range(6):
            temps = {"bench-left": temp_c, "bench-right": temp_c, "ridge": 10.0, "outdoors": -5.0}
            tick = player.tick(temps, requests=requests)
            requests = ()
    return tick


def welded(**changes: Any) -> tuple[Player, Tick]:
    """A house that warmed by four kelvin in an hour of the night, with its heater off."""
    player = night(**changes)
    minutes(player, [8.0] * 120)
    tick = minutes(player, [8.0 + minute / 12.0 for minute in range(60)])
    return player, tick


def test_heat_that_does_not_end_locks_every_heater_out_until_a_person_clears_it() -> None:
    player, tick = welded()
    assert "stuck-on-heater" in tick.memory.latches
    tick = minutes(player, [3.0] * 60)
    assert not on(tick, "heater")
    assert reason(tick, "heater").startswith("locked out:")
    tick = minutes(player, [3.0] * 2, requests=(CLEAR,))
    assert tick.memory.latches == {}
    assert on(tick, "heater")


def test_it_cannot_be_cleared_while_it_is_still_so() -> None:
    player, _ = welded()
    minutes(player, [13.0 + minute / 12.0 for minute in range(5)], requests=(CLEAR,))
    assert "stuck-on-heater" in player.memory.latches
    kept = [event for tick in player.ticks for event in tick.events if event.code == "latch-kept"]
    assert "it is still so" in kept[-1].text


def test_a_latch_of_watch_opens_the_isolator() -> None:
    zone = {**ONE_ZONE["zones"]["bench"]}
    outputs = {name: OUTPUTS[name] for name in ("heater", "fan", "isolator")}
    player, _ = welded(outputs=outputs, zones={"bench": zone})
    tick = minutes(player, [3.0] * 10)
    assert not on(tick, "isolator")


def test_missing_heat_locks_nothing_out() -> None:
    player = night()
    minutes(player, [7.0 - minute / 60.0 for minute in range(110)])
    tick = minutes(player, [5.0 - minute / 60.0 for minute in range(60)])
    assert ("no-response", "raised") in {pair for each in player.ticks for pair in codes(each)}
    assert tick.memory.latches == {}
    assert on(tick, "heater")


@pytest.mark.parametrize("code", ["no-response", "heater-at-limit", "displaced", "door-open"])
def test_a_verdict_that_comes_and_goes_is_told_once(code: str) -> None:
    board: Mapping[alarms.Key, AlarmMemory] = {}
    told: list[Phase] = []
    for minute in range(60):
        found = [Condition(code, "heater", "as the test wants it")] if minute % 2 else []
        for second in range(0, 60, 10):
            now = Now(60.0 * minute + second, 1.8e9 + 60.0 * minute + second, True)
            board, events = alarms.advance(board, found, now)
            told += [event.phase for event in events]
    assert told.count(Phase.RAISED) <= 1


def test_new_settings_begin_the_watch_anew_and_keep_its_latches() -> None:
    player, _ = welded()
    plan = make_plan(settings(site={**SITE, "outdoor_probe": None}))
    after = carried_over(player.memory, plan, player.now)
    assert after.watch.minutes == ()
    assert "stuck-on-heater" in after.latches
