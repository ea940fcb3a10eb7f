"""Prints what ways to meter heat take in a winter, beside the ideal heater, in drawn houses.

Not a test: it judges nothing. The targets: in the median at most 1.06 times the ideal's
energy with 12,000 closings a winter, 1.04 without that limit, 1.12 in the worst house, and
no minute more than 0.1 K below the minimum that the ideal heater would have avoided.

The houses are tests/support/drawn_houses.py, whose ranges are stated there: TINY, what this
project is for in a mild winter, and HOBBY, larger, draughtier and colder; "real" are the tiny
ones in five places' real weather files, each house in one of them. How they are tried,
and what counts as below: tests/support/thrift_trials.py. "no better" rows are no strategy:
the least that a switch with perfect knowledge can come to, and those with "nothing foreseen" one
with perfect knowledge of the moment (tests/support/thrift_bounds.py).

Run: python -m tests.bench.bench_thrift [HOUSES [KIND ...]]    24 houses of each kind: two hours
     python -m tests.bench.bench_thrift 4 tiny                  a quick look: some minutes
"""

import math
import sys
from concurrent.futures import ProcessPoolExecutor
from statistics import median

from tests.support import drawn_houses, thrift_bounds, thrift_trials
from tests.support.thrift_trials import Metered, Trial

_PROPORTION = {"strategy": "proportion"}
_KNOWN = {"learned": True, "probe_measured": True}
WAYS = (
    Metered("hysteresis 1 K", {"hysteresis_k": 1.0}),
    Metered("1 K, anticipating", {"hysteresis_k": 1.0, "anticipate": True}, **_KNOWN),
    Metered("proportion, 10 s", _PROPORTION, 10.0, **_KNOWN),
    Metered("proportion, 30 s", _PROPORTION, 30.0, **_KNOWN),
    Metered("proportion, 60 s", _PROPORTION, 60.0, **_KNOWN),
    Metered("proportion, 12,000 closings a year", _PROPORTION, 30.0, True, True, 12_000.0),
    Metered("the same, probe not measured", _PROPORTION, 30.0, True, False, 12_000.0),
    Metered("proportion, 30 s, nothing learned", _PROPORTION, 30.0),
)
TRIMMED = "hysteresis 1 K, setpoint in hindsight"
BOUNDS = (
    ("no better: 12,000 closings", {"least_s": 30.0, "closings": 12_000.0}),
    ("no better: pulses of 60 s", {"least_s": 60.0}),
    ("no better: pulses of 30 s", {"least_s": 30.0}),
    ("no better: pulses of 10 s", {"least_s": 10.0}),
)
REAL = "real"
_LATER_S = 4.0 * thrift_trials.DAY_S  # then every place's days have frost among them
KINDS = {"tiny": drawn_houses.TINY, "hobby": drawn_houses.HOBBY, REAL: drawn_houses.TINY}


def tried(job: tuple[int, str]) -> tuple[dict[str, Trial], dict[str, float]]:
    number, kind = job
    places = thrift_trials.PLACES
    record = thrift_trials.record_of(places[number % len(places)]) if kind == REAL else None
    house = thrift_trials.house(number, KINDS[kind], record)
    later_s = _LATER_S if kind == REAL else 0.0
    spans = thrift_trials.winter(thrift_trials.WINTER_FROM_UTC_S + later_s)
    best = thrift_trials.ideal(house, spans)
    found = {way.name: thrift_trials.trial(house, way, spans, best) for way in WAYS}
    found[TRIMMED] = thrift_trials.trimmed(house, WAYS[0], spans, best, found[WAYS[0].name])
    bounds = {
        name: thrift_bounds.least_over_ideal(house, best, **limits) for name, limits in BOUNDS
    } | {
        f"{name}, nothing foreseen": thrift_bounds.least_unforeseen(house, spans, best, **limits)
        for name, limits in BOUNDS
    }
    return found, bounds


def main(how_many: int = 24, *kinds: str) -> None:
    with ProcessPoolExecutor() as pool:
        for kind in kinds or KINDS:
            jobs = [(number, kind) for number in range(1, how_many + 1)]
            trials: dict[str, list[Trial]] = {}
            bounds: dict[str, list[float]] = {}
            for done, (found, least) in enumerate(pool.map(tried, jobs), 1):
                print(f"\r{kind}: {done} of {how_many}", end="", file=sys.stderr, flush=True)
                for name, each in found.items():
                    trials.setdefault(name, []).append(each)
                for name, bound in least.items():
                    bounds.setdefault(name, []).append(bound)
            print(file=sys.stderr)
            print(f"{how_many} {kind} houses, a winter each; energy by the ideal's")
            _table(trials, bounds)


def _table(trials: dict[str, list[Trial]], bounds: dict[str, list[float]]) -> None:
    print(f"{'':<45}{'energy':^16}{'closings':^16}{'min. below':^16}{'lowest':>8}")
    print(f"{'':<45}" + 3 * f"{'median':>8}{'worst':>8}" + f"{'K':>8}  told")
    for name, each_of in trials.items():
        print(_row(name, each_of))
    for name, least_of in bounds.items():
        print(f"{name:<45}{median(least_of):>8.3f}{max(least_of):>8.3f}")


def _row(name: str, found: list[Trial]) -> str:
    over = [each.over_ideal for each in found]
    closings = [each.closings for each in found]
    below = [each.below_min for each in found]
    lows = [each.low_k for each in found if not math.isnan(each.low_k)]
    told = sorted({code for each in found for code in each.told if code != "below-minimum"})
    return (
        f"{name:<45}{median(over):>8.3f}{max(over):>8.3f}{median(closings):>8.0f}"
        f"{max(closings):>8.0f}{median(below):>8.0f}{max(below):>8.0f}{min(lows):>8.2f}"
        f"  {' '.join(told)}"
    )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]), *sys.argv[2:])
