"""A temperature that runs away: fire, or a probe in the heater's stream.

Lives here: rises faster than a healthy house can make. Does not live here: the ceiling,
which asks how hot it is, not how fast it gets so.

What a probe reads counts even while judge does not believe it for its jump: a fire rises in
jumps. It counts at the moment it was measured; where nothing new was measured, nothing has
changed.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.watching.parts import WatchPlan
from greenkeeper.control.watching.trail import GAP_S
from greenkeeper.model import Bad, Climb, Condition, Fault, Measured, ProbeMemory, Verdict
from greenkeeper.units import shown_c

CODE = "runaway"

# One steep step is a probe that was moved, or a reading gone wrong; a probe in a warm hand
# makes two or three.
_LEAST_STEPS = 3

_EARLY_S = 5.0  # looks are a minute apart, and readings are taken a little before or after

# Sun that comes round a rafter lifts a probe of lag L by S kelvin, and by more than r a second
# for L·ln(S/(r·L)); with 25 K, five minutes' lag and a house that warms by 1 K a minute
# itself, 2 K a minute last for 480 s. Fire by day meets the ceiling before that.
_DAY_PATIENCE = 3.0

_NONE: Mapping[int, Climb] = MappingProxyType({})


class Climbs(NamedTuple):
    climbs: Mapping[int, Climb]
    measured: Mapping[int, Measured]
    trips: tuple[Condition, ...]


def follow(
    plan: WatchPlan,
    before: Mapping[int, Measured],
    verdicts: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    climbs: Mapping[int, Climb],
    now_s: float,
    *,
    dark: bool,
) -> Climbs:
    """before, climbs: what the last look left. probes: what judge remembers of this tick."""
    found: dict[int, Climb] = {}
    measured: dict[int, Measured] = {}
    for probe in plan.inside:
        name = plan.probes[probe]
        was, climb = before.get(probe), climbs.get(probe)
        now = _measured(verdicts[name], probes[name])
        if now is None:
            if climb is not None and dark and _off_the_scale(verdicts[name]):
                measured[probe] = latest = Measured(now_s, climb.latest.temp_c)
                found[probe] = climb._replace(latest=latest, steps=climb.steps + 1)
            continue
        measured[probe] = now
        if was is None or now.taken_s - was.taken_s > GAP_S:
            continue
        if now.taken_s == was.taken_s:
            if climb is not None:
                found[probe] = climb
        elif now.temp_c - was.temp_c >= plan.limits.runaway_k_per_s * (now.taken_s - was.taken_s):
            climb = climb or Climb(was.taken_s, was.temp_c, now, 0)
            found[probe] = climb._replace(latest=now, steps=climb.steps + 1)
    if not found:
        return Climbs(_NONE, measured, ())
    for_s = plan.limits.runaway_for_s * (1.0 if dark else _DAY_PATIENCE)
    trips = tuple(
        Condition(CODE, plan.probes[probe], _text(plan.probes[probe], climb))
        for probe, climb in found.items()
        if climb.steps >= _LEAST_STEPS and climb.latest.taken_s - climb.since_s >= for_s - _EARLY_S
    )
    return Climbs(found, measured, trips)


def _off_the_scale(verdict: Verdict) -> bool:
    """What climbed in the dark until it left the range of believable numbers climbs still. By
    day it may be a probe in the sun."""
    return isinstance(verdict, Bad) and verdict.fault is Fault.OUT_OF_RANGE


def _measured(verdict: Verdict, probe: ProbeMemory) -> Measured | None:
    """What this probe read last; None: nothing that could be a temperature."""
    if not isinstance(verdict, Bad):
        temp_c, taken_s = probe.good_c, probe.good_s
    elif verdict.fault is Fault.JUMPED:
        temp_c, taken_s = probe.doubt_c, probe.doubt_seen_s
    else:
        return None
    return None if temp_c is None or taken_s is None else Measured(taken_s, temp_c)


def _text(name: str, climb: Climb) -> str:
    return (
        f"{name} rose from {shown_c(climb.from_c)} to {shown_c(climb.latest.temp_c)} in "
        f"{climb.latest.taken_s - climb.since_s:.0f} s"
    )
