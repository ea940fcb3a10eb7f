"""Ways to meter heat, tried in drawn houses beside the ideal heater.

Lives here: the houses as they are tried, and one trial. Does not live here: the houses
(drawn_houses.py), the least that any relay can do in one (thrift_bounds.py), the table
(tests/bench/bench_thrift.py).

A trial is greenkeeper.rehearsal.run as it is, a tick every ten seconds, and nothing in it
is known beforehand: neither the weather nor the setpoint that would have turned out right.
Of a winter of 120 days four times two days are played, a month apart, each after a day of
lead; its closings are theirs times fifteen. A relay's purse of closings is carried over the
days before and after as if they had been like those played; the summer before has filled it.
The plants' minimum m is the drawn setpoint, day and night. Every way is told to keep m;
the ideal heater keeps exactly m. Minutes below count from 0.1 K under m, in hours in which
the ideal heater had power enough and that are not within two hours of such a one.
"""

import math
from collections.abc import Sequence
from functools import cache, lru_cache
from random import Random
from typing import Any, NamedTuple

from greenkeeper.control.purse import a_day
from greenkeeper.house.network import Parameters
from greenkeeper.house.records.read import parse
from greenkeeper.house.records.record import Place, Record
from greenkeeper.house.wax import NO_WAX
from greenkeeper.house.weather import Weather
from greenkeeper.learned import FIGURES, Estimate, Figure, Learned, Unknown
from greenkeeper.rehearsal.ledger import Result
from greenkeeper.rehearsal.run import Span, Stage, Way, rehearse
from greenkeeper.settings.schema import Settings
from tests.support.drawn_houses import HOBBY, WINTER_UTC_S, Ranges, drawn, needed_w
from tests.support.weatherfiles import GREENSBORO, SAND_POINT, german_csv

POLL_S = 10.0
TOLERATED_K = 0.1
DAY_S = 86_400.0
WINTER_DAYS = 120.0
WINTER_FROM_UTC_S = WINTER_UTC_S + 15 * DAY_S
_PLAYED_DAYS = 2.0
_EVERY_DAYS = 30.0
_YEAR_DAYS = 365.25

_MINUTES_KEPT = 90_000
_STEPS = 200


class House(NamedTuple):
    number: int
    written: dict[str, Any]  # its settings, without how its heat is metered
    truth: Parameters
    weather: Weather
    minimum_c: float
    heater_w: float


class Metered(NamedTuple):
    """One way of metering heat: the heat part of its zone, and the heater's times."""

    name: str
    heat: dict[str, Any]
    least_s: float = 60.0  # min_on_s and min_off_s
    learned: bool = False  # the keeper has learned its house, with errors as they are usual
    probe_measured: bool = False  # its owner has measured the probe's lag, within a fifth
    closings_a_year: float | None = None  # what the relay may spend


class Trial(NamedTuple):
    kwh: float
    over_ideal: float  # kwh by the ideal's
    closings: float  # for 120 days like these
    below_min: float  # minutes
    low_k: float  # lowest air over the minimum, where it counts
    told: tuple[str, ...]  # alarms


class _Remembered:
    """The same weather, asked for by one trial after the other."""

    def __init__(self, weather: Weather) -> None:
        self.at = lru_cache(maxsize=_MINUTES_KEPT)(weather.at)


def house(number: int, ranges: Ranges = HOBBY, record: Record | None = None) -> House:
    """The drawn house of that number. record: it stands there instead of under its own invented
    sky, with a heater as much larger or smaller as that place's winter asks for."""
    found = drawn(number, poll_s=POLL_S, ranges=ranges)
    written = found.settings.model_dump(exclude_unset=True, by_alias=True)
    heat = found.settings.zones["bench"].heat
    assert heat is not None
    assert heat.night_setpoint_c is not None
    minimum_c, heater_w = heat.night_setpoint_c, found.heater_w
    weather: Weather = found.weather
    if record is not None and record.place is not None:
        site = {"latitude": record.place.latitude, "longitude": record.place.longitude}
        written["site"] = {**written["site"], **site}
        loss_w_per_k, weather = found.truth.loss_w_per_k, record
        needs = [needed_w(loss_w_per_k, each, minimum_c) for each in (record, found.weather)]
        heater_w = 50.0 * round(heater_w * needs[0] / needs[1] / 50.0 + 0.5)
    return House(number, written, found.truth, _Remembered(weather), minimum_c, heater_w)


