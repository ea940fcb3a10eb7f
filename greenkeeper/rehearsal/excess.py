"""How much warmer than the minimum each way of switching has to hold the air, on average.

Lives here: finding that out in a few spells of weather, quickly. Does not live here: a whole
winter in each way (compare.py), and what the excess costs (reports/season.py).

A relay lets the air swing. Whoever wants its lowest to be the plants' minimum holds the mean
above that; the season's balance, whose heater is ideal, must hold the house that much warmer
to take as much. The excess of a way of switching is the level at which the ideal heater
would have used as much as it did, less the lowest air that it let come. Both move with its
setpoint alike, so nothing has to be trimmed.

A heater at its limit is on all the time, whoever meters it, and such hours tell of no way. So
each way is rehearsed with its setpoint at the minimum, where they are fewest; what it uses is
laid beside what the ideal heater of the same power uses, which is at its limit too; and a kelvin
is what it takes of a heater without a limit, as the season's balance has it. Hours beyond the
heater do not count for the lowest.

The spells are a day with the coldest hour, for
the lowest, and days that stand for halves of the winter's need, for the level. In
tests/rehearsal/test_excess.py it is laid beside whole winters.
"""

from collections.abc import Callable, Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper import control
from greenkeeper.house.weather import Weather
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.parallel import Task, all_of
from greenkeeper.rehearsal.rig import RehearsalError
from greenkeeper.rehearsal.run import AS_SET, Span, Stage, Way, target_c
from greenkeeper.settings import derived
from greenkeeper.settings.derived import Switching
from greenkeeper.settings.schema import Settings

_HOUR_S, _DAY_H = 3600.0, 24
_LEAD_S = 6 * _HOUR_S  # lived through before a usual day: what swings has found its swing
_HALVES = (0.25, 0.75)  # in the middle of each half of the need, from mild to cold
_APART_K = 2.0  # between the ideal heater's two levels
_LEAST_H = 6  # a day that asks for less heat tells of no swing
_BEFORE_H, _AFTER_H = 8, 4  # about the coldest hour


class Excess(NamedTuple):
    way: Switching
    over_k: float  # the mean above the lowest


class Spells(NamedTuple):
    """Pieces of a winter that stand for all of it."""

    coldest: Span  # about its coldest hour
    usual: tuple[Span, ...]  # a day for each half of what heat is wanted for


def excesses(
    settings: Settings,
    stage: Stage,
    spells: Spells,
    zone: str,
    progress: Callable[[float], None],
    *,
    workers: int | None = None,
) -> list[Excess]:
    """Of the plain switch, of the settings if they say something else, of heat in proportion.

    zone: the one that is held. Raises RehearsalError where it cannot be told: a heater
    without power, or one at its limit most of the time, a lock-out.
    """
    first = _at_its_minimum(settings, zone)
    ways = _ways(settings, zone)
    real = (Way(ideal=True), *ways.values())
    every = (*real, *(Way(ideal=True, boundless=True, shift_k=k) for k in (0.0, _APART_K)))
    tasks = [
        Task(first, stage._replace(earliest_utc_s=day.from_utc_s - _LEAD_S), day, way)
        for day in spells.usual
        for way in every
    ]
    # Its lowest must not be that of a house which has not warmed up yet: a whole day's lead.
    tasks += [Task(first, stage, spells.coldest, way) for way in real]
    results = all_of(tasks, progress, workers=workers)
    if any(hour.locked for result in results for hour in result.zones[0].hours):
        raise RehearsalError("all heat was locked out meanwhile")
    rows = [results[at : at + len(every)] for at in range(0, len(results), len(every))]
    _refuse_at_its_limit([row[0] for row in rows])
    goal_c = target_c(control.make_plan(first))
    return [
        Excess(name, _level_c(rows[:-1], at, goal_c) - _lowest_c(rows, at))
        for at, name in enumerate(ways, 1)
    ]


