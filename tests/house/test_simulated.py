"""The running house: repeatable, indifferent to who looks and when, honest in its sums."""

import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.house.model import Parameters, State, settled
from greenkeeper.house.simulated import PLACES, SPREAD_K, SimulatedHouse
from greenkeeper.house.weather import FrostyNight, Surroundings
from greenkeeper.model import Now
from greenkeeper.settings.house import House
from tests.support.houses import uniform

PARAMETERS = Parameters.from_settings(House())
START = Now(1234.5678, 1_768_402_800.0, True)  # an invented 2026-01-14, 15:00 UTC


class Steady:
    """Weather that never changes."""

    def __init__(self, outdoor_c: float, sun_w_m2: float = 0.0) -> None:
        self._around = Surroundings(outdoor_c, sun_w_m2)

    def at(self, utc_s: float) -> Surroundings:
        return self._around


def _after(seconds: float) -> Now:
    return Now(START.mono_s + seconds, START.utc_s + seconds, True)


def _frosty() -> SimulatedHouse:
    return SimulatedHouse(PARAMETERS, FrostyNight(), START)


def _steady(outdoor_c: float, state: State | None = None) -> SimulatedHouse:
    return SimulatedHouse(PARAMETERS, Steady(outdoor_c), START, state=state)


def _near(state: State, other: State) -> bool:
    return list(state) == pytest.approx(list(other), abs=1e-9, rel=1e-9)


@settings(deadline=None, max_examples=25)
@given(st.lists(st.integers(1, 900_000), min_size=1, max_size=30))
def test_how_often_it_is_read_changes_nothing(looks_ms: list[int]) -> None:
    watched, left_alone = _frosty(), _frosty()
    for house in (watched, left_alone):
        house.set_heater(900.0)
    elapsed_ms = 0
    for look_ms in looks_ms:
        elapsed_ms += look_ms
        watched.advance_to(_after(elapsed_ms / 1000.0))
    left_alone.advance_to(_after(elapsed_ms / 1000.0))
    assert _near(watched.state, left_alone.state)
    assert watched.used_j == pytest.approx(left_alone.used_j, rel=1e-12)
    assert watched.delivered_j == pytest.approx(left_alone.delivered_j, rel=1e-9)


def test_the_same_night_twice_is_the_same_to_the_last_digit() -> None:
    def night() -> list[State]:
        house, states = _frosty(), []
        for tick in range(1000):
            house.advance_to(_after(10.0 * tick))
            house.set_heater(1200.0 if house.probe_c("bench") < 5.0 else 0.0)
            states.append(house.state)
        return states

    assert night() == night()


def test_a_moment_already_past_changes_nothing() -> None:
    house = _frosty()
    house.advance_to(_after(500.0))
    before = house.state
    house.advance_to(_after(200.0))
    house.advance_to(_after(500.0))
    assert house.state == before


def test_setting_the_civil_clock_does_not_move_the_sun() -> None:
    house, other = _frosty(), _frosty()
    house.advance_to(Now(START.mono_s + 7200.0, START.utc_s + 7200.0 - 86400.0 / 2, False))
    other.advance_to(_after(7200.0))
    assert house.state == other.state


def test_every_minute_has_the_weather_of_its_middle() -> None:
    asked_s: list[float] = []

    class Noted(Steady):
        def at(self, utc_s: float) -> Surroundings:
            asked_s.append(utc_s - START.utc_s)
            return super().at(utc_s)

    start = settled(PARAMETERS, Surroundings(0.0, 0.0))
    house = SimulatedHouse(PARAMETERS, Noted(0.0), START, state=start)
    for elapsed_s in (10.0, 70.0, 70.5, 185.0):
        house.advance_to(_after(elapsed_s))
    assert asked_s == [30.0, 90.0, 150.0, 210.0]


def test_time_before_a_switching_counts_with_the_old_power() -> None:
    house = _steady(-5.0)
    house.set_heater(1000.0)
    house.advance_to(_after(90.0))
    house.set_heater(0.0)
    house.advance_to(_after(900.0))
    assert house.used_j == pytest.approx(90.0 * 1000.0, rel=1e-12)


def test_what_the_element_still_holds_is_not_yet_delivered() -> None:
    house = _steady(-5.0)
    house.set_heater(1000.0)
    house.advance_to(_after(60.0))
    held_j = PARAMETERS.element_lag_s * house.state.element_w
    assert house.used_j - house.delivered_j == pytest.approx(held_j, rel=1e-9)
    assert house.delivered_j < 0.3 * house.used_j
    house.set_heater(0.0)
    house.advance_to(_after(7200.0))
    assert house.delivered_j == pytest.approx(house.used_j, rel=1e-9)


