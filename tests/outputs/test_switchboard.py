"""The switchboard: order, expiry, and failures that stay apart."""

import sys
import threading
from collections.abc import Iterator

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Command, Condition
from greenkeeper.outputs import switchboard as module
from greenkeeper.outputs.recorder import RecorderDriver
from greenkeeper.outputs.switchboard import Switchboard
from tests.support.waiting import eventually


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=1.8e9, mono_s=100.0)


@pytest.fixture
def drivers(clock: HandClock) -> dict[str, RecorderDriver]:
    return {name: RecorderDriver(name, clock) for name in ("heater", "fan", "vent")}


@pytest.fixture
def heater(drivers: dict[str, RecorderDriver]) -> RecorderDriver:
    return drivers["heater"]


@pytest.fixture
def board(drivers: dict[str, RecorderDriver], clock: HandClock) -> Iterator[Switchboard]:
    board = Switchboard(drivers, clock)
    yield board
    board.close()


def on(output: str, until_s: float | None = 130.0) -> Command:
    return Command(output, True, until_s, "cold")


def off(output: str) -> Command:
    return Command(output, False, None, "warm enough")


def test_offs_go_before_ons_whatever_their_order(clock: HandClock) -> None:
    seen: list[tuple[str, bool]] = []

    class Listed(RecorderDriver):
        def switch(self, *, on: bool) -> None:
            seen.append((self.name, on))

    board = Switchboard({name: Listed(name, clock) for name in ("opens", "closes")}, clock)
    board.apply([on("opens"), off("closes")])
    board.apply([on("closes"), off("opens")])
    board.apply([off("closes"), on("opens")])
    assert seen == [
        ("opens", True),
        ("opens", False),
        ("closes", True),
        ("closes", False),
        ("opens", True),
    ]
    board.close()


def test_an_output_already_as_commanded_is_not_switched_again(
    board: Switchboard, heater: RecorderDriver
) -> None:
    for _ in range(3):
        assert board.apply([off("heater")]) == ()
    heater.assert_history([])
    for _ in range(3):
        assert board.apply([on("heater")]) == ()
    heater.assert_history([(100.0, True)])


def test_an_output_without_a_command_stays_as_it_is(
    board: Switchboard, heater: RecorderDriver
) -> None:
    board.apply([on("heater")])
    board.apply([on("fan")])
    heater.assert_history([(100.0, True)])


def test_off_holds_against_a_contradicting_on(board: Switchboard, heater: RecorderDriver) -> None:
    board.apply([on("heater")])
    board.apply([off("heater"), on("heater", 500.0)])
    heater.assert_history([(100.0, True), (100.0, False)])


def test_a_command_for_an_unknown_output_is_told(board: Switchboard) -> None:
    (condition,) = board.apply([on("boiler")])
    assert (condition.code, condition.subject) == ("output-failed", "boiler")


# --- expiry ------------------------------------------------------------------------------


def test_an_on_lapses_just_after_its_expiry_not_at_it(
    board: Switchboard, heater: RecorderDriver
) -> None:
    board.apply([on("heater", 130.0)])
    board.lapse(130.0)
    assert heater.on
    board.lapse(130.001)
    heater.assert_history([(100.0, True), (100.0, False)])


def test_a_renewed_on_does_not_lapse(board: Switchboard, heater: RecorderDriver) -> None:
    board.apply([on("heater", 130.0)])
    board.apply([on("heater", 140.0)])
    board.lapse(135.0)
    heater.assert_history([(100.0, True)])


def test_a_permission_can_be_shortened(board: Switchboard, heater: RecorderDriver) -> None:
    board.apply([on("heater", 140.0)])
    board.apply([on("heater", 110.0)])
    board.lapse(120.0)
    assert not heater.on


def test_a_lapse_is_told_once_by_the_next_apply(board: Switchboard) -> None:
    board.apply([on("heater", 130.0)])
    board.lapse(131.0)
    board.lapse(132.0)
    (condition,) = board.apply([])
    assert (condition.code, condition.subject) == ("tick-late", "heater")
    assert "did not renew its permission in time" in condition.text
    assert board.apply([]) == ()


@pytest.mark.parametrize("until_s", [None, float("inf"), float("nan"), 99.9])
def test_an_on_without_a_future_expiry_is_an_off(
    board: Switchboard, heater: RecorderDriver, until_s: float | None
) -> None:
    board.apply([on("heater")])
    (condition,) = board.apply([on("heater", until_s)])
    assert condition.code == "tick-late"
    heater.assert_history([(100.0, True), (100.0, False)])


