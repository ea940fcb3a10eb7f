"""Prints what a whole keeper writes to the card on a frosty day, and through which files.

Not a test: it judges nothing. Rehearsed time, not real: the demo's own house and keeper, its
clock turned by hand, live through two invented frosty days, of which the second counts, when
everything has been done for the first time. The worst that is realistic has eight probes and
heat in proportion, whose pulses are many, and a journal whose minutes have grown as old as they
may: new ones come, and as many go.

As in life, the card is done with one tick before the next one comes; the kernel writes back
what a tick left within half a minute, so every tick that wrote is flushed; and the status file
lies in memory, as /run does. The figures are pages of 4 KiB sent to the disk (proc(5),
write_bytes). What the disk's own file system writes down about it comes on top: a card's stat
in /sys/block tells that. Where the kernel counts in larger pieces than pages, as it then says,
an ext4 image mounted with `-o loop,data=journal` is counted in pages.

Run: python -m tests.bench.bench_card [folder on the card to be measured]
"""

import ctypes
import io
import os
import sys
import tempfile
from collections import Counter
from pathlib import Path

from greenkeeper import logs
from greenkeeper.assembly import Parts, assemble
from greenkeeper.clock import HandClock
from greenkeeper.daemon import Keeper
from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute
from greenkeeper.journal.store import Keeping, Run, Store, minutes_end
from greenkeeper.model import Now, Tick
from greenkeeper.settings.load import load
from greenkeeper.settings.schema import Settings
from greenkeeper.status import StatusDocument
from tests.support import card

BUDGET_MB = 10.0  # a day, design 11
DAY_S = 86_400.0
HOUR_S = 3600.0
LIVED_DAYS = 9.0  # before the keeper; more than the fewest days that minutes are kept
BEGINS_UTC_S = 1_768_435_200.0  # 2026-01-15T00:00Z; the demo's weather is the same every day
MEMORY = "/dev/shm"  # noqa: S108 - for mkdtemp alone; tmpfs on every Linux with glibc: shm_overview(7)
CARD_S = 60.0  # longer than this a card takes only if it hangs
PROJECT = Path(__file__).parents[2]

_libc = ctypes.CDLL(None)


class Count:
    """Looks on at every tick, flushes what it left, and counts it from the second day on."""

    def __init__(self, parts: Parts, state: Path) -> None:
        assert parts.journal is not None
        self._journal, self._state = parts.journal, state
        self._folder = os.open(state, os.O_RDONLY | os.O_DIRECTORY)
        self._seen: dict[str, tuple[int, int]] = {}
        self._on: set[str] = set()
        self._before = card.written_bytes()
        self.switchings = 0
        self.bytes_by: Counter[str] = Counter()
        self.times: Counter[str] = Counter()

    def show(self, tick: Tick, document: StatusDocument) -> None:
        self._journal.settled(CARD_S)
        counts = tick.now.utc_s >= BEGINS_UTC_S + DAY_S
        on = {each.output for each in tick.commands if each.on}
        self.switchings += len(on ^ self._on) if counts else 0
        self._on = on
        seen = {each.name: _mark(each) for each in self._state.iterdir()}
        changed = {name for name in seen if seen[name] != self._seen.get(name)}
        self._seen = seen
        if changed:
            _libc.syncfs(self._folder)
            written = card.written_bytes()
            if counts:
                self.bytes_by[_whose(changed)] += written - self._before
                self.times[_whose(changed)] += 1
            self._before = written


def _mark(file: Path) -> tuple[int, int]:
    found = file.stat()
    return found.st_mtime_ns, found.st_ino


def _whose(changed: set[str]) -> str:
    if "journal.db-wal" in changed:
        return "commits of the journal"
    if "journal.db-jotted" in changed:
        return "switchings jotted down"
    return "other small files"


def grown(file: Path, settings: Settings) -> None:
    """A journal as it is once minutes go: all that are kept, and some more days behind them."""
    began = Now(0.0, BEGINS_UTC_S - LIVED_DAYS * DAY_S, True)
    journal = settings.journal
    keeping = Keeping("", settings.site.timezone, journal.keep_days, journal.minutes_days)
    store = Store.open(file, Run("", "", began), keeping)
    for batch in range(int(LIVED_DAYS * DAY_S / journal.batch_s)):
        before_s = (batch + 1) * journal.batch_s
        now = Now(before_s, began.utc_s + before_s, True)
        minutes: list[Minute] = []
        for utc_s in range(int(now.utc_s - journal.batch_s), int(now.utc_s), 60):
            minutes += (
                ProbeMinute(utc_s, name, "", 6, 5.01, 5.02, 5.03, 0) for name in settings.probes
            )
            minutes += (OutputMinute(utc_s, name, None, 30.5, 1) for name in settings.outputs)
        is_hour = before_s % HOUR_S == 0
        store.write(minutes, [], now.utc_s, minutes_end(now, keeping) if is_hour else None)
    store.close()


def day(folder: Path, house: str) -> Count:
    """A house's second frosty day."""
    folder.mkdir()
    state, file = folder / "state", folder / "house.yaml"
    state.mkdir()
    with tempfile.TemporaryDirectory(dir=MEMORY) as runtime:
        folders = f"folders: {{state: {state}, runtime: {runtime}}}"
        file.write_text(f"{house}\n{folders}\n", encoding="utf-8")
        clock = HandClock(utc_s=BEGINS_UTC_S)
        settings = load(file)
        if settings.journal.minutes_days < LIVED_DAYS:
            grown(state / "journal.db", settings)
        parts = assemble(file, settings, clock)
        count = Count(parts, state)
        Keeper(parts, clock, viewer=count).run(until_s=clock.mono_s() + 2.0 * DAY_S)
    return count


def main(folder: str | None = None) -> None:
    logs.set_up(io.StringIO())
    demo = (PROJECT / "config" / "demo.yaml").read_text(encoding="utf-8")
    more = "".join(f"  more-{n}: {{kind: modelled, place: bench}}\n" for n in range(4))
    eight = demo.replace("\noutputs:\n", f"{more}\noutputs:\n")
    pulsing = eight.replace("margin_k: 1}", "margin_k: 1, strategy: proportion}")
    full = f"{pulsing}\njournal: {{minutes_days: 7}}\n"
    assert demo != eight != pulsing
    with tempfile.TemporaryDirectory(dir=folder) as made:
        print(card.remark(made) or "counted in pages of 4 KiB")
        for number, (what, house) in enumerate(
            (
                ("4 probes, a plain switch", demo),
                ("8 probes, heat in proportion", pulsing),
                ("likewise, while old minutes go", full),
            )
        ):
            found = day(Path(made) / str(number), house)
            total_mb = found.bytes_by.total() / 1e6
            print(f"a frosty day, {what}, {found.switchings} switchings")
            print(f"{'  to the card':<32}{total_mb:>8.2f} MB   budget {BUDGET_MB:g} MB")
            for whose, size in found.bytes_by.most_common():
                print(f"{f'    {whose}':<32}{size / 1e6:>8.2f} MB   {found.times[whose]} times")


if __name__ == "__main__":
    main(*sys.argv[1:2])
