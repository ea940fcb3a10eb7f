"""Heat in proportion: its bounds, whatever the probes say, and what it does to a house.

The invariants of the guard are asked of it in test_invariants.py.
"""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan, carried_over, fresh, make_plan, observer, proportion, purse
from greenkeeper.control.figures import ANYBODYS
from greenkeeper.control.plan import PulsePlan
from greenkeeper.model import Fault, Latch, Memory, Mode, Morning, Now, Pulsing, Wish
from greenkeeper.settings.derived import ABOVE_K
from tests.control import houses
from tests.control.houses import START, Player

SETPOINT_C = 5.0
TIMES = {"min_on_s": 30.0, "min_off_s": 30.0}
# A relay that lasts for ever, where a test is not about its life.
HEATER = {"kind": "gpio", "pin": 17, "power_w": 1500.0, "rated_operations": 100_000_000, **TIMES}
# Out of the cold, heat is wanted until the probe itself has come up to the setpoint.
WARMED_UP_K = 3.0
LEAST_K = 0.08
COLD_HOUSE = observer.Figures(gain_k=16.0, fast_s=500.0, element_s=90.0, probe_s=140.0)


def plan_of(**heater: Any) -> Plan:
    heat = {**houses.ONE_ZONE["zones"]["bench"]["heat"], "strategy": "proportion"}
    outputs = {**houses.ONE_ZONE["outputs"], "heater": {**HEATER, **heater}}
    return make_plan(houses.settings(zones=houses.zone(heat=heat), outputs=outputs))


PLAN = plan_of()


class House:
    """The observer's own model as a house, colder or warmer than it is told."""

    def __init__(
        self, plan: Plan = PLAN, rest_c: float = -3.0, air_c: float = 6.0, start: Now = START
    ) -> None:
        self.player = Player(plan, start)
        self.rest_c = rest_c
        self.state = observer.begun(air_c, rest_c, 0.0)
        self.airs: list[float] = []
        self.ons: list[bool] = []

    def live(self, ticks: int, *, locked: bool = False, morning: Morning | None = None) -> None:
        for _ in range(ticks):
            on = self.player.memory.outputs["heater"].on and not locked
            self.state = observer.moved(
                COLD_HOUSE, self.state._replace(rest_c=self.rest_c), on, 10.0
            )
            seen_c = round(self.state.probe_c * 16.0) / 16.0
            tick = self.player.tick(
                {"bench-left": seen_c, "bench-right": seen_c, "ridge": seen_c, "outdoors": -6.0},
                morning=morning,
            )
            self.airs.append(self.state.air_c)
            self.ons.append(tick.memory.outputs["heater"].on)

    @property
    def pulsing(self) -> Pulsing:
        return self.player.memory.pulsing["bench"]


def heat_wish(player: Player) -> Wish:
    return next(each for each in player.ticks[-1].zones[0].wishes if each.mode is Mode.HEAT)


# --- bounds -----------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.one_of(st.floats(3.0, 12.0), st.sampled_from([4.9375, 5.0, 8.0, Fault.MISSING])),
            st.sampled_from([10.0, 10.0, 10.0, 25.0, 400.0]),
            st.integers(1, 12),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_heat_is_wanted_at_the_setpoint_and_never_from_far_above_it(
    course: list[tuple[float | Fault, float, int]],
) -> None:
    player = Player(PLAN)
    for temp, after_s, times in course:
        for _ in range(times):
            temps = dict.fromkeys(("bench-left", "bench-right", "ridge"), temp)
            tick = player.tick({**temps, "outdoors": 0.0}, after_s=after_s)
            coldest_c, wish = tick.zones[0].coldest_c, heat_wish(player)
            pulsing = tick.memory.pulsing["bench"]
            if coldest_c is None:
                assert not wish.on
                assert pulsing.behind is None
            elif coldest_c <= SETPOINT_C:
                assert wish.on
            elif coldest_c >= SETPOINT_C + ABOVE_K:
                assert not wish.on
            assert 0.0 <= (pulsing.margin_k or 0.0) <= proportion.MOST_MARGIN_K


