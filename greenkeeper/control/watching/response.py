"""Heat that was switched on: does it arrive?

Lives here: the runs of every heater, and the verdict that one has no effect. Does not
live here: contacts that know for certain (contacts.py), and a heater that works and is
too small (limit.py).

What would the house have done without this heat? Nobody knows, so two things are asked
that no guess at it can mend:
  1. A heater that was on for half the time at most until now has strength to spare. On
     without a pause for response_within_s, it has made the house warmer, or is just doing
     so, or it gives no heat: unless its zone is far above outdoors and above the setpoint,
     or as far above outdoors as it was. After a sunny day the spare was the sun's, and a
     heater that is just strong enough holds the evening and no more. Behind a front it is
     enough that it ended the house's fall.
  2. A heater that was already hard at work may meet a gale. Wind takes up to a quarter of
     what the house holds above outdoors within the hour; the loss of all heat takes more
     than a third, in houses whose mass is coupled three times as strongly as they leak.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from greenkeeper.control.watching.parts import HeaterPart
from greenkeeper.control.watching.trail import Look, changes_k, extremes_c, shown_time, temps
from greenkeeper.model import Condition, Minute, Silence, Spell
from greenkeeper.units import shown_c

CODE = "no-response"

_PAUSE_S = 180.0  # a heater off for less is in the same run
_PULSE_APART_S = 90.0  # a run was last seen before it began at most a look earlier
_BEFORE_S = 7200.0  # how far back its duty before a run is asked
_LEAST_BEFORE_S = 3000.0
_SPARE_DUTY = 0.5

_STILL_S = 600.0
_STILL_K = 0.07  # one step of the usual probe is no rise

# Of a fall outdoors so much reaches a closed house in half an hour, in the leakiest of ours,
# and all of it in hours: one at its heater's limit is then as much above outdoors as before.
_OUTDOOR_SHARE = 0.7
_HALF_HOUR_S = 1800.0
_REACHED_S = 7200.0
# At its limit no heater worth the name holds less.
_HIGH_K = 10.0
# No small house cools by two thirds in longer than this: of 400 drawn ones the slowest takes 32 h
# (tests/support/drawn_houses.py).
_SLOWEST_S = 40.0 * 3600.0

# Where it got colder outdoors by more than this from an hour before the heat came on to half an
# hour after it, a front went through: even a clear evening takes longer. Own judgement.
_FRONT_S = 3600.0
_FRONT_K = 4.0
_FRONT_RISE_K = 0.5  # above its coldest: eight steps of the usual probe

_DROP_SHARE = 1.0 / 3.0
_LEAST_DROP_K = 1.5
_BLIND_DROP_K = 4.0  # without an outdoor probe
_DROP_AFTER_S = 600.0
_DROP_WITHIN_S = 3.0 * 3600.0
_DROP_DUTY = 0.9

# A heater that was not needed for so long is no longer held to be silent.
_FORGOTTEN_S = 86_400.0

_NOTHING: Mapping[str, Spell] = MappingProxyType({})
_NOBODY: Mapping[str, Silence] = MappingProxyType({})


class Responses(NamedTuple):
    spells: Mapping[str, Spell]
    silent: Mapping[str, Silence]
    conditions: tuple[Condition, ...]


_QUIET = Responses(_NOTHING, _NOBODY, ())


def follow(
    look: Look,
    spells: Mapping[str, Spell],
    silent: Mapping[str, Silence],
    excused: frozenset[str],
) -> Responses:
    """excused: heaters whose silence a contact explains already."""
    if not (spells or silent or any([each.on for each in look.outputs.values()])):
        return _QUIET  # as in most looks of a year
    runs = {
        heater.name: run
        for heater in look.plan.heaters
        if (run := _run(heater, look, spells.get(heater.name))) is not None
    }
    quiet = {
        heater.name: silence
        for heater in look.plan.heaters
        if heater.name not in excused
        and (silence := _silence(heater, look, runs.get(heater.name), silent.get(heater.name)))
    }
    return Responses(
        runs or _NOTHING,
        quiet or _NOBODY,
        tuple(Condition(CODE, name, each.text) for name, each in quiet.items()),
    )


def _run(heater: HeaterPart, look: Look, run: Spell | None) -> Spell | None:
    state = look.outputs[heater.name]
    if not state.on:
        return run if look.now_s - state.since_s < _PAUSE_S and not heater.pulsed else None
    if run is not None and not (heater.pulsed and _another(run, state.since_s)):
        return run
    began = _last_before(look, state.since_s)
    before = look.at(began.mono_s - _BEFORE_S)
    passed_s = began.mono_s - before.mono_s
    if passed_s < _LEAST_BEFORE_S:
        return Spell(began, None)
    on_s = began.on_s[heater.place] - before.on_s[heater.place]
    if heater.partner is not None:  # what that one gave it would have had to give as well
        on_s += heater.partner_power * (began.on_s[heater.partner] - before.on_s[heater.partner])
    return Spell(began, on_s / passed_s)


def _another(run: Spell, since_s: float) -> bool:
    """Of a heater that works in pulses, each is a run: it may go on so for hours at the same
    temperature, and gets no pause any more once its heat does not arrive."""
    return since_s - run.began.mono_s > _PULSE_APART_S


def _last_before(look: Look, mono_s: float) -> Minute:
    """The house as it was last seen before this moment."""
    return next((each for each in reversed(look.minutes) if each.mono_s <= mono_s), look.minutes[0])


def _silence(
    heater: HeaterPart, look: Look, run: Spell | None, before: Silence | None
) -> Silence | None:
    if before is not None:
        return None if _over(heater, look, run, before) else before
    if run is None or not look.outputs[heater.name].on:
        return None
    on_s = look.now.on_s[heater.place] - run.began.on_s[heater.place]
    changes = changes_k(heater.probes, run.began, look.now)
    if not changes:
        return None
    rise_k = max(changes)
    if not (_no_effect(heater, look, run, on_s, rise_k) or _dropped(heater, look, run, on_s)):
        return None
    return Silence(_text(heater, look, run, on_s), look.now_s)


def _no_effect(heater: HeaterPart, look: Look, run: Spell, on_s: float, rise_k: float) -> bool:
    if on_s < heater.limits.response_within_s:
        return False
    # Just started: whether it has strength to spare is not known.
    if run.duty_before is None or run.duty_before > _SPARE_DUTY:
        return False
    wanted_k = heater.limits.response_rise_k
    if _stands_high(heater, look):
        if _is_held(heater, look):
            return False
        wanted_k *= _unproven(on_s - heater.limits.response_within_s)
    explained_k = max(
        _outdoor_share(look.now_s - run.began.mono_s) * max(0.0, -look.outdoor_change_k(run.began)),
        _fall_of_house_k(heater, look, run.began),
    ) + _least_loss_k(heater, look, run.began)
    return (
        rise_k + explained_k < wanted_k
        and _still(heater, look)
        and not _ended_the_fall_of_a_front(heater, look, run)
    )


def _stands_high(heater: HeaterPart, look: Look) -> bool:
    """Whether its zone is so far above outdoors that, without heat, it would be falling fast.
    Under a tent nobody knows."""
    lift_k = look.lift_k(heater.probes, look.now)
    return lift_k is not None and lift_k >= _HIGH_K and not heater.around


def _unproven(more_s: float) -> float:
    """Of the rise that is wanted: after hours in which its zone stayed above the setpoint, to have
    held it is enough. A dead heater's falls below at once, and is told then."""
    return min(1.0, max(0.0, 1.0 - more_s / _REACHED_S))


