"""The least a relay can do: beside the same pulses followed step by step, and without foresight."""

import math
from types import SimpleNamespace
from typing import Any, cast

import pytest

from greenkeeper.house.weather import Surroundings
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import Span
from tests.support import thrift_trials
from tests.support.drawn_houses import TINY, WINTER_UTC_S
from tests.support.thrift_bounds import dip, least_over_ideal, least_unforeseen
from tests.support.thrift_trials import House


@pytest.mark.parametrize("duty", [0.1, 0.5, 0.85])
@pytest.mark.parametrize(("element_s", "fast_s"), [(30.0, 500.0), (300.0, 400.0), (250.0, 250.0)])
def test_the_dip_is_that_of_pulses_followed_step_by_step(
    duty: float, element_s: float, fast_s: float
) -> None:
    period_s, dt_s = 400.0, 0.1
    element = air = duty
    airs: list[float] = []
    for tick in range(int(8 * period_s / dt_s)):
        on = (tick * dt_s) % period_s < duty * period_s
        element += (on - element) * dt_s / element_s
        air += (element - air) * dt_s / fast_s
        airs.append(air)
    last = airs[-int(period_s / dt_s) :]
    assert dip(duty, period_s, element_s, fast_s) == pytest.approx(duty - min(last), rel=0.03)


def test_fewer_closings_cost_energy_and_enough_cost_nothing() -> None:
    hours = [SimpleNamespace(heat_kwh=kwh) for kwh in (0.0, 0.3, 0.6, 0.9) * 20]
    best = cast(Any, SimpleNamespace(zones=[SimpleNamespace(hours=hours)], kwh=36.0))
    truth = SimpleNamespace(
        loss_w_per_k=60.0, mass_w_per_k=60.0, air_j_per_k=80_000.0, element_lag_s=100.0
    )
    house = cast(House, SimpleNamespace(truth=truth, heater_w=1500.0))
    free = least_over_ideal(house, [best], least_s=1.0)
    found = [
        least_over_ideal(house, [best], least_s=1.0, closings=closings)
        for closings in (1e9, 30_000, 12_000, 4_000)
    ]
    assert found[0] == free == pytest.approx(1.0, abs=1e-4)
    assert found == sorted(found)
    assert found[-1] > 1.05


class _Still:
    """Weather in which nothing happens that anybody could foresee."""

    def at(self, utc_s: float) -> Surroundings:
        return Surroundings(outdoor_c=1.0, sun_w_m2=0.0, wind_m_s=2.0)


@pytest.fixture(scope="module")
def still() -> tuple[House, list[Span], list[Result]]:
    house = thrift_trials.house(4, TINY)._replace(weather=cast(Any, _Still()))
    spans = [Span(WINTER_UTC_S, WINTER_UTC_S + 86_400.0)]
    return house, spans, thrift_trials.ideal(house, spans)


@pytest.mark.parametrize("closings", [12_000.0, 24_000.0])
def test_in_still_weather_nothing_is_lost_for_want_of_foresight(
    still: tuple[House, list[Span], list[Result]], closings: float
) -> None:
    house, spans, best = still
    limits = {"least_s": 30.0, "closings": closings}
    without = least_unforeseen(house, spans, best, **limits)
    # A tick of 10 s late now and then, and an hour's equal pulses for ones that drift.
    assert without == pytest.approx(least_over_ideal(house, best, **limits), abs=0.01)
    assert without > 1.01


def test_without_foresight_fewer_closings_cost_energy(
    still: tuple[House, list[Span], list[Result]],
) -> None:
    house, spans, best = still
    found = [
        least_unforeseen(house, spans, best, least_s=10.0, closings=closings)
        for closings in (math.inf, 24_000.0, 6_000.0)
    ]
    assert found == sorted(found)
    assert found[-1] > found[0] + 0.03
