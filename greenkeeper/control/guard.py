"""Permission: whether a wish may become a command.

Lives here: minimum on and off times, the start-up hold, the longest run, the interlock
of heat and cooling, lock-outs, and the expiry of every ON. What moves with a heater or in
place of a fan has rooms of its own: isolators.py, companions.py, vents.py. Does not live
here: temperatures.

Invariants, each with a property test in tests/control/test_invariants.py:
  1. Every ON carries an expiry, at most lease_s ahead; an ON whose expiry has passed is off.
  2. Heat and cooling are never on together, nor does one start in the tick the other ends.
     No heater starts before every vent is closed, and no vent opens while heat is on.
  3. A heater, a fan or a companion stays off for its minimum off time, the one after
     start-up included.
  4. They stay on for their minimum on time, unless it is a heater that is locked out or
     loses what it must not be without, or their zones go blind.
  5. No heat while a lock-out stands or a ceiling is exceeded.
  6. No ON without a fresh trusted probe in a zone that asks for it; off within the tick that
     loses it. One exception: the heater of a zone whose owner declared an independent limit
     and chose a blind_duty, with its isolator and its companion, and a vent that closes for
     it. It is on in pulses only, in frost only, and for blind_longest_s at most until the
     zone has been seen again (blind.py states it as three bounds). A vent that only airs
     closes when it is no longer seen; every other stands.
  7. A heater is on only while its isolators are, each closed for settle_s before; they open
     no sooner than settle_s after the last of their heaters went off, except on a lock-out
     or once their zones are blind: then in the same tick.
  8. A companion is on whenever one of its heaters is; one that is required and cannot be
     switched keeps its heater off.
  9. Of a vent's two relays one at most is on, never for longer than its travel, and neither
     comes on until both have been off for its pause.
 10. Nothing is on for longer than its longest_on_s without a pause.
 11. All heaters together never draw more than circuit_w, one that could not be switched
     counted as on.
"""

from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control import companions, isolators, vents
from greenkeeper.control.plan import OutputPlan, Plan
from greenkeeper.control.scene import Ruling, Scene, Want, combine
from greenkeeper.model import (
    Command,
    Condition,
    Memory,
    Mode,
    Now,
    OutputMemory,
    Place,
    VentMemory,
    Wish,
)

NONE_FAILED: frozenset[str] = frozenset()
_NEVER_SEEN = VentMemory()
_SHUT = (Place.CLOSED, Place.CLOSED)  # before this tick, and after it
_NOT_YET: Ruling = (False, "")
_NO_ENDS: Mapping[str, float] = MappingProxyType({})


class Grant(NamedTuple):
    """One command for every output, what to remember, and what there is to note."""

    commands: tuple[Command, ...]
    outputs: Mapping[str, OutputMemory]
    vents: Mapping[str, VentMemory]
    notes: list[Condition]


def permit(
    plan: Plan,
    wishes: Sequence[Wish],
    locked: str | None,
    memory: Memory,
    now: Now,
    failed: frozenset[str] = NONE_FAILED,
) -> Grant:
    """One tick's decision.

    A blind zone's wish is off, with an urgency of minus infinity. locked is the reason no
    heater may run, or None. failed names the outputs that could not be switched.
    """
    before = _as_they_are(memory.outputs, now)
    wants: dict[str, Want] = {}
    heat_asked = False
    running: set[Mode] = set()
    for output in plan.outputs:
        want = wants[output.name] = combine(output.name, wishes)
        if want.on and locked is None and output.mode is Mode.HEAT:
            heat_asked = True
        if before[output.name].on:
            running.add(output.mode)
    scene = Scene(before, wants, {}, locked, heat_asked, failed, now, plan.circuit)
    notes: list[Condition] = []

    # First what is on: it stays or goes. Then the vents, because heat waits for them. Only
    # then what is off may start, heat before cooling, so that a start always sees what
    # really runs in this tick. What goes with the heat follows it.
    if running:
        for output in plan.outputs:
            if before[output.name].on:
                scene.ruled[output.name] = _keep(output, scene, notes)
    places, ends_s = memory.vents, _NO_ENDS
    if plan.gear.vents:
        places, ends_s = _move_vents(plan, wishes, memory, scene)
    ajar = _not_closed(plan, memory.vents, places, failed) if plan.gear.vents else None
    awaited = _start_all(plan, scene, running, ajar)
    for isolator in plan.gear.isolators:
        scene.ruled[isolator.name] = isolators.rule(isolator, scene, awaited)
    for companion in plan.gear.companions:
        scene.ruled[companion.name] = companions.rule(companion, scene)

    after = _remember(scene, ends_s, now.mono_s + plan.lease_s)
    return Grant(_commands(after, ends_s), after, places, notes)


