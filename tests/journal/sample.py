"""Makes the sample journal of this version: an invented night, written by the real writer.

Run once for each release, and again while a version is not released yet:
    python -m tests.journal.sample
writes tests/journal/samples/VERSION.db.xz. Those of released versions are never made
anew: they are what is out there on people's cards (test_samples.py).
"""

import lzma
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from greenkeeper import __version__
from greenkeeper.journal.writer import JournalWriter
from greenkeeper.model import Fault
from tests.journal import ticks

SAMPLES = Path(__file__).with_name("samples")
_TICK_S = 30.0
_TICKS = 300  # two hours and a half
_BLIND = range(100, 110)
_STEPPED_S = 3600.0  # how far the civil clock is set forward in the middle


def write(file: Path) -> None:
    """Every sort of row that this version knows, all of it invented."""
    settings = ticks.settings(probes=("bench", "ridge"), outputs={"heater": 1500.0, "fan": None})
    writer = JournalWriter(file, settings, ticks.START, __version__)
    for number in range(_TICKS):
        stepped_s = _STEPPED_S if number > _TICKS // 2 else 0.0
        seconds = number * _TICK_S
        now = ticks.after(ticks.START, seconds, civil_s=seconds + stepped_s)
        cold = 4.5 + (number % 40) / 40
        writer.record(
            ticks.tick(
                now,
                {"bench": Fault.CHECKSUM if number in _BLIND else cold, "ridge": cold + 1.0},
                {"heater": number % 40 < 10, "fan": number % 100 == 50},
                zones=[ticks.zone(setpoint_c=5.0 + (number > 200), wanted=number % 40 < 10)],
                events=[ticks.event(now)] if number == _BLIND.start else (),
            )
        )
        writer.settled(60.0)
    writer.close(now, clean=True)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "journal.db"
        write(file)
        with closing(sqlite3.connect(file)) as db:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        SAMPLES.mkdir(exist_ok=True)
        made = SAMPLES / f"{__version__}.db.xz"
        made.write_bytes(lzma.compress(file.read_bytes(), preset=9))
    print(f"{made}: {made.stat().st_size} bytes")


if __name__ == "__main__":
    main()
