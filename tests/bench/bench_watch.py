"""Prints whether watch accuses sound houses, and how soon it catches broken ones.

Not a test: it judges nothing. Run: python -m tests.bench.bench_watch [houses] [each]
"""

import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from statistics import median

from tests.support import watch_trials
from tests.support.drawn_houses import SUMMER_UTC_S, WINTER_UTC_S, drawn
from tests.support.watch_trials import TRIALS, Outcome, Season

SEASONS = {"winter": WINTER_UTC_S, "summer": SUMMER_UTC_S}
DAYS = 150.0
SUMMER = ("relay welded", "heat runs away", "fire")
POLL_S = 60.0  # the longest there is: every verdict must hold there too


def played(job: tuple[int, str, float, int]) -> Season:
    number, name, days, each = job
    house = drawn(number, poll_s=POLL_S)
    trials = TRIALS if name == "winter" else tuple(t for t in TRIALS if t.name in SUMMER)
    return watch_trials.season(house, SEASONS[name], days, trials, each)


def main() -> None:
    houses = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    each = int(sys.argv[2]) if len(sys.argv) > 2 else 9
    days = float(sys.argv[3]) if len(sys.argv) > 3 else DAYS
    jobs = [(number, name, days, each) for name in SEASONS for number in range(1, houses + 1)]
    began_s = time.perf_counter()
    seasons: list[tuple[tuple[int, str, float, int], Season]] = []
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for job, season in zip(jobs, pool.map(played, jobs), strict=True):
            seasons.append((job, season))
            print(
                f"house {job[0]} {job[1]:<7}{season.days:5.0f} days, heated {season.heated_share:4.0%}"
                f"   falsely accused {len(season.accusations)} times",
                flush=True,
            )
            for each_ in season.accusations:
                print(f"    day {each_.day:6.2f}  {each_.code}  {each_.text}")
    for name in SEASONS:
        table(name, [o for job, season in seasons if job[1] == name for o in season.outcomes])
    print(f"{time.perf_counter() - began_s:.0f} s")


def table(season: str, outcomes: list[Outcome]) -> None:
    print(
        f"\n{season:<24}{'caught':>9}{'median':>9}{'worst':>9}{'short by':>10}{'wrong':>7}  never showed"
    )
    for trial in TRIALS:
        mine = [o for o in outcomes if o.trial == trial.name]
        if not mine:
            continue
        showed = [o for o in mine if o.showed]
        delays = [o.delay_s for o in showed if o.delay_s is not None]
        short = max((o.short_k for o in showed), default=0.0)
        wrong = [w for o in mine for w in o.wrong]
        print(
            f"{trial.name:<24}{len(delays):>5}/{len(showed):<3}{shown(median(delays) if delays else None):>9}"
            f"{shown(max(delays, default=None)):>9}{short:>8.1f} K{len(wrong):>7}{len(mine) - len(showed):>6}"
        )
        by = {code: sum(o.caught_by == code for o in mine) for code in sorted(trial.caught_by)}
        if len(by) > 1:
            print(f"    {by}")
        for o in showed:
            if o.caught_by is None:
                print(f"    missed in house {o.house}")
        for w in wrong[:6]:
            print(f"    wrong: {w.code} {w.text}")


def shown(seconds: float | None) -> str:
    if seconds is None:
        return "-"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200 else f"{seconds / 3600.0:.1f} h"


if __name__ == "__main__":
    main()
