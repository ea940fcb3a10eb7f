"""A vent's two relays: never both, never for too long, never without a pause, and the
heat waits until it is closed."""

import pytest

from greenkeeper.control import carried_over, make_plan
from greenkeeper.model import Fault, Place
from tests.control.geared import failing, player, states
from tests.control.houses import Player, on, reason, settings

TRAVEL_S = 60.0  # 1.2 times the run time of 50 s


def fresh_house(**vents) -> Player:
    return player(vents=vents)


def shut(temp_c=20.0, **vents) -> Player:
    """A house whose vent has been driven closed after the start."""
    house = fresh_house(**vents)
    house.settle(temp_c, for_s=100.0)
    assert place(house) is Place.CLOSED
    return house


def wide_open(**vents) -> Player:
    house = shut(**vents)
    for temp_c in (23.0, 26.0, *[26.5] * 8):
        house.bench(temp_c)
    assert place(house) is Place.OPEN
    return house


def place(house: Player) -> Place:
    return house.memory.vents["roof"].place


def moves(house: Player, temp_c, ticks: int, **arguments) -> list[tuple[bool, ...]]:
    """(opening, closing) of the next ticks at one temperature."""
    return [
        states(house.bench(temp_c, **arguments), "roof-open", "roof-close") for _ in range(ticks)
    ]


STILL, OPENING, CLOSING = (False, False), (True, False), (False, True)


def test_after_the_start_it_is_driven_closed_because_nobody_knows_where_it_is():
    house = fresh_house()
    house.bench(20.0)  # the first reading is not believed alone
    assert place(house) is Place.UNKNOWN
    assert moves(house, 20.0, 8) == [CLOSING] * 6 + [STILL] * 2
    assert place(house) is Place.CLOSED


def test_a_hot_start_closes_it_first_and_then_opens_it():
    house = fresh_house()
    house.bench(30.0)
    seen = moves(house, 30.0, 15)
    assert seen == [CLOSING] * 6 + [STILL] + [OPENING] * 6 + [STILL] * 2
    assert place(house) is Place.OPEN


def test_it_says_which_way_it_goes_and_for_how_long_still():
    house = shut()
    for temp_c in (23.0, 26.0, 26.0):
        tick = house.bench(temp_c)
    assert reason(tick, "roof-open") == (
        "roof opening: 50 s left (bench-right 26.0 °C is at or above 26.0 °C)"
    )


def test_cooling_on_opens_it_fully_and_off_closes_it_fully():
    house = shut()
    house.bench(23.0)
    assert moves(house, 26.0, 8) == [OPENING] * 6 + [STILL] * 2
    assert place(house) is Place.OPEN
    assert moves(house, 25.0, 2) == [STILL] * 2  # within the hysteresis
    assert moves(house, 24.5, 8) == [CLOSING] * 6 + [STILL] * 2
    assert place(house) is Place.CLOSED


@pytest.mark.parametrize(
    ("run_s", "travel_s"), [(50.0, 60.0), (10.0, 12.0), (2.0, 2.4), (45.0, 54.0)]
)
def test_a_relay_is_never_permitted_for_longer_than_the_travel(run_s, travel_s):
    house = shut(run_s=run_s)
    house.bench(23.0)
    ends = set()
    for _ in range(10):
        tick = house.bench(26.0)
        ends |= {(c.until_s, c.planned) for c in tick.commands if c.output == "roof-open" and c.on}
    began_s = house.ticks[-10].now.mono_s
    assert max(until_s for until_s, _ in ends) == began_s + travel_s
    assert [planned for until_s, planned in sorted(ends)][-1]
    assert all(planned == (until_s == began_s + travel_s) for until_s, planned in ends)


@pytest.mark.parametrize(("pause_s", "ticks"), [(5.0, 1), (10.0, 1), (10.1, 2), (30.0, 3)])
def test_it_pauses_before_it_turns_back(pause_s, ticks):
    house = shut(pause_s=pause_s)
    house.bench(23.0)
    assert moves(house, 26.0, 3) == [OPENING] * 3
    assert moves(house, 24.0, ticks + 2) == [STILL] * ticks + [CLOSING] * 2
    assert place(house) is Place.BETWEEN


