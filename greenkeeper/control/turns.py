"""Turns: the changes of contacts that are news.

Lives here: doors and mains, whose every change is noted, also one behind a time in which
the contact was unknown. Does not live here: the contacts that follow a heater. They change
with its every switching, thousands of times a winter; the record has the switchings, and
what contradicts them is an alarm (watching/contacts.py).
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.control.watching.parts import WatchPlan
from greenkeeper.model import Condition, ContactReading

CODE = "contact-changed"

_WORDS = {
    "door-open": {True: "open", False: "shut"},
    "mains-present": {True: "mains present", False: "no mains"},
}


class Turned(NamedTuple):
    said: Mapping[str, bool]  # what each last said for certain
    notes: tuple[Condition, ...]


def follow(
    plan: WatchPlan, said: Mapping[str, bool], contacts: Mapping[str, ContactReading]
) -> Turned:
    """said: as the last tick left it. A contact never heard before has not turned."""
    if not plan.contacts:
        return Turned(said, ())
    new = {
        part.name: active
        for part in plan.contacts
        if part.tells in _WORDS
        and (active := contacts[part.name].active) is not None
        and said.get(part.name) is not active
    }
    if not new:
        return Turned(said, ())
    notes = tuple(
        Condition(CODE, part.name, _WORDS[part.tells][new[part.name]])
        for part in plan.contacts
        if part.name in new and part.name in said
    )
    return Turned({**said, **new}, notes)
