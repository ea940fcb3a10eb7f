"""A probe that hangs where it should not: does it read like outdoors?

Lives here: a zone's probe that follows the outdoor one although its zone is heated. Does
not live here: probes that disagree among themselves (neighbours.py).

In a house without heat and sun every probe reads nearly like outdoors. So something must
say that this house is warmer: other probes of the zone, throughout, or a heater that was
on for most of the time. A zone with one probe and a dead heater in a draughty house looks
the same as a fallen probe; the message names both.
"""

from collections.abc import Iterator

from greenkeeper.control.watching.parts import ZonePart
from greenkeeper.control.watching.trail import Look
from greenkeeper.model import Condition, Minute
from greenkeeper.units import shown_c

CODE = "displaced"

_APART_K = 3.0  # neighbours this far from outdoors show that the zone is not
_HEATED_SHARE = 0.6


def find(look: Look) -> Iterator[Condition]:
    limits = look.plan.limits
    if look.plan.outdoor is None or not look.reaches_back(limits.displaced_after_s):
        return
    for zone in look.plan.zones:
        for probe in zone.probes:
            if _outdoors_like(look, probe, look.now):
                stretch = look.since(look.now_s - limits.displaced_after_s)
                if all(_outdoors_like(look, probe, each) for each in stretch):
                    text = _text(look, zone, probe, stretch)
                    if text is not None:
                        yield Condition(CODE, look.plan.probes[probe], text)


def _outdoors_like(look: Look, probe: int, minute: Minute) -> bool:
    temp_c, outdoor_c = minute.temps_c[probe], look.outdoor_c(minute)
    if temp_c is None or outdoor_c is None or probe == look.plan.outdoor:
        return False
    return abs(temp_c - outdoor_c) <= look.plan.limits.displaced_k


def _text(look: Look, zone: ZonePart, probe: int, stretch: tuple[Minute, ...]) -> str | None:
    name = look.plan.probes[probe]
    now_c = look.now.temps_c[probe] or 0.0  # known: it was just found to be near outdoors
    begins = f"{name} reads {shown_c(now_c)}, like outdoors for hours"
    others = [each for each in zone.probes if each != probe]
    if others:
        if not all(_apart(look, others, each) for each in stretch):
            return None
        return f"{begins}, and its neighbours do not: has it fallen, or are two probes exchanged?"
    heater = next((each for each in look.plan.heaters if each.name == zone.heater), None)
    if heater is None:
        return None
    first = stretch[0]
    on_s = look.now.on_s[heater.place] - first.on_s[heater.place]
    if on_s < _HEATED_SHARE * (look.now_s - first.mono_s):
        return None
    return (
        f"{begins}, though {heater.name} was on: has it fallen, are two probes exchanged, or "
        "does the heat not arrive?"
    )


def _apart(look: Look, others: list[int], minute: Minute) -> bool:
    """Every neighbour that can be trusted is far from outdoors, and there is one."""
    outdoor_c = look.outdoor_c(minute)
    known = [temp_c for each in others if (temp_c := minute.temps_c[each]) is not None]
    if outdoor_c is None or not known:
        return False
    return min(abs(temp_c - outdoor_c) for temp_c in known) >= _APART_K
