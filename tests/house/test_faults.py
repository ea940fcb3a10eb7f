"""What is broken in the modelled house is broken in the way it would be in a shed."""

import pytest

from greenkeeper.house.faults import WHOLE, Faults
from greenkeeper.house.model import Parameters
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.weather import Surroundings
from greenkeeper.model import Now
from greenkeeper.settings.house import House

PARAMETERS = Parameters.from_settings(House())
START = Now(1000.0, 1_768_402_800.0, True)
HEATER_W = 1200.0
LEFT, RIGHT = ("bench", 0), ("bench", 1)


class Steady:
    def __init__(self, wind_m_s: float = 4.0) -> None:
        self._around = Surroundings(-5.0, 0.0, wind_m_s)

    def at(self, utc_s: float) -> Surroundings:
        return self._around


class Night:
    """A house in one long frosty night, moved on by the hour."""

    def __init__(self, *, wind_m_s: float = 4.0, parameters: Parameters = PARAMETERS) -> None:
        self.house = SimulatedHouse(parameters, Steady(wind_m_s), START)
        self._hours = 0.0

    def on_after(self, hours: float, *, heater_w: float = 0.0, faults: Faults = WHOLE) -> float:
        """The bench's temperature after so many hours like this."""
        self.house.break_down(faults)
        self.house.set_heater(heater_w)
        self._hours += hours
        after_s = self._hours * 3600.0
        self.house.advance_to(Now(START.mono_s + after_s, START.utc_s + after_s, True))
        return self.house.state.bench_c


def test_a_dead_element_draws_nothing_and_gives_nothing() -> None:
    dead, off = Night(), Night()
    assert dead.on_after(3.0, heater_w=HEATER_W, faults=Faults(element_share=0.0)) == off.on_after(
        3.0
    )
    assert dead.house.used_j == 0.0


def test_half_an_element_heats_and_costs_half() -> None:
    half, small = Night(), Night()
    assert half.on_after(3.0, heater_w=HEATER_W, faults=Faults(element_share=0.5)) == (
        small.on_after(3.0, heater_w=HEATER_W / 2.0)
    )
    assert half.house.used_j == small.house.used_j


def test_a_welded_contact_heats_whatever_is_commanded_and_never_twice() -> None:
    welded, healthy = Night(), Night()
    stuck = Faults(welded_w=HEATER_W)
    whole = healthy.on_after(3.0, heater_w=HEATER_W)
    assert welded.on_after(3.0, heater_w=0.0, faults=stuck) == whole
    assert Night().on_after(3.0, heater_w=HEATER_W, faults=stuck) == whole


def test_a_breaker_that_is_out_stops_even_a_welded_contact_and_the_fan() -> None:
    out, off = Night(), Night()
    out.house.set_fan(on=True)
    gone = Faults(welded_w=HEATER_W, breaker_out=True)
    assert out.on_after(3.0, heater_w=HEATER_W, faults=gone) == off.on_after(3.0)


def test_an_open_door_lets_the_heat_out_within_minutes_and_a_closed_one_keeps_it_again() -> None:
    night = Night()
    warm = night.on_after(6.0, heater_w=HEATER_W)
    chilly = night.on_after(0.25, heater_w=HEATER_W, faults=Faults(door_w_per_k=400.0))
    assert chilly < warm - 4.0
    assert night.on_after(6.0, heater_w=HEATER_W) > chilly + 4.0


def test_mending_everything_makes_the_house_whole_again() -> None:
    mended, healthy = Night(), Night()
    mended.house.break_down(Faults(element_share=0.0, door_w_per_k=300.0))
    assert mended.on_after(2.0, heater_w=HEATER_W) == healthy.on_after(2.0, heater_w=HEATER_W)


def test_a_probe_that_fell_outdoors_follows_the_air_there_after_its_lag() -> None:
    night = Night()
    night.on_after(6.0, heater_w=HEATER_W)
    before = night.house.probe_c(*LEFT)
    fallen = Faults(fallen_outdoors=frozenset({LEFT}))
    night.house.break_down(fallen)
    assert night.house.probe_c(*LEFT) == before  # it is still warm
    night.on_after(0.5, heater_w=HEATER_W, faults=fallen)
    assert night.house.probe_c(*LEFT) == pytest.approx(-5.0, abs=1 / 16)
    assert night.house.probe_c(*RIGHT) > 5.0


def test_a_probe_in_the_plume_reads_high_while_the_heater_runs_and_only_then() -> None:
    night = Night()
    plume = Faults(in_plume=frozenset({LEFT}), plume_k_per_w=15.0 / HEATER_W)
    night.on_after(6.0, heater_w=HEATER_W, faults=plume)
    above = night.house.probe_c(*LEFT) - night.house.state.bench_c
    assert above == pytest.approx(15.0, abs=0.1)
    night.on_after(1.0, faults=plume)
    assert night.house.probe_c(*LEFT) == pytest.approx(night.house.state.bench_c, abs=0.1)


def test_a_plume_needs_a_house_whose_heat_passes_the_ridge() -> None:
    flat = Night(parameters=PARAMETERS._replace(ridge_k_per_w=0.0))
    with pytest.raises(ValueError, match="ridge_k"):
        flat.house.break_down(Faults(in_plume=frozenset({LEFT})))


def test_wind_cools_the_house() -> None:
    assert Night(wind_m_s=12.0).on_after(6.0, heater_w=HEATER_W) < (
        Night(wind_m_s=1.0).on_after(6.0, heater_w=HEATER_W) - 3.0
    )
