"""The loop's side: batches, what is urgent, bounds, ends, and never a wait."""

import json
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from greenkeeper.journal import writer as writer_module
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.scribe import Batch, Outcome, Scribe
from greenkeeper.journal.writer import JournalWriter
from greenkeeper.model import Command, Event, Now, Phase
from tests.journal import ticks
from tests.journal.conftest import MakeWriter
from tests.journal.ticks import START, UTC_S, at, tick
from tests.support.waiting import eventually

WAIT_S = 30.0  # a bound for failing tests only


def play(writer: JournalWriter, from_s: int, to_s: int, *, heat: bool = False) -> None:
    """Ticks every ten seconds, the card keeping up as it does in life."""
    for seconds in range(from_s, to_s, 10):
        writer.record(tick(at(seconds), {"bench": 5.0}, {"heater": heat}))
        assert writer.settled(WAIT_S)


def count(file: Path, table: str) -> int:
    with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as db:
        return int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0])  # noqa: S608


def test_the_file_and_the_run_are_there_before_the_first_tick(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    assert writer.settled(WAIT_S)
    with Journal(file) as journal:
        (run,) = journal.runs()
    assert (run.version, run.started_utc_s, run.clean) == ("1.2.3", UTC_S, None)
    assert run.boot_id == Path("/proc/sys/kernel/random/boot_id").read_text().strip()


def test_minutes_reach_the_card_in_batches_by_the_ticks_clock(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer(ticks.settings(batch_s=120.0))
    play(writer, 0, 120)
    assert count(file, "minute") == 0
    play(writer, 120, 130)
    with Journal(file) as journal:
        counts = [minute.n for minute in journal.minutes("bench", UTC_S, UTC_S + 600)]
    assert counts == [6, 6, 1]  # the running minute's part as well: no older than a batch


@pytest.mark.parametrize(("alarm_s", "taken"), [(140, 0), (150, 3)])
def test_an_alarm_takes_the_minutes_along_once_half_of_the_batch_has_passed(
    make_writer: MakeWriter, file: Path, alarm_s: int, taken: int
) -> None:
    writer = make_writer(ticks.settings(batch_s=300.0))
    play(writer, 0, alarm_s)
    writer.record(tick(at(alarm_s), {"bench": 5.0}, events=[ticks.event(at(alarm_s))]))
    assert writer.settled(WAIT_S)
    assert count(file, "minute") == taken
    assert count(file, "event") == 1
    play(writer, alarm_s + 10, 300)
    assert count(file, "minute") == taken
    play(writer, 300, alarm_s + 310)  # at the latest a batch later
    assert count(file, "minute") > taken


def test_a_minute_written_in_two_parts_is_whole_in_the_end(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer(ticks.settings(batch_s=70.0))
    play(writer, 0, 310, heat=True)
    writer.close(at(310), clean=True)
    with Journal(file) as journal:
        assert [m.n for m in journal.minutes("bench", UTC_S, UTC_S + 600)] == [6, 6, 6, 6, 6, 1]
        assert journal.on_seconds("heater", UTC_S, UTC_S + 600) == 310.0


def test_an_alarm_reaches_the_card_at_once_and_takes_the_switchings_along(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    writer.record(tick(at(0), {"bench": 4.9}, {"heater": True}))
    writer.record(tick(at(10), {"bench": 4.9}, {"heater": True}, events=[ticks.event(at(10))]))
    assert writer.settled(WAIT_S)
    assert count(file, "event") == 1
    assert count(file, "switching") == 1
    assert count(file, "minute") == 0


def test_a_switching_is_on_the_card_at_once_and_comes_into_the_journal_with_a_batch(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    play(writer, 0, 30)
    play(writer, 30, 60, heat=True)
    assert count(file, "switching") == 0
    with Journal(file) as journal:
        before = journal.switchings(UTC_S, UTC_S + 60)
    assert [(each.output, each.on, each.utc_s) for each in before] == [("heater", True, at(30)[1])]
    play(writer, 60, 610, heat=True)
    assert count(file, "switching") == 1
    with Journal(file) as journal:
        assert journal.switchings(UTC_S, UTC_S + 60) == before


def test_more_switchings_than_can_be_jotted_down_are_all_there(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    for number in range(59):
        play(writer, 10 * number, 10 * number + 10, heat=number % 2 == 0)
    assert 0 < count(file, "switching") < 59
    with Journal(file) as journal:
        found = [each.utc_s for each in journal.switchings(UTC_S, UTC_S + 600)]
    assert found == [at(10 * number).utc_s for number in range(59)]


@pytest.mark.parametrize("written", [False, True], ids=["waiting", "in the journal already"])
def test_what_a_killed_run_had_switched_is_taken_in_once_by_the_next_one(
    make_writer: MakeWriter, file: Path, written: bool
) -> None:
    writer = make_writer()
    play(writer, 0, 50, heat=True)
    if written:
        writer.record(tick(at(50), {"bench": 5.0}, {"heater": True}, events=[ticks.event(at(50))]))
        assert writer.settled(WAIT_S)
    left = file.parent / "left"
    left.mkdir()
    for each in file.parent.glob("journal.db*"):
        shutil.copy(each, left)  # as a power cut would leave them
    for start_s in (100, 200):
        again = make_writer(now=at(start_s), file=left / file.name)
        again.close(at(start_s + 10), clean=True)
    assert sorted(each.name for each in left.iterdir()) == ["journal.db"]
    with Journal(left / file.name) as journal:
        (found,) = journal.switchings(UTC_S, UTC_S + 600)
        assert (found.run, found.on, found.utc_s) == (1, True, at(0).utc_s)
        assert [run.started_utc_s for run in journal.runs()] == [at(s).utc_s for s in (0, 100, 200)]


def test_what_a_killed_run_had_switched_outlives_its_damaged_journal(
    make_writer: MakeWriter, file: Path
) -> None:
    play(make_writer(), 0, 50, heat=True)
    left = file.parent / "left"
    left.mkdir()
    (left / file.name).write_text("this was a journal once\n" * 100)
    shutil.copy(file.with_name("journal.db-jotted"), left)
    again = make_writer(now=at(100), file=left / file.name)
    again.close(at(110), clean=True)
    with Journal(left / file.name) as journal:
        (found,) = journal.switchings(UTC_S, UTC_S + 600)
        runs = {run.id: run.started_utc_s for run in journal.runs()}
    assert runs[found.run] == START.utc_s


def test_what_is_no_alarm_waits_for_the_batch(make_writer: MakeWriter, file: Path) -> None:
    writer = make_writer(ticks.settings(batch_s=300.0))
    assert writer.settled(WAIT_S)
    notice = Event("settings-changed", Phase.NOTED, "settings", "", at(0).mono_s, at(0).utc_s)
    writer.note(notice)
    play(writer, 0, 300)
    assert count(file, "event") == 0
    play(writer, 300, 310)
    assert count(file, "event") == 1


def test_an_alarm_outside_of_a_tick_reaches_the_card_at_once(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    writer.note(Event("keeper-failed", Phase.NOTED, "site", "", START.mono_s, START.utc_s))
    assert writer.settled(WAIT_S)
    assert count(file, "event") == 1


def test_the_end_writes_all_that_waits_and_says_whether_it_was_clean(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    play(writer, 0, 30, heat=True)
    writer.close(at(30), clean=True)
    writer.close(at(40), clean=False)  # a second time changes nothing
    assert not file.with_name("journal.db-wal").exists()
    with Journal(file) as journal:
        (run,) = journal.runs()
        assert (run.clean, run.stopped_utc_s) == (True, at(30).utc_s)
        assert journal.on_seconds("heater", UTC_S, UTC_S + 60) == 30.0
        last = journal.switchings(UTC_S, UTC_S + 60)[-1]
    assert (last.on, last.reason) == (False, "the keeper stopped")


def test_new_settings_change_the_power_from_now_on_and_nothing_else(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    play(writer, 0, 60, heat=True)
    writer.use(ticks.settings(outputs={"heater": 3000.0}))
    play(writer, 60, 120, heat=True)
    writer.close(at(120), clean=True)
    with Journal(file) as journal:
        # 50 s to the last tick before the change, the rest after it.
        assert journal.energy_kwh("heater", UTC_S, UTC_S + 600) == pytest.approx(
            (50 * 1500 + 70 * 3000) / 3.6e6
        )
        assert [each.on for each in journal.switchings(UTC_S, UTC_S + 600)] == [True, False]


def test_a_day_brings_the_upkeep_once_and_never_at_the_start(
    make_writer: MakeWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    due: list[float] = []
    write = Scribe.write

    def watched(self: Scribe, batch: Batch) -> Outcome:
        due.extend([batch.now.mono_s - START.mono_s] if batch.upkeep else [])
        return write(self, batch)

    monkeypatch.setattr(Scribe, "write", watched)
    writer = make_writer(ticks.settings(batch_s=3600.0))
    for hour in range(49):
        writer.record(tick(at(3600 * hour)))
        assert writer.settled(WAIT_S)
    assert due == [3600.0, 3600.0 + 86_400.0]


def test_every_hour_takes_the_place_of_one_that_is_too_old(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer(ticks.settings(batch_s=3600.0, minutes_days=7))
    hours = 9 * 24
    for hour in range(hours):
        writer.record(tick(at(3600 * hour), {"bench": 5.0}))
        assert writer.settled(WAIT_S)
        if hour > hours - 12:  # no upkeep falls in here
            hours_kept = count(file, "(SELECT DISTINCT utc_s / 3600 FROM minute)")
            assert hours_kept == 7 * 24 + 1  # and the running one


# --- when the card fails ---------------------------------------------------------------


class StuckScribe:
    """In place of Scribe.write: holds the thread until it is let go, as a hanging card does."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.stuck, self.go = threading.Event(), threading.Event()
        write = Scribe.write

        def held(scribe: Scribe, batch: Batch) -> Outcome:
            self.stuck.set()
            assert self.go.wait(WAIT_S)
            return write(scribe, batch)

        monkeypatch.setattr(Scribe, "write", held)


def test_a_hanging_card_holds_up_no_tick_and_is_told_after_two_batches(
    make_writer: MakeWriter, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stuck = StuckScribe(monkeypatch)
    writer = make_writer()
    assert stuck.stuck.wait(WAIT_S)
    for seconds in range(0, 601, 10):
        writer.record(tick(at(seconds), {"bench": 5.0}, {"heater": seconds % 120 < 60}))
    assert writer.conditions() == ()
    writer.record(tick(at(610), {"bench": 5.0}, {"heater": False}))
    (condition,) = writer.conditions()
    assert condition.code == "journal-failing"
    assert "has not answered for 610 s" in condition.text
    stuck.go.set()
    assert writer.settled(WAIT_S)
    assert writer.conditions() == ()
    assert count(file, "switching") == 12
    assert count(file, "minute") == 11


def test_closing_does_not_wait_for_ever(
    make_writer: MakeWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer_module, "_CLOSE_S", 0.05)
    stuck = StuckScribe(monkeypatch)
    writer = make_writer()
    writer.record(tick(at(0), {"bench": 5.0}))
    writer.close(at(10), clean=True)
    (condition,) = writer.conditions()
    assert "did not answer" in condition.text
    assert "records not written: 1" in condition.text
    stuck.go.set()


def test_what_is_dropped_is_minutes_first_told_and_written_down(
    make_writer: MakeWriter, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer_module, "BACKLOG_ROWS", 40)
    writer = make_writer(file=file.parent / "stick" / "journal.db")  # not plugged in yet
    for seconds in range(0, 3600, 10):
        writer.record(tick(at(seconds), {"bench": 5.0}, {"heater": seconds % 600 < 300}))
        assert writer.settled(WAIT_S)
    (condition,) = writer.conditions()
    assert "its folder must exist" in condition.text
    assert "records waiting in memory: 40" in condition.text
    assert "minute records and 0 others from 2027-01-15T08:00:00Z" in condition.text
    (file.parent / "stick").mkdir()
    play(writer, 3600, 3640)
    assert writer.conditions() == ()
    with Journal(file.parent / "stick" / "journal.db") as journal:
        assert len(journal.switchings(UTC_S, UTC_S + 3600)) == 12  # none of them dropped
        (event,) = journal.events(UTC_S, UTC_S + 7200)
        assert (event.code, event.phase) == ("journal-failing", "noted")
        assert "minute records and 0 others" in event.text
        first = journal.minutes("bench", UTC_S, UTC_S + 7200)[0]
    assert first.utc_s > UTC_S + 600


def test_a_card_that_fails_is_tried_again_every_half_minute(
    make_writer: MakeWriter, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[float] = []
    write = Scribe.write

    def watched(self: Scribe, batch: Batch) -> Outcome:
        tried.append(batch.now.mono_s - START.mono_s)
        return write(self, batch)

    monkeypatch.setattr(Scribe, "write", watched)
    writer = make_writer(file=file.parent / "stick" / "journal.db")
    assert writer.settled(WAIT_S)
    play(writer, 0, 100)
    assert tried == [0.0, 0.0, 30.0, 60.0, 90.0]


# The thread's end is what is tried here.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_died_is_replaced_and_loses_nothing(
    make_writer: MakeWriter, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer = make_writer()
    play(writer, 0, 400)
    assert writer.settled(WAIT_S)
    with monkeypatch.context() as dying:
        dying.setattr(Scribe, "write", lambda *_: sys.exit("a library's idea of an error"))
        writer.note(ticks.event(at(400), "zone-blind"))
        eventually(lambda: not writer._thread.is_alive(), "the thread has died")
    with monkeypatch.context() as full:
        full.setattr(threading.Thread, "start", _no_room)
        writer.record(tick(at(400), {"bench": 5.0}))
        (condition,) = writer.conditions()
        assert "its writing thread has died: can't start new thread" in condition.text
    play(writer, 410, 610)
    assert writer.settled(WAIT_S)
    (condition,) = writer.conditions()
    assert (condition.code, condition.subject) == ("part-failed", "journal")
    assert writer.conditions() == ()
    writer.close(at(610), clean=True)
    with Journal(file) as journal:
        assert [happened.code for happened in journal.events(UTC_S, UTC_S + 600)] == ["zone-blind"]
        assert [minute.n for minute in journal.minutes("bench", UTC_S, UTC_S + 610)] == [6] * 10 + [
            1
        ]
        (run,) = journal.runs()
        assert run.clean


def _no_room(thread: threading.Thread) -> None:
    raise RuntimeError("can't start new thread")


def test_damage_is_told_as_long_as_this_run_lasts(make_writer: MakeWriter, file: Path) -> None:
    file.write_text("this was a journal once\n" * 100)
    writer = make_writer()
    assert writer.settled(WAIT_S)
    (condition,) = writer.conditions()
    assert condition.code == "journal-damaged"
    assert "kept as journal.db.damaged-20270115T080000Z" in condition.text


def test_a_tick_nobody_can_take_in_stops_nothing_and_is_told(make_writer: MakeWriter) -> None:
    writer = make_writer()
    assert writer.settled(WAIT_S)
    broken = tick(at(0), {"bench": 5.0})._replace(now=Now(at(0).mono_s, float("nan"), True))
    writer.record(broken)
    (condition,) = writer.conditions()
    assert "a tick could not be taken in" in condition.text
    play(writer, 10, 20)
    assert writer.conditions() == ()


def test_a_command_from_outside_of_the_settings_is_recorded_too(
    make_writer: MakeWriter, file: Path
) -> None:
    writer = make_writer()
    stranger = tick(at(0))._replace(commands=(Command("lamp", True, at(30).mono_s, "dark"),))
    writer.record(stranger)
    assert writer.settled(WAIT_S)
    with Journal(file) as journal:
        (switched,) = journal.switchings(UTC_S, UTC_S + 60)
    assert (switched.output, switched.reason) == ("lamp", "dark")


_FULL_CARD = """
import json, resource, sys
from pathlib import Path
from greenkeeper.journal.writer import JournalWriter
from tests.journal import ticks

file = Path(sys.argv[1])
_, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
writer = JournalWriter(file, ticks.settings(batch_s=60.0), ticks.START, "1.2.3")

def play(start, end):
    for seconds in range(start, end, 10):
        heat = seconds % 40 < 20
        writer.record(ticks.tick(ticks.at(seconds), {"bench": 5.0}, {"heater": heat}))
        assert writer.settled(30.0)

play(0, 300)
resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, hard))  # less than it has already
play(300, 6000)
failing = [condition.text for condition in writer.conditions()]
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
play(6000, 6100)
healed = [condition.text for condition in writer.conditions()]
writer.close(ticks.at(6100), clean=True)
print(json.dumps([failing, healed]))
"""


def test_a_file_that_may_not_grow_costs_nothing_once_it_may(file: Path) -> None:
    """A real limit of the kernel (setrlimit(2), RLIMIT_FSIZE), in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", _FULL_CARD, str(file)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    failing, healed = json.loads(done.stdout)
    assert len(failing) == 1
    assert str(file) in failing[0]
    assert "records waiting in memory: " in failing[0]
    assert healed == []
    with Journal(file) as journal:
        counts = [minute.n for minute in journal.minutes("bench", UTC_S, UTC_S + 6100)]
        assert counts == [6] * 101 + [4]
        assert len(journal.switchings(UTC_S, UTC_S + 6100)) == 6100 // 20
        assert journal.on_seconds("heater", UTC_S, UTC_S + 6120) == 3060.0
        assert journal.query("PRAGMA integrity_check") == [("ok",)]
