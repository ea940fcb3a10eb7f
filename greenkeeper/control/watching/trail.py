"""What the house did in the last hours, a minute at a time, and how to ask it.

Lives here: keeping the minutes, and the questions every part of watch puts to them. Does
not live here: any verdict. A probe that could not be trusted at either end of a stretch
says nothing about it: a rise is never made up from two different probes.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping
from operator import attrgetter
from typing import NamedTuple

from greenkeeper.control.watching.parts import HeaterPart, WatchPlan
from greenkeeper.model import Minute, OutputMemory, ZoneView

LOOK_S = 60.0

# After a pause longer than this (the machine slept) the trail begins anew.
GAP_S = 300.0

# Extremes of hours are sought in steps of this many minutes: nothing that matters to
# them is quicker.
_STRIDE = 5

_moment = attrgetter("mono_s")


class Look(NamedTuple):
    """Everything one look of watch can see."""

    plan: WatchPlan
    minutes: tuple[Minute, ...]  # oldest first; the last one is now
    outputs: Mapping[str, OutputMemory]
    views: tuple[ZoneView, ...]
    dark_since_s: float | None
    darkness_known: bool
    aired_s: float | None

    @property
    def now(self) -> Minute:
        return self.minutes[-1]

    @property
    def now_s(self) -> float:
        return self.minutes[-1].mono_s

    def at(self, mono_s: float) -> Minute:
        """The first minute at or after this moment; the oldest, if it is older than all."""
        return self.minutes[self._index(mono_s)]

    def since(self, mono_s: float) -> tuple[Minute, ...]:
        """The minutes from this moment on, one in five: for extremes over hours."""
        return self.minutes[self._index(mono_s) :: _STRIDE]

    def reaches_back(self, seconds: float) -> bool:
        """Whether the trail is this long. One look more or less does not matter."""
        return self.now_s - self.minutes[0].mono_s >= seconds - 1.5 * LOOK_S

    def off_s(self, heater: HeaterPart) -> float:
        """How long it has been off; 0 while it is on."""
        state = self.outputs[heater.name]
        return 0.0 if state.on else self.now_s - state.since_s

    def outdoor_c(self, minute: Minute) -> float | None:
        return None if self.plan.outdoor is None else minute.temps_c[self.plan.outdoor]

    def outdoor_change_k(self, then: Minute) -> float:
        """How much warmer it is outdoors than it was then; 0 where nobody knows."""
        before_c, now_c = self.outdoor_c(then), self.outdoor_c(self.now)
        return 0.0 if before_c is None or now_c is None else now_c - before_c

    def lift_k(self, probes: Iterable[int], minute: Minute) -> float | None:
        """How far the warmest of these probes stood above outdoors; None: nobody knows."""
        outdoor_c = self.outdoor_c(minute)
        inside = list(temps(probes, minute))
        return None if outdoor_c is None or not inside else max(inside) - outdoor_c

    def _index(self, mono_s: float) -> int:
        return min(bisect_left(self.minutes, mono_s, key=_moment), len(self.minutes) - 1)


def temps(probes: Iterable[int], minute: Minute) -> Iterator[float]:
    """What the trusted ones among these probes said then."""
    for probe in probes:
        temp_c = minute.temps_c[probe]
        if temp_c is not None:
            yield temp_c


def changes_k(probes: Iterable[int], then: Minute, now: Minute) -> list[float]:
    """How much warmer each probe got, of those trusted at both ends."""
    found = []
    for probe in probes:
        before_c, after_c = then.temps_c[probe], now.temps_c[probe]
        if before_c is not None and after_c is not None:
            found.append(after_c - before_c)
    return found


def shown_time(seconds: float) -> str:
    """As minutes while they are few, as hours when not."""
    minutes = seconds / 60.0
    return f"{minutes:.0f} min" if minutes < 120.0 else f"{minutes / 60.0:.0f} h"


def extremes_c(probe: int, minutes: Iterable[Minute]) -> tuple[float, float] | None:
    """The coldest and the warmest it said; None unless it was trusted throughout.

    For asking one probe first: what no part of its course allows, all probes together
    cannot have done, and most minutes of most nights end here.
    """
    course = [minute.temps_c[probe] for minute in minutes]
    known = [temp_c for temp_c in course if temp_c is not None]
    return (min(known), max(known)) if known and len(known) == len(course) else None


def extended(
    minutes: tuple[Minute, ...],
    plan: WatchPlan,
    temps_c: tuple[float | None, ...],
    outputs: Mapping[str, OutputMemory],
    now_s: float,
    *,
    aired: bool,
) -> tuple[Minute, ...]:
    """The trail with this look added and what is too old left out. aired: it is just now."""
    if not minutes or now_s - minutes[-1].mono_s > GAP_S:
        return (Minute(now_s, temps_c, (0.0,) * len(plan.heaters), 0.0),)
    last = minutes[-1]
    on_s = tuple(
        total_s + _on_since_s(outputs[heater.name], last.mono_s, now_s)
        for heater, total_s in zip(plan.heaters, last.on_s, strict=True)
    )
    first = 1 if now_s - minutes[0].mono_s > plan.kept_s else 0
    aired_s = last.aired_s + (now_s - last.mono_s if aired else 0.0)
    return minutes[first:] + (Minute(now_s, temps_c, on_s, aired_s),)  # noqa: RUF005 - half the time


def _on_since_s(state: OutputMemory, last_s: float, now_s: float) -> float:
    """How long it was on since the last look, if it changed once at most."""
    changed_s = max(state.since_s, last_s)
    return now_s - changed_s if state.on else changed_s - last_s
