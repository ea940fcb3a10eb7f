"""A door that stands open, from temperatures alone.

Lives here: a fall in the dark, in a house left to itself, that is faster than a closed one
can cool. Does not live here: a door's own contact (contacts.py).

By day nothing is said: a cloud does the same. Nor while the heater works: switched off, it
lets a leaky house fall as fast as a door does, and switched on it makes good for the door;
if it cannot, response.py and limit.py tell that it cannot. In our modelled houses a closed
one fell by up to 1.5 K in ten minutes, and by up to a quarter of what it stood above outdoors.
"""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.watching.parts import ZonePart
from greenkeeper.control.watching.trail import Look, changes_k, temps
from greenkeeper.model import Condition, Fall
from greenkeeper.units import shown_c

CODE = "door-open"

# It is held to be open until half of the fall is made good, or for so long.
_MADE_GOOD_SHARE = 0.5
_LONGEST_S = 3600.0

# Sun that has just set, cooling that has just stopped, and a heater that has just gone off
# make a house fall as well.
_SETTLE_S = 1500.0

_LIFT_SHARE = 0.3  # of what it stood above outdoors, a closed house loses less
_UNSEEN_OUTDOORS = 2.0  # without an outdoor probe it must fall by so many times as much

_NONE: Mapping[str, Fall] = MappingProxyType({})


class Doors(NamedTuple):
    falls: Mapping[str, Fall]
    conditions: tuple[Condition, ...]


def follow(look: Look, falls: Mapping[str, Fall]) -> Doors:
    open_now = dict(_find(look, falls))
    conditions = (Condition(CODE, name, each.text) for name, each in open_now.items())
    return Doors(open_now or _NONE, tuple(conditions))


def _find(look: Look, falls: Mapping[str, Fall]) -> Iterator[tuple[str, Fall]]:
    left_alone = _left_alone(look)
    for zone in look.plan.zones:
        fall = falls.get(zone.name)
        if fall is not None:
            if not _over(look, zone, fall):
                yield zone.name, fall
        elif left_alone and (fall := _fall(look, zone)) is not None:
            yield zone.name, fall


def _over(look: Look, zone: ZonePart, fall: Fall) -> bool:
    if look.now_s - fall.since_s > _LONGEST_S:
        return True
    warmest_c = max(temps(zone.probes, look.now), default=None)
    return warmest_c is not None and warmest_c >= fall.from_c - _MADE_GOOD_SHARE * fall.fallen_k


def _left_alone(look: Look) -> bool:
    """Whether the house was left to itself for the whole time and some before."""
    if look.dark_since_s is None:
        return False
    left_s = look.now_s - max(look.dark_since_s, look.aired_s or look.dark_since_s)
    left_s = min([left_s, *(look.off_s(heater) for heater in look.plan.heaters)])
    return left_s >= look.plan.limits.door_within_s + _SETTLE_S


def _fall(look: Look, zone: ZonePart) -> Fall | None:
    limits = look.plan.limits
    then = look.at(look.now_s - limits.door_within_s)
    changes = changes_k(zone.probes, then, look.now)
    # Every probe falls, and by more than the air outdoors does.
    fallen_k = -max(changes, default=0.0)
    if fallen_k < limits.door_fall_k:
        return None
    fallen_k -= max(0.0, -look.outdoor_change_k(then))
    lift_k = look.lift_k(zone.probes, then)
    least_k = limits.door_fall_k * _UNSEEN_OUTDOORS
    if lift_k is not None:
        least_k = max(limits.door_fall_k, _LIFT_SHARE * lift_k)
    if fallen_k < least_k:
        return None
    from_c = max(temps(zone.probes, then))
    minutes = (look.now_s - then.mono_s) / 60.0
    text = (
        f"{look.plan.probes[zone.probes[0]]} fell by {fallen_k:.1f} K in {minutes:.0f} min, "
        f"from {shown_c(from_c)}: is a door or a pane open?"
    )
    return Fall(look.now_s, from_c, fallen_k, text)
