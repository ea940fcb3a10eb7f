"""Two heaters for one zone: who works when, and that a dead one never stands in the way."""

import math
from collections.abc import Collection
from typing import Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan, make_plan
from greenkeeper.model import Condition, Fault, Mode, Tick
from tests.control import houses
from tests.control.geared import failing
from tests.control.houses import Player, on, reason

SETPOINT_C, BAND_K = 5.0, 0.5
ONE, TWO = "heater", "second"
TIMES = {"min_on_s": 60.0, "min_off_s": 60.0}


def plan_of(
    *,
    circuit_w: float | None = None,
    power_w: float = 1000.0,
    second_w: float = 1000.0,
    heat: dict[str, Any] | None = None,
) -> Plan:
    heater = {"kind": "gpio", **TIMES}
    site = {**houses.ONE_ZONE["site"], "circuit_w": circuit_w}
    outputs = {
        ONE: {**heater, "pin": 17, "power_w": power_w},
        TWO: {**heater, "pin": 27, "power_w": second_w},
        "fan": houses.ONE_ZONE["outputs"]["fan"],
    }  # fmt: skip
    kept = {
        "output": ONE, "second_output": TWO, "setpoint_c": SETPOINT_C, "hysteresis_k": BAND_K,
        **(heat or {}),
    }  # fmt: skip
    return make_plan(houses.settings(site=site, outputs=outputs, zones=houses.zone(heat=kept)))


PLAIN = plan_of()
PULSED = plan_of(heat={"strategy": "proportion"})
TIGHT = plan_of(circuit_w=1500.0, heat={"take_turns": False})  # it bears one of them
BOTH = pytest.mark.parametrize("plan", [PLAIN, PULSED], ids=["hysteresis", "proportion"])


class Lags(NamedTuple):
    """In seconds, and such as the figures of a house nobody described."""

    element_s: float = 90.0
    air_s: float = 500.0
    probe_s: float = 140.0


LAGS = Lags()


class House:
    """Air that rests at rest_c, and 16 K higher by each kilowatt; element, air and probe lag."""

    def __init__(
        self, plan: Plan, rest_c: float, dead: Collection[str] = (), lags: Lags = LAGS
    ) -> None:
        self.player, self.rest_c, self.dead, self.lags = Player(plan), rest_c, dead, lags
        (zone,) = plan.zones
        assert zone.stages is not None
        self.gains_k = dict(
            zip(zone.stages.outputs, (0.016 * each for each in zone.stages.powers), strict=True)
        )
        self.warm = {ONE: 0.0, TWO: 0.0}
        self.air_c = self.seen_c = 6.0
        self.airs: list[float] = []
        self.ons: list[tuple[bool, bool]] = []

    def live(self, ticks: int, reports: Collection[Condition] = ()) -> None:
        outputs = self.player.memory.outputs
        for _ in range(ticks):
            outputs = self.player.memory.outputs
            for name in self.warm:
                fed = float(outputs[name].on and name not in self.dead)
                self.warm[name] += (fed - self.warm[name]) * -math.expm1(
                    -10.0 / self.lags.element_s
                )
            goal_c = self.rest_c + sum(self.gains_k[name] * self.warm[name] for name in self.warm)
            self.air_c += (goal_c - self.air_c) * -math.expm1(-10.0 / self.lags.air_s)
            self.seen_c += (self.air_c - self.seen_c) * -math.expm1(-10.0 / self.lags.probe_s)
            seen_c = round(self.seen_c * 16.0) / 16.0
            temps = dict.fromkeys(("bench-left", "bench-right", "ridge"), seen_c)
            temps["outdoors"] = self.rest_c - 1.0
            tick = self.player.tick(temps, reports=tuple(reports))
            self.airs.append(self.air_c)
            self.ons.append((on(tick, ONE), on(tick, TWO)))

    def told(self) -> set[str]:
        return {event.code for tick in self.player.ticks for event in tick.events}

    @property
    def first(self) -> str:
        return self.player.memory.staging["bench"].first


# --- while one is enough --------------------------------------------------------------------


@BOTH
def test_while_the_first_is_enough_the_second_stays_off(plan: Plan) -> None:
    house = House(plan, rest_c=-3.0)
    house.live(700)
    assert any(one or two for one, two in house.ons)
    assert not any(one and two for one, two in house.ons)
    assert "second-heater" not in house.told()
    assert "joins when that is not enough" in " ".join(
        reason(tick, name) for tick in house.player.ticks for name in (ONE, TWO)
    )


