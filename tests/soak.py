"""Lives with a keeper for an hour, and lets another live through a year: does anything grow?

Prints, and judges nothing but what must not grow. Not part of `make test`.
Run: python -m tests.soak [--minutes 60] [--days 365], or `make soak`

The hour is real: demo settings, a real Mosquitto, ticks every 10 s, log lines into a file as
they would go to the system's log. The year is the demo's own keeper under a clock that runs
as fast as it can, which takes an hour or two, with a journal on this disk; a frosty night
comes every day of it.
Card writes are /proc/PID/io's write_bytes (proc(5)): what was sent to a disk, in whole
pages. On a file system in memory they are nothing, and so a folder on a disk is needed.
In the year they are not: there the status file lies on the disk as well, day for day.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import psutil

from tests.support import card
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

PROJECT = Path(__file__).parents[1]
MIB = 1024.0 * 1024.0
DAY_S = 86_400.0
MEMORY = "/dev/shm"  # noqa: S108 - for mkdtemp alone; tmpfs on every Linux with glibc: shm_overview(7)
CARD_BUDGET_MB = 10.0  # a day, design 11
SETTLED_SHARE = 0.2  # the beginning, in which everything is done for the first time
# SQLite's cache of pages alone may grow to 2 MB as the journal does (sqlite.org, PRAGMA
# cache_size: -2000 unless set). A leak of ten bytes a tick would be 30 MB in a year.
GROWTH_MIB = 3.0


class Look(NamedTuple):
    at_s: float
    memory_mib: float
    handles: int
    threads: int
    written_mb: float
    journal_mb: float
    log_bytes: int


def look(process: psutil.Process, began_s: float, state: Path, log: Path) -> Look:
    return Look(
        time.monotonic() - began_s,
        process.memory_info().rss / MIB,
        process.num_fds(),
        process.num_threads(),
        process.io_counters().write_bytes / 1e6,
        sum(each.stat().st_size for each in state.glob("journal.db*")) / 1e6,
        log.stat().st_size if log.exists() else 0,
    )


def watched(
    command: list[str], folder: Path, ends: Callable[[float], bool], every_s: float
) -> Iterator[Look]:
    """Looks at a program every so often, until it ends or `ends` says so of the seconds."""
    log, state = folder / "log", folder / "state"
    with (
        log.open("wb") as out,
        subprocess.Popen(command, cwd=PROJECT, stdout=subprocess.DEVNULL, stderr=out) as running,
    ):
        try:
            process, began_s = psutil.Process(running.pid), time.monotonic()
            eventually(lambda: (state / "journal.db").exists(), "no journal", 60.0)
            while running.poll() is None and not ends(time.monotonic() - began_s):
                try:
                    yield look(process, began_s, state, log)
                except (psutil.NoSuchProcess, psutil.ZombieProcess, psutil.AccessDenied):
                    break
                time.sleep(every_s)
        finally:
            running.terminate()
    if running.returncode != 0:
        raise SystemExit(f"it ended with {running.returncode}:\n{log.read_text()[-2000:]}")


def hour(folder: Path, minutes: float) -> list[Look]:
    with (
        Mosquitto(folder / "mosquitto") as broker,
        tempfile.TemporaryDirectory(dir=MEMORY) as runtime,  # as /run is: never on the card
    ):
        demo = (PROJECT / "config/demo.yaml").read_text(encoding="utf-8")
        file = folder / "house.yaml"
        file.write_text(
            f"{demo}\nbroker: {{host: 127.0.0.1, port: {broker.port}}}\n"
            f"folders: {{state: {folder / 'state'}, runtime: {runtime}}}\n",
            encoding="utf-8",
        )
        command = [sys.executable, "-m", "greenkeeper", "run", "--settings", str(file)]
        return told(
            watched(command, folder, lambda s: s > 60.0 * minutes, min(60.0, 3.0 * minutes)),
            every=max(1, round(minutes / 12)),
        )


def year(folder: Path, days: float) -> list[Look]:
    command = [sys.executable, "-m", "greenkeeper", "demo"]
    command += ["--for", f"{days:g}d", "--speed", "0", "--folder", str(folder)]
    return told(watched(command, folder, lambda _: False, 2.0), every=15)


def told(looks: Iterator[Look], every: int) -> list[Look]:
    print(f"{'s':>7}{'MiB':>8}{'handles':>9}{'threads':>9}{'written MB':>12}{'journal MB':>12}")
    found = []
    for number, each in enumerate(looks):
        found.append(each)
        if number % every == 0:
            print(
                f"{each.at_s:>7.0f}{each.memory_mib:>8.1f}{each.handles:>9}{each.threads:>9}"
                f"{each.written_mb:>12.2f}{each.journal_mb:>12.2f}",
                flush=True,
            )
    return found


def grown(looks: list[Look]) -> list[str]:
    """What grew between the first look after settling and the last, and should not have."""
    settled = looks[int(len(looks) * SETTLED_SHARE) :]
    first, last = settled[0], settled[-1]
    found = []
    if last.memory_mib - first.memory_mib > GROWTH_MIB:
        found.append(f"memory grew from {first.memory_mib:.1f} to {last.memory_mib:.1f} MiB")
    for what in ("handles", "threads"):
        before = max(getattr(each, what) for each in settled[: len(settled) // 2 or 1])
        if getattr(last, what) > before:
            found.append(f"{what} grew from {before} to {getattr(last, what)}")
    return found


def a_day(looks: list[Look]) -> None:
    """What the hour comes to in a day, from what came after settling."""
    settled = looks[int(len(looks) * SETTLED_SHARE) :]
    first, last = settled[0], settled[-1]
    share = DAY_S / (last.at_s - first.at_s)
    written = (last.written_mb - first.written_mb) * share
    log = (last.log_bytes - first.log_bytes) * share / 1e3
    said = card.remark(PROJECT)
    print(f"card writes a day    {written:8.2f} MB   (budget {CARD_BUDGET_MB:g} MB)")
    if said is not None:
        print(f"                     ({said})")
    print(f"log a day            {log:8.1f} kB")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.soak")
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--days", type=float, default=365.0)
    args = parser.parse_args()
    found = []
    # Beside the checkout, not in /tmp: that may be memory, where nothing is ever written.
    with tempfile.TemporaryDirectory(dir=PROJECT, prefix=".soak-") as name:
        for part in ("hour", "year"):
            (Path(name) / part).mkdir()
        if args.minutes:
            print(f"== {args.minutes:g} minutes at real speed", flush=True)
            looks = hour(Path(name) / "hour", args.minutes)
            a_day(looks)
            found += grown(looks)
        if args.days:
            print(f"== {args.days:g} days as fast as it goes", flush=True)
            looks = year(Path(name) / "year", args.days)
            print(f"journal for each day {looks[-1].journal_mb / args.days * 1e3:8.1f} kB")
            found += grown(looks)
    print("\n".join(found) or "nothing grew")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
