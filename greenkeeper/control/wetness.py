"""Wet leaves: does the air condense on them, and for how long have they been wet?

Lives here: the two warnings about damp, with their hysteresis. Does not live here: how
damp the air is (hygrometers.py), and drying it (airing.py).

Glass streams on most winter nights and that is no fault: only leaves are meant here. Under
a clear sky or cold glass a leaf may be a kelvin or two colder than the air (common
practice, no source). Grey mould wants six wet hours within a day: "no surface wet for six
or more hours in 24", from Michigan State University Extension's advice on botrytis in
greenhouses; and above 90 % leaves hardly dry (University of Kentucky). In the cold it is slow: on
geranium flowers none spored at 5 or 10 °C even after 24 wet hours (Sirjusingh and Sutton,
1996), which is why mould_from_c exists.
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.control.plan import Plan, WetnessPlan
from greenkeeper.model import Condition, Damp, DampVerdict, Now, WetnessMemory, ZoneView
from greenkeeper.units import shown_c, shown_pct

CONDENSATION, MOULD = "condensation", "grey-mould"

_DRIES_K = 1.0  # the dew point so far below the leaf, and it no longer condenses
_DRIES_PCT = 3.0
_MOULD_HOLDS_TO = 2.0 / 3.0  # of the hours that raised it
_HOUR_S, _HOURS = 3600.0, 24
_LONGEST_STEP_S = 300.0  # what lies between two ticks further apart is not known


class Wet(NamedTuple):
    conditions: tuple[Condition, ...]
    memory: Mapping[str, WetnessMemory]  # by zone


NOTHING = Wet((), {})


def follow(
    plan: Plan,
    humidity: Mapping[str, DampVerdict],
    views: tuple[ZoneView, ...],
    memory: Mapping[str, WetnessMemory],
    now: Now,
) -> Wet:
    """What there is to say about each zone that has a hygrometer."""
    conditions: list[Condition] = []
    after: dict[str, WetnessMemory] = {}
    for zone, view in zip(plan.zones, views, strict=True):
        if zone.wetness is None:
            continue
        damp = humidity.get(zone.wetness.hygrometer)
        known = memory.get(zone.name, WetnessMemory())
        if isinstance(damp, Damp) and view.coldest_c is not None:
            known = _looked(zone.wetness, damp, view, known, now.mono_s)
            conditions += _told(zone.wetness, zone.name, damp, view, known)
        else:
            # Nobody knows: nothing is counted, and what was told of now ends.
            known = known._replace(seen_s=None, condensing=False)
        after[zone.name] = known
    return Wet(tuple(conditions), after)


def wet_s(memory: WetnessMemory) -> float:
    """How long leaves were wet within the last day."""
    return sum(seconds for _, seconds in memory.hours)


def _looked(
    plan: WetnessPlan, damp: Damp, view: ZoneView, memory: WetnessMemory, now_s: float
) -> WetnessMemory:
    wet_from_pct = plan.wet_pct - (_DRIES_PCT if memory.wet else 0.0)
    condensing = _condenses(plan, damp, view, memory.condensing)
    wet = condensing or damp.rh_pct >= wet_from_pct
    step_s = 0.0 if memory.seen_s is None else now_s - memory.seen_s
    warm = view.warmest_c is not None and view.warmest_c >= plan.mould_from_c
    hours = _counted(memory, step_s if memory.wet and warm else 0.0, now_s)
    total_s = sum(seconds for _, seconds in hours)
    limit_s = plan.mould_after_s * (_MOULD_HOLDS_TO if memory.mouldy else 1.0)
    return WetnessMemory(now_s, wet, condensing, total_s >= limit_s, hours)


def _condenses(plan: WetnessPlan, damp: Damp, view: ZoneView, did: bool) -> bool:
    if damp.dew_point_c is None or view.coldest_c is None:
        return False
    leaf_c = view.coldest_c - plan.leaf_below_k
    return damp.dew_point_c >= leaf_c - (_DRIES_K if did else 0.0)


def _counted(memory: WetnessMemory, wet_s: float, now_s: float) -> tuple[tuple[int, float], ...]:
    """Wet seconds by the hour, those of the last day alone: 24 numbers, however long it runs."""
    hour = int(now_s // _HOUR_S)
    kept = memory.hours
    if kept and kept[0][0] <= hour - _HOURS:
        kept = tuple(each for each in kept if each[0] > hour - _HOURS)
    added_s = min(max(0.0, wet_s), _LONGEST_STEP_S)
    if added_s == 0.0:
        return kept
    if kept and kept[-1][0] == hour:
        return (*kept[:-1], (hour, kept[-1][1] + added_s))
    return (*kept, (hour, added_s))


def _told(
    plan: WetnessPlan, zone: str, damp: Damp, view: ZoneView, memory: WetnessMemory
) -> list[Condition]:
    found = []
    if memory.condensing and damp.dew_point_c is not None and view.coldest_c is not None:
        text = (
            f"dew point {shown_c(damp.dew_point_c)} at {plan.hygrometer}, and leaves beside "
            f"{view.coldest_probe} ({shown_c(view.coldest_c)}) may be that cold"
        )
        found.append(Condition(CONDENSATION, zone, text))
    if memory.mouldy:
        text = f"wet for {wet_s(memory) / _HOUR_S:.0f} of the last 24 hours"
        found.append(Condition(MOULD, zone, f"{text}, now {shown_pct(damp.rh_pct)}"))
    return found
