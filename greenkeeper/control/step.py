"""One tick, decided: the whole of control as one pure function.

    probes -> judge -> zones (schedule, thermostat) -> ceiling, guard -> commands

Lives here: the order of the stages, and the events they add up to. Nothing to the
right is ever asked by something to the left; what the next tick must know travels in
Memory. No I/O, no clock, and no exception for any reading whatever.
"""

from collections.abc import Iterable, Mapping, Sequence

from greenkeeper.control import (
    airing,
    alarms,
    blind,
    calm,
    ceiling,
    flaky,
    guard,
    hygrometers,
    latches,
    neighbours,
    overrides,
    proportion,
    schedule,
    shifts,
    stages,
    turns,
    watch,
    wear,
    wetness,
    zones,
)
from greenkeeper.control.judge import judge
from greenkeeper.control.plan import Plan
from greenkeeper.errors import probe_code
from greenkeeper.model import (
    Bad,
    Condition,
    ContactReading,
    DampVerdict,
    HumidityReading,
    HygrometerMemory,
    Latch,
    Memory,
    Mode,
    Morning,
    Now,
    Order,
    OutputMemory,
    Override,
    Overrides,
    Phase,
    ProbeMemory,
    Reading,
    Request,
    Shifted,
    Tick,
    Verdict,
    WatchMemory,
    ZoneView,
)
from greenkeeper.units import shown_c

# The civil clock moved this much more or less than the monotonic one: it was set.
_CLOCK_STEP_S = 2.0

_NO_CONTACTS: Mapping[str, ContactReading] = {}

_NO_DAMP: Mapping[str, DampVerdict] = {}
_NO_HYGROMETERS: Mapping[str, HygrometerMemory] = {}
_NO_HUMIDITY: Mapping[str, HumidityReading] = {}

_STARTED = "held off since the start"


def fresh(
    plan: Plan,
    now: Now,
    latches: Mapping[str, Latch] | None = None,
    operations: Mapping[str, int] | None = None,
    ordered: Iterable[Override] = (),
) -> Memory:
    """The memory before the first tick: every output off, its minimum off time begun.

    latches are those an earlier run left behind, ordered what was ordered of it for a while;
    operations how often each relay has been switched on in all its life.
    """
    counted = operations or {}
    return Memory(
        probes={name: ProbeMemory() for name in plan.probes},
        outputs={name: _off(now, counted.get(name, 0)) for name in plan.switched},
        wishes={},
        alarms={},
        latches=dict(latches or {}),
        last=None,
        overrides=overrides.taken_up(ordered, plan, now),
    )


def carried_over(memory: Memory, plan: Plan, now: Now, *, outputs_kept: bool = True) -> Memory:
    """The memory under a new plan: what it still names goes on, the new starts afresh.

    outputs_kept: the switches themselves were not touched. If they were made anew, they
    are off, their minimum off time begins now, and no vent is known to stand anywhere.
    """
    return memory._replace(
        probes={name: memory.probes.get(name, ProbeMemory()) for name in plan.probes},
        neighbours=neighbours.kept(memory.neighbours, plan),
        hygrometers={
            name: known for name, known in memory.hygrometers.items() if name in plan.hygrometers
        },
        outputs={
            name: _kept(memory.outputs.get(name), now, outputs_kept) for name in plan.switched
        },
        vents=memory.vents if outputs_kept else {},
        # What watch remembers is told by places in the plan: under another it begins anew.
        watch=WatchMemory(),
        views=(),
        calm=None,
        overrides=overrides.kept(memory.overrides, plan),
        pulsing={
            zone.name: memory.pulsing[zone.name]
            for zone in plan.zones
            if zone.pulses is not None and zone.name in memory.pulsing
        },
        staging={
            zone.name: memory.staging[zone.name]
            for zone in plan.zones
            if zone.stages is not None and zone.name in memory.staging
        },
        shifted=shifts.NOTHING,
    )


def _kept(before: OutputMemory | None, now: Now, kept: bool) -> OutputMemory:
    if before is None:
        return _off(now)
    if kept:
        return before
    return _off(now, before.operations)._replace(was_on_s=before.on_s(now.mono_s))


def _off(now: Now, operations: int = 0) -> OutputMemory:
    return OutputMemory(False, now.mono_s, None, _STARTED, operations)


