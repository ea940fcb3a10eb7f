"""What the journal says of a zone lately: its last day, and how its heated nights went.

Lives here: reading it. Does not live here: the evening outdoors (outlook_data.py), and what
is made of it (outlook/ahead.py).
"""

from collections.abc import Iterator, Mapping, Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper import moisture, sun
from greenkeeper.journal.answers import Temperatures
from greenkeeper.journal.reader import Journal
from greenkeeper.outlook.ahead import STEP_S, Measured
from greenkeeper.outlook.course import Dark, Point
from greenkeeper.reports.darkness import Place
from greenkeeper.settings.derived import heat_setpoint_c, heats_with, house_zone, is_tented
from greenkeeper.settings.schema import Settings

LED_S = 86_400.0  # so far back the model is led along
NEAR_S = 900.0  # a temperature "at" a moment is the mean of so much before and after
_FRESH_S = 1800.0  # a reading older than this is not now
_HARDLY_RESTED = 0.8  # of a night, or of an hour
_HOUR_S = 3600


class Habit(NamedTuple):
    """How a relay with its probe really holds a setpoint, of each heated night before. Nights
    in which the heater hardly rested say how weak it is instead, and are left out."""

    dips_k: Sequence[float]  # how far the zone's coldest went below the setpoint
    holds_k: Sequence[float]  # how far above it the air was on average while heat came and went


class Record:
    """The coldest of some probes, minute by minute."""

    def __init__(self, journal: Journal, probes: Sequence[str]) -> None:
        self._journal, self._probes = journal, probes

    def between(self, from_utc_s: float, to_utc_s: float) -> dict[int, float]:
        """Minute -> °C of the coldest; minutes without a measurement are not in it."""
        found: dict[int, float] = {}
        for probe in self._probes:
            for row in self._journal.minutes(probe, from_utc_s, to_utc_s):
                mean_c = _mean_c(row)
                if mean_c is not None:
                    found[row.utc_s] = min(mean_c, found.get(row.utc_s, mean_c))
        return found

    def newest(self, now_utc_s: float) -> Point | None:
        rows = self.between(now_utc_s - _FRESH_S, now_utc_s)
        return None if not rows else Point(float(max(rows)), rows[max(rows)])

    def about(self, utc_s: float) -> float | None:
        rows = self.between(utc_s - NEAR_S, utc_s + NEAR_S)
        return fmean(rows.values()) if rows else None


def _mean_c(row: Temperatures) -> float | None:
    return row.mean_c if row.n else None


class DewPoints:
    """Of the air outdoors, where a hygrometer hangs there."""

    def __init__(self, journal: Journal, settings: Settings) -> None:
        self._journal, self._name = journal, settings.site.outdoor_hygrometer
        hygrometer = None if self._name is None else settings.hygrometers[self._name]
        probe = settings.site.outdoor_probe
        if hygrometer is not None and hygrometer.beside is not None:
            probe = hygrometer.beside
        self._beside = Record(journal, () if probe is None else (probe,))

    def about(self, utc_s: float) -> float | None:
        """°C. None: no hygrometer, or nothing was measured about this moment."""
        if self._name is None:
            return None
        rows = self._journal.humidity_minutes(self._name, utc_s - NEAR_S, utc_s + NEAR_S)
        known = [row.mean_pct for row in rows if row.mean_pct is not None]
        temp_c = self._beside.about(utc_s)
        return moisture.dew_point_c(temp_c, fmean(known)) if known and temp_c is not None else None


def last_day(
    journal: Journal, settings: Settings, zone: str, where: Place, now_utc_s: float
) -> list[Measured]:
    """Of the air the zone stands in, and of that under the tent where it is measured."""
    from_s = now_utc_s - LED_S
    air = house_zone(settings) if is_tented(settings, zone) else zone
    tented = next((name for name in settings.zones if is_tented(settings, name)), None)
    inside = _steps(_coldest(journal, settings, air, from_s, now_utc_s), from_s)
    under = _steps(_coldest(journal, settings, tented, from_s, now_utc_s), from_s)
    outdoor = settings.site.outdoor_probe
    outdoors = Record(journal, () if outdoor is None else (outdoor,))
    without = _steps(outdoors.between(from_s, now_utc_s), from_s)
    heat_w = _steps(_heat_w(journal, settings, from_s, now_utc_s), from_s)
    return [
        Measured(
            inside[step],
            without[step],
            heat_w[step] or 0.0,
            sun.elevation_deg(from_s + (step + 0.5) * STEP_S, *where) > 0.0,
            under[step],
        )
        for step in range(int(LED_S / STEP_S))
    ]


