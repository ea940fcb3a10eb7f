"""Of two heaters on a circuit for one, the other stands in: what is said of the first, and when."""

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan
from greenkeeper.model import Event, Phase
from tests.control.houses import Player, on
from tests.control.test_stages import ONE, TIGHT, TWO, House, plan_of

CODE = "stands-in"
TIGHT_PULSED = plan_of(circuit_w=1500.0, heat={"strategy": "proportion", "take_turns": False})
BOTH = pytest.mark.parametrize("plan", [TIGHT, TIGHT_PULSED], ids=["hysteresis", "proportion"])
TICK_S = 10.0


def told(house: House, code: str = CODE) -> list[tuple[float, Event]]:
    """With the seconds since the house began."""
    ticks = house.player.ticks
    return [
        (tick.now.mono_s - ticks[0].now.mono_s, event)
        for tick in ticks
        for event in tick.events
        if event.code == code
    ]


def after(house: House, done: Callable[[], bool], ticks: int) -> House:
    for _ in range(ticks):
        if done():
            return house
        house.live(1)
    raise AssertionError(f"not within {ticks} ticks: {house.told()}")


@BOTH
def test_it_is_said_within_minutes_that_the_other_stands_in(plan: Plan) -> None:
    house = House(plan, rest_c=-2.0)
    house.live(400)  # sound for an hour, in which it shows how long a heater takes here
    house.dead = (ONE,)
    after(house, lambda: house.ons[-1] == (False, True), 600)
    taken_s = len(house.ons) * TICK_S
    after(house, lambda: bool(told(house)), 200)
    at_s, event = told(house)[0]
    assert at_s <= taken_s + 900.0
    assert (event.phase, event.subject) == (Phase.RAISED, ONE)
    assert "only got colder, until second took its place" in event.text
    assert "plug" in event.text
    assert "no-response" not in house.told()


@BOTH
def test_once_it_is_proved_the_alarm_takes_its_place(plan: Plan) -> None:
    house = House(plan, rest_c=-2.0, dead=(ONE,))
    after(house, lambda: "no-response" in house.told(), 3000)
    house.live(120)
    assert [event.phase for _, event in told(house)] == [Phase.RAISED, Phase.CLEARED]
    assert {event.subject for _, event in told(house, "no-response")} == {ONE}


@BOTH
def test_it_ends_where_the_first_warms_the_zone_after_all(plan: Plan) -> None:
    house = House(plan, rest_c=-2.0)
    house.live(400)
    house.dead = (ONE,)
    after(house, lambda: bool(told(house)), 1500)
    house.dead = ()  # somebody put the plug back
    after(house, lambda: len(told(house)) == 2, 3000)
    assert told(house)[-1][1].phase is Phase.CLEARED
    house.live(500)
    assert "no-response" not in house.told()


@BOTH
@settings(max_examples=5, deadline=None)
@given(
    night_c=st.floats(-16.0, 2.0),
    ramp=st.integers(360, 900),
)
def test_it_is_never_said_of_two_that_work(plan: Plan, night_c: float, ramp: int) -> None:
    """Down to where neither keeps up. The cold comes within an hour at the soonest: how long a
    heater takes in a mild hour says little of a bitter one."""
    house = House(plan, rest_c=2.0)
    house.live(150)
    for _ in range(ramp):
        house.rest_c += (night_c - 2.0) / ramp
        house.live(1)
    house.live(240)
    assert house.player.memory.staging["bench"].silent is None
    assert CODE not in house.told()


def test_one_that_gets_the_zone_warmer_again_is_not_left() -> None:
    """It fell before the warmth came, and is still below where it began: no reason for doubt."""
    player, (zone,) = Player(TIGHT), TIGHT.zones
    assert zone.stages is not None
    falling = [5.0 - 0.05 * tick for tick in range(15)]
    rising = [4.3 + 0.009 * tick for tick in range(75)]
    assert len(rising) * TICK_S > zone.stages.wait_s
    assert rising[-1] < falling[0]
    player.settle(5.5)
    for seen_c in falling + rising:
        tick = player.bench(round(seen_c * 16.0) / 16.0)
        assert not on(tick, TWO)
    assert on(tick, ONE)
