"""Wear: how much of each relay's life is spent.

Lives here: saying so at half of it and near its end, and beginning anew when a person has
fitted another relay. Does not live here: counting (guard.py), keeping the counts over a
restart (the shell), and what a contact is good for (settings: rated_operations).
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from greenkeeper.control.plan import Plan
from greenkeeper.model import Condition, OutputMemory, Request

CODE = "relay-worn"
HALF_CODE = "relay-half-worn"


class Wear(NamedTuple):
    outputs: Mapping[str, OutputMemory]
    conditions: Sequence[Condition]
    notes: Sequence[Condition]


def watch(
    plan: Plan,
    before: Mapping[str, OutputMemory],
    after: Mapping[str, OutputMemory],
    requests: Sequence[Request],
) -> Wear:
    """What stands, and what is to be noted of this tick.

    Half a life is worth a note when it is reached; a worn relay is told until it is changed.
    """
    notes: list[Condition] = []
    if requests:
        after = _renewed(after, requests, notes)
    conditions: list[Condition] = []
    for name, life in plan.gear.lives.items():
        state = after.get(name)
        if state is None or state.operations < life.half:
            continue
        text = f"{state.operations} of {life.rated} switchings"
        if state.operations >= life.worn:
            conditions.append(Condition(CODE, name, text))
        elif before[name].operations < life.half:
            notes.append(Condition(HALF_CODE, name, text))
    return Wear(after, conditions, notes)


def _renewed(
    outputs: Mapping[str, OutputMemory], requests: Sequence[Request], notes: list[Condition]
) -> Mapping[str, OutputMemory]:
    """A person fitted a new relay: its life begins at nothing."""
    after = dict(outputs)
    for name in sorted({request.new_relay for request in requests if request.new_relay}):
        if name in after:
            text = f"counted from nothing, after {after[name].operations} switchings"
            after[name] = after[name]._replace(operations=0)
            notes.append(Condition("relay-renewed", name, text))
        else:
            notes.append(Condition("relay-unknown", name, "no zone uses an output of this name"))
    return after
