"""Proportion: heat in the shortest pulses that pay, each at the last moment.

Lives here: when the heater of a zone with `strategy: proportion` pulses and rests, and what
it learns meanwhile. Does not live here: the air behind the probe (observer.py), permission
(guard.py, whose minimum times bound every pulse), how many closings a pulse may cost
(purse.py), how hysteresis decides (thermostat.py).

A pulse begins when waiting one tick longer would let the air fall below the floor before
its heat arrives; it ends when a rest as long as a pulse is worth making would not. So the
dips between pulses touch the floor and nothing is held warmer than it must be; the share of
time on follows by itself, with no period and no rounding. The floor is the setpoint and a
margin: what gusts like the last hour's may bring unforeseen, a part of the dip, and what
the air fell below the setpoint of late.

Bounds that hold whatever the observer believes, each with a property test:
  - heat is wanted whenever the coldest trusted probe is at or below the setpoint, and never
    wanted from ABOVE_K above it on;
  - what is wanted stays for the output's minimum times;
  - the share of the time that is worked out lies from 0 to 1, the margin up to MOST_MARGIN_K.

Until the observer has found its feet (a start, a zone that was blind, ticks that failed to
come) the zone's hysteresis decides and says so; each hands over to the other where it stands.
A zone whose hysteresis looks ahead (anticipation.py) is followed and learned from here too.
"""

from collections.abc import Mapping
from math import exp, pi, sin, sqrt
from typing import NamedTuple

from greenkeeper.control import anticipation, observer, purse, stages
from greenkeeper.control.plan import Plan, PulsePlan, ZonePlan
from greenkeeper.model import Behind, Mode, Now, OutputMemory, Pulsing, Staging, Wish, ZoneView
from greenkeeper.settings.derived import ABOVE_K
from greenkeeper.units import shown_c

MOST_MARGIN_K = 1.0
# What the floor is above the setpoint at least in a house that nobody knows, and at most before
# anything fell below it in one that is known.
UNSURE_MARGIN_K = 0.25
_WANDER_SEEN_S = 3600.0
# A fall below the setpoint raises the margin by its depth in so many seconds, and while
# heat is in use the margin fades in so many: a windy night has its own, a calm one none.
_RAISED_IN_S = 300.0
_FADES_IN_S = 6.0 * 3600.0

# How far the air dips between pulses is known no better than the element's lag: the floor is
# raised by this share of the dip.
_DIP_UNSURE = 0.2

# So many readings over so long make the observer's word better than the thermostat's.
_FEET_LOOKS = 10
_FEET_S = 300.0
_NO_FEET = "not enough seen yet to look ahead"
_MOST_TICKS_MISSED = 3.0

_NOTHING = Pulsing()


class Proportioned(NamedTuple):
    views: tuple[ZoneView, ...]
    memory: Mapping[str, Pulsing]


def follow(
    plan: Plan,
    views: tuple[ZoneView, ...],
    before: Mapping[str, Pulsing],
    outputs: Mapping[str, OutputMemory],
    staging: Mapping[str, Staging],
    now: Now,
) -> Proportioned:
    """The views, with what proportion wishes in place of what hysteresis would."""
    seen = list(views)
    after: dict[str, Pulsing] = {}
    for at, (zone, view) in enumerate(zip(plan.zones, views, strict=True)):
        pulses = zone.pulses
        if pulses is None:
            continue
        names = {pulses.output} if zone.stages is None else {*zone.stages.outputs}
        operations = sum(outputs[name].operations for name in names)
        kept = purse.counted(before.get(zone.name, _NOTHING), pulses, operations, plan.poll_s)
        pulses = stages.acting(pulses, zone.stages, staging.get(zone.name))
        state = outputs[pulses.output]
        if view.coldest_c is None or view.heat_setpoint_c is None:
            after[zone.name] = kept._replace(behind=None, held=False, rest_mean_c=None)
            continue
        behind = _looked(kept.behind, view.coldest_c, pulses, state.on, plan.poll_s, now)
        kept = kept._replace(behind=behind)
        heat = next(each for each in view.wishes if each.mode is Mode.HEAT)
        if behind.looks < max(_FEET_LOOKS, _FEET_S / plan.poll_s):
            wish = heat._replace(reason=f"{heat.reason}; {_NO_FEET}")
        else:
            kept = _wandered(kept, behind.rest_c, plan.poll_s)
            kept = _learned(kept, behind, view, pulses, state, plan.poll_s, now)
            if pulses.band_k is None:
                wish = _wished(zone, view, pulses, kept, behind, state, plan.poll_s, now)
            else:
                margin_k = _margin_k(kept, pulses)
                wish = anticipation.wished(heat, view, pulses, behind, margin_k, plan.poll_s)
        others = (each for each in view.wishes if each.mode is not Mode.HEAT)
        seen[at] = view._replace(wishes=(wish, *others))
        after[zone.name] = kept
    return Proportioned(tuple(seen), after)


