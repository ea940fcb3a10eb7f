"""The enable line moves while somebody vouches, and stands still in every other case."""

import errno
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.gpio.chips import Chip
from greenkeeper.gpio.lines import Lines
from greenkeeper.outputs import OutputError
from greenkeeper.outputs.enable import EnableLine
from greenkeeper.outputs.switchboard import Switchboard
from greenkeeper.settings.switches import Enable
from tests.support.waiting import eventually

PIN = 16
FAST = Enable(pin=PIN, hz=20.0)


class Wire:
    """A chip with one line on it that remembers every level it was given."""

    chip = Chip(Path("wire"), "a wire", 28)

    def __init__(self) -> None:
        self.levels: list[bool] = []
        self.released = 0
        self.broken = False

    def claim(self, pin: int, level: bool) -> "Wire":
        assert pin == PIN
        self.drive(level)
        return self

    def drive(self, level: bool) -> None:
        if self.broken:
            raise OSError(errno.EIO, "the wire is broken")
        self.levels.append(level)

    def read(self) -> bool:
        return self.levels[-1]

    def release(self) -> None:
        self.released += 1

    def idle(self) -> None:
        """Nothing else is open."""


class WatchedClock(HandClock):
    """Counts how often somebody asks it."""

    def __init__(self) -> None:
        super().__init__(utc_s=1.8e9, mono_s=100.0)
        self.looks = 0

    def mono_s(self) -> float:
        self.looks += 1
        return super().mono_s()


@pytest.fixture
def wire() -> Wire:
    return Wire()


@pytest.fixture
def clock() -> WatchedClock:
    return WatchedClock()


@pytest.fixture
def line(wire: Wire, clock: WatchedClock) -> Iterator[EnableLine]:
    line = EnableLine(FAST, Lines(wire), clock)
    yield line
    wire.broken = False
    line.close()


def stands_still(wire: Wire, clock: WatchedClock) -> bool:
    """Low, and still so after its thread had some turns to change that."""
    eventually(lambda: not wire.levels[-1], "the line comes to rest low")
    before, looks = len(wire.levels), clock.looks
    eventually(lambda: clock.looks >= looks + 6, "its thread had its turns")
    return len(wire.levels) == before and not wire.levels[-1]


def test_it_is_claimed_low_and_stands_still_until_somebody_vouches(
    line: EnableLine, wire: Wire, clock: WatchedClock
) -> None:
    assert stands_still(wire, clock)
    assert wire.levels == [False]


def test_it_goes_up_and_down_while_vouched_for(line: EnableLine, wire: Wire) -> None:
    line.vouch(130.0)
    eventually(lambda: len(wire.levels) >= 9, "the line moves")
    assert wire.levels[:9] == [False, True] * 4 + [False]


def test_it_moves_up_to_the_very_moment_and_not_beyond(
    line: EnableLine, wire: Wire, clock: WatchedClock
) -> None:
    line.vouch(130.0)
    clock.advance(30.0)
    before = len(wire.levels)
    eventually(lambda: len(wire.levels) >= before + 4, "the line moves at 130.0")
    clock.advance(0.001)
    assert stands_still(wire, clock)


def test_it_moves_again_when_the_loop_comes_back(
    line: EnableLine, wire: Wire, clock: WatchedClock
) -> None:
    line.vouch(130.0)
    clock.advance(100.0)
    assert stands_still(wire, clock)
    line.vouch(230.0)
    before = len(wire.levels)
    eventually(lambda: len(wire.levels) >= before + 4, "the line moves again")


def test_still_needs_nobody_to_wait(line: EnableLine, wire: Wire, clock: WatchedClock) -> None:
    line.vouch(500.0)
    eventually(lambda: len(wire.levels) >= 4, "the line moves")
    line.still()
    assert stands_still(wire, clock)


def test_closed_it_is_low_and_let_go(wire: Wire, clock: WatchedClock) -> None:
    line = EnableLine(FAST, Lines(wire), clock)
    line.vouch(500.0)
    eventually(lambda: len(wire.levels) >= 4, "the line moves")
    assert line.close() == ()
    assert not wire.levels[-1]
    assert wire.released == 1
    assert "enable" not in {thread.name for thread in threading.enumerate()}


def test_a_line_that_cannot_be_driven_is_told_until_it_can(line: EnableLine, wire: Wire) -> None:
    wire.broken = True
    line.vouch(500.0)
    eventually(lambda: bool(line.conditions()), "the failure is told")
    (condition,) = line.conditions()
    assert (condition.code, condition.subject) == ("output-failed", "enable")
    assert "the wire is broken" in condition.text
    wire.broken = False
    eventually(lambda: not line.conditions(), "it is over")


def test_a_line_that_cannot_be_had_stops_the_start(wire: Wire, clock: WatchedClock) -> None:
    wire.broken = True
    with pytest.raises(OutputError, match="enable: GPIO16 cannot be used: the wire is broken"):
        EnableLine(FAST, Lines(wire), clock)


# --- behind the switchboard -----------------------------------------------------------------


def test_the_switchboard_passes_the_loops_word_on_and_takes_it_back(
    wire: Wire, clock: WatchedClock
) -> None:
    board = Switchboard({}, clock, enable=EnableLine(FAST, Lines(wire), clock))
    board.vouch(500.0)
    eventually(lambda: len(wire.levels) >= 4, "the line moves")
    board.all_off()
    assert stands_still(wire, clock)
    board.vouch(500.0)
    before = len(wire.levels)
    eventually(lambda: len(wire.levels) >= before + 2, "the line moves")
    assert board.close() == ()
    assert board.close() == ()
    assert not wire.levels[-1]
    assert wire.released == 1


def test_the_switchboard_tells_what_ails_it(wire: Wire, clock: WatchedClock) -> None:
    board = Switchboard({}, clock, enable=EnableLine(FAST, Lines(wire), clock))
    wire.broken = True
    board.vouch(500.0)
    eventually(lambda: bool(board.apply([])), "the failure is told")
    wire.broken = False
    board.close()


def test_a_switchboard_without_one_takes_the_loops_word_all_the_same() -> None:
    board = Switchboard({}, HandClock(utc_s=1.8e9))
    board.vouch(500.0)
    assert board.close() == ()
