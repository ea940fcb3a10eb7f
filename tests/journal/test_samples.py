"""A journal of every released version is brought up to date, and loses nothing on the way."""

import lzma
import os
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from greenkeeper import __version__
from greenkeeper.journal import check
from greenkeeper.journal.opening import SCHEMA_VERSION, RefusedError, open_for_writing
from greenkeeper.journal.reader import Journal
from tests.journal.sample import SAMPLES

VERSIONS = sorted(path.name.removesuffix(".db.xz") for path in SAMPLES.glob("*.db.xz"))

Rows = dict[str, list[tuple[object, ...]]]


@pytest.fixture(params=VERSIONS)
def sample(request: pytest.FixtureRequest, file: Path) -> Path:
    """A fresh copy of that version's journal."""
    file.write_bytes(lzma.decompress((SAMPLES / f"{request.param}.db.xz").read_bytes()))
    return file


def contents(file: Path, columns: dict[str, list[str]] | None = None) -> Rows:
    """All rows of all tables; of these columns alone, where they are named."""
    with closing(sqlite3.connect(file)) as db:
        named = columns if columns is not None else columns_of(file)
        return {
            table: sorted(db.execute(f"SELECT {', '.join(names)} FROM {table}"), key=repr)  # noqa: S608
            for table, names in named.items()
        }


def columns_of(file: Path) -> dict[str, list[str]]:
    with closing(sqlite3.connect(file)) as db:
        tables = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type='table'")]
        return {
            table: [row[1] for row in db.execute("SELECT * FROM pragma_table_info(?)", (table,))]
            for table in tables
        }


def layout(file: Path) -> tuple[int, dict[str, str]]:
    with closing(sqlite3.connect(file)) as db:
        (version,) = db.execute("PRAGMA user_version").fetchone()
        return version, dict(db.execute("SELECT name, sql FROM sqlite_master"))


def test_this_version_has_a_sample_of_its_own() -> None:
    assert __version__ in VERSIONS, "run: python -m tests.journal.sample"


def test_this_version_s_sample_has_its_layout(tmp_path: Path) -> None:
    file = tmp_path / "journal.db"
    file.write_bytes(lzma.decompress((SAMPLES / f"{__version__}.db.xz").read_bytes()))
    open_for_writing(tmp_path / "new.db").close()
    assert layout(file) == layout(tmp_path / "new.db"), (
        "not released yet: python -m tests.journal.sample. Released: raise the version"
    )


def test_a_sample_has_every_sort_of_row(sample: Path) -> None:
    empty = {table for table, rows in contents(sample).items() if not rows}
    assert {table for table in empty if "humid" not in table and "hygro" not in table} == set()


def test_it_becomes_what_a_new_journal_is_and_every_row_is_still_there(
    sample: Path, tmp_path: Path
) -> None:
    columns, before = columns_of(sample), contents(sample)
    open_for_writing(sample).close()
    open_for_writing(tmp_path / "new.db").close()
    assert layout(sample) == layout(tmp_path / "new.db")
    assert contents(sample, columns) == before


def test_reports_read_it_and_find_it_whole(sample: Path) -> None:
    open_for_writing(sample).close()
    with Journal(sample) as journal:
        assert set(journal.probes()) == {"bench", "ridge"}
        span = journal.span()
        assert span is not None
        assert journal.lows(*span)["bench"].temp_c == pytest.approx(4.5)
        assert journal.energy_kwh("heater", *span) == pytest.approx(0.9, rel=0.2)
        assert not [each for each in check.findings(journal) if "damage" in each]


# What is killed in the middle of a step: it says so once the step has begun, and waits.
_KILLED = """
import sqlite3, sys, time
from pathlib import Path
from greenkeeper.journal.opening import migrate
file = Path(sys.argv[1])
db = sqlite3.connect(file, isolation_level=None)
def pause():
    print("within", flush=True)
    time.sleep(60)
db.create_function("pause", 0, pause)
(version,) = db.execute("PRAGMA user_version").fetchone()
step = "CREATE TABLE moon (phase TEXT); DELETE FROM minute; SELECT pause()"
migrate(db, file, version, {version: step}, version + 1)
"""


def test_a_power_cut_in_the_middle_leaves_the_old_one_whole(sample: Path) -> None:
    before, old = contents(sample), layout(sample)
    with subprocess.Popen(
        [sys.executable, "-c", _KILLED, str(sample)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "within\n"
        os.kill(process.pid, signal.SIGKILL)
    assert contents(sample) == before
    assert layout(sample) == old
    kept = sample.with_name(f"journal.db.layout-{old[0]}")
    assert contents(kept) == before
    open_for_writing(sample).close()


def test_who_goes_back_a_version_is_told_of_the_journal_that_was_kept(sample: Path) -> None:
    kept = sample.with_name(f"journal.db.layout-{SCHEMA_VERSION}")
    kept.write_bytes(sample.read_bytes())
    with closing(open_for_writing(sample)) as db:
        db.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    with pytest.raises(RefusedError, match="newer greenkeeper") as refused:
        open_for_writing(sample)
    assert str(kept) in str(refused.value)
    kept.unlink()
    with pytest.raises(RefusedError) as refused:
        open_for_writing(sample)
    assert str(kept) not in str(refused.value)
