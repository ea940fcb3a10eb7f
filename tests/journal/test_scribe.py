"""What becomes of batches when the card is not as it should be. Real files, real faults."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from greenkeeper.journal.rows import Note, OutputMinute, Switching
from greenkeeper.journal.scribe import Batch, Outcome, Scribe
from greenkeeper.journal.store import Keeping, Run
from greenkeeper.model import Now
from tests.journal.ticks import START, UTC_S, at

KEEPING = Keeping("fern-corner", "UTC", keep_days=30, minutes_days=7)


@pytest.fixture
def scribe(file: Path) -> Iterator[Scribe]:
    made = Scribe(file, Run("boot-1", "1.2.3", START), KEEPING)
    yield made
    made.finish(at(1e6), clean=True)


def batch(number: int = 0, *notes: Note, now: Now = START, upkeep: bool = False) -> Batch:
    minute = OutputMinute(int(UTC_S) + 60 * number, "heater", 1500.0, 1.0, 0)
    return Batch(now, [minute], notes, upkeep)


def minutes(file: Path) -> list[int]:
    """Which minutes are on the card, by their number."""
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
        found = db.execute("SELECT utc_s FROM output_minute ORDER BY id")
        return [(row[0] - int(UTC_S)) // 60 for row in found]


def test_a_batch_is_written_without_trouble(scribe: Scribe, file: Path) -> None:
    assert scribe.write(batch()) is Outcome.WRITTEN
    assert scribe.trouble is None
    assert minutes(file) == [0]


def test_a_lock_is_named_and_what_waited_is_written_afterwards(scribe: Scribe, file: Path) -> None:
    scribe.write(batch(0))
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert scribe.write(batch(1)) is Outcome.KEPT
        assert "locked by another program" in (scribe.trouble or "")
    assert scribe.write(batch(1)) is Outcome.WRITTEN
    assert scribe.trouble is None
    assert minutes(file) == [0, 1]


def test_a_full_file_is_named_and_goes_on_once_there_is_room(scribe: Scribe, file: Path) -> None:
    """SQLite's own SQLITE_FULL, by its page limit."""
    scribe.write(batch(0))
    assert scribe._store is not None
    limit = scribe._store._db.execute
    (pages,) = limit("PRAGMA page_count").fetchone()
    limit(f"PRAGMA max_page_count = {pages}")
    note = Switching(UTC_S, 1000.0, "heater", 1500.0, True, "cold " * 2000)
    assert scribe.write(batch(1, note)) is Outcome.KEPT
    assert "no room left" in (scribe.trouble or "")
    assert minutes(file) == [0]  # nothing of the batch
    limit("PRAGMA max_page_count = 1000000")
    assert scribe.write(batch(1, note)) is Outcome.WRITTEN
    assert scribe.trouble is None
    assert minutes(file) == [0, 1]


def test_a_missing_folder_is_named_and_used_once_it_is_there(tmp_path: Path) -> None:
    file = tmp_path / "stick" / "journal.db"
    scribe = Scribe(file, Run("boot-1", "1.2.3", START), KEEPING)
    assert scribe.write(batch()) is Outcome.KEPT
    assert "its folder must exist" in (scribe.trouble or "")
    file.parent.mkdir()
    assert scribe.write(batch()) is Outcome.WRITTEN
    assert minutes(file) == [0]
    scribe.finish(at(10), clean=True)


def test_a_folder_in_place_of_the_file_is_named(tmp_path: Path) -> None:
    scribe = Scribe(tmp_path, Run("boot-1", "1.2.3", START), KEEPING)
    assert scribe.write(batch()) is Outcome.KEPT
    assert str(tmp_path) in (scribe.trouble or "")


def test_a_damaged_file_is_set_aside_and_a_new_one_takes_the_batch(file: Path) -> None:
    file.write_text("this was a journal once\n" * 100)
    scribe = Scribe(file, Run("boot-1", "1.2.3", START), KEEPING)
    assert scribe.write(batch()) is Outcome.WRITTEN
    assert scribe.trouble is None
    kept = "journal.db.damaged-20270115T080000Z"
    assert kept in (scribe.damage or "")
    assert file.with_name(kept).read_text().startswith("this was a journal once")
    assert minutes(file) == [0]
    scribe.finish(at(10), clean=True)


def test_damage_that_shows_while_writing_is_dealt_with_at_once(scribe: Scribe, file: Path) -> None:
    for number in range(3):
        scribe.write(batch(number, now=at(number), upkeep=True))
    with file.open("r+b") as handle:  # every page after the first
        size = file.stat().st_size
        handle.seek(4096)
        handle.write(b"\xa5" * (size - 4096))
    scribe._let_go()
    assert scribe.write(batch(7, now=at(7))) is Outcome.WRITTEN
    assert scribe.damage is not None
    assert minutes(file) == [7]


