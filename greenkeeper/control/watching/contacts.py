"""What contacts tell for certain: no temperature need be waited for.

Lives here: contacts held against the commands, and contacts that cannot be read. Does
not live here: reading and debouncing them (probes/contact.py), and the latch that
follows (latches.py).

A contradiction counts once command and contact have both stood for the contact's
settle_s, which is never within the tick that switched.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from greenkeeper.control.watching import door, response, stuck
from greenkeeper.control.watching.parts import ContactPart, WatchPlan
from greenkeeper.model import Condition, ContactReading, OutputMemory

MAINS_LOST = "mains-lost"
FAILED = "contact-failed"

_UNHEARD = "nothing was heard of it"


class Told(NamedTuple):
    contacts: Mapping[str, ContactReading]  # taken_s: since when it has said so
    conditions: tuple[Condition, ...]
    trips: tuple[Condition, ...]
    excused: frozenset[str]  # heaters whose silence is explained
    doors: frozenset[str]  # zones, or contacts, whose door is open for certain


NOTHING = Told({}, (), (), frozenset(), frozenset())


def follow(
    plan: WatchPlan,
    readings: Mapping[str, ContactReading],
    before: Mapping[str, ContactReading],
    outputs: Mapping[str, OutputMemory],
    now_s: float,
) -> Told:
    """before: what the last tick made of them."""
    states = {
        part.name: _state(readings.get(part.name), before.get(part.name), plan, now_s)
        for part in plan.contacts
    }
    conditions = list(_failures(plan, states))
    doors: set[str] = set()
    aired: set[str] = set()  # heaters behind an open door
    told: set[str] = set()  # heaters of which it is certain already why they give no heat
    for part in plan.contacts:
        state = states[part.name]
        if part.tells == "door-open" and state.active:
            doors.add(part.of or part.name)
            aired.update(part.heaters)
            conditions.append(Condition(door.CODE, part.of or part.name, f"{part.name} says so"))
        elif part.tells == "mains-present" and _stands(state, False, part, now_s):
            told.update(part.heaters)
            conditions.append(Condition(MAINS_LOST, part.of or part.name, _mains_text(part)))
    trips: list[Condition] = []
    for part in plan.contacts:
        if part.tells in ("contactor-closed", "heater-current"):
            _hold_against(part, states[part.name], outputs, told, now_s, conditions, trips)
    excused = frozenset(aired | told)
    return Told(states, tuple(conditions), tuple(trips), excused, frozenset(doors))


def _state(
    reading: ContactReading | None, before: ContactReading | None, plan: WatchPlan, now_s: float
) -> ContactReading:
    """What it says, and since when."""
    if reading is None:
        says = ContactReading(now_s, None, _UNHEARD)
    elif not now_s - reading.taken_s <= plan.contact_stale_s:  # so that NaN fails too
        says = ContactReading(now_s, None, f"nothing new for {now_s - reading.taken_s:.0f} s")
    else:
        says = reading
    if before is not None and before.active is says.active:
        return before._replace(detail=says.detail)
    return says._replace(taken_s=now_s)


def _failures(plan: WatchPlan, states: Mapping[str, ContactReading]) -> Iterator[Condition]:
    for part in plan.contacts:
        if states[part.name].active is None:
            yield Condition(FAILED, part.name, states[part.name].detail or "it cannot be read")


def _stands(state: ContactReading, active: bool, part: ContactPart, now_s: float) -> bool:
    return state.active is active and now_s - state.taken_s >= part.settle_s


def _hold_against(
    part: ContactPart,
    state: ContactReading,
    outputs: Mapping[str, OutputMemory],
    told: set[str],
    now_s: float,
    conditions: list[Condition],
    trips: list[Condition],
) -> None:
    for heater in part.heaters:
        command = outputs[heater]
        if now_s - command.since_s < part.settle_s:
            continue
        if not command.on and _stands(state, True, part, now_s):
            trips.append(Condition(stuck.CODE, heater, f"{heater} is off, but {_saying(part)}"))
        elif command.on and _stands(state, False, part, now_s) and heater not in told:
            text = f"{heater} is on, but {_denying(part)}"
            conditions.append(Condition(response.CODE, heater, text))
            told.add(heater)  # temperatures need not say it again


def _saying(part: ContactPart) -> str:
    what = "the contactor is closed" if part.tells == "contactor-closed" else "current flows"
    return f"{what} ({part.name})"


def _denying(part: ContactPart) -> str:
    what = "the contactor is open" if part.tells == "contactor-closed" else "no current flows"
    return f"{what} ({part.name})"


def _mains_text(part: ContactPart) -> str:
    return f"{part.name} sees no mains{f' at {part.of}' if part.of else ''}"
