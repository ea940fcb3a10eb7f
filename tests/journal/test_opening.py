"""The file: made, found whole, brought up to date, refused or set aside."""

import sqlite3
from contextlib import closing
from importlib import resources
from pathlib import Path

import pytest

from greenkeeper.journal import opening
from greenkeeper.journal.opening import (
    APPLICATION_ID,
    SCHEMA_VERSION,
    DamagedError,
    RefusedError,
    migrate,
    open_for_writing,
    set_aside,
)
from tests.journal.ticks import UTC_S


def test_a_new_file_is_made_whole_and_known_as_ours(file: Path) -> None:
    with closing(open_for_writing(file)) as db:
        assert db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
        assert db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert db.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
        assert db.execute("PRAGMA secure_delete").fetchone() == (0,)


def test_an_empty_file_is_a_journal_not_begun(file: Path) -> None:
    file.touch()
    open_for_writing(file).close()
    with closing(sqlite3.connect(file)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)


def test_a_missing_folder_is_a_trouble_that_may_pass(tmp_path: Path) -> None:
    with pytest.raises(sqlite3.OperationalError):
        open_for_writing(tmp_path / "not there" / "journal.db")
    assert list(tmp_path.iterdir()) == []


def test_a_file_name_with_odd_characters_is_taken_as_it_is(tmp_path: Path) -> None:
    file = tmp_path / "a #1 50% journal?.db"
    open_for_writing(file).close()
    assert file.exists()


def test_a_newer_journal_is_refused_and_left_as_it_is(file: Path) -> None:
    with closing(open_for_writing(file)) as db:
        db.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    before = file.read_bytes()
    with pytest.raises(RefusedError, match="newer greenkeeper"):
        open_for_writing(file)
    assert file.read_bytes() == before


def test_somebody_elses_database_is_refused_and_left_as_it_is(file: Path) -> None:
    with closing(sqlite3.connect(file)) as db:
        db.execute("CREATE TABLE recipes (name)")
    before = file.read_bytes()
    with pytest.raises(RefusedError, match="not a greenkeeper journal"):
        open_for_writing(file)
    assert file.read_bytes() == before


def _written(file: Path) -> None:
    """A journal large enough to have something to damage."""
    with closing(open_for_writing(file)) as db:
        db.execute("BEGIN")
        db.execute("INSERT INTO probe VALUES (1, 'bench', '')")
        db.executemany(
            "INSERT INTO minute (id, n, bad) VALUES (? * 1000 + 1, 6, 0)",
            [(minute * 60,) for minute in range(5_000)],
        )
        db.execute("COMMIT")


@pytest.mark.parametrize(
    ("damage", "why"),
    [
        (lambda data: data[: len(data) // 2], "cut off"),
        (lambda data: data[:8192] + b"\xa5" * 20480 + data[28672:], "pages overwritten"),
        (lambda data: b"\0" * 4096 + data[4096:], "the first page erased"),
        (lambda _: b"probes:\n  bench: {kind: onewire}\n" * 40, "no database at all"),
        (lambda data: data[:50], "hardly begun"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_damaged_file_is_found_out(file: Path, damage: object, why: str) -> None:
    _written(file)
    assert callable(damage), why
    file.write_bytes(damage(file.read_bytes()))
    with pytest.raises(DamagedError):
        open_for_writing(file)


def test_a_damaged_file_is_set_aside_with_its_companions(file: Path) -> None:
    for suffix in ("", "-wal", "-shm"):
        file.with_name(file.name + suffix).write_text(f"content{suffix}")
    kept = set_aside(file, UTC_S)
    assert kept.name == "journal.db.damaged-20270115T080000Z"
    assert {each.name: each.read_text() for each in file.parent.iterdir()} == {
        f"{kept.name}{suffix}": f"content{suffix}" for suffix in ("", "-wal", "-shm")
    }


def test_two_damaged_files_of_the_same_second_are_both_kept(file: Path) -> None:
    for content in ("first", "second"):
        file.write_text(content)
        set_aside(file, UTC_S)
    assert sorted(each.read_text() for each in file.parent.iterdir()) == ["first", "second"]


# --- migrations: first the true one, then invented ones -----------------------------------


def _layout_1(file: Path) -> None:
    """A journal as the first layout made it, with a measurement in it."""
    schema = resources.files("greenkeeper.journal").joinpath("schema.sql").read_text("utf-8")
    with closing(sqlite3.connect(file)) as db:
        db.executescript(f"{schema};PRAGMA application_id = {opening.APPLICATION_ID};")
        db.executescript("PRAGMA user_version = 1; INSERT INTO probe VALUES (1, 'bench', '');")
        db.execute("INSERT INTO minute (id, n, low_c, bad) VALUES (60001, 6, 4.5, 0)")
        db.commit()


def _layout(file: Path) -> dict[str, str]:
    with closing(sqlite3.connect(file)) as db:
        return dict(db.execute("SELECT name, sql FROM sqlite_master"))


def test_a_journal_of_the_first_layout_becomes_what_a_new_one_is_and_loses_nothing(
    file: Path,
) -> None:
    _layout_1(file)
    with closing(open_for_writing(file)) as db:
        assert db.execute("SELECT low_c FROM minute").fetchall() == [(4.5,)]
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
    new = file.with_name("new.db")
    open_for_writing(new).close()
    assert _layout(file) == _layout(new)
    assert file.with_name("journal.db.layout-1").exists()


STEPS = {
    SCHEMA_VERSION: "ALTER TABLE run ADD COLUMN weather TEXT; UPDATE run SET weather = 'cold'",
    SCHEMA_VERSION + 1: "CREATE TABLE moon (phase TEXT) STRICT",
}


def test_an_older_journal_is_brought_up_to_date_step_by_step_and_kept_as_it_was(
    file: Path,
) -> None:
    with closing(open_for_writing(file)) as db:
        db.execute("INSERT INTO run VALUES (1, 'boot', '1', 0.0, 0.0, NULL, NULL, NULL)")
        migrate(db, file, SCHEMA_VERSION, STEPS, SCHEMA_VERSION + 2)
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION + 2,)
        assert db.execute("SELECT weather FROM run").fetchall() == [("cold",)]
        assert db.execute("SELECT count(*) FROM moon").fetchone() == (0,)
    kept = file.with_name(f"journal.db.layout-{SCHEMA_VERSION}")
    with closing(sqlite3.connect(kept)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
        assert db.execute("SELECT * FROM run").fetchall() == [
            (1, "boot", "1", 0.0, 0.0, None, None, None)
        ]


def test_a_step_that_fails_leaves_the_older_journal_untouched(file: Path) -> None:
    steps = {**STEPS, SCHEMA_VERSION + 1: "CREATE TABLE moon (phase NO SUCH TYPE) STRICT"}
    with closing(open_for_writing(file)) as db:
        with pytest.raises(sqlite3.Error):
            migrate(db, file, SCHEMA_VERSION, steps, SCHEMA_VERSION + 2)
        assert db.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
        columns = [row[1] for row in db.execute("PRAGMA table_info(run)")]
        assert "weather" not in columns


def test_there_is_a_step_from_every_older_layout() -> None:
    assert set(opening.MIGRATIONS) == set(range(1, SCHEMA_VERSION))