@settings(deadline=None)
@given(st.floats(-80.0, 80.0), st.floats(-20.0, 40.0), st.floats(0.1, 100.0))
def test_the_duty_lies_from_nothing_to_all(rest_c: float, floor_c: float, gain_k: float) -> None:
    assert 0.0 <= proportion.duty(rest_c, floor_c, gain_k) <= 1.0


@settings(deadline=None)
@given(
    st.one_of(st.none(), st.floats(0.0, 50_000.0)),
    st.floats(0.0, 1.0),
    st.floats(0.0, 600.0),
    st.floats(0.0, 600.0),
)
def test_no_pulse_and_no_rest_is_shorter_than_the_output_allows(
    left: float | None, share: float, least_on_s: float, least_off_s: float
) -> None:
    pulses = PulsePlan("heater", ANYBODYS, (), True, 0.1, least_on_s, least_off_s, 12_000.0)
    on_s, off_s = purse.pulse_s(pulses, left, share)
    assert on_s >= least_on_s
    assert off_s >= least_off_s


# --- a house -----------------------------------------------------------------------------


def test_the_air_is_held_just_above_the_setpoint_in_a_house_nobody_described() -> None:
    house = House()
    house.live(1500)
    settled = house.airs[700:]
    assert min(settled) >= SETPOINT_C - 0.1
    assert sum(settled) / len(settled) < SETPOINT_C + 0.6
    assert "rests between pulses" in " ".join(
        tick.memory.outputs["heater"].reason for tick in house.player.ticks[-60:]
    )


@pytest.mark.parametrize("poll_s", [2.0, 10.0, 40.0])
def test_it_finds_its_feet_at_any_tick(poll_s: float) -> None:
    heat = {**houses.ONE_ZONE["zones"]["bench"]["heat"], "strategy": "proportion"}
    player = Player(make_plan(houses.settings(zones=houses.zone(heat=heat), poll_s=poll_s)))
    temps = {"bench-left": 7.0, "bench-right": 7.0, "ridge": 7.0, "outdoors": 6.5}
    for _ in range(int(1200.0 / poll_s)):
        player.tick(temps, after_s=poll_s)
    assert "without heat" in heat_wish(player).reason


def test_pulses_last_as_long_as_the_output_needs() -> None:
    house = House(plan_of(min_on_s=90.0, min_off_s=60.0))
    house.live(1500)
    course = "".join("#" if on else "." for on in house.ons[100:])
    runs, rests = ([each for each in course.split(between) if each][1:-1] for between in (".", "#"))
    assert len(runs) > 30
    assert min(map(len, runs)) >= 9
    assert min(map(len, rests)) >= 6


def test_it_is_on_all_the_time_where_all_is_needed_and_never_where_nothing_is() -> None:
    house = House(rest_c=-20.0)
    house.live(900)
    assert all(house.ons[500:])
    mild = House(rest_c=9.0, air_c=9.0)
    mild.live(900)
    assert not any(mild.ons)


def test_a_warm_day_leaves_nothing_behind() -> None:
    """No term has wound up: the evening after ten hours of sun is like any other."""
    house = House()
    house.live(700)
    margin_k = house.pulsing.margin_k
    house.rest_c = 24.0
    house.live(3600)
    assert not any(house.ons[1000:4300])
    assert (house.pulsing.margin_k or 0.0) <= (margin_k or 0.0)
    for _ in range(72):  # two hours of evening
        house.rest_c -= 27.0 / 72.0
        house.live(10)
    house.live(1200)
    assert min(house.airs[4300:]) >= SETPOINT_C - 0.1
    assert max(house.airs[-400:]) < SETPOINT_C + 1.2


def test_a_heater_that_is_locked_out_leaves_nothing_behind() -> None:
    house = House()
    house.live(700)
    latch = Latch("over-ceiling", "bench", "it was hot", START.utc_s)
    house.player.memory = house.player.memory._replace(latches={latch.name: latch})
    house.live(1000)
    assert not any(house.ons[-900:])
    assert house.airs[-1] < 0.0
    assert (house.pulsing.margin_k or 0.0) < 0.5
    house.player.memory = house.player.memory._replace(latches={})
    house.live(1200)
    assert max(house.airs[-1100:]) < SETPOINT_C + WARMED_UP_K
    assert min(house.airs[-300:]) >= SETPOINT_C - 0.1