def warmer_k(
    journal: Journal, settings: Settings, zone: str, where: Place, now_utc_s: float
) -> dict[str, float]:
    """By zone in the same air: how much warmer this one's coldest was in the last dark hours."""
    if is_tented(settings, zone):
        return {}
    from_s = now_utc_s - LED_S
    mine = _coldest(journal, settings, zone, from_s, now_utc_s)
    found = {}
    for name, each in settings.zones.items():
        if name == zone or each.heat is None or is_tented(settings, name):
            continue
        other = _coldest(journal, settings, name, from_s, now_utc_s)
        apart_k = [
            mine[minute] - other[minute]
            for minute in range(int(from_s // 600 * 600), int(now_utc_s), 600)
            if minute in mine and minute in other and sun.elevation_deg(float(minute), *where) < 0.0
        ]
        found[name] = fmean(apart_k) if apart_k else 0.0
    return found


def habit(journal: Journal, settings: Settings, zone: str, nights: Sequence[Dark]) -> Habit:
    heat, hold_c = settings.zones[zone].heat, heat_setpoint_c(settings, zone, night=True)
    if heat is None or hold_c is None:
        return Habit((), ())
    dips_k, holds_k = [], []
    for night in nights:
        span = night.sunset_utc_s, night.sunrise_utc_s
        on_s = max(journal.on_seconds(name, *span) or 0.0 for name in heats_with(heat))
        if not on_s or on_s > _HARDLY_RESTED * (span[1] - span[0]):
            continue
        lows = journal.lows(*span)
        found = [lows[name].temp_c for name in settings.zones[zone].probes if name in lows]
        if found:
            dips_k.append(hold_c - min(found))
        held = list(_held(journal, settings, zone, heats_with(heat), night))
        if held:
            holds_k.append(fmean(held) - hold_c)
    return Habit(dips_k, holds_k)


def _held(
    journal: Journal, settings: Settings, zone: str, heaters: Sequence[str], night: Dark
) -> Iterator[float]:
    """The coldest's hourly means in hours with heat before, in and after them: there it came
    and went, and the air was neither falling to the setpoint nor left alone."""
    span = night.sunset_utc_s, night.sunrise_utc_s
    on_s: dict[int, float] = {}
    for heater in heaters:  # of two that share the work, the one that did more
        for row in journal.output_hours(heater, *span):
            on_s[row.utc_s] = max(row.on_s, on_s.get(row.utc_s, 0.0))
    rows = [journal.hours(probe, *span) for probe in settings.zones[zone].probes]
    for utc_s, hour_s in on_s.items():
        heated = [on_s.get(utc_s + away) for away in (-_HOUR_S, _HOUR_S)]
        if hour_s > _HARDLY_RESTED * _HOUR_S or not all([hour_s, *heated]):
            continue
        means = [
            row.mean_c for each in rows for row in each
            if row.utc_s == utc_s and row.mean_c is not None
        ]  # fmt: skip
        if means:
            yield min(means)


def _coldest(
    journal: Journal, settings: Settings, zone: str | None, from_s: float, to_s: float
) -> dict[int, float]:
    if zone is None:
        return {}
    return Record(journal, settings.zones[zone].probes).between(from_s, to_s)


def _heat_w(journal: Journal, settings: Settings, from_s: float, to_s: float) -> dict[int, float]:
    """Minute -> what the heaters in the house's air gave in it."""
    outputs = dict.fromkeys(
        heater
        for name, zone in settings.zones.items()
        if zone.heat is not None and not is_tented(settings, name)
        for heater in heats_with(zone.heat)
    )
    found: dict[int, float] = {}
    for name in outputs:
        power_w = settings.outputs[name].power_w
        for row in journal.output_minutes(name, from_s, to_s) if power_w is not None else ():
            found[row.utc_s] = found.get(row.utc_s, 0.0) + row.on_s / 60.0 * (power_w or 0.0)
    return found


def _steps(rows: Mapping[int, float], from_s: float) -> list[float | None]:
    """Means of the last day's steps. None: nothing in it."""
    found: list[float | None] = []
    for step in range(int(LED_S / STEP_S)):
        begins_s = from_s + step * STEP_S
        minutes = range(int(begins_s // 60 * 60), int(begins_s + STEP_S), 60)
        known = [rows[minute] for minute in minutes if minute in rows]
        found.append(fmean(known) if known else None)
    return found
