"""Whatever a driver does, every probe has a reading and nobody waits for ever."""

import errno
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from greenkeeper.clock import HandClock, SystemClock
from greenkeeper.model import Fault, Reading
from greenkeeper.probes.collector import Collector
from greenkeeper.probes.onewire import onewire_groups
from tests.support.w1tree import W1Tree
from tests.support.waiting import eventually

SHORT_S = 0.05  # a deadline that a hung read is meant to miss
LONG_S = 60.0  # a deadline that only bounds a failing test
BENCH, OUTDOORS = "28-0316a2795a01", "28-0316d2c3e4f5"


class GatedGroup:
    """A driver that answers only while its gate is open."""

    def __init__(self, *names: str, blocking: bool = True) -> None:
        self.names = names
        self.blocking = blocking
        self.gate = threading.Event()
        self.gate.set()
        self.answer: Callable[[], Mapping[str, Reading]] = self._all_at(5.0)
        self.started = 0
        self.closed = 0
        self.reader: threading.Thread | None = None
        self.signals_blocked: set[signal.Signals | int] = set()

    def read(self) -> Mapping[str, Reading]:
        self.started += 1
        self.reader = threading.current_thread()
        self.signals_blocked = set(signal.pthread_sigmask(signal.SIG_BLOCK, []))
        self.gate.wait()
        return self.answer()

    def close(self) -> None:
        self.closed += 1

    def says(self, temp_c: float) -> None:
        self.answer = self._all_at(temp_c)

    def _all_at(self, temp_c: float) -> Callable[[], Mapping[str, Reading]]:
        return lambda: {name: Reading(1000.0, temp_c) for name in self.names}


def becomes(collector: Collector, name: str, temp_c: float) -> None:
    eventually(lambda: temps(collector)[name] == temp_c, f"{name} at {temp_c:g} °C")


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=0.0)


@pytest.fixture
def bench() -> Iterator[GatedGroup]:
    group = GatedGroup("bench-left", "bench-right")
    yield group
    group.gate.set()


@pytest.fixture
def outdoors() -> GatedGroup:
    return GatedGroup("outdoors")


def temps(collector: Collector) -> dict[str, float | None]:
    return {name: reading.temp_c for name, reading in collector.collect().items()}


def test_every_probe_of_every_group_is_read(
    bench: GatedGroup, outdoors: GatedGroup, clock: HandClock
) -> None:
    collector = Collector([bench, outdoors], clock, LONG_S)
    assert temps(collector) == {"bench-left": 5.0, "bench-right": 5.0, "outdoors": 5.0}
    bench.says(4.0)
    assert temps(collector) == {"bench-left": 4.0, "bench-right": 4.0, "outdoors": 5.0}
    collector.close()


def test_a_group_that_never_blocks_is_read_in_the_caller_s_thread(clock: HandClock) -> None:
    group = GatedGroup("scripted", blocking=False)
    collector = Collector([group], clock, LONG_S)
    assert temps(collector) == {"scripted": 5.0}
    assert group.reader is threading.current_thread()
    collector.close()
    assert group.closed == 1


def test_a_hung_group_does_not_keep_the_others_from_being_fresh(
    bench: GatedGroup, outdoors: GatedGroup, clock: HandClock
) -> None:
    bench.gate.clear()
    collector = Collector([bench, outdoors], clock, SHORT_S)
    for temp_c in (3.0, 2.0, 1.0):
        outdoors.says(temp_c)
        becomes(collector, "outdoors", temp_c)
    assert bench.started == 1
    collector.close()


def test_a_hung_group_s_probes_keep_their_last_reading_and_its_age(
    bench: GatedGroup, clock: HandClock
) -> None:
    collector = Collector([bench], clock, SHORT_S)
    becomes(collector, "bench-left", 5.0)
    bench.gate.clear()
    bench.says(4.0)
    clock.advance(60.0)
    for _ in range(3):
        assert collector.collect()["bench-left"] == Reading(1000.0, 5.0)
    bench.gate.set()
    becomes(collector, "bench-left", 4.0)
    collector.close()


def test_a_busy_group_is_neither_asked_nor_waited_for_again(
    bench: GatedGroup, outdoors: GatedGroup, clock: HandClock
) -> None:
    """One hung group must not cost every later tick the whole deadline."""
    bench.gate.clear()
    deadline_s, rounds = 0.5, 100
    collector = Collector([bench, outdoors], clock, deadline_s)
    started_s = time.monotonic()
    for _ in range(rounds):
        collector.collect()
    assert bench.started == 1
    assert time.monotonic() - started_s < rounds * deadline_s / 2
    collector.close()


def test_before_the_first_answer_a_probe_is_missing(bench: GatedGroup, clock: HandClock) -> None:
    bench.gate.clear()
    collector = Collector([bench], clock, SHORT_S)
    clock.advance(7.0)
    unheard = Reading(1007.0, None, Fault.MISSING, "no answer yet")
    assert collector.collect() == {"bench-left": unheard, "bench-right": unheard}
    collector.close()


def test_an_answer_later_than_the_deadline_counts_at_the_next_call(
    bench: GatedGroup, clock: HandClock
) -> None:
    bench.gate.clear()
    collector = Collector([bench], clock, SHORT_S)
    assert temps(collector)["bench-left"] is None
    bench.gate.set()
    becomes(collector, "bench-left", 5.0)
    collector.close()