def step(
    readings: Mapping[str, Reading],
    memory: Memory,
    plan: Plan,
    now: Now,
    *,
    reports: Sequence[Condition] = (),
    requests: Sequence[Request] = (),
    contacts: Mapping[str, ContactReading] = _NO_CONTACTS,
    humidity: Mapping[str, HumidityReading] | None = None,
    orders: Sequence[Order] = (),
    morning: Morning | None = None,
) -> Tick:
    """Decide one tick.

    readings: probe name -> newest Reading, as the drivers gave it.
    memory:   what the previous tick (or `fresh`) left behind.
    reports:  conditions the shell knows of, such as a failing journal.
    requests: what a person asked for since the last tick.
    contacts: input name -> newest ContactReading, as the drivers gave it.
    humidity: hygrometer name -> newest HumidityReading, likewise. None: nobody measures damp
              here (a modelled house); then no hygrometer is missed, and no zone is aired.
    orders:   what was ordered from afar since the last tick, oldest first.
    morning:  what a forecast says of the coming or the last sunrise. None: none is kept.
    Raises nothing for any reading whatever: bad input becomes a verdict and an event.
    """
    judged, probes = _judge_all(readings, memory, plan, now)
    time_notes, late = _time_notes(memory, now), _lateness(memory, plan, now)
    if memory.calm is not None and not (reports or requests or orders or time_notes or late):
        as_before = calm.again(readings, judged, probes, memory, plan, now)
        if as_before is not None:
            return as_before
    around = neighbours.Around(memory.watch.dark_since_s, memory.outputs)
    compared = neighbours.compare(plan, judged, memory.neighbours, now.mono_s, around)
    verdicts = compared.verdicts
    ordered = overrides.advance(memory.overrides, orders, plan, now)
    damp, hygrometer_memory = _NO_DAMP, _NO_HYGROMETERS
    if humidity is not None and plan.hygrometers:
        damp, hygrometer_memory = hygrometers.judge_all(
            plan, humidity, verdicts, memory.hygrometers, now.mono_s
        )
    shifted = memory.shifted
    if plan.stores or plan.dawns:
        shifted = shifts.follow(
            plan, compared.verdicts, memory, ordered.overrides, now, compared.alone, morning
        )
    views = _views(plan, compared, memory, ordered.overrides, shifted, now)
    wet = wetness.NOTHING
    if humidity is not None and plan.hygrometers:
        wet = wetness.follow(plan, damp, views, memory.wetness, now)
    pulsing = memory.pulsing
    if plan.pulses:
        pulsing = shifts.begun(pulsing, memory.shifted, shifted)
        views, pulsing = proportion.follow(
            plan, views, pulsing, memory.outputs, memory.staging, now
        )
    views = shifts.told(views, shifted)
    guessed = blind.NONE
    if plan.guesses:
        guessed = blind.guess(plan, views, verdicts, memory, now)
        views = guessed.views
    silenced = overrides.silence(plan, views, ordered.overrides, now)
    views = silenced.views
    wishes = [wish for view in views for wish in view.wishes]
    aired = airing.NOTHING
    if humidity is not None and plan.airs:
        aired = airing.follow(
            plan,
            verdicts,
            damp,
            views,
            memory.airing,
            memory.outputs,
            memory.vents,
            silenced.zones,
            now,
        )
        wishes += aired.wishes
    heat = ceiling.watch(plan, verdicts, probes, memory.hot)
    seen = watch.follow(
        memory.watch,
        plan.watch,
        verdicts,
        probes,
        views,
        memory.outputs,
        memory.vents,
        contacts,
        now,
    )
    latched, notes = latches.advance(
        memory.latches,
        (*heat.trips, *seen.trips),
        requests,
        lambda latch: _release(latch, plan, verdicts, seen.trips),
        now,
    )
    failed = _failed(reports) if reports else guard.NONE_FAILED
    staged = stages.NOTHING
    if plan.staged:
        out = stages.out_of(plan, seen.conditions, failed)
        staged = stages.follow(
            plan, views, wishes, memory.staging, memory.outputs, out, now,
            steady=watch.is_steady(seen.memory, plan.watch, now),
        )  # fmt: skip
        wishes = staged.wishes
    granted = guard.permit(
        plan,
        wishes,
        latches.heater_locked(latched) or heat.hold,
        memory,
        now,
        failed,
    )
    worn = wear.watch(plan, memory.outputs, granted.outputs, requests)
    conditions = _probe_conditions(verdicts)
    if damp:
        conditions += _probe_conditions(damp)
    conditions += wet.conditions
    conditions += compared.conditions
    conditions += flaky.conditions(plan, verdicts, probes, now.mono_s)
    conditions += _zone_conditions(plan, views)
    if latched:
        conditions += [Condition(each.code, each.subject, each.text) for each in latched.values()]
    conditions += _clock_conditions(now)
    conditions += late
    conditions += seen.conditions
    conditions += staged.conditions
    conditions += guessed.conditions
    conditions += silenced.conditions
    conditions += worn.conditions
    conditions += reports
    board, events = alarms.advance(memory.alarms, conditions, now)
    notes += ordered.notes
    notes += granted.notes
    notes += aired.notes
    notes += worn.notes
    turned = turns.follow(plan.watch, memory.said, seen.memory.contacts)
    notes += turned.notes
    notes += time_notes
    if notes:
        events += [alarms.event(note, Phase.NOTED, now) for note in notes]
    after = Memory(
        probes=probes,
        outputs=worn.outputs,
        wishes=_thermostats(memory, views),
        alarms=board,
        latches=latched,
        last=now,
        hot=heat.hot,
        vents=granted.vents,
        blind=guessed.memory,
        neighbours=compared.memory,
        watch=seen.memory,
        said=turned.said,
        views=() if compared.alone or silenced.zones or plan.pulses or plan.stores else views,
        hygrometers=hygrometer_memory,
        wetness=wet.memory,
        airing=aired.memory,
        overrides=ordered.overrides,
        pulsing=pulsing,
        staging=staged.memory,
        shifted=shifted,
    )
    if (ended := calm.reached(plan, granted.commands, events, after, now)) is not None:
        after = after._replace(calm=ended)
    return Tick(
        now,
        readings,
        verdicts,
        views,
        granted.commands,
        tuple(events),
        after,
        humidity=damp,
        humidity_readings=_NO_HUMIDITY if humidity is None else humidity,
        contacts=seen.memory.contacts,
    )


