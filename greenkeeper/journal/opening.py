"""The journal's file: opened, made, brought up to date, or set aside when damaged.

Lives here: what is done before the first row is written. Does not live here: rows
(store.py) and what to do when opening fails (scribe.py).
Only the writer opens like this. SQLite before 3.51.3 can damage a WAL database when two
connections write and checkpoint at once (sqlite.org/wal.html, "The WAL-Reset Bug"):
exactly one connection may do so, and everybody else opens read-only (reader.py).
"""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

from greenkeeper.errors import GreenkeeperError

APPLICATION_ID = 0x474B4A31  # "GKJ1": says that a file is a journal of ours
SCHEMA_VERSION = 2


def _layout(name: str) -> str:
    # Not importlib.resources: with zipfile, tempfile and more it takes 1 MiB of memory.
    return Path(__file__).with_name(name).read_text(encoding="utf-8")


# How to get from a version to the next one: SQL statements, without BEGIN and COMMIT.
MIGRATIONS: Mapping[int, str] = {1: _layout("schema-humidity.sql")}

_BUSY_S = 2.0
# What a commit costs the card: each page it touches, whole, into the log; and up to eight
# pages of 4 KiB of the log's index (-shm), a file as well, which the kernel writes back within
# half a minute. Most commits touch a dozen pages and fill half of one, so that small pages
# spare most of the one; SQLite has none smaller. The first page of the index names 990 pages of
# the log: one of 940 is folded into the file before a commit needs the next, which spares three
# of the eight, and what is written over meanwhile is folded once.
# Measured by tests/bench/bench_card.py. A file from before keeps the pages it has.
_PAGE_BYTES = 512
_LOG_PAGES = 940
_DAMAGE = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}

# synchronous=FULL: every commit reaches the card before it counts. A day has some 150
# commits, so it costs next to nothing, and a power cut takes at most one batch.
# secure_delete=OFF: Debian turns it on, which writes every freed page once more; nothing
# in here is secret. Freed pages are used again, so the file needs no vacuum: it stops
# growing once minutes are as old as they may get.
_PRAGMAS = """
    PRAGMA synchronous = FULL;
    PRAGMA foreign_keys = ON;
    PRAGMA secure_delete = OFF;
"""


class RefusedError(GreenkeeperError):
    """The file is not ours, or newer than this program: it is left untouched."""


class DamagedError(GreenkeeperError):
    """The file is damaged: it has to be set aside."""


def primary_code(error: sqlite3.Error) -> int | None:
    """SQLite's primary result code. None: the error is Python's own."""
    code = getattr(error, "sqlite_errorcode", None)
    return code & 0xFF if isinstance(code, int) else None


@contextmanager
def damage_named() -> Iterator[None]:
    """Turn SQLite's words for damage into DamagedError; let other errors pass."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        if primary_code(error) in _DAMAGE:
            raise DamagedError(str(error)) from error
        raise


def open_for_writing(file: Path) -> sqlite3.Connection:
    """The one connection that writes; makes the file where there is none.

    The folder must exist. Raises RefusedError, DamagedError, and sqlite3.Error for
    what may pass: a full disk, a lock, a folder that cannot be written.
    """
    db = sqlite3.connect(
        f"file:{quote(str(file))}?mode=rwc", uri=True, isolation_level=None, timeout=_BUSY_S
    )
    try:
        with damage_named():
            _prepare(db, file)
    except BaseException:
        db.close()
        raise
    return db


def _prepare(db: sqlite3.Connection, file: Path) -> None:
    version = identify(db, file)
    if version == 0:
        # Must come before the transaction that makes the tables, and in this order.
        db.execute(f"PRAGMA page_size = {_PAGE_BYTES}")
        db.execute("PRAGMA journal_mode = WAL")
        _in_one_transaction(db, _new_schema())
    else:
        _check(db)
        migrate(db, file, version)
    db.executescript(_PRAGMAS)
    (page_bytes,) = db.execute("PRAGMA page_size").fetchone()
    db.execute(f"PRAGMA wal_autocheckpoint = {_LOG_PAGES}")
    db.execute(f"PRAGMA journal_size_limit = {_LOG_PAGES * page_bytes}")


def identify(db: sqlite3.Connection, file: Path) -> int:
    """The layout's version; 0 for an empty file. Raises RefusedError."""
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    application = db.execute("PRAGMA application_id").fetchone()[0]
    (objects,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if application == 0 and version == 0 and objects == 0:
        return 0
    if application != APPLICATION_ID:
        raise RefusedError(f"{file} is an SQLite file, but not a greenkeeper journal")
    if version > SCHEMA_VERSION:
        raise RefusedError(
            f"{file} was written by a newer greenkeeper (layout {version}, this one knows "
            f"{SCHEMA_VERSION}): install that one again, or move the file away{_older(file)}"
        )
    return version


def _older(file: Path) -> str:
    """Where the journal of this layout was kept when it was brought up to date."""
    kept = _kept(file, SCHEMA_VERSION)
    return (
        f" and {kept} in its place, which ends where the newer one began" if kept.exists() else ""
    )


def _kept(file: Path, version: int) -> Path:
    return file.with_name(f"{file.name}.layout-{version}")


def _new_schema() -> str:
    schema = f"{_layout('schema.sql')};{_layout('schema-humidity.sql')}"
    return (
        f"{schema};PRAGMA application_id = {APPLICATION_ID};PRAGMA user_version = {SCHEMA_VERSION};"
    )


def _check(db: sqlite3.Connection) -> None:
    # First whether it can be written at all: checking a large file takes seconds, too long
    # to repeat whenever a read-only card is tried again.
    db.execute("BEGIN IMMEDIATE")
    db.execute("ROLLBACK")
    found = [str(row[0]) for row in db.execute("PRAGMA quick_check(1)")]
    if found != ["ok"]:
        raise DamagedError("; ".join(found))


def migrate(
    db: sqlite3.Connection,
    file: Path,
    version: int,
    steps: Mapping[int, str] = MIGRATIONS,
    target: int = SCHEMA_VERSION,
) -> None:
    """Bring an older layout up to date: all of it or nothing, the old file kept beside it."""
    if version == target:
        return
    with closing(sqlite3.connect(_kept(file, version))) as kept:
        db.backup(kept)
    script = "".join(f"{steps[each]};" for each in range(version, target))
    _in_one_transaction(db, f"{script}PRAGMA user_version = {target};")


def _in_one_transaction(db: sqlite3.Connection, script: str) -> None:
    try:
        db.executescript(f"BEGIN IMMEDIATE;{script}COMMIT;")
    except sqlite3.Error:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def set_aside(file: Path, utc_s: float) -> Path:
    """Rename a damaged journal with its companions; returns where it is kept.

    Raises OSError.
    """
    stamp = datetime.fromtimestamp(utc_s, UTC).strftime("%Y%m%dT%H%M%SZ")
    kept = _unused(file.with_name(f"{file.name}.damaged-{stamp}"))
    # The companions first: a -wal left beside a new file of the same name would be played
    # into it (sqlite.org/howtocorrupt.html, 1.4).
    for suffix in ("-wal", "-shm", ""):
        part = file.with_name(file.name + suffix)
        if part.exists():
            part.rename(kept.with_name(kept.name + suffix))
    return kept


def _unused(path: Path) -> Path:
    candidate, number = path, 1
    while candidate.exists():
        number += 1
        candidate = path.with_name(f"{path.name}-{number}")
    return candidate
