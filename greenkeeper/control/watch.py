"""Watch: does the heat arrive, and does it end?

Lives here: when each question is asked, and what is remembered between the answers. Does
not live here: the questions (watching/), and what follows from a trip (latches.py).

Temperatures are looked at once a minute, and glanced at every quarter of one for what
cannot wait. Between two looks the last answers stand. So a tick in which nothing is due
costs next to nothing, and the minutes are the same however often a house is polled.
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
    Minute,
    Now,
    OutputMemory,
    Place,
    VentMemory,
    Verdict,
    WatchMemory,
    ZoneView,
)

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
    if memory.due_s is None or now.mono_s >= memory.due_s:
        temps_c = tuple(_temp_c(verdicts[name]) for name in plan.probes)
        memory = _glanced(memory, plan, temps_c, now.mono_s)
        if not memory.minutes or now.mono_s - memory.minutes[-1].mono_s >= trail.LOOK_S:
            memory = _looked(memory, plan, temps_c, views, outputs, vents, told, now)
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


def _glanced(
    memory: WatchMemory, plan: WatchPlan, temps_c: tuple[float | None, ...], now_s: float
) -> WatchMemory:
    before = memory.glance
    due_s = now_s + runaway.GLANCE_S
    if before is None or now_s - before.mono_s > trail.GAP_S:
        return memory._replace(due_s=due_s, glance=Minute(now_s, temps_c, ()), climbing=())
    now = Minute(now_s, temps_c, ())
    climbs = runaway.glance(plan, before, now, memory.climbs, dark=memory.dark_since_s is not None)
    return memory._replace(due_s=due_s, glance=now, climbs=climbs.climbs, climbing=climbs.trips)


def _looked(
    memory: WatchMemory,
    plan: WatchPlan,
    temps_c: tuple[float | None, ...],
    views: tuple[ZoneView, ...],
    outputs: Mapping[str, OutputMemory],
    vents: Mapping[str, VentMemory],
    told: contacts.Told,
    now: Now,
) -> WatchMemory:
    look = Look(
        plan=plan,
        minutes=trail.extended(memory.minutes, plan, temps_c, outputs, now.mono_s),
        outputs=outputs,
        views=views,
        dark_since_s=_dark_since_s(memory, plan, now),
        darkness_known=_darkness_known(plan, now),
        aired_s=now.mono_s if _airing(plan, outputs, vents) else memory.aired_s,
    )
    heat = response.follow(look, memory.spells, memory.silent, told.excused)
    doors = door.follow(look, memory.falls)
    door_s = now.mono_s if doors.falls or told.doors else memory.door_s
    return memory._replace(
        minutes=look.minutes,
        dark_since_s=look.dark_since_s,
        aired_s=look.aired_s,
        door_s=door_s,
        spells=heat.spells,
        silent=heat.silent,
        falls=doors.falls,
        conditions=(
            *heat.conditions,
            *limit.find(look, frozenset(heat.silent) | told.excused),
            *displaced.find(look),
            *doors.conditions,
        ),
        stuck=tuple(stuck.find(look, door_s)),
    )


def _darkness_known(plan: WatchPlan, now: Now) -> bool:
    return plan.latitude is not None and plan.longitude is not None and now.clock_trusted


def _dark_since_s(memory: WatchMemory, plan: WatchPlan, now: Now) -> float | None:
    if plan.latitude is None or plan.longitude is None or not now.clock_trusted:
        return None
    if sun.elevation_deg(now.utc_s, plan.latitude, plan.longitude) >= _DARK_DEG:
        return None
    return now.mono_s if memory.dark_since_s is None else memory.dark_since_s


def _airing(
    plan: WatchPlan, outputs: Mapping[str, OutputMemory], vents: Mapping[str, VentMemory]
) -> bool:
    return any(outputs[name].on for name in plan.coolers) or any(
        vent.place is not Place.CLOSED for vent in vents.values()
    )