def duty(rest_c: float, floor_c: float, gain_k: float) -> float:
    """The share of the time the heater has to be on to hold the floor: 0 to 1."""
    return min(1.0, max(0.0, (floor_c - rest_c) / gain_k))


# --- what is known of the air ------------------------------------------------------------


def _looked(
    behind: Behind | None, reading_c: float, pulses: PulsePlan, on: bool, poll_s: float, now: Now
) -> Behind:
    """After this reading. After a gap in the ticks it is begun anew, but for where it rests."""
    if behind is None:
        return observer.begun(reading_c, None, now.mono_s)
    passed_s = now.mono_s - behind.mono_s
    if passed_s == 0.0:
        return behind
    if not 0.0 < passed_s <= _MOST_TICKS_MISSED * poll_s:
        return observer.begun(reading_c, behind.rest_c, now.mono_s)
    ahead = observer.moved(pulses.figures, behind, on, passed_s)
    return observer.corrected(ahead, reading_c, pulses.gains)


def _learned(
    kept: Pulsing,
    behind: Behind,
    view: ZoneView,
    pulses: PulsePlan,
    state: OutputMemory,
    poll_s: float,
    now: Now,
) -> Pulsing:
    """The margin, raised by what the air fell below the setpoint, or faded a little.

    Only what pulses could have held teaches anything: not a night beyond the heater's power,
    nor one in which it was locked out, nor the way up after either or from a cold start.
    """
    assert view.coldest_c is not None  # noqa: S101 - the only caller asked
    assert view.heat_setpoint_c is not None  # noqa: S101 - the same
    setpoint_c, margin_k = view.heat_setpoint_c, kept.margin_k or 0.0
    share, stood_s = duty(behind.rest_c, setpoint_c, pulses.figures.gain_k), _stood_s(state, now)
    fallen_k = setpoint_c - min(behind.air_c, view.coldest_c)
    denied = not state.on and stood_s > pulses.least_off_s + 3.0 * poll_s
    beyond = state.on and stood_s > max(purse.LONGEST_PULSE_S, pulses.least_on_s)
    lost = denied or beyond or fallen_k > MOST_MARGIN_K
    held = fallen_k <= 0.0 or (kept.held and not lost)
    if fallen_k > 0.0 and held and share < 1.0:
        margin_k = _margin_k(kept, pulses) + fallen_k * poll_s / _RAISED_IN_S
    if share > 0.0:
        margin_k *= exp(-poll_s / _FADES_IN_S)
    return kept._replace(margin_k=min(MOST_MARGIN_K, margin_k), held=held)


def _stood_s(state: OutputMemory, now: Now) -> float:
    return now.mono_s - state.since_s


def _margin_k(kept: Pulsing, pulses: PulsePlan) -> float:
    return max(_least_margin_k(kept, pulses), kept.margin_k or 0.0)


def _least_margin_k(kept: Pulsing, pulses: PulsePlan) -> float:
    """One standard deviation of where the air may be when heat begun now arrives, on a night that
    is as gusty as the last hour was."""
    if not pulses.known:
        return UNSURE_MARGIN_K
    gusty = 1.0 if kept.wander_k is None else kept.wander_k / observer.WANDER_K
    return min(UNSURE_MARGIN_K, gusty * pulses.astray_k)


