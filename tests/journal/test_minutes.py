"""Temperatures summed to minutes."""

from collections import defaultdict
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.journal.minutes import ProbeMinutes
from greenkeeper.journal.rows import ProbeMinute
from greenkeeper.model import Bad, Fault, Good, Now, Reading, Verdict
from tests.journal.ticks import START, at

SOURCES = {"bench": "onewire 28-0316a2795a01"}


def add(minutes: ProbeMinutes, now: Now, verdict: Verdict, reading: Reading | None) -> None:
    minutes.add(now, {} if reading is None else {"bench": reading}, {"bench": verdict})


def fresh(minutes: ProbeMinutes, now: Now, temp_c: float) -> None:
    add(minutes, now, Good(temp_c, 0.0), Reading(now.mono_s, temp_c))


def only(minutes: ProbeMinutes) -> ProbeMinute:
    (row,) = minutes.take(SOURCES)
    return row


def test_a_minute_holds_low_mean_high_and_count() -> None:
    minutes = ProbeMinutes()
    for index, temp_c in enumerate((5.0, 4.5, 6.0, 4.5)):
        fresh(minutes, at(index * 10), temp_c)
    assert only(minutes) == ProbeMinute(
        int(START.utc_s), "bench", SOURCES["bench"], 4, 4.5, 5.0, 6.0, 0
    )


def test_the_end_of_a_minute_belongs_to_the_next() -> None:
    minutes = ProbeMinutes()
    for seconds in (0.0, 59.9, 60.0):
        fresh(minutes, at(seconds), 5.0)
    assert [(row.utc_s - START.utc_s, row.n) for row in minutes.take(SOURCES)] == [(0, 2), (60, 1)]


def test_the_same_measurement_in_two_ticks_counts_once() -> None:
    minutes = ProbeMinutes()
    reading = Reading(at(0).mono_s, 5.0)
    add(minutes, at(0), Good(5.0, 0.0), reading)
    add(minutes, at(1), Good(5.0, 1.0), reading)
    add(minutes, at(2), Good(5.0, 2.0), reading)
    row = only(minutes)
    assert (row.n, row.bad) == (1, 0)


def test_a_fault_bridged_by_the_last_good_value_is_a_bad_tick_and_no_measurement() -> None:
    minutes = ProbeMinutes()
    fresh(minutes, at(0), 5.0)
    add(minutes, at(10), Good(5.0, 10.0), Reading(at(10).mono_s, None, Fault.CHECKSUM))
    row = only(minutes)
    assert (row.n, row.bad) == (1, 1)


def test_a_reading_not_believed_yet_is_a_bad_tick() -> None:
    minutes = ProbeMinutes()
    fresh(minutes, at(0), 5.0)
    add(minutes, at(10), Good(5.0, 10.0), Reading(at(10).mono_s, 25.0))  # a jump in doubt
    row = only(minutes)
    assert (row.n, row.bad, row.high_c) == (1, 1, 5.0)


def test_a_probe_that_vanished_from_the_readings_is_a_bad_tick() -> None:
    minutes = ProbeMinutes()
    fresh(minutes, at(0), 5.0)
    add(minutes, at(10), Good(5.0, 10.0), None)
    assert only(minutes).bad == 1


def test_a_minute_without_a_measurement_has_no_temperature() -> None:
    minutes = ProbeMinutes()
    for index in range(3):
        add(minutes, at(index * 10), Bad(Fault.MISSING, "gone"), None)
    row = only(minutes)
    assert (row.n, row.bad) == (0, 3)
    assert (row.low_c, row.mean_c, row.high_c) == (None, None, None)


def test_taking_starts_anew_and_the_rest_of_the_minute_comes_later() -> None:
    minutes = ProbeMinutes()
    fresh(minutes, at(0), 5.0)
    assert only(minutes).n == 1
    assert minutes.take(SOURCES) == []
    fresh(minutes, at(10), 6.0)
    row = only(minutes)
    assert (row.utc_s, row.n, row.low_c) == (int(START.utc_s), 1, 6.0)


TEMPS = st.one_of(st.none(), st.floats(-55.0, 125.0))


@given(st.lists(st.tuples(st.floats(0.1, 100.0), TEMPS), min_size=1, max_size=60))
def test_minutes_equal_an_independent_calculation(course: list[tuple[float, float | None]]) -> None:
    """Against lists of all values by minute, and the standard library's mean."""
    minutes, now = ProbeMinutes(), START
    good: dict[int, list[float]] = defaultdict(list)
    bad: dict[int, int] = defaultdict(int)
    for step_s, temp_c in course:
        now = Now(now.mono_s + step_s, now.utc_s + step_s, True)
        minute = int(now.utc_s) - int(now.utc_s) % 60
        if temp_c is None:
            add(minutes, now, Bad(Fault.MISSING, ""), Reading(now.mono_s, None, Fault.MISSING))
            bad[minute] += 1
        else:
            fresh(minutes, now, temp_c)
            good[minute].append(temp_c)
    rows = {row.utc_s: row for row in minutes.take(SOURCES)}
    assert set(rows) == set(good) | set(bad)
    for utc_s, row in rows.items():
        values = good.get(utc_s, [])
        assert (row.n, row.bad) == (len(values), bad.get(utc_s, 0))
        if not values:
            assert (row.low_c, row.mean_c, row.high_c) == (None, None, None)
            continue
        assert (row.low_c, row.high_c) == (min(values), max(values))
        assert row.mean_c == pytest.approx(fmean(values), abs=1e-9)


@given(st.floats(-55.0, 125.0), st.integers(1, 60))
def test_the_mean_of_equal_values_never_leaves_them(temp_c: float, times: int) -> None:
    minutes = ProbeMinutes()
    for index in range(times):
        fresh(minutes, at(index * 0.5), temp_c)
    row = only(minutes)
    assert row.low_c == row.mean_c == row.high_c == temp_c
