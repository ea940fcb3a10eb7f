"""A probe that hangs where it should not: does it read like outdoors?

Lives here: a zone's probe that follows the outdoor one although its zone is heated. Does
not live here: probes that disagree among themselves (neighbours.py).

In a house without heat and sun every probe reads nearly like outdoors. So something must
say that this house is warmer: the other probes of the zone, the sooner the warmer they are.
By day they count while heat is on only: without, a warm neighbour hangs in the sun. Where
there is no other, a heater that was on for most of the time must do. A zone with one probe
and a dead heater in a draughty house then looks the same; the message names both.
"""

from collections.abc import Iterator

from greenkeeper.control.watching.parts import HeaterPart, ZonePart
from greenkeeper.control.watching.trail import Look, temps
from greenkeeper.model import Condition, Minute
from greenkeeper.units import shown_c

CODE = "displaced"

# Neighbours this far above outdoors all the time show that the zone is; twice as far, in half
# the time. Less than the least is what places in a house differ by.
_APART_K = 4.0
_LEAST_APART_K = 2.0
_HEATED_SHARE = 0.6


def find(look: Look) -> Iterator[Condition]:
    if look.plan.outdoor is None:
        return
    for zone in look.plan.zones:
        for probe in zone.probes:
            if _outdoors_like(look, probe, look.now):
                text = _text(look, zone, probe)
                if text is not None:
                    yield Condition(CODE, look.plan.probes[probe], text)


def _outdoors_like(look: Look, probe: int, minute: Minute) -> bool:
    temp_c, outdoor_c = minute.temps_c[probe], look.outdoor_c(minute)
    if temp_c is None or outdoor_c is None or probe == look.plan.outdoor:
        return False
    return abs(temp_c - outdoor_c) <= look.plan.limits.displaced_k


def _text(look: Look, zone: ZonePart, probe: int) -> str | None:
    now_c = look.now.temps_c[probe] or 0.0  # known: it was just found to be near outdoors
    begins = f"{look.plan.probes[probe]} reads {shown_c(now_c)}, like outdoors"
    others = [each for each in zone.probes if each != probe]
    heaters = [each for each in look.plan.heaters if each.name in zone.heaters]
    if not heaters:
        return None
    # Of two the one that was on for longer: it should have been seen.
    heater = max(heaters, key=lambda each: look.now.on_s[each.place])
    if others:
        if not _others_apart(look, probe, others, heater):
            return None
        return f"{begins}, and its neighbours do not: has it fallen, or are two probes exchanged?"
    if not _heated_in_vain(look, probe, heater):
        return None
    return (
        f"{begins}, though {heater.name} was on: has it fallen, are two probes exchanged, or "
        "does the heat not arrive?"
    )


def _others_apart(look: Look, probe: int, others: list[int], heater: HeaterPart) -> bool:
    """Added up since this one has read like outdoors, kelvin times seconds of heat or dark."""
    after_s = look.plan.limits.displaced_after_s
    apart_ks, later = 0.0, look.now
    for minute in reversed(look.since(look.now_s - after_s)):
        if not _outdoors_like(look, probe, minute):
            break
        shows_s = later.on_s[heater.place] - minute.on_s[heater.place]
        if look.dark_since_s is not None and minute.mono_s >= look.dark_since_s:
            shows_s = later.mono_s - minute.mono_s  # there is no sun a neighbour could hang in
        apart_ks += _apart_k(look, others, minute) * shows_s
        later = minute
    return apart_ks >= _APART_K * after_s


def _apart_k(look: Look, others: list[int], minute: Minute) -> float:
    """How far the coldest neighbour that can be trusted stands above outdoors."""
    outdoor_c = look.outdoor_c(minute)
    coldest_c = min(temps(others, minute), default=None)
    if outdoor_c is None or coldest_c is None:
        return 0.0
    apart_k = coldest_c - outdoor_c
    return apart_k if apart_k >= _LEAST_APART_K else 0.0


def _heated_in_vain(look: Look, probe: int, heater: HeaterPart) -> bool:
    after_s = look.plan.limits.displaced_after_s
    if not look.reaches_back(after_s):
        return False
    stretch = look.since(look.now_s - after_s)
    on_s = look.now.on_s[heater.place] - stretch[0].on_s[heater.place]
    heated = on_s >= _HEATED_SHARE * (look.now_s - stretch[0].mono_s)
    return heated and all(_outdoors_like(look, probe, each) for each in stretch)
