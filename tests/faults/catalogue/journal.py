"""The journal's card is full, read-only, locked or gone; its file damaged, or its thread dead."""

import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from greenkeeper.journal import opening, writer
from greenkeeper.journal import store as store_module
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.scribe import Scribe
from greenkeeper.journal.store import Store
from greenkeeper.journal.writer import JournalWriter
from greenkeeper.settings.load import load
from tests.faults.fault import Fault, Heat, Record
from tests.faults.house import BREAKS_S, MENDS_S, Course, House

RUBBISH = b"this was a journal once\n" * 2000


def earlier_journal(house: House) -> Path:
    """A sound one, as an earlier run left it."""
    made = JournalWriter(house.journal_file, load(house.file), house.clock.now(), "0")
    made.close(house.clock.now(), clean=True)
    return house.journal_file


def loose(house: House) -> None:
    """Its connections may be reached from the world's thread; the writer's sleeps meanwhile."""
    connect = sqlite3.connect

    def connect_loosely(*arguments: Any, **named: Any) -> Any:
        return connect(*arguments, **{**named, "check_same_thread": False})

    house.patch.setattr(sqlite3, "connect", connect_loosely)


def scribe(house: House) -> Scribe:
    assert house.parts.journal is not None
    return house.parts.journal._scribe


def full(house: House) -> None:
    """SQLite's own SQLITE_FULL, by its page limit, and more at once than a page has room for."""
    loose(house)

    def limit(pages: str) -> None:
        store = scribe(house)._store
        assert store is not None
        count = store._db.execute("PRAGMA page_count").fetchone()[0]
        store._db.execute(f"PRAGMA max_page_count = {pages or count}")

    def write_much() -> None:
        keeper = house.keeper
        assert keeper is not None
        keeper._tell(keeper._event("settings-changed", "settings", "cold " * 20_000))

    house.at(BREAKS_S, limit, "")
    house.at(BREAKS_S + 1.0, write_much)
    house.at(MENDS_S, limit, "1000000")


def read_only(house: House) -> None:
    """SQLite's own SQLITE_READONLY, on every connection that is made while it lasts."""
    loose(house)
    open_it = opening.open_for_writing

    def broken() -> bool:
        return BREAKS_S <= house.clock.after_s < MENDS_S

    def open_read_only(file: Path) -> sqlite3.Connection:
        db = open_it(file)
        db.execute(f"PRAGMA query_only = {'ON' if broken() else 'OFF'}")
        return db

    house.patch.setattr(store_module, "open_for_writing", open_read_only)
    house.at(BREAKS_S, lambda: scribe(house)._let_go())


def card_error(error: Exception) -> Callable[[House], None]:
    """Whatever is written meets this while it lasts."""

    def inject(house: House) -> None:
        write = Store.write

        def instead(store: Store, *arguments: Any) -> None:
            if BREAKS_S <= house.clock.after_s < MENDS_S:
                raise error
            write(store, *arguments)

        house.patch.setattr(Store, "write", instead)

    return inject


def with_code(number: int, text: str) -> sqlite3.OperationalError:
    error = sqlite3.OperationalError(text)
    error.sqlite_errorcode = number
    return error


def damaged_at_start(spoil: Callable[[bytes], bytes]) -> Callable[[House], None]:
    def inject(house: House) -> None:
        file = earlier_journal(house)
        spoilt = spoil(file.read_bytes())
        file.write_bytes(spoilt)
        (house.folder / "as-it-was").write_bytes(spoilt)

    return inject


def whole_aside(house: House, _course: Course) -> None:
    (aside,) = (
        each
        for each in house.state.glob("journal.db.damaged-*")
        if "-wal" not in each.name and "-shm" not in each.name
    )
    assert aside.read_bytes() == (house.folder / "as-it-was").read_bytes()


