"""An invented year of weather: seasons, clear and cloudy days, fronts, calm and gale.

Lives here: a temperate year that never was, deterministic from its seed. Everything in
it is invented but the sun's path and two published formulas for its strength. Does not
live here: real weather (files, forecasts), and what the weather does to a house.
"""

import math
from random import Random
from typing import NamedTuple

from greenkeeper import sun
from greenkeeper.house import soil
from greenkeeper.house.irradiance import clear_sky_w_m2, through_clouds
from greenkeeper.house.weather import DAY_S, Surroundings

MOST_LATITUDE = 60.0

_YEAR_D = 365.25
_COLDEST_D = 20.0  # days after New Year
_WARMEST_SOLAR_H = 15.0
_DAYS_KEPT = 8
_TILT = -math.radians(23.44)  # of the earth's axis, in December
_GROUND = soil.at_depth(soil.GROUND_DEPTH_M)
_NOISE_SIZE = 4096  # a power of two


class _Day(NamedTuple):
    """What one day brings, before it blends into the next."""

    level_k: float  # of its air mass, above the season's mean
    cloud: float  # 0 clear, 1 overcast
    broken: float  # how much its clouds come and go
    wind_m_s: float
    changes_h: float  # hour of the day at which it takes over from the day before
    takes_h: float  # and how long that lasts: a front is quick


