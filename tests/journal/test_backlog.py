"""What waits for the card, and what is dropped first."""

from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.journal.backlog import Backlog, Lost
from greenkeeper.journal.rows import Minute, Note, OutputMinute, Switching
from tests.journal.ticks import START, event


def minute(number: int) -> Minute:
    return OutputMinute(60 * number, "heater", None, 0.0, 0)


def note(number: int) -> Note:
    return Switching(60.0 * number, 0.0, "heater", None, True, "")


def test_what_is_added_comes_out_in_order_and_once() -> None:
    backlog = Backlog(10)
    backlog.add([minute(1), minute(2)], [note(1)])
    assert backlog.take_notes() == [note(1)]
    assert backlog.take_minutes() == [minute(1), minute(2)]
    assert len(backlog) == 0


def test_what_could_not_be_written_comes_before_what_came_meanwhile() -> None:
    backlog = Backlog(10)
    backlog.add([minute(3)], [note(3)])
    backlog.put_back([minute(1), minute(2)], [note(1), note(2)])
    assert backlog.take_minutes() == [minute(1), minute(2), minute(3)]
    assert backlog.take_notes() == [note(1), note(2), note(3)]


def test_the_oldest_minutes_go_first_and_are_counted() -> None:
    backlog = Backlog(4)
    backlog.add([minute(number) for number in range(5)], [note(0), note(1)])
    assert backlog.take_minutes() == [minute(3), minute(4)]
    assert backlog.take_notes() == [note(0), note(1)]
    assert backlog.lost == Lost(minutes=3, notes=0, first_utc_s=0.0, last_utc_s=120.0)


def test_notes_go_only_when_no_minute_is_left() -> None:
    backlog = Backlog(2)
    backlog.add([minute(7)], [note(number) for number in range(3)])
    assert backlog.take_notes() == [note(1), note(2)]
    assert backlog.lost == Lost(minutes=1, notes=1, first_utc_s=0.0, last_utc_s=420.0)


def test_what_is_given_up_is_counted_as_lost() -> None:
    backlog = Backlog(10)
    backlog.give_up([minute(2)], [note(1)])
    assert backlog.lost == Lost(minutes=1, notes=1, first_utc_s=60.0, last_utc_s=120.0)
    assert len(backlog) == 0


ACTIONS = st.lists(
    st.tuples(st.sampled_from(["minute", "note", "fail", "write"]), st.integers(1, 9))
)


@given(st.integers(1, 12), ACTIONS)
def test_the_bound_holds_nothing_is_lost_uncounted_and_notes_outlive_minutes(
    limit: int, actions: list[tuple[str, int]]
) -> None:
    backlog, added, written = Backlog(limit), [0, 0], [0, 0]
    for action, number in actions:
        if action == "minute":
            backlog.add(map(minute, range(number)), [])
            added[0] += number
        elif action == "note":
            backlog.add([], map(note, range(number)))
            added[1] += number
        else:
            minutes, notes = backlog.take_minutes(), backlog.take_notes()
            if action == "fail":
                backlog.put_back(minutes, notes)
            else:
                written[0] += len(minutes)
                written[1] += len(notes)
        assert len(backlog) <= limit
    lost = backlog.lost or Lost(0, 0, 0.0, 0.0)
    minutes_left, notes_left = len(backlog.take_minutes()), len(backlog.take_notes())
    assert written[0] + minutes_left + lost.minutes == added[0]
    assert written[1] + notes_left + lost.notes == added[1]


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=20))
def test_no_note_is_dropped_while_a_minute_waits(steps: list[tuple[int, int]]) -> None:
    backlog = Backlog(8)
    for minutes, notes in steps:
        notes_lost = backlog.lost.notes if backlog.lost else 0
        backlog.add(map(minute, range(minutes)), map(note, range(notes)))
        if backlog.lost and backlog.lost.notes > notes_lost:
            kept = backlog.take_minutes()
            assert kept == []


def test_an_event_counts_as_a_note() -> None:
    backlog = Backlog(1)
    backlog.add([], [event(START), event(START)])
    assert backlog.lost is not None
    assert backlog.lost.notes == 1
