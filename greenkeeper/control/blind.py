"""Heat without a probe: the one guess the owner may choose, and its bounds.

Lives here: when a zone that cannot see is heated in pulses all the same, and for how
long. Off unless the owner declared an independent limit thermostat and chose a
blind_duty; that thermostat, not this room, keeps people safe meanwhile. Does not live
here: permission (guard.py holds minimum times, lock-outs and all the rest).

Three bounds, which a property test repeats:
  - it begins once the zone has been blind for WAIT_S, and goes on only in frost: the outdoor
    probe says FROST_C or less, or, without a trusted one, the zone's last trend leads to
    where heat would be wanted;
  - in any stretch of time no more than duty of it and one pulse;
  - no more than longest_s (and the tick in which it runs out) until the zone has been seen
    for SEEN_S: a probe that flickers does not begin the count anew.
"""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.gear import Guess
from greenkeeper.control.plan import Plan, ZonePlan
from greenkeeper.model import (
    BlindMemory,
    Condition,
    Good,
    Memory,
    Mode,
    Now,
    Sample,
    Verdict,
    Wish,
    ZoneView,
)
from greenkeeper.units import shown_c

CODE = "heating-blind"

# A jump of all probes is confirmed or gone within half a minute; a bus that was plugged in
# again is back within a few. Only then is it worth guessing.
WAIT_S = 300.0
SEEN_S = 600.0

# Frost at leaf height comes with 2 °C at a shielded probe: leaves radiate to a clear sky
# (common practice, no source). A kelvin more ends it, so that it does not flutter.
FROST_C = 2.0
THAW_C = 3.0

# The trend is the slope over the last 15 to 30 minutes before the zone went blind.
_NEWEST_S = 60.0
_SPACING_S = 900.0

# A guess is less urgent than any zone that sees.
_LEAST_K = -1e6

_NOTHING = BlindMemory()


class Guessed(NamedTuple):
    views: tuple[ZoneView, ...]
    memory: Mapping[str, BlindMemory]
    conditions: Sequence[Condition]


NONE = Guessed((), MappingProxyType({}), ())


def guess(
    plan: Plan,
    views: tuple[ZoneView, ...],
    verdicts: Mapping[str, Verdict],
    memory: Memory,
    now: Now,
) -> Guessed:
    """The views, with a wish for heat where a blind zone may be guessed at."""
    conditions: list[Condition] = []
    after: dict[str, BlindMemory] = {}
    seen = list(views)
    for i, (zone, view) in enumerate(zip(plan.zones, views, strict=True)):
        if zone.guess is None:
            continue
        before = _counted(memory.blind.get(zone.name, _NOTHING), zone.guess, memory, now)
        if view.coldest_c is not None:
            after[zone.name] = _sighted(before, view.coldest_c, now)
            continue
        known = before
        if before.blind_since_s is None:
            known = before._replace(blind_since_s=now.mono_s, sighted_since_s=None)
        frost = _frost(plan, zone, view, verdicts, known, now)
        after[zone.name] = known._replace(frost=frost is not None)
        seen[i] = _guessed(view, zone.guess, known, frost, conditions, now)
    return Guessed(tuple(seen), after, conditions)


def _counted(known: BlindMemory, guess: Guess, memory: Memory, now: Now) -> BlindMemory:
    """What the heater gave since the last tick, if nobody saw the zone then.

    An ON gave until its permission ran out, if it did.
    """
    if known.blind_since_s is None or memory.last is None:
        return known
    names = (guess.output,) if guess.second is None else (guess.output, guess.second)
    ends_s = [memory.outputs[name].until_s for name in names]
    until_s = max((each for each in ends_s if each is not None), default=None)
    if until_s is None:
        return known
    ran_s = min(now.mono_s, until_s) - memory.last.mono_s
    return known._replace(used_s=known.used_s + ran_s)


