"""The house run forward, against plain sums."""

import math
from collections.abc import Callable

import pytest

from greenkeeper.house.model import follow, inputs_of
from greenkeeper.house.network import Parameters, weights
from greenkeeper.house.weather import Surroundings
from greenkeeper.house.wind import loss_share
from greenkeeper.outlook.ahead import STEP_S, Heater, House, Measured, Night
from greenkeeper.outlook.course import Course, Point, Wind

LOSS_W_PER_K = 50.0
P = Parameters(
    loss_w_per_k=LOSS_W_PER_K, air_j_per_k=100e3, mass_j_per_k=2e6, mass_w_per_k=80.0,
    element_lag_s=120.0, probe_lag_s=60.0, sun_m2=3.0, fan_w_per_k=0.0, ridge_k_per_w=0.0,
)  # fmt: skip
AIR_ALONE = P._replace(mass_j_per_k=1.0, mass_w_per_k=1e-6)
DAY_STEPS = int(86_400.0 / STEP_S)


def still(temp_c: float) -> Course:
    return Course("nights", "still air", (Point(0.0, temp_c), Point(1e6, temp_c)), (0.0, 0.0))


def settled(house: House, inside_c: float, outdoor_c: float, steps: int = 20 * DAY_STEPS):
    state = house.now([Measured(inside_c, outdoor_c)] * steps)
    assert state is not None
    return state


def test_holding_takes_loss_times_difference() -> None:
    house = House(P)
    night = house.ahead(
        settled(house, 5.0, -5.0), still(-5.0), 0.0, 36_000.0, heaters=[Heater(2000.0, 5.0)]
    )
    assert night.kwh == pytest.approx(LOSS_W_PER_K * 10.0 * 10.0 / 1000.0, rel=1e-3)
    assert night.low_c == pytest.approx(5.0, abs=1e-6)
    assert night.limit_s == 0.0


def test_a_heater_that_is_too_small_is_at_its_limit_and_keeps_what_it_can() -> None:
    house = House(P)
    state = settled(house, 5.0, -15.0)
    night = house.ahead(state, still(-15.0), 0.0, 10 * 86_400.0, heaters=[Heater(500.0, 5.0)])
    assert night.low_c == pytest.approx(-15.0 + 500.0 / LOSS_W_PER_K, abs=0.01)
    assert night.limit_s == 10 * 86_400.0
    assert night.kwh == pytest.approx(0.5 * 240.0)


def test_without_heat_air_alone_cools_by_its_own_time_constant() -> None:
    house = House(AIR_ALONE)
    state = settled(house, 15.0, 5.0, steps=DAY_STEPS)
    after_s = AIR_ALONE.air_j_per_k / LOSS_W_PER_K
    night = house.ahead(state, still(5.0), 0.0, after_s)
    steps = math.ceil(after_s / STEP_S)
    expected_c = 5.0 + 10.0 * math.exp(-steps * STEP_S / after_s)
    assert night.low_c == pytest.approx(expected_c, abs=1e-3)
    assert night.low_utc_s == steps * STEP_S
    assert night.kwh == 0.0


