"""No code of the catalogue flaps, however its cause comes and goes.

A code is told in one of three ways, and a new one has to join one of them: by a condition
that waits and lingers; by one that cannot come and go; or once, as a happening.
"""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.control import alarms
from greenkeeper.errors import CATALOGUE
from greenkeeper.model import Condition, Event, Now, Phase

# Whatever happens every tick may not be told more often than this.
QUIETEST_S = 30.0

HAPPENINGS = {
    "aired", "clock-jumped", "contact-changed", "keeper-failed", "keeper-started",
    "keeper-stopped", "latch-cleared", "latch-kept", "order-ended", "order-taken",
    "commissioned", "ran-too-long", "relay-renewed", "relay-unknown", "settings-changed",
    "settings-refused",
}  # fmt: skip
# Latches, which wait for a person; a count that only a person takes back; what one run of
# the keeper cannot take back.
STANDING = {
    "journal-damaged", "over-ceiling", "relay-half-worn", "relay-worn", "runaway", "stuck-on",
}  # fmt: skip
CONDITIONS = sorted(CATALOGUE.keys() - HAPPENINGS - STANDING)

# Whether the cause is there, and for how long it stays so.
courses = st.lists(
    st.tuples(st.booleans(), st.sampled_from([1.0, 5.0, 10.0, 10.0, 31.0, 61.0, 121.0, 700.0])),
    min_size=1,
    max_size=60,
)


@pytest.mark.parametrize("code", CONDITIONS)
def test_what_comes_and_goes_waits_or_lingers(code: str) -> None:
    entry = CATALOGUE[code]
    assert entry.raise_after_s + entry.clear_after_s >= QUIETEST_S


@pytest.mark.parametrize("code", sorted(HAPPENINGS | STANDING))
def test_what_does_not_come_and_go_neither_waits_nor_lingers(code: str) -> None:
    entry = CATALOGUE[code]
    assert (entry.raise_after_s, entry.clear_after_s) == (0.0, 0.0)


@settings(max_examples=150, deadline=None)
@given(code=st.sampled_from(sorted(CATALOGUE)), course=courses)
def test_it_is_told_after_its_time_and_ended_after_its_time_and_in_turn(
    code: str, course: list[tuple[bool, float]]
) -> None:
    entry = CATALOGUE[code]
    told = _told(code, course)
    assert [event.phase for event in told] == [
        Phase.CLEARED if number % 2 else Phase.RAISED for number in range(len(told))
    ]
    for event in told:
        wanted = event.phase is Phase.RAISED
        must_last_s = entry.raise_after_s if wanted else entry.clear_after_s
        assert _same_for_s(course, event.mono_s, wanted) >= must_last_s
    raised_s = [event.mono_s for event in told if event.phase is Phase.RAISED]
    for before_s, after_s in pairwise(raised_s):
        assert after_s - before_s >= entry.raise_after_s + entry.clear_after_s


@settings(max_examples=50, deadline=None)
@given(code=st.sampled_from(CONDITIONS), ticks=st.lists(st.booleans(), min_size=400, max_size=400))
def test_a_cause_that_flickers_with_every_tick_for_an_hour_is_told_a_few_times_at_most(
    code: str, ticks: list[bool]
) -> None:
    told = _told(code, [(present, 10.0) for present in ticks])
    entry = CATALOGUE[code]
    most = 1 + 4000.0 / max(QUIETEST_S, entry.raise_after_s + entry.clear_after_s)
    assert sum(event.phase is Phase.RAISED for event in told) <= most


def _told(code: str, course: list[tuple[bool, float]]) -> list[Event]:
    """A tick at the beginning of each stretch."""
    board: object = {}
    told: list[Event] = []
    now = Now(0.0, 1.8e9, True)
    for present, stays_s in course:
        conditions = [Condition(code, "thing", "as the test says")] if present else []
        board, events = alarms.advance(board, conditions, now)
        told += events
        now = Now(now.mono_s + stays_s, now.utc_s + stays_s, True)
    return told


def _same_for_s(course: list[tuple[bool, float]], at_s: float, wanted: bool) -> float:
    """For how long, as the ticks until then saw it, the cause had been so."""
    since_s: float | None = None
    tick_s = 0.0
    for present, stays_s in course:
        if tick_s > at_s:
            break
        if present is not wanted:
            since_s = None
        elif since_s is None:
            since_s = tick_s
        tick_s += stays_s
    return -1.0 if since_s is None else at_s - since_s
