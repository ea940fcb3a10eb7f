"""One night, or any span, as facts: how low, for how long, what ran, what it cost.

Lives here: what is worked out from the journal's minutes and hours. Does not live here:
words and layout (night_sheet.py), pictures (night_picture.py), the journal's own questions
(journal/reader.py).

A night is from noon to noon by the clock on the wall and bears the date of its evening. So
every hour belongs to one night and to one only, and a winter is the sum of its nights.
Plants and their minima are those of the settings as they are now.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import pairwise
from typing import NamedTuple

from greenkeeper.journal.answers import Temperatures
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import HOUR_S, MINUTE_S
from greenkeeper.last_night import LastNight
from greenkeeper.reports import cost
from greenkeeper.settings.derived import plants_maximum_c, plants_minimum_c, plants_of
from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Settings

# Within this much above the tenderest plant's minimum it was a near thing.
NEAR_K = 1.0

# A minute may fall between two ticks; a longer silence is a gap in the record.
_SILENT_S = 2 * MINUTE_S


class Span(NamedTuple):
    from_utc_s: float
    to_utc_s: float


class Low(NamedTuple):
    probe: str
    temp_c: float
    utc_s: float


class PlantNight(NamedTuple):
    """below_k_h: kelvin below the minimum times hours. None: its zone was never seen."""

    name: str
    min_c: float
    below_k_h: float | None
    below_s: float


class Bands(NamedTuple):
    """How long the coldest of a zone was where, in seconds seen. None: no such limit."""

    below_s: float | None  # below the tenderest plant's minimum
    near_s: float | None  # up to NEAR_K above it
    above_s: float | None  # above the most heat-shy plant's maximum, by the warmest probe
    seen_s: float


class ZoneNight(NamedTuple):
    name: str
    minimum_c: float | None
    low: Low | None  # None: nothing was measured
    high: Low | None
    bands: Bands
    plants: tuple[PlantNight, ...]
    unseen_s: float = 0.0  # of the span, without a measurement in the zone


class Ran(NamedTuple):
    output: str
    on_s: float
    pulses: int
    kwh: float | None  # None: its power is not stated in the settings
    cost: float | None  # None: likewise, or there is no tariff


class Told(NamedTuple):
    utc_s: float
    code: str
    subject: str
    text: str


class Facts(NamedTuple):
    span: Span
    step_s: int  # how finely the record is kept: 60, or 3600 where the minutes are gone
    outdoor: Low | None
    zones: tuple[ZoneNight, ...]
    ran: tuple[Ran, ...]
    told: tuple[Told, ...]
    gaps: tuple[Span, ...]


# --- spans -------------------------------------------------------------------------------


def night(evening: date, timezone: tzinfo) -> Span:
    """From noon of this day to noon of the next: 23 or 25 hours where the clocks change."""
    return Span(_noon(evening, timezone), _noon(evening + timedelta(days=1), timezone))


def last_evening(now_utc_s: float, timezone: tzinfo) -> date:
    """The evening before this moment's day: its night is the last one, over or nearly."""
    return datetime.fromtimestamp(now_utc_s, UTC).astimezone(timezone).date() - timedelta(days=1)


def _noon(day: date, timezone: tzinfo) -> float:
    return datetime.combine(day, time(12), timezone).timestamp()


# --- facts -------------------------------------------------------------------------------


def facts(journal: Journal, settings: Settings, span: Span) -> Facts:
    """Raises JournalError when the journal cannot be read."""
    step_s, records = _records(journal, list(settings.probes), span)
    outdoor = settings.site.outdoor_probe
    lows = {name: _extreme(name, rows, lowest=True) for name, rows in records.items()}
    return Facts(
        span,
        step_s,
        None if outdoor is None else lows[outdoor],
        tuple(_zone(name, settings, records, step_s, span) for name in settings.zones),
        tuple(ran(journal, settings, span)),
        tuple(
            Told(event.utc_s, event.code, event.subject, event.text)
            for event in journal.events(*span)
            if event.phase == "raised"
        ),
        tuple(_gaps({row.utc_s for rows in records.values() for row in rows}, span, step_s)),
    )


def in_brief(found: Facts, evening: date, summary: str, heaters: Collection[str]) -> LastNight:
    """The few figures that are handed on. heaters: the outputs whose energy counts."""
    heated = [each for each in found.ran if each.output in heaters]
    return LastNight(
        evening=evening.isoformat(),
        to_utc_s=found.span.to_utc_s,
        summary=summary,
        outdoor_low_c=None if found.outdoor is None else found.outdoor.temp_c,
        lows_c={zone.name: None if zone.low is None else zone.low.temp_c for zone in found.zones},
        heated_s=sum(each.on_s for each in heated) if heated else None,
        kwh=_all_of([each.kwh for each in heated]),
        cost=_all_of([each.cost for each in heated]),
    )


