"""Prints how much memory the owner's questions take at their most, on a journal of ten years.

Not a test: it judges nothing. There is no budget of design 11 for them; a board with 512 MiB
has some 300 to spare beside its system, the keeper and the page. What the page takes is in
bench_page, the keeper in bench_keeper.

Run: python -m tests.bench.bench_memory
"""

import json
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from tests.bench.bench_nights import YEARS, ten_years
from tests.reports.nights import HOUSE

# Within the process itself: the system's ru_maxrss goes on counting from whoever started it.
_ASKED = """
import atexit, sys
from greenkeeper.commands import main
def tell():
    with open("/proc/self/status") as status:
        peak = next(line for line in status if line.startswith("VmHWM:"))
    print(peak.split()[1], file=sys.stderr)
atexit.register(tell)
sys.exit(main())
"""
_A_DAY = 60  # switchings, of heat in proportion on a cold one

_SWITCHINGS = """
WITH RECURSIVE moment(utc_s) AS (
    SELECT :from UNION ALL SELECT utc_s + :step FROM moment WHERE utc_s + :step < :to
)
INSERT OR IGNORE INTO switching SELECT utc_s, (SELECT max(id) FROM run), utc_s,
 (SELECT min(id) FROM output), utc_s / :step % 2, 'bench-left 4.9 \N{DEGREE SIGN}C is below 5.0'
 FROM moment
"""


def _switched(file: Path, evening: date) -> None:
    end_s = datetime(evening.year, evening.month, evening.day, tzinfo=UTC).timestamp()
    span = {"from": end_s - YEARS * 365 * 86_400, "to": end_s, "step": 86_400 // _A_DAY}
    with closing(sqlite3.connect(file)) as db, db:
        db.execute(_SWITCHINGS, span)


def _peak(*words: str) -> tuple[float, float]:
    """MiB at its most, and seconds."""
    began_s = time.perf_counter()
    ended = subprocess.run(
        [sys.executable, "-c", _ASKED, *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    if ended.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(words)}: {ended.stderr}")
    return int(ended.stderr.split()[-1]) / 1024.0, time.perf_counter() - began_s


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        journal, settings = folder / "journal.db", folder / "greenkeeper.yaml"
        evening = datetime.now(UTC).date() - timedelta(days=1)
        ten_years(journal, evening)
        _switched(journal, evening)
        # JSON is YAML as well.
        of_house = HOUSE.model_dump(mode="json", exclude_unset=True)
        settings.write_text(json.dumps(of_house), encoding="utf-8")
        print(f"a journal of {YEARS} years, {journal.stat().st_size / 1e6:.0f} MB")

        def since(days: int) -> list[str]:
            return ["--from", f"{evening - timedelta(days=days)}"]

        lastnight = ["lastnight", "--settings", str(settings), "--file", str(journal)]
        export = ["journal", "export", "--file", str(journal), "--out", str(folder / "out.csv")]
        picture = ["--picture", str(folder / "night.png")]
        for what, words in (
            ("lastnight", lastnight),
            ("lastnight of a month", [*lastnight, *since(30)]),
            ("lastnight of a year", [*lastnight, *since(365)]),
            ("lastnight of ten years", [*lastnight, *since(3640)]),
            ("lastnight --winter", [*lastnight, "--winter"]),
            ("lastnight --picture", [*lastnight, *picture]),
            ("lastnight of a year --picture", [*lastnight, *since(365), *picture]),
            ("lastnight of ten years --picture", [*lastnight, *since(3640), *picture]),
            ("journal export, all minutes", [*export, "--table", "minutes"]),
            ("journal export, all switchings", [*export, "--table", "switchings"]),
            ("journal check", ["journal", "check", "--file", str(journal)]),
            ("season", ["season", "--settings", "config/demo.yaml"]),
        ):
            mib, took_s = _peak(*words)
            print(f"{what:<44}{mib:>6.0f} MiB{took_s:>8.1f} s")


if __name__ == "__main__":
    main()
