"""Setpoints that are moved for a while: up to heat ahead, down before a sunny dawn.

Lives here: which of the two it is, that such a move is told, and that the way back up
teaches nothing. Does not live here: whether heating ahead pays and how far it goes
(ahead.py), what may be left to the sun (dawn.py), how a setpoint is held (thermostat.py,
proportion.py), which do not know why it is where it is.
"""

from collections.abc import Mapping
from types import MappingProxyType

from greenkeeper.control import ahead, dawn
from greenkeeper.control.plan import Plan
from greenkeeper.model import (
    Memory,
    Mode,
    Morning,
    Now,
    Overrides,
    Pulsing,
    Shifted,
    Verdict,
    ZoneView,
)

NOTHING: Mapping[str, Shifted] = MappingProxyType({})


def follow(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    memory: Memory,
    ordered: Overrides,
    now: Now,
    alone: Mapping[str, str],
    morning: Morning | None,
) -> Mapping[str, Shifted]:
    """The zones whose setpoint is moved now. What is heated ahead is not let go before the sun.

    alone: zone -> its probe that stands alone. morning: what is foretold; None: nothing is."""
    if not now.clock_trusted:
        return NOTHING
    raised: Mapping[str, Shifted] = {}
    if plan.stores:
        raised = ahead.follow(plan, verdicts, memory.shifted, memory.outputs, ordered, now, alone)
    lowered: Mapping[str, Shifted] = {}
    if plan.dawns and morning is not None:
        lowered = dawn.follow(plan, verdicts, memory, ordered, now, alone, morning)
    return {**lowered, **raised} if lowered or raised else NOTHING


def begun(
    pulsing: Mapping[str, Pulsing], before: Mapping[str, Shifted], after: Mapping[str, Shifted]
) -> Mapping[str, Pulsing]:
    """The way up to a higher setpoint teaches heat in proportion nothing, as after a cold start."""
    higher = {
        name: pulsing[name]._replace(held=False)
        for name in {*before, *after}
        if name in pulsing and by_k(before, name) < by_k(after, name)
    }
    return {**pulsing, **higher} if higher else pulsing


def by_k(shifted: Mapping[str, Shifted], zone: str) -> float:
    return shifted[zone].by_k if zone in shifted else 0.0


def told(views: tuple[ZoneView, ...], shifted: Mapping[str, Shifted]) -> tuple[ZoneView, ...]:
    """The views, their wish for heat saying why the setpoint is where it is."""
    if not shifted:
        return views
    return tuple(
        _explained(view, shifted[view.name]) if view.name in shifted else view for view in views
    )


def _explained(view: ZoneView, shifted: Shifted) -> ZoneView:
    wishes = tuple(
        wish._replace(reason=f"{wish.reason}; {shifted.reason}") if wish.mode is Mode.HEAT else wish
        for wish in view.wishes
    )
    return view._replace(wishes=wishes)
