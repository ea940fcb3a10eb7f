"""A clear dawn left to the sun: a setpoint a little lower, and no plant the worse for it."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import Plan, ahead, dawn, make_plan, shifts
from greenkeeper.control.dawn import AFTER_S, BEFORE_S, MOST_K
from greenkeeper.model import Ask, Fault, Morning, Now, Order, Pulsing, Shifted, Tick
from tests.control import houses
from tests.control.houses import Player, reason
from tests.control.test_proportion import House

SUNRISE = 1_800_000_000.0
START = Now(1000.0, SUNRISE - 3 * 3600.0, True)
CLEAR = Morning(SUNRISE - 9 * 3600.0, SUNRISE, 0.1)
FORECAST = {"url": "https://weather.example/compact", "identity": "fern-corner, me@example.org"}


def plan_of(*, on: bool = True, setpoint_c: float = 4.8, **changes: Any) -> Plan:
    bench = houses.ONE_ZONE["zones"]["bench"]["heat"]
    heat = {
        **bench,
        "setpoint_c": setpoint_c,
        "strategy": "proportion",
        "leave_dawn_to_sun": on,
    }
    return make_plan(houses.settings(zones=houses.zone(heat=heat), forecast=FORECAST, **changes))


PLAN = plan_of()  # the lemon's minimum is 4 °C


def lived(
    hours: float,
    plan: Plan = PLAN,
    morning: Morning | None = CLEAR,
    rest_c: float = -1.0,
    start: Now = START,
) -> Player:
    """From three hours before sunrise on, in a steady night.

    rest_c: where the air would end without heat; the heater lifts it by 16 K."""
    house = House(plan, rest_c, start=start)
    house.live(round(hours * 360.0), morning=morning)
    return house.player


def everywhere(temp_c: float | Fault) -> dict[str, float | Fault]:
    return {"bench-left": temp_c, "bench-right": temp_c, "ridge": temp_c, "outdoors": 1.0}


def setpoint_c(tick: Tick) -> float:
    found = tick.zones[0].heat_setpoint_c
    assert found is not None
    return found


def test_the_setpoint_is_halfway_to_the_minimum_about_a_clear_sunrise_and_then_back() -> None:
    points = [(tick.now.utc_s - SUNRISE, setpoint_c(tick)) for tick in lived(6.0).ticks]
    assert {point_c for at_s, point_c in points if at_s < -BEFORE_S} == {4.8}
    during = {point_c for at_s, point_c in points if -BEFORE_S <= at_s < AFTER_S}
    assert {round(point_c, 6) for point_c in during} == {4.4}
    assert {point_c for at_s, point_c in points if at_s >= AFTER_S} == {4.8}


def test_the_reason_says_how_far_and_why() -> None:
    said = reason(lived(2.0).ticks[-1], "heater")
    assert said.endswith("0.40 K lower until the sun is up, a clear morning is foretold")


def test_it_is_never_lowered_by_more_than_half_a_kelvin() -> None:
    assert setpoint_c(lived(2.0, plan_of(setpoint_c=9.0)).ticks[-1]) == 9.0 - MOST_K


@pytest.mark.parametrize(
    "player",
    [
        pytest.param(lambda: lived(4.0, plan_of(on=False)), id="it is not asked for"),
        pytest.param(lambda: lived(4.0, morning=None), id="nothing is foretold"),
        pytest.param(lambda: lived(4.0, morning=CLEAR._replace(cloud_share=0.5)), id="clouds"),
        pytest.param(
            lambda: lived(4.0, morning=CLEAR._replace(made_utc_s=SUNRISE - 13 * 3600.0)),
            id="the forecast is old",
        ),
        pytest.param(
            lambda: lived(4.0, morning=CLEAR._replace(made_utc_s=SUNRISE + 60.0)),
            id="the forecast was made after the sunrise it tells of",
        ),
        pytest.param(
            lambda: lived(2.4, morning=CLEAR._replace(made_utc_s=SUNRISE - 60.0)),
            id="nobody can have made that forecast yet",
        ),
        pytest.param(
            lambda: lived(4.0, morning=CLEAR._replace(sunrise_utc_s=SUNRISE - 86_400.0)),
            id="of yesterday",
        ),
        pytest.param(lambda: lived(4.0, plan_of(plants=[])), id="no plant says its minimum"),
        pytest.param(
            lambda: lived(4.0, start=START._replace(clock_trusted=False)),
            id="nobody knows the time",
        ),
    ],
)
def test_it_is_left_alone_otherwise(player: Any) -> None:
    assert {setpoint_c(tick) for tick in player().ticks} == {4.8}


def test_nothing_is_let_go_where_the_heater_is_near_its_limit() -> None:
    assert {setpoint_c(tick) for tick in lived(2.0, rest_c=-9.0).ticks} == {4.8}


def test_it_ends_at_once_when_the_zone_goes_blind() -> None:
    player = lived(2.0)
    assert setpoint_c(player.ticks[-1]) < 4.8
    for _ in range(20):
        tick = player.tick(everywhere(Fault.MISSING), morning=CLEAR)
    assert tick.memory.shifted == {}


def test_it_is_left_alone_while_a_probe_stands_alone() -> None:
    player = lived(2.0)
    tick = player.ticks[-1]
    asked = PLAN, tick.verdicts, player.memory, player.memory.overrides, tick.now
    assert "bench" in dawn.follow(*asked, {}, CLEAR)
    assert "bench" not in dawn.follow(*asked, {"bench": "bench-left"}, CLEAR)


def test_an_ordered_setpoint_stands_above_it() -> None:
    zone = PLAN.zones[0]._replace(ordered_c=(4.0, 20.0))
    player = lived(2.0, PLAN._replace(zones=(zone,), order_lasts_s=600.0))
    tick = player.tick(everywhere(4.9), orders=[Order("bench", Ask.SETPOINT, 7.0)], morning=CLEAR)
    assert setpoint_c(tick) == 7.0
    assert tick.memory.shifted == {}


def test_the_way_back_up_teaches_heat_in_proportion_nothing() -> None:
    lowered = lived(2.0).memory.shifted
    held = {"bench": Pulsing(held=True)}
    assert shifts.begun(held, {}, lowered)["bench"].held
    assert not shifts.begun(held, lowered, {})["bench"].held


def test_a_lower_setpoint_within_the_quarter_takes_the_move_back() -> None:
    player = lived(2.0)
    zone = PLAN.zones[0]
    assert zone.heat is not None
    heat = zone.heat._replace(day_c=4.2, night_c=4.2, unsure_c=4.2)
    player.plan = PLAN._replace(zones=(zone._replace(heat=heat),))
    tick = player.tick(everywhere(4.9), morning=CLEAR)
    assert setpoint_c(tick) == pytest.approx(4.1)


def test_a_move_down_is_not_kept_as_one_up() -> None:
    from tests.control import test_ahead as cheap

    tick = cheap.lived(cheap.PLAN, 2.0).ticks[-1]
    quarter = tick.memory.shifted["bench"].quarter
    low = {"bench": Shifted(quarter, -0.4, "")}
    arguments = cheap.PLAN, tick.verdicts, low, tick.memory.outputs, {}, tick.now
    assert ahead.follow(*arguments, {})["bench"].by_k > 0.0


def test_what_is_heated_ahead_is_not_let_go() -> None:
    """A zone in cheap hours before dear ones keeps its higher setpoint."""
    from tests.control import test_ahead as cheap

    plan = cheap.plan_of(strategy="proportion", leave_dawn_to_sun=True)
    sunrise = cheap.DUSK + 3 * 3600.0
    morning = Morning(sunrise - 3600.0, sunrise, 0.0)
    house = House(plan, start=cheap.START)
    house.live(720, morning=morning)
    assert plan.stores
    assert plan.dawns
    assert setpoint_c(house.player.ticks[-1]) > 5.2


# --- bounds ------------------------------------------------------------------------------

moments = st.floats(SUNRISE - 90_000.0, SUNRISE + 90_000.0)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.one_of(st.floats(3.0, 12.0), st.sampled_from([4.4, 4.8, Fault.MISSING])),
            st.sampled_from([10.0, 30.0, 400.0, 3600.0]),
            st.integers(1, 15),
        ),
        max_size=20,
    ),
    st.builds(Morning, moments, moments, st.floats(0.0, 1.0)),
    st.floats(0.0, 12.0),
)
def test_whatever_is_foretold_the_setpoint_stays_above_every_minimum(
    course: list[tuple[float | Fault, float, int]], morning: Morning, above_k: float
) -> None:
    plan = plan_of(setpoint_c=4.0 + above_k)
    player = Player(plan, START)
    for temp_c, after_s, times in course:
        for _ in range(times):
            tick = player.tick(everywhere(temp_c), after_s=after_s, morning=morning)
            point_c = tick.zones[0].heat_setpoint_c
            assert point_c is not None
            assert 4.0 + above_k - MOST_K <= point_c <= 4.0 + above_k
            assert point_c >= 4.0 + above_k / 2.0 - 1e-9
            near = -AFTER_S < morning.sunrise_utc_s - tick.now.utc_s <= BEFORE_S
            assert near or point_c == 4.0 + above_k


@given(st.floats(-5.0, 30.0), st.floats(-60.0, 60.0))
def test_what_is_let_go_is_half_of_what_is_in_reserve_at_most(
    setpoint_c: float, minimum_c: float
) -> None:
    zone = PLAN.zones[0]
    assert zone.heat is not None
    points = zone.heat._replace(day_c=setpoint_c, night_c=setpoint_c, unsure_c=setpoint_c)
    by_k = dawn.spare_k(zone._replace(heat=points, minimum_c=minimum_c), night=True)
    assert 0.0 <= by_k <= MOST_K
    assert by_k <= max(0.0, 0.5 * (setpoint_c - minimum_c))