def test_a_turn_on_the_way_to_closed_opens_it_without_going_home_first():
    house = wide_open()
    assert moves(house, 24.5, 3) == [CLOSING] * 3
    assert moves(house, 26.0, 9) == [STILL] + [OPENING] * 6 + [STILL] * 2
    assert place(house) is Place.OPEN


def test_a_lapse_leaves_it_nobody_knows_where_and_it_goes_home():
    house = shut()
    house.bench(23.0)
    moves(house, 26.0, 3)
    tick = house.bench(26.0, after_s=31.0)
    assert states(tick, "roof-open", "roof-close") == STILL
    assert place(house) is Place.UNKNOWN
    assert moves(house, 26.0, 14) == [CLOSING] * 6 + [STILL] + [OPENING] * 6 + [STILL]


def test_a_late_tick_after_the_planned_end_is_no_lapse():
    house = shut()
    house.bench(23.0)
    moves(house, 26.0, 5)  # until_s is now the end itself
    tick = house.bench(26.0, after_s=29.0)
    assert states(tick, "roof-open", "roof-close") == STILL
    assert place(house) is Place.OPEN


def test_a_late_tick_while_it_stands_still_changes_nothing():
    house = wide_open()
    house.bench(26.5, after_s=500.0)
    assert place(house) is Place.OPEN


def test_once_a_day_it_goes_home_although_it_should_be_there():
    house = shut()
    homed_s = house.memory.vents["roof"].homed_s
    seen = []
    while house.now.mono_s < homed_s + 86_400.0 + 100.0:
        if on(house.bench(20.0, after_s=20.0), "roof-close"):
            seen.append(house.now.mono_s)
    assert seen[0] == homed_s + 86_400.0
    assert seen[-1] == seen[0] + 40.0
    assert place(house) is Place.CLOSED


def test_a_vent_that_was_closed_today_need_not_go_home():
    house = wide_open()
    house.settle(24.5, for_s=80.0)
    assert place(house) is Place.CLOSED
    assert house.memory.vents["roof"].homed_s == house.now.mono_s - 10.0


def test_blind_it_stays_where_it_is():
    house = wide_open()
    assert moves(house, Fault.MISSING, 40) == [STILL] * 40
    assert place(house) is Place.OPEN
    assert reason(house.ticks[-1], "roof-open") == (
        "roof stands still (open) (no trusted probe in bench)"
    )


def test_blind_on_its_way_it_stops():
    house = shut()
    house.bench(23.0)
    moves(house, 26.0, 3)
    assert moves(house, 45.0, 1) == [STILL]  # a jump of both probes
    assert place(house) is Place.BETWEEN


def test_blind_on_its_way_home_it_stops_and_begins_anew():
    house = fresh_house()
    house.bench(20.0)
    moves(house, 20.0, 2)
    assert moves(house, 45.0, 1) == [STILL]
    assert place(house) is Place.UNKNOWN
    assert moves(house, 20.0, 8) == [CLOSING] * 6 + [STILL] * 2


# --- heat --------------------------------------------------------------------------------


COLD = {"bench-left": 4.9, "bench-right": 26.5}


def test_heat_waits_until_it_is_closed():
    house = wide_open()
    for left_c in (23.0, 19.5, 16.0, 12.5, 9.0, 5.5):
        house.tick({"bench-left": left_c, "bench-right": 26.5})
    seen = []
    for _ in range(9):
        tick = house.tick(COLD)
        seen.append(states(tick, "roof-close", "heater"))
    assert seen == [(True, False)] * 6 + [(False, False)] + [(False, True)] * 2
    assert reason(house.ticks[-4], "heater") == (
        "held off until roof is closed (bench-left 4.9 °C is at or below 5.0 °C)"
    )
    assert "makes way for heat" in reason(house.ticks[-4], "roof-close")


def test_while_heat_is_on_it_does_not_open():
    house = shut(8.0)
    house.bench(5.6)
    for _ in range(8):
        house.tick({"bench-left": 4.9, "bench-right": 5.6})
    for right_c in (9.0, 12.0, 15.0, 18.0, 21.0, 24.0, 26.5, 26.5, 26.5):
        tick = house.tick({"bench-left": 4.9, "bench-right": right_c})
    assert states(tick, "heater", "roof-open") == (True, False)