def half_of(data: bytes) -> bytes:
    return data[: len(data) // 2]


def torn_page(data: bytes) -> bytes:
    return data[:4096] + b"\xa5" * 4096 + data[8192:]


def spoilt_head(data: bytes) -> bytes:
    return b"\x00" * 100 + data[100:]


def truncated_while_open(house: House) -> None:
    loose(house)

    def cut() -> None:
        with house.journal_file.open("r+b") as file:
            file.truncate(8192)
        # A restart of its store, as after any fault of the card.
        scribe(house)._let_go()

    house.at(BREAKS_S, cut)


def locked(house: House) -> None:
    house.patch.setattr(opening, "_BUSY_S", 0.01)
    others: list[sqlite3.Connection] = []

    def lock() -> None:
        other = sqlite3.connect(house.journal_file, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        others.append(other)

    house.at(BREAKS_S, lock)
    house.at(MENDS_S, lambda: others.pop().close())


def newer(house: House) -> None:
    with closing(sqlite3.connect(earlier_journal(house))) as db:
        db.execute("PRAGMA user_version = 99")
    (house.folder / "as-it-was").write_bytes(house.journal_file.read_bytes())


def another_program(house: House) -> None:
    with closing(sqlite3.connect(house.journal_file)) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
        db.commit()
    (house.folder / "as-it-was").write_bytes(house.journal_file.read_bytes())


def as_it_was(house: House, _course: Course) -> None:
    assert house.journal_file.read_bytes() == (house.folder / "as-it-was").read_bytes()


def a_folder_there(house: House) -> None:
    house.journal_file.mkdir()


def read_only_place(house: House) -> None:
    """Nobody can make a file in /proc, whoever runs the tests."""
    house.write_settings(extra="journal: {file: /proc/greenkeeper/journal.db}\n")


def deleted(house: House) -> None:
    house.at(BREAKS_S, lambda: house.journal_file.unlink())


def moved_away(house: House) -> None:
    kept = house.state / "kept.db"
    house.at(BREAKS_S, lambda: house.journal_file.rename(kept))


def both_whole(house: House, _course: Course) -> None:
    with Journal(house.state / "kept.db") as journal:
        assert journal.query("PRAGMA integrity_check") == [("ok",)]


def folder_gone(house: House) -> None:
    gone = house.state.with_name("gone")
    house.at(BREAKS_S, lambda: house.state.rename(gone))
    house.at(MENDS_S, lambda: gone.rename(house.state))


def thread_dies(house: House) -> None:
    """Once, in the middle of a batch."""
    write = Scribe.write
    met: list[bool] = []

    def die(scribe: Scribe, *arguments: Any) -> Any:
        if not met and house.clock.after_s >= BREAKS_S:
            met.append(True)
            raise SystemExit(1)
        return write(scribe, *arguments)

    house.patch.setattr(threading, "excepthook", lambda _: None)  # its end is meant
    house.patch.setattr(Scribe, "write", die)
    house.settle_journal = False


def hangs(house: House) -> None:
    house.write_settings(extra="journal: {batch_s: 30}\n")
    house.settle_journal = False
    house.patch.setattr(writer, "_CLOSE_S", 0.05)
    write, go_on = Store.write, threading.Event()

    def hang(store: Store, *arguments: Any) -> None:
        if house.clock.after_s >= BREAKS_S:
            go_on.wait(60.0)
        write(store, *arguments)

    house.patch.setattr(Store, "write", hang)
    house.afterwards(go_on.set)


def all_switchings_are_there(house: House, course: Course) -> None:
    """What could not be written waited, and is there in the end."""
    start = 1_800_000_000.0
    with Journal(house.journal_file) as journal:
        found = [s.on for s in journal.switchings(start - 10.0, start + 2000.0)]
    assert found.count(True) == [on for _, on in course.heater].count(True)


FAILING = ("journal-failing",)
FAULTS = (
    Fault("journal-full", "no room left on the card", full, Heat.GOES_ON,
          ("journal-failing", "settings-changed"), also=all_switchings_are_there),
    Fault("journal-read-only", "the card has become read-only",
          read_only, Heat.GOES_ON, FAILING,
          also=all_switchings_are_there),
    Fault("journal-in-a-read-only-place", "its folder can never be written", read_only_place,
          Heat.GOES_ON, FAILING, record=Record.NONE),
    Fault("journal-card-error", "the card reports errors",
          card_error(with_code(sqlite3.SQLITE_IOERR, "disk I/O error")), Heat.GOES_ON, FAILING,
          also=all_switchings_are_there),
    Fault("journal-writer-has-a-bug", "writing raises what nobody expects",
          card_error(ZeroDivisionError("a bug")), Heat.GOES_ON, FAILING),
    Fault("journal-no-memory", "writing meets MemoryError", card_error(MemoryError()),
          Heat.GOES_ON, FAILING, also=all_switchings_are_there),
    Fault("journal-rubbish", "the file is no database at all",
          damaged_at_start(lambda data: RUBBISH), Heat.GOES_ON, ("journal-damaged",),
          record=Record.ASIDE, also=whole_aside),
    Fault("journal-truncated", "half of the file is gone", damaged_at_start(half_of),
          Heat.GOES_ON, ("journal-damaged",), record=Record.ASIDE, also=whole_aside),
    Fault("journal-torn-page", "one page of the file is rubbish", damaged_at_start(torn_page),
          Heat.GOES_ON, ("journal-damaged",), record=Record.ASIDE, also=whole_aside),
    Fault("journal-spoilt-head", "its first bytes are zeros", damaged_at_start(spoilt_head),
          Heat.GOES_ON, ("journal-damaged",), record=Record.ASIDE, also=whole_aside),
    Fault("journal-empty-file", "the file is there, and empty",
          lambda house: house.journal_file.write_bytes(b""), Heat.GOES_ON),
    Fault("journal-truncated-in-use", "cut short while in use: its log has it all",
          truncated_while_open, Heat.GOES_ON, also=all_switchings_are_there),
    Fault("journal-locked", "another program holds a lock", locked, Heat.GOES_ON, FAILING,
          also=all_switchings_are_there),
    Fault("journal-newer", "a newer version has written it", newer, Heat.GOES_ON, FAILING,
          record=Record.UNTOUCHED, also=as_it_was),
    Fault("journal-not-ours", "the file is another program's", another_program, Heat.GOES_ON,
          FAILING, record=Record.UNTOUCHED, also=as_it_was),
    Fault("journal-is-a-folder", "a folder stands in its place", a_folder_there, Heat.GOES_ON,
          FAILING, record=Record.NONE),
    Fault("journal-deleted", "somebody deletes it in use", deleted, Heat.GOES_ON),
    Fault("journal-moved", "somebody moves it away in use", moved_away, Heat.GOES_ON,
          also=both_whole),
    Fault("journal-folder-gone", "the state folder is unmounted", folder_gone, Heat.GOES_ON,
          FAILING),
    Fault("journal-hangs", "the card does not answer any more", hangs, Heat.GOES_ON, FAILING,
          within_s=0.0),
    Fault("journal-thread-dies", "its writing thread ends", thread_dies, Heat.GOES_ON,
          ("part-failed",), also=all_switchings_are_there),
)  # fmt: skip
