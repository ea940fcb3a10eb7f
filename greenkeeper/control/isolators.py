"""Isolators: a second contact in series, closed only around the heat.

Lives here: when one closes and opens. It closes before its heater comes on and opens
after the last one went off, so it switches no load and its contact stays sound; on a
lock-out, or once none of its zones can see, it opens at once, with the heater. Does not
live here: the heaters themselves (guard.py).
"""

from collections.abc import Collection

from greenkeeper.control.gear import Isolator
from greenkeeper.control.plan import OutputPlan
from greenkeeper.control.scene import Ruling, Scene


def opened(heater: OutputPlan, scene: Scene) -> str | None:
    """The isolator this running heater has lost, or None."""
    return next((each.name for each in heater.isolators if not scene.before[each.name].on), None)


def unsettled(heater: OutputPlan, scene: Scene) -> list[str]:
    """Those that are not yet closed for long enough to let this heater come on."""
    return [
        each.name
        for each in heater.isolators
        if not scene.before[each.name].on or scene.stood_s(each.name) < each.settle_s
    ]


def rule(isolator: Isolator, scene: Scene, awaited: Collection[str]) -> Ruling:
    """awaited: isolators that a heater waits for, and for nothing else."""
    running = [heater for heater in isolator.heaters if scene.ruled[heater][0]]
    if running:
        return True, f"closed while {' and '.join(running)} is on"
    if isolator.name in awaited:
        return True, "closed before heat comes on"
    if scene.locked is not None:
        return False, scene.locked
    if not any(scene.wants[heater].seeing for heater in isolator.heaters):
        return False, scene.wants[isolator.heaters[0]].reason
    if scene.before[isolator.name].on and scene.off_s(isolator.heaters) < isolator.settle_s:
        return True, "opens once the heat has been off for a moment"
    return False, "open while no heat is on"