def test_it_does_not_open_in_the_tick_in_which_the_heat_ends():
    house = shut(8.0)
    house.bench(5.6)
    for right_c in (5.6, 8.0, 11.0, 14.0, 17.0, 20.0, 23.0, 26.5, 26.5):
        tick = house.tick({"bench-left": 4.9, "bench-right": right_c})
    assert on(tick, "heater")
    both = {"bench-left": 6.0, "bench-right": 26.5}
    seen = [states(house.tick(both), "heater", "roof-open") for _ in range(3)]
    assert seen == [(False, False), (False, True), (False, True)]


def test_a_blind_vent_closes_for_the_heat_another_zone_asks_for():
    zones = {
        "bench": {
            "probes": ["bench-left"],
            "cool": {"output": "roof", "setpoint_c": 26.0},
        },
        "shelf": {"probes": ["ridge"], "heat": {"output": "heater", "setpoint_c": 5.0}},
    }
    house = player(vents={}, zones=zones, plants=[])
    for _ in range(30):
        house.tick({"bench-left": 27.0, "ridge": 7.0})
    assert place(house) is Place.OPEN
    for _ in range(20):
        tick = house.tick({"bench-left": Fault.MISSING, "ridge": 4.9})
    assert place(house) is Place.CLOSED
    assert on(tick, "heater")


def test_a_blind_vent_that_closed_for_the_heat_stops_in_the_tick_that_loses_it():
    zones = {
        "bench": {"probes": ["bench-left"], "cool": {"output": "roof", "setpoint_c": 26.0}},
        "shelf": {"probes": ["ridge"], "heat": {"output": "heater", "setpoint_c": 5.0}},
    }
    house = player(vents={}, zones=zones, plants=[])
    for _ in range(10):  # its zone has never been seen, but heat waits for nothing that fails
        house.tick({"ridge": 4.9}, reports=failing("roof-open"))
    seen = []
    for ridge_c in (4.9, 4.9, 20.0):  # the last one is a jump
        tick = house.tick({"ridge": ridge_c})
        seen.append(states(tick, "heater", "roof-close"))
    assert seen == [(True, True), (True, True), (False, False)]


# --- relays that fail ----------------------------------------------------------------------


def test_while_a_relay_fails_it_stands_still_and_afterwards_goes_home():
    house = shut()
    house.bench(23.0)
    moves(house, 26.0, 2)
    assert moves(house, 26.0, 5, reports=failing("roof-close")) == [STILL] * 5
    assert place(house) is Place.UNKNOWN
    assert reason(house.ticks[-1], "roof-open").startswith("roof cannot be moved (")
    assert moves(house, 26.0, 8) == [CLOSING] * 6 + [STILL, OPENING]


def test_heat_does_not_wait_for_a_vent_that_cannot_be_moved():
    house = wide_open()
    for left_c in (23.0, 19.5, 16.0, 12.5, 9.0, 5.5):
        house.tick({"bench-left": left_c, "bench-right": 26.5})
    for _ in range(3):
        tick = house.tick(COLD, reports=failing("roof-close"))
    assert on(tick, "heater")


# --- new settings --------------------------------------------------------------------------


def test_relays_made_anew_leave_it_nobody_knows_where():
    house = wide_open()
    kept = carried_over(house.memory, house.plan, house.now)
    assert kept.vents["roof"].place is Place.OPEN
    anew = carried_over(house.memory, house.plan, house.now, outputs_kept=False)
    assert dict(anew.vents) == {}


def test_a_vent_no_zone_cools_with_is_never_commanded():
    plan = make_plan(
        settings(
            outputs={
                "heater": {"kind": "modelled", "drives": "heater"},
                "fan": {"kind": "modelled", "drives": "fan"},
                "up": {"kind": "modelled", "drives": "vent-open"},
                "down": {"kind": "modelled", "drives": "vent-close"},
            },
            vents={"roof": {"open": "up", "close": "down"}},
        )
    )
    assert plan.switched == ("heater", "fan")


def test_two_zones_share_a_vent_and_one_that_is_hot_opens_it():
    zones = {
        name: {"probes": [probe], "cool": {"output": "roof", "setpoint_c": 26.0}}
        for name, probe in (("bench", "bench-left"), ("shelf", "ridge"))
    }
    house = player(vents={}, zones=zones, plants=[])
    for _ in range(12):
        house.tick({"bench-left": 20.0, "ridge": 26.0})
    tick = house.tick({"bench-left": 20.0, "ridge": 26.0})
    assert on(tick, "roof-open")
