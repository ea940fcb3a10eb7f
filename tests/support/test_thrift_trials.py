"""The least a relay can do, beside the same pulses followed step by step."""

from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.support.thrift_trials import House, dip, least_over_ideal


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
