"""Vents: two relays and a motor, and where it stands as far as time alone can tell.

Lives here: which way a vent moves, for how long, and the pause before it turns back.
Does not live here: whether it should be open (guard.py asks the zones).

What is assumed of the wiring: one relay drives the motor one way, the other the other
way, never both together (with one relay to each pole of the supply that would be a short);
switches in the motor stop it at both ends; with both relays off it stands still, and that
is its safe state: a keeper that dies leaves a vent where it is.
"""

from typing import NamedTuple

from greenkeeper.control.gear import Vent
from greenkeeper.model import Now, OutputMemory, Place, VentMemory

# Position is inferred from time, and errors add up: once a day it is driven to its closed
# end although it should be there (common practice, no source).
HOMING_S = 24 * 3600.0


class Move(NamedTuple):
    """What a vent does in this tick. At most one of the relays is on."""

    memory: VentMemory
    opening: bool
    closing: bool
    end_s: float | None  # when it will have arrived; None: it stands still
    words: str


def advance(
    vent: Vent,
    memory: VentMemory,
    relays: tuple[OutputMemory, OutputMemory],
    target: Place | None,
    failed: bool,
    now: Now,
) -> Move:
    """One tick. relays: what is remembered of the opening and of the closing one.

    target: OPEN, CLOSED, or None to stand still. failed: one of the relays cannot be
    switched, so nobody knows where the vent is, and it stands still.
    """
    opens, closes = relays
    if opens.on or closes.on:
        return _under_way(vent, memory, relays, target, failed, now)
    if failed:
        return _rest(VentMemory(Place.UNKNOWN, memory.homed_s), f"{vent.name} cannot be moved")
    way = _way(memory, target, now)
    if way is None:
        return _rest(memory, f"{vent.name} stands still ({memory.place})")
    rested_s = now.mono_s - max(opens.since_s, closes.since_s)
    if rested_s < vent.pause_s:
        return _rest(memory, f"{vent.name} pauses before it moves")
    return _start(vent, memory, way, now)


def _under_way(
    vent: Vent,
    memory: VentMemory,
    relays: tuple[OutputMemory, OutputMemory],
    target: Place | None,
    failed: bool,
    now: Now,
) -> Move:
    opening = relays[0].on
    state = relays[0] if opening else relays[1]
    goal = Place.OPEN if opening else Place.CLOSED
    end_s = state.since_s + vent.travel_s
    until_s = end_s if state.until_s is None else state.until_s
    if failed:
        return _rest(VentMemory(Place.UNKNOWN, memory.homed_s), f"{vent.name} cannot be moved")
    if until_s >= end_s and now.mono_s >= end_s:
        homed_s = memory.homed_s if opening else now.mono_s
        return _rest(VentMemory(goal, homed_s), f"{vent.name} is {goal}")
    if now.mono_s > until_s:
        return _rest(VentMemory(Place.UNKNOWN, memory.homed_s), f"{vent.name} was left on its way")
    if target is None or (target is not goal and memory.place is not Place.UNKNOWN):
        return _rest(memory, f"{vent.name} stopped on its way")
    return _moving(vent, memory, goal, end_s, now)


def _way(memory: VentMemory, target: Place | None, now: Now) -> Place | None:
    """Where to go from here. Whoever does not know where it stands goes to the closed end."""
    if target is None:
        return None
    if memory.place is Place.UNKNOWN:
        return Place.CLOSED
    if memory.place is not target:
        return target
    at_home = memory.homed_s is not None and now.mono_s - memory.homed_s < HOMING_S
    return None if target is Place.OPEN or at_home else Place.CLOSED


def _start(vent: Vent, memory: VentMemory, way: Place, now: Now) -> Move:
    # On a way whose beginning is known it is between; homing from the closed end, it stays
    # closed, and from an unknown place, unknown.
    if memory.place is not Place.UNKNOWN and memory.place is not way:
        memory = VentMemory(Place.BETWEEN, memory.homed_s)
    return _moving(vent, memory, way, now.mono_s + vent.travel_s, now)


def _moving(vent: Vent, memory: VentMemory, goal: Place, end_s: float, now: Now) -> Move:
    opening = goal is Place.OPEN
    doing = "opening" if opening else "closing"
    words = f"{vent.name} {doing}: {end_s - now.mono_s:.0f} s left"
    return Move(memory, opening, not opening, end_s, words)


def _rest(memory: VentMemory, words: str) -> Move:
    return Move(memory, opening=False, closing=False, end_s=None, words=words)
