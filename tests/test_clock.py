"""Hand-driven time moves only by hand; real time tells whether it may be trusted."""

import threading
import time

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


def test_civil_time_is_the_kernels_and_setting_it_leaves_durations_alone():
    with freeze_time("2026-01-14 03:00:00") as frozen:
        clock = SystemClock(trusted=True)
        before = clock.now()
        frozen.tick(7 * 86_400.0)
        after = clock.now()
    assert before.utc_s == 1768359600.0
    assert after.utc_s - before.utc_s == pytest.approx(7 * 86_400.0)
    assert 0.0 <= after.mono_s - before.mono_s < 3600.0


@pytest.mark.parametrize("moment", ["2026-12-31 23:59:59", "2028-02-28 23:59:59"])
def test_the_last_second_of_a_year_or_before_a_leap_day_is_a_second_like_any_other(moment):
    with freeze_time(moment) as frozen:
        clock = SystemClock(trusted=True)
        before = clock.now()
        frozen.tick(1.0)
        assert clock.now().utc_s - before.utc_s == pytest.approx(1.0)


def test_time_in_which_the_machine_slept_counts(monkeypatch):
    """What suspending does: seconds since boot go on, those it was awake for do not."""
    seen = {time.CLOCK_BOOTTIME: 500.0, time.CLOCK_MONOTONIC: 400.0}
    monkeypatch.setattr(time, "clock_gettime", seen.__getitem__)
    clock = SystemClock()
    assert clock.mono_s() == 500.0
    seen[time.CLOCK_BOOTTIME] += 8 * 3600.0
    assert clock.mono_s() == clock.now().mono_s == 500.0 + 8 * 3600.0


def test_a_set_wake_ends_the_wait_at_once():
    wake = threading.Event()
    wake.set()
    clock = SystemClock()
    started_s = clock.mono_s()
    clock.wait_until(started_s + 30.0, wake)
    assert clock.mono_s() < started_s + 30.0