def test_an_on_that_comes_too_late_goes_off_before_others_come_on(clock: HandClock) -> None:
    seen: list[tuple[str, bool]] = []

    class Listed(RecorderDriver):
        def switch(self, *, on: bool) -> None:
            seen.append((self.name, on))

    board = Switchboard({name: Listed(name, clock) for name in ("fan", "heater")}, clock)
    board.apply([on("heater")])
    board.apply([on("fan"), on("heater", 50.0)])
    assert seen == [("heater", True), ("heater", False), ("fan", True)]
    board.close()


def test_the_thread_switches_off_what_a_hung_loop_leaves_on(
    board: Switchboard, heater: RecorderDriver, clock: HandClock
) -> None:
    board.apply([on("heater", 130.0), on("fan", 500.0)])
    clock.advance(31.0)  # and no tick comes
    eventually(lambda: not heater.on, "the heater goes off without the loop")
    heater.assert_history([(100.0, True), (131.0, False)])


def test_the_thread_does_not_turn_the_clock(board: Switchboard, clock: HandClock) -> None:
    looked = threading.Event()

    def mono_s() -> float:
        looked.set()
        return HandClock.mono_s(clock)

    clock.mono_s = mono_s  # type: ignore[method-assign] # to see the thread look
    board.apply([on("heater", 130.0)])
    looked.clear()
    assert looked.wait(20.0)
    assert clock.now().mono_s == 100.0


def test_a_driver_that_hangs_does_not_keep_the_others_on(clock: HandClock) -> None:
    entered, leave = threading.Event(), threading.Event()

    class Hanging(RecorderDriver):
        def switch(self, *, on: bool) -> None:
            entered.set()
            leave.wait(20.0)
            super().switch(on=on)

    heater = RecorderDriver("heater", clock)
    board = Switchboard({"fan": Hanging("fan", clock), "heater": heater}, clock)
    board.apply([on("heater", 130.0)])
    loop = threading.Thread(target=board.apply, args=([on("fan", 500.0)],))
    loop.start()
    assert entered.wait(20.0)
    board.lapse(131.0)
    assert not heater.on
    assert loop.is_alive()  # the fan was not waited for
    leave.set()
    loop.join()
    board.close()


