"""Turns: the changes of contacts that are news.

Lives here: doors and mains, whose every change is noted. Does not live here: the contacts
that follow a heater. They change with its every switching, thousands of times a winter;
the record has the switchings, and what contradicts them is an alarm
(watching/contacts.py).
"""

from collections.abc import Mapping

from greenkeeper.control.watching.parts import WatchPlan
from greenkeeper.model import Condition, ContactReading

CODE = "contact-changed"

_WORDS = {
    "door-open": {True: "open", False: "shut"},
    "mains-present": {True: "mains present", False: "no mains"},
}


def notes(
    plan: WatchPlan, before: Mapping[str, ContactReading], after: Mapping[str, ContactReading]
) -> list[Condition]:
    """What turned since the last tick. A contact never heard before has not turned."""
    found = []
    for part in plan.contacts:
        words = _WORDS.get(part.tells)
        old, new = before.get(part.name), after.get(part.name)
        if words is None or old is None or new is None or new.active is None:
            continue
        if new.active is not old.active:
            found.append(Condition(CODE, part.name, words[new.active]))
    return found
