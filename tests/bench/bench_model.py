"""Prints what one step of the modelled house costs. Not a test: it judges nothing.

Run: python -m tests.bench.bench_model
"""

import time
from collections.abc import Callable

from greenkeeper.house.model import Parameters, advance
from greenkeeper.house.simulated import SimulatedHouse
from greenkeeper.house.weather import FrostyNight, Surroundings
from greenkeeper.model import Now
from greenkeeper.settings.house import House
from tests.support.houses import uniform

STEPS = 300_000
ROUNDS = 5
TICK_S = 10.0
UTC_S = 1_768_402_800.0


def _steps(parameters: Parameters) -> None:
    state, around = uniform(5.0), Surroundings(-5.0, 0.0)
    for _ in range(STEPS):
        state = advance(parameters, state, around, 600.0, False, TICK_S)


def _ticks(parameters: Parameters) -> None:
    """As a rehearsal does: live on, read two probes, switch."""
    house = SimulatedHouse(parameters, FrostyNight(), Now(0.0, UTC_S, True))
    for tick in range(STEPS):
        house.advance_to(Now(tick * TICK_S, UTC_S + tick * TICK_S, True))
        house.probe_c("outdoors")
        house.set_heater(1200.0 if house.probe_c("bench") < 5.0 else 0.0)


def _cold_starts(parameters: Parameters) -> None:
    """Steps of ever new lengths, as under a real clock: none finds its weights ready."""
    state, around = uniform(5.0), Surroundings(-5.0, 0.0)
    for step in range(STEPS // 1000):
        odd_s = TICK_S + time.perf_counter_ns() % 1_000_000 / 1e9 + step
        state = advance(parameters, state, around, 600.0, False, odd_s)


def _best_us(run: Callable[[Parameters], None], times: int) -> float:
    """Microseconds for each of so many, in the best of some rounds."""
    parameters = Parameters.from_settings(House())
    best_s = float("inf")
    for _ in range(ROUNDS):
        began_s = time.perf_counter()
        run(parameters)
        best_s = min(best_s, time.perf_counter() - began_s)
    return best_s / times * 1e6


def main() -> None:
    print(f"advance(), weights ready:   {_best_us(_steps, STEPS):8.2f} µs")
    print(f"advance(), weights worked:  {_best_us(_cold_starts, STEPS // 1000):8.2f} µs")
    print(f"SimulatedHouse tick:        {_best_us(_ticks, STEPS):8.2f} µs")


if __name__ == "__main__":
    main()
