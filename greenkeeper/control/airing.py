"""Airing: letting damp out while outdoor air can take it up and the plants can stand it.

Lives here: when a zone would like to be aired, the words for it, and what heat that lets
out, as an estimate. Does not live here: permission. The guard has that: airing is to it a
kind of cooling, so that it makes way for heat, keeps its output's minimum times and never
runs without a trusted probe.

Relative humidity alone would air on every foggy morning: warmer inside, the same air is
drier in per cent. What counts is water: outdoor air dries the house only if it carries
less of it per cubic metre. Without an outdoor hygrometer it is taken to be full, which it
can be at most; that never airs wrongly, and misses only some chances.

It spends no electricity on heat: it stops margin_k above where heat would come on. Growers who
heat and air at once, to dry a house by force, must do that by hand.
"""

from collections.abc import Collection, Mapping
from typing import NamedTuple

from greenkeeper import moisture
from greenkeeper.control.plan import AirPlan, Plan, ZonePlan
from greenkeeper.model import (
    BLIND_K,
    AiringMemory,
    Condition,
    Damp,
    DampVerdict,
    Good,
    Mode,
    Now,
    OutputMemory,
    Place,
    VentMemory,
    Verdict,
    Wish,
    ZoneView,
)
from greenkeeper.units import shown_c, shown_pct

CODE = "aired"

# A zone that does not ask is less urgent than any thermostat, and sees all the same.
_IDLE_K = -1000.0
# What must be there to begin, and may be lost before it ends: no limit is a knife's edge.
_BEGIN_K = 1.0
_OUTDOORS_HOLDS_K = 0.5
_DRIER_HOLDS_TO = 0.5
_HOUR_S, _HOURS = 3600.0, 24
_LONGEST_STEP_S = 300.0  # what lies between two ticks further apart is not known


class Aired(NamedTuple):
    wishes: list[Wish]
    notes: list[Condition]
    memory: Mapping[str, AiringMemory]  # by zone


NOTHING = Aired([], [], {})


class _Outdoors(NamedTuple):
    temp_c: float
    water_g_m3: float
    known: bool  # measured, not taken to be full


def follow(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    humidity: Mapping[str, DampVerdict],
    views: tuple[ZoneView, ...],
    memory: Mapping[str, AiringMemory],
    outputs: Mapping[str, OutputMemory],
    vents: Mapping[str, VentMemory],
    off: Collection[str],
    now: Now,
) -> Aired:
    """One wish for every zone that may be aired. off: the zones a person switched off.

    outputs, vents: as the last tick left them, which is how they have been until now.
    """
    outdoors = _outdoors(plan, verdicts, humidity)
    wishes, notes = [], []
    after: dict[str, AiringMemory] = {}
    for zone, view in zip(plan.zones, views, strict=True):
        air = zone.air
        if air is None:
            continue
        damp = humidity.get(air.hygrometer)
        known = memory.get(zone.name, AiringMemory())
        known = _counted(air, view, outdoors, known, _moves(air, outputs, vents), now.mono_s)
        on, reason = _decided(zone, air, damp, view, outdoors, known, now.mono_s)
        if zone.name in off:
            on, reason = False, f"no airing: {zone.name} is switched off"
        if on is not known.asking:
            if known.asking:
                notes += _told(zone.name, damp, known)
            known = _turned(known, on, damp, now.mono_s)
        after[zone.name] = known if reason == known.reason else known._replace(reason=reason)
        wishes.append(_wish(zone.name, air, view, on, reason))
    return Aired(wishes, notes, after)


def let_out_wh(memory: AiringMemory) -> float:
    """Estimate: the heat that airing let out within the last day."""
    return sum(wh for _, wh in memory.hours)


def _outdoors(
    plan: Plan, verdicts: Mapping[str, Verdict], humidity: Mapping[str, DampVerdict]
) -> _Outdoors | None:
    verdict = None if plan.outdoor is None else verdicts.get(plan.outdoor)
    if not isinstance(verdict, Good):
        return None
    full_g_m3 = moisture.water_g_m3(verdict.temp_c, 100.0)
    damp = None
    if plan.outdoor_hygrometer is not None:
        damp = humidity.get(plan.outdoor_hygrometer)
    if isinstance(damp, Damp) and damp.water_g_m3 is not None:
        return _Outdoors(verdict.temp_c, damp.water_g_m3, known=True)
    return _Outdoors(verdict.temp_c, full_g_m3, known=False)


def _moves(
    air: AirPlan, outputs: Mapping[str, OutputMemory], vents: Mapping[str, VentMemory]
) -> bool:
    """Whether air goes out that way now."""
    if air.output in outputs:
        return outputs[air.output].on
    return vents.get(air.output, VentMemory()).place in (Place.BETWEEN, Place.OPEN)


# --- whether to ask ---------------------------------------------------------------------------


def _decided(
    zone: ZonePlan,
    air: AirPlan,
    damp: DampVerdict | None,
    view: ZoneView,
    outdoors: _Outdoors | None,
    memory: AiringMemory,
    now_s: float,
) -> tuple[bool, str]:
    """Whether the zone asks for it, and why or why not."""
    if view.coldest_c is None:
        return False, f"no trusted probe in {zone.name}"
    if not isinstance(damp, Damp) or damp.water_g_m3 is None:
        return False, f"no airing: no trusted humidity and temperature at {air.hygrometer}"
    if outdoors is None:
        return False, "no airing: no trusted outdoor probe"
    for obstacle in (
        _dry(air, damp, memory.asking),
        _cold(air, view, memory.asking),
        _cold_outdoors(air, outdoors, memory.asking),
        _no_gain(air, damp.water_g_m3, outdoors, memory.asking),
        _turn(air, memory, now_s),
    ):
        if obstacle is not None:
            return False, f"no airing: {obstacle}"
    drier_g_m3 = damp.water_g_m3 - outdoors.water_g_m3
    least = "" if outdoors.known else "at least "
    return True, (
        f"airing: {shown_pct(damp.rh_pct)} at {air.hygrometer}, outdoors is "
        f"{least}{drier_g_m3:.1f} g/m³ drier"
    )


