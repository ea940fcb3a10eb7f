"""Writes batches to the card and bears with every fault of it.

Lives here: what each fault means, what is done about it, and how it is told in plain
words. Nothing here raises: control must never depend on the journal. No thread and no
clock; writer.py calls from its thread.
"""

import os
import sqlite3
from collections.abc import Callable, Sequence
from enum import Enum, auto
from pathlib import Path
from typing import NamedTuple

from greenkeeper.journal import jotter
from greenkeeper.journal.jotter import Jotter, Owner
from greenkeeper.journal.opening import (
    DamagedError,
    RefusedError,
    primary_code,
    set_aside,
)
from greenkeeper.journal.rows import Minute, Note, Switching
from greenkeeper.journal.store import Keeping, Run, Store, minutes_end
from greenkeeper.model import Now


class Batch(NamedTuple):
    """What is to reach the card together."""

    now: Now
    minutes: Sequence[Minute]
    notes: Sequence[Note]
    upkeep: bool  # the daily work is due
    trim: bool = False  # an hour of minutes may go


class Outcome(Enum):
    WRITTEN = auto()
    KEPT = auto()  # not now: keep the rows and try again
    REFUSED = auto()  # these rows never will be taken


_EXPLAINED = {
    sqlite3.SQLITE_FULL: "no room left for {file}: free some space on its card",
    sqlite3.SQLITE_READONLY: "{file} cannot be written: it, its folder or the card is read-only",
    sqlite3.SQLITE_CANTOPEN: "{file} cannot be opened: its folder must exist and be writable",
    sqlite3.SQLITE_BUSY: "{file} is locked by another program: only the keeper may write to it",
    sqlite3.SQLITE_IOERR: "the card reports an error at {file} ({error})",
}

# After these the connection is as good as before; after any other it is made anew, for
# the card may have been taken out and put back.
_PASSING = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_FULL}


class Scribe:
    """One journal file, opened when first needed and again after faults."""

    def __init__(self, file: Path, run: Run, keeping: Keeping) -> None:
        self._file = file
        self._run = run
        self.keeping = keeping
        self._store: Store | None = None
        self._run_id: int | None = None
        self._inode: int | None = None
        self._jotter = Jotter(file)
        self.trouble: str | None = None  # why nothing can be written just now
        self.damage: str | None = None  # what was set aside during this run

    def write(self, batch: Batch) -> Outcome:
        """Put a batch on the card in one commit; then, if it is due, do the daily work."""
        now = batch.now
        drop_before_s = minutes_end(now, self.keeping) if batch.trim else None
        outcome = self._try(
            now, lambda store: store.write(batch.minutes, batch.notes, now.utc_s, drop_before_s)
        )
        if outcome is Outcome.WRITTEN:
            self._jotter.forget()
            if batch.upkeep:
                self._try(now, lambda store: store.upkeep(now, self.keeping))
        return outcome

    def jot(self, rows: Sequence[Switching]) -> bool:
        """Put them on the card for little, until they come with a batch. False: not here."""
        if self._store is None or self.trouble is not None or self._inode != _inode(self._file):
            return False
        return self._jotter.add(self._owner(self._store), rows)

    def finish(self, now: Now, *, clean: bool) -> None:
        """Write down the end of the run and let go of the file."""
        if self._try(now, lambda store: store.stop(now, clean=clean)) is Outcome.WRITTEN:
            self._jotter.remove()
        self._let_go()

    def abandon(self) -> None:
        """The thread that uses this ends, and SQLite lets no other use its connection. What it
        had not committed is undone."""
        self._let_go()

    def _try(self, now: Now, work: Callable[[Store], None]) -> Outcome:
        try:
            try:
                work(self._opened())
            except DamagedError as damage:
                self._put_aside(damage, now)
                work(self._opened())
        except (RefusedError, DamagedError) as refusal:
            self._fail(str(refusal))
            return Outcome.KEPT
        except (sqlite3.OperationalError, OSError, MemoryError) as error:
            self._fail(_explain(error, self._file), keep_open=_passes(error))
            return Outcome.KEPT
        except Exception as error:  # noqa: BLE001 - no row whatever may end the writer's thread
            self._fail(f"{self._file} does not take these records: {error}")
            return Outcome.REFUSED
        self.trouble = None
        return Outcome.WRITTEN

    def _opened(self) -> Store:
        if self._store is not None and self._inode != _inode(self._file):
            # Moved or deleted under our hands. What is still in the log goes where the file
            # went, and what comes now into a new file under the old name.
            self._store.fold()
            self._let_go()
        if self._store is None:
            self._store = Store.open(self._file, self._run, self.keeping, self._run_id)
            self._run_id, self._inode = self._store.run_id, _inode(self._file)
            self._take_in_jotted(self._store)
        return self._store

    def _take_in_jotted(self, store: Store) -> None:
        """What a run before this one could not bring into the journal any more.

        This run's own wait in memory as well, and come with the batch.
        """
        left = jotter.read(self._file)
        if left is None or left.owner._replace(run=store.run_id) == self._owner(store):
            return
        try:
            store.take_in(left)
        except BaseException:
            self._let_go()  # so that it is tried again
            raise
        self._jotter.remove()

    def _owner(self, store: Store) -> Owner:
        boot_id, version, started = self._run
        return Owner(store.run_id, boot_id, version, started.utc_s, started.mono_s)

    def _put_aside(self, damage: DamagedError, now: Now) -> None:
        self._let_go()
        kept = set_aside(self._file, now.utc_s)
        self._run_id = None
        self.damage = f"{self._file} was damaged ({damage}): kept as {kept.name}, a new one begun"

    def _fail(self, trouble: str, *, keep_open: bool = False) -> None:
        self.trouble = trouble
        if not keep_open:
            self._let_go()

    def _let_go(self) -> None:
        if self._store is not None:
            self._store.close()
            self._store = None


def _inode(file: Path) -> int | None:
    try:
        return os.stat(file).st_ino
    except FileNotFoundError:
        return None


def _passes(error: Exception) -> bool:
    return isinstance(error, sqlite3.Error) and primary_code(error) in _PASSING


def _explain(error: Exception, file: Path) -> str:
    code = primary_code(error) if isinstance(error, sqlite3.Error) else None
    pattern = "{file}: {error}" if code is None else _EXPLAINED.get(code, "{file}: {error}")
    return pattern.format(file=file, error=error)
