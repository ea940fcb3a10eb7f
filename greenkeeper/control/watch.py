"""Watch: does the heat arrive, and does it end?

Lives here: when each question is asked, and what is remembered between the answers. Does
not live here: the questions (watching/), and what follows from a trip (latches.py).

Temperatures are looked at once a minute, and every few minutes for what takes hours.
Between two looks the last answers stand. So a tick in which nothing is due costs next to
nothing, and the minutes are the same however often a house is polled.
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.control.latches import UNTIL_ASKED, Release
from greenkeeper.control.watching import (
    contacts,
    displaced,
    door,
    limit,
    response,
    runaway,
    stuck,
    trail,
)
from greenkeeper.control.watching.parts import WatchPlan
from greenkeeper.control.watching.trail import Look
from greenkeeper.model import (
    Condition,
    ContactReading,
    Good,
    Latch,
    Now,
    OutputMemory,
    Place,
    ProbeMemory,
    VentMemory,
    Verdict,
    WatchMemory,
    ZoneView,
)

# What takes hours is looked at this often.
_SLOW_S = 240.0

# So long after a door nothing of it is left in what the house does.
_STEADY_S = 5400.0

# The sun's centre this far below the horizon leaves no light that could warm a house.
_DARK_DEG = -2.0


class Watched(NamedTuple):
    memory: WatchMemory
    conditions: tuple[Condition, ...]
    trips: tuple[Condition, ...]  # what locks the heaters out; not among the conditions


def follow(
    memory: WatchMemory,
    plan: WatchPlan,
    verdicts: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    views: tuple[ZoneView, ...],
    outputs: Mapping[str, OutputMemory],
    vents: Mapping[str, VentMemory],
    readings: Mapping[str, ContactReading],
    now: Now,
) -> Watched:
    """What there is to say about the heat in this tick.

    outputs, vents: as the last tick left them, which is how they have been until now.
    """
    told = contacts.NOTHING
    if plan.contacts:
        told = contacts.follow(plan, readings, memory.contacts, outputs, now.mono_s)
        memory = memory._replace(contacts=told.contacts)
    if not memory.minutes or now.mono_s - memory.minutes[-1].mono_s >= trail.LOOK_S:
        memory = _looked(memory, plan, verdicts, probes, views, outputs, vents, told, now)
    if told is contacts.NOTHING:
        return Watched(memory, memory.conditions, (*memory.climbing, *memory.stuck))
    return Watched(
        memory,
        (*memory.conditions, *told.conditions),
        (*memory.climbing, *memory.stuck, *told.trips),
    )


def release(latch: Latch, trips: tuple[Condition, ...]) -> Release:
    """Whether a latch of watch may go: by hand only, and not while its cause is seen."""
    for trip in trips:
        if (trip.code, trip.subject) == (latch.code, latch.subject):
            return Release(by_itself=False, refusal=f"it is still so: {trip.text}")
    return UNTIL_ASKED


def _temp_c(verdict: Verdict) -> float | None:
    return verdict.temp_c if isinstance(verdict, Good) else None


def _looked(
    memory: WatchMemory,
    plan: WatchPlan,
    verdicts: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    views: tuple[ZoneView, ...],
    outputs: Mapping[str, OutputMemory],
    vents: Mapping[str, VentMemory],
    told: contacts.Told,
    now: Now,
) -> WatchMemory:
    temps_c = tuple(_temp_c(verdicts[name]) for name in plan.probes)
    aired = _airing(plan, outputs, vents)
    look = Look(
        plan=plan,
        minutes=trail.extended(memory.minutes, plan, temps_c, outputs, now.mono_s, aired=aired),
        outputs=outputs,
        views=views,
        dark_since_s=_dark_since_s(memory, plan, now),
        darkness_known=_darkness_known(plan, now),
        aired_s=now.mono_s if aired else memory.aired_s,
    )
    climbs = runaway.follow(
        plan,
        memory.measured,
        verdicts,
        probes,
        memory.climbs,
        now.mono_s,
        dark=look.dark_since_s is not None,
    )
    # A trail that begins anew counts the heaters' times anew: a run from before has no end.
    spells = memory.spells if len(look.minutes) > 1 else {}
    heat = response.follow(look, spells, memory.silent, told.excused)
    doors = door.follow(look, memory.falls)
    door_s = now.mono_s if doors.falls or told.doors else memory.door_s
    slow, slow_due_s = memory.slow, memory.slow_due_s
    if slow_due_s is None or now.mono_s >= slow_due_s:
        idle = frozenset(heat.silent) | told.excused
        fallen = tuple(displaced.find(look))
        slow = (*limit.find(look, idle, {each.subject for each in fallen}), *fallen)
        slow_due_s = now.mono_s + _SLOW_S
    return WatchMemory(
        minutes=look.minutes,
        dark_since_s=look.dark_since_s,
        aired_s=look.aired_s,
        door_s=door_s,
        spells=heat.spells,
        silent=heat.silent,
        falls=doors.falls,
        measured=climbs.measured,
        climbs=climbs.climbs,
        contacts=memory.contacts,
        slow_due_s=slow_due_s,
        conditions=(*heat.conditions, *slow, *doors.conditions),
        slow=slow,
        stuck=tuple(stuck.find(look, door_s)),
        climbing=climbs.trips,
    )


def is_steady(memory: WatchMemory, plan: WatchPlan, now: Now) -> bool:
    """It is known to be dark, and since long nobody was at the door."""
    if memory.dark_since_s is None or not _darkness_known(plan, now):
        return False
    return memory.door_s is None or now.mono_s - memory.door_s >= _STEADY_S


def _darkness_known(plan: WatchPlan, now: Now) -> bool:
    return plan.latitude is not None and plan.longitude is not None and now.clock_trusted


def _dark_since_s(memory: WatchMemory, plan: WatchPlan, now: Now) -> float | None:
    if plan.latitude is None or plan.longitude is None or not now.clock_trusted:
        return None
    if not sun.is_below(_DARK_DEG, now.utc_s, plan.latitude, plan.longitude):
        return None
    return now.mono_s if memory.dark_since_s is None else memory.dark_since_s


def _airing(
    plan: WatchPlan, outputs: Mapping[str, OutputMemory], vents: Mapping[str, VentMemory]
) -> bool:
    return any(outputs[name].on for name in plan.coolers) or any(
        vent.place is not Place.CLOSED for vent in vents.values()
    )