def _as_they_are(outputs: Mapping[str, OutputMemory], now: Now) -> Mapping[str, OutputMemory]:
    """An ON that was not renewed in time has been dropped by the switchboard already.

    When exactly is not known here, so its minimum off time counts from now.
    """
    lapsed = {
        name: state._replace(
            on=False, since_s=now.mono_s, until_s=None, was_on_s=state.on_s(now.mono_s)
        )
        for name, state in outputs.items()
        if state.until_s is not None and now.mono_s > state.until_s
    }
    return {**outputs, **lapsed} if lapsed else outputs


# --- what is on --------------------------------------------------------------------------


def _keep(output: OutputPlan, scene: Scene, notes: list[Condition]) -> Ruling:
    want = scene.wants[output.name]
    heats = output.mode is Mode.HEAT
    if heats and scene.locked is not None:
        return False, scene.locked
    if heats and (missed := _missed(output, scene)) is not None:
        return False, f"held off: {missed}"
    if heats and (more := _too_much(output, scene, ())) is not None:
        return False, f"held off: {more}"
    if not want.on and want.blind is not None:
        # Perhaps the zone that asked: what it no longer sees must not keep a heater on.
        return False, want.blind
    stood_s = scene.stood_s(output.name)
    yields = not heats and scene.heat_asked
    if want.on and not yields:
        if output.longest_on_s is None or stood_s < output.longest_on_s:
            return True, want.reason
        return False, _ran_too_long(output, want, stood_s, notes)
    reason = "makes way for heat" if yields else want.reason
    left_s = output.min_on_s - stood_s
    if left_s > 0.0:
        return True, f"held on: {left_s:.0f} s of its minimum on time left ({reason})"
    return False, reason


def _missed(heater: OutputPlan, scene: Scene) -> str | None:
    """What this running heater must not be without, and is; None: nothing."""
    open_one = isolators.opened(heater, scene)
    return companions.obstacle(heater, scene) if open_one is None else f"{open_one} is open"


def _ran_too_long(output: OutputPlan, want: Want, ran_s: float, notes: list[Condition]) -> str:
    text = f"on for {ran_s / 3600.0:.1f} h without a pause ({want.reason})"
    notes.append(Condition("ran-too-long", output.name, text))
    return f"rests for {output.min_off_s:.0f} s: {text}"


# --- vents -------------------------------------------------------------------------------


def _move_vents(
    plan: Plan, wishes: Sequence[Wish], memory: Memory, scene: Scene
) -> tuple[dict[str, VentMemory], dict[str, float]]:
    """Where they stand, and when the relays that are on will have done."""
    heats = [output.name for output in plan.outputs if output.mode is Mode.HEAT]
    heat_ran = any(scene.before[name].on for name in heats)
    places: dict[str, VentMemory] = {}
    ends_s: dict[str, float] = {}
    for vent in plan.gear.vents:
        target, reason = _aim(combine(vent.name, wishes), scene.heat_asked, heat_ran)
        move = vents.advance(
            vent,
            memory.vents.get(vent.name, _NEVER_SEEN),
            (memory.outputs[vent.open], memory.outputs[vent.close]),
            target,
            bool(scene.failed) and not scene.failed.isdisjoint((vent.open, vent.close)),
            scene.now,
        )
        places[vent.name] = move.memory
        words = f"{move.words} ({reason})"
        scene.ruled[vent.open] = move.opening, words
        scene.ruled[vent.close] = move.closing, words
        if move.end_s is not None:
            ends_s[vent.open if move.opening else vent.close] = move.end_s
    return places, ends_s


def _aim(want: Want, heat_asked: bool, heat_ran: bool) -> tuple[Place | None, str]:
    """A vent that nobody sees stays where it is, as it does when the keeper dies."""
    if heat_asked:
        return Place.CLOSED, "makes way for heat"
    if not want.seeing or (want.on and heat_ran):
        return None, want.reason
    return Place.OPEN if want.on else Place.CLOSED, want.reason