class InventedYear:
    """Weather at a place, for any UTC. Two with the same figures agree to the last digit."""

    def __init__(
        self,
        *,
        latitude: float = 50.8,
        longitude: float = 4.4,
        mean_c: float = 9.5,
        swing_k: float = 9.0,
        spread_k: float = 4.5,
        windiness: float = 1.0,
        seed: int = 1,
    ) -> None:
        """mean_c: of the year. swing_k: the warmest month above it. spread_k: how far air
        masses stray from the season. windiness: 1 inland, 1.5 on a coast.

        Raises ValueError for a place without a day and a night all year.
        """
        if not -MOST_LATITUDE <= latitude <= MOST_LATITUDE:
            raise ValueError("this year has a sunrise every day: latitude from -60 to 60")
        self._latitude, self._longitude = latitude, longitude
        self._mean_c, self._swing_k, self._spread_k = mean_c, swing_k, spread_k
        self._half_day = -math.tan(math.radians(latitude))
        self._windiness = windiness
        self._seed = seed
        chance = Random(seed)  # noqa: S311 - weather must be repeatable, not secret
        self._noise_table = tuple(chance.uniform(-1.0, 1.0) for _ in range(_NOISE_SIZE))
        self._days: dict[int, _Day] = {}  # the last few, worked out

    def at(self, utc_s: float) -> Surroundings:
        solar_s = utc_s + self._longitude * 240.0  # four minutes of time to a degree
        index, second = divmod(solar_s, DAY_S)
        hour = second / 3600.0
        today, before = self._day(int(index)), self._day(int(index) - 1)
        share = _eased((hour - today.changes_h) / today.takes_h)
        level_k = before.level_k + (today.level_k - before.level_k) * share
        cloud = self._cloud(before, today, share, utc_s)
        calm_to_gale = before.wind_m_s + (today.wind_m_s - before.wind_m_s) * share
        gusty = 1.0 + 0.5 * self._noise(utc_s / 2700.0, 1) + 0.2 * self._noise(utc_s / 420.0, 2)
        summer = self._summer(solar_s)
        outdoor_c = (
            self._mean_c
            + self._swing_k * summer
            + level_k * (0.85 - 0.15 * summer)
            + self._swing_of_day_k(solar_s, hour, cloud)
            + 0.3 * self._noise(utc_s / 1300.0, 3)
        )
        wind_m_s = max(0.2, calm_to_gale * gusty)
        return Surroundings(
            outdoor_c,
            self._sun_w_m2(utc_s, cloud),
            wind_m_s,
            # A clear sky looks some 19 K colder than the air, an overcast one 2 K.
            sky_c=outdoor_c - 2.0 - 17.0 * (1.0 - cloud),
            ground_c=self._ground_c(solar_s),
        )

    def _ground_c(self, solar_s: float) -> float:
        """A metre down: two thirds of the year's swing, a month later."""
        later_s = _GROUND.later / math.tau * _YEAR_D * DAY_S
        return self._mean_c + _GROUND.share * self._swing_k * self._summer(solar_s - later_s)

    def _day(self, index: int) -> _Day:
        known = self._days.get(index)
        if known is None:
            if len(self._days) >= _DAYS_KEPT:
                self._days.clear()
            known = self._days[index] = self._make_day(index)
        return known

    def _make_day(self, index: int) -> _Day:
        def drawn(day: int) -> Random:
            return Random(f"{self._seed}/{day}")  # noqa: S311 - repeatable, not secret

        chance = drawn(index)
        # Air masses stay for some days: each has a part in the two that follow.
        own, last, last_but_one = (drawn(index - back).gauss(0.0, 1.0) for back in range(3))
        level_k = self._spread_k * (own + 0.8 * last + 0.5 * last_but_one) / 1.37
        chance.gauss(0.0, 1.0)  # the one used above
        cloud = chance.choice((0.0, 0.1, 0.3, 0.6, 0.8, 0.9, 1.0, 1.0))
        wind_m_s = self._windiness * chance.choice((0.7, 1.0, 1.5, 2.0, 3.0, 3.0, 4.0, 6.0, 9.0))
        front = chance.random() < 0.25
        takes_h = chance.uniform(1.2, 2.5) if front else chance.uniform(6.0, 10.0)
        changes_h = chance.uniform(0.0, 23.9 - takes_h)
        return _Day(level_k, cloud, chance.uniform(0.0, 0.4), wind_m_s, changes_h, takes_h)

    def _summer(self, solar_s: float) -> float:
        """From -1 in the coldest days to 1 in the warmest. Air masses differ less in summer."""
        around = math.cos(math.tau * (solar_s / DAY_S - _COLDEST_D) / _YEAR_D)
        return -around if self._latitude >= 0.0 else around

    def _cloud(self, before: _Day, today: _Day, share: float, utc_s: float) -> float:
        settled = before.cloud + (today.cloud - before.cloud) * share
        broken = before.broken + (today.broken - before.broken) * share
        passing = self._noise(utc_s / 1500.0, 4) + 0.6 * self._noise(utc_s / 360.0, 5)
        return min(1.0, max(0.0, settled + broken * passing))

    def _swing_of_day_k(self, solar_s: float, hour: float, cloud: float) -> float:
        """Warm in the afternoon, cold at sunrise, more so under a clear sky."""
        half_day_h = self._half_day_h(solar_s)
        sunrise_h = 12.0 - half_day_h
        if sunrise_h <= hour < _WARMEST_SOLAR_H:
            course = -math.cos(math.pi * (hour - sunrise_h) / (_WARMEST_SOLAR_H - sunrise_h))
        else:
            # Steep in the evening, flat towards morning, as clear nights are.
            fallen = ((hour - _WARMEST_SOLAR_H) % 24.0) / (24.0 - _WARMEST_SOLAR_H + sunrise_h)
            course = math.cos(math.pi * math.pow(fallen, 0.7))
        amplitude_k = (1.5 + 4.5 * (1.0 - cloud)) * half_day_h / 6.0
        return max(1.0, amplitude_k) * course

    def _half_day_h(self, solar_s: float) -> float:
        tilt = _TILT * math.cos(math.tau * (solar_s / DAY_S + 10.0) / _YEAR_D)
        return math.degrees(math.acos(self._half_day * math.tan(tilt))) / 15.0

    def _sun_w_m2(self, utc_s: float, cloud: float) -> float:
        if sun.is_below(0.0, utc_s, self._latitude, self._longitude):
            return 0.0
        height = sun.height(utc_s, self._latitude, self._longitude)
        return clear_sky_w_m2(height) * through_clouds(cloud)

    def _noise(self, position: float, kind: int) -> float:
        """From -1 to 1, smooth, and different for every kind."""
        step = math.floor(position)
        at = step * 31 + kind * 977
        start = self._noise_table[at % _NOISE_SIZE]
        end = self._noise_table[(at + 31) % _NOISE_SIZE]
        share = position - step
        return start + (end - start) * (share * share * (3.0 - 2.0 * share))  # eased


def _eased(share: float) -> float:
    """From 0 to 1 without a kink at either end."""
    share = min(1.0, max(0.0, share))
    return share * share * (3.0 - 2.0 * share)
