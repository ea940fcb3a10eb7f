"""Prints what reading a settings file costs. Not a test: it judges nothing.

Run: python -m tests.bench.bench_settings
"""

import statistics
import time
from collections.abc import Callable

from greenkeeper.settings.load import SettingsError, parse
from tests.settings import shipped

ROUNDS = 30


def _milliseconds(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000.0 * statistics.median(times)


def _refused(text: str) -> None:
    try:
        parse(text, "bench")
    except SettingsError:
        return
    raise AssertionError("the spoilt settings were taken")


def main() -> None:
    every_key = shipped.all_switched_on()
    spoilt = every_key.replace("pin: 17", "pin: 99").replace("setpoint_c: 26", "setpoint_c: 9")
    small = shipped.text("small.yaml")
    for name, work in (
        ("small.yaml", lambda: parse(small, "bench")),
        ("greenkeeper.yaml, every key on", lambda: parse(every_key, "bench")),
        ("the same with two faults", lambda: _refused(spoilt)),
    ):
        print(f"{name:<32}{_milliseconds(work):7.1f} ms")


if __name__ == "__main__":
    main()
