"""Killed at any moment, the journal keeps what it promised. `make fuzz` kills more often.

A kill is not a power cut: the kernel still writes what SQLite handed over. That fsync
really reaches the card is SQLite's and the card's word (synchronous=FULL), not shown here.
"""

import random
from pathlib import Path

from greenkeeper.journal.check import findings
from greenkeeper.journal.reader import Journal
from tests.journal.killing import kill_often, kill_once, victims

KILLS = 25


def test_nothing_seen_is_ever_lost_and_nothing_older_than_a_batch(file: Path) -> None:
    done = kill_often(file, KILLS)
    assert done.oldest_lost_s <= done.batch_s


def test_every_kill_is_named_by_the_check_and_none_did_damage(file: Path) -> None:
    chance = random.Random(11)
    with victims(file) as running:
        for number in range(3):
            while kill_once(running, number, chance).tick < 0:
                pass  # too early: this run has not begun
    with Journal(file) as journal:
        runs, found = len(journal.runs()), findings(journal)
    assert len(found) == runs - 1  # the newest may be running, for all anybody knows
    assert all("ended without a goodbye" in text for text in found)
