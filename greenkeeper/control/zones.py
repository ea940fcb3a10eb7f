"""One zone in one tick: which probes it believes, and what it would like.

Heat believes the coldest trusted probe, cooling and every upper limit the warmest.
A zone with no trusted probe is blind: it wishes for nothing, and its thermostats
forget what they were doing.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from greenkeeper.control import schedule, thermostat
from greenkeeper.control.plan import Points, ZonePlan
from greenkeeper.model import BLIND_K, Good, Mode, Now, Verdict, Wish, ZoneView


class Believed(NamedTuple):
    probe: str
    temp_c: float


def trusted(probes: Iterable[str], verdicts: Mapping[str, Verdict]) -> list[Believed]:
    """The good ones among these probes, coldest first."""
    good = [
        Believed(name, verdict.temp_c)
        for name in probes
        if isinstance(verdict := verdicts[name], Good)
    ]
    good.sort(key=lambda each: each.temp_c)
    return good


def view(
    plan: ZonePlan,
    verdicts: Mapping[str, Verdict],
    was_on: Mapping[tuple[str, Mode], bool],
    night: bool,
    now: Now,
) -> ZoneView:
    """How the zone stands, and its wishes."""
    good = trusted(plan.probes, verdicts)
    coldest, warmest = (good[0], good[-1]) if good else (None, None)
    heat_c = _setpoint(plan.heat, night, now)
    cool_c = _setpoint(plan.cool, night, now)
    wishes = []
    if plan.heat is not None and heat_c is not None:
        wishes.append(_wish(plan, Mode.HEAT, plan.heat, heat_c, coldest, was_on))
    if plan.cool is not None and cool_c is not None:
        wishes.append(_wish(plan, Mode.COOL, plan.cool, cool_c, warmest, was_on))
    return ZoneView(
        name=plan.name,
        coldest_c=coldest and coldest.temp_c,
        coldest_probe=coldest and coldest.probe,
        warmest_c=warmest and warmest.temp_c,
        warmest_probe=warmest and warmest.probe,
        period=schedule.NIGHT if night else schedule.DAY,
        heat_setpoint_c=heat_c,
        cool_setpoint_c=cool_c,
        wishes=tuple(wishes),
    )


def _setpoint(points: Points | None, night: bool, now: Now) -> float | None:
    return None if points is None else schedule.setpoint_c(points, night, now.clock_trusted)


def _wish(
    zone: ZonePlan,
    mode: Mode,
    points: Points,
    setpoint_c: float,
    believed: Believed | None,
    was_on: Mapping[tuple[str, Mode], bool],
) -> Wish:
    if believed is None:
        reason = f"no trusted probe in {zone.name}"
        return Wish(zone.name, mode, points.output, False, reason, BLIND_K)
    decide = thermostat.call_for_heat if mode is Mode.HEAT else thermostat.call_for_cooling
    call = decide(
        believed.temp_c,
        believed.probe,
        setpoint_c,
        points.hysteresis_k,
        was_on.get((zone.name, mode), False),
    )
    return Wish(zone.name, mode, points.output, call.on, call.reason, call.urgency_k)
