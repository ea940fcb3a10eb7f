"""Orders from afar: bounded, ending by themselves, and no way past what keeps plants alive."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as rule
from hypothesis import strategies as st

from greenkeeper.control import carried_over, fresh, make_plan
from greenkeeper.model import Ask, Fault, Mode, Now, Order, Override, Phase
from tests.control.houses import START, Player, settings, zone

COMMANDS = {"setpoints": ["bench"], "switches": ["bench"], "lowest_c": 2.0, "highest_c": 20.0}
LASTS_S = 43_200.0
MINUTE = 60.0


def house(commands: dict[str, Any] | None = None, **changes: Any) -> Any:
    chosen = COMMANDS if commands is None else commands
    return settings(broker={"host": "hub", "commands": chosen}, **changes)


@pytest.fixture
def player() -> Player:
    return Player(make_plan(house()))


def heats(tick: Any) -> bool:
    return bool(next(each.on for each in tick.commands if each.output == "heater"))


def ordered(setpoint_c: float, zone_name: str = "bench") -> Order:
    return Order(zone_name, Ask.SETPOINT, setpoint_c)


OFF, ARMED, PLAN = (Order("bench", ask) for ask in (Ask.OFF, Ask.ARMED, Ask.PLAN))


def settled(player: Player, temp_c: float, ticks: int = 10, **arguments: Any) -> Any:
    """The last of so many ticks at one temperature, past start and minimum off time."""
    for _ in range(ticks):
        tick = player.bench(temp_c, **arguments)
    return tick


def codes(tick: Any) -> list[tuple[str, str]]:
    return [(event.code, event.text) for event in tick.events]


# --- a setpoint ----------------------------------------------------------------------


def test_an_ordered_setpoint_heats_until_its_time_is_up(player: Player) -> None:
    assert not heats(settled(player, 7.0))
    tick = player.bench(7.0, orders=[ordered(8.0)])
    assert heats(tick)
    assert tick.zones[0].heat_setpoint_c == 8.0
    ((code, text),) = codes(tick)
    assert code == "order-taken"
    assert text.startswith("heat at 8.0 °C until ")
    player.bench(7.0, after_s=LASTS_S)
    last = settled(player, 7.0)
    assert last.zones[0].heat_setpoint_c == 5.0
    assert not heats(last)
    assert ("order-ended", "heat at 8.0 °C: its time is up") in [
        pair for each in player.ticks for pair in codes(each)
    ]


def test_it_ends_to_the_second(player: Player) -> None:
    player.bench(7.0, orders=[ordered(8.0)])
    assert player.bench(7.0, after_s=LASTS_S - 0.1).zones[0].heat_setpoint_c == 8.0
    assert player.bench(7.0, after_s=0.1).zones[0].heat_setpoint_c == 5.0


def test_it_can_be_taken_back(player: Player) -> None:
    player.bench(7.0, orders=[ordered(8.0)])
    tick = player.bench(7.0, orders=[PLAN])
    assert tick.zones[0].heat_setpoint_c == 5.0
    assert codes(tick)[0] == ("order-ended", "heat at 8.0 °C: taken back")
    assert codes(player.bench(7.0, orders=[PLAN])) == [], "nothing to take back"


@pytest.mark.parametrize(
    ("asked_c", "allowed"),
    [(3.9, False), (4.0, True), (20.0, True), (20.1, False), (-40.0, False), (1e9, False)],
)
def test_it_lies_within_the_limits_and_never_below_a_plants_minimum(
    player: Player, asked_c: float, allowed: bool
) -> None:
    """The owner allows 2 to 20 °C; the lemon wants 4."""
    tick = player.bench(7.0, orders=[ordered(asked_c)])
    assert (tick.zones[0].heat_setpoint_c == asked_c) is allowed
    if not allowed:
        ((code, text),) = codes(tick)
        assert code == "order-refused"
        assert "is not within 4.0 °C to 20.0 °C" in text


@pytest.mark.parametrize("asked_c", [math.nan, math.inf, -math.inf, None])
def test_what_is_no_temperature_is_refused(player: Player, asked_c: float | None) -> None:
    tick = player.bench(7.0, orders=[Order("bench", Ask.SETPOINT, asked_c)])
    assert codes(tick) == [("order-refused", "a setpoint is a number")]


def test_heat_never_meets_cooling_nor_comes_near_the_ceiling() -> None:
    wide = {**COMMANDS, "highest_c": 35.0}
    assert make_plan(house(wide)).zones[0].ordered_c == (4.0, 22.5)  # cool at 26 - 3 - 0.5
    no_fan = zone(cool=None, ceiling_c=30.0)
    assert make_plan(house(wide, zones=no_fan)).zones[0].ordered_c == (4.0, 24.5)


def test_what_is_not_turned_on_cannot_be_ordered() -> None:
    player = Player(make_plan(settings()))
    tick = player.bench(7.0, orders=[ordered(8.0), OFF, ordered(8.0, "attic")])
    assert [code for code, _ in codes(tick)] == ["order-refused"] * 3
    assert tick.memory.overrides == {}


# --- off -----------------------------------------------------------------------------


def test_a_zone_that_is_off_neither_heats_nor_cools_and_says_so(player: Player) -> None:
    settled(player, 4.5)
    assert heats(player.bench(4.5))
    settled(player, 4.5, orders=[OFF])
    last = settled(player, 4.5)
    assert not heats(last)
    assert "switched off until" in last.zones[0].wishes[0].reason
    settled(player, 28.0, ticks=20)
    assert not any(each.on for each in player.ticks[-1].commands)


def test_a_zone_that_is_off_alarms_before_its_plants_are_in_danger(player: Player) -> None:
    player.bench(7.0, orders=[OFF])
    settled(player, 4.9, ticks=20)  # the setpoint is 5, the lemon's minimum 4
    assert ("off-in-cold", "bench") in active(player)
    assert ("below-minimum", "bench") not in active(player)
    settled(player, 3.5, ticks=40)
    assert ("below-minimum", "bench") in active(player)


def test_a_zone_that_is_off_tells_that_it_grows_hot(player: Player) -> None:
    player.bench(20.0, orders=[OFF])
    settled(player, 27.0, ticks=20)
    assert ("off-in-heat", "bench") in active(player)


def test_a_blind_zone_that_is_off_is_told_as_blind(player: Player) -> None:
    player.bench(7.0, orders=[OFF])
    for _ in range(20):
        player.bench(Fault.MISSING)
    assert ("zone-blind", "bench") in active(player)


def active(player: Player) -> set[tuple[str, str]]:
    return {key for key, entry in player.memory.alarms.items() if entry.active}


def test_armed_again_it_heats_at_once(player: Player) -> None:
    settled(player, 4.5, orders=[OFF])
    tick = player.bench(4.5, orders=[ARMED])
    assert heats(tick)
    assert codes(tick)[-1] == ("order-ended", "switched off: taken back")


def test_off_ends_by_itself(player: Player) -> None:
    player.bench(4.5, orders=[OFF])
    player.bench(4.5, after_s=LASTS_S)
    assert heats(settled(player, 4.5))


# --- what orders cannot do -----------------------------------------------------------


def test_no_order_holds_heat_against_the_ceiling(player: Player) -> None:
    settled(player, 7.0)
    player.bench(7.0, orders=[ordered(20.0)])
    for _ in range(8):
        player.tick({"bench-left": 41.0, "bench-right": 7.0, "ridge": 41.0})
    assert not heats(player.ticks[-1])
    assert player.memory.latches


def test_no_order_clears_a_latch_or_shortens_a_minimum_time(player: Player) -> None:
    settled(player, 7.0)
    on = player.bench(7.0, orders=[ordered(8.0)])
    assert heats(on)
    off = player.bench(7.0, orders=[PLAN])
    assert heats(off), "its minimum on time"
    every = [OFF, ARMED, PLAN, ordered(20.0)]
    for _ in range(8):
        player.tick({"bench-left": 41.0, "bench-right": 41.0}, orders=every)
    for _ in range(8):
        player.tick({"bench-left": 7.0, "bench-right": 7.0}, orders=every)
    assert player.memory.latches
    assert not heats(player.ticks[-1])


ORDERS = st.lists(
    st.builds(
        Order,
        st.sampled_from(["bench", "attic", ""]),
        st.sampled_from(Ask),
        st.none() | st.floats() | st.floats(0.0, 30.0),
    ),
    max_size=4,
)


@rule(max_examples=60, deadline=None)
@given(st.lists(st.tuples(ORDERS, st.floats(-5.0, 45.0), st.floats(1.0, 9000.0)), max_size=25))
def test_whatever_is_ordered_the_bounds_hold(
    course: list[tuple[list[Order], float, float]],
) -> None:
    player = Player(make_plan(house()))
    for orders, temp_c, after_s in course:
        tick = player.bench(temp_c, after_s=after_s, orders=orders)
        setpoint_c = tick.zones[0].heat_setpoint_c
        assert setpoint_c is not None
        assert 4.0 <= setpoint_c <= 20.0
        assert set(tick.memory.overrides) <= {("bench", Ask.SETPOINT), ("bench", Ask.OFF)}
        for override in tick.memory.overrides.values():
            assert 0.0 < override.until_s - tick.now.mono_s <= LASTS_S + 1e-6
        if ("bench", Ask.OFF) in tick.memory.overrides:
            assert not any(wish.on for wish in tick.zones[0].wishes)
        if tick.memory.latches:
            assert not heats(tick)


@rule(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-5.0, 30.0), st.booleans()), max_size=30))
def test_a_zone_armed_again_decides_as_if_it_had_never_been_off(
    course: list[tuple[float, bool]],
) -> None:
    """What a thermostat remembers while off is: nothing. It must not stay silent afterwards."""
    player = Player(make_plan(house()))
    for temp_c, off in course:
        player.bench(temp_c, orders=[OFF if off else ARMED])
    cold = settled(player, 1.0, ticks=20, orders=[ARMED])
    assert any(wish.on for wish in cold.zones[0].wishes if wish.mode is Mode.HEAT)


# --- renewing, reloading, restarting -------------------------------------------------


def test_one_who_repeats_himself_does_not_have_it_written_down_every_time(player: Player) -> None:
    player.bench(7.0, orders=[ordered(8.0)])
    first = player.memory.overrides
    tick = player.bench(7.0, orders=[ordered(8.0)])
    assert tick.memory.overrides == first
    assert codes(tick) == []
    player.bench(7.0, after_s=700.0, orders=[ordered(8.0)])
    until_s = player.memory.overrides["bench", Ask.SETPOINT].until_s
    assert until_s == player.now.mono_s + LASTS_S, "after a while it does move the end"


def test_a_restart_keeps_what_is_left_of_it() -> None:
    plan = make_plan(house())
    saved = [Override("bench", Ask.SETPOINT, 8.0, 0.0, START.utc_s + 3600.0)]
    memory = fresh(plan, START, ordered=saved)
    override = memory.overrides["bench", Ask.SETPOINT]
    assert override.until_s == START.mono_s + 3600.0
    assert Player(plan, ordered=saved).bench(7.0).zones[0].heat_setpoint_c == 8.0


@pytest.mark.parametrize("until_s", [0.0, -1.0, math.nan, -1e12])
def test_a_restart_forgets_what_is_over(until_s: float) -> None:
    saved = [Override("bench", Ask.OFF, None, 0.0, START.utc_s + until_s)]
    assert fresh(make_plan(house()), START, ordered=saved).overrides == {}


@pytest.mark.parametrize("until_s", [1e12, math.inf])
def test_a_clock_that_stands_wrong_prolongs_an_order_by_its_usual_length_at_most(
    until_s: float,
) -> None:
    saved = [Override("bench", Ask.OFF, None, 0.0, START.utc_s + until_s)]
    memory = fresh(make_plan(house()), START, ordered=saved)
    assert memory.overrides["bench", Ask.OFF].until_s == START.mono_s + LASTS_S


@pytest.mark.parametrize(
    "override",
    [
        Override("bench", Ask.SETPOINT, 3.0, 0.0, START.utc_s + 99.0),  # too cold for the lemon
        Override("bench", Ask.SETPOINT, math.nan, 0.0, START.utc_s + 99.0),
        Override("bench", Ask.SETPOINT, None, 0.0, START.utc_s + 99.0),
        Override("bench", Ask.PLAN, None, 0.0, START.utc_s + 99.0),
        Override("attic", Ask.OFF, None, 0.0, START.utc_s + 99.0),
    ],
)
def test_a_restart_believes_no_file_further_than_the_settings_allow(override: Override) -> None:
    assert fresh(make_plan(house()), START, ordered=[override]).overrides == {}


def test_new_settings_end_what_they_no_longer_allow(player: Player) -> None:
    player.bench(7.0, orders=[ordered(8.0), OFF])
    narrower = make_plan(house({"setpoints": ["bench"], "highest_c": 7.0}))
    assert carried_over(player.memory, narrower, player.now).overrides == {}
    same = make_plan(house())
    assert len(carried_over(player.memory, same, player.now).overrides) == 2


def test_a_clock_that_is_set_moves_what_people_are_told_and_not_the_end(player: Player) -> None:
    player.bench(7.0, orders=[ordered(8.0)])
    before = player.memory.overrides["bench", Ask.SETPOINT]
    player.now = Now(player.now.mono_s, player.now.utc_s + 86_400.0, clock_trusted=True)
    player.bench(7.0)
    after = player.memory.overrides["bench", Ask.SETPOINT]
    assert after.until_s == before.until_s
    assert after.until_utc_s == pytest.approx(before.until_utc_s + 86_400.0)


def test_without_a_trusted_clock_no_hour_is_named() -> None:
    player = Player(make_plan(house()), START._replace(clock_trusted=False))
    tick = player.bench(7.0, orders=[ordered(8.0)])
    assert codes(tick) == [("order-taken", "heat at 8.0 °C for 12.0 h")]
    assert tick.events[0].phase is Phase.NOTED
    assert tick.zones[0].heat_setpoint_c == 8.0, "it needs no civil time"
