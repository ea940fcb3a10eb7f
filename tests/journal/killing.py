"""Kills a writing journal again and again, and holds what is left against what was seen.

Lives here: the killing and its checks, for test_kill.py and `make fuzz`. Does not live
here: the one who is killed (victim.py).
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from tests.journal import ticks, victim

Victims = subprocess.Popen[str]


class Seen(NamedTuple):
    """The last thing a reader saw before the kill. Nothing yet: -1, 0, 0."""

    tick: int
    switchings: int
    ticks: int


class Killed(NamedTuple):
    """What many kills came to. None of them did damage, or it would have been raised."""

    kills: int
    oldest_lost_s: float  # age at its kill of the oldest record lost
    batch_s: float


@contextmanager
def victims(file: Path) -> Iterator[Victims]:
    command = [sys.executable, "-m", "tests.journal.victim", str(file)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
    ) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()
    assert process.returncode == 0


def kill_often(file: Path, kills: int, progress: Callable[[int], None] = lambda _: None) -> Killed:
    """Raises AssertionError at the first record that is damaged, or lost and should not be."""
    chance = random.Random(7)
    oldest_lost_s = 0.0
    with victims(file) as running:
        for number in range(kills):
            progress(number)
            seen = kill_once(running, number, chance)
            if seen.tick < 0 and not file.exists():
                continue  # killed before it had made the file
            oldest_lost_s = max(oldest_lost_s, _hold_against(file, number, seen))
    return Killed(kills, oldest_lost_s, victim.BATCH_TICKS * victim.TICK_S)


def kill_once(running: Victims, number: int, chance: random.Random) -> Seen:
    assert running.stdin is not None
    assert running.stdout is not None
    running.stdin.write(f"{number}\n")
    pid = int(running.stdout.readline().split()[1])
    lines = [running.stdout.readline() for _ in range(chance.randrange(30))]
    time.sleep(chance.random() * 0.01)  # any instant will do: nothing is waited for
    os.kill(pid, signal.SIGKILL)
    while (line := running.stdout.readline()) != "over\n":
        lines.append(line)
    return Seen(*map(int, lines[-1].split())) if lines else Seen(-1, 0, 0)


def _hold_against(file: Path, number: int, seen: Seen) -> float:
    """How old the oldest record was that this kill lost; 0: none."""
    start = ticks.at(victim.start_s(number)).utc_s
    with Journal(file) as journal:
        assert journal.query("PRAGMA integrity_check") == [("ok",)]
        switched = [each.on for each in journal.switchings(start, start + 86_400)]
        kept = sum(each.n for each in journal.minutes("bench", start, start + 86_400))
    assert len(switched) >= seen.switchings
    assert switched == [change % 2 == 0 for change in range(len(switched))]
    # Every switching of a tick that was over is there: they do not wait for a batch.
    assert len(switched) >= 1 + seen.tick // victim.TICKS_A_PHASE
    assert kept >= seen.ticks
    assert kept >= seen.tick + 1 - victim.BATCH_TICKS
    return max(0, seen.tick + 1 - kept) * victim.TICK_S