def test_a_house_whose_mass_was_warmed_by_day_stays_warmer() -> None:
    house = House(P)
    sunny = [Measured(25.0, 5.0)] * (DAY_STEPS // 3) + [Measured(8.0, 5.0)] * 6
    grey = [Measured(8.0, 5.0)] * (DAY_STEPS // 3 + 6)
    warm, cool = house.now(sunny), house.now(grey)
    assert warm is not None
    assert cool is not None
    assert warm.air_c == pytest.approx(cool.air_c)
    assert warm.mass_c > cool.mass_c + 3.0
    ends = [house.ahead(state, still(0.0), 0.0, 40_000.0).low_c for state in (warm, cool)]
    assert ends[0] > ends[1] + 0.5


def test_gaps_are_lived_through_and_nothing_at_all_is_no_state() -> None:
    house = House(P)
    assert house.now([Measured(None, 3.0)] * 10) is None
    state = house.now([Measured(None, None), Measured(9.0, None), *[Measured(None, 3.0)] * 12])
    assert state is not None
    assert 3.0 < state.air_c < 9.0


def test_what_the_day_gave_beyond_the_heater_was_sun_and_warmed_the_mass() -> None:
    house = House(P)
    day = [Measured(20.0, 5.0)] * (DAY_STEPS // 3)
    dark, sunny = house.now(day), house.now([each._replace(lit=True) for each in day])
    heated = house.now([each._replace(lit=True, heater_w=2000.0) for each in day])
    for state in (dark, sunny, heated):
        assert state is not None
        assert state.air_c == pytest.approx(20.0), "led along what was measured"
    assert dark is not None
    assert sunny is not None
    assert heated is not None
    assert sunny.mass_c > dark.mass_c + 0.5
    assert heated.mass_c == pytest.approx(dark.mass_c), "the heater explains all of it"


@pytest.mark.parametrize("hour_w_m2", [200.0, 500.0])
def test_led_along_a_sunny_day_it_stands_where_the_model_stood(hour_w_m2: float) -> None:
    """The very model with its sun, of which the outlook is told the air alone."""
    p = P._replace(element_lag_s=0.0, probe_lag_s=0.0)
    step = weights(p, False, False, STEP_S)
    state = settled(House(P), 6.0, 4.0)
    past = []
    for number in range(DAY_STEPS):
        lit = 96 <= number < 200
        around = Surroundings(4.0, hour_w_m2 if lit else 0.0)
        state = follow(step, step.added(inputs_of(p, around, 0.0)), state)
        past.append(Measured(state.air_c, 4.0, lit=lit))
    led = House(P).now([*[Measured(6.0, 4.0)] * 5 * DAY_STEPS, *past])
    assert led is not None
    assert led.mass_c == pytest.approx(state.mass_c, abs=0.5)


def test_what_the_sun_gives_now_sinks_to_nothing_by_sunset() -> None:
    house = House(P)
    sunny = [Measured(20.0, 5.0, lit=True)] * (DAY_STEPS // 3)
    state, sun_w = house.now(sunny), house.sun_w(sunny)
    assert state is not None
    assert sun_w > 100.0
    at_once = house.ahead(state, still(5.0), 0.0, 7200.0)
    sinking = house.ahead(state, still(5.0), 0.0, 7200.0, sun_w=sun_w, sunset_utc_s=7200.0)
    over = house.ahead(state, still(5.0), 0.0, 7200.0, sun_w=sun_w, sunset_utc_s=0.0)
    assert sinking.low_c > at_once.low_c + 1.0
    assert over.low_c == pytest.approx(at_once.low_c)
    assert house.sun_w([each._replace(lit=False) for each in sunny]) == 0.0


def test_its_course_is_told_every_half_hour_to_the_end() -> None:
    house = House(P)
    night = house.ahead(settled(house, 8.0, 0.0), still(0.0), 0.0, 10_000.0)
    moments = [point.utc_s for point in night.points]
    assert moments == [0.0, 1800.0, 3600.0, 5400.0, 7200.0, 9000.0, 10_200.0]
    assert night.points[-1].temp_c == night.low_c


def test_money_follows_from_heat_by_time() -> None:
    house = House(P)
    now, course = settled(house, 5.0, -5.0), still(-5.0)

    def night(price: Callable[[float], float] | None) -> Night:
        heaters = [Heater(3000.0, 5.0)]
        return house.ahead(now, course, 0.0, 36_000.0, heaters=heaters, price=price)

    assert night(None).cost is None
    flat = night(lambda utc_s: 0.3)
    assert flat.cost == pytest.approx(0.3 * flat.kwh)
    first = night(lambda utc_s: 1.0 if utc_s < 18_000.0 else 0.0)
    second = night(lambda utc_s: 0.0 if utc_s < 18_000.0 else 1.0)
    assert first.cost is not None and second.cost is not None  # noqa: PT018
    assert first.cost + second.cost == pytest.approx(flat.kwh)
    assert min(first.cost, second.cost) > 0.2 * flat.kwh


def test_of_two_heaters_in_one_air_the_second_helps_where_the_first_is_too_small() -> None:
    """Steady at -5 °C: 5 °C takes 500 W; the first holds that alone or has 300 W."""
    house = House(P)
    now = settled(house, 5.0, -5.0)

    def second(first_w: float) -> Night:
        heaters = [Heater(2000.0, 2.0), Heater(first_w, 5.0, counts=False)]
        return house.ahead(now, still(-5.0), 0.0, 20 * 86_400.0, heaters=heaters)

    assert second(2000.0).kwh == 0.0
    helped = second(300.0)
    assert helped.low_c == pytest.approx(2.0, abs=1e-6)
    last_w = LOSS_W_PER_K * 7.0 - 300.0
    assert helped.kwh == pytest.approx(last_w * 20 * 24 / 1000.0, rel=0.1)


TENTED = P._replace(tent_j_per_k=200e3, tent_w_per_k=10.0)


def test_a_tent_takes_its_own_loss_and_what_it_loses_warms_the_house() -> None:
    """Held at 12 °C: 10 W/K of tent in 50 W/K of house at -5 °C. In balance the house is
    h above outdoors with 50 h = 10 (17 - h), so 2.83 K; the tent takes 142 W."""
    house = House(TENTED, tent=True)
    past = [Measured(-2.0, -5.0, tent_c=12.0)] * 2 * DAY_STEPS
    now = house.now(past)
    assert now is not None
    heaters = [Heater(500.0, 12.0, tented=True)]
    night = house.ahead(now, still(-5.0), 0.0, 30 * 86_400.0, heaters=heaters, under_tent=True)
    assert night.low_c == pytest.approx(12.0, abs=0.02)
    assert night.kwh == pytest.approx(0.1417 * 24 * 30, rel=0.01)
    air = house.ahead(now, still(-5.0), 0.0, 30 * 86_400.0, heaters=heaters)
    assert air.points[-1].temp_c == pytest.approx(-5.0 + 170.0 / 60.0, abs=0.05)


def test_without_its_heater_the_tent_cools_towards_the_house() -> None:
    house = House(TENTED, tent=True)
    now = house.now([Measured(5.0, -5.0, tent_c=12.0)] * DAY_STEPS)
    assert now is not None
    kept = [Heater(2000.0, 5.0)]
    night = house.ahead(now, still(-5.0), 0.0, 10 * 86_400.0, heaters=kept, under_tent=True)
    assert night.low_c == pytest.approx(5.0, abs=0.05)
    assert night.points[0].temp_c == pytest.approx(12.0, abs=0.02)


def test_a_heater_rests_until_the_air_has_fallen_to_where_it_starts() -> None:
    """It holds 6 °C on average; air at 8 °C falls to 5 °C first, and the climb is no limit."""
    house = House(P)
    now = settled(house, 8.0, 4.0)
    waits = Heater(800.0, 6.0, starts_c=5.0)
    night = house.ahead(now, still(-5.0), 0.0, 12 * 3600.0, heaters=[waits])
    assert 4.4 < night.low_c <= 5.0
    assert night.points[-1].temp_c == pytest.approx(6.0, abs=0.01)
    assert night.limit_s == 0.0
    at_once = house.ahead(now, still(-5.0), 0.0, 12 * 3600.0, heaters=[Heater(800.0, 6.0)])
    assert at_once.low_c == pytest.approx(6.0, abs=0.01)
    assert at_once.kwh > night.kwh


def test_wind_takes_its_share_and_none_is_the_usual() -> None:
    house = House(P)
    now = settled(house, 5.0, -5.0)

    def kwh(*winds: Wind) -> float:
        course = still(-5.0)._replace(winds=winds)
        return house.ahead(now, course, 0.0, 36_000.0, heaters=[Heater(3000.0, 5.0)]).kwh

    assert kwh() == pytest.approx(5.0, rel=1e-3)
    assert kwh(Wind(0.0, 4.0)) == pytest.approx(kwh())
    assert kwh(Wind(0.0, 9.0)) == pytest.approx(kwh() * loss_share(9.0), rel=0.05)
    half = kwh(Wind(-3600.0, 9.0), Wind(18_000.0, 4.0))
    assert kwh() < half < kwh(Wind(0.0, 9.0))
