"""Killed at any moment, the journal keeps what it promised.

A kill is not a power cut: the kernel still writes what SQLite handed over. That fsync
really reaches the card is SQLite's and the card's word (synchronous=FULL), not shown here.
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from greenkeeper.journal.check import findings
from greenkeeper.journal.reader import Journal
from tests.journal import ticks, victim

# GREENKEEPER_KILLS=1000 for a long night.
KILLS = int(os.environ.get("GREENKEEPER_KILLS", "25"))


class Seen(NamedTuple):
    """The last thing a reader saw before the kill. Nothing yet: -1, 0, 0."""

    tick: int
    switchings: int
    ticks: int


@pytest.fixture
def victims(file: Path) -> Iterator["subprocess.Popen[str]"]:
    command = [sys.executable, "-m", "tests.journal.victim", str(file)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
    ) as process:
        yield process
        assert process.stdin is not None
        process.stdin.close()
    assert process.returncode == 0


def _kill_once(victims: "subprocess.Popen[str]", number: int, chance: random.Random) -> Seen:
    assert victims.stdin is not None
    assert victims.stdout is not None
    victims.stdin.write(f"{number}\n")
    pid = int(victims.stdout.readline().split()[1])
    lines = [victims.stdout.readline() for _ in range(chance.randrange(30))]
    time.sleep(chance.random() * 0.01)  # any instant will do: nothing is waited for
    os.kill(pid, signal.SIGKILL)
    while (line := victims.stdout.readline()) != "over\n":
        lines.append(line)
    return Seen(*map(int, lines[-1].split())) if lines else Seen(-1, 0, 0)


@pytest.mark.timeout(120 + KILLS)
def test_nothing_seen_is_ever_lost_and_nothing_older_than_a_batch(
    victims: "subprocess.Popen[str]", file: Path
) -> None:
    chance = random.Random(7)
    for number in range(KILLS):
        seen = _kill_once(victims, number, chance)
        if seen.tick < 0 and not file.exists():
            continue  # killed before it had made the file
        _hold_against(file, number, seen)


def _hold_against(file: Path, number: int, seen: Seen) -> None:
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


def test_every_kill_is_named_by_the_check_and_none_did_damage(
    victims: "subprocess.Popen[str]", file: Path
) -> None:
    chance = random.Random(11)
    for number in range(3):
        while _kill_once(victims, number, chance).tick < 0:
            pass  # too early: this run has not begun
    with Journal(file) as journal:
        runs, found = len(journal.runs()), findings(journal)
    assert len(found) == runs - 1  # the newest may be running, for all anybody knows
    assert all("ended without a goodbye" in text for text in found)
