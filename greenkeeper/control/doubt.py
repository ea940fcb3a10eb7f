"""Of two heaters one was on in vain: is it dead, or was it the night?

Lives here: the doubt about a heater that was on while its zone got no warmer, and the proof.
Does not live here: who goes first for it, and who joins (stages.py); a heater that has no other
beside it (watching/response.py).

That a zone gets no warmer proves nothing: in deep frost a sound heater does no better. So a
doubt only says who goes first. It becomes an alarm where the other heater, alone, then
holds what the first could not with clearly less than the first's power. What a gust, a door or
the end of a cold spell can change about a house's need is less than that, within an hour and a
half in the dark; where it is light, somebody was at the door, or the vain run was a short one,
the first is tried once more, and it takes both twice.

Where the other took its place, more is seen, and sooner: whether the two, one after the other,
ended the zone's fall as one heater does, or the other began from the cold. Once, it is a warning;
twice, it is the proof as well.
"""

from greenkeeper.control.plan import StagePlan
from greenkeeper.model import Doubt, Now, Sample, Staging

# The other was enough at so much of the first's power. A sound first at its limit needed all of
# it, and wind takes a quarter at most (watching/response.py).
_CLEARLY_LESS = 0.6
_SAME_WEATHER_S = 5400.0
_TURNED_K = 0.125  # two steps of a probe above the lowest
# Two that work, one after the other, are one that goes on: together they need what one does
# to end the fall. After a dead one it is a start from the cold, and the zone falls on so far:
_COLD_K = 0.18  # three steps of a probe, where it is known how long one takes here
_COLD_UNKNOWN_K = 0.3  # where not; two that work fell a quarter of a kelvin further in a gale
_AS_ONE = 1.35  # of the time one takes: both work
_MORE_THAN_ONE = 1.65  # in a gale two that work took 1.6, a dead and a sound one 1.7
_OWN_LAGS = 0.1  # no other could have ended it so soon, so it was the first's own warmth
_WEATHER_LAGS = 1.5  # it took longer than a heater does: the wind ended it
_SAME_RUN_SHARE = 0.25  # of lag_s: what may pass until the other is on
_TWICE = 2
_TURNS = 3  # of which the longest counts: gusts come and go
_COLD_LAGS = 1.0  # both off for so many lag_s: little is left in their elements
_FAIR = 1.5  # of the time the other took: gusts make it half as long again
_AS_BEFORE = 0.5  # of the whole run's fall an hour: one that works slows it first
_MILD_S = 3600.0  # both off for so long: it is no night to be careful in
_FORGOTTEN_S = 20.0 * 3600.0  # then, once both rest, it may be first again and show what it can
SHUNNED_S = 86_400.0  # so long one that was found out goes behind


def of(kept: Staging, stages: StagePlan, seen: Sample, ran_s: float) -> Doubt | None:
    """The doubt about the first, which has been on for ran_s and is not enough. None: it has made
    the zone warmer, or the other is the one in doubt."""
    known = kept.doubt
    mine = known is not None and known.heater == kept.first
    if not mine and known is not None and not known.again and stages.together:
        return None  # nor was the other: it is the night that is too cold
    if seen.temp_c > kept.began_c:
        return None
    falls = falls_k_per_s(kept, seen)
    goes_on = falls * ran_s >= _AS_BEFORE * (kept.began_c - seen.temp_c)
    doubt = Doubt(
        kept.first,
        seen.mono_s,
        at_length=ran_s >= stages.wait_s,
        is_fair=False,
        falls_k_per_s=falls,
        ran_s=ran_s,
        at_c=seen.temp_c,
        low_c=seen.temp_c,
        low_s=seen.mono_s,
    )
    if not mine or known is None:
        return doubt
    had_long = known.turn_s is not None and ran_s >= _FAIR * _turn_s(known, stages)
    return doubt._replace(
        is_fair=had_long and goes_on, proven=known.proven, turn_s=known.turn_s, cold=known.cold
    )


def falls_k_per_s(kept: Staging, seen: Sample) -> float:
    """How fast the zone gets colder, of late."""
    earlier = seen if kept.course is None else kept.course[1]
    return max(0.0, (earlier.temp_c - seen.temp_c) / max(1.0, seen.mono_s - earlier.mono_s))


