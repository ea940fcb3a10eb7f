"""Two heaters for one zone: which is first, and when the second joins it.

Lives here: making one wish for heat into one for each of two heaters. Does not live here:
when heat is wanted (thermostat.py, proportion.py), permission and what the circuit bears
(guard.py), whether one of them gives no heat at all (doubt.py, watching/response.py).

The first works alone while it can. The second joins when the first has been on for long
enough to show, and the zone is at or below its setpoint and gets no warmer; or sooner, when
a plant is below its minimum and it still falls. From then on both go on and off together, as
one bigger heater, until the first alone could do what both did. On a circuit that does not bear
both, the second takes the first's place instead, half a degree below the setpoint at the
latest; and it goes back only where the zone falls on as before, for two sound heaters at their
limit are the same.

Which is first goes by wear and changes while both rest. A heater that was on in vain, or that is
known to give no heat, goes behind the other at once: so a good one never waits for a dead
one. It still joins as the second, because that knowledge may be wrong and plants come first.

Invariants, each with a property test:
  - the second is wanted only where the first is, with the same word from the zone;
  - not before the first has been on for lag_s without a pause, unless both are out;
  - never where the circuit does not bear both.
"""

from collections.abc import Collection, Mapping, Sequence
from math import exp
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control import doubt
from greenkeeper.control.plan import Plan, PulsePlan, StagePlan, ZonePlan
from greenkeeper.model import (
    BLIND_K,
    Condition,
    Mode,
    Now,
    OutputMemory,
    Sample,
    Staging,
    Wish,
    ZoneView,
)

CODE = "second-heater"
SILENT_CODE = "no-response"

_RISING_K = 0.25  # a few steps of a probe in wait_s: it gets there by itself
_SHORT_K = 0.5  # below the setpoint, where no plant says how cold is too cold
_NO_SLOWER = 0.5  # where one that works takes over, a zone soon falls less than this much as fast
_CALM_S = 60.0  # both off for so long, and none wanted: they may change places
_SHARE_FADES_IN_S = 3600.0
_ENOUGH = 0.85  # of the first's power: it goes alone again
_FRESH_WAITS = 3.0  # a run that has lasted so many wait_s tells of the night, not of the heater


class Staged(NamedTuple):
    wishes: list[Wish]
    memory: Mapping[str, Staging]
    conditions: Sequence[Condition]


NOTHING = Staged([], MappingProxyType({}), ())


def follow(
    plan: Plan,
    views: Sequence[ZoneView],
    wishes: Sequence[Wish],
    before: Mapping[str, Staging],
    outputs: Mapping[str, OutputMemory],
    out: Collection[str],
    now: Now,
    *,
    steady: bool,
) -> Staged:
    """The wishes, with one for each heater. out: those known to give no heat just now.
    steady: it is dark, as far as anybody knows, and nobody was at the door."""
    seen = list(wishes)
    after: dict[str, Staging] = {}
    conditions: list[Condition] = []
    for zone, view in zip(plan.zones, views, strict=True):
        stages = zone.stages
        at = next(
            (i for i, w in enumerate(seen) if w.zone == zone.name and w.mode is Mode.HEAT), None
        )
        if stages is None or at is None:
            continue
        kept = _ranked(
            _known(before, zone.name, stages, outputs), stages, seen[at], outputs, out, now
        )
        if view.coldest_c is None or view.heat_setpoint_c is None:
            kept = doubt.no_trial(kept)._replace(joined=False, run_s=None)
        else:
            kept = _joined(kept, stages, zone, view, outputs, now, steady=steady)
        kept = kept._replace(at_s=now.mono_s)
        all_out = all(_is_shunned(kept, name, now) for name in stages.outputs)
        both = stages.together and all_out and view.coldest_c is not None
        seen[at : at + 1] = _wishes(kept, stages, seen[at], both=both)
        conditions += _told(kept, stages, zone, now)
        after[zone.name] = kept
    return Staged(seen, after, conditions)


def out_of(plan: Plan, told: Sequence[Condition], failed: Collection[str]) -> frozenset[str]:
    """The heaters that give no heat: so it was found, or they or what they need cannot be
    switched. told: watch's conditions."""
    silent = {each.subject for each in told if each.code == SILENT_CODE}
    return frozenset(
        heater.name
        for heater in plan.outputs
        if heater.mode is Mode.HEAT
        and (
            heater.name in silent
            or heater.name in failed
            or any(each.name in failed for each in heater.isolators)
            or any(
                each.name in failed and heater.name in each.required_by
                for each in heater.companions
            )
        )
    )


