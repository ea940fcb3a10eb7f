"""Hysteresis that anticipates: still one, whatever it believes; and the air keeps its band."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan, carried_over, make_plan, observer
from greenkeeper.model import Fault, Mode
from tests.control import houses
from tests.control.houses import Player
from tests.control.test_proportion import COLD_HOUSE, HEATER, SETPOINT_C, House, heat_wish

BAND_K = 1.0


def plan_of(*, anticipate: bool = True, **heater: Any) -> Plan:
    heat = {"output": "heater", "setpoint_c": SETPOINT_C, "hysteresis_k": BAND_K}
    outputs = {**houses.ONE_ZONE["outputs"], "heater": {**HEATER, **heater}}
    zones = houses.zone(heat={**heat, "anticipate": anticipate})
    return make_plan(houses.settings(zones=zones, outputs=outputs))


PLAN, PLAIN = plan_of(), plan_of(anticipate=False)


def known_to_be(figures: observer.Figures) -> Plan:
    zone = PLAN.zones[0]
    assert zone.pulses is not None
    gains = observer.gains_of(figures, PLAN.poll_s)
    pulses = zone.pulses._replace(figures=figures, gains=gains, known=True)
    return PLAN._replace(zones=(zone._replace(pulses=pulses),))


figures = st.builds(
    observer.Figures, st.floats(2.0, 100.0), st.floats(60.0, 7200.0), st.floats(5.0, 1800.0),
    st.floats(5.0, 1800.0),
)  # fmt: skip


# --- bounds -----------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    figures,
    st.lists(
        st.tuples(
            st.one_of(st.floats(3.0, 8.0), st.sampled_from([4.9375, 5.0, 6.0, Fault.MISSING])),
            st.sampled_from([10.0, 10.0, 10.0, 25.0, 400.0]),
            st.integers(1, 12),
        ),
        min_size=1,
        max_size=20,
    ),
)
def test_heat_is_wanted_at_the_setpoint_and_never_from_the_bands_end_on(
    believed: observer.Figures, course: list[tuple[float | Fault, float, int]]
) -> None:
    player = Player(known_to_be(believed))
    for temp, after_s, times in course:
        for _ in range(times):
            temps = dict.fromkeys(("bench-left", "bench-right", "ridge"), temp)
            tick = player.tick({**temps, "outdoors": 0.0}, after_s=after_s)
            coldest_c, wish = tick.zones[0].coldest_c, heat_wish(player)
            if coldest_c is None:
                assert not wish.on
            elif coldest_c <= SETPOINT_C:
                assert wish.on
            elif coldest_c >= SETPOINT_C + BAND_K:
                assert not wish.on


# --- a house -----------------------------------------------------------------------------


def settled(plan: Plan) -> House:
    house = House(plan)
    house.live(2500)
    return house


def test_the_air_keeps_the_band_that_otherwise_the_probe_alone_keeps() -> None:
    plain, ahead = settled(PLAIN).airs[1000:], settled(known_to_be(COLD_HOUSE)).airs[1000:]
    assert min(plain) < SETPOINT_C - 0.5
    assert max(plain) > SETPOINT_C + BAND_K + 0.5
    assert min(ahead) >= SETPOINT_C - 0.1
    assert max(ahead) <= SETPOINT_C + BAND_K + 0.2


def test_it_does_so_in_a_house_nobody_described_too() -> None:
    plain, ahead = settled(PLAIN).airs[1000:], settled(PLAN).airs[1000:]
    assert min(ahead) > min(plain) + 0.4
    assert max(ahead) - min(ahead) < 0.7 * (max(plain) - min(plain))


def test_it_says_why_it_switches_before_the_probe_gets_there() -> None:
    house = settled(known_to_be(COLD_HOUSE))
    reasons = " ".join(tick.memory.outputs["heater"].reason for tick in house.player.ticks[-400:])
    assert "in time to stay above 5.0 °C" in reasons
    assert "the warmth on its way is enough for 6.0 °C" in reasons


def test_until_it_has_seen_enough_it_is_plain_hysteresis_and_says_so() -> None:
    ahead, plain = Player(PLAN), Player(PLAIN)
    for temp_c in (5.5, 5.2, 4.9, 5.4, 5.9, 6.1, 5.5):
        for player in (ahead, plain):
            player.bench(temp_c)
        assert heat_wish(ahead).on is heat_wish(plain).on
    assert heat_wish(ahead).reason == (
        f"{heat_wish(plain).reason}; not enough seen yet to look ahead"
    )
    for _ in range(60):
        ahead.bench(5.5)
    assert "not enough" not in heat_wish(ahead).reason


def test_minimum_times_hold_all_the_same() -> None:
    house = settled(plan_of(min_on_s=120.0, min_off_s=90.0))
    course = "".join("#" if on else "." for on in house.ons[100:])
    runs, rests = ([each for each in course.split(between) if each][1:-1] for between in (".", "#"))
    assert min(map(len, runs)) >= 12
    assert min(map(len, rests)) >= 9


def test_two_zones_on_one_heater_each_remember_what_they_wished() -> None:
    """A heater that runs for the other zone does not look to this one as if it had asked."""
    bench = houses.ONE_ZONE["zones"]["bench"]
    heat = {**bench["heat"], "hysteresis_k": BAND_K, "anticipate": True}
    plan = make_plan(
        houses.settings(
            zones={
                "bench": {**bench, "probes": ["bench-left"], "heat": heat},
                "shelf": {"probes": ["bench-right"], "heat": {**heat, "setpoint_c": 9.0}},
            }
        )
    )
    player = Player(plan)
    for _ in range(60):
        tick = player.tick({"bench-left": 5.6, "bench-right": 8.5, "ridge": 7.0, "outdoors": 4.0})
    wishes = {wish.zone: wish.on for view in tick.zones for wish in view.wishes
              if wish.mode is Mode.HEAT}  # fmt: skip
    assert wishes == {"bench": False, "shelf": True}


@pytest.mark.parametrize("there", [PLAN, PLAIN], ids=["on", "off"])
def test_turning_it_on_or_off_switches_nothing_by_itself(there: Plan) -> None:
    house = settled(PLAIN if there is PLAN else PLAN)
    while not house.player.memory.outputs["heater"].on:
        house.live(1)
    player = house.player
    player.plan = there
    player.memory = carried_over(player.memory, there, player.now)
    house.live(1)
    assert player.memory.outputs["heater"].on
