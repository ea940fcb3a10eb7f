"""Hysteresis that looks ahead: the same band, reckoned with the warmth still on its way.

Lives here: what a zone with `anticipate: true` wishes. Does not live here: the air behind
the probe (observer.py), when it can be asked and what is learned (proportion.py), plain
hysteresis (thermostat.py), whose word this only brings forward.

    heat   on as soon as the air would fall below the setpoint even if heat went on now
           off as soon as the air would reach setpoint_c + hysteresis_k even if it went off now

So the air keeps the band that otherwise the probe alone keeps, while the air swings beyond
it on both sides. The setpoint is raised by the margin that pulses have, learned from falls.

Bounds that hold whatever the observer believes, each with a property test: heat is wanted
at or below the setpoint, and never at or above setpoint_c + hysteresis_k.
"""

from greenkeeper.control import observer
from greenkeeper.control.plan import PulsePlan
from greenkeeper.model import Behind, Wish, ZoneView
from greenkeeper.units import shown_c


def wished(
    plain: Wish, view: ZoneView, pulses: PulsePlan, behind: Behind, margin_k: float, poll_s: float
) -> Wish:
    """plain: what hysteresis wishes; within the band that is what was wished before."""
    temp_c, setpoint_c, band_k = view.coldest_c, view.heat_setpoint_c, pulses.band_k
    if temp_c is None or setpoint_c is None or band_k is None:
        return plain
    floor_c, off_c = setpoint_c + margin_k, setpoint_c + band_k
    if not setpoint_c < temp_c < off_c:
        return plain
    words = f"{view.coldest_probe} {shown_c(temp_c)}"
    if observer.lowest_c(pulses.figures, behind, poll_s, floor_c) < floor_c:
        return plain._replace(on=True, reason=f"{words}, in time to stay above {shown_c(floor_c)}")
    if plain.on and observer.highest_c(pulses.figures, behind, off_c) >= off_c:
        reason = f"{words}, the warmth on its way is enough for {shown_c(off_c)}"
        return plain._replace(on=False, reason=reason)
    return plain