def _all_of(parts: Sequence[float | None]) -> float | None:
    """Their sum; None when a part of it is not known, or there is none."""
    known = [part for part in parts if part is not None]
    return sum(known) if known and len(known) == len(parts) else None


def ran(journal: Journal, settings: Settings, span: Span) -> Iterable[Ran]:
    """What each output that was watched did."""
    starts = [each.output for each in journal.switchings(*span) if each.on]
    prices = prices_of(settings)
    for name in settings.outputs:
        on_s = journal.on_seconds(name, *span)
        if on_s is None:
            continue
        used = journal.energy_parts(name, *span)
        kwh = sum(each.kwh for each in used) if used else None
        yield Ran(name, on_s, starts.count(name), kwh, cost.of_all(journal, name, used, prices))


def _records(
    journal: Journal, probes: Sequence[str], span: Span
) -> tuple[int, Mapping[str, Sequence[Temperatures]]]:
    """The minutes of each probe; its hours where the minutes are gone."""
    minutes = {name: journal.minutes(name, *span) for name in probes}
    if any(minutes.values()):
        return MINUTE_S, minutes
    return HOUR_S, {name: journal.hours(name, *span) for name in probes}


def _extreme(probe: str, rows: Iterable[Temperatures], *, lowest: bool) -> Low | None:
    found: Low | None = None
    for row in rows:
        temp_c = row.low_c if lowest else row.high_c
        if temp_c is None:
            continue
        if found is None or (temp_c < found.temp_c if lowest else temp_c > found.temp_c):
            found = Low(probe, temp_c, row.utc_s)
    return found


def _zone(
    name: str,
    settings: Settings,
    records: Mapping[str, Sequence[Temperatures]],
    step_s: int,
    span: Span,
) -> ZoneNight:
    probes = settings.zones[name].probes
    minimum_c, maximum_c = plants_minimum_c(settings, name), plants_maximum_c(settings, name)
    seen: dict[int, list[float]] = {}
    for probe in probes:
        for row in records[probe]:
            if row.mean_c is not None:
                seen.setdefault(row.utc_s, []).append(row.mean_c)
    coldest = [min(temps) for temps in seen.values()]
    warmest = [max(temps) for temps in seen.values()]
    return ZoneNight(
        name,
        minimum_c,
        _of_all(probes, records, lowest=True),
        _of_all(probes, records, lowest=False),
        _bands(coldest, warmest, minimum_c, maximum_c, step_s),
        tuple(
            _plant(plant.name, plant.lowest_c, coldest, step_s)
            for plant in plants_of(settings, name)
            if plant.lowest_c is not None
        ),
        max(0.0, span.to_utc_s - span.from_utc_s - step_s * len(coldest)),
    )


def _of_all(
    probes: Iterable[str], records: Mapping[str, Sequence[Temperatures]], *, lowest: bool
) -> Low | None:
    found = [low for p in probes if (low := _extreme(p, records[p], lowest=lowest)) is not None]
    if not found:
        return None
    pick = min if lowest else max
    return pick(found, key=lambda each: each.temp_c)


def _bands(
    coldest: Sequence[float],
    warmest: Sequence[float],
    minimum_c: float | None,
    maximum_c: float | None,
    step_s: int,
) -> Bands:
    below_s = near_s = above_s = None
    if minimum_c is not None:
        below_s = float(step_s * sum(temp_c < minimum_c for temp_c in coldest))
        near_s = float(step_s * sum(minimum_c <= temp_c < minimum_c + NEAR_K for temp_c in coldest))
    if maximum_c is not None:
        above_s = float(step_s * sum(temp_c > maximum_c for temp_c in warmest))
    return Bands(below_s, near_s, above_s, float(step_s * len(coldest)))


def _plant(name: str, min_c: float, coldest: Sequence[float], step_s: int) -> PlantNight:
    short_k = [min_c - temp_c for temp_c in coldest if temp_c < min_c]
    below_k_h = sum(short_k) * step_s / HOUR_S if coldest else None
    return PlantNight(name, min_c, below_k_h, float(step_s * len(short_k)))


def _gaps(recorded: set[int], span: Span, step_s: int) -> Iterable[Span]:
    """Stretches of the span without a record of any probe."""
    first = int(span.from_utc_s // step_s) * step_s - step_s
    for before, after in pairwise([first, *sorted(recorded), span.to_utc_s]):
        silent_from = max(span.from_utc_s, before + step_s)
        if after - silent_from >= max(_SILENT_S, step_s):
            yield Span(silent_from, after)
