"""The weather a season is worked out from: a file's, or the settings' monthly means.

Lives here: choosing, and what the settings add to it (place, civil time, the night). Does
not live here: reading a format (house/records, house/days.py).
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import fmean
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.house import days
from greenkeeper.house.envelope import Envelope
from greenkeeper.house.records import read
from greenkeeper.house.records.record import Place, Record
from greenkeeper.house.season_hours import Hours
from greenkeeper.house.season_means import NIGHT_SHARE, Days, Months
from greenkeeper.house.seasonal import Climate
from greenkeeper.settings.prices import prices_of
from greenkeeper.settings.schema import Settings

_DAY_MINUTES = 24 * 60


class WeatherFile(NamedTuple):
    name: str
    content: bytes


_LARGEST = 200_000_000  # bytes: a century of hours is less


def read_file(path: Path) -> WeatherFile:
    """Raises GreenkeeperError."""
    try:
        with path.open("rb") as stream:
            content = stream.read(_LARGEST + 1)
    except OSError as error:
        raise GreenkeeperError(f"{path} cannot be read: {error.strerror}") from error
    if len(content) > _LARGEST:
        raise GreenkeeperError(f"{path} is larger than any weather file: over {_LARGEST} bytes")
    return WeatherFile(str(path), content)


def climate(settings: Settings, sheet: Envelope, file: WeatherFile | None) -> Climate:
    """Raises WeatherError for a file that is none, GreenkeeperError for no weather at all."""
    if file is not None:
        return _from_file(settings, sheet, file)
    if settings.site.monthly_mean_c is None:
        raise GreenkeeperError(
            "no weather: give a file (--weather), or write site.monthly_mean_c, the twelve "
            "monthly means of the air outside from your weather service's tables"
        )
    return Months(settings.site.monthly_mean_c, _night_share(settings), _mean_price(settings))


def _from_file(settings: Settings, sheet: Envelope, file: WeatherFile) -> Climate:
    first = file.content[:200].decode("utf-8-sig", "replace").partition("\n")[0]
    if not days.is_head(first):
        return _hours(settings, sheet, read.parse(file.content, file.name, _place(settings)))
    found = days.parse(file.content.decode("utf-8-sig", "replace"), file.name)
    if settings.site.latitude is not None:
        days.check_seasons(found, settings.site.latitude, file.name)
    words = "from each day's low and high, by degree days"
    return Days(found, _night_share(settings), words, _mean_price(settings))


def _hours(settings: Settings, sheet: Envelope, record: Record) -> Hours:
    planes = {(surface.slope_deg, surface.azimuth_deg) for surface in sheet.surfaces}
    night = (settings.night.from_minute, settings.night.to_minute)
    # A station's file keeps its station's time; a table of one's own has only UTC.
    offsets = None if record.place is not None else _civil_offsets_s(settings, record)
    prices = prices_of(settings)
    price = None if prices is None else prices.of_minute
    return Hours(record, sorted(planes), _place(settings), night, offsets, price)


def _civil_offsets_s(settings: Settings, record: Record) -> list[float]:
    zone = settings.site.zone
    moments = (
        datetime.fromtimestamp(record.row_utc_s(row), UTC).astimezone(zone)
        for row in range(len(record))
    )
    return [(moment.utcoffset() or timedelta()).total_seconds() for moment in moments]


def _place(settings: Settings) -> Place | None:
    site = settings.site
    if site.latitude is None or site.longitude is None:
        return None
    return Place(site.name, site.latitude, site.longitude, 0.0)


def _night_share(settings: Settings) -> float:
    """Of the 24 hours, those in which the night's setpoint holds."""
    minutes = (settings.night.to_minute - settings.night.from_minute) % _DAY_MINUTES
    return minutes / _DAY_MINUTES


def _mean_price(settings: Settings) -> float | None:
    """Of a kWh, where nobody knows at which hour it is wanted: by the share of night and day."""
    prices = prices_of(settings)
    if prices is None:
        return None
    if prices.flat is not None:
        return prices.flat
    by_day, by_night = range(6 * 60, 18 * 60), (*range(6 * 60), *range(18 * 60, _DAY_MINUTES))
    day, night = (fmean(prices.of_minute(m) for m in minutes) for minutes in (by_day, by_night))
    return NIGHT_SHARE * night + (1.0 - NIGHT_SHARE) * day
