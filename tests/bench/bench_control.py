"""Prints what one tick's decision costs, when nothing happens and when everything does.

Not a test: it judges nothing.

Run: python -m tests.bench.bench_control
"""

import math
import time
from collections.abc import Callable

from greenkeeper.control import fresh, make_plan, step
from greenkeeper.model import Fault, Now, Reading
from tests.control.houses import ONE_ZONE, settings

TICKS = 20_000
YEAR_TICKS = 365 * 8640


def calm(number: int) -> float | Fault:
    return round((8.0 + math.sin(number / 500.0)) * 16) / 16


def cycling(number: int) -> float | Fault:
    return round((5.25 + 0.6 * math.sin(number / 20.0)) * 16) / 16


def failing(number: int) -> float | Fault:
    return Fault.CHECKSUM if number % 9 < 6 else calm(number)


def per_tick_us(course: Callable[[int], float | Fault]) -> float:
    plan = make_plan(settings())
    memory = fresh(plan, Now(0.0, 1.8e9, True))
    names = list(ONE_ZONE["probes"])
    spent_s = 0.0
    for number in range(TICKS):
        now = Now(10.0 * number, 1.8e9 + 10.0 * number, True)
        value = course(number)
        if isinstance(value, Fault):
            reading = Reading(now.mono_s, None, value)
        else:
            reading = Reading(now.mono_s, value)
        readings = dict.fromkeys(names, reading)
        began_s = time.process_time()
        memory = step(readings, memory, plan, now).memory
        spent_s += time.process_time() - began_s
    return spent_s / TICKS * 1e6


def main() -> None:
    print(f"{'one decision, 4 probes, 1 zone, 2 outputs':<44}{'µs':>8}{'a year at 10 s':>18}")
    for name, course in (("calm", calm), ("cycling", cycling), ("failing", failing)):
        cost_us = per_tick_us(course)
        print(f"{name:<44}{cost_us:>8.1f}{cost_us * YEAR_TICKS / 1e6:>16.0f} s")


if __name__ == "__main__":
    main()
