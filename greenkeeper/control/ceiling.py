"""The ceiling: too hot anywhere, and every heater in the house is locked out.

Lives here: when a ceiling latch trips, and when it may go: once the warmest trusted
probe is RELEASE_K below the ceiling, and, unless the owner chose otherwise, a person has
asked for it since. Does not live here: keeping latches (latches.py), switching (guard).
"""

from collections.abc import Mapping

from greenkeeper.control.latches import UNTIL_ASKED, Release
from greenkeeper.control.plan import Plan, ZonePlan
from greenkeeper.control.zones import Believed, trusted
from greenkeeper.model import Condition, Latch, Verdict
from greenkeeper.units import shown_c

CODE = "over-ceiling"
RELEASE_K = 5.0


def trips(plan: Plan, verdicts: Mapping[str, Verdict]) -> list[Condition]:
    """The zones that are over their ceiling now."""
    found = []
    for zone in plan.zones:
        warmest = _warmest(zone, verdicts)
        if warmest is not None and warmest.temp_c > zone.ceiling_c:
            text = f"{warmest.probe} {shown_c(warmest.temp_c)} went over {shown_c(zone.ceiling_c)}"
            found.append(Condition(CODE, zone.name, text))
    return found


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