def _wandered(kept: Pulsing, rest_c: float, poll_s: float) -> Pulsing:
    """How far what the air is drawn to strays from its own mean: gusts, clouds, and whatever
    the figures do not explain."""
    if kept.rest_mean_c is None:
        return kept._replace(rest_mean_c=rest_c)
    off_k = rest_c - kept.rest_mean_c
    mean_c = rest_c - off_k * exp(-poll_s / observer.WANDER_OVER_S)
    known_k = observer.WANDER_K if kept.wander_k is None else kept.wander_k
    old = exp(-poll_s / _WANDER_SEEN_S)
    wander_k = sqrt(old * known_k * known_k + (1.0 - old) * off_k * off_k)
    return kept._replace(rest_mean_c=mean_c, wander_k=wander_k)


# --- what is wished ----------------------------------------------------------------------


def _wished(
    zone: ZonePlan,
    view: ZoneView,
    pulses: PulsePlan,
    kept: Pulsing,
    behind: Behind,
    state: OutputMemory,
    poll_s: float,
    now: Now,
) -> Wish:
    assert view.coldest_c is not None  # noqa: S101 - the only caller asked
    assert view.heat_setpoint_c is not None  # noqa: S101 - the same
    setpoint_c = view.heat_setpoint_c
    floor_c = setpoint_c + _margin_k(kept, pulses)
    share = duty(behind.rest_c, floor_c, pulses.figures.gain_k)
    on_s, off_s = purse.pulse_s(pulses, kept.purse, share)
    floor_c += _DIP_UNSURE * _dip_k(pulses, share, on_s, off_s)
    stood_s = _stood_s(state, now)
    words = f"{view.coldest_probe} {shown_c(view.coldest_c)}"
    if view.coldest_c <= setpoint_c:
        on, words = True, f"{words} is at or below {shown_c(setpoint_c)}"
    elif view.coldest_c >= setpoint_c + ABOVE_K:
        on, words = False, f"{words} is warm enough, above {shown_c(setpoint_c)}"
    elif state.on and stood_s < on_s:
        on, words = True, _pulse_words(setpoint_c, share)
    else:
        off_s = max(pulses.least_off_s, min(on_s, off_s)) if state.on else poll_s
        on = _too_late(pulses, behind, off_s, floor_c)
        words = _pulse_words(setpoint_c, share) if on else _rest_words(setpoint_c, share)
    return Wish(zone.name, Mode.HEAT, pulses.output, on, words, floor_c - behind.air_c)


def _dip_k(pulses: PulsePlan, share: float, on_s: float, off_s: float) -> float:
    """How far the air falls below its mean in such pulses: their first harmonic, as air and
    element let it pass."""
    f = pulses.figures
    period_s = max(on_s / max(share, 0.01), off_s / max(1.0 - share, 0.01))
    turn = 2.0 * pi / period_s
    passed = 1.0 / sqrt((1.0 + (turn * f.element_s) ** 2) * (1.0 + (turn * f.fast_s) ** 2))
    return f.gain_k * 2.0 / pi * sin(pi * share) * passed


def _too_late(pulses: PulsePlan, behind: Behind, off_s: float, floor_c: float) -> bool:
    """Whether the air would fall below the floor if heat were off for so long, and then on."""
    f = pulses.figures
    # By then even a slow element has turned it. Above the floor without any heat: no need
    # to look more closely, which spares most ticks of the year.
    far_s = off_s + 4.0 * f.element_s
    without_c = behind.rest_c + (behind.air_c - behind.rest_c) * exp(-far_s / f.fast_s)
    if min(without_c, behind.air_c) >= floor_c:
        return False
    return observer.lowest_c(f, behind, off_s, floor_c) < floor_c


def _pulse_words(setpoint_c: float, share: float) -> str:
    return f"a pulse to stay above {shown_c(setpoint_c)}, {_about(share)}"


def _rest_words(setpoint_c: float, share: float) -> str:
    if share <= 0.0:
        return f"stays above {shown_c(setpoint_c)} without heat"
    return f"rests between pulses, {_about(share)}"


def _about(share: float) -> str:
    """In tenths: a reason that changed with every tick would be told with every tick."""
    tenths = max(1, round(share * 10.0))
    return "needs all it has" if tenths >= 10 else f"on for about {tenths} tenths of the time"
