"""What the journal and the settings say about the coming night.

Lives here: when it is dark, the evenings and falls of the nights before, the last day inside
and out. Does not live here: what is made of it (outlook/), and layout (outlook_sheet.py).
"""

from collections.abc import Iterable, Iterator, Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal.answers import Temperatures
from greenkeeper.journal.reader import Journal
from greenkeeper.outlook.ahead import STEP_S, Measured
from greenkeeper.outlook.course import Dark, Point
from greenkeeper.outlook.evening import AFTER_SUNSET_S, Evening
from greenkeeper.reports import darkness
from greenkeeper.reports.darkness import Place
from greenkeeper.settings.derived import heat_setpoint_c
from greenkeeper.settings.schema import Settings

NIGHTS = 30  # looked back upon
_DAY_S, _HOUR_S = 86_400.0, 3600.0
_NEAR_S = 900.0  # a temperature "at" a moment is the mean of so much before and after
_FRESH_S = 1800.0  # a reading older than this is not now
_LED_S = _DAY_S  # so far back the model is led along
_LATE_S = _HOUR_S  # the low may come so long after sunrise
_HARDLY_RESTED = 0.8  # of a night
_LEAST_SHARE = 0.8  # of a night's minutes must have been measured


class Situation(NamedTuple):
    """None: not known."""

    now_utc_s: float
    zone: str
    dark: Dark  # the coming night, or the one that is under way
    inside: Point | None  # the zone's coldest
    outdoor: Point | None
    start_c: float | None  # outdoors two hours after this night's sunset, once that is past
    past: Sequence[Measured]  # the last day, in steps of STEP_S
    evenings: Sequence[Evening]
    falls_k: Sequence[float]  # from this hour of the day to the low, of the nights before
    dips_k: Sequence[float]  # how far the coldest went below the heat setpoint in heated nights


def place(settings: Settings) -> Place:
    """Raises GreenkeeperError where the settings do not say."""
    return darkness.place(settings, "nobody knows when the sun sets")


def subject(settings: Settings) -> str:
    """The zone that is looked ahead for: the first that is heated, else the first of all.

    A zone under a tent of its own is not what the model's air is."""
    tent = settings.house.tent
    outside = [name for name in settings.zones if tent is None or tent.zone != name]
    heated = [name for name in outside if settings.zones[name].heat is not None]
    if not outside:
        raise GreenkeeperError("every zone of the settings is under a tent: nobody looks ahead")
    return (heated or outside)[0]


def situation(journal: Journal, settings: Settings, now_utc_s: float) -> Situation:
    """Raises GreenkeeperError, JournalError."""
    where, zone = place(settings), subject(settings)
    dark = coming(where, now_utc_s)
    outdoor = settings.site.outdoor_probe
    outside = _Record(journal, () if outdoor is None else (outdoor,))
    inside = _Record(journal, settings.zones[zone].probes)
    evenings, falls_k = [], []
    for night in _nights_before(where, dark):
        evening, fall_k = _evening(outside, night, now_utc_s, dark)
        evenings += [] if evening is None else [evening]
        falls_k += [] if fall_k is None else [fall_k]
    start_s = dark.sunset_utc_s + AFTER_SUNSET_S
    return Situation(
        now_utc_s,
        zone,
        dark,
        inside.newest(now_utc_s),
        outside.newest(now_utc_s),
        outside.about(start_s) if now_utc_s >= start_s + _NEAR_S else None,
        _last_day(inside, outside, _heat_w(journal, settings, zone, now_utc_s), where, now_utc_s),
        evenings,
        falls_k,
        list(_dips_k(journal, settings, zone, _nights_before(where, dark))),
    )


# --- when it is dark ---------------------------------------------------------------------


def coming(where: Place, now_utc_s: float) -> Dark:
    """Sunset to sunrise of the night that is under way or comes next. Raises GreenkeeperError
    where the sun does not set, or does not rise."""
    midnight_s = where.midnight_s(now_utc_s)
    for ahead in range(-1, 3):
        dark = _around(where, midnight_s + ahead * _DAY_S)
        if dark is not None and dark.sunrise_utc_s > now_utc_s:
            return dark
    raise GreenkeeperError(
        f"at {where.latitude:g}° north the sun does not rise and set at this time of the year"
    )


