"""Prints whether watch accuses sound houses, and how soon it catches broken ones.

A winter and a summer of 150 days for each house, and 54 moments for each fault. Some eight
minutes of one processor, shared among as many as there are. Not a test: it judges nothing.
What the columns mean: tests/support/watch_trials.py.

Run: python -m tests.bench.bench_watch [houses] [moments for each house] [days]
"""

import os
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from statistics import median
from typing import NamedTuple

from tests.support import watch_trials
from tests.support.drawn_houses import SUMMER_UTC_S, WINTER_UTC_S, drawn
from tests.support.watch_trials import IN_SUMMER, TRIALS, WIRED, Outcome, Season, Trial

BEGINS_UTC_S = {"winter": WINTER_UTC_S, "summer": SUMMER_UTC_S}
POLL_S = 60.0  # the longest there is: every verdict must hold there too
HEAD = f"{'caught':>11}{'median':>9}{'worst':>9}{'too cold by':>13}{'wrong':>7}{'never showed':>14}"


class Job(NamedTuple):
    house: int
    season: str
    days: float
    moments: int


def played(job: Job) -> Season:
    trials = (*TRIALS, *WIRED) if job.season == "winter" else IN_SUMMER
    house = drawn(job.house, poll_s=POLL_S)
    return watch_trials.season(house, BEGINS_UTC_S[job.season], job.days, trials, job.moments)


def main(houses: int = 6, moments: int = 9, days: int = 150) -> None:
    jobs = [Job(house, season, days, moments) for season in BEGINS_UTC_S for house in _some(houses)]
    began_s = time.perf_counter()
    outcomes: dict[str, list[Outcome]] = {season: [] for season in BEGINS_UTC_S}
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for job, season in zip(jobs, pool.map(played, jobs), strict=True):
            outcomes[job.season] += season.outcomes
            _print_season(job, season)
    for name, found in outcomes.items():
        print(f"\n{name:<24}{HEAD}")
        for trial in (*TRIALS, *WIRED):
            mine = [each for each in found if each.trial == trial.name]
            if mine:
                _print_row(trial, mine)
    print(f"\n{time.perf_counter() - began_s:.0f} s")


def _some(houses: int) -> range:
    return range(1, houses + 1)


def _print_season(job: Job, season: Season) -> None:
    print(
        f"house {job.house} {job.season:<7} {season.days:4.0f} days, heated "
        f"{season.heated_share:4.0%} of them, false alarms {len(season.accusations)}",
        flush=True,
    )
    for each in season.accusations:
        print(f"    day {each.day:6.2f}  {each.code}  {each.text}", flush=True)


def _print_row(trial: Trial, outcomes: Sequence[Outcome]) -> None:
    showed = [each for each in outcomes if each.showed]
    delays_s = [each.delay_s for each in showed if each.delay_s is not None]
    wrong = [each for outcome in outcomes for each in outcome.wrong]
    print(
        f"{trial.name:<24}{f'{len(delays_s)} of {len(showed)}':>11}"
        f"{_time(median(delays_s) if delays_s else None):>9}{_time(max(delays_s, default=None)):>9}"
        f"{max((each.short_k for each in showed), default=0.0):>11.1f} K"
        f"{len(wrong):>7}{len(outcomes) - len(showed):>14}"
    )
    by = {code: sum(each.caught_by == code for each in outcomes) for code in trial.caught_by}
    if len(by) > 1:
        print("    as " + ", ".join(f"{code} {times}" for code, times in sorted(by.items())))
    missed = sorted({each.house for each in showed if each.caught_by is None})
    if missed:
        print(f"    missed in house {', '.join(missed)}")
    for each in wrong[:3]:
        print(f"    wrong: {each.code} {each.text}")


def _time(seconds: float | None) -> str:
    if seconds is None:
        return "-"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
