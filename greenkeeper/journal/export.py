"""The journal as plain tables, for spreadsheets and other programs.

Lives here: which columns a table has when it leaves, with units in their names, and
CSV (RFC 4180) or JSON lines of it. Times are UTC, ISO 8601 with a Z; what is missing is
an empty field or null. Does not live here: files, options and progress.
"""

import csv
import io
import json
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import DAY_S, utc_text


class Sheet(NamedTuple):
    """columns: the first one is the time. sql: over :from <= utc_s < :to, in that order."""

    columns: tuple[str, ...]
    sql: str
    days_at_once: int


def _temperatures(table: str) -> str:
    return (
        "SELECT utc_s, name, n, low_c, round(mean_c, 4), high_c, bad"  # noqa: S608 - own words
        f" FROM {table} JOIN probe ON probe.id = {table}.probe"
        f" WHERE {table}.id >= :from * 1000 AND {table}.id < :to * 1000 ORDER BY {table}.id"
    )


def _humidities(table: str) -> str:
    return (
        "SELECT utc_s, name, n, low_pct, round(mean_pct, 3), high_pct, bad"  # noqa: S608 - own words
        f" FROM {table} JOIN hygrometer ON hygrometer.id = {table}.hygrometer"
        f" WHERE {table}.id >= :from * 1000 AND {table}.id < :to * 1000 ORDER BY {table}.id"
    )


def _on_times(table: str) -> str:
    return (
        "SELECT utc_s, name, on_s, switchings, power_w"  # noqa: S608 - own words
        f" FROM {table} JOIN output ON output.id = {table}.output"
        f" WHERE {table}.id >= :from * 1000 AND {table}.id < :to * 1000 ORDER BY {table}.id"
    )


_TEMPERATURES = ("utc", "probe", "measurements", "low_c", "mean_c", "high_c", "bad_ticks")
_HUMIDITIES = (
    *("utc", "hygrometer", "measurements"),
    *("low_pct", "mean_pct", "high_pct", "bad_ticks"),
)
_ON_TIMES = ("utc", "output", "on_s", "switchings", "power_w")

SHEETS = {
    "minutes": Sheet(_TEMPERATURES, _temperatures("minute"), 1),
    "hours": Sheet(_TEMPERATURES, _temperatures("hour"), 30),
    "humidity-minutes": Sheet(_HUMIDITIES, _humidities("humidity_minute"), 1),
    "humidity-hours": Sheet(_HUMIDITIES, _humidities("humidity_hour"), 30),
    "output-minutes": Sheet(_ON_TIMES, _on_times("output_minute"), 1),
    "output-hours": Sheet(_ON_TIMES, _on_times("output_hour"), 30),
    "switchings": Sheet(
        ("utc", "output", "is_on", "reason", "run", "mono_s"),
        "SELECT utc_s, name, is_on, reason, run, mono_s"
        " FROM switching JOIN output ON output.id = switching.output"
        " WHERE utc_s >= :from AND utc_s < :to ORDER BY utc_s, run, mono_s, name",
        30,
    ),
    "zones": Sheet(
        (
            *("utc", "zone", "period", "heat_setpoint_c", "cool_setpoint_c", "min_c", "max_c"),
            *("heat_wanted", "cool_wanted", "run", "mono_s"),
        ),
        "SELECT utc_s, zone, period, heat_setpoint_c, cool_setpoint_c, min_c, max_c,"
        " heat_wanted, cool_wanted, run, mono_s FROM zone_change"
        " WHERE utc_s >= :from AND utc_s < :to ORDER BY utc_s, run, mono_s, zone",
        30,
    ),
    "events": Sheet(
        ("utc", "code", "phase", "subject", "text", "run", "mono_s"),
        "SELECT utc_s, code, phase, subject, text, run, mono_s FROM event"
        " WHERE utc_s >= :from AND utc_s < :to ORDER BY utc_s, id",
        30,
    ),
}


class Piece(NamedTuple):
    done: float  # how much of the whole is out with this piece, 0 to 1
    text: str


def pieces(
    journal: Journal, table: str, from_utc_s: float, to_utc_s: float, *, as_json: bool
) -> Iterator[Piece]:
    """One of SHEETS as text, a few days at a time; the first piece begins with the header.

    Each piece is one short query: a slow receiver must not hold a reading open, for that
    keeps the writer's log from being folded away. Raises JournalError.
    """
    sheet = SHEETS[table]
    if not as_json:
        yield Piece(0.0, _csv([sheet.columns]))
    start, end = int(from_utc_s), int(-(-to_utc_s // 1))
    step_s = sheet.days_at_once * DAY_S
    for begin in range(start, end, step_s):
        until = min(begin + step_s, end)
        found = journal.query(sheet.sql, {"from": begin, "to": until})
        rows = [(utc_text(row[0]), *row[1:]) for row in found]
        text = _json_lines(sheet.columns, rows) if as_json else _csv(rows)
        yield Piece((until - start) / (end - start), text)


def _csv(rows: Sequence[Sequence[Any]]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)  # lines end in CR LF, as RFC 4180 has it
    return out.getvalue()


def _json_lines(columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> str:
    return "".join(
        json.dumps(dict(zip(columns, row, strict=True)), ensure_ascii=False) + "\n" for row in rows
    )
