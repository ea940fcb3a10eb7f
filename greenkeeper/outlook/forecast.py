"""A forecast as weather services give it away: what it says, and whether it may be believed.

Lives here: reading the JSON of MET Norway's locationforecast, "compact" (GeoJSON of one
point; from memory), and asking whether it is of this place and of now. Does not live here:
fetching it (forecast_fetch.py).
"""

import json
import math
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise
from typing import Any, NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.model import Morning
from greenkeeper.outlook.course import FORECAST, Cloud, Course, Dark, Point, Wind

OLDEST_S = 12 * 3600.0  # a forecast that was made longer ago is not taken
LONGEST_GAP_S = 6.5 * 3600.0  # services go from hours to six hours after some days
NEAR_DEG = 0.25  # another place is another night

# Before ten of them are scored nobody knows. Common practice, no source.
_USUAL_BAND_K = (2.0, 2.0)
_UNIT, _WIND_UNIT, _CLOUD_UNIT = "celsius", "m/s", "%"
_CLOUDS = "cloud_area_fraction"
_STRONGEST_M_S = 110.0
_CLOCKS_APART_S = 900.0
# When the sun that comes over the horizon is worth something to a house. Own judgement.
_MORNING_S = 3 * 3600.0


class ForecastError(GreenkeeperError):
    """Why it is not used, in words."""


class Forecast(NamedTuple):
    points: tuple[Point, ...]
    winds: tuple[Wind, ...]  # empty where it does not tell of any
    clouds: tuple[Cloud, ...]  # likewise
    made_utc_s: float
    latitude: float
    longitude: float


def parse(raw: bytes) -> Forecast:
    """Raises ForecastError."""
    try:
        document = json.loads(raw)
        longitude, latitude = document["geometry"]["coordinates"][:2]
        meta = document["properties"]["meta"]
        unit = meta["units"]["air_temperature"]
        rows = document["properties"]["timeseries"]
        found = Forecast(
            tuple(_point(row) for row in rows),
            tuple(_winds(rows)) if meta["units"].get("wind_speed") == _WIND_UNIT else (),
            tuple(_clouds(rows)) if meta["units"].get(_CLOUDS) == _CLOUD_UNIT else (),
            _utc_s(meta["updated_at"]),
            float(latitude),
            float(longitude),
        )
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError) as error:
        raise ForecastError(f"it is not a forecast: {_what_is_wrong(error)}"[:200]) from error
    if unit != _UNIT:
        raise ForecastError(f"its temperatures are in {str(unit)[:20]!r}; {_UNIT} is allowed")
    if not found.points:
        raise ForecastError("it holds no hours")
    if any(later.utc_s <= earlier.utc_s for earlier, later in pairwise(found.points)):
        raise ForecastError("its hours are not in order")
    return found


def _what_is_wrong(error: Exception) -> str:
    match error:
        case json.JSONDecodeError() | UnicodeDecodeError() | RecursionError():
            return "no JSON document, or not all of one"
        case KeyError():
            return f"{error} is missing in it"
        case ValueError():
            return str(error)
    return "its parts are not where the form wants them"


def _point(row: Any) -> Point:
    temp_c = float(row["data"]["instant"]["details"]["air_temperature"])
    if not -80.0 <= temp_c <= 60.0:
        raise ValueError(f"{temp_c} °C is no temperature of the air")
    return Point(_utc_s(row["time"]), temp_c)


def _winds(rows: Any) -> Iterator[Wind]:
    """Of the hours that tell of any."""
    for row in rows:
        told = row["data"]["instant"]["details"].get("wind_speed")
        if told is not None:
            wind_m_s = float(told)
            if not 0.0 <= wind_m_s <= _STRONGEST_M_S:
                raise ValueError(f"{wind_m_s} m/s is no wind")
            yield Wind(_utc_s(row["time"]), wind_m_s)


def _clouds(rows: Any) -> Iterator[Cloud]:
    """Of the hours that tell of any."""
    for row in rows:
        told = row["data"]["instant"]["details"].get(_CLOUDS)
        if told is not None:
            percent = float(told)
            if not 0.0 <= percent <= 100.0:
                raise ValueError(f"{percent} % of the sky cannot be clouded")
            yield Cloud(_utc_s(row["time"]), percent / 100.0)


def _utc_s(text: Any) -> float:
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"{text[:30]!r} has no time zone")
    return moment.timestamp()


def course(
    found: Forecast, latitude: float, longitude: float, now_utc_s: float, dark: Dark
) -> Course:
    """From now to after sunrise. Raises ForecastError where it cannot be believed."""
    apart = max(abs(found.latitude - latitude), _around(found.longitude - longitude))
    if apart > NEAR_DEG:
        raise ForecastError(
            f"it is of another place ({found.latitude:g}, {found.longitude:g}; the site is at "
            f"{latitude:g}, {longitude:g})"
        )
    age_s = now_utc_s - found.made_utc_s
    if age_s > OLDEST_S:
        raise ForecastError(f"it was made {age_s / 3600.0:.0f} hours ago")
    if age_s < -_CLOCKS_APART_S:
        raise ForecastError("it was made after the moment that is asked for")
    until_s = dark.sunrise_utc_s + 3600.0
    points = found.points
    if points[0].utc_s > now_utc_s + 3600.0 or points[-1].utc_s < until_s:
        raise ForecastError("it does not reach from now to after sunrise")
    inside = [
        each for each in points if now_utc_s - LONGEST_GAP_S < each.utc_s < until_s + LONGEST_GAP_S
    ]
    if any(later.utc_s - earlier.utc_s > LONGEST_GAP_S for earlier, later in pairwise(inside)):
        raise ForecastError("it has a gap in this night")
    whole = Course(FORECAST, "", points, (0.0, 0.0))
    ends = Point(until_s, whole.at(until_s))
    between = [each for each in points if now_utc_s < each.utc_s < until_s]
    return Course(
        FORECAST,
        f"a forecast {max(0.0, age_s) / 3600.0:.0f} hours old",
        (Point(now_utc_s, whole.at(now_utc_s)), *between, ends),
        _USUAL_BAND_K,
        found.winds,
    )


def morning(found: Forecast, dark: Dark) -> Morning | None:
    """How clouded the first hours after this sunrise are, for a forecast that `course` believes.
    None: it does not say."""
    rise_s = dark.sunrise_utc_s
    shares = [each.share for each in found.clouds if rise_s <= each.utc_s <= rise_s + _MORNING_S]
    if not shares:
        return None
    return Morning(found.made_utc_s, rise_s, sum(shares) / len(shares))


def _around(degrees: float) -> float:
    """The shorter way round the Earth."""
    return abs(math.remainder(degrees, 360.0))