def _not_closed(
    plan: Plan,
    before: Mapping[str, VentMemory],
    after: Mapping[str, VentMemory],
    failed: frozenset[str],
) -> str | None:
    """A vent that heat has to wait for. One that cannot be moved keeps nobody waiting."""
    for vent in plan.gear.vents:
        both = before.get(vent.name, _NEVER_SEEN).place, after[vent.name].place
        if both != _SHUT and failed.isdisjoint((vent.open, vent.close)):
            return vent.name
    return None


# --- what is off -------------------------------------------------------------------------


def _start_all(plan: Plan, scene: Scene, running: set[Mode], ajar: str | None) -> set[str]:
    """Rules on all that is off. Returns the isolators some heater waits for, and only for."""
    awaited: set[str] = set()
    for output in plan.outputs:
        if not scene.before[output.name].on:
            ruling = _start(output, scene, running, ajar, awaited)
            scene.ruled[output.name] = ruling
            if ruling[0]:
                running.add(output.mode)
    return awaited


def _start(
    output: OutputPlan, scene: Scene, running: set[Mode], ajar: str | None, awaited: set[str]
) -> Ruling:
    want = scene.wants[output.name]
    heats = output.mode is Mode.HEAT
    if heats and scene.locked is not None:
        return False, scene.locked
    if not want.on:
        return False, want.reason
    left_s = output.min_off_s - scene.stood_s(output.name)
    if left_s > 0.0:
        return False, f"held off: {left_s:.0f} s of its minimum off time left ({want.reason})"
    if not heats and (scene.heat_asked or Mode.HEAT in running):
        return False, f"held off while heat is wanted ({want.reason})"
    if heats and Mode.COOL in running:
        return False, f"held off until cooling has stopped ({want.reason})"
    if heats and (more := _too_much(output, scene, scene.failed)) is not None:
        return False, f"held off: {more} ({want.reason})"
    if heats and ajar is not None:
        return False, f"held off until {ajar} is closed ({want.reason})"
    if output.companions and (obstacle := companions.obstacle(output, scene)) is not None:
        return False, f"held off: {obstacle} ({want.reason})"
    if output.isolators and (unsettled := isolators.unsettled(output, scene)):
        awaited.update(unsettled)
        return False, f"held off until {' and '.join(unsettled)} has closed ({want.reason})"
    return True, want.reason


def _too_much(heater: OutputPlan, scene: Scene, failed: Collection[str]) -> str | None:
    """Why the circuit does not bear this heater beside those that are on; None: it does."""
    circuit = scene.circuit
    if circuit is None:
        return None
    drawn_w = sum(
        power_w
        for name, power_w in circuit.powers_w.items()
        if name != heater.name and (name in failed or scene.ruled.get(name, _NOT_YET)[0])
    )
    if drawn_w + circuit.powers_w[heater.name] <= circuit.most_w:
        return None
    return f"with {drawn_w:g} W drawn it would be more than the circuit's {circuit.most_w:g} W"


# --- what follows --------------------------------------------------------------------------


def _remember(scene: Scene, ends_s: Mapping[str, float], until_s: float) -> dict[str, OutputMemory]:
    """until_s: when an ON lapses that has no end of its own in ends_s."""
    after: dict[str, OutputMemory] = {}
    for name, state in scene.before.items():
        on, reason = scene.ruled[name]
        was_on, since_s, _, was_reason, operations, was_on_s = state
        if on:
            end_s = min(until_s, ends_s.get(name, until_s))
            if was_on:
                state = OutputMemory(True, since_s, end_s, reason, operations, was_on_s)
            else:
                now_s = scene.now.mono_s
                state = OutputMemory(True, now_s, end_s, reason, operations + 1, was_on_s)
        elif was_on:
            now_s = scene.now.mono_s
            state = OutputMemory(False, now_s, None, reason, operations, state.on_s(now_s))
        elif reason != was_reason:
            state = OutputMemory(False, since_s, None, reason, operations, was_on_s)
        after[name] = state
    return after


def _commands(
    after: Mapping[str, OutputMemory], ends_s: Mapping[str, float]
) -> tuple[Command, ...]:
    """An ON that ends where it should end is planned: the switchboard need not tell of it."""
    return tuple(
        [
            Command(
                name,
                state.on,
                state.until_s,
                state.reason,
                name in ends_s and state.until_s == ends_s[name],
            )
            for name, state in after.items()
        ]
    )
