"""A door that stands open, from temperatures alone.

Lives here: a fall in the dark that is faster than a closed house can cool. Does not live
here: a door's own contact (contacts.py). By day nothing is said: a cloud does the same.
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
_AFTER_DUSK_S = 1800.0
_AFTER_COOLING_S = 900.0
_AFTER_HEAT_S = 1800.0

_NONE: Mapping[str, Fall] = MappingProxyType({})


class Doors(NamedTuple):
    falls: Mapping[str, Fall]
    conditions: tuple[Condition, ...]


def follow(look: Look, falls: Mapping[str, Fall]) -> Doors:
    open_now = dict(_find(look, falls))
    conditions = (Condition(CODE, name, each.text) for name, each in open_now.items())
    return Doors(open_now or _NONE, tuple(conditions))


def _find(look: Look, falls: Mapping[str, Fall]) -> Iterator[tuple[str, Fall]]:
    for zone in look.plan.zones:
        fall = falls.get(zone.name)
        if fall is not None:
            if not _over(look, zone, fall):
                yield zone.name, fall
        elif _can_tell(look, zone) and (fall := _fall(look, zone)) is not None:
            yield zone.name, fall


def _over(look: Look, zone: ZonePart, fall: Fall) -> bool:
    if look.now_s - fall.since_s > _LONGEST_S:
        return True
    warmest_c = max(temps(zone.probes, look.now), default=None)
    return warmest_c is not None and warmest_c >= fall.from_c - _MADE_GOOD_SHARE * fall.fallen_k


def _can_tell(look: Look, zone: ZonePart) -> bool:
    if look.dark_since_s is None or look.now_s - look.dark_since_s < _AFTER_DUSK_S:
        return False
    if look.aired_s is not None and look.now_s - look.aired_s < _AFTER_COOLING_S:
        return False
    if zone.heater is None:
        return True
    state = look.outputs[zone.heater]
    return state.on or look.now_s - state.since_s >= _AFTER_HEAT_S


def _fall(look: Look, zone: ZonePart) -> Fall | None:
    limits = look.plan.limits
    then = look.at(look.now_s - limits.door_within_s)
    changes = changes_k(zone.probes, then, look.now)
    if not changes:
        return None
    # Every probe falls, and by more than the air outdoors does.
    fallen_k = -max(changes) - max(0.0, -look.outdoor_change_k(then))
    if fallen_k < limits.door_fall_k:
        return None
    from_c = max(temps(zone.probes, then))
    minutes = (look.now_s - then.mono_s) / 60.0
    text = (
        f"{look.plan.probes[zone.probes[0]]} fell by {fallen_k:.1f} K in {minutes:.0f} min, "
        f"from {shown_c(from_c)}: is a door or a pane open?"
    )
    return Fall(look.now_s, from_c, fallen_k, text)