def _around(where: Place, midnight_s: float) -> Dark | None:
    found = darkness.around(where, midnight_s, 0.0)
    return None if found is None else Dark(*found)


def _nights_before(where: Place, dark: Dark) -> Iterator[Dark]:
    middle_s = (dark.sunset_utc_s + dark.sunrise_utc_s) / 2.0
    for back in range(1, NIGHTS + 1):
        found = _around(where, middle_s - back * _DAY_S)
        if found is not None:
            yield found


# --- what was measured -------------------------------------------------------------------


class _Record:
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
        rows = self.between(utc_s - _NEAR_S, utc_s + _NEAR_S)
        return fmean(rows.values()) if rows else None


def _mean_c(row: Temperatures) -> float | None:
    return row.mean_c if row.n else None


def _evening(
    outside: _Record, night: Dark, now_utc_s: float, tonight: Dark
) -> tuple[Evening | None, float | None]:
    """What a night before can teach: its evening's air, and its fall from this hour on."""
    rows = outside.between(night.sunset_utc_s, night.sunrise_utc_s + _LATE_S)
    if len(rows) * 60.0 < _LEAST_SHARE * (night.sunrise_utc_s + _LATE_S - night.sunset_utc_s):
        return None, None
    low_c = min(rows.values())
    start_c = outside.about(night.sunset_utc_s + AFTER_SUNSET_S)
    # This hour of that day, by the sun: so long before or after its sunset.
    then_c = outside.about(night.sunset_utc_s + now_utc_s - tonight.sunset_utc_s)
    return (
        None if start_c is None else Evening(start_c, None, low_c),
        None if then_c is None else then_c - low_c,
    )


def _dips_k(
    journal: Journal, settings: Settings, zone: str, nights: Iterable[Dark]
) -> Iterator[float]:
    """A relay and its probe let the air dip below the setpoint before heat arrives. Nights in
    which the heater hardly rested say how weak it is instead, and are left out."""
    heat, hold_c = settings.zones[zone].heat, heat_setpoint_c(settings, zone, night=True)
    if heat is None or hold_c is None:
        return
    for night in nights:
        span = night.sunset_utc_s, night.sunrise_utc_s
        on_s = journal.on_seconds(heat.output, *span)
        lows = journal.lows(*span)
        found = [lows[name].temp_c for name in settings.zones[zone].probes if name in lows]
        if not on_s or not found or on_s > _HARDLY_RESTED * (span[1] - span[0]):
            continue
        yield hold_c - min(found)


def _heat_w(journal: Journal, settings: Settings, zone: str, now_utc_s: float) -> dict[int, float]:
    """Minute -> what the zone's heater gave in it."""
    heat = settings.zones[zone].heat
    power_w = None if heat is None else settings.outputs[heat.output].power_w
    if heat is None or power_w is None:
        return {}
    rows = journal.output_minutes(heat.output, now_utc_s - _LED_S, now_utc_s)
    return {row.utc_s: row.on_s / 60.0 * power_w for row in rows}


def _last_day(
    inside: _Record, outside: _Record, heat_w: dict[int, float], where: Place, now_utc_s: float
) -> list[Measured]:
    from_s = now_utc_s - _LED_S
    within, without = inside.between(from_s, now_utc_s), outside.between(from_s, now_utc_s)

    def mean(rows: dict[int, float], step: int) -> float | None:
        begins_s = from_s + step * STEP_S
        found = [
            rows[minute]
            for minute in range(int(begins_s // 60 * 60), int(begins_s + STEP_S), 60)
            if minute in rows
        ]
        return fmean(found) if found else None

    return [
        Measured(
            mean(within, step),
            mean(without, step),
            mean(heat_w, step) or 0.0,
            sun.elevation_deg(from_s + (step + 0.5) * STEP_S, *where) > 0.0,
        )
        for step in range(int(_LED_S / STEP_S))
    ]
