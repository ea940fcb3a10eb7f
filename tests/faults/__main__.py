"""Every fault of the catalogue, played and printed: `make faults`.

    python -m tests.faults                       all of them
    python -m tests.faults probes 'broker-*'     rooms and faults by name
    GREENKEEPER_STRATEGY=proportion python -m tests.faults      with heat in proportion

Exit code 0: all hold. 1: at least one does not. 2: no fault is called so.
"""

import argparse
import contextlib
import io
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable, Mapping, Sequence
from fnmatch import fnmatch
from pathlib import Path

os.environ.setdefault("GREENKEEPER_FAULTS", "all")  # before play.py looks

from tests.faults import catalogue, table
from tests.faults.play import play
from tests.faults.yard import Yard


def main() -> int:
    parser = argparse.ArgumentParser(prog="make faults", description="play the faults")
    parser.add_argument("names", nargs="*", help="rooms or faults, * allowed (default: all)")
    names = parser.parse_args().names
    chosen = _chosen(names)
    if not chosen:
        print(f"no fault or room is called {' or '.join(names)}; the rooms are:", file=sys.stderr)
        print(f"  {', '.join(catalogue.GROUPS)}", file=sys.stderr)
        return 2
    print(table.LEGEND)
    began_s = time.monotonic()
    played = _play_all(chosen)
    print(f"\n{table.summed(played, time.monotonic() - began_s)}")
    return 1 if any(each.outcome is None for each in played) else 0


def _chosen(names: Sequence[str]) -> dict[str, list[catalogue.Row]]:
    wanted = names or ["*"]
    chosen = {
        room: [
            row
            for row in rows
            if any(fnmatch(each, n) for n in wanted for each in (room, row.name))
        ]
        for room, rows in catalogue.GROUPS.items()
    }
    return {room: rows for room, rows in chosen.items() if rows}


def _play_all(chosen: Mapping[str, Sequence[catalogue.Row]]) -> list[table.Played]:
    bar = table.Bar(sum(map(len, chosen.values())))
    done: list[table.Played] = []
    with tempfile.TemporaryDirectory(prefix="faults-") as name, Yard(Path(name) / "yard") as yard:
        for room, rows in chosen.items():
            _show(bar, table.head(room, len(rows)))
            for row in rows:
                bar.show(len(done), row.name)
                folder = Path(name) / f"{len(done)}"
                folder.mkdir()
                done.append(_play_one(row, folder, yard))
                shutil.rmtree(folder)
                _show(bar, table.lines(done[-1]))
    bar.wipe()
    return done


def _show(bar: table.Bar, lines: Iterable[str]) -> None:
    bar.wipe()
    for line in lines:
        print(line)
    sys.stdout.flush()


def _play_one(row: catalogue.Row, folder: Path, yard: Yard) -> table.Played:
    try:
        # A thread that outlives its house for a moment logs where structlog does by default.
        with contextlib.redirect_stdout(io.StringIO()):
            outcome = play(row, folder, yard)
    except Exception as error:  # noqa: BLE001 - whatever it is, it is the finding
        return table.Played(row.name, row.broken, None, f"{type(error).__name__}: {error}")
    return table.Played(row.name, row.broken, outcome)


if __name__ == "__main__":
    sys.exit(main())
