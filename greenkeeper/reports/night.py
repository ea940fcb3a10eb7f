"""One night, or any span, as facts: how low, for how long, what ran, what it cost.

Lives here: what is worked out from the journal's minutes and hours. Does not live here:
words and layout (night_sheet.py), pictures (night_picture.py), the journal's own questions
(journal/reader.py).

A night is from noon to noon by the clock on the wall and bears the date of its evening. So
every hour belongs to one night and to one only, and a winter is the sum of its nights.
Plants and their minima are those of the settings as they are now.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

from greenkeeper.journal.answers import Temperatures
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.times import DAY_S, HOUR_S, MINUTE_S
from greenkeeper.last_night import LastNight
from greenkeeper.reports import cost, record
from greenkeeper.reports.record import Stretch
from greenkeeper.settings.derived import plants_maximum_c, plants_minimum_c, plants_of
from greenkeeper.settings.prices import Prices, prices_of
from greenkeeper.settings.schema import Settings

# Within this much above the tenderest plant's minimum it was a near thing.
NEAR_K = 1.0

# A minute may fall between two ticks; a longer silence is a gap in the record.
_SILENT_S = 2 * MINUTE_S
_NO_YEAR_S = 300 * DAY_S
_DAYS_AT_ONCE = 30  # of switchings, energy and events


class Span(NamedTuple):
    from_utc_s: float
    to_utc_s: float


class Low(NamedTuple):
    probe: str
    temp_c: float
    utc_s: float  # the begin of the minute, or hour
    within_s: int = MINUTE_S  # 3600 where the minutes are gone


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
    step_s: int  # how finely the record is kept: 60, or 3600 where minutes are gone in a part of it
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


def is_of_years(from_utc_s: float, to_utc_s: float) -> bool:
    """Whether a date without its year could be read as that of another."""
    return to_utc_s - from_utc_s > _NO_YEAR_S


# --- facts -------------------------------------------------------------------------------


def facts(
    journal: Journal,
    settings: Settings,
    span: Span,
    progress: Callable[[float], None] = lambda _: None,
) -> Facts:
    """Whatever the length of the span, a day of it at a time is in memory.

    progress: told what share of it is done. Raises JournalError when the journal cannot be read.
    """
    extremes = {name: _Extremes(name) for name in settings.probes}
    zones = [_Zone(name, settings) for name in settings.zones]
    gaps = _Gaps(span)
    step_s = MINUTE_S
    for stretch in record.stretches(journal, list(settings.probes), *span):
        step_s = max(step_s, stretch.step_s)
        for name, rows in stretch.rows.items():
            extremes[name].add(rows, stretch.step_s)
        for zone in zones:
            zone.add(stretch)
        gaps.add(stretch)
        progress((stretch.ends_utc_s - span.from_utc_s) / (span.to_utc_s - span.from_utc_s))
    outdoor = settings.site.outdoor_probe
    return Facts(
        span,
        step_s,
        None if outdoor is None else extremes[outdoor].low,
        tuple(zone.told(extremes, span) for zone in zones),
        tuple(ran(journal, settings, span)),
        tuple(
            Told(event.utc_s, event.code, event.subject, event.text)
            for piece in record.cut(*span, _DAYS_AT_ONCE)
            for event in journal.events(*piece)
            if event.phase == "raised"
        ),
        tuple(gaps.told()),
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
    starts = Counter(
        each.output
        for piece in record.cut(*span, _DAYS_AT_ONCE)
        for each in journal.switchings(*piece)
        if each.on
    )
    prices = prices_of(settings)
    for name in settings.outputs:
        on_s = journal.on_seconds(name, *span)
        if on_s is None:
            continue
        kwh, paid = _used(journal, name, prices, span)
        yield Ran(name, on_s, starts[name], kwh, paid)


def _used(
    journal: Journal, output: str, prices: Prices | None, span: Span
) -> tuple[float | None, float | None]:
    """Its energy, and what that cost."""
    kwh = paid = None
    for piece in record.cut(*span, _DAYS_AT_ONCE):
        used = journal.energy_parts(output, *piece)
        cost_of_it = cost.of_all(journal, output, used, prices)
        if used:
            kwh = (kwh or 0.0) + sum(each.kwh for each in used)
        if cost_of_it is not None:
            paid = (paid or 0.0) + cost_of_it
    return kwh, paid


class _Extremes:
    """The lowest and highest of one probe, the first of several."""

    def __init__(self, probe: str) -> None:
        self._probe = probe
        self.low: Low | None = None
        self.high: Low | None = None

    def add(self, rows: Iterable[Temperatures], step_s: int) -> None:
        for row in rows:
            if row.low_c is not None and (self.low is None or row.low_c < self.low.temp_c):
                self.low = Low(self._probe, row.low_c, row.utc_s, step_s)
            if row.high_c is not None and (self.high is None or row.high_c > self.high.temp_c):
                self.high = Low(self._probe, row.high_c, row.utc_s, step_s)


class _Zone:
    """How long one zone was where; a minute counts by the coldest mean of its probes."""

    def __init__(self, name: str, settings: Settings) -> None:
        self._name = name
        self._probes = settings.zones[name].probes
        self._minimum_c = plants_minimum_c(settings, name)
        self._maximum_c = plants_maximum_c(settings, name)
        self._plants = [
            (plant.name, plant.lowest_c)
            for plant in plants_of(settings, name)
            if plant.lowest_c is not None
        ]
        self._below_k_s = [0.0] * len(self._plants)
        self._plants_below_s = [0] * len(self._plants)
        self._below_s = self._near_s = self._above_s = self._seen_s = 0

    def add(self, stretch: Stretch) -> None:
        seen: dict[int, list[float]] = {}
        for probe in self._probes:
            for row in stretch.rows[probe]:
                if row.mean_c is not None:
                    seen.setdefault(row.utc_s, []).append(row.mean_c)
        step_s = stretch.step_s
        coldest = [min(temps) for temps in seen.values()]
        self._seen_s += step_s * len(coldest)
        for i, (_, min_c) in enumerate(self._plants):
            short_k = [min_c - temp_c for temp_c in coldest if temp_c < min_c]
            self._below_k_s[i] += step_s * sum(short_k)
            self._plants_below_s[i] += step_s * len(short_k)
        low_c, high_c = self._minimum_c, self._maximum_c
        if low_c is not None:
            self._below_s += step_s * sum(temp_c < low_c for temp_c in coldest)
            near_c = low_c + NEAR_K
            self._near_s += step_s * sum(low_c <= temp_c < near_c for temp_c in coldest)
        if high_c is not None:
            self._above_s += step_s * sum(max(temps) > high_c for temps in seen.values())

    def told(self, extremes: Mapping[str, _Extremes], span: Span) -> ZoneNight:
        lows = [low for name in self._probes if (low := extremes[name].low) is not None]
        highs = [high for name in self._probes if (high := extremes[name].high) is not None]
        bands = Bands(
            None if self._minimum_c is None else float(self._below_s),
            None if self._minimum_c is None else float(self._near_s),
            None if self._maximum_c is None else float(self._above_s),
            float(self._seen_s),
        )
        return ZoneNight(
            self._name,
            self._minimum_c,
            min(lows, key=lambda each: each.temp_c, default=None),
            max(highs, key=lambda each: each.temp_c, default=None),
            bands,
            tuple(self._plants_told()),
            max(0.0, span.to_utc_s - span.from_utc_s - self._seen_s),
        )

    def _plants_told(self) -> Iterable[PlantNight]:
        for i, (name, min_c) in enumerate(self._plants):
            below_k_h = self._below_k_s[i] / HOUR_S if self._seen_s else None
            yield PlantNight(name, min_c, below_k_h, float(self._plants_below_s[i]))


class _Gaps:
    """Stretches of the span without a record of any probe."""

    def __init__(self, span: Span) -> None:
        self._span = span
        self._known_to_s = span.from_utc_s  # up to here a gap is known, or that there is none
        self._step_s = MINUTE_S  # of the last row
        self._found: list[Span] = []

    def add(self, stretch: Stretch) -> None:
        step_s = stretch.step_s
        for utc_s in sorted({row.utc_s for rows in stretch.rows.values() for row in rows}):
            self._silent_to(utc_s, step_s)
            self._known_to_s = max(self._known_to_s, utc_s + step_s)
        self._step_s = step_s

    def told(self) -> Sequence[Span]:
        self._silent_to(self._span.to_utc_s, self._step_s)
        return self._found

    def _silent_to(self, utc_s: float, step_s: int) -> None:
        if utc_s - self._known_to_s >= max(_SILENT_S, step_s):
            self._found.append(Span(self._known_to_s, utc_s))
