"""Latches: trips that outlive their cause until a person, usually, lets them go.

Lives here: raising a latch, keeping it, clearing it, and what any latch means for the
heaters. Does not live here: what trips one and what must be true before it may go; the
owner of its code says both (ceiling.py, watch.py), as Conditions and as a Release.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from greenkeeper.model import Condition, Latch, Now, Request


class Release(NamedTuple):
    """How one latch stands to being cleared."""

    by_itself: bool  # goes without anybody's word once nothing refuses
    refusal: str | None  # why it cannot go now


UNTIL_ASKED = Release(by_itself=False, refusal=None)


def advance(
    latches: Mapping[str, Latch],
    trips: Sequence[Condition],
    requests: Sequence[Request],
    release: Callable[[Latch], Release],
    now: Now,
) -> tuple[Mapping[str, Latch], list[Condition]]:
    """The latches as they now stand, and what there is to note about a person's requests.

    trips: what trips a latch in this tick; one that stands already keeps its first words.
    release: asked of every latch, those that trip in this very tick among them.
    """
    if not latches and not trips and not requests:
        return latches, []
    asked = {request.clear for request in requests if request.clear}
    notes = [
        Condition("latch-kept", name, "there is no such latch")
        for name in sorted(asked)
        if name not in latches
    ]
    after = dict(latches)
    for trip in trips:
        latch = Latch(trip.code, trip.subject, trip.text, now.utc_s)
        after.setdefault(latch.name, latch)
    for name, latch in tuple(after.items()):
        way_out = release(latch)
        if not way_out.by_itself and name not in asked:
            continue
        if way_out.refusal is None:
            del after[name]
            notes.append(Condition("latch-cleared", name, latch.text))
        elif name in asked:
            notes.append(Condition("latch-kept", name, way_out.refusal))
    return after, notes


def heater_locked(latches: Mapping[str, Latch]) -> str | None:
    """Why no heater may run, or None. Every latch locks every heater, whatever it is about."""
    for latch in latches.values():
        return f"locked out: {latch.text}"
    return None