def test_a_damaged_file_that_cannot_be_set_aside_is_named(
    scribe: Scribe, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file.write_text("this was a journal once\n" * 100)

    def refuse(*_: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(Path, "rename", refuse)
    assert scribe.write(batch()) is Outcome.KEPT
    assert "Read-only file system" in (scribe.trouble or "")
    assert file.read_text().startswith("this was a journal once")
    monkeypatch.undo()
    assert scribe.write(batch()) is Outcome.WRITTEN


def test_a_newer_journal_is_named_untouched_and_replaced_once_it_is_moved(
    scribe: Scribe, file: Path
) -> None:
    scribe.write(batch())
    scribe.finish(START, clean=True)
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA user_version = 99")
    before = file.read_bytes()
    assert scribe.write(batch()) is Outcome.KEPT
    assert "newer greenkeeper" in (scribe.trouble or "")
    assert file.read_bytes() == before
    file.rename(file.with_name("old.db"))
    assert scribe.write(batch(5)) is Outcome.WRITTEN
    assert minutes(file) == [5]


@pytest.mark.parametrize("gone", ["deleted", "moved"])
def test_a_file_taken_away_while_in_use_is_begun_anew(
    scribe: Scribe, file: Path, gone: str
) -> None:
    scribe.write(batch(0))
    if gone == "deleted":
        file.unlink()
    else:
        file.rename(file.with_name("winter.db"))
    assert scribe.write(batch(1)) is Outcome.WRITTEN
    assert minutes(file) == [1]
    if gone == "moved":
        assert minutes(file.with_name("winter.db")) == [0]


def test_rows_that_never_can_be_written_are_refused_and_stop_nothing(
    scribe: Scribe, file: Path
) -> None:
    nonsense = OutputMinute(int(UTC_S), "heater", 1500.0, None, 0)  # type: ignore[arg-type] # on purpose
    assert scribe.write(Batch(START, [nonsense], [], False)) is Outcome.REFUSED
    assert "does not take these records" in (scribe.trouble or "")
    assert scribe.write(batch(1)) is Outcome.WRITTEN
    assert scribe.trouble is None
    assert minutes(file) == [1]


class FailsAt:
    """A connection whose n-th statement fails with an error of the disk, once or from then on."""

    def __init__(self, db: sqlite3.Connection, number: int, *, lasting: bool) -> None:
        self._db, self._number, self._lasting, self.calls = db, number, lasting, 0

    def _count(self) -> None:
        self.calls += 1
        if self.calls == self._number or (self._lasting and self.calls > self._number):
            error = sqlite3.OperationalError("disk I/O error")
            error.sqlite_errorcode = sqlite3.SQLITE_IOERR_WRITE
            raise error

    def execute(self, *arguments: object) -> object:
        self._count()
        return self._db.execute(*arguments)  # type: ignore[arg-type] # passed on as it came

    def executemany(self, *arguments: object) -> object:
        self._count()
        return self._db.executemany(*arguments)  # type: ignore[arg-type] # passed on as it came

    def close(self) -> None:
        self._db.close()

    @property
    def in_transaction(self) -> bool:
        return self._db.in_transaction


@pytest.mark.parametrize("lasting", [False, True])
def test_whichever_statement_fails_nothing_is_half_written_and_all_is_written_in_the_end(
    file: Path, lasting: bool
) -> None:
    """Fail statement n, then n + 1, until one passes: sqlite.org/testing.html, 3.2."""
    number, outcome = 0, Outcome.KEPT
    note = Switching(UTC_S, 1000.0, "heater", 1500.0, True, "")
    while outcome is not Outcome.WRITTEN:
        number += 1
        scribe = Scribe(file, Run("boot-1", "1.2.3", START), KEEPING)
        scribe.write(Batch(START, [], [], False))
        assert scribe._store is not None
        scribe._store._db = FailsAt(scribe._store._db, number, lasting=lasting)  # type: ignore[assignment] # a stand-in
        outcome = scribe.write(batch(number, note._replace(mono_s=float(number))))
        written = outcome is Outcome.WRITTEN
        assert (number in minutes(file)) is written
        if not written:
            assert "the card reports an error" in (scribe.trouble or "")
            assert scribe.write(batch(number)) is Outcome.WRITTEN  # by a connection made anew
        scribe.finish(at(number), clean=True)
    assert number > 5
    assert minutes(file) == list(range(1, number + 1))
    with closing(sqlite3.connect(file)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
