"""Of contacts that turn, doors and mains are news; what follows a heater is not."""

import pytest

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


def said(active: bool | None) -> dict[str, ContactReading]:
    return {name: ContactReading(1000.0, active) for name in INPUTS}


def noted(before: bool | None, after: bool | None) -> list[tuple[str, str, str]]:
    return [tuple(note) for note in turns.notes(PLAN, said(before), said(after))]


@pytest.mark.parametrize(
    ("before", "after", "door", "mains"),
    [
        (False, True, "open", "mains present"),
        (True, False, "shut", "no mains"),
        (None, True, "open", "mains present"),
        (None, False, "shut", "no mains"),
    ],
)
def test_a_turn_of_a_door_or_of_the_mains_is_noted(
    before: bool | None, after: bool, door: str, mains: str
) -> None:
    assert noted(before, after) == [
        ("contact-changed", "door", door),
        ("contact-changed", "mains", mains),
    ]


@pytest.mark.parametrize("before", [True, False, None])
def test_what_stays_or_becomes_unknown_is_not_noted(before: bool | None) -> None:
    assert noted(before, before) == []
    assert noted(before, None) == []


def test_a_contact_heard_for_the_first_time_has_not_turned() -> None:
    assert turns.notes(PLAN, {}, said(True)) == []
    assert turns.notes(PLAN, said(True), {}) == []
