"""Heat that was switched off: does it end?

Lives here: the verdict, from temperatures alone, that something heats although no heater
is commanded on. Does not live here: contacts that know for certain (contacts.py), and
the latch that follows (latches.py).

Sun, a mild wind, a vent that closes and a door shut again all warm a house without a
heater. So it is asked only in the dark, some time after the last heat, and what the
outdoor probe explains is left out. By day nothing is said: ten kelvin in ten minutes is an
ordinary spring morning. Three things are held against a heater that is off:
  1. The house gets warmer, long after the last cooling and the last open door.
  2. It stands further above outdoors than its mass can hold it, and does not come down. A
     heavy, tight house after a hot day held 21 K in our modelled houses, for six hours; nights
     that are dark for longer than nine come after days whose sun charges less. A closed tent
     the sun takes further up, and water in it holds it there: but then it falls, by a
     hundredth of what it stands above outdoors in every hour at least.
  3. Cooling is at work for half of an hour, three hours after dark, in a house well above
     outdoors; or for a sixth of one, after eight. What the sun left is gone by then: in our
     modelled houses it kept a fan at work for a third of the fourth hour and a sixth of the
     seventh. Nor may it come down meanwhile: a fan does not reach into a tent.
"""

import math
from collections.abc import Iterator

from greenkeeper.control.watching.parts import HeaterPart
from greenkeeper.control.watching.trail import Look, changes_k, extremes_c, shown_time, temps
from greenkeeper.model import Condition, Minute
from greenkeeper.units import shown_c

CODE = "stuck-on"

# After the sun is gone, cooling has stopped or a door was shut, the air first finds its way
# back to what the mass has stored.
_SETTLE_S = 1800.0
_BACK_S = 7200.0
_LEAST_S = 600.0

# Wind that drops and a sky that clouds over lift an unheated house by a tenth of what it
# stands above outdoors: its mass warms the air, which then loses less.
_LIFT_SHARE = 0.1

# Outdoor air that got warmer an hour ago is still warming the house.
_OUTDOOR_BACK_S = 3600.0

# Without an outdoor probe a warm front is not seen: the rise must be greater than its own.
_UNSEEN_OUTDOORS_K = 4.0

_FALLING_S = 600.0
_FALLING_K = 0.2

# Dark and unheated for so long: what is left is the mass's. stuck_lift_k holds then, and a
# share of it in the long nights of the cold half-year.
_LONG_S = 7200.0
_LONGER_S = 9.0 * 3600.0
_LONGER_SHARE = 0.75

# The slowest body we hold possible loses in an hour a hundredth of what it stands above
# outdoors: a tight house, or a closed tent, full of water (a judgement, no source).
SLOWEST_S = 100.0 * 3600.0
_APART_S = 3600.0  # the highest of one hour is held against the highest of the hour before

_COOLED_LIFT_K = 10.0
_COOLED_BACK_S = 3600.0
_COOLED = ((3.0 * 3600.0, 1.0 / 2.0), (8.0 * 3600.0, 1.0 / 6.0))  # left alone so long, and share


def find(look: Look, door_s: float | None) -> Iterator[Condition]:
    """door_s: when a door was last thought to be open; None: not within memory.

    One at most: heat wanders from zone to zone, and one latch locks all heaters anyway.
    """
    heaters = look.plan.heaters
    if look.dark_since_s is None or not heaters:
        return
    off_s = min(look.off_s(heater) for heater in heaters)
    if off_s < min(heater.limits.stuck_after_s for heater in heaters):
        return
    left_s = min(off_s, look.now_s - look.dark_since_s)
    quiet_s = max(look.dark_since_s, look.aired_s or 0.0, door_s or 0.0)
    start_s = max(look.now_s - off_s, quiet_s + _SETTLE_S, look.now_s - _BACK_S)
    for heater in heaters:
        text = None
        if off_s >= heater.limits.stuck_after_s and look.now_s - start_s >= _LEAST_S:
            text = _rising(heater, look, start_s, off_s)
        text = text or _too_warm(heater, look, left_s)
        if text is not None:
            yield Condition(CODE, heater.name, text)
            return


