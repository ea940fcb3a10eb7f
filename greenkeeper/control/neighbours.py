"""Probes beside each other: has one stopped moving, does one stand apart?

Lives here: what no probe can tell of itself, only its neighbours of it. Does not live
here: whether a single number is a temperature (judge), and how much one that stands
alone still counts (zones).

A vote never takes a temperature away. What stands alone may be the one cold corner, and
two that agree may be the two that fell down: it goes on being measured, shown, recorded
and held against every ceiling. Only how far it can move heat and cooling is bounded.
Standing still while others move is another matter: no air does that, if they are in the
same air. One that is alone in its zone is not: under an inner cover, or where heat comes in
small pulses, it rightly shows the same sixteenth for hours. What it is called frozen for is
what moves even a body that loses no more in an hour than a fiftieth of what it stands above
its surroundings (a tight house full of water; a judgement, no source. watching/stuck.py is
stricter, since only a person takes back what it says; one called frozen by mistake is soon
moved by the want of heat):
  - another has gone so far, for so long, that it must have followed;
  - it stands beyond every other probe of the house: the warmest of all, dark and unheated, or
    (if it is in a zone: one of none may hang outdoors) the coldest of all, for so long that it
    must have come nearer;
  - its zone's heater was on for frozen_s without a pause.
"""

from collections.abc import Mapping, Sequence
from statistics import median
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.plan import Plan, ProbePlan, ZonePlan
from greenkeeper.model import (
    Apart,
    Bad,
    Condition,
    Fault,
    Good,
    NeighbourMemory,
    OutputMemory,
    Still,
    Verdict,
)
from greenkeeper.units import shown_c

ZONE_CODE = "zone-disagrees"
PROBE_CODE = "probe-disagrees"
_FEWEST_VOTERS = 3

# The slowest body: what it stands apart from its surroundings falls by a fiftieth in an hour.
_SLOWEST_S = 50.0 * 3600.0
_STEP_K = 1.0 / 16.0

# One that another draws along, ever faster, stays within a step the longest on its turning
# point, coming and going: until that other's way, times the time it took, is 8 steps times the
# body's time constant.
_FOLLOWED_KS = 8.0 * _STEP_K * _SLOWEST_S

# Drawn to one side all the time, it is two steps away after this.
_OWED_KS = 2.0 * _STEP_K * _SLOWEST_S

# The element gives off what it holds, and the last sun, before it is left to itself.
_SPENT_S = 1800.0
_LONGEST_TICK_S = 120.0  # a longer pause, and nobody knows what was meanwhile


class Around(NamedTuple):
    """What else may move a probe."""

    dark_since_s: float | None = None  # None: it is light, or nobody knows
    outputs: Mapping[str, OutputMemory] = MappingProxyType({})  # as they have been until now


_UNKNOWN = Around()


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
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    memory: NeighbourMemory,
    now_s: float,
    around: Around = _UNKNOWN,
) -> Compared:
    """verdicts: judge's, of every probe of the plan."""
    still, frozen = _at_rest(plan, verdicts, memory.still, now_s, around)
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
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    still: Mapping[str, Still],
    now_s: float,
    around: Around,
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
            now = was
            if not was.proof:
                now = _held_against_others(was, plan.probes[name], verdicts, now_s)
                if plan.probes[name].alone and not now.proof:
                    now = _held_against_heat(now, name, frozen_s, plan, verdicts, now_s, around)
            if now.proof:
                hours = (now_s - now.since_s) / 3600.0
                text = f"exactly {shown_c(now.temp_c)} for {hours:.1f} h, while {now.proof}"
                frozen[name] = Bad(Fault.FROZEN, text)
        if now is not was:
            after = dict(still) if after is None else after
            after[name] = now
    return still if after is None else after, frozen


def _held_against_others(
    was: Still, plan: ProbePlan, verdicts: Mapping[str, Verdict], now_s: float
) -> Still:
    """The same, with the proof that another has moved enough meanwhile, if one has.

    A proof stands until the probe moves: the neighbour may well come back to where it was.
    """
    newly_seen = {}
    for name in plan.neighbours:
        now, then = verdicts[name], was.beside.get(name)
        if not isinstance(now, Good):
            continue
        if not isinstance(then, Good):
            newly_seen[name] = now
            continue
        gone_k = abs(now.temp_c - then.temp_c)
        if gone_k <= plan.frozen_k:
            continue
        if not plan.alone or gone_k * (now_s - was.later.get(name, was.since_s)) > _FOLLOWED_KS:
            moved = f"{name} went from {shown_c(then.temp_c)} to {shown_c(now.temp_c)}"
            return was._replace(proof=moved)
    if not newly_seen:
        return was
    later = {**was.later, **dict.fromkeys(newly_seen, now_s)}
    return was._replace(beside={**was.beside, **newly_seen}, later=later)


def _held_against_heat(
    was: Still,
    name: str,
    frozen_s: float,
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    now_s: float,
    around: Around,
) -> Still:
    """The same, with the proof that heat or the want of it must have moved it."""
    for heater in plan.probes[name].heated_by:
        state = around.outputs.get(heater)
        if state is not None and state.on and now_s - state.since_s >= frozen_s:
            return was._replace(proof=f"{heater} was on without a pause")
    owed_ks = was.owed_ks
    beyond_k, where = _beyond_all(was.temp_c, name, plan, verdicts, now_s, around)
    if was.counted_s is not None and now_s - was.counted_s <= _LONGEST_TICK_S:
        owed_ks += beyond_k * (now_s - was.counted_s)
    if beyond_k == 0.0:
        owed_ks = 0.0
    proof = f"all others are {where}" if owed_ks > _OWED_KS else ""
    return was._replace(proof=proof, owed_ks=owed_ks, counted_s=now_s)


def _beyond_all(
    temp_c: float,
    name: str,
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    now_s: float,
    around: Around,
) -> tuple[float, str]:
    """How far it stands beyond all others on the side from which they must draw it nearer.

    Less frozen_k, which is what two sound probes in one air may differ by. 0 unless every
    other probe can be trusted: the one that is missing may be what keeps it there.
    """
    others = [v.temp_c for probe, v in verdicts.items() if probe != name and isinstance(v, Good)]
    if len(others) < len(verdicts) - 1 or not others:
        return 0.0, ""
    probe = plan.probes[name]
    coldest_c, warmest_c = min(others), max(others)
    if probe.zoned and temp_c < coldest_c - probe.frozen_k:
        return coldest_c - probe.frozen_k - temp_c, f"warmer, from {shown_c(coldest_c)} on"
    if temp_c > warmest_c + probe.frozen_k and _left_alone(probe, now_s, around):
        return temp_c - warmest_c - probe.frozen_k, f"colder, up to {shown_c(warmest_c)}"
    return 0.0, ""


def _left_alone(probe: ProbePlan, now_s: float, around: Around) -> bool:
    """Neither sun nor any heater has warmed it for a while."""
    if around.dark_since_s is None or now_s - around.dark_since_s < _SPENT_S:
        return False
    for heater in probe.warmed_by:
        state = around.outputs.get(heater)
        if state is None or state.on or now_s - state.since_s < _SPENT_S:
            return False
    return True


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
