"""A heater that gives all it can, and it is not enough.

Lives here: telling so while there is time to lay covers, and what it means for the rest
of the night. Does not live here: a heater that gives nothing (response.py).

On nearly all the time is no sign by itself: so is a heater after the setpoint went up, or
in a house somebody has just aired. At its limit it is once the house is clearly too cold
and gets no warmer.
"""

from collections.abc import Iterator, Set

from greenkeeper.control.watching.parts import HeaterPart
from greenkeeper.control.watching.trail import Look, changes_k
from greenkeeper.model import Condition, ZoneView
from greenkeeper.units import shown_c

CODE = "heater-at-limit"

_SHORT_K = 1.0  # below the setpoint; a healthy heater lets it go a few tenths below
_RISING_K = 0.15  # two steps of the usual probe and a little, in half the time

# "What if" is told for a night that gets this much colder yet.
_COLDER_K = 3.0


def find(look: Look, silent: Set[str], fallen: Set[str]) -> Iterator[Condition]:
    """silent: heaters whose heat does not arrive at all. fallen: probes that hang outside."""
    after_s = look.plan.limits.limit_after_s
    if not look.reaches_back(after_s):
        return
    then = look.at(look.now_s - after_s)
    later = look.at(look.now_s - 0.5 * after_s)
    for heater in look.plan.heaters:
        on_s = look.now.on_s[heater.place] - then.on_s[heater.place]
        share = on_s / (look.now_s - then.mono_s)
        if share < look.plan.limits.limit_duty or heater.name in silent:
            continue
        coldest = _coldest(heater, look, fallen)
        if coldest is None or max(changes_k(heater.probes, later, look.now), default=0) > _RISING_K:
            continue
        yield Condition(CODE, heater.name, _text(look, heater, coldest, share))


def _coldest(heater: HeaterPart, look: Look, fallen: Set[str]) -> ZoneView | None:
    """The zone furthest below its setpoint, if one is clearly below. What a fallen probe says is
    no zone's temperature, though heat goes by it until somebody has hung it up again."""
    found, lacks_k = None, _SHORT_K
    for index in heater.zones:
        view = look.views[index]
        if view.coldest_probe in fallen:
            continue
        if view.coldest_c is not None and view.heat_setpoint_c is not None:
            short_k = view.heat_setpoint_c - view.coldest_c
            if short_k >= lacks_k:
                found, lacks_k = view, short_k
    return found


def _text(look: Look, heater: HeaterPart, view: ZoneView, share: float) -> str:
    hours = look.plan.limits.limit_after_s / 3600.0
    # The two are known: _coldest found the zone by them.
    now_c, setpoint_c = view.coldest_c or 0.0, view.heat_setpoint_c or 0.0
    text = (
        f"{heater.name} on for {share:.0%} of {hours:g} h, and {view.coldest_probe} is at "
        f"{shown_c(now_c)} instead of {shown_c(setpoint_c)}"
    )
    outdoor_c = look.outdoor_c(look.now)
    if outdoor_c is None:
        return text
    return (
        f"{text}: it holds {now_c - outdoor_c:.0f} K above outdoors; at "
        f"{shown_c(outdoor_c - _COLDER_K)} there expect {shown_c(now_c - _COLDER_K)} here"
    )