@BOTH
def test_both_are_worn_alike(plan: Plan) -> None:
    (zone,) = plan.zones
    assert zone.stages is not None
    quick = zone.stages._replace(turn_after=3.0 / zone.stages.rated[0])
    house = House(plan._replace(zones=(zone._replace(stages=quick),)), rest_c=1.0)
    house.live(2500)
    closed = [house.player.memory.outputs[name].operations for name in (ONE, TWO)]
    assert min(closed) >= 6
    assert abs(closed[0] - closed[1]) <= 4
    assert not any(one and two for one, two in house.ons)


def test_the_less_worn_one_is_first_after_a_restart() -> None:
    player = Player(PLAIN, operations={ONE: 900, TWO: 300})
    player.settle(4.0)
    assert on(player.ticks[-1], TWO)
    assert not on(player.ticks[-1], ONE)


def test_without_turns_the_first_stays_first() -> None:
    player = Player(plan_of(heat={"take_turns": False}), operations={ONE: 900, TWO: 300})
    player.settle(4.0)
    assert on(player.ticks[-1], ONE)


# --- when it is not ---------------------------------------------------------------------------


@BOTH
def test_the_second_joins_when_the_first_alone_is_not_enough(plan: Plan) -> None:
    house = House(plan, rest_c=-3.0)
    house.live(300)
    house.rest_c = -15.0
    house.live(900)
    joined = house.ons.index((True, True))
    assert all(one or two for one, two in house.ons[joined - 20 : joined])
    assert "second-heater" in house.told()
    assert "no-response" not in house.told()
    # One alone would leave the air at 1 °C; a switch that lags lets it dip in such cold.
    assert sum(house.airs[-300:]) / 300.0 >= SETPOINT_C - 0.5
    assert "alone is not enough" in reason(house.player.ticks[joined], TWO)


@BOTH
def test_it_goes_again_when_one_could_do_it_alone(plan: Plan) -> None:
    house = House(plan, rest_c=-15.0)
    house.live(1200)
    house.rest_c = 0.0
    house.live(1500)
    assert not any(one and two for one, two in house.ons[-400:])
    assert any(one or two for one, two in house.ons[-400:])


def test_a_slow_first_is_not_helped_while_it_gets_there() -> None:
    """Out of the cold it takes long, and the zone gets warmer all the while."""
    house = House(PLAIN, rest_c=-8.0)
    house.air_c = house.seen_c = 4.2
    house.live(400)
    assert not any(one and two for one, two in house.ons)
    assert max(house.airs) > SETPOINT_C


@BOTH
def test_plants_that_froze_in_a_power_cut_are_warmed_by_both_at_once(plan: Plan) -> None:
    """The first alone would do it, in more than twice the time."""

    def warmed_after(house: House) -> int:
        house.air_c = house.seen_c = -6.0
        house.live(900)
        assert "no-response" not in house.told()
        return next(at for at, air_c in enumerate(house.airs) if air_c >= 4.0)

    both, one = House(plan, rest_c=-9.0), House(TIGHT, rest_c=-9.0)
    assert warmed_after(both) < 0.7 * warmed_after(one)
    assert (True, True) in both.ons


# --- a first that gives nothing --------------------------------------------------------------


@BOTH
def test_a_dead_first_does_not_freeze_plants_and_is_found_out(plan: Plan) -> None:
    house = House(plan, rest_c=0.5, dead=(ONE,))
    house.live(3000)
    assert min(house.airs) > 1.5
    assert "no-response" in house.told()
    assert house.first == TWO
    # From then on the good one works alone, and nothing dips for the other's sake.
    house.live(500)
    sound = House(plan, rest_c=0.5)
    sound.live(800)
    assert min(house.airs[-400:]) >= min(sound.airs[-400:]) - 0.15
    assert not any(one for one, _ in house.ons[-400:])


@BOTH
@pytest.mark.parametrize(("coldest_c", "circuit_w"), [(-14.0, None), (-28.0, None), (-14.0, 1500)])
def test_two_sound_heaters_at_their_limit_are_never_said_to_be_dead(
    plan: Plan, coldest_c: float, circuit_w: float | None
) -> None:
    heat = {"strategy": "proportion"} if plan is PULSED else {}
    house = House(plan_of(circuit_w=circuit_w, heat=heat), rest_c=-5.0)
    for rest_c in [-5.0] * 100 + [-5.0 - 0.03 * tick for tick in range(700)]:
        house.rest_c = max(coldest_c, rest_c)
        house.live(1)
    house.live(300)
    house.rest_c = -6.0  # and at dawn one is well enough
    house.live(500)
    assert "no-response" not in house.told()


