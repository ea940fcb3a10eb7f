"""Heat without a probe: only where it was chosen, only in frost, only so much."""

from itertools import pairwise

import pytest

from greenkeeper.control.blind import FROST_C, SEEN_S, THAW_C, WAIT_S
from greenkeeper.model import Fault, Phase, Request
from tests.control.geared import failing, player, states
from tests.control.houses import Player, on, reason

STEP_K = 1 / 16
GONE = Fault.MISSING
STALE_TICKS = 5  # 45 s


def guessing(outdoors_c=-3.0, at_c=6.0, **heat) -> Player:
    """A house whose owner chose 0.25, seen at 6 °C until now, with frost outdoors."""
    chosen = {"independent_limit": True, "blind_duty": 0.25, **heat}
    house = player(heat=chosen, outputs={"heater": {"min_on_s": 120.0, "min_off_s": 120.0}})
    for _ in range(20):
        house.tick({"bench-left": at_c, "bench-right": at_c, "outdoors": outdoors_c})
    return house


def live_blind(house: Player, for_s: float, outdoors_c=-3.0, **arguments) -> list[bool]:
    """Whether the heater is on, tick by tick, while nobody sees the zone."""
    seen = []
    for _ in range(int(for_s / 10.0)):
        temps = {"bench-left": GONE, "bench-right": GONE, "outdoors": outdoors_c}
        seen.append(on(house.tick(temps, **arguments), "heater"))
    return seen


def first_on_s(seen: list[bool]) -> float:
    return 10.0 * seen.index(True)


# --- when it begins ------------------------------------------------------------------------


def test_it_begins_once_the_zone_has_been_blind_for_a_while():
    seen = live_blind(guessing(), 600.0)
    assert first_on_s(seen) == 10.0 * (STALE_TICKS - 1) + WAIT_S


def test_heat_that_just_came_on_goes_off_all_the_same_while_nothing_is_guessed_yet():
    house = guessing(at_c=5.5)
    cold = {"bench-left": 4.9, "bench-right": 4.9, "outdoors": -3.0}
    assert on(house.tick(cold), "heater")
    jump = {"bench-left": 14.9, "bench-right": 14.9, "outdoors": -3.0}
    assert not on(house.tick(jump), "heater")  # its minimum on time is 120 s


@pytest.mark.parametrize("heat", [{"blind_duty": 0.0}, {"independent_limit": False}])
def test_without_both_declarations_blind_means_off(heat):
    assert not any(live_blind(guessing(**heat), 7200.0))


def test_a_jump_of_both_probes_is_no_reason_to_guess():
    house = guessing()
    jump = {"bench-left": 16.0, "bench-right": 16.0, "outdoors": -3.0}
    assert not any(on(house.tick(jump), "heater") for _ in range(20))


@pytest.mark.parametrize(
    ("outdoors_c", "heats"), [(FROST_C - STEP_K, True), (FROST_C, True), (FROST_C + STEP_K, False)]
)
def test_frost_is_two_degrees_at_the_outdoor_probe(outdoors_c, heats):
    house = guessing(outdoors_c)
    assert any(live_blind(house, 1200.0, outdoors_c)) is heats


@pytest.mark.parametrize(
    ("outdoors_c", "goes_on"), [(THAW_C - STEP_K, True), (THAW_C, True), (THAW_C + STEP_K, False)]
)
def test_it_ends_when_the_frost_is_clearly_over(outdoors_c, goes_on):
    house = guessing(0.0)
    assert live_blind(house, 400.0, 0.0)[-1]
    assert on_after(house, outdoors_c) is goes_on
    if not goes_on:
        assert not any(live_blind(house, 3600.0, THAW_C))


def on_after(house: Player, outdoors_c: float) -> bool:
    return live_blind(house, 10.0, outdoors_c)[-1]


# --- without an outdoor probe ----------------------------------------------------------------


def falling(from_c: float, k_per_h: float, hours: float = 2.0) -> Player:
    """A house without a trusted outdoor probe, its bench on a straight course until now."""
    house = guessing(GONE, from_c)
    for i in range(int(hours * 360)):
        house.bench(from_c + k_per_h * i / 360.0)
    return house


