"""One zone in one tick: which probes it believes, and what it would like.

Heat believes the coldest trusted probe, cooling and every upper limit the warmest. One
that stands alone (neighbours.py) counts as no further than alone_k from all the others, so
that a wrong one cannot cook the house, or freeze it; the ceiling takes it at its word.
A zone with no trusted probe is blind: it wishes for nothing, and its thermostats
forget what they were doing.
"""

from collections.abc import Iterable, Mapping
from operator import attrgetter
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control import schedule, thermostat
from greenkeeper.control.plan import Points, ZonePlan
from greenkeeper.model import BLIND_K, Good, Mode, Now, Verdict, Wish, ZoneView


class Believed(NamedTuple):
    probe: str
    temp_c: float
    alone: bool = False

    @property
    def label(self) -> str:
        return f"{self.probe} (alone)" if self.alone else self.probe


_temp_c = attrgetter("temp_c")


def trusted(probes: Iterable[str], verdicts: Mapping[str, Verdict]) -> list[Believed]:
    """The good ones among these probes, coldest first."""
    good = [
        Believed(name, verdict.temp_c)
        for name in probes
        if isinstance(verdict := verdicts[name], Good)
    ]
    if len(good) > 1:
        good.sort(key=_temp_c)
    return good


def view(
    plan: ZonePlan,
    verdicts: Mapping[str, Verdict],
    was_on: Mapping[tuple[str, Mode], bool],
    night: bool,
    now: Now,
    alone: Mapping[str, str] = MappingProxyType({}),
    before: ZoneView | None = None,
    ordered_c: float | None = None,
    shifted_k: float = 0.0,
) -> ZoneView:
    """How the zone stands, and its wishes. alone: zone -> its probe that stands alone.

    before: its view in the last tick, if that came of the same plan and nothing stood
    alone. While all is as it was then, it is the answer again, because a thermostat that
    is asked twice says the same twice. ordered_c: the heating setpoint that somebody
    ordered for a while. shifted_k: how far it is moved for a while (shifts.py).
    """
    good = trusted(plan.probes, verdicts)
    if plan.name in alone:
        good = _bounded(good, alone[plan.name], plan.alone_k)
        before = None
    coldest, warmest = (good[0], good[-1]) if good else (None, None)
    heat_c = _setpoint(plan.heat, night, now, ordered_c, shifted_k)
    cool_c = _setpoint(plan.cool, night, now)
    facts = (
        plan.name,
        coldest and coldest.temp_c,
        coldest and coldest.probe,
        warmest and warmest.temp_c,
        warmest and warmest.probe,
        schedule.NIGHT if night else schedule.DAY,
        heat_c,
        cool_c,
    )
    if before is not None and good and before[:-1] == facts:
        return before
    wishes = []
    if plan.heat is not None and heat_c is not None:
        wishes.append(_wish(plan, Mode.HEAT, plan.heat, heat_c, coldest, was_on))
    if plan.cool is not None and cool_c is not None:
        wishes.append(_wish(plan, Mode.COOL, plan.cool, cool_c, warmest, was_on))
    return ZoneView(*facts, tuple(wishes))


def _bounded(good: list[Believed], lone: str, alone_k: float) -> list[Believed]:
    """The same, with the lone one no further than alone_k below or above all others."""
    others = [each for each in good if each.probe != lone]
    low_c, high_c = others[0].temp_c - alone_k, others[-1].temp_c + alone_k
    counted = [
        Believed(lone, min(max(each.temp_c, low_c), high_c), alone=True)
        for each in good
        if each.probe == lone
    ]
    return sorted([*others, *counted], key=_temp_c)


def _setpoint(
    points: Points | None,
    night: bool,
    now: Now,
    ordered_c: float | None = None,
    shifted_k: float = 0.0,
) -> float | None:
    if points is None:
        return None
    return schedule.setpoint_c(points, night, now.clock_trusted, ordered_c, shifted_k)


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
        believed.label,
        setpoint_c,
        points.hysteresis_k,
        was_on.get((zone.name, mode), False),
    )
    return Wish(zone.name, mode, points.output, call.on, call.reason, call.urgency_k)