@BOTH
@pytest.mark.parametrize(("worst_c", "times"), [(-12.0, 3), (-18.0, 1)], ids=["gusts", "a-door"])
def test_what_cools_the_house_for_a_while_makes_no_sound_heater_dead(
    plan: Plan, worst_c: float, times: int
) -> None:
    house = House(plan, rest_c=-3.0)
    house.live(300)
    for _ in range(times):
        house.rest_c = worst_c
        house.live(90)
        house.rest_c = -3.0
        house.live(400)
    assert "no-response" not in house.told()


@BOTH
def test_a_weak_sound_heater_is_not_called_dead_for_a_strong_one(plan: Plan) -> None:
    heat = {"strategy": "proportion"} if plan is PULSED else {}
    house = House(plan_of(power_w=600.0, second_w=1800.0, heat=heat), rest_c=-5.0)
    house.live(3000)
    assert "no-response" not in house.told()
    assert sum(house.airs[-500:]) / 500.0 >= SETPOINT_C - 0.5


def test_one_that_was_mended_before_it_is_tried_again_is_not_called_dead() -> None:
    house = House(PLAIN, rest_c=0.5, dead=(ONE,))
    while not house.ons or house.ons[-1] != (False, True):
        house.live(1)
    house.dead = ()
    house.live(3000)
    assert "no-response" not in house.told()


def test_one_that_cannot_be_switched_goes_behind_at_once() -> None:
    player = Player(PLAIN)
    for _ in range(20):
        tick = player.bench(4.5, reports=failing(ONE))
    assert on(tick, TWO)
    assert not on(tick, ONE)


def test_two_that_both_give_nothing_are_both_tried() -> None:
    player = Player(PLAIN)
    for _ in range(20):
        tick = player.bench(4.5, reports=failing(ONE, TWO))
    assert on(tick, ONE)
    assert on(tick, TWO)


# --- the circuit ----------------------------------------------------------------------------


@BOTH
def test_a_circuit_that_does_not_bear_both_never_has_both(plan: Plan) -> None:
    heat = {"strategy": "proportion"} if plan is PULSED else {}
    house = House(plan_of(circuit_w=1500.0, heat=heat), rest_c=-15.0, dead=(ONE,))
    house.live(3000)
    assert not any(one and two for one, two in house.ons)
    assert "the circuit does not bear both" in " ".join(
        reason(tick, TWO) for tick in house.player.ticks
    )


@BOTH
def test_on_it_the_other_takes_the_place_of_a_dead_one_within_minutes(plan: Plan) -> None:
    heat = {"strategy": "proportion"} if plan is PULSED else {}
    tight = plan_of(circuit_w=1500.0, heat=heat)
    (zone,) = tight.zones
    assert zone.stages is not None
    house = House(tight, rest_c=1.0, dead=(ONE,))
    house.live(1200)
    waited = house.ons.index((False, True)) - house.ons.index((True, False))
    # Until the first's warmth would show, and two ticks to switch: on main it was the half hour of
    # response_within_s.
    assert waited * 10.0 <= zone.stages.lag_s + 20.0
    assert min(house.airs) > 2.5
    assert "no-response" in house.told()


@BOTH
def test_on_it_a_dead_second_soon_gives_the_place_back_to_a_sound_first_at_its_limit(
    plan: Plan,
) -> None:
    heat = {"strategy": "proportion"} if plan is PULSED else {}
    house = House(plan_of(circuit_w=1500.0, heat=heat), rest_c=-12.5, dead=(TWO,))
    house.live(2000)
    assert house.ons[-1000:] == [(True, False)] * 1000
    taken = house.ons.index((False, True))
    assert house.ons[taken : taken + 60].count((False, True)) < 60


LAG_TIMES = st.floats(0.3, 3.0)
DRAWN_LAGS = st.builds(
    lambda element, air, probe: Lags(element * 90.0, air * 500.0, probe * 140.0),
    LAG_TIMES,
    LAG_TIMES,
    LAG_TIMES,
)


