"""This strategy beside plain hysteresis and beside the ideal heater, on equal terms.

Lives here: what is compared, and trimming each to the same achieved minimum. Does not
live here: a single rehearsal (run.py), and words.

The terms. The ideal heater is modulated without steps, has no lag, knows the air's true
temperature, and holds exactly the target: no heater of this power that keeps the plants
can use less. Every strategy's setpoints are then moved, all by the same amount, until the
lowest air temperature it achieves at the plants is that target; hours in which even the
ideal heater's full power was not enough, and the two that follow, do not count for that
lowest. Their energy does: a bill has all hours, and what a strategy stores before a hard
hour spares some in it. Probes tell sixteenths of a degree, so no strategy lands on the
target exactly: the energy is the straight line between the two rehearsals that come
nearest on either side.
"""

from collections.abc import Callable, Collection, Mapping
from functools import partial
from typing import NamedTuple

from greenkeeper import control
from greenkeeper.control.plan import ZonePlan
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.parallel import Task, all_of
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import AS_SET, Span, Stage, Way, target_c
from greenkeeper.settings import derived
from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Settings

PLAIN_K = (0.5, derived.PLAIN_K, 2.0)
PLAIN_SWITCH = f"hysteresis {derived.PLAIN_K:g} K"  # what savings are told against
AHEAD_K = 1.0
AHEAD = f"{AHEAD_K:g} K, anticipating"
PROPORTION = "proportion"
HEATED_AHEAD, NOT_AHEAD = "heated ahead", "not heated ahead"
_DAWN = "the dawn the other way"
_ROUNDS = 4
_CLOSE_K = 0.02
STEP_K = 1.0 / 16.0  # of a probe
_ENCLOSED_K = 0.2  # over which the energy is a straight line


class Contender(NamedTuple):
    name: str
    kwh: float  # trimmed: at the target exactly
    cost: float | None  # likewise; None: no tariff
    over_ideal: float  # kwh over the ideal's, less one
    shift_k: float  # by which its setpoints had to move
    low_c: float  # achieved in the rehearsal nearest to the target
    switched_on: int  # in that rehearsal; of two heaters the one that was switched more


class Dawn(NamedTuple):
    """The settings' own way with a clear dawn left to the sun or not, its setpoint where it is."""

    kwh: float
    cost: float | None
    low_c: float


class Comparison(NamedTuple):
    target_c: float
    ideal: Result
    contenders: tuple[Contender, ...]
    dawns: tuple[Dawn, Dawn] | None = None  # left to the sun, and not. None: it cannot be

    @property
    def hard_hours(self) -> int:
        """In which not even the ideal heater's full power was always enough."""
        return len(self.ideal.hard_hours)

    @property
    def left_out_hours(self) -> int:
        """They and those after, that do not count for a lowest but in the kWh."""
        return len(self.ideal.beyond_hours)


def saved(found: Comparison) -> tuple[Contender, Contender] | None:
    """The plain switch, and the thriftiest way beside it; None: nothing is thriftier."""
    plain = next(each for each in found.contenders if each.name == PLAIN_SWITCH)
    best = min(found.contenders, key=lambda each: each.kwh)
    return (plain, best) if best.kwh < plain.kwh else None


def ahead_and_not(found: Comparison) -> tuple[Contender, Contender] | None:
    """The settings' own way, heated ahead in cheap hours and not; None: the tariff knows none."""
    by_name = {each.name: each for each in found.contenders}
    if HEATED_AHEAD in by_name:
        return by_name[HEATED_AHEAD], by_name["as set"]
    return (by_name["as set"], by_name[NOT_AHEAD]) if NOT_AHEAD in by_name else None


class _Try(NamedTuple):
    shift_k: float
    low_c: float
    kwh: float
    cost: float | None
    switched_on: int


