"""Read-only questions to the journal.

Lives here: opening without ever writing, and what reports and the page ask. Does not
live here: wording and layout (reports), and the question whether all is well (check.py).

Spans are from_utc_s <= t < to_utc_s, POSIX seconds. Queries are short and hold no
transaction afterwards: a reader in the middle of one keeps the writer's log from being
folded into the file.
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self
from urllib.parse import quote

from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal import jotter
from greenkeeper.journal.answers import (
    Energy,
    Extreme,
    Happening,
    Humidities,
    OnTimes,
    RunRecord,
    StepRecord,
    Switched,
    Temperatures,
    ZoneState,
)
from greenkeeper.journal.opening import (
    SCHEMA_VERSION,
    DamagedError,
    RefusedError,
    damage_named,
    identify,
)
from greenkeeper.journal.times import DAY_S, HOUR_S, MINUTE_S, hour_of

# Tables, their keys, how many of the key make a second, and how long a row stands for. The
# last hour may have been summed when it was only a minute old; its minutes know better.
_SPANS = (
    ("minute", "id", 1000, MINUTE_S),
    ("hour", "id", 1000, MINUTE_S),
    ("switching", "utc_s", 1, 1),
    ("zone_change", "utc_s", 1, 1),
    ("event", "utc_s", 1, 1),
)
_STEPS_BETWEEN_SIGNS = 100_000  # of SQLite's machine: some milliseconds


class JournalError(GreenkeeperError):
    """The journal cannot be read; the message says why and what to do."""


class Journal:
    """An open journal. A context manager; for one thread, or several one after the other."""

    def __init__(self, file: Path, *, handed_on: bool = False) -> None:
        """handed_on: other threads will go on with it, never two at once. Raises JournalError."""
        self.file = file
        self._db = _open(file, handed_on=handed_on)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        self._db.close()

    def query(self, sql: str, values: Mapping[str, object] | None = None) -> list[Any]:
        """All rows of one question. Raises JournalError."""
        with _explained(self.file):
            return self._db.execute(sql, values or {}).fetchall()

    def while_working(self, alive: Callable[[], None]) -> None:
        """Call this every now and then during long questions, as a sign of life."""
        self._db.set_progress_handler(lambda: alive(), _STEPS_BETWEEN_SIGNS)

    def span(self) -> tuple[int, int] | None:
        """From the first record to the end of the last one. None: empty."""
        ends = [
            # Two questions: SQLite finds one end at a time without reading all between.
            self.query(
                f"SELECT (SELECT min({key}) FROM {table}) / {scale},"  # noqa: S608 - own words
                f" (SELECT max({key}) FROM {table}) / {scale} + {width_s}"
            )[0]
            for table, key, scale, width_s in _SPANS
        ]
        firsts = [int(first) for first, _ in ends if first is not None]
        lasts = [int(last) for _, last in ends if last is not None]
        return (min(firsts), max(lasts)) if firsts else None

    def site(self) -> str:
        """The site's name; empty when the file never saw one."""
        rows = self.query("SELECT value FROM meta WHERE name = 'site'")
        return str(rows[0][0]) if rows else ""

    def probes(self) -> list[str]:
        """Every probe name ever recorded."""
        return [row[0] for row in self.query("SELECT name FROM probe GROUP BY name")]

    def outputs(self) -> list[str]:
        """Every output name ever recorded."""
        return [row[0] for row in self.query("SELECT name FROM output GROUP BY name")]

    def minutes_from(self, otherwise_s: float) -> float:
        """From this moment on the minutes of all probes are kept; otherwise_s: none is."""
        return self._kept_from("minute", int(otherwise_s // 1))

    def minutes(self, probe: str, from_utc_s: float, to_utc_s: float) -> list[Temperatures]:
        """Its minutes that begin within the span; none that are older than minutes_days."""
        return self._temperatures("minute", probe, from_utc_s, to_utc_s)

    def hours(self, probe: str, from_utc_s: float, to_utc_s: float) -> list[Temperatures]:
        """Its hours that begin within the span. The running hour is not among them."""
        return self._temperatures("hour", probe, from_utc_s, to_utc_s)

    def humidity_minutes(
        self, hygrometer: str, from_utc_s: float, to_utc_s: float
    ) -> list[Humidities]:
        """Its minutes that begin within the span; none that are older than minutes_days."""
        rows = self.query(
            "SELECT utc_s, n, mean_pct FROM humidity_minute JOIN hygrometer"
            " ON hygrometer.id = humidity_minute.hygrometer AND hygrometer.name = :name"
            " WHERE humidity_minute.id >= :from * 1000 AND humidity_minute.id < :to * 1000"
            " ORDER BY humidity_minute.id",
            {"name": hygrometer, **_span(from_utc_s, to_utc_s)},
        )
        return [Humidities(*row) for row in rows]

    def output_minutes(self, output: str, from_utc_s: float, to_utc_s: float) -> list[OnTimes]:
        """Its minutes that begin within the span; none that are older than minutes_days."""
        return self._on_times("output_minute", output, from_utc_s, to_utc_s)

    def output_hours(self, output: str, from_utc_s: float, to_utc_s: float) -> list[OnTimes]:
        """Its hours that begin within the span. The running hour is not among them."""
        return self._on_times("output_hour", output, from_utc_s, to_utc_s)

    def lows(self, from_utc_s: float, to_utc_s: float) -> dict[str, Extreme]:
        """The coldest of each probe, and when. A probe without a measurement is not in it."""
        return self._extremes("low_c", "min", from_utc_s, to_utc_s)

    def highs(self, from_utc_s: float, to_utc_s: float) -> dict[str, Extreme]:
        """The warmest of each probe, and when. A probe without a measurement is not in it."""
        return self._extremes("high_c", "max", from_utc_s, to_utc_s)

    def on_seconds(self, output: str, from_utc_s: float, to_utc_s: float) -> float | None:
        """Seconds on. None: nobody watched it in this span."""
        return self._total("on_s", output, from_utc_s, to_utc_s)

    def energy_kwh(self, output: str, from_utc_s: float, to_utc_s: float) -> float | None:
        """By the power stated at the time. None: not watched, or its power is not stated."""
        return self._total("on_s * power_w / 3.6e6", output, from_utc_s, to_utc_s)

    def energy_hours(self, output: str, from_utc_s: float, to_utc_s: float) -> list[Energy]:
        """Of each whole hour that begins within the span, by the power of its time.

        Hours of which the power is not stated are left out.
        """
        return self._energy("output_hour", HOUR_S, output, from_utc_s, to_utc_s)

    def energy_minutes(self, output: str, from_utc_s: float, to_utc_s: float) -> list[Energy]:
        """Likewise of each minute; none that are older than minutes_days."""
        return self._energy("output_minute", MINUTE_S, output, from_utc_s, to_utc_s)

    def energy_parts(self, output: str, from_utc_s: float, to_utc_s: float) -> list[Energy]:
        """What energy_kwh sums: whole hours, and minutes at the ends."""
        return [
            each
            for piece in self._pieces("output_minute", "output_hour", from_utc_s, to_utc_s)
            for each in self._energy(
                piece.table, piece.width_s, output, piece.from_utc_s, piece.to_utc_s
            )
        ]

    def switchings(self, from_utc_s: float, to_utc_s: float) -> list[Switched]:
        """Changes of outputs, in the order of their time."""
        span = _span(from_utc_s, to_utc_s)
        # Before the question: what comes into the journal meanwhile is met twice, not never.
        jotted = jotter.read(self.file)
        rows = self.query(
            "SELECT utc_s, mono_s, run, output.name, is_on, reason"
            " FROM switching JOIN output ON output.id = switching.output"
            " WHERE utc_s >= :from AND utc_s < :to ORDER BY utc_s, run, mono_s, output.name",
            span,
        )
        found = [Switched._make(row)._replace(on=bool(row[4])) for row in rows]
        if jotted is None:
            return found
        known = {(each.utc_s, each.mono_s, each.output) for each in found}
        return found + [
            Switched(row.utc_s, row.mono_s, jotted.owner.run, row.output, row.on, row.reason)
            for row in jotted.rows
            if span["from"] <= row.utc_s < span["to"]
            and (row.utc_s, row.mono_s, row.output) not in known
        ]

    def zone_states(self, from_utc_s: float, to_utc_s: float) -> list[ZoneState]:
        """What held within the span: each zone's last state from before it, then the changes.

        Of a zone nobody watched for two days before, the state is not known.
        """
        columns = ", ".join(ZoneState._fields)
        rows = self.query(
            # Of a group with max(), SQLite gives the other columns of that very row
            # (sqlite.org/lang_select.html, "Bare columns in an aggregate query").
            f"SELECT {columns} FROM (SELECT {columns}, max(utc_s) FROM zone_change"  # noqa: S608
            " WHERE utc_s >= :from - :lookback AND utc_s < :from GROUP BY zone)"
            f" UNION ALL SELECT {columns} FROM zone_change"
            " WHERE utc_s >= :from AND utc_s < :to ORDER BY utc_s, run, mono_s, zone",
            {"lookback": 2 * DAY_S, **_span(from_utc_s, to_utc_s)},
        )
        return [
            state._replace(
                heat_wanted=_flag(state.heat_wanted), cool_wanted=_flag(state.cool_wanted)
            )
            for state in map(ZoneState._make, rows)
        ]

    def events(self, from_utc_s: float, to_utc_s: float) -> list[Happening]:
        """Events in the order of their time."""
        rows = self.query(
            "SELECT utc_s, mono_s, run, code, phase, subject, text FROM event"
            " WHERE utc_s >= :from AND utc_s < :to ORDER BY utc_s, id",
            _span(from_utc_s, to_utc_s),
        )
        return [Happening(*row) for row in rows]

    def runs(self) -> list[RunRecord]:
        """Every start of the keeper, in the order they happened."""
        rows = self.query(
            "SELECT id, boot_id, version, started_utc_s, stopped_utc_s, clean FROM run ORDER BY id"
        )
        return [RunRecord._make(row)._replace(clean=_flag(row[5])) for row in rows]

    def clock_steps(self) -> list[StepRecord]:
        """Every time the civil clock was set while the keeper ran."""
        rows = self.query("SELECT before_utc_s, after_utc_s FROM clock_step ORDER BY id")
        return [StepRecord(*row) for row in rows]

    def _temperatures(
        self, table: str, probe: str, from_utc_s: float, to_utc_s: float
    ) -> list[Temperatures]:
        rows = self.query(
            f"SELECT utc_s, n, low_c, mean_c, high_c, bad FROM {table}"  # noqa: S608 - own words
            f" JOIN probe ON probe.id = {table}.probe AND probe.name = :name"
            f" WHERE {table}.id >= :from * 1000 AND {table}.id < :to * 1000 ORDER BY {table}.id",
            {"name": probe, **_span(from_utc_s, to_utc_s)},
        )
        return [Temperatures(*row) for row in rows]

    def _on_times(
        self, table: str, output: str, from_utc_s: float, to_utc_s: float
    ) -> list[OnTimes]:
        rows = self.query(
            f"SELECT utc_s, on_s, switchings FROM {table}"  # noqa: S608 - own words
            f" JOIN output ON output.id = {table}.output AND output.name = :name"
            f" WHERE {table}.id >= :from * 1000 AND {table}.id < :to * 1000 ORDER BY {table}.id",
            {"name": output, **_span(from_utc_s, to_utc_s)},
        )
        return [OnTimes(*row) for row in rows]

    def _energy(
        self, table: str, width_s: int, output: str, from_utc_s: float, to_utc_s: float
    ) -> list[Energy]:
        rows = self.query(
            f"SELECT {table}.utc_s, sum(on_s * power_w / 3.6e6) FROM {table}"  # noqa: S608
            f" JOIN output ON output.id = {table}.output AND output.name = :name"
            f" WHERE {table}.id >= :from * 1000 AND {table}.id < :to * 1000"
            f" AND power_w IS NOT NULL GROUP BY {table}.utc_s",
            {"name": output, **_span(from_utc_s, to_utc_s)},
        )
        return [Energy(utc_s, width_s, kwh) for utc_s, kwh in rows]

    def _extremes(
        self, column: str, pick: str, from_utc_s: float, to_utc_s: float
    ) -> dict[str, Extreme]:
        found: dict[str, Extreme] = {}
        better = min if pick == "min" else max
        for piece in self._pieces("minute", "hour", from_utc_s, to_utc_s):
            rows = self.query(
                f"SELECT probe.name, {pick}({column}), utc_s FROM {piece.table}"  # noqa: S608
                f" JOIN probe ON probe.id = {piece.table}.probe"
                f" WHERE {piece.table}.id >= :from * 1000 AND {piece.table}.id < :to * 1000"
                f" AND {column} IS NOT NULL GROUP BY probe.name",
                _span(piece.from_utc_s, piece.to_utc_s),
            )
            for name, temp_c, utc_s in rows:
                new = Extreme(temp_c, utc_s, piece.width_s)
                found[name] = better(found.get(name, new), new, key=lambda each: each.temp_c)
        return {name: self._pinned(name, column, extreme) for name, extreme in found.items()}

    def _pinned(self, probe: str, column: str, extreme: Extreme) -> Extreme:
        """The minute of an extreme known by its hour, as long as the minutes are there."""
        if extreme.within_s == MINUTE_S:
            return extreme
        rows = self.query(
            "SELECT utc_s FROM minute JOIN probe ON probe.id = minute.probe"  # noqa: S608
            f" WHERE minute.id >= :from * 1000 AND minute.id < :to * 1000 AND {column} = :temp"
            " AND probe.name = :name ORDER BY minute.id LIMIT 1",
            {
                "name": probe,
                "temp": extreme.temp_c,
                **_span(extreme.utc_s, extreme.utc_s + HOUR_S),
            },
        )
        return extreme._replace(utc_s=rows[0][0], within_s=MINUTE_S) if rows else extreme

    def _total(self, what: str, output: str, from_utc_s: float, to_utc_s: float) -> float | None:
        totals = []
        for piece in self._pieces("output_minute", "output_hour", from_utc_s, to_utc_s):
            rows = self.query(
                f"SELECT sum({what}) FROM {piece.table}"  # noqa: S608 - own words
                f" JOIN output ON output.id = {piece.table}.output AND output.name = :name"
                f" WHERE {piece.table}.id >= :from * 1000 AND {piece.table}.id < :to * 1000",
                {"name": output, **_span(piece.from_utc_s, piece.to_utc_s)},
            )
            totals.append(rows[0][0])
        known = [total for total in totals if total is not None]
        return sum(known) if known else None

    def _kept_from(self, minute: str, otherwise: int) -> int:
        """Minutes are deleted by whole hours: from here on none is missing."""
        first_minute = self.query(f"SELECT min(id) / 1000 FROM {minute}")[0][0]  # noqa: S608
        return otherwise if first_minute is None else hour_of(first_minute)

    def _pieces(self, minute: str, hour: str, from_utc_s: float, to_utc_s: float) -> "list[_Piece]":
        """A span cut so that whole hours come from the hours and the rest from the minutes.

        Where the minutes are gone, an hour counts by its start.
        """
        last_hour = self.query(f"SELECT max(id) / 1000 FROM {hour}")[0][0]  # noqa: S608
        start, end = _span(from_utc_s, to_utc_s).values()
        whole_from = self._kept_from(minute, end)
        summed_to = start if last_hour is None else last_hour + HOUR_S
        middle = max(start, min(end, whole_from))
        inner_from = -(-middle // HOUR_S) * HOUR_S
        inner_to = max(inner_from, min(hour_of(end), summed_to))
        cut = [
            _Piece(hour, HOUR_S, start, middle),
            _Piece(minute, MINUTE_S, middle, min(inner_from, end)),
            _Piece(hour, HOUR_S, inner_from, inner_to),
            _Piece(minute, MINUTE_S, inner_to, end),
        ]
        return [piece for piece in cut if piece.from_utc_s < piece.to_utc_s]


class _Piece(NamedTuple):
    table: str
    width_s: int
    from_utc_s: int
    to_utc_s: int


def _span(from_utc_s: float, to_utc_s: float) -> dict[str, int]:
    """Whole seconds: a row that begins within a second belongs to it."""
    return {"from": -int(-from_utc_s // 1), "to": -int(-to_utc_s // 1)}


def _flag(value: int | None) -> bool | None:
    return None if value is None else bool(value)


def _open(file: Path, *, handed_on: bool) -> sqlite3.Connection:
    _look(file)
    with _explained(file):
        db = sqlite3.connect(_uri(file), uri=True, check_same_thread=not handed_on)
        try:
            version = identify(db, file)
        except BaseException:
            db.close()
            raise
    if version != SCHEMA_VERSION:
        db.close()
        known = "an empty file" if version == 0 else f"of layout {version}"
        raise JournalError(f"{file} is {known}: start the keeper once, and it is made ready")
    return db


def _look(file: Path) -> None:
    """Whether it is there, and may be read. SQLite would only say that it cannot."""
    try:
        with file.open("rb"):
            return
    except FileNotFoundError as error:
        raise JournalError(
            f"{file}: there is no journal; the keeper makes it when it first runs"
        ) from error
    except PermissionError as error:
        raise JournalError(
            f"{file} may not be read by you: use sudo, or join the group it belongs to "
            "(`sudo usermod -aG greenkeeper NAME`, then log in again)"
        ) from error
    except OSError as error:
        raise JournalError(f"{file} cannot be read: {error.strerror}") from error


def _uri(file: Path) -> str:
    """With a log beside it a journal is in use, or was when the power went: read both.

    Without one nobody writes, and `immutable` reads it even from a folder in which the
    reader may not make the log's files (sqlite.org/wal.html, "Read-Only Databases"). On a
    journal in use it would miss all that is in the log.
    """
    in_use = file.with_name(f"{file.name}-wal").exists()
    return f"file:{quote(str(file))}?mode=ro{'' if in_use else '&immutable=1'}"


@contextmanager
def _explained(file: Path) -> Iterator[None]:
    try:
        with damage_named():
            yield
    except RefusedError as error:
        raise JournalError(str(error)) from error
    except DamagedError as error:
        raise JournalError(
            f"{file} is damaged or no journal at all ({error}). If it is the keeper's, the next"
            " start sets it aside and begins a new one"
        ) from error
    except sqlite3.Error as error:
        raise JournalError(f"{file} cannot be read: {error}") from error
