"""Is the journal whole, and was the keeper always there?"""

import sqlite3
from contextlib import closing
from pathlib import Path

from greenkeeper.journal.check import Gap, findings, gaps
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.rows import ClockStep, Minute, ProbeMinute
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.journal.times import DAY_S
from tests.journal import ticks
from tests.journal.ticks import at

KEEPING = Keeping("fern-corner", "UTC", keep_days=60, minutes_days=7)
HOUR = int(ticks.UTC_S)


def live(file: Path, from_minute: int, to_minute: int, *, end: str = "clean") -> None:
    """A run that records these minutes. end: clean, fault, or kill."""
    start = at(60.0 * from_minute)
    store = Store.open(file, Run("boot-1", "1.2.3", start), KEEPING)
    minutes = [_minute(number) for number in range(from_minute, to_minute)]
    store.write(minutes, [], minutes[-1].utc_s)
    if end != "kill":
        store.stop(at(60.0 * to_minute), clean=end == "clean")
    store.close()


def _minute(number: int) -> Minute:
    return ProbeMinute(HOUR + 60 * number, "bench", "onewire", 6, 5.0, 5.0, 5.0, 0)


def found(file: Path) -> list[str]:
    with Journal(file) as journal:
        return findings(journal)


def test_a_whole_journal_has_no_findings(file: Path) -> None:
    live(file, 0, 300)
    assert found(file) == []


def test_an_empty_journal_has_no_findings(file: Path) -> None:
    Store.open(file, Run("boot-1", "1.2.3", at(0)), KEEPING).close()
    assert found(file) == []


def test_a_gap_after_a_clean_stop_is_no_finding(file: Path) -> None:
    live(file, 0, 100)
    live(file, 5000, 5100)
    assert found(file) == []
    with Journal(file) as journal:
        assert gaps(journal) == [Gap(HOUR + 6000, HOUR + 300_000, 60)]


def test_a_killed_run_is_one_finding_with_its_last_record_and_the_next_start(file: Path) -> None:
    live(file, 0, 100, end="kill")
    live(file, 200, 300)
    (finding,) = found(file)
    assert "begun 2027-01-15T08:00:00Z ended without a goodbye" in finding
    assert "last record 2027-01-15T09:39:00Z" in finding
    assert "next start 2027-01-15T11:20:00Z" in finding


def test_the_newest_run_may_be_running(file: Path) -> None:
    live(file, 0, 100, end="kill")
    assert found(file) == []


def test_a_run_that_never_recorded_anything_says_so(file: Path) -> None:
    Store.open(file, Run("boot-1", "1.2.3", at(0)), KEEPING).close()
    live(file, 200, 300)
    (finding,) = found(file)
    assert "last record unknown" in finding


def test_a_run_that_failed_is_a_finding(file: Path) -> None:
    live(file, 0, 100, end="fault")
    live(file, 100, 200)
    (finding,) = found(file)
    assert "was ended by a fault of its own at 2027-01-15T09:40:00Z" in finding


def test_a_gap_within_a_run_is_a_finding(file: Path) -> None:
    store = Store.open(file, Run("boot-1", "1.2.3", at(0)), KEEPING)
    store.write([_minute(0), _minute(1), _minute(40)], [], HOUR + 2400)
    store.stop(at(2460), clean=True)
    store.close()
    assert found(file) == [
        "nothing is recorded from 2027-01-15T08:02:00Z to 2027-01-15T08:40:00Z,"
        " although the keeper ran"
    ]


def test_a_minute_or_two_without_a_tick_is_no_gap(file: Path) -> None:
    store = Store.open(file, Run("boot-1", "1.2.3", at(0)), KEEPING)
    store.write([_minute(0), _minute(3), _minute(4)], [], HOUR + 240)
    store.stop(at(300), clean=True)
    store.close()
    assert found(file) == []


def test_a_clock_set_forward_explains_its_gap(file: Path) -> None:
    store = Store.open(file, Run("boot-1", "1.2.3", at(0)), KEEPING)
    step = ClockStep(1070.0, HOUR + 70.0, HOUR + 40 * 60.0 + 10.0)
    store.write([_minute(0), _minute(1), _minute(40)], [step], HOUR + 2400)
    store.stop(at(120), clean=True)
    store.close()
    assert found(file) == []


def test_an_old_gap_is_found_by_the_hours_that_are_left(file: Path) -> None:
    store = Store.open(file, Run("boot-1", "1.2.3", at(0)), KEEPING)
    kept = [hour for hour in range(24 * 9) if hour not in (5, 6, 7)]
    minutes = [_minute(60 * hour + each) for hour in kept for each in range(60)]
    store.write(minutes, [], HOUR + 9 * DAY_S)
    store.upkeep(at(9 * DAY_S), KEEPING)
    store.stop(at(9 * DAY_S), clean=True)
    store.close()
    assert found(file) == [
        "nothing is recorded from 2027-01-15T13:00:00Z to 2027-01-15T16:00:00Z,"
        " although the keeper ran"
    ]


def test_an_index_that_lacks_a_row_is_named(file: Path) -> None:
    """What a quick check at the start does not look for."""
    live(file, 0, 10)
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA writable_schema = ON")
        sql = "CREATE INDEX event_by_time ON event (mono_s)"
        db.execute("INSERT INTO event VALUES (1, 5.0, 6.0, 1, 'clock-jumped', 'noted', '', '')")
        db.execute("UPDATE sqlite_master SET sql = ? WHERE name = 'event_by_time'", (sql,))
        db.commit()
    (finding, *_) = found(file)
    assert finding.startswith("damaged: ")
    assert "event_by_time" in finding