def _dry(air: AirPlan, damp: Damp, asking: bool) -> str | None:
    if damp.rh_pct >= air.above_pct or (asking and damp.rh_pct > air.off_pct):
        return None
    return f"{shown_pct(damp.rh_pct)} is dry enough, from {shown_pct(air.above_pct)} on"


def _cold(air: AirPlan, view: ZoneView, asking: bool) -> str | None:
    """Too near to where heat comes on, or to what the plants can stand."""
    if any(wish.on for wish in view.wishes if wish.mode is Mode.HEAT):
        return "heat is wanted"
    least_c = air.least_c
    if view.heat_setpoint_c is not None:
        least_c = max(least_c, view.heat_setpoint_c + air.over_heat_k)
    if not asking:
        least_c += _BEGIN_K
    if view.coldest_c is not None and view.coldest_c >= least_c:
        return None
    return f"{view.coldest_probe} is below {shown_c(least_c)}"


def _cold_outdoors(air: AirPlan, outdoors: _Outdoors, asking: bool) -> str | None:
    least_c = air.outdoor_least_c - (_OUTDOORS_HOLDS_K if asking else 0.0)
    if outdoors.temp_c >= least_c:
        return None
    return f"outdoors {shown_c(outdoors.temp_c)} is below {shown_c(least_c)}"


def _no_gain(air: AirPlan, water_g_m3: float, outdoors: _Outdoors, asking: bool) -> str | None:
    least_g_m3 = air.drier_g_m3 * (_DRIER_HOLDS_TO if asking else 1.0)
    if water_g_m3 - outdoors.water_g_m3 >= least_g_m3:
        return None
    may = "carries" if outdoors.known else "may carry"
    return f"outdoors {may} {outdoors.water_g_m3:.1f} g/m³ of water, inside {water_g_m3:.1f}"


def _turn(air: AirPlan, memory: AiringMemory, now_s: float) -> str | None:
    """One bout has its end, and the next one waits."""
    if memory.since_s is None:
        return None
    lasted_s = now_s - memory.since_s
    if memory.asking:
        return f"aired for {lasted_s / 60.0:.0f} min" if lasted_s >= air.for_s else None
    left_s = air.rest_s - lasted_s
    return f"rests for another {left_s / 60.0:.0f} min" if left_s > 0.0 else None


def _wish(zone: str, air: AirPlan, view: ZoneView, on: bool, reason: str) -> Wish:
    urgency_k = 0.0 if on else _IDLE_K
    if view.coldest_c is None and not air.closes_blind:
        urgency_k = BLIND_K
    return Wish(zone, Mode.AIR, air.output, on, reason, urgency_k)


# --- what came of it --------------------------------------------------------------------------


def _turned(memory: AiringMemory, on: bool, damp: DampVerdict | None, now_s: float) -> AiringMemory:
    began_pct = damp.rh_pct if on and isinstance(damp, Damp) else None
    return memory._replace(asking=on, since_s=now_s, began_pct=began_pct, aired_s=0.0, bout_wh=0.0)


def _counted(
    air: AirPlan,
    view: ZoneView,
    outdoors: _Outdoors | None,
    memory: AiringMemory,
    moves: bool,
    now_s: float,
) -> AiringMemory:
    """The time since the last tick, if air went out for this zone's sake."""
    step_s = 0.0 if memory.seen_s is None else now_s - memory.seen_s
    step_s = min(max(0.0, step_s), _LONGEST_STEP_S)
    hour = int(now_s // _HOUR_S)
    hours = memory.hours
    if hours and hours[0][0] <= hour - _HOURS:
        hours = tuple(each for each in hours if each[0] > hour - _HOURS)
    aired_s = wh = 0.0
    if memory.asking and moves:
        aired_s = step_s
        if outdoors is not None and view.coldest_c is not None:
            wh = air.w_per_k * max(0.0, view.coldest_c - outdoors.temp_c) * step_s / 3600.0
        if hours and hours[-1][0] == hour:
            hours = (*hours[:-1], (hour, hours[-1][1] + wh))
        else:
            hours = (*hours, (hour, wh))
    return AiringMemory(
        memory.asking,
        memory.since_s,
        memory.reason,
        now_s,
        memory.began_pct,
        memory.aired_s + aired_s,
        memory.bout_wh + wh,
        hours,
    )


def _told(zone: str, damp: DampVerdict | None, memory: AiringMemory) -> list[Condition]:
    """For the record, at the end of a bout in which anything moved at all."""
    if memory.aired_s <= 0.0:
        return []
    course = ""
    if memory.began_pct is not None and isinstance(damp, Damp):
        course = f", from {shown_pct(memory.began_pct)} to {shown_pct(damp.rh_pct)}"
    text = (
        f"for {memory.aired_s / 60.0:.0f} min{course}; about {memory.bout_wh:.0f} Wh of heat "
        "went out with it (an estimate)"
    )
    return [Condition(CODE, zone, text)]
