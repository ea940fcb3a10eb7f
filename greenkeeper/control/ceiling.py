"""The ceiling: too hot anywhere, and every heater in the house is locked out.

Lives here: when a ceiling latch trips, and when it may go: once the warmest trusted
probe is RELEASE_K below the ceiling, and, unless the owner chose otherwise, a person has
asked for it since. Does not live here: keeping latches (latches.py), switching (guard).

One reading over the ceiling holds the heat off while it lasts, which costs nothing. A
latch waits for a person, and all plants with it: it takes two readings in a row of the
same probe.
"""

from collections.abc import Mapping
from typing import NamedTuple

from greenkeeper.control.latches import UNTIL_ASKED, Release
from greenkeeper.control.plan import Plan, ZonePlan
from greenkeeper.control.zones import Believed, trusted
from greenkeeper.model import Condition, Good, HotReadings, Latch, ProbeMemory, Verdict
from greenkeeper.settings.derived import CEILING_RELEASE_K as RELEASE_K
from greenkeeper.units import shown_c

CODE = "over-ceiling"


class Heat(NamedTuple):
    """What the ceilings say in this tick."""

    trips: tuple[Condition, ...]  # zones over their ceiling, borne out
    hold: str | None  # why no heater may run just now, latch or not
    hot: HotReadings  # to remember


NOT_HOT = Heat((), None, {})


def watch(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    probes: Mapping[str, ProbeMemory],
    hot: HotReadings,
) -> Heat:
    """probes: what judge remembers after this tick. hot: what the last tick remembered."""
    over = [
        (zone, name, verdict.temp_c)
        for zone in plan.zones
        for name in zone.ceiling_probes
        if isinstance(verdict := verdicts[name], Good) and verdict.temp_c > zone.ceiling_c
    ]
    if not over:
        return NOT_HOT
    trips: list[Condition] = []
    after: dict[tuple[str, str], float] = {}
    for zone, name, temp_c in over:
        key = zone.name, name
        measured_s = probes[name].good_s or 0.0
        after[key] = hot.get(key, measured_s)
        if measured_s > after[key]:
            text = f"{name} {shown_c(temp_c)} went over {shown_c(zone.ceiling_c)}"
            trips.append(Condition(CODE, zone.name, text))
    zone, name, temp_c = over[0]
    hold = f"held off: {name} {shown_c(temp_c)} is over {shown_c(zone.ceiling_c)}"
    return Heat(tuple(trips), hold, after)


def release(latch: Latch, plan: Plan, verdicts: Mapping[str, Verdict]) -> Release:
    """Whether this ceiling latch may go."""
    for zone in plan.zones:
        if zone.name == latch.subject:
            refusal = _refusal(zone, _warmest(zone, verdicts))
            return Release(by_itself=not zone.ceiling_needs_hand, refusal=refusal)
    # The zone it was about is gone from the settings: nothing can measure it any more.
    return UNTIL_ASKED


def _warmest(zone: ZonePlan, verdicts: Mapping[str, Verdict]) -> Believed | None:
    good = trusted(zone.ceiling_probes, verdicts)
    return good[-1] if good else None


def _refusal(zone: ZonePlan, warmest: Believed | None) -> str | None:
    release_c = zone.ceiling_c - RELEASE_K
    if warmest is None:
        return f"no trusted probe in {zone.name} shows that it has cooled"
    if warmest.temp_c > release_c:
        return (
            f"{warmest.probe} is at {shown_c(warmest.temp_c)}; "
            f"it can be cleared at or below {shown_c(release_c)}"
        )
    return None