def _is_held(heater: HeaterPart, look: Look) -> bool:
    """Whether every zone it warms is above its setpoint: none falls short of anything then. A
    heater that looks ahead is on before its zone is down there, and holds it."""
    views = [look.views[index] for index in heater.zones]
    return all(
        view.coldest_c is not None
        and view.heat_setpoint_c is not None
        and view.coldest_c > view.heat_setpoint_c
        for view in views
    )


def _least_loss_k(heater: HeaterPart, look: Look, then: Minute) -> float:
    """What even the slowest house would have lost without heat since. After a day that the sun
    warmed, a sound heater that is just strong enough is on for hours while its zone stays where
    it is. 0 without an outdoor probe, and under a tent: that loses to the house about it."""
    lift_k = look.lift_k(heater.probes, then)
    if lift_k is None or heater.around:
        return 0.0
    return max(0.0, lift_k) * (look.now_s - then.mono_s) / _SLOWEST_S


def _outdoor_share(passed_s: float) -> float:
    """Of a fall outdoors, what has reached a closed house after so long."""
    late = min(1.0, max(0.0, (passed_s - _HALF_HOUR_S) / (_REACHED_S - _HALF_HOUR_S)))
    return _OUTDOOR_SHARE + (1.0 - _OUTDOOR_SHARE) * late