PLACES = ("Greensboro", "Sand Point", "Potsdam", "Essen", "Mühldorf")


@cache
def record_of(place: str) -> Record:
    """The real winter of one of PLACES: NREL's TMY3, or a German test reference year of 2010."""
    if place in _AMERICAN:
        return parse(_AMERICAN[place].read_bytes(), place)
    region, latitude, longitude = _GERMAN[place]
    # Its own year twice over, so that a winter lies in one piece.
    text = german_csv(region, 2026) + german_csv(region, 2027).partition("\n")[2]
    return parse(text.encode(), place, Place(place, latitude, longitude, 1.0))


_AMERICAN = {"Greensboro": GREENSBORO, "Sand Point": SAND_POINT}
_GERMAN = {"Potsdam": (4, 52.4, 13.1), "Essen": (5, 51.4, 6.97), "Mühldorf": (13, 48.3, 12.5)}


def settings_of(
    tried: House, way: Metered, *, counts_from_k: float = TOLERATED_K, purse: float | None = None
) -> Settings:
    """counts_from_k: the plant's minimum lies so far below what is to be kept.
    purse: the closings left at the start. A keeper begins with half a year's."""
    written = dict(tried.written)
    times = {"min_on_s": way.least_s, "min_off_s": way.least_s}
    written["outputs"] = {
        name: {**output, **(times if name == "heater" else {})}
        for name, output in written["outputs"].items()
    }
    written["outputs"]["heater"] = {
        "kind": "gpio", "pin": 17, "power_w": tried.heater_w, **times,
        "rated_operations": round(_spends_like(purse, way.closings_a_year)),
        "wanted_years": 10.0,
    }  # fmt: skip
    bench = written["zones"]["bench"]
    heat = {"output": "heater", "setpoint_c": tried.minimum_c, **way.heat}
    written["zones"] = {"bench": {**bench, "heat": heat}}
    if way.probe_measured:
        off = math.exp(Random(1000 + tried.number).gauss(0.0, _PROBE_WRONG_BY))
        house = {**written.get("house", {}), "probe_lag_s": off * tried.truth.probe_lag_s}
        written["house"] = house
    plant = {"name": "a lemon", "zone": "bench", "min_c": tried.minimum_c - counts_from_k}
    return Settings.model_validate({**written, "plants": [plant]})


def _spends_like(purse: float | None, yearly: float | None) -> float:
    """What a new relay has to be rated for, to last ten years, so that it spends over some days as
    one with so many closings left does: it begins with half a year's."""
    if purse is None or yearly is None:
        return 1e8
    return 10.0 * yearly * a_day(purse, yearly) / a_day(yearly / 2.0, yearly)


def winter(from_utc_s: float = WINTER_FROM_UTC_S) -> tuple[Span, ...]:
    """What is played of the winter that begins then."""
    middles = range(round(WINTER_DAYS / _EVERY_DAYS))
    begins = [from_utc_s + (at + 0.5) * _EVERY_DAYS * DAY_S for at in middles]
    return tuple(Span(at_s, at_s + _PLAYED_DAYS * DAY_S) for at_s in begins)


def ideal(tried: House, spans: Sequence[Span]) -> list[Result]:
    plain = Metered("ideal", {})
    settings = settings_of(tried, plain, counts_from_k=0.0)
    return [rehearse(settings, stage(tried, plain), span, Way(ideal=True)) for span in spans]


