"""A latch stands until a person asks for it to go and nothing refuses, whatever its code."""

from greenkeeper.control import latches
from greenkeeper.control.latches import Release
from greenkeeper.model import Condition, Latch, Now, Request

NOW = Now(500.0, 1.8e9, True)
LATER = Now(900.0, 1.8e9 + 400.0, True)
TRIP = Condition("stuck-on", "heater", "heats though it is off")
NAME = "stuck-on-heater"

FREE = Release(by_itself=False, refusal=None)
HELD = Release(by_itself=False, refusal="it is still warm")
OF_ITSELF = Release(by_itself=True, refusal=None)
NOT_YET = Release(by_itself=True, refusal="still hot")


def advance(standing, *, trips=(), ask=(), release=FREE, now=NOW):
    requests = [Request(name) for name in ask]
    return latches.advance(standing, trips, requests, lambda latch: release, now)


def standing() -> dict[str, Latch]:
    return dict(advance({}, trips=[TRIP])[0])


def test_while_nothing_happens_the_same_mapping_is_handed_on():
    before: dict[str, Latch] = {}
    after, notes = advance(before)
    assert after is before
    assert notes == []


def test_a_trip_becomes_a_latch_with_its_moment():
    assert standing() == {NAME: Latch("stuck-on", "heater", TRIP.text, NOW.utc_s)}


def test_a_latch_that_trips_again_keeps_its_first_words_and_moment():
    again = TRIP._replace(text="and again")
    after, _ = advance(standing(), trips=[again], now=LATER)
    assert after == standing()


def test_it_stays_when_nobody_asks_though_nothing_refuses():
    assert advance(standing(), release=FREE) == (standing(), [])


def test_it_goes_when_a_person_asks_and_nothing_refuses():
    after, notes = advance(standing(), ask=[NAME])
    assert after == {}
    assert notes == [Condition("latch-cleared", NAME, TRIP.text)]


def test_a_refusal_is_told_to_who_asked():
    after, notes = advance(standing(), ask=[NAME], release=HELD)
    assert after == standing()
    assert notes == [Condition("latch-kept", NAME, "it is still warm")]


def test_a_refusal_is_not_told_to_nobody():
    assert advance(standing(), release=NOT_YET) == (standing(), [])


def test_one_that_may_go_by_itself_waits_for_its_cause_only():
    assert advance(standing(), release=NOT_YET)[0]
    after, notes = advance(standing(), release=OF_ITSELF)
    assert after == {}
    assert notes == [Condition("latch-cleared", NAME, TRIP.text)]


def test_asked_for_in_the_very_tick_it_trips_it_is_judged_by_its_release():
    after, notes = advance({}, trips=[TRIP], ask=[NAME], release=HELD)
    assert list(after) == [NAME]
    # Before this tick there was no such latch, and that is what the person asked about.
    assert {note.text for note in notes} == {"there is no such latch", "it is still warm"}


def test_a_person_clears_the_latch_they_name_and_no_other():
    other = TRIP._replace(subject="mat")
    both, _ = advance({}, trips=[TRIP, other])
    after, _ = advance(both, ask=[NAME])
    assert list(after) == ["stuck-on-mat"]


def test_any_latch_at_all_locks_the_heaters_and_says_why():
    assert latches.heater_locked({}) is None
    assert latches.heater_locked(standing()) == "locked out: heats though it is off"