def acting(pulses: PulsePlan, stages: StagePlan | None, staging: Staging | None) -> PulsePlan:
    """Who is behind the zone's pulses just now: its first heater, or both as one."""
    if stages is None or staging is None or staging.first not in stages.outputs:
        return pulses
    at = stages.outputs.index(staging.first)
    power = sum(stages.powers) if staging.joined else stages.powers[at]
    gain_k = pulses.figures.gain_k * power / stages.powers[0]
    return pulses._replace(output=staging.first, figures=pulses.figures._replace(gain_k=gain_k))


# --- which is first ------------------------------------------------------------------------


def _known(
    before: Mapping[str, Staging], zone: str, stages: StagePlan, outputs: Mapping[str, OutputMemory]
) -> Staging:
    kept = before.get(zone)
    if kept is not None and kept.first in stages.outputs:
        return kept
    one, two = stages.outputs
    worn = stages.takes_turns and _wear(stages, outputs, one) > _wear(stages, outputs, two)
    return Staging(two if worn else one)


def _ranked(
    kept: Staging,
    stages: StagePlan,
    wish: Wish,
    outputs: Mapping[str, OutputMemory],
    out: Collection[str],
    now: Now,
) -> Staging:
    shunned = {name: until_s for name, until_s in kept.shunned.items() if now.mono_s < until_s}
    shunned |= {name: now.mono_s + doubt.SHUNNED_S for name in stages.outputs if name in out}
    kept = kept._replace(shunned=shunned) if shunned != kept.shunned else kept
    first, second = kept.first, _other(stages, kept.first)
    calm = not wish.on and all(
        not outputs[name].on and now.mono_s - outputs[name].since_s >= _CALM_S
        for name in stages.outputs
    )
    kept = doubt.forgotten(kept, now) if calm else kept
    if second in shunned or doubt.is_about(kept, second):
        return kept
    if first in shunned or (doubt.is_about(kept, first) and not kept.joined):
        return _swapped(kept, second)
    if not calm or (kept.doubt is not None and kept.doubt.heater == first):
        return kept
    if kept.doubt is not None:  # it is the second's turn to be tried once more
        return _swapped(kept, second)
    if not stages.takes_turns:
        return kept if first == stages.outputs[0] else _swapped(kept, second)
    ahead = _wear(stages, outputs, first) - _wear(stages, outputs, second)
    return _swapped(kept, second) if ahead >= stages.turn_after else kept


def _swapped(kept: Staging, first: str) -> Staging:
    return kept._replace(first=first, run_s=None, rest_s=None)


def _other(stages: StagePlan, first: str) -> str:
    one, two = stages.outputs
    return two if first == one else one


def _wear(stages: StagePlan, outputs: Mapping[str, OutputMemory], name: str) -> float:
    return outputs[name].operations / stages.rated[stages.outputs.index(name)]


def _is_shunned(kept: Staging, name: str, now: Now) -> bool:
    return kept.shunned.get(name, 0.0) > now.mono_s


# --- when the second joins ------------------------------------------------------------------


