"""What it is like outside: the interface, and an invented frosty night for the demo.

Lives here: weather as a function of UTC, deterministic to the last digit. Does not
live here: weather files, forecasts and a whole year (invented_year.py). FrostyNight is
invented throughout; only the shape of its evening follows a published rule.
"""

import math
from random import Random
from typing import NamedTuple, Protocol

from greenkeeper.house.wind import USUAL_M_S

DAY_S = 86400.0

# FAO's rule starts here; half an hour later its curve is no longer infinitely steep,
# and the afternoon can run into it without a kink.
RULE_STARTS_H = 2.0
RULE_JOINS_H = 2.5

# A clear sky, and the soil a metre down in January: invented like the rest of that night.
_CLEAR_SKY_K = 17.0
_GROUND_C = 7.0

UNREST_PERIODS_S = (6840.0, 2530.0, 1130.0)  # no two days alike: none divides a day


class Surroundings(NamedTuple):
    """What the house stands in at one moment."""

    outdoor_c: float  # of the air
    sun_w_m2: float  # on level ground outside
    wind_m_s: float = USUAL_M_S
    sky_c: float | None = None  # as warm as the sky looks; None: not known
    diffuse_w_m2: float | None = None  # how much of the sun comes from all the sky; None: not known
    ground_c: float | None = None  # of the soil a metre down; None: not known


class Weather(Protocol):
    def at(self, utc_s: float) -> Surroundings: ...


def root_of_time_c(after_sunset_h: float, start_c: float, low_c: float, night_h: float) -> float:
    """Air temperature on a clear calm night, from two hours after sunset to sunrise.

    start_c: two hours after sunset. low_c: at sunrise, night_h hours after sunset.
    Source: the root-of-time trend of Snyder & de Melo-Abreu, Frost Protection, vol. 1,
    FAO 2005, ch. 5, as restated in the manual of the CRAN package "frost".
    """
    fallen = (after_sunset_h - RULE_STARTS_H) / (night_h - RULE_STARTS_H)
    return start_c + (low_c - start_c) * math.sqrt(fallen)


class FrostyNight:
    """An invented winter day that comes again and again: mild sun, then a sharp clear night.

    Hours are UTC. The coldest moment comes shortly after sunrise. Round the smooth
    course plays a slight unrest, repeatable from its seed and different every day.
    """

    def __init__(
        self,
        *,
        low_c: float = -5.0,
        evening_c: float = 1.5,
        high_c: float = 7.0,
        peak_sun_w_m2: float = 300.0,
        sunrise_h: float = 7.5,
        sunset_h: float = 16.25,
        unrest_k: float = 0.25,
        seed: int = 1,
    ) -> None:
        """evening_c: two hours after sunset. unrest_k: the most it strays from the course.

        Raises ValueError where the figures make no winter day.
        """
        if not low_c < evening_c < high_c:
            raise ValueError("a frosty night needs low_c < evening_c < high_c")
        if not 0.0 <= sunrise_h < 12.0 < sunset_h <= 20.0:
            raise ValueError("a winter day needs sunrise_h before 12 and sunset_h from 12 to 20")
        self._low_c, self._evening_c, self._high_c = low_c, evening_c, high_c
        self._peak_sun_w_m2 = peak_sun_w_m2
        self._sunrise_h, self._sunset_h = sunrise_h, sunset_h
        self._night_h = 24.0 - sunset_h + sunrise_h
        self._warmest_h = (sunrise_h + 2.0 * sunset_h) / 3.0  # the air lags behind the sun
        self._unrest_k = unrest_k
        chance = Random(seed)  # noqa: S311 - an unrest must be repeatable, not secret
        self._phases = tuple(chance.uniform(0.0, math.tau) for _ in UNREST_PERIODS_S)

    def at(self, utc_s: float) -> Surroundings:
        hour = (utc_s % DAY_S) / 3600.0
        unrest = self._unrest(utc_s)
        outdoor_c = self._course_c(hour) + self._unrest_k * unrest
        sun_w_m2 = self._clear_sun_w_m2(hour) * (0.9 + 0.1 * unrest)
        return Surroundings(outdoor_c, sun_w_m2, sky_c=outdoor_c - _CLEAR_SKY_K, ground_c=_GROUND_C)

    def _unrest(self, utc_s: float) -> float:
        """From -1 to 1, slow swings with quicker ones upon them."""
        waves = zip(UNREST_PERIODS_S, self._phases, strict=True)
        return sum(math.sin(math.tau * utc_s / period_s + phase) for period_s, phase in waves) / 3.0

    def _clear_sun_w_m2(self, hour: float) -> float:
        day = (hour - self._sunrise_h) / (self._sunset_h - self._sunrise_h)
        return self._peak_sun_w_m2 * math.sin(math.pi * day) ** 1.5 if 0.0 < day < 1.0 else 0.0

    def _course_c(self, hour: float) -> float:
        joins_h = self._sunset_h + RULE_JOINS_H
        if self._sunrise_h <= hour <= self._warmest_h:
            rise = (self._sunrise_h, self._low_c, self._night_slope(self._night_h))
            return _between(hour, rise, (self._warmest_h, self._high_c, 0.0))
        if self._warmest_h < hour < joins_h:
            fall = (joins_h, self._night_c(RULE_JOINS_H), self._night_slope(RULE_JOINS_H))
            return _between(hour, (self._warmest_h, self._high_c, 0.0), fall)
        return self._night_c((hour - self._sunset_h) % 24.0)

    def _night_c(self, after_sunset_h: float) -> float:
        return root_of_time_c(after_sunset_h, self._evening_c, self._low_c, self._night_h)

    def _night_slope(self, after_sunset_h: float) -> float:
        """K per hour of the root-of-time course."""
        since_start_h = after_sunset_h - RULE_STARTS_H
        return (self._night_c(after_sunset_h) - self._evening_c) / (2.0 * since_start_h)


_Knot = tuple[float, float, float]  # hour, °C, K per hour


def _between(hour: float, start: _Knot, end: _Knot) -> float:
    """The cubic through two knots with their slopes (Hermite's)."""
    (h0, c0, m0), (h1, c1, m1) = start, end
    span = h1 - h0
    x = (hour - h0) / span
    y = 1.0 - x
    ends_c = c0 * y * y * (1.0 + 2.0 * x) + c1 * x * x * (1.0 + 2.0 * y)
    return ends_c + span * x * y * (m0 * y - m1 * x)