def test_after_a_power_cut_it_goes_on_in_minutes() -> None:
    house = House()
    house.live(700)
    player = house.player
    for _ in range(1080):  # three hours
        house.state = observer.moved(COLD_HOUSE, house.state, False, 10.0)
    now = player.now
    player.now = now._replace(mono_s=now.mono_s + 10_800.0, utc_s=now.utc_s + 10_800.0)
    player.memory = fresh(PLAN, player.now)
    house.live(1500)
    after = house.airs[700:]
    assert max(after) < SETPOINT_C + WARMED_UP_K
    assert min(after[700:]) >= SETPOINT_C - 0.1


def test_what_is_wrongly_believed_of_the_house_ends_up_as_margin_not_as_frost() -> None:
    heavy = plan_of()
    wrong = ANYBODYS._replace(gain_k=35.0, fast_s=1500.0, element_s=20.0, probe_s=40.0)
    zone = heavy.zones[0]
    assert zone.pulses is not None
    pulses = zone.pulses._replace(figures=wrong, gains=observer.gains_of(wrong, 10.0), known=True)
    house = House(heavy._replace(zones=(zone._replace(pulses=pulses),)))
    house.live(4000)
    assert min(house.airs[1500:]) >= SETPOINT_C - 0.4
    assert (house.pulsing.margin_k or 0.0) > LEAST_K


def test_the_way_up_from_the_cold_teaches_nothing() -> None:
    """A cold start, or the hours after a lock-out, say nothing of the dips between pulses."""
    house = House(rest_c=-3.0, air_c=-3.0)
    house.live(1000)
    assert min(house.airs[-300:]) >= SETPOINT_C
    assert house.pulsing.margin_k == 0.0


def test_a_gusty_hour_raises_the_floor_and_a_calm_one_lowers_it() -> None:
    known = plan_of()
    zone = known.zones[0]
    assert zone.pulses is not None
    pulses = zone.pulses._replace(
        figures=COLD_HOUSE, gains=observer.gains_of(COLD_HOUSE, 10.0), known=True
    )
    house = House(known._replace(zones=(zone._replace(pulses=pulses),)))

    def mean_k(hours: int, gust_k: float) -> float:
        before = len(house.airs)
        for quarter in range(4 * hours):
            house.rest_c = -3.0 + (gust_k if quarter % 2 else -gust_k)
            house.live(90)
        return sum(house.airs[before + 360 :]) / (len(house.airs) - before - 360) - SETPOINT_C

    first_calm_k, gusty_k, calm_k = mean_k(5, 0.0), mean_k(5, 1.5), mean_k(5, 0.0)
    assert gusty_k > first_calm_k + 0.03
    assert calm_k < gusty_k - 0.03


# --- beside others ---------------------------------------------------------------------


def test_each_strategy_takes_over_where_the_other_stands() -> None:
    """Changing the settings switches nothing by itself."""
    pulsed, plain = (
        PLAN,
        make_plan(houses.settings(outputs={**houses.ONE_ZONE["outputs"], "heater": HEATER})),
    )
    for before, after in ((pulsed, plain), (plain, pulsed)):
        house = House(before)
        house.live(700)
        while not house.player.memory.outputs["heater"].on or house.airs[-1] > SETPOINT_C + 0.3:
            house.live(1)
        player = house.player
        player.plan = after
        player.memory = carried_over(player.memory, after, player.now)
        house.live(1)
        assert player.memory.outputs["heater"].on


def test_the_margin_and_the_purse_outlive_a_change_of_settings() -> None:
    house = House(plan_of(rated_operations=50_000, wanted_years=5.0))
    house.live(300)
    kept = carried_over(house.player.memory, plan_of(), house.player.now).pulsing["bench"]
    assert kept == house.pulsing


