"""Many nights at once: the sums behind the tables of nights and of winters.

Lives here: sums by night, from the journal's whole hours, so that years of them are quick.
An hour counts for the night in which it begins; the hour that is running does not count
yet. Does not live here: one night in full (night.py), layout (night_sheet.py).
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import HOUR_S
from greenkeeper.reports import cost
from greenkeeper.reports.night import Span, night
from greenkeeper.settings.derived import heaters, plants_minimum_c
from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Settings

_FROST_C = 0.0


class NightSum(NamedTuple):
    """One night. None: not known, never a number."""

    hours: int  # how long it is, or has lasted so far
    is_over: bool
    recorded_h: int
    outdoor_low_c: float | None
    frost_k_h: float | None  # kelvin below 0 °C outdoors times hours, of hourly means
    zone_lows_c: Mapping[str, float]  # a zone without a measurement is left out
    below: tuple[str, ...]  # zones that fell below their tenderest plant's minimum
    heat_s: float | None  # of all heaters together
    pulses: int
    kwh: float | None
    cost: float | None


class WinterSum(NamedTuple):
    """Many nights. None: not known, never a number."""

    name: str
    nights: int  # of which there is a record
    with_heat: int
    with_frost: int | None
    first_frost: str | None  # the evening of the first night with frost outdoors, ISO 8601
    last_frost: str | None  # of the last so far
    frost_k_h: float | None
    outdoor_low_c: float | None
    zone_lows_c: Mapping[str, float]
    below: int
    heat_s: float | None
    pulses: int
    kwh: float | None
    cost: float | None


class Winter(NamedTuple):
    """From the evening of first to the evening before next_first."""

    name: str
    first: date
    next_first: date


def winter_of(evening: date, *, southern: bool) -> Winter:
    """The winter an evening belongs to; no winter is cut where it is cold.

    From July to June and named by both years; south of the equator from January to
    December.
    """
    if southern:
        return Winter(f"{evening.year}", date(evening.year, 1, 1), date(evening.year + 1, 1, 1))
    year = evening.year if evening.month >= 7 else evening.year - 1
    name = f"{year}/{(year + 1) % 100:02d}"
    return Winter(name, date(year, 7, 1), date(year + 1, 7, 1))


def evenings(first: date, until: date) -> list[date]:
    """From the first to the one before `until`."""
    return [first + timedelta(days=i) for i in range((until - first).days)]


# --- by night ----------------------------------------------------------------------------


class _Tally:
    """What has been added up of one night."""

    def __init__(self) -> None:
        self.seen: set[int] = set()
        self.lows_c: dict[str, float] = {}
        self.frost_k_h: float | None = None
        self.heat_s: float | None = None
        self.pulses = 0
        self.kwh: float | None = None
        self.cost: float | None = None

    def saw(self, utc_s: int, probe: str, low_c: float | None) -> None:
        self.seen.add(utc_s)
        if low_c is not None:
            self.lows_c[probe] = min(low_c, self.lows_c.get(probe, low_c))

    def outdoors(self, mean_c: float | None) -> None:
        if mean_c is not None:
            self.frost_k_h = (self.frost_k_h or 0.0) + max(0.0, _FROST_C - mean_c)

    def heated(self, on_s: float, pulses: int) -> None:
        self.heat_s = on_s + (self.heat_s or 0.0)
        self.pulses += pulses

    def used(self, kwh: float, cost: float | None) -> None:
        self.kwh = kwh + (self.kwh or 0.0)
        if cost is not None:
            self.cost = cost + (self.cost or 0.0)


def by_night(
    journal: Journal, settings: Settings, first: date, until: date, now_utc_s: float = math.inf
) -> list[tuple[date, NightSum]]:
    """The nights of these evenings, oldest first. now_utc_s: no hour after it is missed.
    Raises JournalError."""
    timezone = settings.site.zone
    span = Span(night(first, timezone).from_utc_s, night(until, timezone).from_utc_s)
    days, prices = _Days(timezone), prices_of(settings)
    tallies = {day: _Tally() for day in evenings(first, until)}
    for probe in settings.probes:
        for row in journal.hours(probe, *span):
            tally = tallies[days.of(row.utc_s)]
            tally.saw(row.utc_s, probe, row.low_c)
            if probe == settings.site.outdoor_probe:
                tally.outdoors(row.mean_c)
    for name in heaters(settings):
        for each in journal.output_hours(name, *span):
            tallies[days.of(each.utc_s)].heated(each.on_s, each.switchings)
        for used in journal.energy_hours(name, *span):
            paid = None if prices is None else cost.of(journal, name, used, prices)
            tallies[days.of(used.utc_s)].used(used.kwh, paid)
    return [(day, _night_sum(tally, settings, day, now_utc_s)) for day, tally in tallies.items()]


class _Days:
    """The evening each moment belongs to; asked for hour after hour."""

    def __init__(self, timezone: tzinfo) -> None:
        self._timezone = timezone
        self._known: dict[int, date] = {}  # every probe and output asks for the same hours

    def of(self, utc_s: int) -> date:
        day = self._known.get(utc_s)
        if day is None:
            local = datetime.fromtimestamp(utc_s, UTC).astimezone(self._timezone)
            day = local.date() if local.hour >= 12 else local.date() - timedelta(days=1)
            self._known[utc_s] = day
        return day


def _night_sum(tally: _Tally, settings: Settings, evening: date, now_utc_s: float) -> NightSum:
    begin_s, end_s = night(evening, settings.site.zone)
    passed_s = max(0.0, min(end_s, now_utc_s) - begin_s)
    lows_c = {
        name: min(tally.lows_c[probe] for probe in zone.probes if probe in tally.lows_c)
        for name, zone in settings.zones.items()
        if any(probe in tally.lows_c for probe in zone.probes)
    }
    return NightSum(
        hours=int(passed_s / HOUR_S),
        is_over=now_utc_s >= end_s,
        recorded_h=len(tally.seen),
        outdoor_low_c=tally.lows_c.get(settings.site.outdoor_probe or ""),
        frost_k_h=tally.frost_k_h,
        zone_lows_c=lows_c,
        below=tuple(
            name
            for name, low_c in lows_c.items()
            if (minimum_c := plants_minimum_c(settings, name)) is not None and low_c < minimum_c
        ),
        heat_s=tally.heat_s,
        pulses=tally.pulses,
        kwh=tally.kwh,
        cost=tally.cost,
    )


# --- by winter ---------------------------------------------------------------------------


def winters(journal: Journal, settings: Settings, evening: date) -> list[WinterSum]:
    """This winter so far, the last one to the same evening, and the last one whole.

    The last one is left out when there is no record of it.
    """
    southern = settings.site.latitude is not None and settings.site.latitude < 0.0
    now = winter_of(evening, southern=southern)
    last = winter_of(now.first - timedelta(days=1), southern=southern)
    so_far = (evening - now.first).days + 1
    this_one = by_night(journal, settings, now.first, evening + _DAY)
    before = by_night(journal, settings, last.first, last.next_first)
    sums = [_sum(f"{now.name} so far", this_one)]
    if any(each.recorded_h for _, each in before):
        sums.append(_sum(f"{last.name} by then", before[:so_far]))
        sums.append(_sum(f"{last.name} whole", before))
    return sums


_DAY = timedelta(days=1)


def _sum(name: str, dated: Sequence[tuple[date, NightSum]]) -> WinterSum:
    nights = [each for _, each in dated]
    frosts = [
        day.isoformat()
        for day, each in dated
        if each.outdoor_low_c is not None and each.outdoor_low_c < _FROST_C
    ]
    outdoors = _known(each.outdoor_low_c for each in nights)
    return WinterSum(
        name=name,
        nights=sum(each.recorded_h > 0 for each in nights),
        with_heat=sum(bool(each.heat_s) for each in nights),
        with_frost=sum(low_c < _FROST_C for low_c in outdoors) if outdoors else None,
        first_frost=frosts[0] if frosts else None,
        last_frost=frosts[-1] if frosts else None,
        frost_k_h=_total(each.frost_k_h for each in nights),
        outdoor_low_c=min(outdoors, default=None),
        zone_lows_c={
            zone: min(each.zone_lows_c[zone] for each in nights if zone in each.zone_lows_c)
            for zone in dict.fromkeys(zone for each in nights for zone in each.zone_lows_c)
        },
        below=sum(bool(each.below) for each in nights),
        heat_s=_total(each.heat_s for each in nights),
        pulses=sum(each.pulses for each in nights),
        kwh=_total(each.kwh for each in nights),
        cost=_total(each.cost for each in nights),
    )


def _known(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def _total(values: Iterable[float | None]) -> float | None:
    known = _known(values)
    return sum(known) if known else None