def spells_of(weather: Weather, span: Span, minimum_c: float) -> Spells | None:
    """None where hardly any heat is wanted in all this span, or it is shorter than two days."""
    hours = int((span.to_utc_s - span.from_utc_s) // _HOUR_S)
    outside = [weather.at(span.from_utc_s + hour * _HOUR_S).outdoor_c for hour in range(hours)]
    # The first day is never one of them: what lies before it may be unknown.
    days = range(_DAY_H, hours - _DAY_H + 1, _DAY_H)
    wants = sorted(
        (sum(max(0.0, minimum_c - each) for each in outside[begins : begins + _DAY_H]), begins)
        for begins in days
        if sum(each < minimum_c for each in outside[begins : begins + _DAY_H]) >= _LEAST_H
    )
    if not wants:
        return None
    coldest = min(range(_BEFORE_H + _DAY_H, hours - _AFTER_H), key=lambda hour: outside[hour])
    usual = dict.fromkeys(_at_share(wants, share) for share in _HALVES)
    return Spells(
        _span(span, coldest - _BEFORE_H, coldest + _AFTER_H),
        tuple(_span(span, begins, begins + _DAY_H) for begins in usual),
    )


def _at_share(wants: Sequence[tuple[float, int]], share: float) -> int:
    """The day at which so much of the whole need is passed, from the mildest on."""
    left_kh = share * sum(kh for kh, _ in wants)
    for kh, begins in wants:
        left_kh -= kh
        if left_kh <= 0.0:
            return begins
    return wants[-1][1]


def _span(whole: Span, from_hour: int, to_hour: int) -> Span:
    return Span(whole.from_utc_s + from_hour * _HOUR_S, whole.from_utc_s + to_hour * _HOUR_S)


def _at_its_minimum(settings: Settings, zone: str) -> Settings:
    """The same with this zone in front, as the ideal heater takes the place of the first one's,
    and with its setpoint where the ideal heater holds it; others stay as they are set."""
    zones = {zone: settings.zones[zone], **settings.zones}
    first = settings.model_copy(update={"zones": zones})
    found = control.make_plan(first).zones[0]
    heat = zones[zone].heat
    if heat is None or found.heat is None:
        raise RehearsalError(f"zone '{zone}' is not heated")
    if found.minimum_c is None:
        return first
    by_k = min(found.heat.day_c, found.heat.night_c) - found.minimum_c
    lowered: dict[str, float] = {"margin_k": heat.margin_k - by_k}
    for key in ("setpoint_c", "night_setpoint_c"):
        set_c = getattr(heat, key)
        if set_c is not None:
            lowered[key] = set_c - by_k
    zones[zone] = zones[zone].model_copy(update={"heat": heat.model_copy(update=lowered)})
    return first


def _refuse_at_its_limit(ideal: Sequence[Result]) -> None:
    """Where most of the hours tell of no way, what is left tells of no winter."""
    hours = sum(len(result.zones[0].hours) for result in ideal)
    if 2 * sum(len(result.hard_hours) for result in ideal) > hours:
        raise RehearsalError(
            "the heater is too small, and at its limit in more than half of the hours that were "
            "tried, however it is switched"
        )


def _ways(settings: Settings, zone: str) -> dict[Switching, Way]:
    heat = settings.zones[zone].heat
    if heat is None:
        raise RehearsalError(f"zone '{zone}' is not heated")
    ways = {Switching.PLAIN: Way(hysteresis_k=derived.PLAIN_K)}
    if heat.strategy != "proportion" and (heat.anticipate or heat.hysteresis_k != derived.PLAIN_K):
        ways[Switching.SET] = AS_SET
    already = heat.strategy == "proportion"
    ways[Switching.PROPORTION] = AS_SET if already else Way(proportion=True)
    return ways


def _level_c(rows: Sequence[Sequence[Result]], at: int, goal_c: float) -> float:
    """At which the ideal heater would have used as much, on average of the usual days."""
    return fmean(
        goal_c + _APART_K * (row[at].kwh - row[0].kwh) / (row[-1].kwh - row[-2].kwh)
        for row in rows
        if row[-1].kwh > row[-2].kwh
    )


def _lowest_c(rows: Sequence[Sequence[Result]], at: int) -> float:
    """Where the heater was enough: elsewhere no way of switching could have held more."""
    lows = []
    for row in rows:
        beyond = row[0].beyond_hours
        lows += [hour.low_c for i, hour in enumerate(row[at].zones[0].hours) if i not in beyond]
    if not lows:
        raise RehearsalError("the heater is at its limit all the time")
    return min(lows)