def _release(
    latch: Latch, plan: Plan, verdicts: Mapping[str, Verdict], trips: tuple[Condition, ...]
) -> latches.Release:
    if latch.code == ceiling.CODE:
        return ceiling.release(latch, plan, verdicts)
    return watch.release(latch, trips)


def _failed(reports: Sequence[Condition]) -> frozenset[str]:
    """The outputs that could not be switched when last told."""
    return frozenset(report.subject for report in reports if report.code == "output-failed")


def _judge_all(
    readings: Mapping[str, Reading], memory: Memory, plan: Plan, now: Now
) -> tuple[dict[str, Verdict], dict[str, ProbeMemory]]:
    verdicts: dict[str, Verdict] = {}
    probes: dict[str, ProbeMemory] = {}
    for name, probe in plan.probes.items():
        verdicts[name], probes[name] = judge(
            readings.get(name), memory.probes[name], probe, now.mono_s
        )
    return verdicts, probes


def _views(
    plan: Plan,
    compared: neighbours.Compared,
    memory: Memory,
    ordered: Overrides,
    shifted: Mapping[str, Shifted],
    now: Now,
) -> tuple[ZoneView, ...]:
    night = schedule.is_night(plan, now)
    before = memory.views or (None,) * len(plan.zones)
    return tuple(
        [
            zones.view(
                zone,
                compared.verdicts,
                memory.wishes,
                night,
                now,
                compared.alone,
                was,
                overrides.setpoint_c(ordered, zone.name) if ordered else None,
                shifts.by_k(shifted, zone.name),
            )
            for zone, was in zip(plan.zones, before, strict=True)
        ]
    )


def _thermostats(memory: Memory, views: tuple[ZoneView, ...]) -> Mapping[tuple[str, Mode], bool]:
    """What every thermostat is at: what it was at, while all zones stand as they did."""
    if views == memory.views:
        return memory.wishes
    return {(wish.zone, wish.mode): wish.on for view in views for wish in view.wishes}


def _probe_conditions(
    verdicts: Mapping[str, Verdict] | Mapping[str, DampVerdict],
) -> list[Condition]:
    return [
        Condition(probe_code(verdict.fault), name, verdict.detail)
        for name, verdict in verdicts.items()
        if isinstance(verdict, Bad)
    ]


def _zone_conditions(plan: Plan, views: Sequence[ZoneView]) -> list[Condition]:
    found: list[Condition] = []
    for zone, view in zip(plan.zones, views, strict=True):
        if view.coldest_c is None or view.warmest_c is None:
            found.append(
                Condition("zone-blind", zone.name, f"{', '.join(zone.probes)}: none can be trusted")
            )
            continue
        if zone.minimum_c is not None and view.coldest_c < zone.minimum_c:
            text = (
                f"{view.coldest_probe} {shown_c(view.coldest_c)}, "
                f"{zone.tenderest} wants {shown_c(zone.minimum_c)}"
            )
            found.append(Condition("below-minimum", zone.name, text))
        if zone.maximum_c is not None and view.warmest_c > zone.maximum_c:
            text = (
                f"{view.warmest_probe} {shown_c(view.warmest_c)}, "
                f"{zone.most_heat_shy} stands {shown_c(zone.maximum_c)}"
            )
            found.append(Condition("above-maximum", zone.name, text))
    return found


def _clock_conditions(now: Now) -> list[Condition]:
    if now.clock_trusted:
        return []
    return [Condition("clock-unset", "clock", "night setpoints hold until it is synchronised")]


def _time_notes(memory: Memory, now: Now) -> list[Condition]:
    """What the two clocks say about the time since the last tick."""
    if memory.last is None:
        return []
    passed_s = now.mono_s - memory.last.mono_s
    stepped_s = (now.utc_s - memory.last.utc_s) - passed_s
    if abs(stepped_s) <= _CLOCK_STEP_S:
        return []
    return [Condition("clock-jumped", "clock", f"by {stepped_s:+.0f} s")]


def _lateness(memory: Memory, plan: Plan, now: Now) -> list[Condition]:
    """A condition, not a note: a machine that is always late would tell it with every tick."""
    if memory.last is None or now.mono_s - memory.last.mono_s <= plan.lease_s:
        return []
    late_s = now.mono_s - memory.last.mono_s
    return [Condition("tick-late", "loop", f"{late_s:.0f} s since the last tick")]
