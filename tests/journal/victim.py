"""Writers to be killed: for every line read, a child that writes until somebody ends it.

Run as a process of its own, so that a round costs a fork and not a start of Python:
    python -m tests.journal.victim FILE
Reads the number of a round, answers "pid N", then one line for each tick: its number, and
how many switchings and ticks a reader of the file sees by then. "over" once the child is gone.
"""

import os
import sys
from pathlib import Path

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.writer import JournalWriter
from tests.journal import ticks

BATCH_TICKS = 6
TICK_S = 10.0
TICKS_A_PHASE = 4  # the heater changes every so many ticks
WAIT_S = 60.0


def start_s(number: int) -> int:
    """Rounds are a day apart, in seconds since the tests' beginning."""
    return number * 86_400


def heat(tick: int) -> bool:
    return tick // TICKS_A_PHASE % 2 == 0


def _live(file: Path, number: int) -> None:
    settings = ticks.settings(batch_s=BATCH_TICKS * TICK_S)
    now = ticks.at(start_s(number))
    writer = JournalWriter(file, settings, now, "1.2.3")
    for tick in range(10_000):
        at = ticks.after(now, tick * TICK_S)
        writer.record(ticks.tick(at, {"bench": 5.0}, {"heater": heat(tick)}))
        writer.settled(WAIT_S)
        with Journal(file) as journal:
            switchings = len(journal.switchings(now.utc_s, now.utc_s + 86_400))
            minutes = journal.minutes("bench", now.utc_s, now.utc_s + 86_400)
        seen = f"{tick} {switchings} {sum(minute.n for minute in minutes)}\n"
        os.write(1, seen.encode())  # unbuffered, and whole or not at all


def main() -> None:
    file = Path(sys.argv[1])
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os.write(1, f"pid {os.getpid()}\n".encode())
            _live(file, int(line))
            os._exit(1)
        os.waitpid(child, 0)
        os.write(1, b"over\n")


if __name__ == "__main__":
    main()
