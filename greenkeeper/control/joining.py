"""Two heaters for one zone: when the second joins the first, or takes its place.

Lives here: what the zone does while the first is on, and what follows from it. Does not live
here: which is first (ranks.py), and what it proves of the first (doubt.py).
"""

from collections.abc import Mapping
from math import exp

from greenkeeper.control import doubt
from greenkeeper.control.plan import StagePlan, ZonePlan
from greenkeeper.control.ranks import is_shunned, other, swapped
from greenkeeper.model import Now, OutputMemory, Sample, Staging, ZoneView

_RISING_K = 0.25  # a few steps of a probe in wait_s: it gets there by itself
_SHORT_K = 0.5  # below the setpoint, where no plant says how cold is too cold
_IN_WANT_K = 1.0  # below what a plant bears: then it is worth having both, though one would do
_NO_SLOWER = 0.5  # where one that works takes over, a zone soon falls less than this much as fast
_SHARE_FADES_IN_S = 3600.0
_ENOUGH = 0.85  # of the first's power: it goes alone again
_FRESH_WAITS = 3.0  # a run that has lasted so many wait_s tells of the night, not of the heater


def joined(
    kept: Staging,
    stages: StagePlan,
    zone: ZonePlan,
    view: ZoneView,
    outputs: Mapping[str, OutputMemory],
    now: Now,
    *,
    steady: bool,
) -> Staging:
    assert view.coldest_c is not None  # noqa: S101 - the only caller asked
    state, coldest_c = outputs[kept.first], view.coldest_c
    seen = Sample(coldest_c, now.mono_s)
    if kept.joined:
        return _as_long_as_needed(doubt.no_trial(kept), stages, state, now)
    if outputs[other(stages, kept.first)].on:
        kept = doubt.no_trial(kept)
    else:
        holds = coldest_c >= (view.heat_setpoint_c or 0.0)
        ahead = zone.pulses is not None
        kept = doubt.tested(
            kept,
            stages,
            holds=holds,
            room_k=_room_k(zone, view),
            is_on=state.on,
            steady=steady,
            ahead=ahead,
            now=now,
        )
    if not state.on:
        return kept._replace(run_s=None, rest_s=_rest_s(stages, outputs))
    if kept.run_s != state.since_s:
        kept = kept._replace(
            run_s=state.since_s,
            began_c=coldest_c,
            low_c=coldest_c,
            low_s=now.mono_s,
            mark_s=now.mono_s,
            mark_c=coldest_c,
            course=(seen, seen),
        )
    still_falls = coldest_c < kept.low_c
    kept = kept._replace(course=_course(kept, stages, seen))
    kept = kept._replace(low_c=coldest_c, low_s=now.mono_s) if still_falls else kept
    kept = doubt.turned(kept, stages, seen)
    kept = doubt.relayed(kept, stages, seen, ahead=zone.pulses is not None)
    ran_s = now.mono_s - state.since_s
    is_time = ran_s >= doubt.patience_s(kept, stages)
    too_cold = still_falls and is_time and coldest_c < _least_c(stages, zone, view)
    if too_cold or _stays_below(kept, stages, view, now):
        if stages.together:
            return _helped(kept, stages, seen, ran_s, now)
        return _relieved(kept, stages, seen, state, now)
    if stages.together and _rises_in_want(kept, zone, coldest_c):
        return kept._replace(joined=True, share=1.0)
    if not _is_below(view) or now.mono_s - kept.mark_s >= stages.wait_s:
        return kept._replace(mark_s=now.mono_s, mark_c=coldest_c)
    return kept if coldest_c >= kept.mark_c else kept._replace(mark_c=coldest_c)


def _rest_s(stages: StagePlan, outputs: Mapping[str, OutputMemory]) -> float | None:
    if any(outputs[name].on for name in stages.outputs):
        return None
    return max(outputs[name].since_s for name in stages.outputs)


def _is_below(view: ZoneView) -> bool:
    return (view.coldest_c or 0.0) <= (view.heat_setpoint_c or 0.0)