@pytest.mark.parametrize("nights_c", [(-2.0,), (-4.0,), (-6.0,), (0.0, -2.0), (0.0, -3.0)])
@pytest.mark.parametrize("slower", [1.5, 2.0, 2.5, 3.0])
def test_on_it_no_sound_heater_is_called_dead_in_a_house_slower_than_believed(
    slower: float, nights_c: tuple[float, ...]
) -> None:
    """In all its parts alike. Not so in every house: where the cold comes in one step at the
    heater's limit, or the air is far quicker than the element, a sound one may be told still."""
    house = House(TIGHT, rest_c=2.0, lags=Lags(slower * 90.0, slower * 500.0, slower * 140.0))
    for rest_c in nights_c:
        house.rest_c = rest_c
        house.live(540)
    assert "no-response" not in house.told()


@settings(max_examples=15, deadline=None)
@given(lags=DRAWN_LAGS, rest_c=st.floats(-4.0, 0.0), dead=st.sampled_from([ONE, TWO]))
def test_on_it_a_dead_heater_is_left_in_any_frost(lags: Lags, rest_c: float, dead: str) -> None:
    house = House(TIGHT, rest_c=rest_c, dead=(dead,), lags=lags)
    house.live(1500)
    at = (ONE, TWO).index(dead)
    lost = longest = 0
    for ons in house.ons:
        lost = lost + 1 if ons[at] else 0
        longest = max(longest, lost)
    (zone,) = TIGHT.zones
    assert zone.stages is not None
    # Tried once more, it is given half as long again as the good one took to end the fall.
    assert longest * 10.0 <= 2.0 * zone.stages.wait_s
    assert any(ons[1 - at] for ons in house.ons)


def test_a_heater_that_could_not_be_switched_counts_as_on() -> None:
    player = Player(plan_of(circuit_w=1500.0))
    for _ in range(20):
        tick = player.bench(4.5, reports=failing(ONE))
    assert not on(tick, TWO)
    assert "more than the circuit's 1500 W" in reason(tick, TWO)


# --- whatever happens ------------------------------------------------------------------------


@BOTH
@settings(max_examples=20, deadline=None)
@given(
    course=st.lists(
        st.tuples(
            st.one_of(st.floats(2.0, 8.0), st.sampled_from([4.9375, 5.0, 5.5, Fault.MISSING])),
            st.sampled_from([10.0, 10.0, 10.0, 25.0, 400.0]),
            st.integers(1, 80),
            st.sampled_from([(), (), (), (ONE,), (TWO,), (ONE, TWO)]),
        ),
        min_size=1,
        max_size=10,
    )
)
def test_the_second_is_never_on_while_the_first_is_off_by_choice(
    plan: Plan, course: list[tuple[float | Fault, float, int, tuple[str, ...]]]
) -> None:
    player = Player(plan)
    on_since_s: dict[str, float] = {}
    for temp, after_s, times, failed in course:
        for _ in range(times):
            before = player.memory
            temps = dict.fromkeys(("bench-left", "bench-right", "ridge"), temp)
            tick = player.tick(
                {**temps, "outdoors": 0.0}, after_s=after_s, reports=failing(*failed)
            )
            _assert_in_order(tick, before.outputs[ONE].on, before.outputs[TWO].on, on_since_s, plan)


def _assert_in_order(
    tick: Tick, one_was_on: bool, two_was_on: bool, on_since_s: dict[str, float], plan: Plan
) -> None:
    staging, stages = tick.memory.staging["bench"], plan.zones[0].stages
    assert stages is not None
    first, second = staging.first, TWO if staging.first == ONE else ONE
    was_on = {ONE: one_was_on, TWO: two_was_on}
    wish = next(each for each in tick.zones[0].wishes if each.mode is Mode.HEAT)
    if on(tick, second):
        held = was_on[second] and "minimum on time" in reason(tick, second)
        assert wish.on or held
        all_out = len(staging.shunned) == 2
        assert held or staging.joined or all_out
        if not was_on[second] and not all_out and staging.share == 1.0:  # it has just joined
            ran_s = tick.now.mono_s - on_since_s.get(first, tick.now.mono_s)
            assert ran_s >= stages.lag_s
    for name in (ONE, TWO):
        if on(tick, name):
            on_since_s.setdefault(name, tick.now.mono_s)
        else:
            on_since_s.pop(name, None)
