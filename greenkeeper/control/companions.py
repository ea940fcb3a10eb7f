"""Companions: what runs whenever a heater does, a fan that moves the air inside.

Lives here: when one starts, and how long it runs on; and what a heater has to wait for
because of it. Does not live here: the heaters themselves (guard.py).
"""

from greenkeeper.control.gear import Companion
from greenkeeper.control.plan import OutputPlan
from greenkeeper.control.scene import Ruling, Scene


def obstacle(heater: OutputPlan, scene: Scene) -> str | None:
    """Why this heater may not be on just now, as far as its companions go; None: it may."""
    for each in heater.companions:
        if heater.name in each.required_by and each.name in scene.failed:
            return f"{each.name} cannot be switched"
        left_s = _rest_s(each, scene)
        if left_s > 0.0:
            return f"{each.name} may start in {left_s:.0f} s"
    return None


def rule(companion: Companion, scene: Scene) -> Ruling:
    running = [heater for heater in companion.heaters if scene.ruled[heater][0]]
    if running:
        return True, f"runs with {' and '.join(running)}"
    if _tried_again(companion, scene):
        return True, "tried again: heat waits for it"
    if not scene.before[companion.name].on:
        return False, "rests while no heat is on"
    if not any(scene.wants[heater].seeing for heater in companion.heaters):
        return False, scene.wants[companion.heaters[0]].reason
    left_s = companion.run_on_s - scene.off_s(companion.heaters)
    if left_s > 0.0:
        return True, f"runs on after the heat: {left_s:.0f} s left"
    left_s = companion.min_on_s - scene.stood_s(companion.name)
    if left_s > 0.0:
        return True, f"held on: {left_s:.0f} s of its minimum on time left"
    return False, "rests while no heat is on"


def _rest_s(companion: Companion, scene: Scene) -> float:
    """How much of its minimum off time is left; 0 while it is on."""
    if scene.before[companion.name].on:
        return 0.0
    return companion.min_off_s - scene.stood_s(companion.name)


def _tried_again(companion: Companion, scene: Scene) -> bool:
    """Heat that waits only because this one fails would wait for ever if nobody tried it."""
    return (
        companion.name in scene.failed
        and scene.locked is None
        and any(scene.wants[heater].on for heater in companion.required_by)
        and _rest_s(companion, scene) <= 0.0
    )