def test_steady_heat_ends_at_outside_plus_heat_over_loss() -> None:
    house = _steady(-5.0)
    house.set_heater(800.0)
    house.advance_to(_after(10 * 86400.0))
    assert house.state.air_c == pytest.approx(-5.0 + 800.0 / PARAMETERS.loss_w_per_k, abs=1e-4)


def test_heaters_of_different_names_add_up() -> None:
    house = _steady(0.0)
    house.set_heater(500.0, name="left")
    house.set_heater(700.0, name="right")
    house.advance_to(_after(10.0))
    house.set_heater(0.0, name="left")
    house.advance_to(_after(20.0))
    assert house.used_j == pytest.approx(10.0 * 1200.0 + 10.0 * 700.0)


def test_a_heater_that_draws_less_than_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="'heater' cannot draw"):
        _steady(0.0).set_heater(-1.0)


def test_a_running_fan_cools_and_a_stopped_one_does_not() -> None:
    start = State(0.0, 30.0, 28.0, 30.0, 0.0, 18.0)
    still, aired, stopped = (_steady(18.0, start) for _ in range(3))
    aired.set_fan(on=True)
    stopped.set_fan(on=True)
    stopped.set_fan(on=False)
    for house in (still, aired, stopped):
        house.advance_to(_after(600.0))
    assert aired.state.air_c < still.state.air_c - 3.0
    assert stopped.state == still.state


def test_one_of_two_fans_is_enough_and_two_do_no_more() -> None:
    start = State(0.0, 30.0, 28.0, 30.0, 0.0, 18.0)
    one, two = _steady(18.0, start), _steady(18.0, start)
    one.set_fan(on=True)
    two.set_fan(on=True)
    two.set_fan(on=True, name="second")
    two.set_fan(on=False)
    for house in (one, two):
        house.advance_to(_after(600.0))
    assert one.state == two.state


@settings(deadline=None, max_examples=60)
@given(st.floats(-40.0, 60.0), st.sampled_from(PLACES), st.integers(0, 12))
def test_probes_show_the_nearest_sixteenth_of_a_degree(
    temp_c: float, place: str, index: int
) -> None:
    state = uniform(temp_c)
    shown_c = _steady(temp_c, state).probe_c(place, index)
    assert (shown_c * 16.0).is_integer()
    assert abs(shown_c - temp_c - SPREAD_K[index % len(SPREAD_K)]) <= 1.0 / 32.0 + 1e-12


def test_two_probes_at_one_place_differ_a_little_and_always_the_same() -> None:
    house = _frosty()
    differences = set()
    for hour in range(12):
        house.advance_to(_after(3600.0 * hour))
        differences.add(house.probe_c("bench", 1) - house.probe_c("bench", 0))
    assert differences <= {0.125, 0.1875}  # 0.14 K, each rounded to sixteenths
    assert max(map(abs, SPREAD_K)) < 0.5


def test_a_place_the_house_does_not_have_is_refused() -> None:
    with pytest.raises(KeyError):
        _frosty().probe_c("cellar")


def test_each_place_shows_its_own_temperature() -> None:
    house = _steady(-5.0, State(0.0, 6.0, 6.0, 6.0, 0.0, -5.0))
    house.set_heater(1100.0)
    house.advance_to(_after(1200.0))
    assert house.probe_c("outdoors") == -5.0
    assert house.probe_c("bench") == pytest.approx(house.state.bench_c, abs=1 / 32)
    ridge_above_k = house.probe_c("ridge") - house.probe_c("bench")
    assert ridge_above_k == pytest.approx(1.0, abs=1 / 16 + 0.01)  # House.ridge_k, at 20 K × loss


def test_a_house_long_in_the_same_weather_starts_settled() -> None:
    expected = settled(PARAMETERS, Surroundings(3.0, 0.0))
    assert _near(_steady(3.0).state, expected)


def test_a_house_starts_as_its_past_days_left_it() -> None:
    """Two days on their own from quite another beginning end at nearly the same."""
    fresh = _frosty()
    older_start = Now(START.mono_s, START.utc_s - 2 * 86400.0, True)
    older = SimulatedHouse(PARAMETERS, FrostyNight(), older_start)
    older.advance_to(Now(START.mono_s + 2 * 86400.0, START.utc_s, True))
    assert fresh.state.mass_c == pytest.approx(older.state.mass_c, abs=0.3)
    assert fresh.state.air_c == pytest.approx(older.state.air_c, abs=0.3)


def test_threads_that_look_at_once_live_through_the_time_once() -> None:
    shared, alone = _frosty(), _frosty()
    for house in (shared, alone):
        house.set_heater(1000.0)

    def look() -> None:
        for tick in range(2000):
            shared.advance_to(_after(0.7 * tick))

    threads = [threading.Thread(target=look) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    alone.advance_to(_after(0.7 * 1999))
    assert _near(shared.state, alone.state)
    assert shared.used_j == pytest.approx(alone.used_j, rel=1e-9)
