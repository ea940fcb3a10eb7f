"""Two heaters for one zone: one wish for heat made into one for each, and what is told of them.

Lives here: the order in which it is decided, the two wishes, and the words. Does not live here:
when heat is wanted (thermostat.py, proportion.py), which of the two is first (ranks.py), when the
second joins (joining.py), whether one of them gives no heat at all (doubt.py,
watching/response.py), permission and what the circuit bears (guard.py).

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
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control import doubt, joining, ranks
from greenkeeper.control.plan import Plan, PulsePlan, StagePlan, ZonePlan
from greenkeeper.control.watching.trail import shown_time
from greenkeeper.model import (
    BLIND_K,
    Condition,
    Mode,
    Now,
    OutputMemory,
    Staging,
    Wish,
    ZoneView,
)

CODE = "second-heater"
SILENT_CODE = "no-response"
STANDS_IN_CODE = "stands-in"


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
        kept = ranks.ranked(
            ranks.known(before, zone.name, stages, outputs), stages, seen[at], outputs, out, now
        )
        if view.coldest_c is None or view.heat_setpoint_c is None:
            kept = doubt.no_trial(kept)._replace(joined=False, run_s=None)
        else:
            kept = joining.joined(kept, stages, zone, view, outputs, now, steady=steady)
        kept = kept._replace(at_s=now.mono_s)
        all_out = all(ranks.is_shunned(kept, name, now) for name in stages.outputs)
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


# --- what comes of it -------------------------------------------------------------------------


def _wishes(kept: Staging, stages: StagePlan, wish: Wish, *, both: bool) -> list[Wish]:
    first, second = kept.first, ranks.other(stages, kept.first)
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
    second = ranks.other(stages, kept.first)
    cold = doubt.stands_in(kept)
    if cold is not None:
        text = (
            f"{cold.heater} was on for {shown_time(cold.ran_s)} and {zone.name} only got colder, "
            f"until {ranks.other(stages, cold.heater)} took its place: look at the plug, "
            f"isolator and lamp of {cold.heater}"
        )
        found.append(Condition(STANDS_IN_CODE, cold.heater, text))
    if kept.joined:
        found.append(Condition(CODE, second, f"{kept.first} alone is not enough for {zone.name}"))
    if kept.silent is not None and ranks.is_shunned(kept, kept.silent, now):
        text = (
            f"{kept.silent} was on and {zone.name} got no warmer, then "
            f"{ranks.other(stages, kept.silent)} was easily enough alone: it goes first"
        )
        found.append(Condition(SILENT_CODE, kept.silent, text))
    return found
