"""A contact settles at once what temperatures take hours to tell, and is not believed blindly."""

from typing import Any

import pytest

from tests.control.watching.watchman import Watchman

CONTACTOR = {"kind": "scripted", "file": "x.csv", "tells": "contactor-closed", "of": "heater"}
CURRENT = {"kind": "scripted", "file": "x.csv", "tells": "heater-current", "of": "heater"}
MAINS = {"kind": "scripted", "file": "x.csv", "tells": "mains-present"}
DOOR = {"kind": "scripted", "file": "x.csv", "tells": "door-open", "of": "bench"}


def wired(**inputs: dict[str, Any]) -> Watchman:
    """Ticks every 10 s, at noon or at night alike: a contact needs no darkness."""
    return Watchman(look_s=10.0, inputs=inputs)


@pytest.mark.parametrize(
    ("contact", "words"), [(CONTACTOR, "the contactor is closed"), (CURRENT, "current flows")]
)
def test_heat_that_flows_though_it_is_off_is_certain_within_two_polls(
    contact: dict[str, Any], words: str
) -> None:
    watchman = wired(aux=contact)
    watchman.go(5.0, heater=True, contacts={"aux": True})
    watchman.go(5.0, contacts={"aux": True})
    told = watchman.first("stuck-on")
    assert told is not None
    assert told - 5.0 <= 2 * 10.0 / 60.0 + 1e-9
    assert words in watchman.text("stuck-on")
    assert [each.code for each in watchman.watched.trips] == ["stuck-on"]


@pytest.mark.parametrize(
    ("contact", "words"), [(CONTACTOR, "the contactor is open"), (CURRENT, "no current flows")]
)
def test_heat_that_does_not_flow_though_it_is_on_is_certain_too(
    contact: dict[str, Any], words: str
) -> None:
    watchman = wired(aux=contact)
    watchman.go(5.0, contacts={"aux": False})
    watchman.go(5.0, heater=True, contacts={"aux": False})
    told = watchman.first("no-response")
    assert told is not None
    assert told - 5.0 <= 2 * 10.0 / 60.0 + 1e-9
    assert words in watchman.text("no-response")
    assert watchman.watched.trips == ()


def test_what_follows_the_command_is_never_told() -> None:
    watchman = wired(aux=CONTACTOR, current=CURRENT)
    for _ in range(5):
        watchman.go(5.0, heater=True, contacts={"aux": True, "current": True})
        watchman.go(5.0, contacts={"aux": False, "current": False})
    assert watchman.seen == []


def test_a_contact_that_follows_late_is_given_its_settling_time() -> None:
    patient = wired(current={**CURRENT, "settle_s": 120.0})
    hasty = wired(current=CURRENT)
    for watchman in (patient, hasty):
        watchman.go(5.0, heater=True, contacts={"current": True})
        watchman.go(1.5, contacts={"current": True})  # a fan heater cools itself down
        watchman.go(5.0, contacts={"current": False})
    assert patient.first("stuck-on") is None
    assert hasty.first("stuck-on") is not None


def test_lost_mains_are_told_and_explain_missing_heat() -> None:
    watchman = wired(rcd=MAINS, current=CURRENT)
    watchman.go(5.0, heater=True, contacts={"rcd": True, "current": True})
    watchman.go(60.0, heater=True, contacts={"rcd": False, "current": False})
    assert watchman.codes() == {"mains-lost"}
    watchman.go(1.0, heater=True, contacts={"rcd": True, "current": True})
    assert watchman.codes() == set()


def test_an_open_door_is_told_for_its_zone_and_explains_missing_heat() -> None:
    watchman = wired(reed=DOOR)
    watchman.go(120.0, bench=8.0, contacts={"reed": False})
    watchman.go(60.0, heater=True, bench=4.0, contacts={"reed": True})
    assert watchman.codes() == {"door-open"}
    assert {each.subject for _, each in watchman.seen} == {"bench"}


def test_an_open_door_does_not_explain_a_contactor_that_stays_open() -> None:
    watchman = wired(reed=DOOR, aux=CONTACTOR)
    watchman.go(5.0, contacts={"reed": True, "aux": False})
    watchman.go(5.0, heater=True, contacts={"reed": True, "aux": False})
    assert watchman.codes() == {"door-open", "no-response"}


def test_a_door_that_was_open_explains_the_rise_after_it_was_shut() -> None:
    watchman = wired(reed=DOOR)
    watchman.go(60.0, bench=8.0, contacts={"reed": False})
    watchman.go(30.0, bench=4.0, contacts={"reed": True})
    watchman.go(29.0, bench=8.0, contacts={"reed": False})
    assert watchman.first("stuck-on") is None


@pytest.mark.parametrize("reading", [{}, {"aux": None}])
def test_a_contact_that_cannot_be_read_is_named_and_not_believed(
    reading: dict[str, bool | None],
) -> None:
    watchman = wired(aux=CONTACTOR)
    watchman.go(2.0, heater=True, contacts={"aux": True})
    watchman.go(5.0, contacts=reading)
    assert watchman.codes() == {"contact-failed"}


def test_a_reading_that_stays_the_same_old_one_counts_no_more() -> None:
    watchman = wired(aux=CONTACTOR)
    watchman.go(1.0, contacts={"aux": False})
    told = dict(watchman.memory.contacts)
    assert told["aux"].active is False
    watchman.go(2.0)  # the driver hangs: nothing new is handed over
    assert watchman.memory.contacts["aux"].active is None


def test_two_contacts_that_say_the_same_tell_it_once() -> None:
    watchman = wired(aux=CONTACTOR, current=CURRENT)
    watchman.go(5.0, contacts={"aux": False, "current": False})
    watchman.go(5.0, heater=True, contacts={"aux": False, "current": False})
    assert [each.code for each in watchman.watched.conditions] == ["no-response"]
