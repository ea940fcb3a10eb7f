"""Prints what ways to meter heat take, beside the ideal heater, in drawn houses.

Not a test: it judges nothing. The targets: in the median at most 1.06 times the ideal's
energy with 12,000 closings a winter, 1.04 without that limit, 1.12 in the worst house, and
no minute more than 0.1 K below the minimum that the ideal heater would have avoided.

The houses are tests/support/drawn_houses.py, numbers 1 and up: the ranges are stated there.
How they are tried, and what counts as below: tests/support/thrift_trials.py. "no better"
rows are no strategy: the least that a switch with perfect knowledge can come to.

Run: python -m tests.bench.bench_thrift [HOUSES [DAYS]]     24 houses, 10 days: half an hour
     python -m tests.bench.bench_thrift 6 2                   a quick look: two minutes
"""

import math
import sys
from concurrent.futures import ProcessPoolExecutor
from statistics import median

from tests.support import thrift_trials
from tests.support.thrift_trials import Metered, Trial

_PROPORTION = {"strategy": "proportion"}
WAYS = (
    Metered("hysteresis 1 K", {"hysteresis_k": 1.0}),
    Metered("1 K, anticipating", {"hysteresis_k": 1.0, "anticipate": True}, learned=True),
    Metered("proportion, 30 s", _PROPORTION, 30.0, learned=True),
    Metered("proportion, 60 s", _PROPORTION, 60.0, learned=True),
    Metered("proportion, 12,000 closings a year", _PROPORTION, 30.0, True, 12_000.0),
    Metered("proportion, 30 s, nothing learned", _PROPORTION, 30.0),
)
TRIMMED = "hysteresis 1 K, setpoint in hindsight"
BOUNDS = (
    ("no better: 12,000 closings", {"least_s": 60.0, "closings": 12_000.0}),
    ("no better: pulses of 60 s", {"least_s": 60.0}),
    ("no better: pulses of 30 s", {"least_s": 30.0}),
)


def tried(job: tuple[int, float]) -> tuple[dict[str, Trial], dict[str, float]]:
    number, days = job
    house, span = thrift_trials.house(number), thrift_trials.span_of(days)
    best = thrift_trials.ideal(house, span)
    found = {way.name: thrift_trials.trial(house, way, span, best) for way in WAYS}
    found[TRIMMED] = thrift_trials.trimmed(house, WAYS[0], span, best)
    bounds = {
        name: thrift_trials.least_over_ideal(house, best, **limits) for name, limits in BOUNDS
    }
    return found, bounds


def main(how_many: int = 24, days: float = 10.0) -> None:
    trials: dict[str, list[Trial]] = {}
    bounds: dict[str, list[float]] = {}
    with ProcessPoolExecutor(max_workers=2) as pool:
        jobs = [(number, days) for number in range(1, how_many + 1)]
        for done, (found, least) in enumerate(pool.map(tried, jobs), 1):
            print(f"\r{done} of {how_many} houses", end="", file=sys.stderr, flush=True)
            for name, each in found.items():
                trials.setdefault(name, []).append(each)
            for name, bound in least.items():
                bounds.setdefault(name, []).append(bound)
    print(file=sys.stderr)
    print(f"{how_many} drawn houses, {days:g} days of midwinter each; energy by the ideal's")
    print(f"{'':<38}{'energy':^16}{'closings':^16}{'min. below':^16}{'lowest':>8}")
    print(f"{'':<38}" + 3 * f"{'median':>8}{'worst':>8}" + f"{'K':>8}  told")
    for name, each_of in trials.items():
        print(_row(name, each_of))
    for name, least_of in bounds.items():
        print(f"{name:<38}{median(least_of):>8.3f}{max(least_of):>8.3f}")


def _row(name: str, found: list[Trial]) -> str:
    over = [each.over_ideal for each in found]
    closings = [each.closings for each in found]
    below = [each.below_min for each in found]
    lows = [each.low_k for each in found if not math.isnan(each.low_k)]
    told = sorted({code for each in found for code in each.told if code != "below-minimum"})
    return (
        f"{name:<38}{median(over):>8.3f}{max(over):>8.3f}{median(closings):>8.0f}"
        f"{max(closings):>8.0f}{median(below):>8.0f}{max(below):>8.0f}{min(lows):>8.2f}"
        f"  {' '.join(told)}"
    )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
