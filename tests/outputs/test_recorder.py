"""The recorder: the whole history, compared strictly, and failures to order."""

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.outputs import OutputDriver, OutputError
from greenkeeper.outputs.recorder import RecorderDriver


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=1.8e9, mono_s=100.0)


@pytest.fixture
def recorder(clock: HandClock) -> RecorderDriver:
    return RecorderDriver("heater", clock)


def test_every_drive_is_kept_with_its_moment(clock: HandClock, recorder: RecorderDriver) -> None:
    driver: OutputDriver = recorder
    assert (driver.name, recorder.on) == ("heater", False)
    driver.switch(on=True)
    clock.advance(5.0)
    driver.switch(on=True)
    assert recorder.on
    clock.advance(5.0)
    driver.close()
    recorder.assert_history([(100.0, True), (105.0, True), (110.0, False)])
    assert recorder.closed
    assert not recorder.on


def test_closing_twice_drives_off_once(recorder: RecorderDriver) -> None:
    recorder.close()
    recorder.close()
    recorder.assert_history([(100.0, False)])


def test_a_closed_recorder_refuses(recorder: RecorderDriver) -> None:
    recorder.close()
    with pytest.raises(OutputError, match="output heater is closed"):
        recorder.switch(on=True)


@pytest.mark.parametrize(
    "expected",
    [
        [],
        [(100.0, True)],
        [(100.0, True), (100.0, True)],
        [(100.0, True), (101.0, False)],
        [(100.0, True), (100.0, False), (100.0, False)],
    ],
)
def test_a_history_that_differs_anywhere_does_not_match(
    recorder: RecorderDriver, expected: list[tuple[float, bool]]
) -> None:
    recorder.switch(on=True)
    recorder.switch(on=False)
    with pytest.raises(AssertionError, match="heater"):
        recorder.assert_history(expected)
    recorder.assert_history([(100.0, True), (100.0, False)])


def test_one_call_can_be_made_to_fail(recorder: RecorderDriver) -> None:
    recorder.fail_at(2)
    recorder.switch(on=True)
    with pytest.raises(OutputError, match="heater was told to fail at call 2"):
        recorder.switch(on=False)
    recorder.switch(on=False)
    recorder.assert_history([(100.0, True), (100.0, False)])


def test_all_calls_from_one_on_can_be_made_to_fail(recorder: RecorderDriver) -> None:
    recorder.fail_at(1, lasting=True)
    for _ in range(3):
        with pytest.raises(OutputError):
            recorder.switch(on=True)
    with pytest.raises(OutputError):
        recorder.close()
    assert not recorder.closed
    recorder.recover()
    recorder.close()
    recorder.assert_history([(100.0, False)])