def _joined(
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
    if outputs[_other(stages, kept.first)].on:
        kept = doubt.no_trial(kept)
    else:
        holds = coldest_c >= (view.heat_setpoint_c or 0.0)
        ahead = zone.pulses is not None
        kept = doubt.tested(
            kept, stages, holds=holds, is_on=state.on, steady=steady, ahead=ahead, now=now
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
    ran_s = now.mono_s - state.since_s
    is_time = ran_s >= doubt.patience_s(kept, stages)
    too_cold = still_falls and is_time and coldest_c < _least_c(stages, zone, view)
    if too_cold or _stays_below(kept, stages, view, now):
        if stages.together:
            return _helped(kept, stages, seen, ran_s, now)
        return _relieved(kept, stages, seen, ran_s, now)
    if not _is_below(view) or now.mono_s - kept.mark_s >= stages.wait_s:
        kept = kept._replace(mark_s=now.mono_s, mark_c=coldest_c)
    return kept


def _rest_s(stages: StagePlan, outputs: Mapping[str, OutputMemory]) -> float | None:
    if any(outputs[name].on for name in stages.outputs):
        return None
    return max(outputs[name].since_s for name in stages.outputs)


def _is_below(view: ZoneView) -> bool:
    return (view.coldest_c or 0.0) <= (view.heat_setpoint_c or 0.0)


def _least_c(stages: StagePlan, zone: ZonePlan, view: ZoneView) -> float:
    """A first that is only slow is not helped above this. To take its place costs nothing."""
    short_c = (view.heat_setpoint_c or 0.0) - _SHORT_K
    if zone.minimum_c is None:
        return short_c
    return zone.minimum_c if stages.together else max(zone.minimum_c, short_c)


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
    if _is_fresh(stages, ran_s) and not _is_shunned(kept, kept.first, now):
        found = doubt.of(kept, stages, seen, ran_s)
        kept = kept if found is None else kept._replace(doubt=found)
    return kept._replace(joined=True, share=1.0)


def _relieved(kept: Staging, stages: StagePlan, seen: Sample, ran_s: float, now: Now) -> Staging:
    """The other takes its place. Where the first already took the other's, it goes back only if
    the zone falls as it did: two sound ones at their limit are the same."""
    other = _other(stages, kept.first)
    found = doubt.of(kept, stages, seen, ran_s)
    if found is None or not _is_fresh(stages, ran_s) or _is_shunned(kept, other, now):
        return kept
    if kept.doubt is not None and doubt.is_about(kept, other):
        no_slower = found.falls_k_per_s >= _NO_SLOWER * kept.doubt.falls_k_per_s
        if ran_s < 2.0 * stages.lag_s or not no_slower:
            return kept
    return _swapped(kept._replace(doubt=found), other)


def _is_fresh(stages: StagePlan, ran_s: float) -> bool:
    return ran_s < _FRESH_WAITS * stages.wait_s


def _as_long_as_needed(kept: Staging, stages: StagePlan, state: OutputMemory, now: Now) -> Staging:
    """share: of the time on, while both work as one, slowly forgotten."""
    passed_s = max(0.0, now.mono_s - (now.mono_s if kept.at_s is None else kept.at_s))
    fresh = 1.0 - exp(-passed_s / _SHARE_FADES_IN_S)
    share = kept.share + fresh * ((1.0 if state.on else 0.0) - kept.share)
    alone = share * sum(stages.powers) / stages.powers[stages.outputs.index(kept.first)]
    if not state.on and doubt.is_about(kept, kept.first):
        return _swapped(kept._replace(joined=False, share=share), _other(stages, kept.first))
    if not state.on and alone < _ENOUGH:
        return kept._replace(joined=False, run_s=None, share=share)
    return kept._replace(share=share)


# --- what comes of it -------------------------------------------------------------------------


def _wishes(kept: Staging, stages: StagePlan, wish: Wish, *, both: bool) -> list[Wish]:
    first, second = kept.first, _other(stages, kept.first)
    mine = wish._replace(output=first)
    if wish.urgency_k == BLIND_K or not wish.on:
        return [mine, wish._replace(output=second, on=False)]
    if kept.joined or both:
        reason = f"{wish.reason}; {first} alone is not enough"
        return [mine, wish._replace(output=second, reason=reason)]
    reason = f"{first} heats, and it joins when that is not enough"
    if not stages.together:
        reason = f"{first} heats, and the circuit does not bear both"
    if second in kept.shunned or doubt.is_about(kept, second):
        reason = f"{first} heats; of {second} no warmth came"
    return [mine, wish._replace(output=second, on=False, reason=reason)]


def _told(kept: Staging, stages: StagePlan, zone: ZonePlan, now: Now) -> list[Condition]:
    found = []
    second = _other(stages, kept.first)
    if kept.joined:
        found.append(Condition(CODE, second, f"{kept.first} alone is not enough for {zone.name}"))
    if kept.silent is not None and _is_shunned(kept, kept.silent, now):
        text = (
            f"{kept.silent} was on and {zone.name} got no warmer, then "
            f"{_other(stages, kept.silent)} was easily enough alone: it goes first"
        )
        found.append(Condition(SILENT_CODE, kept.silent, text))
    return found
