"""The one connection that writes the journal, and what it writes.

Lives here: rows into tables, hours from minutes, and the daily upkeep. Each call is one
transaction: all of it is on the card, or none. Does not live here: opening (opening.py),
faults (scribe.py) and threads (writer.py). A Store belongs to one thread.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple, Self

from greenkeeper.journal.jotter import Jotted
from greenkeeper.journal.opening import damage_named, open_for_writing
from greenkeeper.journal.rows import (
    ClockStep,
    HygrometerMinute,
    Minute,
    Note,
    OutputMinute,
    ProbeMinute,
    Switching,
    ZoneChange,
)
from greenkeeper.journal.times import DAY_S, HOUR_S, hour_of
from greenkeeper.model import Event, Now

# One upkeep deletes at most this much: a clock gone mad cannot empty the journal in a
# night, and a shortened keep_days does not rewrite the card in one go.
_DELETE_AT_ONCE_S = 2 * DAY_S
_MINUTE_TABLES = ("minute", "humidity_minute", "output_minute")


class Run(NamedTuple):
    """One start of the keeper."""

    boot_id: str
    version: str
    started: Now


class Keeping(NamedTuple):
    """What the settings say about the journal's contents."""

    site: str
    timezone: str
    keep_days: int
    minutes_days: int


# Keys are utc_s * 1000 + number: see the head of schema.sql.
_MEASURED_MINUTE = """
    INSERT INTO {minute} (id, n, low_c, mean_c, high_c, bad) VALUES (? * 1000 + ?, ?, ?, ?, ?, ?)
    ON CONFLICT (id) DO UPDATE SET
        n = n + excluded.n,
        low_c = min(coalesce(low_c, excluded.low_c), coalesce(excluded.low_c, low_c)),
        mean_c = (coalesce(mean_c * n, 0) + coalesce(excluded.mean_c * excluded.n, 0))
                 / nullif(n + excluded.n, 0),
        high_c = max(coalesce(high_c, excluded.high_c), coalesce(excluded.high_c, high_c)),
        bad = bad + excluded.bad
"""
_OUTPUT_MINUTE = """
    INSERT INTO output_minute (id, on_s, switchings) VALUES (? * 1000 + ?, ?, ?)
    ON CONFLICT (id) DO UPDATE SET
        on_s = on_s + excluded.on_s, switchings = switchings + excluded.switchings
"""
_MEASURED_HOUR = """
    INSERT OR REPLACE INTO {hour} (id, n, low_c, mean_c, high_c, bad)
    SELECT :start * 1000 + {probe}, sum(n), min(low_c), sum(mean_c * n) / nullif(sum(n), 0),
           max(high_c), sum(bad)
    FROM {minute} WHERE id >= :start * 1000 AND id < :end * 1000 GROUP BY {probe}
"""


def _of_humidity(sql: str) -> str:
    """The same for the other quantity: its tables are the same but for names and unit."""
    words = sql.format(minute="humidity_minute", hour="humidity_hour", probe="hygrometer")
    return words.replace("_c", "_pct")


_PROBE_MINUTE = _MEASURED_MINUTE.format(minute="minute")
_HUMIDITY_MINUTE = _of_humidity(_MEASURED_MINUTE)
_HOUR = _MEASURED_HOUR.format(minute="minute", hour="hour", probe="probe")
_HUMIDITY_HOUR = _of_humidity(_MEASURED_HOUR)
_OUTPUT_HOUR = """
    INSERT OR REPLACE INTO output_hour (id, on_s, switchings, minutes)
    SELECT :start * 1000 + output, sum(on_s), sum(switchings), count(*)
    FROM output_minute WHERE id >= :start * 1000 AND id < :end * 1000 GROUP BY output
"""
_HOURS_SINCE = """
    SELECT DISTINCT utc_s / 3600 * 3600 FROM
    (SELECT utc_s FROM minute WHERE id >= :since * 1000
     UNION ALL SELECT utc_s FROM humidity_minute WHERE id >= :since * 1000
     UNION ALL SELECT utc_s FROM output_minute WHERE id >= :since * 1000)
"""
_LAST_HOUR = """
    SELECT max(id) / 1000 FROM
    (SELECT max(id) AS id FROM hour UNION ALL SELECT max(id) FROM humidity_hour
     UNION ALL SELECT max(id) FROM output_hour)
"""
_THEIR_RUN = """
    SELECT id FROM run
    WHERE boot_id = ? AND version = ? AND started_utc_s = ? AND started_mono_s = ?
"""
_SWITCHED = "SELECT 1 FROM switching WHERE utc_s = ? AND run = ? AND mono_s = ? AND output = ?"
_OWN_RUN = "SELECT id FROM run WHERE id = ? AND boot_id = ? AND started_mono_s = ?"


