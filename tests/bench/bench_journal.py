"""Prints what the journal costs: card writes a day, size in ten years, time in the loop.

Not a test: it judges nothing. The house is invented: 8 probes, 3 outputs, a tick every
10 s, the heater switching some 100 times a day; and, for the busy day, 200 times.

Days are lived through in seconds, but the kernel writes back within half a minute, and so
everything is flushed after each commit: otherwise the log's index, a file that is mapped, would
seem to be written once. That the disk's own file system has to write down what it did comes
on top; a card's stat in /sys/block tells that. Where the kernel counts in larger pieces than
pages, as it then says, an ext4 image mounted with `-o loop,data=journal` is counted in pages.

Run: python -m tests.bench.bench_journal [folder on the card to be measured]
"""

import math
import os
import sqlite3
import statistics
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from greenkeeper.journal.writer import JournalWriter
from greenkeeper.model import Now, Tick
from greenkeeper.settings.schema import Settings
from tests.journal import ticks
from tests.support import card

PROBES = tuple(f"probe-{number}" for number in range(8))
OUTPUTS = {"heater": 1500.0, "fan": 25.0, "stirrer": 15.0}
TICK_S = 10
TICKS_A_DAY = 8640
DAYS = 10
BUSY_DAY = 2
MINUTES_DAYS = 7  # the least allowed: the last days of the course delete as much as they add
HEATER_PERIOD_S = 1730  # on for a third of it: 100 switchings a day
BUSY_PERIOD_S = 865

WRITES_BUDGET_MB = 10.0
SIZE_BUDGET_MB = 500.0


class Day(NamedTuple):
    """What one simulated day took."""

    card_bytes: int  # pages made dirty, as the kernel counts them (proc_pid_io(5), write_bytes)
    call_bytes: int  # handed to write calls (wchar)
    file_bytes: int  # of the database at the day's end, its log not counted


def _settings() -> Settings:
    return ticks.settings(PROBES, OUTPUTS, minutes_days=MINUTES_DAYS)


def _tick(number: int, period_s: int = HEATER_PERIOD_S) -> Tick:
    now = ticks.at(number * TICK_S)
    # Every probe reads sixteenths of a degree, as a DS18B20 does.
    temps = {
        name: round((6.0 + index + 4.0 * math.sin(number / 1300.0 + index)) * 16) / 16
        for index, name in enumerate(PROBES)
    }
    heating = number * TICK_S % period_s < period_s / 3
    zone = ticks.zone(wanted=heating)
    return ticks.tick(now, temps, {"heater": heating, "fan": False, "stirrer": False}, zones=[zone])


def _io(field: str) -> int:
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return next(int(line.split(": ")[1]) for line in lines if line.startswith(f"{field}:"))


def _live(folder: Path) -> tuple[list[Day], list[float], Path]:
    """Live through the days; returns them, the seconds of each record(), and the file."""
    file = folder / "journal.db"
    writer = JournalWriter(file, _settings(), ticks.START, "bench")
    days, took_s = [], []
    for day in range(DAYS):
        pages, calls = _io("write_bytes"), _io("wchar")
        period_s = BUSY_PERIOD_S if day == BUSY_DAY else HEATER_PERIOD_S
        for number in range(day * TICKS_A_DAY, (day + 1) * TICKS_A_DAY):
            tick = _tick(number, period_s)
            before = _io("wchar")
            began_s = time.perf_counter()
            writer.record(tick)
            took_s.append(time.perf_counter() - began_s)
            # As in life, the card is done with one tick before the next one comes.
            writer.settled(60.0)
            if _io("wchar") > before:
                os.sync()
        size = file.stat().st_size
        days.append(Day(_io("write_bytes") - pages, _io("wchar") - calls, size))
    writer.close(Now(*ticks.at(DAYS * 86_400.0)), clean=True)
    return days, took_s, file


def _table_bytes(file: Path) -> dict[str, float]:
    """Bytes each table and its indexes take, by dbstat."""
    query = "SELECT name, sum(pgsize) FROM dbstat GROUP BY name"
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
        return dict(db.execute(query).fetchall())


def _ten_years_mb(file: Path) -> float:
    """From what a minute, an hour and a day of each kind took here."""
    took = _table_bytes(file)
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
        minutes = int(db.execute("SELECT count(DISTINCT utc_s) FROM minute").fetchone()[0])
    kept = ticks.settings().journal
    a_minute = (took["minute"] + took["output_minute"]) / minutes
    a_day = sum(size for name, size in took.items() if "minute" not in name) / DAYS
    return (a_minute * 1440 * kept.minutes_days + a_day * kept.keep_days) / 1e6


def _print(what: str, figure: str, budget: str = "") -> None:
    print(f"{what:<50}{figure:>14}  {budget}")


def main(folder: str | None = None) -> None:
    with tempfile.TemporaryDirectory(dir=folder) as made:
        print(card.remark(made) or "counted in pages of 4 KiB")
        days, took_s, file = _live(Path(made))
        first, busy, last = days[1], days[BUSY_DAY], days[-1]
        mb = 1e6
        _print("write calls, a day while the file grows", f"{first.call_bytes / mb:.2f} MB")
        _print(
            "pages to the card, a day while it grows",
            f"{first.card_bytes / mb:.2f} MB",
            f"budget {WRITES_BUDGET_MB:.0f} MB",
        )
        _print(
            "pages to the card, a busy day",
            f"{busy.card_bytes / mb:.2f} MB",
            f"budget {WRITES_BUDGET_MB:.0f} MB",
        )
        _print("write calls, a day once old minutes go", f"{last.call_bytes / mb:.2f} MB")
        _print(
            "pages to the card, a day once old minutes go",
            f"{last.card_bytes / mb:.2f} MB",
            f"budget {WRITES_BUDGET_MB:.0f} MB",
        )
        _print("file after the first day", f"{days[0].file_bytes / mb:.2f} MB")
        _print("file after the last day", f"{last.file_bytes / mb:.2f} MB")
        ten_years = _ten_years_mb(file)
        _print(
            "file after ten years, worked out",
            f"{ten_years:.0f} MB",
            f"budget {SIZE_BUDGET_MB:.0f} MB",
        )
        _print("record(), median", f"{statistics.median(took_s) * 1e6:.0f} µs")
        _print(
            "record(), 99.9 % within", f"{statistics.quantiles(took_s, n=1000)[-1] * 1e6:.0f} µs"
        )
        _print("record(), longest", f"{max(took_s) * 1e6:.0f} µs")


if __name__ == "__main__":
    main(*sys.argv[1:2])
