"""Where the sun stands: pure functions that every room may ask.

Lives here: the sun's elevation and azimuth from time and place. Does not live here: its
strength (house/irradiance.py), clouds, and what light means to anybody.
"""

import math
from functools import lru_cache
from typing import NamedTuple

_J2000_UTC_S = 946_728_000.0  # 2000-01-01 12:00 UTC
_DAY_S = 86_400.0

# The earth turns by 15.05° an hour, and no elevation changes faster: this far from what it is
# in the middle of a half-hour, it need not be worked out for every minute of it.
_SLOT_S = 1800.0
_SLOT_DEG = 4.0


class Position(NamedTuple):
    elevation_deg: float  # of its centre above the horizon, without refraction
    azimuth_deg: float  # where it stands, clockwise from north


def elevation_deg(utc_s: float, latitude_deg: float, longitude_deg: float) -> float:
    """Degrees of the sun's centre above the horizon; negative below it. No refraction.

    utc_s: POSIX seconds. latitude_deg: north positive, longitude_deg: east positive.
    Source: Astronomical Almanac, page C24, "low precision formulas for the Sun's
    coordinates", good to 0.01° from 1950 to 2050; sidereal time as in Meeus,
    Astronomical Algorithms, 2nd ed., eq. 12.4. Both from memory, and held in
    tests/test_sun.py against published positions.
    """
    return math.degrees(math.asin(height(utc_s, latitude_deg, longitude_deg)))


def height(utc_s: float, latitude_deg: float, longitude_deg: float) -> float:
    """The sine of that elevation, for those who need no angle."""
    declination, hour_angle = _bearings(utc_s, longitude_deg)
    return _height(math.radians(latitude_deg), declination, hour_angle)


def is_below(deg: float, utc_s: float, latitude_deg: float, longitude_deg: float) -> bool:
    """Whether the elevation is less than deg: as elevation_deg says, and mostly for less."""
    slot = utc_s // _SLOT_S
    about_deg = _in_slot_deg(slot, latitude_deg, longitude_deg)
    if abs(about_deg - deg) > _SLOT_DEG:
        return about_deg < deg
    return elevation_deg(utc_s, latitude_deg, longitude_deg) < deg


@lru_cache(maxsize=8)
def _in_slot_deg(slot: float, latitude_deg: float, longitude_deg: float) -> float:
    return elevation_deg((slot + 0.5) * _SLOT_S, latitude_deg, longitude_deg)


def position(utc_s: float, latitude_deg: float, longitude_deg: float) -> Position:
    """Elevation and azimuth; arguments and source as for elevation_deg."""
    declination, hour_angle = _bearings(utc_s, longitude_deg)
    latitude = math.radians(latitude_deg)
    north = math.cos(latitude) * math.sin(declination) - math.sin(latitude) * math.cos(
        declination
    ) * math.cos(hour_angle)
    east = -math.cos(declination) * math.sin(hour_angle)
    elevation = math.asin(_height(latitude, declination, hour_angle))
    return Position(math.degrees(elevation), math.degrees(math.atan2(east, north)) % 360.0)


def _height(latitude: float, declination: float, hour_angle: float) -> float:
    up = math.sin(latitude) * math.sin(declination) + math.cos(latitude) * math.cos(
        declination
    ) * math.cos(hour_angle)
    return max(-1.0, min(1.0, up))


def _bearings(utc_s: float, longitude_deg: float) -> tuple[float, float]:
    """Declination and hour angle in radians."""
    days = (utc_s - _J2000_UTC_S) / _DAY_S
    declination, right_ascension = _position(days)
    sidereal = math.radians((280.46061837 + 360.98564736629 * days + longitude_deg) % 360.0)
    return declination, sidereal - right_ascension


def _position(days: float) -> tuple[float, float]:
    """Declination and right ascension in radians, days after J2000."""
    anomaly = math.radians(357.528 + 0.9856003 * days)
    longitude = math.radians(
        280.460 + 0.9856474 * days + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2.0 * anomaly)
    )
    obliquity = math.radians(23.439 - 4e-7 * days)
    declination = math.asin(math.sin(obliquity) * math.sin(longitude))
    return declination, math.atan2(math.cos(obliquity) * math.sin(longitude), math.cos(longitude))