def test_two_zones_that_ask_one_heater_are_both_kept() -> None:
    bench = houses.ONE_ZONE["zones"]["bench"]
    heat = {**bench["heat"], "strategy": "proportion"}
    plan = make_plan(
        houses.settings(
            zones={
                "bench": {**bench, "probes": ["bench-left"], "heat": heat},
                "shelf": {"probes": ["bench-right"], "heat": {**heat, "setpoint_c": 7.0}},
            },
            outputs={**houses.ONE_ZONE["outputs"], "heater": HEATER},
        )
    )
    player, state = Player(plan), observer.begun(9.0, -3.0, 0.0)
    airs = []
    for _ in range(1500):
        state = observer.moved(COLD_HOUSE, state, player.memory.outputs["heater"].on, 10.0)
        cold_c, warm_c = state.probe_c - 0.5, state.probe_c + 0.5
        player.tick({"bench-left": warm_c, "bench-right": cold_c, "ridge": 9.0, "outdoors": -6.0})
        airs.append(state.air_c)
    assert min(airs[700:]) - 0.5 >= 7.0 - 0.1
    assert max(airs[700:]) - 0.5 < 8.2


# --- the relay's purse ------------------------------------------------------------------


def test_a_relay_that_is_to_last_gets_longer_pulses() -> None:
    free, spared = House(), House(plan_of(rated_operations=100_000, wanted_years=10.0))
    for house in (free, spared):
        house.live(2500)
    starts = [house.player.memory.outputs["heater"].operations for house in (free, spared)]
    assert starts[1] < 0.5 * starts[0]
    assert min(spared.airs[1000:]) >= SETPOINT_C - 0.1


def test_closings_are_paid_for_and_what_a_year_adds_is_all_that_is_added() -> None:
    house = House(plan_of(rated_operations=100_000, wanted_years=10.0))
    house.live(1)
    assert house.pulsing.purse == pytest.approx(5000.0)
    house.live(1000)
    closed = house.player.memory.outputs["heater"].operations
    earned = 10_000.0 * 10_000.0 / (365.25 * 86_400.0)
    assert house.pulsing.purse == pytest.approx(5000.0 + earned - closed, abs=0.1)


YEARLY = 12_000.0


def closed_in_a_day(left: float) -> float:
    """Heat for half of the hours, a tenth of the time of those: a mild winter's day."""
    pulses = PulsePlan("heater", ANYBODYS, (), True, 0.1, 30.0, 30.0, YEARLY)
    on_s, off_s = purse.pulse_s(pulses, left, 0.1)
    return 43_200.0 / max(on_s / 0.1, off_s / 0.9)


def test_a_winter_of_four_months_spends_about_what_a_year_may_and_evenly() -> None:
    left, days = YEARLY, []
    for _ in range(120):
        days.append(closed_in_a_day(left))
        left += YEARLY / 365.25 - days[-1]
    assert 0.7 * YEARLY <= sum(days) <= YEARLY
    assert days[-1] >= 0.6 * days[0]


@pytest.mark.parametrize("begins", [YEARLY, YEARLY / 2.0, 0.0])
def test_heated_all_the_year_round_no_more_is_spent_than_is_added(begins: float) -> None:
    left, spent = begins, 0.0
    for _ in range(3 * 365):
        now = closed_in_a_day(left)
        spent += now
        left = max(0.0, left + YEARLY / 365.25 - now)
    assert spent <= 3.0 * YEARLY + begins
    assert closed_in_a_day(left) == pytest.approx(YEARLY / 365.25, rel=0.05)


def test_another_relay_with_no_limit_has_no_purse() -> None:
    plan = make_plan(
        houses.settings(
            zones=houses.zone(
                heat={**houses.ONE_ZONE["zones"]["bench"]["heat"], "strategy": "proportion"}
            )
        )
    )
    house = House(plan)
    house.live(50)
    assert house.pulsing.purse is None


def test_memory_begins_with_nothing() -> None:
    memory: Memory = fresh(PLAN, START)
    assert memory.pulsing == {}
