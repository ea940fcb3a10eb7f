"""A temperature that runs away: fire, or a probe in the heater's stream.

Lives here: the one verdict that cannot wait for a minute's look. Does not live here: the
ceiling, which asks how hot it is, not how fast it gets so.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.watching.parts import WatchPlan
from greenkeeper.model import Climb, Condition, Minute
from greenkeeper.units import shown_c

CODE = "runaway"

# Steps shorter than this would be the probe's own steps.
GLANCE_S = 15.0

# By day the sun can find a probe as suddenly as a heater's stream does; what it does to a
# probe is over after a few minutes.
_DAY_PATIENCE = 3.0

_NONE: Mapping[int, Climb] = MappingProxyType({})


class Climbs(NamedTuple):
    climbs: Mapping[int, Climb]
    trips: tuple[Condition, ...]


def glance(
    plan: WatchPlan, before: Minute, now: Minute, climbs: Mapping[int, Climb], dark: bool
) -> Climbs:
    """Follow every probe from one glance to the next.

    now must carry, for a probe not trusted just now, what it said when it last was: a rise
    too quick to be believed at once is still a rise.
    """
    passed_s = now.mono_s - before.mono_s
    steep_k = plan.limits.runaway_k_per_s * passed_s
    found: dict[int, Climb] = {}
    for probe in plan.inside:
        before_c, now_c = before.temps_c[probe], now.temps_c[probe]
        if before_c is not None and now_c is not None and now_c - before_c >= steep_k:
            found[probe] = climbs.get(probe) or Climb(before.mono_s, before_c)
    if not found:
        return Climbs(_NONE, ())
    for_s = plan.limits.runaway_for_s * (1.0 if dark else _DAY_PATIENCE)
    trips = tuple(
        Condition(CODE, plan.probes[probe], _text(plan, probe, climb, now))
        for probe, climb in found.items()
        if now.mono_s - climb.since_s >= for_s
    )
    return Climbs(found, trips)


def _text(plan: WatchPlan, probe: int, climb: Climb, now: Minute) -> str:
    now_c = now.temps_c[probe] or 0.0  # known: it has just been compared
    return (
        f"{plan.probes[probe]} rose from {shown_c(climb.from_c)} to {shown_c(now_c)} in "
        f"{now.mono_s - climb.since_s:.0f} s"
    )
