"""Commands summed to time on, and the switchings they make."""

from collections import defaultdict

from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.journal.on_time import OnTime
from greenkeeper.journal.rows import OutputMinute, Switching
from greenkeeper.model import Command, Now
from tests.journal.ticks import LEASE_S, START, after, at, command

POWERS = {"heater": 1500.0}


class Played:
    """One heater played through ticks."""

    def __init__(self) -> None:
        self.on_time = OnTime()
        self.switchings: list[Switching] = []

    def tick(self, now: Now, on: bool, lease_s: float = LEASE_S) -> None:
        self.switchings += self.on_time.add(now, [command(now, "heater", on, lease_s)], POWERS)

    def stop(self, now: Now) -> None:
        self.switchings += self.on_time.stop(now, POWERS)

    def minutes(self) -> dict[int, OutputMinute]:
        """By seconds since the start."""
        return {row.utc_s - int(START.utc_s): row for row in self.on_time.take(POWERS)}

    def on_s(self) -> dict[int, float]:
        return {seconds: row.on_s for seconds, row in self.minutes().items()}

    def turns(self) -> list[tuple[float, bool]]:
        """(seconds since the start on the monotonic clock, on or off)."""
        return [(each.mono_s - START.mono_s, each.on) for each in self.switchings]


def test_an_output_off_all_the_time_is_recorded_as_watched_and_off() -> None:
    played = Played()
    for seconds in range(0, 120, 10):
        played.tick(at(seconds), False)
    assert played.on_s() == {0: 0.0, 60: 0.0}
    assert played.turns() == []


def test_time_on_counts_from_tick_to_tick_and_across_the_minute() -> None:
    played = Played()
    for seconds, on in ((50, True), (58, True), (66, False)):
        played.tick(at(seconds), on)
    assert played.on_s() == {0: 10.0, 60: 6.0}
    assert played.turns() == [(50, True), (66, False)]


def test_the_switching_on_counts_in_the_minute_it_happens() -> None:
    played = Played()
    for seconds, on in ((0, True), (10, False), (20, True), (61, False), (70, True)):
        played.tick(at(seconds), on, lease_s=60)
    assert {key: row.switchings for key, row in played.minutes().items()} == {0: 2, 60: 1}


def test_nothing_is_claimed_beyond_the_expiry_when_a_tick_comes_late() -> None:
    played = Played()
    played.tick(at(0), True)
    played.tick(at(600), False)
    assert sum(played.on_s().values()) == LEASE_S
    assert played.turns() == [(0, True), (LEASE_S, False)]
    assert "lapsed" in played.switchings[1].reason


def test_an_end_that_was_planned_is_not_called_a_lapse() -> None:
    on_time = OnTime()
    opens = Command("roof-open", True, START.mono_s + 12.0, "opening", planned=True)
    on_time.add(at(0), [opens], {})
    (ended,) = on_time.add(at(20), [Command("roof-open", False, None, "open")], {})
    assert (ended.mono_s, ended.on) == (START.mono_s + 12.0, False)
    assert ended.reason == "ran for as long as it was meant to"
    on_time.add(at(30), [opens._replace(until_s=START.mono_s + 35.0, planned=False)], {})
    (lapsed,) = on_time.add(at(40), [Command("roof-open", False, None, "open")], {})
    assert "lapsed" in lapsed.reason


def test_an_on_renewed_too_late_is_a_switching_off_and_on_again() -> None:
    played = Played()
    played.tick(at(0), True)
    played.tick(at(40), True)
    played.tick(at(50), False)
    assert played.turns() == [(0, True), (30, False), (40, True), (50, False)]
    assert sum(played.on_s().values()) == 40.0
    assert played.switchings[1].utc_s == at(30).utc_s


def test_an_on_renewed_at_its_very_last_moment_has_not_lapsed() -> None:
    played = Played()
    played.tick(at(0), True)
    played.tick(at(LEASE_S), True)
    played.tick(at(40), False)
    assert played.turns() == [(0, True), (40, False)]
    assert sum(played.on_s().values()) == 40.0


def test_the_end_of_the_run_counts_the_last_stretch_and_switches_off() -> None:
    played = Played()
    played.tick(at(0), True)
    played.stop(at(7))
    assert played.on_s() == {0: 7.0}
    assert played.turns() == [(0, True), (7, False)]
    assert played.switchings[1].reason == "the keeper stopped"


