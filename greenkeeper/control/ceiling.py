"""The ceiling: too hot anywhere, and every heater in the house is locked out.

Lives here: when a ceiling latch trips, and when it may go. A latch goes only once the
warmest trusted probe is RELEASE_K below the ceiling, and, unless the owner chose
otherwise, a person has asked for it since. Does not live here: switching (guard).
"""

from collections.abc import Mapping, Sequence

from greenkeeper.control.plan import Plan, ZonePlan
from greenkeeper.control.zones import Believed, trusted
from greenkeeper.model import Condition, Latch, Now, Request, Verdict
from greenkeeper.units import shown_c

CODE = "over-ceiling"
RELEASE_K = 5.0


def watch(
    plan: Plan,
    verdicts: Mapping[str, Verdict],
    latches: Mapping[str, Latch],
    requests: Sequence[Request],
    now: Now,
) -> tuple[Mapping[str, Latch], list[Condition]]:
    """The latches as they now stand, and what there is to note about a person's requests."""
    asked = {request.clear for request in requests}
    notes = [
        Condition("latch-kept", name, "there is no such latch")
        for name in sorted(asked)
        if name not in latches
    ]
    after = dict(latches)
    for zone in plan.zones:
        _watch_zone(zone, trusted(zone.ceiling_probes, verdicts), after, asked, notes, now)
    for name in sorted(asked & after.keys() - _names(plan)):
        # The zone it was about is gone from the settings: nothing can measure it any more.
        notes.append(Condition("latch-cleared", name, after.pop(name).text))
    return after, notes


def reason(latches: Mapping[str, Latch]) -> str | None:
    """Why no heater may run, or None."""
    for latch in latches.values():
        return f"locked out: {latch.text}"
    return None


def _names(plan: Plan) -> set[str]:
    return {f"{CODE}-{zone.name}" for zone in plan.zones}


def _watch_zone(
    zone: ZonePlan,
    good: Sequence[Believed],
    latches: dict[str, Latch],
    asked: set[str],
    notes: list[Condition],
    now: Now,
) -> None:
    warmest = good[-1] if good else None
    name = f"{CODE}-{zone.name}"
    if warmest is not None and warmest.temp_c > zone.ceiling_c:
        text = f"{warmest.probe} {shown_c(warmest.temp_c)} went over {shown_c(zone.ceiling_c)}"
        latches.setdefault(name, Latch(CODE, zone.name, text, now.utc_s))
    if name not in latches or (zone.ceiling_needs_hand and name not in asked):
        return
    refusal = _refusal(zone, warmest)
    if refusal is None:
        notes.append(Condition("latch-cleared", name, latches.pop(name).text))
    elif name in asked:
        notes.append(Condition("latch-kept", name, refusal))


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