def compare(
    settings: Settings,
    stage: Stage,
    span: Span,
    progress: Callable[[float], None],
    *,
    workers: int | None = None,
) -> Comparison:
    """Raises RehearsalError where nothing is heated, or hardly ever."""
    plan = control.make_plan(settings)
    heated = next((zone for zone in plan.zones if zone.heat is not None), None)
    if heated is None or heated.heat is None:
        raise RehearsalError("no zone is heated: there is nothing to compare")
    rounds = _ROUNDS + 1
    (ideal,) = all_of(
        [Task(settings, stage, span, Way(ideal=True))], partial(_told_on, progress, 0, rounds),
        workers=workers,
    )  # fmt: skip
    if ideal.kwh <= 0.0:
        raise RehearsalError(
            "in this span the ideal heater never runs: there is nothing to compare"
        )
    left_out = ideal.beyond_hours
    ways = {"as set": AS_SET} | {f"hysteresis {k:g} K": Way(hysteresis_k=k) for k in PLAIN_K}
    ways[AHEAD] = Way(ahead_k=AHEAD_K)
    if heated.pulses is None or heated.pulses.band_k is not None:
        ways[PROPORTION] = Way(proportion=True)
    prices = prices_of(settings)
    if prices is not None and prices.flat is None:
        name = NOT_AHEAD if plan.stores else HEATED_AHEAD
        ways[name] = Way(stores=not plan.stores)
    may_leave_dawn = _may_leave_dawn(settings, heated)
    if may_leave_dawn:
        ways[_DAWN] = Way(leaves_dawn=not heated.leaves_dawn)
    goal_c, zone = target_c(plan), plan.zones.index(heated)
    heaters = (heated.heat.output,) if heated.stages is None else heated.stages.outputs
    tries: dict[str, list[_Try]] = {name: [] for name in ways}
    for done_rounds in range(1, rounds):
        wanted = {
            name: shift_k
            for name, known in tries.items()
            if not (known and name == _DAWN)
            and (shift_k := _next_shift_k(known, goal_c)) is not None
        }
        if not wanted:
            break
        results = all_of(
            [
                Task(settings, stage, span, ways[name]._replace(shift_k=shift_k), left_out)
                for name, shift_k in wanted.items()
            ],
            partial(_told_on, progress, done_rounds, rounds),
            workers=workers,
        )
        for (name, shift_k), result in zip(wanted.items(), results, strict=True):
            tries[name].append(_tried(result, zone, shift_k, heaters))
    return Comparison(
        goal_c,
        ideal,
        tuple(
            _contender(name, known, goal_c, ideal.kwh)
            for name, known in tries.items()
            if name != _DAWN
        ),
        _dawns(tries, left=heated.leaves_dawn) if may_leave_dawn else None,
    )


def _may_leave_dawn(settings: Settings, heated: ZonePlan) -> bool:
    """Only in pulses, above the plants' minimum, and where the sunrise is known."""
    in_pulses = heated.pulses is not None and heated.pulses.band_k is None
    site = settings.site
    return (
        in_pulses and heated.minimum_c is not None and None not in (site.latitude, site.longitude)
    )


def _dawns(tries: Mapping[str, list[_Try]], *, left: bool) -> tuple[Dawn, Dawn]:
    """At the same lowest hardly anything is left of it, so nothing is trimmed here."""
    as_set, other = (Dawn(t.kwh, t.cost, t.low_c) for t in (tries["as set"][0], tries[_DAWN][0]))
    return (as_set, other) if left else (other, as_set)


def _told_on(progress: Callable[[float], None], before: int, rounds: int, done: float) -> None:
    progress((before + done) / rounds)


def _tried(result: Result, zone: int, shift_k: float, heaters: Collection[str]) -> _Try:
    low_c = result.zones[zone].held_low_c
    if low_c is None:
        raise RehearsalError(
            "the heater is at its limit all the time: no strategy can hold the target"
        )
    switched_on = max(each.switched_on for each in result.outputs if each.name in heaters)
    return _Try(shift_k, low_c, result.kwh, result.cost, switched_on)


def _next_shift_k(known: list[_Try], goal_c: float) -> float | None:
    """Where to look next; None: near enough, or closely enclosed."""
    if not known:
        return 0.0
    nearest = min(known, key=lambda each: abs(each.low_c - goal_c))
    if abs(nearest.low_c - goal_c) <= _CLOSE_K:
        return None
    below = max((t for t in known if t.low_c < goal_c), key=lambda t: t.low_c, default=None)
    above = min((t for t in known if t.low_c >= goal_c), key=lambda t: t.low_c, default=None)
    if below is not None and above is not None and above.low_c - below.low_c <= _ENCLOSED_K:
        return None
    # The lowest moves with the setpoint, in a probe's steps: one further lies beyond the goal.
    beyond_k = STEP_K if nearest.low_c < goal_c else -STEP_K
    return nearest.shift_k + goal_c - nearest.low_c + beyond_k


def _contender(name: str, known: list[_Try], goal_c: float, ideal_kwh: float) -> Contender:
    ordered = sorted(known, key=lambda each: abs(each.low_c - goal_c))
    nearest = ordered[0]
    kwh, cost, shift_k = nearest.kwh, nearest.cost, nearest.shift_k
    other = next(
        (t for t in ordered[1:] if (t.low_c - goal_c) * (nearest.low_c - goal_c) < 0), None
    )
    if other is not None:
        share = (goal_c - nearest.low_c) / (other.low_c - nearest.low_c)
        kwh += share * (other.kwh - nearest.kwh)
        if cost is not None and other.cost is not None:
            cost += share * (other.cost - cost)
        shift_k += share * (other.shift_k - nearest.shift_k)
    over = kwh / ideal_kwh - 1.0
    return Contender(name, kwh, cost, over, shift_k, nearest.low_c, nearest.switched_on)