def test_a_trend_that_leads_to_the_setpoint_says_frost_from_then_on():
    house = falling(12.0, -1.0)  # 10 °C at the end; 5.5 °C is 4.5 h ahead
    seen = live_blind(house, 6 * 3600.0, GONE)
    assert 4.3 * 3600.0 <= first_on_s(seen) <= 4.8 * 3600.0
    assert ", its last trend led to 4.0 °C by now: " in reason(house.ticks[-1], "heater")


@pytest.mark.parametrize("k_per_h", [0.0, 1.0])
def test_a_mild_zone_that_does_not_fall_is_not_guessed_at(k_per_h):
    assert not any(live_blind(falling(10.0, k_per_h), 24 * 3600.0, GONE))


def test_a_zone_that_heat_was_just_keeping_is_guessed_at_although_it_did_not_fall():
    house = falling(5.4, 0.0)
    assert first_on_s(live_blind(house, 1200.0, GONE)) < 600.0


def test_a_rise_in_the_last_minutes_is_not_relied_on():
    house = falling(5.0, 0.1)
    assert any(live_blind(house, 1200.0, GONE))


def test_the_outdoor_probe_goes_before_the_trend():
    house = guessing(10.0, 5.4)
    assert not any(live_blind(house, 7200.0, 10.0))


def test_nothing_known_at_all_is_no_frost():
    house = player(heat={"independent_limit": True, "blind_duty": 0.25})
    assert not any(on(house.bench(GONE), "heater") for _ in range(500))


# --- how much ----------------------------------------------------------------------------------


def pulses(seen: list[bool]) -> list[tuple[bool, int]]:
    """Runs of the same state, and how many ticks each lasted."""
    runs: list[tuple[bool, int]] = []
    for state in seen:
        runs = (
            [*runs[:-1], (state, runs[-1][1] + 1)]
            if runs and runs[-1][0] is state
            else [*runs, (state, 1)]
        )
    return runs


@pytest.mark.parametrize(
    ("duty", "on_ticks", "off_ticks"),
    [
        (0.25, 30, 90),  # of the usual 1200 s
        (0.5, 60, 60),
        (0.05, 12, 228),  # the minimum on time of 120 s makes the period 2400 s
    ],
)
def test_it_comes_in_pulses_of_the_chosen_share(duty, on_ticks, off_ticks):
    seen = live_blind(guessing(blind_duty=duty), 3 * 3600.0)
    whole = pulses(seen)[1:-1]
    assert {ticks for state, ticks in whole if state} == {on_ticks}
    assert {ticks for state, ticks in whole if not state} == {off_ticks}


def test_after_its_heating_time_is_used_up_it_stays_off():
    seen = live_blind(guessing(blind_longest_s=3600.0), 8 * 3600.0)
    assert sum(seen) * 10.0 == 3600.0
    assert not any(seen[-360:])


def test_it_says_so_each_time():
    house = guessing(blind_longest_s=3600.0)
    live_blind(house, 400.0)
    assert reason(house.ticks[-1], "heater") == (
        "no trusted probe in bench, outdoors −3.0 °C: heat for 25 % of the time, "
        "0.0 h of 1.0 h used"
    )
    live_blind(house, 600.0)
    assert reason(house.ticks[-1], "heater").endswith("0.1 h of 1.0 h used; between two pulses")
    live_blind(house, 10.0, 8.0)
    assert reason(house.ticks[-1], "heater") == (
        "no trusted probe in bench, and nothing says frost"
    )
    live_blind(house, 8 * 3600.0)
    assert reason(house.ticks[-1], "heater") == (
        "no trusted probe in bench, and 1.0 h of heat are used"
    )


def test_an_alarm_stands_all_the_while():
    house = guessing()
    live_blind(house, 2 * 3600.0)
    codes = {"zone-blind", "heating-blind"}
    raised = [e.code for t in house.ticks for e in t.events if e.phase is Phase.RAISED]
    assert {code: raised.count(code) for code in codes} == dict.fromkeys(codes, 1)
    assert all(house.memory.alarms[code, "bench"].active for code in codes)


# --- the end of a spell --------------------------------------------------------------------------


def seen_again(house: Player, for_s: float) -> None:
    for _ in range(int(for_s / 10.0)):
        house.tick({"bench-left": 6.0, "bench-right": 6.0, "outdoors": -3.0})


def test_a_probe_that_flickers_does_not_begin_the_count_anew():
    house = guessing(blind_longest_s=1200.0)
    seen: list[bool] = []
    for _ in range(30):
        seen += live_blind(house, 1800.0)
        seen_again(house, SEEN_S - 60.0)  # and the last good reading counts for 45 s more
    assert 1150.0 <= 10.0 * sum(seen) <= 1200.0  # some of it was given in its minimum on time


