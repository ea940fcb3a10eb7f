"""Permission: whether a wish may become a command.

Lives here: minimum on and off times, the start-up hold, the interlock of heat and
cooling, lock-outs, and the expiry of every ON. Does not live here: temperatures.

Invariants, each with a property test in tests/control/test_invariants.py:
  1. Every ON carries an expiry, at most lease_s ahead; an ON whose expiry has passed is off.
  2. Heat and cooling are never on together, nor does one start in the tick the other ends.
  3. An output stays off for its minimum off time, the one after start-up included.
  4. An output stays on for its minimum on time, unless it is locked out, its zones go blind,
     or it heats and a ceiling is exceeded.
  5. No heat while a lock-out stands or a ceiling is exceeded.
  6. No ON without a fresh trusted probe in a zone that asks for it; off within the tick
     that loses it.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from greenkeeper.control.plan import OutputPlan, Plan
from greenkeeper.model import BLIND_K, Command, Mode, Now, OutputMemory, Wish


class Want(NamedTuple):
    """What all zones together want of one output."""

    plan: OutputPlan
    on: bool
    reason: str
    blind: str | None  # the reason of a zone that cannot see, if one of them cannot


def permit(
    plan: Plan,
    wishes: Sequence[Wish],
    locked: str | None,
    memory: Mapping[str, OutputMemory],
    now: Now,
) -> tuple[tuple[Command, ...], Mapping[str, OutputMemory]]:
    """One command for every output, and what to remember.

    A blind zone's wish is off, with an urgency of minus infinity. locked is the reason no
    heater may run, or None.
    """
    wants = [_combine(output, wishes) for output in plan.outputs]
    before = {name: _lapsed(state, now) for name, state in memory.items()}
    heat_asked = locked is None and any(w.on and w.plan.mode is Mode.HEAT for w in wants)

    # First what is on: it stays or goes. Only then what is off may start, heat before
    # cooling, so that a start always sees what really runs in this tick.
    decided: dict[str, tuple[bool, str]] = {}
    for want in wants:
        if before[want.plan.name].on:
            decided[want.plan.name] = _keep(want, before[want.plan.name], locked, heat_asked, now)
    running = {w.plan.mode for w in wants if before[w.plan.name].on}
    for want in sorted(wants, key=lambda w: w.plan.mode is Mode.COOL):
        if not before[want.plan.name].on:
            on, reason = _start(want, before[want.plan.name], locked, heat_asked, running, now)
            decided[want.plan.name] = on, reason
            if on:
                running.add(want.plan.mode)

    after = {
        name: _remember(before[name], *decided[name], until_s=now.mono_s + plan.lease_s, now=now)
        for name in before
    }
    commands = tuple(
        Command(name, state.on, state.until_s, state.reason) for name, state in after.items()
    )
    return commands, after


def _combine(output: OutputPlan, wishes: Sequence[Wish]) -> Want:
    """The most urgent zone speaks for all that want the same output."""
    mine = [wish for wish in wishes if wish.output == output.name]
    spokesman = max(mine, key=lambda wish: (wish.on, wish.urgency_k))
    blind = next((wish.reason for wish in mine if wish.urgency_k == BLIND_K), None)
    return Want(output, spokesman.on, spokesman.reason, blind)


def _lapsed(state: OutputMemory, now: Now) -> OutputMemory:
    """An ON that was not renewed in time has been dropped by the switchboard already.

    When exactly is not known here, so its minimum off time counts from now.
    """
    if state.on and state.until_s is not None and now.mono_s > state.until_s:
        return state._replace(on=False, since_s=now.mono_s, until_s=None)
    return state


def _keep(
    want: Want, state: OutputMemory, locked: str | None, heat_asked: bool, now: Now
) -> tuple[bool, str]:
    if want.plan.mode is Mode.HEAT and locked is not None:
        return False, locked
    if not want.on and want.blind is not None:
        # Perhaps the zone that asked: what it no longer sees must not keep a heater on.
        return False, want.blind
    yields = want.plan.mode is Mode.COOL and heat_asked
    if want.on and not yields:
        return True, want.reason
    reason = "makes way for heat" if yields else want.reason
    left_s = want.plan.min_on_s - (now.mono_s - state.since_s)
    if left_s > 0.0:
        return True, f"held on: {left_s:.0f} s of its minimum on time left ({reason})"
    return False, reason


def _start(
    want: Want,
    state: OutputMemory,
    locked: str | None,
    heat_asked: bool,
    running: set[Mode],
    now: Now,
) -> tuple[bool, str]:
    heats = want.plan.mode is Mode.HEAT
    if heats and locked is not None:
        return False, locked
    if not want.on:
        return False, want.reason
    left_s = want.plan.min_off_s - (now.mono_s - state.since_s)
    if left_s > 0.0:
        return False, f"held off: {left_s:.0f} s of its minimum off time left ({want.reason})"
    if heats and Mode.COOL in running:
        return False, f"held off until cooling has stopped ({want.reason})"
    if not heats and (heat_asked or Mode.HEAT in running):
        return False, f"held off while heat is wanted ({want.reason})"
    return True, want.reason


def _remember(
    state: OutputMemory, on: bool, reason: str, *, until_s: float, now: Now
) -> OutputMemory:
    return OutputMemory(
        on=on,
        since_s=state.since_s if on is state.on else now.mono_s,
        until_s=until_s if on else None,
        reason=reason,
        operations=state.operations + (on and not state.on),
    )