class Store:
    def __init__(
        self, db: sqlite3.Connection, run: Run, keeping: Keeping, run_id: int | None
    ) -> None:
        self._db = db
        self._ids: dict[tuple[str, str, object], int] = {}
        self.run_id = self._begin(run, keeping, run_id)

    @classmethod
    def open(cls, file: Path, run: Run, keeping: Keeping, run_id: int | None = None) -> Self:
        """run_id: this run's number in the file, if it was opened before.

        Raises what open_for_writing raises.
        """
        db = open_for_writing(file)
        try:
            return cls(db, run, keeping, run_id)
        except BaseException:
            db.close()
            raise

    def write(
        self,
        minutes: Sequence[Minute],
        notes: Sequence[Note],
        running: float,
        drop_before_s: float | None = None,
    ) -> None:
        """Put rows on the card in one commit, and the hours they complete.

        running: the POSIX second it is now; its hour is not summed before it is over.
        drop_before_s: minutes from before this POSIX second are too old. The oldest hour of
        them makes room for the new ones: a page that is emptied in one commit and filled in
        another is written twice, and folded twice.
        Raises sqlite3.Error and DamagedError, nothing written.
        """
        with self._transaction():
            if drop_before_s is not None:
                self._delete_minutes(drop_before_s, HOUR_S)
            self._write_minutes(minutes)
            if minutes:
                self._sum_hours({hour_of(minute.utc_s) for minute in minutes}, hour_of(running))
            for note in notes:
                self._write_note(note)

    def take_in(self, left: Jotted) -> None:
        """What another run had switched and not written in here yet. Raises like write()."""
        owner = left.owner
        with self._transaction():
            found = self._db.execute(_THEIR_RUN, owner[1:]).fetchone()
            started = Now(owner.started_mono_s, owner.started_utc_s, True)
            theirs = Run(owner.boot_id, owner.version, started)
            run = int(found[0]) if found else self._insert("run", **_run_columns(theirs))
            for row in left.rows:
                output = self._id("output", row.output, "power_w", row.power_w)
                key = (row.utc_s, run, row.mono_s, output)
                if self._db.execute(_SWITCHED, key).fetchone() is None:
                    self._insert_switching(row, output, run)

    def upkeep(self, now: Now, keeping: Keeping) -> None:
        """The daily work: delete what is too old still, and fold the log into the file.

        Raises like write().
        """
        minutes_before_s = minutes_end(now, keeping)
        if minutes_before_s is not None:
            rest_before_s = now.utc_s - keeping.keep_days * DAY_S
            with self._transaction():
                self._delete_minutes(minutes_before_s, _DELETE_AT_ONCE_S)
                for table in ("hour", "humidity_hour", "output_hour"):
                    self._delete_old(table, "id", 1000, rest_before_s, _DELETE_AT_ONCE_S)
                for table in ("switching", "zone_change", "event"):
                    self._delete_old(table, "utc_s", 1, rest_before_s, _DELETE_AT_ONCE_S)
        self.fold()

    def fold(self) -> None:
        """Bring the log's contents into the file itself. Raises like write().

        A reader in the middle of a question makes this do less, and is no error.
        """
        with damage_named():
            # Not TRUNCATE: a log that keeps its room costs the card less than one that grows.
            self._db.execute("PRAGMA wal_checkpoint(RESTART)").fetchall()

    def stop(self, now: Now, *, clean: bool) -> None:
        """Write down the end of the run. Raises like write()."""
        with self._transaction():
            self._sum_hours(set(), None)
            self._db.execute(
                "UPDATE run SET stopped_utc_s = ?, stopped_mono_s = ?, clean = ? WHERE id = ?",
                (round(now.utc_s, 3), round(now.mono_s, 3), int(clean), self.run_id),
            )

    def close(self) -> None:
        """Let go of the file. Safe to call twice."""
        self._db.close()

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with damage_named():
            # IMMEDIATE: a lock held by somebody else shows here, before any work is done.
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                self._ids.clear()  # some may have been given in what is now undone
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _begin(self, run: Run, keeping: Keeping, run_id: int | None) -> int:
        """Find or write this run's row: after a fault the same run opens the file again."""
        with self._transaction():
            for name, value in (("site", keeping.site), ("timezone", keeping.timezone)):
                self._db.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (name, value))
            identity = (run_id, run.boot_id, run.started.mono_s)
            found = self._db.execute(_OWN_RUN, identity).fetchone()
            self._sum_hours(set(), None)
            return int(found[0]) if found else self._insert("run", **_run_columns(run))

    def _write_minutes(self, minutes: Sequence[Minute]) -> None:
        probes = [each for each in minutes if isinstance(each, ProbeMinute)]
        humid = [each for each in minutes if isinstance(each, HygrometerMinute)]
        outputs = [each for each in minutes if isinstance(each, OutputMinute)]
        self._db.executemany(
            _PROBE_MINUTE,
            [
                (row.utc_s, self._id("probe", row.probe, "source", row.source), *row[3:])
                for row in probes
            ],
        )
        self._db.executemany(
            _HUMIDITY_MINUTE,
            [
                (row.utc_s, self._id("hygrometer", row.hygrometer, "source", row.source), *row[3:])
                for row in humid
            ],
        )
        self._db.executemany(
            _OUTPUT_MINUTE,
            [
                (
                    row.utc_s,
                    self._id("output", row.output, "power_w", row.power_w),
                    row.on_s,
                    row.switchings,
                )
                for row in outputs
            ],
        )

    def _sum_hours(self, touched: set[int], running: int | None) -> None:
        """Sum these hours from their minutes, and all that were not summed yet.

        Invariant: every hour up to the last summed one equals its minutes, whatever the clock
        did meanwhile. So only the running hour may wait, and only if it is newer than all.
        """
        last = self._db.execute(_LAST_HOUR).fetchone()[0]
        since = -1 if last is None else last + HOUR_S
        hours = touched | {row[0] for row in self._db.execute(_HOURS_SINCE, {"since": since})}
        if running is not None and since <= running == max(hours):
            hours.remove(running)
        for start in sorted(hours):
            span = {"start": start, "end": start + HOUR_S}
            self._db.execute(_HOUR, span)
            self._db.execute(_HUMIDITY_HOUR, span)
            self._db.execute(_OUTPUT_HOUR, span)

    def _write_note(self, note: Note) -> None:
        match note:
            case Switching():
                output = self._id("output", note.output, "power_w", note.power_w)
                self._insert_switching(note, output, self.run_id)
            case ZoneChange():
                columns = note._asdict()
                del columns["utc_s"], columns["mono_s"]
                self._insert_note("zone_change", note, **columns)
            case ClockStep():
                self._insert("clock_step", run=self.run_id, **note._asdict())
            case Event():
                subject, text = _storable(note.subject), _storable(note.text)
                self._insert_note(
                    "event",
                    note,
                    code=note.code,
                    phase=note.phase.value,
                    subject=subject,
                    text=text,
                )

    def _insert_switching(self, note: Switching, output: int, run: int) -> None:
        reason = _storable(note.reason)
        self._insert_note("switching", note, run, output=output, is_on=note.on, reason=reason)

    def _insert_note(
        self,
        table: str,
        note: Switching | ZoneChange | Event,
        run: int | None = None,
        **columns: object,
    ) -> None:
        utc_s, mono_s = round(note.utc_s, 3), round(note.mono_s, 3)
        self._insert(table, utc_s=utc_s, mono_s=mono_s, run=run or self.run_id, **columns)

    def _id(self, table: str, name: str, detail: str, value: str | float | None) -> int:
        """The small number of what is measured (detail: its source) or an output (its power)."""
        key = (table, name, value)
        if key not in self._ids:
            # The words come from this class.
            query = f"SELECT id FROM {table} WHERE name = ? AND {detail} IS ?"  # noqa: S608
            found = self._db.execute(query, (name, value)).fetchone()
            self._ids[key] = (
                self._insert(table, name=name, **{detail: value}) if found is None else found[0]
            )
        return self._ids[key]

    def _insert(self, table: str, **columns: object) -> int:
        """One row; returns its rowid. Table and columns are words of this module."""
        marks = ", ".join("?" * len(columns))
        statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608
        return self._db.execute(statement, tuple(columns.values())).lastrowid or 0

    def _delete_minutes(self, before_utc_s: float, at_once_s: float) -> None:
        for table in _MINUTE_TABLES:
            self._delete_old(table, "id", 1000, before_utc_s, at_once_s)

    def _delete_old(
        self, table: str, key: str, scale: int, before_utc_s: float, at_once_s: float
    ) -> None:
        """Whole hours of it. scale: how many of the key make a second."""
        # The words are this class's own.
        oldest = self._db.execute(f"SELECT min({key}) FROM {table}").fetchone()[0]  # noqa: S608
        if oldest is None:
            return
        before = hour_of(min(before_utc_s, oldest / scale + at_once_s)) * scale
        self._db.execute(f"DELETE FROM {table} WHERE {key} < ?", (before,))  # noqa: S608


def minutes_end(now: Now, keeping: Keeping) -> float | None:
    """The POSIX second before which minutes are too old. None: the clock is not trusted, and
    nothing is."""
    return now.utc_s - keeping.minutes_days * DAY_S if now.clock_trusted else None


def _run_columns(run: Run) -> dict[str, object]:
    return {
        "boot_id": run.boot_id,
        "version": run.version,
        "started_utc_s": run.started.utc_s,
        "started_mono_s": run.started.mono_s,
    }


def _storable(text: str) -> str:
    """Text SQLite takes: a file name's undecodable bytes must not cost the row."""
    return text.encode("utf-8", "replace").decode("utf-8")
