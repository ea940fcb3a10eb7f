"""The layout is its own document."""

import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from greenkeeper.journal.opening import open_for_writing

# What needs no comment of its own: the head of the first table explains times and keys.
_EXPLAINED_AT_THE_HEAD = {"id", "utc_s", "mono_s", "run", "probe", "output", "hygrometer"}


def _tables(file: Path) -> dict[str, str]:
    open_for_writing(file).close()
    with closing(sqlite3.connect(file)) as db:
        return dict(db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'"))


def _columns(file: Path, table: str) -> list[str]:
    with closing(sqlite3.connect(file)) as db:
        return [row[1] for row in db.execute("SELECT * FROM pragma_table_xinfo(?)", (table,))]


def test_every_column_says_what_it_is_in_the_file_itself(file: Path) -> None:
    tables = _tables(file)
    assert len(tables) == 15
    silent = []
    for table, sql in tables.items():
        for column in _columns(file, table):
            line = re.search(rf"^ +{column} .*$", sql, re.MULTILINE)
            assert line, f"{table}.{column}"
            if "--" not in line[0] and column not in _EXPLAINED_AT_THE_HEAD:
                silent.append(f"{table}.{column}")
    assert silent == []


def test_the_file_itself_explains_times_intervals_and_keys(file: Path) -> None:
    head = _tables(file)["meta"]
    for word in ("Times", "Intervals", "Keys", "Numbers", "Missing", "Writer", "Commits"):
        assert f"-- {word} " in head


def test_every_table_says_who_writes_it_and_when(file: Path) -> None:
    for table, sql in _tables(file).items():
        head = re.match(r"CREATE TABLE \w+ \(\n((?: +--.*\n)+)", sql)
        assert head, table
        assert "ritten" in head[1], table


def test_every_table_is_strict(file: Path) -> None:
    _tables(file)
    with closing(sqlite3.connect(file)) as db:
        loose = db.execute(
            "SELECT name FROM pragma_table_list WHERE type = 'table' AND strict = 0"
            " AND name NOT LIKE 'sqlite_%'"
        ).fetchall()
    assert loose == []


def test_a_word_in_a_number_column_is_refused(file: Path) -> None:
    with closing(open_for_writing(file)) as db:
        db.execute("INSERT INTO probe VALUES (1, 'bench', '')")
        with pytest.raises(sqlite3.IntegrityError, match="TEXT value in REAL"):
            db.execute("INSERT INTO minute (id, n, low_c, bad) VALUES (1, 1, 'cold', 0)")


def test_a_number_nobody_explained_is_refused(file: Path) -> None:
    with closing(open_for_writing(file)) as db, pytest.raises(sqlite3.IntegrityError):
        db.execute("INSERT INTO minute (id, n, bad) VALUES (60007, 6, 0)")