def test_the_way_out_leaves_a_driver_that_hangs_behind(
    clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or the program would never end, and nobody would drive that relay off from outside."""
    monkeypatch.setattr(module, "_HANG_S", 0.05)
    entered, leave = threading.Event(), threading.Event()

    class Hanging(RecorderDriver):
        def switch(self, *, on: bool) -> None:
            entered.set()
            leave.wait(20.0)
            super().switch(on=on)

    heater = RecorderDriver("heater", clock)
    board = Switchboard({"fan": Hanging("fan", clock), "heater": heater}, clock)
    board.apply([on("heater", 130.0)])
    loop = threading.Thread(target=board.apply, args=([on("fan", 500.0)],))
    loop.start()
    assert entered.wait(20.0)
    hangs = Condition("output-failed", "fan", "output fan: its driver hangs")
    assert board.all_off() == (hangs,)
    assert not heater.on
    assert board.close() == (hangs,)
    assert heater.closed
    leave.set()
    loop.join()


def test_an_error_does_not_end_the_thread_and_is_told_once(
    board: Switchboard, heater: RecorderDriver, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    lapse, met = board.lapse, threading.Event()

    def stumble(now_s: float) -> None:
        if not met.is_set():
            met.set()
            raise MemoryError
        lapse(now_s)

    board.apply([on("heater")])
    monkeypatch.setattr(board, "lapse", stumble)
    assert met.wait(20.0)
    clock.advance(31.0)
    eventually(lambda: not heater.on, "off although the loop hangs")
    told = [c for c in board.apply([off("heater")]) if c.code == "part-failed"]
    text = "looking for ended permissions: MemoryError()"
    assert told == [Condition("part-failed", "switchboard", text)]
    assert board.apply([off("heater")]) == ()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_died_is_replaced_and_told_of(
    board: Switchboard, heater: RecorderDriver, clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as dying:
        dying.setattr(board, "lapse", lambda _: sys.exit(1))
        eventually(lambda: not board._thread.is_alive(), "the thread has died")
    with monkeypatch.context() as full:
        full.setattr(threading.Thread, "start", _no_room)
        (told,) = board.apply([on("heater", 130.0)])
        assert told.text == "the thread that ends permissions has died: can't start new thread"
    (told,) = board.apply([on("heater", 130.0)])
    assert told == Condition(
        "part-failed", "switchboard", "the thread that ends permissions had died"
    )
    clock.advance(31.0)
    eventually(lambda: not heater.on, "off although the loop hangs")


def _no_room(thread: threading.Thread) -> None:
    raise RuntimeError("can't start new thread")


# --- failures ----------------------------------------------------------------------------


def _failed(conditions: tuple[Condition, ...]) -> list[str]:
    return [c.subject for c in conditions if c.code == "output-failed"]


def test_a_failing_driver_does_not_stop_the_others(
    board: Switchboard, drivers: dict[str, RecorderDriver]
) -> None:
    board.apply([on(name) for name in drivers])
    drivers["heater"].fail_at(2, lasting=True)
    assert _failed(board.apply([off(name) for name in drivers])) == ["heater"]
    assert [driver.on for driver in drivers.values()] == [True, False, False]
    drivers["heater"].recover()


def test_a_failure_lasts_until_the_driver_does_as_told(
    board: Switchboard, heater: RecorderDriver
) -> None:
    heater.fail_at(1, lasting=True)
    (condition,) = board.apply([on("heater")])
    assert condition == Condition(
        "output-failed", "heater", "output heater was told to fail at call 1"
    )
    assert _failed(board.apply([])) == ["heater"]
    assert _failed(board.apply([on("heater")])) == ["heater"]
    heater.recover()
    assert board.apply([on("heater")]) == ()
    heater.assert_history([(100.0, True)])


def test_an_on_that_failed_is_driven_off_when_its_permission_ends(
    board: Switchboard, heater: RecorderDriver
) -> None:
    """It failed, but nobody knows how far it got."""
    heater.fail_at(1)
    board.apply([on("heater", 130.0)])
    board.lapse(131.0)
    heater.assert_history([(100.0, False)])


def test_an_off_that_failed_is_tried_again_without_the_loop(
    board: Switchboard, heater: RecorderDriver
) -> None:
    board.apply([on("heater")])
    heater.fail_at(2)
    board.apply([off("heater")])
    eventually(lambda: not heater.on, "the heater goes off at the second attempt")
    eventually(lambda: board.apply([]) == (), "the failure is over")


def test_a_driver_with_a_bug_is_a_failure_like_any_other(clock: HandClock) -> None:
    class Buggy(RecorderDriver):
        def switch(self, *, on: bool) -> None:
            raise ZeroDivisionError(f"division by zero, {on=}")

    board = Switchboard({"heater": Buggy("heater", clock)}, clock)
    (condition,) = board.apply([on("heater")])
    assert condition.text == "output heater: ZeroDivisionError('division by zero, on=True')"
    board.close()


def test_every_code_is_in_the_catalogue() -> None:
    assert {module.FAILED, module.LATE, module.STUMBLED} <= CATALOGUE.keys()


# --- the end -----------------------------------------------------------------------------


def test_all_off_tries_every_output(board: Switchboard, drivers: dict[str, RecorderDriver]) -> None:
    board.apply([on(name) for name in drivers])
    drivers["heater"].fail_at(2)
    assert _failed(board.all_off()) == ["heater"]
    assert not drivers["fan"].on
    assert not drivers["vent"].on
    assert board.all_off() == ()
    assert not drivers["heater"].on


@pytest.mark.parametrize("failing", ["heater", "fan", "vent"])
def test_closing_closes_every_driver_whatever_the_others_do(
    board: Switchboard, drivers: dict[str, RecorderDriver], failing: str
) -> None:
    board.apply([on(name) for name in drivers])
    drivers[failing].fail_at(2, lasting=True)
    assert _failed(board.close()) == [failing]
    for name, driver in drivers.items():
        assert driver.closed is (name != failing)
        assert driver.on is (name == failing)
    drivers[failing].recover()
    assert board.close() == ()
    assert not drivers[failing].on


def test_all_are_off_before_the_first_is_closed(clock: HandClock) -> None:
    seen: list[str] = []

    class Listed(RecorderDriver):
        def switch(self, *, on: bool) -> None:
            seen.append(f"{self.name} {'on' if on else 'off'}")

        def close(self) -> None:
            seen.append(f"{self.name} closed")

    board = Switchboard({name: Listed(name, clock) for name in ("heater", "fan")}, clock)
    board.apply([on("heater"), on("fan")])
    board.close()
    assert seen[2:] == ["heater off", "fan off", "heater closed", "fan closed"]


def test_closing_ends_the_thread(drivers: dict[str, RecorderDriver], clock: HandClock) -> None:
    board = Switchboard(drivers, clock)
    board.close()
    assert not board._thread.is_alive()


def test_nothing_comes_on_once_it_is_closed(board: Switchboard, heater: RecorderDriver) -> None:
    board.close()
    assert _failed(board.apply([on("heater")])) == ["heater"]
    assert not heater.on