def _ended_the_fall_of_a_front(heater: HeaterPart, look: Look, run: Spell) -> bool:
    """It came on in a house that still followed a front, how far nobody can reckon. To be warmer
    now than at its coldest since is an effect: without heat it would have fallen on."""
    before_c = look.outdoor_c(look.at(run.began.mono_s - _FRONT_S))
    after_c = look.outdoor_c(look.at(run.began.mono_s + _FRONT_S / 2.0))
    if before_c is None or after_c is None or before_c - after_c < _FRONT_K:
        return False
    return any(
        max(changes_k(heater.probes, then, look.now), default=0.0) >= _FRONT_RISE_K
        for then in look.since(run.began.mono_s)
    )


def _fall_of_house_k(heater: HeaterPart, look: Look, then: Minute) -> float:
    """How much colder the house about a tent got, which on a clear evening falls far quicker
    than the outdoor air: in the hours a mat is waited for, all of it reaches the tent. 0 for
    a heater of no tent."""
    return max(0.0, -min(changes_k(heater.around, then, look.now), default=0.0))


def _still(heater: HeaterPart, look: Look) -> bool:
    """It is not getting warmer just now."""
    changes = changes_k(heater.probes, look.at(look.now_s - _STILL_S), look.now)
    return bool(changes) and max(changes) <= _STILL_K


def _dropped(heater: HeaterPart, look: Look, run: Spell, on_s: float) -> bool:
    if on_s < _DROP_AFTER_S:
        return False
    now = look.now
    stretch = look.since(max(run.began.mono_s, look.now_s - _DROP_WITHIN_S))
    now_c = now.temps_c[heater.probes[0]]
    course = extremes_c(heater.probes[0], stretch)
    if now_c is not None and course and course[1] - now_c < _LEAST_DROP_K:
        return False
    for then in stretch:
        on_share_s = now.on_s[heater.place] - then.on_s[heater.place]
        if on_share_s < _DROP_DUTY * (now.mono_s - then.mono_s):
            continue
        changes = changes_k(heater.probes, then, now)
        if not changes:
            continue
        around_k = max(-look.outdoor_change_k(then), _fall_of_house_k(heater, look, then))
        drop_k = -max(changes) - around_k
        if drop_k < _LEAST_DROP_K:
            continue
        lift_k = look.lift_k(heater.probes, then)
        if drop_k >= (_BLIND_DROP_K if lift_k is None else _DROP_SHARE * lift_k):
            return True
    return False


def _over(heater: HeaterPart, look: Look, run: Spell | None, silence: Silence) -> bool:
    """Heat was seen to arrive since, or has not been wanted for a day."""
    state = look.outputs[heater.name]
    if not state.on:
        return look.now_s - max(state.since_s, silence.since_s) >= _FORGOTTEN_S
    if run is None or (look.darkness_known and look.dark_since_s is None):
        return False  # by day the sun may warm it
    began_s = max(run.began.mono_s, silence.since_s)
    if heater.partner is not None and (
        look.now.on_s[heater.partner] > look.at(began_s).on_s[heater.partner]
    ):
        return False  # and here the other heater
    return any(
        min(changes) - max(0.0, look.outdoor_change_k(then)) >= heater.limits.response_rise_k
        for then in look.since(began_s)
        if (changes := changes_k(heater.probes, then, look.now))
    )


def _text(heater: HeaterPart, look: Look, run: Spell, on_s: float) -> str:
    coldest = min(heater.probes, key=lambda probe: _or_warm(look.now.temps_c[probe]))
    now_c = look.now.temps_c[coldest]
    then_c = run.began.temps_c[coldest]
    name = look.plan.probes[coldest]
    course = f"is at {shown_c(now_c)}" if now_c is not None else "is not trusted"
    if now_c is not None and then_c is not None:
        course = f"went from {shown_c(then_c)} to {shown_c(now_c)}"
    outdoors = "".join(
        f", outdoors {shown_c(each)}"
        for each in temps(() if look.plan.outdoor is None else (look.plan.outdoor,), look.now)
    )
    return f"{heater.name} on for {shown_time(on_s)}, and {name} {course}{outdoors}"


def _or_warm(temp_c: float | None) -> float:
    return float("inf") if temp_c is None else temp_c
