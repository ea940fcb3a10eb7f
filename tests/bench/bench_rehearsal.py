"""Prints how long a rehearsed year takes, and where that time goes.

A house of one zone, a heater, two probes, a decision every ten seconds, on one core. Not a
test: it judges nothing. The profile slows what it measures, so its shares count, not its sum.

Run: python -m tests.bench.bench_rehearsal [days]
"""

import cProfile
import os
import pstats
import sys
import time
from datetime import UTC, datetime

from greenkeeper.rehearsal.run import Span, rehearse
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.schema import Settings

BUDGET_S = 60.0
BEGINS_UTC_S = datetime(2025, 7, 1, tzinfo=UTC).timestamp()
JANUARY_UTC_S = datetime(2026, 1, 10, tzinfo=UTC).timestamp()
DAY_S = 86_400.0

HOUSE = Settings.model_validate(
    {
        "site": {
            "name": "lean-to",
            "latitude": 51.0,
            "longitude": 4.4,
            "outdoor_probe": "outdoors",
        },
        "poll_s": 10.0,
        # Without its vent it would go over its ceiling in July, and stay locked out all winter.
        "house": {"length_m": 2.0, "width_m": 1.5, "wax_vent": {}},
        "probes": {
            "bench": {"kind": "onewire", "rom": "28-0316a2795a01"},
            "outdoors": {"kind": "onewire", "rom": "28-0316a2795a02"},
        },
        "outputs": {"heater": {"kind": "gpio", "pin": 17, "power_w": 1000.0}},
        "zones": {"bench": {"probes": ["bench"], "heat": {"output": "heater", "setpoint_c": 5.0}}},
    }
)

# What a tick consists of: module and function, and what that is.
PARTS = (
    ("control/step.py", "step", "deciding, all of it"),
    ("control/watch.py", "follow", "  of it: does the heat arrive"),
    ("control/step.py", "_judge_all", "  of it: are the readings true"),
    ("control/neighbours.py", "compare", "  of it: probes beside each other"),
    ("control/guard.py", "permit", "  of it: minimum times, interlocks"),
    ("house/simulated.py", "advance_to_s", "the house"),
    ("rehearsal/rig.py", "said", "its probes"),
)


def main(days: int = 365) -> None:
    stage = stage_of(HOUSE, None)
    began_s = time.process_time()
    result = rehearse(HOUSE, stage, Span(BEGINS_UTC_S, BEGINS_UTC_S + days * DAY_S))
    took_s = time.process_time() - began_s
    print(f"{'a rehearsed year':<38}{'measured':>10}{'budget':>10}")
    print(f"{days} days, processor time{took_s:>20.0f} s{BUDGET_S * days / 365.0:>8.0f} s")
    print(f"{'for each tick':<38}{took_s / result.ticks * 1e6:>7.0f} µs")
    others = os.getloadavg()[0] - 1.0
    print(
        f"{'others that wanted a core meanwhile':<38}{max(0.0, others):>7.1f}, of {os.cpu_count()}"
    )
    profile = cProfile.Profile()
    profile.enable()
    rehearse(HOUSE, stage, Span(JANUARY_UTC_S, JANUARY_UTC_S + 7 * DAY_S))
    profile.disable()
    print("\nwhere a cold week's time goes")
    _print_shares(pstats.Stats(profile))


def _print_shares(stats: pstats.Stats) -> None:
    known: dict[tuple[str, int, str], tuple[int, int, float, float, object]] = stats.stats  # type: ignore[attr-defined]  # public, and in no stub
    whole_s = sum(each[2] for each in known.values())
    for file, name, words in PARTS:
        cumulative_s = sum(
            each[3] for key, each in known.items() if key[0].endswith(file) and key[2] == name
        )
        print(f"{words:<38}{100.0 * cumulative_s / whole_s:>8.0f} %")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
