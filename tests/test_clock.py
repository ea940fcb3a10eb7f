"""Hand-driven time moves only by hand; real time tells whether it may be trusted."""

import threading

import pytest
from freezegun import freeze_time

from greenkeeper.clock import HandClock, SystemClock


def test_waiting_turns_a_hand_clock_to_the_awaited_moment():
    clock = HandClock(utc_s=1.8e9, mono_s=50.0)
    clock.wait_until(60.0, threading.Event())
    assert clock.now() == (60.0, 1.8e9 + 10.0, True)


def test_waiting_for_the_past_does_not_turn_it_back():
    clock = HandClock(utc_s=1.8e9, mono_s=50.0)
    clock.wait_until(40.0, threading.Event())
    assert clock.mono_s() == 50.0
    with pytest.raises(ValueError, match="never runs backwards"):
        clock.advance(-1.0)


def test_setting_the_civil_clock_leaves_durations_alone():
    clock = HandClock(utc_s=1.8e9, mono_s=50.0)
    clock.set_civil(1.7e9)
    clock.advance(5.0)
    assert clock.now() == (55.0, 1.7e9 + 5.0, True)


def test_system_time_is_trusted_once_it_was_synchronised(tmp_path):
    mark = tmp_path / "synchronized"
    clock = SystemClock(sync_file=mark)
    assert not clock.now().clock_trusted
    mark.touch()
    assert clock.now().clock_trusted
    assert SystemClock(trusted=True, sync_file=tmp_path / "none").now().clock_trusted


def test_system_time_comes_from_the_kernel():
    with freeze_time("2026-01-14 03:00:00") as frozen:
        clock = SystemClock(trusted=True)
        before = clock.now()
        frozen.tick(10.0)
        after = clock.now()
    assert before.utc_s == 1768359600.0
    assert after.utc_s - before.utc_s == pytest.approx(10.0)
    assert after.mono_s - before.mono_s == pytest.approx(10.0)


def test_a_set_wake_ends_the_wait_at_once():
    wake = threading.Event()
    wake.set()
    clock = SystemClock()
    started_s = clock.mono_s()
    clock.wait_until(started_s + 30.0, wake)
    assert clock.mono_s() < started_s + 30.0