def _rising(heater: HeaterPart, look: Look, start_s: float, off_s: float) -> str | None:
    """Every probe that can be trusted has to rise: one alone may lie in a warm hand."""
    if _rise_k(heater, look, look.at(look.now_s - _FALLING_S)) < -_FALLING_K:
        return None
    stretch = look.since(start_s)
    now_c = look.now.temps_c[heater.probes[0]]
    course = extremes_c(heater.probes[0], stretch)
    if now_c is not None and course and now_c - course[0] < heater.limits.stuck_rise_k:
        return None
    rise_k = max(_rise_k(heater, look, then) for then in stretch)
    if rise_k < heater.limits.stuck_rise_k:
        return None
    lift_k = look.lift_k(heater.probes, look.now)
    explained_k = _UNSEEN_OUTDOORS_K
    if lift_k is not None:
        explained_k = _LIFT_SHARE * max(0.0, lift_k) + _outdoor_rise_k(look, start_s)
    if rise_k < heater.limits.stuck_rise_k + explained_k:
        return None
    return (
        f"{_names(heater, look)} rose by {rise_k:.1f} K in the dark, to "
        f"{shown_c(max(temps(heater.probes, look.now)))}, though {heater.name} has been off "
        f"for {shown_time(off_s)}"
    )


def _too_warm(heater: HeaterPart, look: Look, left_s: float) -> str | None:
    """left_s: how long the house has been left to itself, dark and unheated."""
    outdoor_c = look.outdoor_c(look.now)
    inside_c = min(temps(heater.probes, look.now), default=None)
    if left_s < _LONG_S or outdoor_c is None or inside_c is None:
        return None
    lift_k = inside_c - outdoor_c
    most_k = look.plan.limits.stuck_lift_k * (_LONGER_SHARE if left_s >= _LONGER_S else 1.0)
    above = f"{_names(heater, look)} at {shown_c(inside_c)}, {lift_k:.0f} K above outdoors, after "
    after = f"{left_s / 3600.0:.0f} dark hours with {heater.name} off"
    far = lift_k >= most_k
    cooled = lift_k >= _COOLED_LIFT_K and _cooled(look, left_s)
    if not (far or cooled) or _comes_down(heater, look):
        return None
    if far:
        return above + after
    return f"{above}{after}, though it is being cooled"


def _comes_down(heater: HeaterPart, look: Look) -> bool:
    """Whether some probe falls at least as fast as the slowest body left by the sun, or nobody
    can say: heat that stays on holds what it warms."""
    if not look.reaches_back(2.0 * _APART_S):
        return True
    stretch = look.since(look.now_s - 2.0 * _APART_S)
    lifts_k = [lift_k for each in stretch if (lift_k := look.lift_k(heater.probes, each))]
    least_k = min(lifts_k, default=0.0) * _APART_S / SLOWEST_S
    middle_s = look.now_s - _APART_S
    falls_k = []
    for probe in heater.probes:
        before = extremes_c(probe, [each for each in stretch if each.mono_s < middle_s])
        after = extremes_c(probe, [each for each in stretch if each.mono_s >= middle_s])
        if before is not None and after is not None:
            falls_k.append(before[1] - after[1])
    return not falls_k or max(falls_k) >= least_k


def _cooled(look: Look, left_s: float) -> bool:
    if not look.reaches_back(_COOLED_BACK_S):
        return False
    then = look.at(look.now_s - _COOLED_BACK_S)
    aired_s = look.now.aired_s - then.aired_s
    passed_s = look.now_s - then.mono_s
    return any(left_s >= after_s and aired_s >= share * passed_s for after_s, share in _COOLED)


def _rise_k(heater: HeaterPart, look: Look, then: Minute) -> float:
    return min(changes_k(heater.probes, then, look.now), default=-math.inf)


def _outdoor_rise_k(look: Look, start_s: float) -> float:
    changes = (look.outdoor_change_k(then) for then in look.since(start_s - _OUTDOOR_BACK_S))
    return max(0.0, *changes)


def _names(heater: HeaterPart, look: Look) -> str:
    return ", ".join(look.plan.probes[probe] for probe in heater.probes)
