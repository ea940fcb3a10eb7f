"""Probes beside each other: has one stopped moving, does one stand apart?

Lives here: what no probe can tell of itself, only its neighbours of it. Does not live
here: whether a single number is a temperature (judge), and how much one that stands
alone still counts (zones).

A vote never takes a temperature away. What stands alone may be the one cold corner, and
two that agree may be the two that fell down: it goes on being measured, shown, recorded
and held against every ceiling. Only how far it can move heat and cooling is bounded.
Standing still while others move is another matter: no air does that.
"""

from collections.abc import Mapping, Sequence
from statistics import median
from typing import NamedTuple

from greenkeeper.control.plan import Plan, ProbePlan, ZonePlan
from greenkeeper.model import Apart, Bad, Condition, Fault, Good, NeighbourMemory, Still, Verdict
from greenkeeper.units import shown_c

ZONE_CODE = "zone-disagrees"
PROBE_CODE = "probe-disagrees"
_FEWEST_VOTERS = 3


class Compared(NamedTuple):
    """What the probes say, once they have been held against each other."""

    verdicts: Mapping[str, Verdict]
    alone: Mapping[str, str]  # zone -> its probe that stands alone, if one does
    conditions: tuple[Condition, ...]
    memory: NeighbourMemory


class _Measured(NamedTuple):
    temp_c: float
    probe: str


def compare(
    plan: Plan, verdicts: Mapping[str, Verdict], memory: NeighbourMemory, now_s: float
) -> Compared:
    """verdicts: judge's, of every probe of the plan."""
    still, frozen = _at_rest(plan, verdicts, memory.still, now_s)
    if frozen:
        verdicts = {**verdicts, **frozen}
    apart = _apart(plan, verdicts, memory.apart, now_s)
    if still is not memory.still or apart is not memory.apart:
        memory = NeighbourMemory(still, apart)
    if not apart:
        return Compared(verdicts, {}, (), memory)
    alone = {
        zone.name: known.lone
        for zone in plan.zones
        if (known := apart.get(zone.name)) is not None
        and known.lone is not None
        and now_s - known.lone_since_s >= zone.disagree_s
    }
    return Compared(verdicts, alone, _conditions(plan, verdicts, apart, alone, now_s), memory)


def kept(memory: NeighbourMemory, plan: Plan) -> NeighbourMemory:
    """What a new plan still has a use for."""
    zones = {zone.name for zone in plan.zones}
    return NeighbourMemory(
        {name: still for name, still in memory.still.items() if name in plan.probes},
        {name: apart for name, apart in memory.apart.items() if name in zones},
    )


# --- standing still --------------------------------------------------------------------


def _at_rest(
    plan: Plan, verdicts: Mapping[str, Verdict], still: Mapping[str, Still], now_s: float
) -> tuple[Mapping[str, Still], dict[str, Verdict]]:
    """Since when each probe has said the same, and those for which that is too long."""
    after: dict[str, Still] | None = None
    frozen: dict[str, Verdict] = {}
    for name, frozen_s in plan.must_move:
        verdict = verdicts[name]
        was = still.get(name)
        if not isinstance(verdict, Good):
            if was is not None:
                after = dict(still) if after is None else after
                del after[name]
            continue
        if was is None or was.temp_c != verdict.temp_c:
            now = Still(verdict.temp_c, now_s - verdict.age_s, verdicts)
        elif now_s - verdict.age_s - was.since_s < frozen_s:
            continue
        else:
            now = _held_against_others(was, plan.probes[name], verdicts)
            if now.proof:
                hours = (now_s - now.since_s) / 3600.0
                text = f"exactly {shown_c(now.temp_c)} for {hours:.1f} h, while {now.proof}"
                frozen[name] = Bad(Fault.FROZEN, text)
        if now is not was:
            after = dict(still) if after is None else after
            after[name] = now
    return still if after is None else after, frozen