def test_a_zone_that_was_seen_for_long_enough_begins_anew():
    house = guessing(blind_longest_s=1200.0)
    spent = live_blind(house, 5 * 3600.0)
    seen_again(house, SEEN_S + 60.0)
    again = live_blind(house, 5 * 3600.0)
    assert sum(spent) == sum(again) == 120


def test_the_first_good_reading_hands_back_to_the_thermostat():
    house = guessing()
    assert live_blind(house, 400.0)[-1]
    seen_again(house, 30.0)  # 6 °C: warm enough, but for the minimum on time
    assert "minimum on time left (bench-left 6.0 °C" in reason(house.ticks[-1], "heater")


# --- all other rules hold ------------------------------------------------------------------------


def test_a_latch_holds_it_off():
    house = guessing()
    for ridge_c in (10.0, 10.0, 14.0, 18.0, 22.0, 26.0, 30.0, 34.0, 38.0, 41.0, 41.0):
        house.tick({"bench-left": 6.0, "bench-right": 6.0, "outdoors": -3.0, "ridge": ridge_c})
    assert house.memory.latches
    assert not any(live_blind(house, 3600.0))
    for _ in range(40):  # what let it go can be seen again
        house.tick({"bench-left": 6.0, "bench-right": 6.0, "outdoors": -3.0, "ridge": 8.0})
    request = (Request("over-ceiling-bench"),)
    house.tick({"bench-left": 6.0, "bench-right": 6.0, "outdoors": -3.0}, requests=request)
    assert any(live_blind(house, 1800.0))


def test_minimum_times_hold():
    seen = live_blind(guessing(blind_duty=0.5), 4 * 3600.0)
    assert all(ticks >= 12 for _, ticks in pulses(seen)[1:-1])


def test_isolator_and_companion_go_with_it():
    house = player(
        outputs={"isolator": {}, "stirrer": {}},
        heat={"with": "stirrer", "independent_limit": True, "blind_duty": 0.25},
    )
    for _ in range(20):
        house.tick({"bench-left": 6.0, "bench-right": 6.0, "outdoors": -3.0})
    live_blind(house, 3600.0)
    for before, after in pairwise(house.ticks):
        if on(after, "heater"):
            assert states(after, "isolator", "stirrer") == (True, True)
            assert on(before, "isolator")
    assert any(on(tick, "heater") for tick in house.ticks)


def test_a_vent_closes_for_it():
    house = player(
        vents={}, heat={"independent_limit": True, "blind_duty": 0.25}, outputs={"heater": {}}
    )
    for temp_c in (20.0, 20.0, *[23.0] * 9, *[26.5] * 12):
        house.tick({"bench-left": temp_c, "bench-right": temp_c, "outdoors": 1.0})
    assert house.memory.vents["roof"].place == "open"
    seen = live_blind(house, 1800.0, 1.0)
    assert any(seen)
    assert house.memory.vents["roof"].place == "closed"


def test_a_required_companion_that_fails_holds_it_off():
    house = player(
        outputs={"stirrer": {}},
        heat={
            "with": "stirrer",
            "with_required": True,
            "independent_limit": True,
            "blind_duty": 0.25,
        },
    )
    for _ in range(20):
        house.tick({"bench-left": 6.0, "bench-right": 6.0, "outdoors": -3.0})
    assert not any(live_blind(house, 3600.0, reports=failing("stirrer")))


def test_another_zone_that_sees_may_have_its_heat_meanwhile():
    zones = {
        "bench": {
            "probes": ["bench-left"],
            "heat": {
                "output": "heater",
                "setpoint_c": 5.0,
                "independent_limit": True,
                "blind_duty": 0.1,
            },
        },
        "shelf": {"probes": ["ridge"], "heat": {"output": "heater", "setpoint_c": 8.0}},
    }
    house = player(zones=zones, plants=[])
    for _ in range(12):
        house.tick({"bench-left": 6.0, "ridge": 7.0, "outdoors": -3.0})
    for _ in range(100):
        tick = house.tick({"bench-left": GONE, "ridge": 7.0, "outdoors": -3.0})
        assert on(tick, "heater")
    assert reason(tick, "heater") == "ridge 7.0 °C is at or below 8.0 °C"
