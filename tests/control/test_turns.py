"""Of contacts that turn, doors and mains are news; what follows a heater is not."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.control import make_plan, turns
from greenkeeper.model import ContactReading
from tests.control.houses import settings

INPUTS = {
    "door": {"kind": "scripted", "tells": "door-open", "of": "bench", "file": "x"},
    "mains": {"kind": "scripted", "tells": "mains-present", "file": "x"},
    "mirror": {"kind": "scripted", "tells": "contactor-closed", "of": "heater", "file": "x"},
    "amps": {"kind": "scripted", "tells": "heater-current", "of": "heater", "file": "x"},
}
PLAN = make_plan(settings(inputs=INPUTS)).watch


def noted(*course: bool | None) -> list[tuple[str, str]]:
    """What is noted while all contacts go through this course."""
    said: dict[str, bool] = {}
    found = []
    for active in course:
        readings = {name: ContactReading(1000.0, active) for name in INPUTS}
        turned = turns.follow(PLAN, said, readings)
        said = dict(turned.said)
        assert {note.code for note in turned.notes} <= {"contact-changed"}
        found += [(note.subject, note.text) for note in turned.notes]
    return found


def test_a_turn_of_a_door_or_of_the_mains_is_noted_once() -> None:
    assert noted(False, True, True) == [("door", "open"), ("mains", "mains present")]
    assert noted(True, False, False) == [("door", "shut"), ("mains", "no mains")]


def test_a_contact_heard_for_the_first_time_has_not_turned() -> None:
    assert noted(True) == []
    assert noted(None, None, False) == []


def test_a_time_of_not_knowing_is_no_turn_and_hides_none() -> None:
    assert noted(True, None, None, True) == []
    assert noted(True, None, False) == [("door", "shut"), ("mains", "no mains")]


@given(st.lists(st.sampled_from([True, False, None]), max_size=30))
def test_the_notes_are_the_changes_of_what_was_known(course: list[bool | None]) -> None:
    known = [active for active in course if active is not None]
    changes = [after for before, after in pairwise(known) if before != after]
    words = {True: "open", False: "shut"}
    doors = [text for name, text in noted(*course) if name == "door"]
    assert doors == [words[active] for active in changes]