def test_the_end_of_the_run_long_after_the_last_tick_claims_no_more_than_the_expiry() -> None:
    played = Played()
    played.tick(at(0), True)
    played.stop(at(500))
    assert sum(played.on_s().values()) == LEASE_S
    assert played.turns() == [(0, True), (LEASE_S, False)]


def test_an_output_without_a_command_in_this_tick_stays_on_until_its_expiry() -> None:
    played = Played()
    played.tick(at(0), True)
    for seconds in (10, 20, 30, 40):
        played.switchings += played.on_time.add(at(seconds), [], POWERS)
    assert sum(played.on_s().values()) == LEASE_S
    assert played.turns() == [(0, True), (LEASE_S, False)]


def test_a_clock_set_back_moves_no_time_and_loses_none() -> None:
    played = Played()
    now = at(50)
    played.tick(now, True)
    now = after(now, 20.0, civil_s=20.0 - 3600.0)  # set back an hour meanwhile
    played.tick(now, True)
    now = after(now, 10.0)
    played.tick(now, False)
    # 20 s by the old clock from 50 on, then 10 s from 70 - 3600 on by the new one.
    assert played.on_s() == {0: 10.0, 60: 10.0, -3540: 10.0}


def test_an_on_without_an_expiry_is_worth_no_time() -> None:
    on_time = OnTime()
    on_time.add(at(0), [Command("heater", True, None, "")], POWERS)
    on_time.add(at(10), [Command("heater", False, None, "")], POWERS)
    assert sum(row.on_s for row in on_time.take(POWERS)) == 0.0


def test_rows_and_switchings_carry_the_power_of_their_time() -> None:
    played = Played()
    played.tick(at(0), True)
    assert played.switchings[0].power_w == 1500.0
    assert played.minutes()[0].power_w == 1500.0
    assert [row.power_w for row in played.on_time.take({})] == []


# Times in eighths of a second, so that the other calculation below can count slots.
_SLOT_S = 0.125
SLOTS = st.integers(1, 1000)
COURSES = st.lists(
    st.tuples(
        SLOTS, st.booleans(), st.integers(0, 400), st.integers(-40_000, 40_000), st.booleans()
    ),
    min_size=1,
    max_size=25,
)


@given(COURSES)
def test_minutes_equal_counting_slots_and_add_up_exactly(
    course: list[tuple[int, bool, int, int, bool]],
) -> None:
    """Each step: slots since the last tick, on, lease in slots, clock set by, rows taken now.

    The other calculation paints every eighth of a second by itself: on if the tick before
    said so and its expiry is not yet reached, in the minute that tick's clock gives it.
    """
    played = Played()
    painted: dict[int, int] = defaultdict(int)
    rows: dict[int, float] = defaultdict(float)
    mono, offset = 8 * int(START.mono_s), 8 * int(START.utc_s - START.mono_s)
    before: tuple[int, int, int] | None = None  # mono, until, offset of the last ON
    for slots, on, lease, step, take in course:
        if before is not None:
            for slot in range(before[0], min(mono + slots, before[1])):
                painted[(slot + before[2]) // 480 * 60] += 1
        mono += slots
        offset += step if abs(step) > 20_000 else 0
        now = Now(mono * _SLOT_S, (mono + offset) * _SLOT_S, True)
        played.tick(now, on, lease * _SLOT_S)
        before = (mono, mono + lease, offset) if on else None
        if take:
            for row in played.on_time.take(POWERS):
                rows[row.utc_s] += row.on_s
    for row in played.on_time.take(POWERS):
        rows[row.utc_s] += row.on_s
    assert {key: value for key, value in rows.items() if value} == {
        key: count * _SLOT_S for key, count in painted.items()
    }


@given(st.lists(st.tuples(st.floats(0.01, 500.0), st.booleans()), min_size=2, max_size=40))
def test_switchings_and_minutes_tell_the_same_time_on(course: list[tuple[float, bool]]) -> None:
    """Whatever the ticks' rhythm, off minus on over all switchings is the sum of the minutes."""
    played, now = Played(), START
    for step_s, on in course:
        now = after(now, step_s)
        played.tick(now, on)
    played.stop(after(now, 5.0))
    told_s = sum((-1 if each.on else 1) * each.mono_s for each in played.switchings)
    counted_us = sum(round(row.on_s * 1e6) for row in played.on_time.take(POWERS))
    # Each switching's moment is rounded to the microsecond.
    assert abs(told_s * 1e6 - counted_us) <= len(played.switchings)
    assert [each.on for each in played.switchings] == [
        index % 2 == 0 for index in range(len(played.switchings))
    ]