def is_about(kept: Staging, heater: str) -> bool:
    """Whether this one goes behind the other for it."""
    return kept.doubt is not None and kept.doubt.heater == heater and not kept.doubt.again


def forgotten(kept: Staging, now: Now) -> Staging:
    """Both rest: a doubt that came to nothing ends. So long a rest is a mild hour, in which the
    one in doubt is tried once more."""
    if kept.doubt is None:
        return kept
    if now.mono_s - kept.doubt.since_s >= _FORGOTTEN_S:
        return kept._replace(doubt=None)
    if kept.rest_s is None or now.mono_s - kept.rest_s < _MILD_S or kept.doubt.again:
        return kept
    return _tried_again(kept, kept.doubt)


def tested(
    kept: Staging,
    stages: StagePlan,
    *,
    holds: bool,
    room_k: float,
    is_on: bool,
    steady: bool,
    ahead: bool,
    now: Now,
) -> Staging:
    """One of the two works alone.

    holds: the zone is at its setpoint or above. room_k: from there to where plants suffer.
    is_on: it was, since the last tick. steady: it is dark, and nobody was at the door.
    ahead: heat begins before the setpoint is reached, and there is no start from the cold by
    which to tell a short run's worth.
    """
    doubt = kept.doubt
    if doubt is None or kept.at_s is None:
        return kept
    passed_s = max(0.0, now.mono_s - kept.at_s)
    on_s = doubt.on_s + (passed_s if is_on else 0.0)
    if kept.first == doubt.heater:
        sound = on_s >= stages.wait_s  # and nothing was in vain meanwhile
        return kept._replace(doubt=None if sound else doubt._replace(on_s=on_s))
    if doubt.again:  # not before the first has been tried once more
        return kept
    if doubt.trial_s is None:
        if not is_on:
            return kept
        return kept._replace(doubt=doubt._replace(trial_s=now.mono_s, on_s=0.0))
    doubt = doubt._replace(on_s=on_s)
    if holds and doubt.cold >= _TWICE:
        return _found_out(kept, doubt, now)
    if not (holds and _with_clearly_less(doubt, stages, now)):
        if holds and _costs_nothing(doubt, stages, room_k):
            return _tried_again(kept, doubt)
        return kept._replace(doubt=doubt)
    is_short = not (stages.together or ahead or doubt.at_length)
    if is_short and doubt.turn_s is None:
        return kept._replace(doubt=doubt)  # how long is a fair trial in this house?
    counts = doubt.is_fair or not (is_short and doubt.proven)  # a second short one, if fair
    proven = doubt.proven + (1 if counts else 0)
    if proven >= 2 or (doubt.at_length and steady):
        return _found_out(kept, doubt, now)
    return _tried_again(kept, doubt._replace(proven=proven))


def _found_out(kept: Staging, doubt: Doubt, now: Now) -> Staging:
    shunned = {**kept.shunned, doubt.heater: now.mono_s + SHUNNED_S}
    return kept._replace(doubt=None, shunned=shunned, silent=doubt.heater)


def _tried_again(kept: Staging, doubt: Doubt) -> Staging:
    return kept._replace(doubt=doubt._replace(again=True, trial_s=None, on_s=0.0))


def relayed(kept: Staging, stages: StagePlan, seen: Sample, *, ahead: bool) -> Staging:
    """The other took its place and is on: how far does the zone fall on? If both work, one heats on
    where the other left off. After a dead one it is a start from the cold."""
    doubt = kept.doubt
    if doubt is None or doubt.heater == kept.first or doubt.weighed or doubt.again:
        return kept
    if doubt.turned:
        return _weighed(kept, doubt, stages, ahead=ahead)
    if kept.run_s is None or kept.run_s - doubt.since_s > _SAME_RUN_SHARE * stages.lag_s:
        return kept  # it had to wait, or has rested since
    if seen.temp_c < doubt.low_c:
        return kept._replace(doubt=doubt._replace(low_c=seen.temp_c, low_s=seen.mono_s))
    if seen.temp_c < doubt.low_c + _TURNED_K:
        return kept
    doubt = doubt._replace(turned=True)
    if doubt.low_s - doubt.since_s < _OWN_LAGS * stages.lag_s:
        return kept._replace(doubt=None)
    return _weighed(kept, doubt, stages, ahead=ahead)


