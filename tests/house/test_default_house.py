"""The demo's house on the demo's night: believable with and without its heater.

The bounds are wishes for the demo, not facts: no source. Heated, a plain loop switches a
1200 W heater at 5.0 and 5.5 °C from the lagging probe, at the keeper's usual 10 s.
"""

import itertools
from typing import NamedTuple

import pytest

from greenkeeper.house.model import Parameters
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.weather import FrostyNight
from greenkeeper.model import Now
from greenkeeper.settings.house import House

AFTERNOON_UTC_S = 1_768_402_800.0  # an invented 2026-01-14, 15:00 UTC
TICK_S = 10.0


class Moment(NamedTuple):
    hour: float  # since midnight before the start: 31.5 is 07:30 next morning
    outdoor_c: float
    air_c: float
    shown_c: float
    on: bool


def _night(*, heated: bool) -> list[Moment]:
    start = Now(0.0, AFTERNOON_UTC_S, True)
    house = SimulatedHouse(Parameters.from_settings(House()), FrostyNight(), start)
    moments, on = [], False
    for tick in range(int(18 * 3600 / TICK_S)):
        passed_s = tick * TICK_S
        house.advance_to(Now(passed_s, AFTERNOON_UTC_S + passed_s, True))
        shown_c = house.probe_c("bench")
        on = heated and (shown_c <= 5.0 or (on and shown_c < 5.5))
        house.set_heater(1200.0 if on else 0.0)
        hour, outdoor_c = 15.0 + passed_s / 3600.0, house.surroundings.outdoor_c
        moments.append(Moment(hour, outdoor_c, house.state.air_c, shown_c, on))
    return moments


@pytest.fixture(scope="module")
def heated() -> list[Moment]:
    return _night(heated=True)


def test_unheated_it_freezes_but_keeps_some_degrees_above_outside() -> None:
    night = _night(heated=False)
    assert -5.4 < min(m.outdoor_c for m in night) < -4.6
    coldest = min(night, key=lambda m: m.shown_c)
    assert -2.0 <= coldest.shown_c <= 0.0
    assert 31.0 < coldest.hour < 32.5


def test_heated_it_works_half_its_time_at_the_coldest(heated: list[Moment]) -> None:
    coldest = [m.on for m in heated if 29.0 <= m.hour < 32.0]
    assert 0.3 < sum(coldest) / len(coldest) < 0.6


def test_heated_it_swings_round_the_band_without_silly_overshoot(heated: list[Moment]) -> None:
    night = [m.air_c for m in heated if 22.0 <= m.hour < 32.0]
    assert 4.0 < min(night) < 5.0
    assert 5.5 < max(night) < 6.6


def test_heated_it_switches_a_few_times_an_hour(heated: list[Moment]) -> None:
    night = [m for m in heated if 22.0 <= m.hour < 32.0]
    starts = sum(b.on and not a.on for a, b in itertools.pairwise(night))
    assert 2.0 < starts / 10.0 < 6.0
