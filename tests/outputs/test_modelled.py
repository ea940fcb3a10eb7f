"""Switches of the modelled house."""

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.house.faults import Faults
from greenkeeper.house.model import Parameters
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.weather import FrostyNight
from greenkeeper.outputs import OutputDriver, OutputError
from greenkeeper.outputs.modelled import ModelledDriver
from greenkeeper.settings.house import House


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=1_768_402_800.0)


@pytest.fixture
def house(clock: HandClock) -> SimulatedHouse:
    return SimulatedHouse(Parameters.from_settings(House()), FrostyNight(), clock.now())


@pytest.fixture
def heater(clock: HandClock, house: SimulatedHouse) -> ModelledDriver:
    return ModelledDriver("heater", house, "heater", 1200.0, clock)


def test_a_heater_starts_off(clock: HandClock, house: SimulatedHouse, heater: OutputDriver) -> None:
    clock.advance(60.0)
    house.advance_to(clock.now())
    assert heater.name == "heater"
    assert house.used_j == 0.0


def test_time_before_a_switching_counts_as_it_was(
    clock: HandClock, house: SimulatedHouse, heater: OutputDriver
) -> None:
    clock.advance(600.0)
    heater.switch(on=True)
    clock.advance(90.0)
    heater.switch(on=False)
    clock.advance(600.0)
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(90.0 * 1200.0)


def test_switching_on_again_changes_nothing(
    clock: HandClock, house: SimulatedHouse, heater: OutputDriver
) -> None:
    for _ in range(3):
        heater.switch(on=True)
        clock.advance(10.0)
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(30.0 * 1200.0)


def test_closing_switches_off_and_may_be_done_twice(
    clock: HandClock, house: SimulatedHouse, heater: OutputDriver
) -> None:
    heater.switch(on=True)
    clock.advance(10.0)
    heater.close()
    clock.advance(10.0)
    heater.close()
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(10.0 * 1200.0)


def test_a_closed_output_refuses_to_be_switched(heater: OutputDriver) -> None:
    heater.close()
    with pytest.raises(OutputError, match="output heater is closed"):
        heater.switch(on=True)


def test_two_heaters_do_not_switch_each_other_off(clock: HandClock, house: SimulatedHouse) -> None:
    left = ModelledDriver("left", house, "heater", 500.0, clock)
    right = ModelledDriver("right", house, "heater", 700.0, clock)
    left.switch(on=True)
    right.switch(on=False)
    clock.advance(10.0)
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(10.0 * 500.0)


def test_a_fan_cools_a_heated_house_and_draws_no_heat(
    clock: HandClock, house: SimulatedHouse, heater: ModelledDriver
) -> None:
    fan = ModelledDriver("fan", house, "fan", 25.0, clock)
    heater.switch(on=True)
    clock.advance(1800.0)
    fan.switch(on=True)
    warm_c = house.state.air_c
    clock.advance(1800.0)
    fan.switch(on=False)
    assert house.state.air_c < warm_c - 2.0
    assert house.used_j == pytest.approx(3600.0 * 1200.0)


def test_a_heater_behind_an_isolator_gives_nothing_until_it_is_closed(
    clock: HandClock, house: SimulatedHouse, heater: ModelledDriver
) -> None:
    isolator = ModelledDriver("isolator", house, "isolator", None, clock, moves=["heater"])
    heater.switch(on=True)
    clock.advance(10.0)
    isolator.switch(on=True)
    clock.advance(10.0)
    isolator.switch(on=False)
    clock.advance(10.0)
    isolator.close()
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(10.0 * 1200.0)


def test_an_isolator_leaves_the_heaters_alone_that_are_not_behind_it(
    clock: HandClock, house: SimulatedHouse, heater: ModelledDriver
) -> None:
    ModelledDriver("isolator", house, "isolator", None, clock, moves=["mat"])
    heater.switch(on=True)
    clock.advance(10.0)
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(10.0 * 1200.0)


def test_an_open_isolator_cuts_off_a_welded_contact(
    clock: HandClock, house: SimulatedHouse, heater: ModelledDriver
) -> None:
    isolator = ModelledDriver("isolator", house, "isolator", None, clock, moves=["heater"])
    house.break_down(Faults(welded_w=1200.0))
    clock.advance(10.0)
    isolator.switch(on=True)
    clock.advance(10.0)
    house.advance_to(clock.now())
    assert house.used_j == pytest.approx(10.0 * 1200.0)


def test_a_vent_stays_as_its_relays_left_it(
    clock: HandClock, house: SimulatedHouse, heater: ModelledDriver
) -> None:
    opens = ModelledDriver("roof-open", house, "vent-open", None, clock, moves=["roof"])
    closes = ModelledDriver("roof-close", house, "vent-close", None, clock, moves=["roof"])
    heater.switch(on=True)
    clock.advance(3600.0)
    opens.switch(on=True)
    shut_c = house.state.air_c
    clock.advance(60.0)
    opens.switch(on=False)
    clock.advance(3600.0)
    closes.switch(on=True)
    open_c = house.state.air_c
    assert open_c < shut_c - 2.0
    clock.advance(60.0)
    closes.switch(on=False)
    clock.advance(7200.0)
    house.advance_to(clock.now())
    assert house.state.air_c > open_c + 2.0


def test_a_fan_that_only_stirs_changes_nothing(clock: HandClock, house: SimulatedHouse) -> None:
    still = SimulatedHouse(Parameters.from_settings(House()), FrostyNight(), clock.now())
    stirrer = ModelledDriver("stirrer", house, "circulation", 20.0, clock)
    stirrer.switch(on=True)
    clock.advance(3600.0)
    for each in (house, still):
        each.advance_to(clock.now())
    assert house.state == still.state


def test_a_heater_without_power_is_refused(clock: HandClock, house: SimulatedHouse) -> None:
    with pytest.raises(OutputError, match="output stove: a modelled heater needs its power_w"):
        ModelledDriver("stove", house, "heater", None, clock)
