"""A long fuzz: `make fuzz MINUTES=10`.

    python -m tests.fuzz --minutes 10 --kills 1000

First hypothesis plays courses of events against whole keepers until the time is up; then
keepers that write a journal are killed at random instants. Exit code 0: nothing broke.
What breaks ends it, with the shortest course that hypothesis finds to it.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

import psutil
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.faults.table import Bar
from tests.fuzz.machine import KeeperMachine, Tally
from tests.journal.killing import kill_often

ROUND = 10  # courses; each round has chance of its own
STEPS = 60  # most happenings in a course
MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of its own is made in it; no card is worn


def main() -> int:
    parser = argparse.ArgumentParser(prog="make fuzz", description="break it by chance")
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--kills", type=int, default=1000)
    args = parser.parse_args()
    place = MEMORY if os.access(MEMORY, os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="fuzz-", dir=place) as folder:
        KeeperMachine.place = Path(folder)
        _fuzz(60.0 * args.minutes)
        _kill(Path(folder) / "journal.db", args.kills)
    return 0


def _fuzz(seconds: float) -> None:
    bar = Bar(round(seconds))
    began_s = time.monotonic()
    rss = psutil.Process().memory_info
    early_mib = 0.0

    def show() -> None:
        nonlocal early_mib
        passed_s = time.monotonic() - began_s
        if not early_mib and passed_s > 0.1 * seconds:
            early_mib = rss().rss / 2**20
        bar.show(min(round(passed_s), round(seconds)), f"s; {Tally.runs} courses")

    Tally.each = staticmethod(show)
    while time.monotonic() - began_s < seconds:
        run_state_machine_as_test(
            KeeperMachine,
            settings=settings(
                max_examples=ROUND,
                stateful_step_count=STEPS,
                deadline=None,
                database=None,
                phases=(Phase.generate, Phase.shrink),
                print_blob=True,
                suppress_health_check=list(HealthCheck),
            ),
        )
    bar.wipe()
    print(
        f"{Tally.runs} courses of events in {(time.monotonic() - began_s) / 60:.1f} minutes, none "
        f"broke an invariant:\n"
        f"  {Tally.ticks} ticks, {Tally.kept_s / 86_400:.0f} days of the keeper's time,\n"
        f"  {Tally.switchings} switchings of heater and fan, {Tally.restarts} restarts,\n"
        f"  {Tally.events} events told, {Tally.latched} latches;\n"
        f"  resident memory {early_mib:.0f} MiB after a tenth of it, {rss().rss / 2**20:.0f} MiB "
        "at the end."
    )


def _kill(file: Path, kills: int) -> None:
    bar = Bar(kills)
    done = kill_often(file, kills, lambda count: bar.show(count, "kills"))
    bar.wipe()
    print(
        f"{done.kills} kills of a keeper writing its journal, at any instant:\n"
        f"  0 damaged; of what was seen nothing was lost;\n"
        f"  the oldest record lost was {done.oldest_lost_s:.0f} s old, a batch is "
        f"{done.batch_s:.0f} s."
    )


if __name__ == "__main__":
    sys.exit(main())