def _sighted(before: BlindMemory, temp_c: float, now: Now) -> BlindMemory:
    """The trend goes on; a spell that ended long enough ago is forgotten."""
    if before.blind_since_s is not None:
        before = before._replace(blind_since_s=None, sighted_since_s=now.mono_s)
    elif before.sighted_since_s is not None and now.mono_s - before.sighted_since_s >= SEEN_S:
        before = before._replace(sighted_since_s=None, used_s=0.0)
    samples = before.samples
    if samples and now.mono_s - samples[-1].mono_s < _NEWEST_S:
        return before
    return before._replace(samples=_with(samples, Sample(temp_c, now.mono_s)), frost=False)


def _with(samples: tuple[Sample, ...], newest: Sample) -> tuple[Sample, ...]:
    """At most three: two that are _SPACING_S apart or more, and the newest."""
    anchors = samples[:-1] or samples
    if not anchors or newest.mono_s - anchors[-1].mono_s >= _SPACING_S:
        anchors = (*anchors[-1:], newest)
    return (*anchors, newest)


def _frost(
    plan: Plan,
    zone: ZonePlan,
    view: ZoneView,
    verdicts: Mapping[str, Verdict],
    known: BlindMemory,
    now: Now,
) -> str | None:
    """What says that there is frost; None: nothing does."""
    outdoors = None if plan.outdoor is None else verdicts.get(plan.outdoor)
    if isinstance(outdoors, Good):
        limit_c = THAW_C if known.frost else FROST_C
        says_so = outdoors.temp_c <= limit_c
        return f"{plan.outdoor} {shown_c(outdoors.temp_c)}" if says_so else None
    if zone.heat is None or view.heat_setpoint_c is None or not known.samples:
        return None
    by_now_c = _led_to_c(known.samples, now)
    # Up to where heat goes off: a zone that heat was just keeping falls no further by itself.
    if by_now_c > view.heat_setpoint_c + zone.heat.hysteresis_k:
        return None
    return f"its last trend led to {shown_c(by_now_c)} by now"


def _led_to_c(samples: tuple[Sample, ...], now: Now) -> float:
    """Where the last trend leads. A rise is not relied on: heat or sun may have made it."""
    oldest, newest = samples[0], samples[-1]
    apart_s = newest.mono_s - oldest.mono_s
    slope = min(0.0, (newest.temp_c - oldest.temp_c) / apart_s) if apart_s >= _SPACING_S else 0.0
    return newest.temp_c + slope * (now.mono_s - newest.mono_s)


def _guessed(
    view: ZoneView,
    guess: Guess,
    known: BlindMemory,
    frost: str | None,
    conditions: list[Condition],
    now: Now,
) -> ZoneView:
    blind_s = now.mono_s - (now.mono_s if known.blind_since_s is None else known.blind_since_s)
    if blind_s < WAIT_S:
        return view
    if frost is None:
        return _with_heat(view, lambda wish: _off(wish, "nothing says frost"))
    if known.used_s >= guess.longest_s:
        return _with_heat(view, lambda wish: _off(wish, f"{_h(guess.longest_s)} of heat are used"))
    share = f"heat for {guess.duty * 100.0:.0f} % of the time"
    text = f"{frost}: {share}, {_h(known.used_s)} of {_h(guess.longest_s)} used"
    conditions.append(Condition(CODE, view.name, text))
    on = (blind_s - WAIT_S) % guess.period_s < guess.pulse_s
    pause = "" if on else "; between two pulses"
    reason = f"no trusted probe in {view.name}, {text}{pause}"
    return _with_heat(view, lambda wish: wish._replace(on=on, reason=reason, urgency_k=_LEAST_K))


def _off(wish: Wish, why: str) -> Wish:
    """It stays blind and off, and says why it does not guess either."""
    return wish._replace(reason=f"{wish.reason}, and {why}")


def _with_heat(view: ZoneView, changed: Callable[[Wish], Wish]) -> ZoneView:
    wishes = (changed(wish) if wish.mode is Mode.HEAT else wish for wish in view.wishes)
    return view._replace(wishes=tuple(wishes))


def _h(seconds: float) -> str:
    return f"{seconds / 3600.0:.1f} h"
