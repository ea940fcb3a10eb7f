"""Probes in the modelled house, read like any others."""

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.house.model import Parameters
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.weather import FrostyNight
from greenkeeper.probes import ProbeGroup
from greenkeeper.probes.modelled import ModelledGroup
from greenkeeper.settings.house import House

PLACES = {"left": "bench", "top": "ridge", "right": "bench", "outside": "outdoors"}


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=1_768_402_800.0)


@pytest.fixture
def house(clock: HandClock) -> SimulatedHouse:
    return SimulatedHouse(Parameters.from_settings(House()), FrostyNight(), clock.now())


def test_every_probe_gives_a_temperature_taken_now(clock: HandClock, house: SimulatedHouse) -> None:
    group: ProbeGroup = ModelledGroup(house, PLACES, clock)
    clock.advance(25.0)
    readings = group.read()
    assert tuple(readings) == group.names == ("left", "top", "right", "outside")
    for reading in readings.values():
        assert reading.taken_s == clock.mono_s()
        assert reading.temp_c is not None
        assert reading.fault is None


def test_reading_lets_the_house_live_up_to_now(clock: HandClock, house: SimulatedHouse) -> None:
    group = ModelledGroup(house, PLACES, clock)
    before_c = group.read()["outside"].temp_c
    clock.advance(6 * 3600.0)
    after_c = group.read()["outside"].temp_c
    assert before_c is not None
    assert after_c is not None
    assert after_c < before_c - 3.0


def test_second_probe_at_a_place_is_that_places_second(
    clock: HandClock, house: SimulatedHouse
) -> None:
    readings = ModelledGroup(house, PLACES, clock).read()
    assert readings["left"].temp_c == house.probe_c("bench", 0)
    assert readings["right"].temp_c == house.probe_c("bench", 1)
    assert readings["left"].temp_c != readings["right"].temp_c
    assert readings["top"].temp_c == house.probe_c("ridge", 0)


def test_an_unknown_place_is_refused_by_name(clock: HandClock, house: SimulatedHouse) -> None:
    with pytest.raises(ValueError, match=r"'p' hangs at 'attic'; the house has bench, ridge"):
        ModelledGroup(house, {"p": "attic"}, clock)


def test_it_needs_no_thread_and_closes_twice(clock: HandClock, house: SimulatedHouse) -> None:
    group = ModelledGroup(house, PLACES, clock)
    assert not group.blocking
    group.close()
    group.close()