def trial(
    tried: House,
    way: Metered,
    spans: Sequence[Span],
    best: Sequence[Result],
    shift_k: float = 0.0,
) -> Trial:
    """best: what the ideal heater made of each span. shift_k: added to the setpoint."""
    yearly = purse = way.closings_a_year
    a_day_so_far: float | None = None
    told: set[str] = set()
    kwh, closings, below_s, lows_c = 0.0, 0.0, 0.0, []
    between_days = WINTER_DAYS / len(spans)
    for span, without in zip(spans, best, strict=True):
        left_out = without.beyond_hours
        if purse is not None and yearly is not None:
            # What is played stands in the middle of its month.
            if a_day_so_far is None:
                first = _played(tried, way, span, shift_k, left_out, purse)
                a_day_so_far = _switched_a_day(first, span)
            purse, spent = _spent(purse, yearly, a_day_so_far, between_days / 2.0)
            closings += spent
        result = _played(tried, way, span, shift_k, left_out, purse)
        zone = result.zones[0]
        kwh += result.kwh
        switched = _switched_a_day(result, span)
        if purse is not None and yearly is not None:
            before = purse
            purse, spent = _spent(purse, yearly, switched, between_days / 2.0)
            closings += spent
            a_day_so_far = switched * a_day(purse, yearly) / a_day(before, yearly)
        else:
            closings += switched * between_days
        below_s += sum(hour.below_s for at, hour in enumerate(zone.hours) if at not in left_out)
        lows_c += [] if zone.held_low_c is None else [zone.held_low_c]
        told |= {each.code for each in result.told}
    return Trial(
        kwh=kwh,
        over_ideal=kwh / sum(each.kwh for each in best),
        closings=closings,
        below_min=below_s / 60.0,
        low_k=min(lows_c, default=math.nan) - tried.minimum_c,
        told=tuple(sorted(told)),
    )


def _played(
    tried: House,
    way: Metered,
    span: Span,
    shift_k: float,
    left_out: frozenset[int],
    purse: float | None,
) -> Result:
    settings = settings_of(tried, way, purse=purse)
    return rehearse(settings, stage(tried, way), span, Way(shift_k=shift_k), leave_out=left_out)


def _switched_a_day(result: Result, span: Span) -> float:
    switched = next(each.switched_on for each in result.outputs if each.name == "heater")
    return switched * DAY_S / (span.to_utc_s - span.from_utc_s)


def _spent(purse: float, yearly: float, a_day_now: float, days: float) -> tuple[float, float]:
    """The purse after so many days, and the closings in them. a_day_now: as many as it would be if
    they went on as they begin. They do not: the fewer are left, the fewer are spent
    (control/purse.py), and as a year goes by, a year's are added."""
    left, spent, step_days = purse, 0.0, days / _STEPS
    for _ in range(_STEPS):
        now = a_day_now * step_days * a_day(left, yearly) / a_day(purse, yearly)
        spent += now
        left = min(yearly, max(1.0, left + yearly * step_days / _YEAR_DAYS - now))
    return left, spent


def trimmed(
    tried: House, way: Metered, spans: Sequence[Span], best: Sequence[Result], found: Trial
) -> Trial:
    """The same with the setpoint moved, in hindsight, until its lowest is the minimum.

    found: what came of it unmoved.
    """
    shift_k = 0.0
    while found.low_k < -TOLERATED_K:
        shift_k -= found.low_k
        found = trial(tried, way, spans, best, shift_k)
    return found


def stage(tried: House, way: Metered) -> Stage:
    """Where it is rehearsed."""
    learned = _learned(tried) if way.learned else None
    return Stage(tried.truth, tried.weather, None, NO_WAX, learned=learned)


# What learning is wrong by in one house of three, as `python -m tests.bench.bench_learning`
# finds it: half as much again as its median. Element and probe are not told apart.
_WRONG_BY = {"loss_w_per_k": 0.05, "lag_s": 0.07, "fast_s": 0.17, "air_kj_per_k": 0.07}
# A probe's lag by its cooling after a warm hand, in another air than where it hangs. Own guess.
_PROBE_WRONG_BY = 0.2
_NOT_KNOWN = Unknown("not told apart")


def _learned(tried: House) -> Learned:
    """What a keeper would have learned of this house. The same errors each time it is asked."""
    p, chance = tried.truth, Random(tried.number)
    per_k = p.loss_w_per_k + p.mass_w_per_k
    truth = {
        "loss_w_per_k": p.loss_w_per_k,
        "lag_s": p.element_lag_s + p.probe_lag_s,
        "fast_s": p.air_j_per_k / per_k,
        "air_kj_per_k": p.air_j_per_k / 1000.0,
    }
    found: dict[str, Figure] = {
        name: Estimate(value * math.exp(chance.gauss(0.0, _WRONG_BY[name])), 0.1 * value)
        for name, value in truth.items()
    }
    unknown: dict[str, Figure] = dict.fromkeys(set(FIGURES) - set(found), _NOT_KNOWN)
    return Learned(0.0, 0.0, 0.0, 14, "bench", "heater", tried.heater_w, **{**unknown, **found})
