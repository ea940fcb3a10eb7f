"""Calm: while nothing moves, the last answer is the answer.

Lives here: when a whole tick need not be worked out again, which in a year is three ticks
in four. Does not live here: any decision. A tick that is answered from here is the very
same, word for word, as the one that all stages together would give; the tests ask for both
at every tick they play.

Calm is: every probe trusted and as it was, every output off and none wanted, no latch, no
condition, nothing to tell. Outdoors alone may move: watch is asked of it in any case, and what
else would go by it prevents calm. What time alone will change, a stage says by its next
moment: calm ends there. A stage that counts time and has no such moment must prevent calm.

Whoever turns the clock himself (the rehearsal) need not even ask: `lasts_until_s` says for how
long the same readings change nothing at all, `carried` what those ticks leave behind, and
`looked` what the tick leaves in which watch alone has a look.
"""

from collections.abc import Mapping, Sequence

from greenkeeper.control import schedule, watch
from greenkeeper.control.plan import Plan
from greenkeeper.control.watching import trail
from greenkeeper.model import (
    Calm,
    Command,
    Event,
    Good,
    Memory,
    NeighbourMemory,
    Now,
    ProbeMemory,
    Reading,
    Tick,
    Verdict,
)


def again(
    readings: Mapping[str, Reading],
    judged: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    memory: Memory,
    plan: Plan,
    now: Now,
) -> Tick | None:
    """This tick, if it can only be the last one again. judged, probes: judge's, of now."""
    calm = memory.calm
    if (
        calm is None
        or now.mono_s >= calm.until_s
        or not now.clock_trusted
        or schedule.is_night(plan, now) is not calm.night
        or not _as_they_were(judged, probes, memory.probes, plan.outdoor)
    ):
        return None
    seen = _seen(memory, plan, judged, probes, now)
    if seen.conditions or seen.trips:
        return None
    after = memory._replace(probes=probes, watch=seen.memory, last=now)
    return Tick(now, readings, judged, memory.views, calm.commands, (), after)


def lasts_until_s(memory: Memory, now: Now) -> float:
    """Before which monotonic second `again` would answer every tick, and answer it alike.

    memory: what the tick at `now` left. It holds for ticks no further apart than poll_s, in
    each of which every probe is read anew and says the very same, under clocks that go
    together. now's own second, if the next tick has to be asked for.
    """
    calm, minutes = memory.calm, memory.watch.minutes
    if calm is None or not minutes or not now.clock_trusted:
        return now.mono_s
    if not all([probe.good_s == now.mono_s for probe in memory.probes.values()]):
        return now.mono_s
    # Day and night change on a whole minute of civil time, and never within one.
    return min(
        calm.until_s, minutes[-1].mono_s + trail.LOOK_S, now.mono_s + 60.0 - now.utc_s % 60.0
    )


def carried(memory: Memory, last: Now) -> Memory:
    """What the ticks up to `last` left behind, `last` included, none of which was asked for.

    memory: what the last one that was asked for left, for which `lasts_until_s` allowed it.
    """
    return memory._replace(probes=_read_anew(memory.probes, last.mono_s), last=last)


def looked(memory: Memory, plan: Plan, now: Now) -> Memory | None:
    """What the tick at `now` leaves behind, if it is one more that `again` would answer.

    memory, readings and clocks: as for `carried`. None: it has to be asked for.
    """
    calm = memory.calm
    if calm is None or now.mono_s >= calm.until_s or schedule.is_night(plan, now) is not calm.night:
        return None
    probes = _read_anew(memory.probes, now.mono_s)
    verdicts = {
        name: Good(probe.good_c, 0.0) for name, probe in probes.items() if probe.good_c is not None
    }
    seen = _seen(memory, plan, verdicts, probes, now)
    if seen.conditions or seen.trips:
        return None
    return memory._replace(probes=probes, watch=seen.memory, last=now)


def _read_anew(probes: Mapping[str, ProbeMemory], taken_s: float) -> dict[str, ProbeMemory]:
    """Every one of them good, and saying what it said."""
    return {
        name: ProbeMemory(probe.good_c, taken_s, taken_s, failures=probe.failures)
        for name, probe in probes.items()
    }


def _seen(
    memory: Memory,
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    now: Now,
) -> watch.Watched:
    """What watch makes of a tick in which nothing else moves."""
    return watch.follow(
        memory.watch,
        plan.watch,
        verdicts,
        probes,
        memory.views,
        memory.outputs,
        memory.vents,
        {},
        now,
    )


def _as_they_were(
    judged: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    before: Mapping[str, ProbeMemory],
    outdoor: str | None,
) -> bool:
    for name, verdict in judged.items():
        was, known = before[name], probes[name]
        if not isinstance(verdict, Good):
            return False
        if verdict.temp_c != was.good_c and name != outdoor:
            return False
        if known.failures is not was.failures or known.last_fault is not was.last_fault:
            return False
    return True


def reached(
    plan: Plan,
    commands: tuple[Command, ...],
    events: Sequence[Event],
    memory: Memory,
    now: Now,
) -> Calm | None:
    """Whether this tick leaves the house calm. memory: what it leaves to the next."""
    if (
        events
        or memory.alarms
        or memory.latches
        or memory.overrides
        or memory.hot
        or memory.neighbours.apart
        or plan.guesses
        or plan.pulses
        or plan.staged
        or plan.stores
        or plan.gear.vents
        or memory.hygrometers
        or plan.watch.contacts
    ):
        return None
    for command in commands:
        if command.on:
            return None
    for view in memory.views:
        for wish in view.wishes:
            if wish.on:
                return None
    until_s = _until_frozen_s(plan, memory.neighbours)
    return Calm(until_s, schedule.is_night(plan, now), commands) if until_s > now.mono_s else None


def _until_frozen_s(plan: Plan, neighbours: NeighbourMemory) -> float:
    """The first moment at which a probe may have stood still for too long."""
    until_s = float("inf")
    for name, frozen_s in plan.must_move:
        until_s = min(until_s, neighbours.still[name].since_s + frozen_s)
    return until_s
