"""What holds for any commands, any times and any failures."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.clock import HandClock
from greenkeeper.model import Command
from greenkeeper.outputs.recorder import RecorderDriver
from greenkeeper.outputs.switchboard import Switchboard

NAMES = ("heater", "fan", "vent")

_seconds = st.floats(0.0, 60.0)
_untils = st.one_of(st.none(), st.floats(-30.0, 90.0), st.just(float("nan")), st.just(float("inf")))
_orders = st.tuples(st.sampled_from(NAMES), st.booleans(), _untils)
# One round: commands with their expiry relative to now, then time passes.
_rounds = st.lists(st.tuples(st.lists(_orders, max_size=4), _seconds), max_size=8)
# Per output: the call that fails first and whether it goes on failing; None: it never fails.
_failures = st.none() | st.tuples(st.integers(1, 6), st.booleans())


def _commands(orders: Sequence[tuple[str, bool, float | None]], now_s: float) -> list[Command]:
    return [
        Command(name, on, None if not on or ahead_s is None else now_s + ahead_s, "")
        for name, on, ahead_s in orders
    ]


@contextmanager
def _board(clock: HandClock) -> Iterator[tuple[Switchboard, dict[str, RecorderDriver]]]:
    drivers = {name: RecorderDriver(name, clock) for name in NAMES}
    board = Switchboard(drivers, clock)
    try:
        yield board, drivers
    finally:
        for driver in drivers.values():
            driver.recover()
        board.close()
        assert all(driver.closed and not driver.on for driver in drivers.values())


@given(_rounds)
def test_nothing_is_on_beyond_its_latest_expiry(
    rounds: list[tuple[list[tuple[str, bool, float | None]], float]],
) -> None:
    clock = HandClock(utc_s=1.8e9, mono_s=1000.0)
    with _board(clock) as (board, drivers):
        until_s: dict[str, float | None] = dict.fromkeys(NAMES)
        for orders, seconds in rounds:
            now_s = clock.mono_s()
            commands = _commands(orders, now_s)
            board.apply(commands)
            for name in NAMES:
                mine = [c for c in commands if c.output == name]
                if any(not c.on for c in mine):
                    until_s[name] = None
                elif mine:
                    until_s[name] = mine[-1].until_s
            clock.advance(seconds)
            board.lapse(clock.mono_s())
            for name, driver in drivers.items():
                end_s = until_s[name]
                permitted = end_s is not None and now_s <= end_s < float("inf")
                if permitted and end_s is not None and clock.mono_s() <= end_s:
                    assert driver.on
                else:
                    assert not driver.on
                    until_s[name] = None


@given(_rounds, st.tuples(_failures, _failures, _failures))
def test_failing_drivers_never_keep_the_others_on(
    rounds: list[tuple[list[tuple[str, bool, float | None]], float]],
    failures: tuple[tuple[int, bool] | None, ...],
) -> None:
    clock = HandClock(utc_s=1.8e9, mono_s=1000.0)
    with _board(clock) as (board, drivers):
        for driver, failure in zip(drivers.values(), failures, strict=True):
            if failure is not None:
                driver.fail_at(failure[0], lasting=failure[1])
        for orders, seconds in rounds:
            board.apply(_commands(orders, clock.mono_s()))
            clock.advance(seconds)
            board.lapse(clock.mono_s())
        clock.advance(1000.0)  # beyond every permission
        board.lapse(clock.mono_s())
        board.lapse(clock.mono_s())  # a single failure is over by the second attempt
        failed = {c.subject for c in board.apply([]) if c.code == "output-failed"}
        for (name, driver), failure in zip(drivers.items(), failures, strict=True):
            if failure is None or not failure[1]:
                assert not driver.on
                assert name not in failed
            elif driver.on:
                assert name in failed