@pytest.mark.parametrize("blocking", [True, False])
def test_a_driver_s_bug_blinds_its_own_probes_and_heals(
    outdoors: GatedGroup, clock: HandClock, blocking: bool
) -> None:
    bench = GatedGroup("bench-left", "bench-right", blocking=blocking)
    collector = Collector([bench, outdoors], clock, LONG_S)

    def fails() -> Mapping[str, Reading]:
        raise ZeroDivisionError("of the driver's own")

    bench.answer = fails
    readings = collector.collect()
    assert readings["outdoors"].temp_c == 5.0
    for name in bench.names:
        assert readings[name].fault is Fault.UNREADABLE
        assert "ZeroDivisionError: of the driver's own" in readings[name].detail
    bench.says(6.0)
    assert temps(collector)["bench-left"] == 6.0
    collector.close()


def test_a_driver_that_forgets_a_probe_does_not_leave_its_old_reading_standing(
    bench: GatedGroup, clock: HandClock
) -> None:
    collector = Collector([bench], clock, LONG_S)
    collector.collect()
    bench.answer = lambda: {"bench-left": Reading(1000.0, 4.0)}
    readings = collector.collect()
    assert readings["bench-left"].temp_c == 4.0
    assert readings["bench-right"].fault is Fault.UNREADABLE
    collector.close()


@pytest.mark.parametrize("blocking", [True, False])
@pytest.mark.parametrize("rubbish", [None, 4.0, [("outdoors", 4.0)], {"outdoors": 4.0}])
def test_a_driver_that_gives_no_readings_blinds_its_own_probes_and_heals(
    clock: HandClock, blocking: bool, rubbish: object
) -> None:
    group = GatedGroup("outdoors", blocking=blocking)
    collector = Collector([group], clock, LONG_S)
    group.answer = lambda: rubbish  # type: ignore[assignment, return-value] # that is the point
    reading = collector.collect()["outdoors"]
    assert (reading.temp_c, reading.fault) == (None, Fault.UNREADABLE)
    group.says(6.0)
    assert temps(collector)["outdoors"] == 6.0
    collector.close()


# The thread's end is what is tried here.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_reading_thread_that_died_is_replaced_once_there_is_room_for_one(
    clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    group = GatedGroup("outdoors")
    collector = Collector([group], clock, SHORT_S)
    group.answer = lambda: sys.exit("a library's idea of an error")
    collector.collect()
    eventually(lambda: not (group.reader and group.reader.is_alive()), "the thread has ended")
    with monkeypatch.context() as full:
        full.setattr(threading.Thread, "start", _no_room)
        assert collector.collect()["outdoors"].fault is Fault.MISSING
    group.says(6.0)
    becomes(collector, "outdoors", 6.0)
    collector.close()


def _no_room(thread: threading.Thread) -> None:
    raise RuntimeError("can't start new thread")


def test_signals_never_land_on_a_reading_thread(bench: GatedGroup, clock: HandClock) -> None:
    """One would end the kernel's wait for the conversion early."""
    collector = Collector([bench], clock, LONG_S)
    collector.collect()
    assert {signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGALRM} <= bench.signals_blocked
    collector.close()


def test_closing_ends_idle_threads_and_closes_their_groups_once(
    bench: GatedGroup, outdoors: GatedGroup, clock: HandClock
) -> None:
    before = set(threading.enumerate())
    collector = Collector([bench, outdoors], clock, LONG_S)
    collector.collect()
    collector.close()
    collector.close()
    assert set(threading.enumerate()) <= before
    assert (bench.closed, outdoors.closed) == (1, 1)


def test_closing_does_not_wait_for_a_hung_read_nor_close_under_it(
    bench: GatedGroup, clock: HandClock
) -> None:
    bench.gate.clear()
    collector = Collector([bench], clock, SHORT_S)
    collector.collect()
    collector.close()
    assert bench.closed == 0
    bench.gate.set()
    eventually(lambda: bench.closed == 1, "the group to be closed after its read")


# --- the kernel's files ---


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    made = W1Tree(tmp_path / "devices")
    made.add(BENCH, 5.0)
    made.add_master("w1_bus_master2")
    made.add(OUTDOORS, -3.0, master="w1_bus_master2")
    return made


def test_a_kernel_read_that_hangs_ages_its_bus_alone_and_recovers(tree: W1Tree) -> None:
    probes = {"bench": BENCH, "outdoors": OUTDOORS}
    groups = onewire_groups(probes, tree.folder, "auto", SystemClock())
    collector = Collector(groups, SystemClock(), SHORT_S)
    becomes(collector, "bench", 5.0)
    tree.hang(BENCH)
    for temp_c in (-3.5, -4.0, -4.5):
        tree.set_temp(OUTDOORS, temp_c)
        becomes(collector, "outdoors", temp_c)
    last = collector.collect()["bench"]
    assert last.temp_c == 5.0
    assert collector.collect()["bench"] == last
    eventually(lambda: _released(tree, BENCH, 4.5), "a reader at the hung file")
    becomes(collector, "bench", 4.5)
    tree.set_temp(BENCH, 4.0)
    becomes(collector, "bench", 4.0)
    collector.close()


def _released(tree: W1Tree, rom: str, temp_c: float) -> bool:
    try:
        tree.release(rom, temp_c)
    except OSError as error:
        if error.errno != errno.ENXIO:  # nobody waits there yet
            raise
        return False
    return True
