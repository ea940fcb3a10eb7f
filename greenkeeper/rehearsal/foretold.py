"""Invented forecasts of a rehearsal's mornings: its own clouds, and errors drawn by chance.

Lives here: what `greenkeeper tonight --keep` would have kept the evening before, for keepers that
leave a clear dawn to the sun. Does not live here: what follows from it (control/dawn.py).

A weather file holds no forecasts. How clouded a morning is comes from its sun beside that of a
clear sky; each forecast is out by a normal error of ERROR_SHARE of the sky, the same for a day
whenever it is asked for. Own guess: services do about so well some hours ahead.
"""

import math
from collections.abc import Callable
from random import Random

from greenkeeper import sun
from greenkeeper.house.irradiance import clear_sky_w_m2, clouded_share
from greenkeeper.house.weather import Weather
from greenkeeper.model import Morning

ERROR_SHARE = 0.2
MADE_BEFORE_S = 9 * 3600.0  # that of late evening, for a sunrise in winter
_LOOKED_S = range(1800, 10_801, 900)  # after sunrise
_DAY_S = 86_400.0
_SEED = 7


def mornings(
    weather: Weather, latitude: float, longitude: float
) -> Callable[[float], Morning | None]:
    """Asked with a POSIX second: what is known then of the sunrise of that solar day."""
    known: dict[int, Morning | None] = {}

    def morning(utc_s: float) -> Morning | None:
        day = math.floor((utc_s + longitude * 240.0) / _DAY_S)
        if day not in known:
            known.clear()
            known[day] = _foretold(weather, day, latitude, longitude)
        return known[day]

    return morning


def _foretold(weather: Weather, day: int, latitude: float, longitude: float) -> Morning | None:
    rise_s = sunrise_utc_s(day, latitude, longitude)
    if rise_s is None:
        return None
    came = clear = 0.0
    for after_s in _LOOKED_S:
        at_s = rise_s + after_s
        clear += clear_sky_w_m2(sun.height(at_s, latitude, longitude))
        came += weather.at(at_s).sun_w_m2
    share = clouded_share(came / clear) if clear > 0.0 else 1.0
    error = Random(f"{_SEED}/{day}").gauss(0.0, ERROR_SHARE)  # noqa: S311 - repeatable, not secret
    return Morning(rise_s - MADE_BEFORE_S, rise_s, min(1.0, max(0.0, share + error)))


def sunrise_utc_s(day: int, latitude: float, longitude: float) -> float | None:
    """Of that solar day, to a second; None: the sun does not cross the horizon in its morning."""
    low_s = day * _DAY_S - longitude * 240.0
    high_s = low_s + _DAY_S / 2.0
    if sun.height(low_s, latitude, longitude) >= 0.0 or sun.height(high_s, latitude, longitude) < 0:
        return None
    while high_s - low_s > 1.0:
        middle_s = 0.5 * (low_s + high_s)
        if sun.height(middle_s, latitude, longitude) < 0.0:
            low_s = middle_s
        else:
            high_s = middle_s
    return high_s