def _held_against_others(was: Still, plan: ProbePlan, verdicts: Mapping[str, Verdict]) -> Still:
    """The same, with the proof that another has moved meanwhile, if one has.

    A proof stands until the probe moves: the neighbour may well come back to where it was.
    """
    if was.proof:
        return was
    newly_seen = {}
    for name in plan.neighbours:
        now, then = verdicts[name], was.beside.get(name)
        if not isinstance(now, Good):
            continue
        if not isinstance(then, Good):
            newly_seen[name] = now
        elif abs(now.temp_c - then.temp_c) > plan.frozen_k:
            moved = f"{name} went from {shown_c(then.temp_c)} to {shown_c(now.temp_c)}"
            return was._replace(proof=moved)
    return was._replace(beside={**was.beside, **newly_seen}) if newly_seen else was


# --- standing apart --------------------------------------------------------------------


def _apart(
    plan: Plan, verdicts: Mapping[str, Verdict], apart: Mapping[str, Apart], now_s: float
) -> Mapping[str, Apart]:
    """The zones whose probes are further apart than they should be, and since when."""
    after: dict[str, Apart] | None = None
    for zone in plan.zones:
        if len(zone.probes) < 2:
            continue
        temps = [v.temp_c for name in zone.probes if isinstance(v := verdicts[name], Good)]
        if temps and max(temps) - min(temps) > zone.disagree_k:
            now = _grown_apart(zone, _measured(zone, verdicts), apart.get(zone.name), now_s)
            if now != apart.get(zone.name):
                after = dict(apart) if after is None else after
                after[zone.name] = now
        elif zone.name in apart:
            after = dict(apart) if after is None else after
            del after[zone.name]
    return apart if after is None else after


def _grown_apart(
    zone: ZonePlan, measured: Sequence[_Measured], was: Apart | None, now_s: float
) -> Apart:
    lone = _lone(measured, zone.disagree_k)
    if was is None:
        return Apart(now_s, lone, now_s)
    return Apart(was.since_s, lone, was.lone_since_s if lone == was.lone else now_s)


def _lone(measured: Sequence[_Measured], limit_k: float) -> str | None:
    """The one that is far from the middle while all others agree. Of two, neither is."""
    if len(measured) < _FEWEST_VOTERS:
        return None
    middle_c = median(each.temp_c for each in measured)
    coldest, warmest = measured[0], measured[-1]
    if warmest.temp_c - measured[1].temp_c <= limit_k < middle_c - coldest.temp_c:
        return coldest.probe
    if measured[-2].temp_c - coldest.temp_c <= limit_k < warmest.temp_c - middle_c:
        return warmest.probe
    return None


def _measured(zone: ZonePlan, verdicts: Mapping[str, Verdict]) -> list[_Measured]:
    """The zone's trusted probes, coldest first."""
    return sorted(
        _Measured(verdict.temp_c, name)
        for name in zone.probes
        if isinstance(verdict := verdicts[name], Good)
    )


def _conditions(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    apart: Mapping[str, Apart],
    alone: Mapping[str, str],
    now_s: float,
) -> tuple[Condition, ...]:
    found = []
    for zone in plan.zones:
        known = apart.get(zone.name)
        if known is None or now_s - known.since_s < zone.disagree_s:
            continue
        measured = _measured(zone, verdicts)
        lone = alone.get(zone.name)
        if lone is None:
            text = " but ".join(_said(each) for each in (measured[0], measured[-1]))
            found.append(Condition(ZONE_CODE, zone.name, text))
        else:
            others = ", ".join(_said(each) for each in measured if each.probe != lone)
            (itself,) = (each for each in measured if each.probe == lone)
            found.append(Condition(PROBE_CODE, lone, f"{shown_c(itself.temp_c)} but {others}"))
    return tuple(found)


def _said(measured: _Measured) -> str:
    return f"{measured.probe} {shown_c(measured.temp_c)}"