def _weighed(kept: Staging, doubt: Doubt, stages: StagePlan, *, ahead: bool) -> Staging:
    took_s, fell_k = doubt.low_s - doubt.since_s, doubt.at_c - doubt.low_c
    if kept.turns_s:
        as_one = (doubt.ran_s + took_s) / max(kept.turns_s)
        if as_one <= _AS_ONE:
            return kept._replace(doubt=None)
        is_cold = fell_k >= _COLD_K and as_one >= _MORE_THAN_ONE
    elif ahead:
        is_cold = fell_k >= _COLD_UNKNOWN_K and doubt.at_work
    else:
        return kept._replace(doubt=doubt)  # how long does one take in this house?
    is_cold = is_cold and took_s <= _WEATHER_LAGS * stages.lag_s
    return kept._replace(doubt=doubt._replace(weighed=True, cold=doubt.cold + is_cold))


def stands_in(kept: Staging) -> Doubt | None:
    """The doubt about a heater from which no warmth can have come, while the other has."""
    return kept.doubt if kept.doubt is not None and kept.doubt.cold else None


def turned(kept: Staging, stages: StagePlan, seen: Sample) -> Staging:
    """The first is on, and shows how long a heater takes here to end the zone's fall. Only from
    both cold: the other may have given warmth."""
    doubt, run_s, rest_s = kept.doubt, kept.run_s, kept.rest_s
    if run_s is None or rest_s is None or run_s - rest_s < _COLD_LAGS * stages.lag_s:
        return kept
    if seen.temp_c < kept.low_c + _TURNED_K:
        return kept
    turn_s = kept.low_s - run_s
    if kept.turned_s != run_s and turn_s >= _OWN_LAGS * stages.lag_s:  # else it did not fall
        kept = kept._replace(turns_s=(*kept.turns_s, turn_s)[-_TURNS:], turned_s=run_s)
    if doubt is None or doubt.heater == kept.first or doubt.turn_s is not None:
        return kept
    return kept._replace(doubt=doubt._replace(turn_s=turn_s))


def patience_s(kept: Staging, stages: StagePlan) -> float:
    """How long the first is on before a zone that still falls says anything of it. What is
    assumed of a house nobody described may be too quick: tried once more, it is given longer
    than the other took."""
    doubt = kept.doubt
    if doubt is None or doubt.heater != kept.first or doubt.turn_s is None:
        return stages.lag_s
    fair = 1.0 if doubt.cold else _FAIR  # what the zone does after the change says the rest
    return max(stages.lag_s, fair * _turn_s(doubt, stages))


def _turn_s(doubt: Doubt, stages: StagePlan) -> float:
    """In which the one in doubt would end the fall, if it works."""
    mine = stages.outputs.index(doubt.heater)
    weaker = max(1.0, stages.powers[1 - mine] / stages.powers[mine])
    return weaker * (doubt.low_s - doubt.since_s if doubt.turn_s is None else doubt.turn_s)


def _costs_nothing(doubt: Doubt, stages: StagePlan, room_k: float) -> bool:
    """Tried once more and in vain, it would leave the plants above their least all the same."""
    turn_s = _turn_s(doubt, stages)
    lost_s = max(stages.lag_s, turn_s) + turn_s
    return bool(doubt.cold) and doubt.falls_k_per_s * lost_s <= room_k


def no_trial(kept: Staging) -> Staging:
    """Nobody works alone just now, or nobody can see."""
    if kept.doubt is None or kept.doubt.trial_s is None:
        return kept
    return kept._replace(doubt=kept.doubt._replace(trial_s=None))


def _with_clearly_less(doubt: Doubt, stages: StagePlan, now: Now) -> bool:
    assert doubt.trial_s is not None  # noqa: S101 - the only caller asked
    took_s = now.mono_s - doubt.trial_s
    if took_s < stages.wait_s or now.mono_s - doubt.since_s > _SAME_WEATHER_S:
        return False
    mine = stages.outputs.index(doubt.heater)
    used, had = stages.powers[1 - mine] * doubt.on_s / took_s, stages.powers[mine]
    return used <= _CLEARLY_LESS * had