def _room_k(zone: ZonePlan, view: ZoneView) -> float:
    if zone.minimum_c is None:
        return _SHORT_K
    return (view.heat_setpoint_c or 0.0) - zone.minimum_c


def _least_c(stages: StagePlan, zone: ZonePlan, view: ZoneView) -> float:
    """A first that is only slow is not helped above this. To take its place costs nothing."""
    short_c = (view.heat_setpoint_c or 0.0) - _SHORT_K
    if zone.minimum_c is None:
        return short_c
    return zone.minimum_c if stages.together else max(zone.minimum_c, short_c)


def _rises_in_want(kept: Staging, zone: ZonePlan, coldest_c: float) -> bool:
    """Plants are much colder than they bear, as after a power cut. The first works, and would get
    them out of it alone; two do it in half the time, for the same heat."""
    in_want = zone.minimum_c is not None and coldest_c < zone.minimum_c - _IN_WANT_K
    return in_want and coldest_c >= kept.low_c + _RISING_K


def _stays_below(kept: Staging, stages: StagePlan, view: ZoneView, now: Now) -> bool:
    """At or below the setpoint since wait_s, the first on all the while, and no warmer."""
    return (
        _is_below(view)
        and now.mono_s - kept.mark_s >= stages.wait_s
        and (view.coldest_c or 0.0) < kept.mark_c + _RISING_K
    )


def _course(kept: Staging, stages: StagePlan, seen: Sample) -> tuple[Sample, Sample]:
    """Where the zone was up to half a lag ago, and half a lag before that."""
    late, early = (seen, seen) if kept.course is None else kept.course
    return (seen, late) if seen.mono_s - late.mono_s >= 0.5 * stages.lag_s else (late, early)


def _helped(kept: Staging, stages: StagePlan, seen: Sample, ran_s: float, now: Now) -> Staging:
    """The second joins, and hides meanwhile whether the first does anything. Where that had done
    nothing at all, the other is tried alone after this."""
    if _is_fresh(stages, ran_s) and not is_shunned(kept, kept.first, now):
        found = doubt.of(kept, stages, seen, ran_s)
        kept = kept if found is None else kept._replace(doubt=found)
    return kept._replace(joined=True, share=1.0)


def _relieved(
    kept: Staging, stages: StagePlan, seen: Sample, state: OutputMemory, now: Now
) -> Staging:
    """The other takes its place. Where the first already took the other's, it goes back only if
    the zone falls as it did: two sound ones at their limit are the same."""
    second, ran_s = other(stages, kept.first), now.mono_s - state.since_s
    found = doubt.of(kept, stages, seen, ran_s)
    if found is None or not _is_fresh(stages, ran_s) or is_shunned(kept, second, now):
        return kept
    if kept.doubt is not None and doubt.is_about(kept, second):
        no_slower = found.falls_k_per_s >= _NO_SLOWER * kept.doubt.falls_k_per_s
        if ran_s < 2.0 * stages.lag_s or not no_slower:
            return kept
    from_cold = kept.rest_s is not None and state.since_s - kept.rest_s >= stages.lag_s
    at_work = not from_cold and state.was_on_s >= stages.lag_s
    return swapped(kept._replace(doubt=found._replace(at_work=at_work)), second)


def _is_fresh(stages: StagePlan, ran_s: float) -> bool:
    return ran_s < _FRESH_WAITS * stages.wait_s


def _as_long_as_needed(kept: Staging, stages: StagePlan, state: OutputMemory, now: Now) -> Staging:
    """share: of the time on, while both work as one, slowly forgotten."""
    passed_s = max(0.0, now.mono_s - (now.mono_s if kept.at_s is None else kept.at_s))
    fresh = 1.0 - exp(-passed_s / _SHARE_FADES_IN_S)
    share = kept.share + fresh * ((1.0 if state.on else 0.0) - kept.share)
    alone = share * sum(stages.powers) / stages.powers[stages.outputs.index(kept.first)]
    if not state.on and doubt.is_about(kept, kept.first):
        return swapped(kept._replace(joined=False, share=share), other(stages, kept.first))
    if not state.on and alone < _ENOUGH:
        return kept._replace(joined=False, run_s=None, share=share)
    return kept._replace(share=share)
